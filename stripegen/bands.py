"""A band along a course: the shape between two curves beside the centre line, its ends cut as asked.

All the bands of one course (its stripes, and its whole width) are cut along the same curve at an end: the
parallel, the meridian or the square way through the centre line's own end, on that end's side only.
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.courses import Course, Leg
from stripegen.crossing import meet
from stripegen.curves import Curve, Parallel, Straight
from stripegen.errors import GeometryError
from stripegen.margins import cross_edge
from stripegen.shapes import Edge, Shape
from stripegen.site import level_t, upright_t

REACH = 60.0  # a slanted end's tip may be so many times as long as the band is wide to that side


def band(course: Course, low_mm: float, high_mm: float, overlap_mm: float = 0.0) -> Shape:
    """The band from one distance to another beside a course's centre line (towards heading + 90 degrees).

    A closed course is run on by `overlap_mm` past its joint, along the middle of the band.

    Raises GeometryError where an edge would fold over itself or an end can't be cut.
    """
    course = _overlapped(course, (low_mm + high_mm) / 2, overlap_mm)
    low, high = side(course, low_mm), side(course, high_mm)
    start = _end_edge(course, course.legs[0], True, low_mm, high_mm, low[0], high[0])
    end = _end_edge(course, course.legs[-1], False, low_mm, high_mm, low[-1], high[-1])
    back = tuple(Edge(edge.curve, edge.t1, edge.t0) for edge in reversed(high))
    shape = Shape((*low, end, *back, Edge(start.curve, start.t1, start.t0)))
    if not shape.polygon.is_valid:
        raise GeometryError("it is too wide for so short or so bent a way: its edges would cross")
    return shape


def middle(course: Course, distance_mm: float, overlap_mm: float = 0.0) -> list[Edge]:
    """The middle line of a band whose centre is so far beside the course, from end to end."""
    return side(_overlapped(course, distance_mm, overlap_mm), distance_mm)


def side(course: Course, distance_mm: float) -> list[Edge]:
    """The line at a distance beside a course, from the cut at its start to that at its end."""
    edges = []
    for leg in course.legs:
        curve = course.beside(leg, distance_mm)
        _check_fold(leg, distance_mm)
        t0 = _cut_t(course, leg, curve, leg.t0, leg.start_cut, distance_mm)
        t1 = _cut_t(course, leg, curve, leg.t1, leg.end_cut, distance_mm)
        if t1 <= t0:
            raise GeometryError("it is too wide for so short a way: its two end cuts cross within it")
        edges.append(Edge(curve, t0, t1))
    return edges


def _check_fold(leg: Leg, distance_mm: float) -> None:
    bend = float(np.max(leg.curve.curvature(np.linspace(leg.t0, leg.t1, 9)) * distance_mm))
    if bend >= 1:
        raise GeometryError("it is too wide for so tight a curve: its inner edge would fold over itself")


def _overlapped(course: Course, distance_mm: float, overlap_mm: float) -> Course:
    """A closed course opened at its joint and run on by the overlap, along a line beside it."""
    if not course.closed:
        return course
    legs = course.legs
    if overlap_mm:
        first = legs[0]
        turned = Leg(first.curve.turned(2 * math.pi), first.t0, first.t1, first.start_cut, first.end_cut)
        curve = course.beside(turned, distance_mm)
        start = _cut_t(course, turned, curve, turned.t0, turned.start_cut, distance_mm)
        end = start
        for _ in range(4):
            end += (overlap_mm - curve.length_mm(start, end)) / float(curve.speed(end))
        around = float(curve.at(end)[0])
        # the same meridian's place on the leg's own centre line
        end = _upright_t(turned.curve, around, end)
        if len(legs) == 1:
            legs = (Leg(first.curve, first.t0, 2 * math.pi + end, first.start_cut, "upright"),)
        elif end >= turned.t1:
            raise GeometryError(f"an overlap of {overlap_mm:g} mm is longer than a leg")
        else:
            legs = (*legs, Leg(turned.curve, turned.t0, end, turned.start_cut, "upright"))
    return Course(legs)


def _cut_t(course: Course, leg: Leg, curve: Curve, t_end: float, cut: str, distance_mm: float) -> float:
    """Where a curve beside a leg meets the cut through the leg's end at t_end: the place nearest to it."""
    if cut == "square" or not distance_mm:
        return t_end
    around, down = leg.place(t_end)
    if cut == "upright":
        found = _upright_t(curve, around, t_end)
    elif isinstance(curve, Straight):
        found = level_t(curve, down, t_end)
    else:
        found = _crossing_t(curve, Parallel(curve.wall, down, around), t_end, 0.0)
    reach = REACH * abs(distance_mm)
    if not math.isfinite(found) or abs(found - t_end) * float(curve.speed(t_end)) > reach:
        if len(course.legs) > 1:
            raise GeometryError(
                f"its points are so sharp that they would have tips over {reach:.0f} mm long: "
                "give it fewer points, or a bottom nearer to its top"
            )
        along = "the rim" if cut == "level" else "the meridian"
        raise GeometryError(
            f'its end runs so nearly along {along} that ends = "{cut}" would leave a tip over {reach:.0f} mm long: '
            'use ends = "square"'
        )
    return found


def _upright_t(curve: Curve, around: float, near_t: float) -> float:
    """Where a curve meets a meridian, near a place on it; NaN where it does not."""
    if isinstance(curve, Parallel):
        return around - curve.around_rad
    if isinstance(curve, Straight):
        return upright_t(curve, around)
    return _crossing_t(curve, Straight(curve.wall, around, 0.0, 0.0), near_t, float(curve.at(near_t)[1]))


def _crossing_t(curve: Curve, cut: Curve, near_t: float, cut_t: float) -> float:
    """Where a spiral or its parallel, which never turns back, meets a cut; NaN where it runs along it."""
    met = meet(curve, near_t, cut, cut_t, within_mm=math.inf)
    return met[0] if met else math.nan


def _end_edge(
    course: Course, leg: Leg, at_start: bool, low_mm: float, high_mm: float, low: Edge, high: Edge
) -> Edge:
    """The edge that closes a band at an end, from its low to its high side."""
    t = leg.t0 if at_start else leg.t1
    cut = leg.start_cut if at_start else leg.end_cut
    if cut == "square":
        if course.narrows:
            raise GeometryError('a line with narrows = true can\'t be cut square: use ends = "level"')
        return cross_edge(leg.curve, t, low_mm, high_mm)
    around, down = leg.place(t)
    first = low.curve.at(low.t0 if at_start else low.t1)
    last = high.curve.at(high.t0 if at_start else high.t1)
    if cut == "level":
        return Edge(Parallel(leg.curve.wall, down), float(first[0]), float(last[0]))
    return Edge(Straight(leg.curve.wall, around, 0.0, 0.0), float(first[1]), float(last[1]))
