"""A band along a course: the shape between two curves beside the centre line, its ends cut as asked.

All the bands of one course (its stripes, and its whole width) are cut along the same curve at an end: the
parallel, the meridian or the square way through the centre line's own end, on that end's side only.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from stripegen.courses import Course, Leg
from stripegen.crossing import level_t, upright_t
from stripegen.curves import EXACT_DIGITS, Beside, Curve, Parallel, Straight, traits
from stripegen.errors import GeometryError
from stripegen.margins import cross_edge
from stripegen.shapes import Edge, Shape

CLOSED_MM = 1e-5  # edges that meet no nearer leave a gap
LEAST_MM = 1e-3  # a shorter overlap is none
MITRE = 4.0  # a chevron's tip may reach so many half widths past the middle of its stripe
REACH = 60.0  # a slanted end's tip may be so many times as long as the band is wide to that side


def band(course: Course, low_mm: float, high_mm: float, overlap_mm: float = 0.0) -> Shape:
    """The band from one distance to another beside a course's centre line (towards heading + 90 degrees).

    A closed course is run on by `overlap_mm` past its joint, along the middle of the band.

    Raises GeometryError where an edge would fold over itself or an end can't be cut.
    """
    course = _overlapped(course, (low_mm + high_mm) / 2, overlap_mm)
    low, high = (
        _limited(course, side(course, distance), distance, inwards) for distance, inwards in ((low_mm, 1), (high_mm, -1))
    )
    start = _end_edge(course, course.legs[0], True, low_mm, high_mm, low[0], high[0])
    end = _end_edge(course, course.legs[-1], False, low_mm, high_mm, low[-1], high[-1])
    back = tuple(Edge(edge.curve, edge.t1, edge.t0) for edge in reversed(high))
    shape = Shape((*low, end, *back, Edge(start.curve, start.t1, start.t0)))
    if course.legs[0].curve.wall.bends_mm and _gapes(shape):
        raise GeometryError("it is too wide to end so near a bend of the wall", "end it farther off, or make it narrower")
    if not shape.polygon.is_valid:
        raise GeometryError("it is too wide for so short or so bent a way: its edges would cross", "make it narrower or longer")
    return shape


def _gapes(shape: Shape) -> bool:
    """Whether edges don't meet, as where a side runs straight on over a bend and the end cut does not."""
    for edge, after in zip(shape.outer, shape.outer[1:] + shape.outer[:1], strict=True):
        (a, v), (b, w) = edge.curve.at(edge.t1), after.curve.at(after.t0)
        if not math.hypot(float(a - b) * edge.curve.wall.mean_radius_mm, float(v - w)) < CLOSED_MM:
            return True
    return False


def middle(course: Course, distance_mm: float, overlap_mm: float = 0.0) -> list[Edge]:
    """The middle line of a band whose centre is so far beside the course, from end to end."""
    return side(_overlapped(course, distance_mm, overlap_mm), distance_mm)


def side(course: Course, distance_mm: float) -> list[Edge]:
    """The line at a distance beside a course, from the cut at its start to that at its end."""
    edges, known = [], {}
    for leg in course.legs:
        curve = course.beside(leg, distance_mm)
        like = (traits(leg.curve, leg.place(leg.t0)[0], EXACT_DIGITS), leg.t0, leg.t1, leg.start_cut, leg.end_cut)
        if like not in known:  # a zigzag's legs are copies of two
            _check_fold(leg, distance_mm)
            _check_torn(curve, leg.t0, leg.t1)
            t0 = _cut_t(course, leg, curve, leg.t0, leg.start_cut, distance_mm)
            t1 = _cut_t(course, leg, curve, leg.t1, leg.end_cut, distance_mm)
            if t1 <= t0:
                raise GeometryError(
                    "it is too wide for so short a way: its two end cuts cross within it", "make it narrower or longer"
                )
            _check_torn(curve, t0, t1)
            known[like] = t0, t1
        edges.append(Edge(curve, *known[like]))
    return edges


def _limited(course: Course, edges: list[Edge], distance_mm: float, inwards: int) -> list[Edge]:
    """One side of a band, its tips at a chevron's points cut level where they are too long.

    A tip may reach MITRE half widths of a stripe past the middle of the stripe that it ends.
    """
    if len(edges) < 2:
        return edges
    legs, half = course.legs, course.stripe_mm / 2
    centre = side(course, distance_mm + inwards * half)
    downs = [leg.place(leg.t0)[1] for leg in legs] + [legs[-1].place(legs[-1].t1)[1]]
    limits: list[float | None] = []
    for number, down in enumerate(downs):
        near = downs[number + 1] if number < len(legs) else downs[number - 1]
        towards = 1.0 if down > near else -1.0
        corner, middle_down = (
            float(chain[number].curve.at(chain[number].t0)[1])
            if number < len(legs)
            else float(chain[-1].curve.at(chain[-1].t1)[1])
            for chain in (edges, centre)
        )
        limited = (corner - middle_down) * towards > MITRE * half
        limits.append(middle_down + towards * MITRE * half if limited else None)
    found: list[Edge] = []
    for number, edge in enumerate(edges):
        t0, t1 = (
            t if limit is None else float(level_t(edge.curve, limit, t))
            for t, limit in zip((edge.t0, edge.t1), limits[number : number + 2], strict=True)
        )
        leg = legs[number]
        if limits[number] is not None:
            level = Parallel(edge.curve.wall, limits[number])
            before = float(found[-1].curve.at(found[-1].t1)[0]) if found else leg.place(leg.t0)[0]
            found.append(Edge(level, before, float(edge.curve.at(t0)[0])))
        found.append(Edge(edge.curve, t0, t1))
    if limits[-1] is not None:
        last = float(found[-1].curve.at(found[-1].t1)[0])
        found.append(Edge(Parallel(edges[-1].curve.wall, limits[-1]), last, legs[-1].place(legs[-1].t1)[0]))
    return found


def _check_fold(leg: Leg, distance_mm: float) -> None:
    bend = float(np.max(leg.curve.curvature(np.linspace(leg.t0, leg.t1, 9)) * distance_mm))
    if bend >= 1:
        raise GeometryError("it is too wide for so tight a curve: its inner edge would fold over itself", "make it narrower")


def _check_torn(curve: Curve, t0: float, t1: float) -> None:
    if isinstance(curve, Beside) and curve.is_torn(t0, t1):
        raise GeometryError("it is too wide to run so nearly straight down over bends of the wall", "make it narrower")


def _overlapped(course: Course, distance_mm: float, overlap_mm: float) -> Course:
    """A closed course opened at its joint and run on by the overlap, along a line beside it."""
    if not course.closed:
        return course
    legs = course.legs
    if overlap_mm > LEAST_MM:
        first = legs[0]
        turned = Leg(first.curve.turned(2 * math.pi), first.t0, first.t1, first.start_cut, first.end_cut)
        curve = course.beside(turned, distance_mm)
        start = _cut_t(course, turned, curve, turned.t0, turned.start_cut, distance_mm)
        end = start
        for _ in range(4):
            end += (overlap_mm - curve.length_mm(start, end)) / float(curve.speed(end))
        around = float(curve.at(end)[0])
        # the same meridian's place on the leg's own centre line
        end = upright_t(turned.curve, around, end)
        if len(legs) == 1:
            legs = (Leg(first.curve, first.t0, 2 * math.pi + end, first.start_cut, "upright"),)
        elif end >= turned.t1:
            raise GeometryError(f"an overlap of {overlap_mm:g} mm is longer than a leg", "make it shorter")
        else:
            legs = (*legs, Leg(turned.curve, turned.t0, end, turned.start_cut, "upright"))
    return replace(course, legs=legs, closed=False)


def _cut_t(course: Course, leg: Leg, curve: Curve, t_end: float, cut: str, distance_mm: float) -> float:
    """Where a curve beside a leg meets the cut through the leg's end at t_end: the place nearest to it."""
    if cut == "square" or not distance_mm:
        return t_end
    around, down = leg.place(t_end)
    found = upright_t(curve, around, t_end) if cut == "upright" else float(level_t(curve, down, t_end))
    reach = REACH * abs(distance_mm)
    if not math.isfinite(found) or abs(found - t_end) * float(curve.speed(t_end)) > reach:
        if len(course.legs) > 1:
            raise GeometryError(
                f"its points are so sharp that they would have tips over {reach:.0f} mm long",
                "give it fewer points, or a bottom nearer to its top",
            )
        along = "the rim" if cut == "level" else "the meridian"
        raise GeometryError(
            f'its end runs so nearly along {along} that ends = "{cut}" would leave a tip over {reach:.0f} mm long',
            'use ends = "square"',
        )
    return found


def _end_edge(
    course: Course, leg: Leg, at_start: bool, low_mm: float, high_mm: float, low: Edge, high: Edge
) -> Edge:
    """The edge that closes a band at an end, from its low to its high side."""
    t = leg.t0 if at_start else leg.t1
    cut = leg.start_cut if at_start else leg.end_cut
    if cut == "square":
        if course.narrows:
            raise GeometryError("a line with narrows = true can't be cut square", 'use ends = "level"')
        return cross_edge(leg.curve, t, low_mm, high_mm)
    around, down = leg.place(t)
    first = low.curve.at(low.t0 if at_start else low.t1)
    last = high.curve.at(high.t0 if at_start else high.t1)
    if cut == "level":
        return Edge(Parallel(leg.curve.wall, down), float(first[0]), float(last[0]))
    return Edge(Straight(leg.curve.wall, around, 0.0, 0.0), float(first[1]), float(last[1]))
