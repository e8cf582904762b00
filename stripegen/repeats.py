"""Copies of a line that are one another turned round the cup, all that cuts them too: one is cut, the rest turned."""

from __future__ import annotations

import math
from collections.abc import Iterable

from stripegen.courses import Course
from stripegen.curves import DIGITS, Parallel, Straight, traits
from stripegen.shapes import FULL_TURN, Shape, images


def likeness(course: Course) -> tuple:
    """What a course has in common with those that are it, turned round the cup."""
    start = course.around_rad
    return (
        course.closed,
        course.overlap_mm,
        course.narrows,
        *(
            (traits(leg.curve, start), round(leg.t0, DIGITS), round(leg.t1, DIGITS), leg.start_cut, leg.end_cut)
            for leg in course.legs
        ),
    )


def surroundings(around_rad: float, shapes: Iterable[Shape], reach: tuple[float, float] | None = None) -> frozenset:
    """What lies about a place round the cup, counted from there; equal for places that see the same.

    With a `reach` (least and greatest around) only what lies there counts, as often as it does.
    """
    shapes = list(shapes)
    found = set()
    for shape in images(shapes, reach) if reach else shapes:
        origin, turn = shape.origin
        if _goes_round(shape):
            found.add((id(origin), 0.0))
        elif reach:
            found.add((id(origin), round(turn - around_rad, DIGITS)))
        else:
            ahead = round((turn - around_rad) % FULL_TURN, DIGITS)
            found.add((id(origin), 0.0 if ahead == round(FULL_TURN, DIGITS) else ahead))
    return frozenset(found)


def _goes_round(shape: Shape) -> bool:
    """Whether a shape is a belt once round, the same from everywhere."""
    low, high = shape.around_range
    if high - low < FULL_TURN - 1e-9 or shape.holes:
        return False
    return all(
        isinstance(edge.curve, Parallel) or (isinstance(edge.curve, Straight) and math.sin(edge.curve.heading_rad) == 0)
        for edge in shape.outer
    )
