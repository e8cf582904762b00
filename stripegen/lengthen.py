"""A straight strip made longer: both ends moved out along its own sides, their shape kept."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import chain

import numpy as np
import shapely

from stripegen.errors import GeometryError
from stripegen.outline import Point

STRAIGHT_MM = 0.001  # a corner that lies so near to a straight side is none
BESIDE_MM = 0.02  # nothing of a straight strip reaches so far past its sides
MOST_TAPER_RAD = math.radians(10.0)


def lengthened(points: Sequence[Point], by_mm: float) -> tuple[Point, ...]:
    """A strip's outline, grown along its length by so much at each end, its bounding box starting at (0, 0).

    Everything at an end moves along the nearer of the two sides, so the sides keep their lines and corners their
    shape. Raises GeometryError where it is no strip with two straight sides.
    """
    ring = np.array(shapely.simplify(shapely.Polygon(points), STRAIGHT_MM).exterior.coords)[:-1]
    ring = _without_first_if_idle(ring)
    sides = np.roll(ring, -1, axis=0) - ring
    long = np.hypot(*sides.T)
    first, second = sorted(np.argsort(-long, kind="stable")[:2].tolist())
    ways = [sides[first] / long[first], -sides[second] / long[second]]
    taper = math.atan2(ways[0][0] * ways[1][1] - ways[0][1] * ways[1][0], float(ways[0] @ ways[1]))
    if len(ring) < 4 or abs(taper) > MOST_TAPER_RAD:
        raise GeometryError("it is curved, or no strip between two straight sides: only a straight strip can be")
    axis = (ways[0] + ways[1]) / np.hypot(*(ways[0] + ways[1]))
    # the side of this number ends where the end ahead begins; from the other side on, all is the end behind
    ahead = [*range(first + 1, second + 1)]
    behind = [number % len(ring) for number in range(second + 1, len(ring) + first + 1)]
    along = ring @ axis
    if along[ahead].min() <= along[behind].max() + STRAIGHT_MM:
        raise GeometryError("it is no longer than its ends are slanted")
    for start, way in zip((first, second), ways, strict=True):
        out = (ring - ring[start]) @ np.array([-way[1], way[0]])
        inwards = out[(second if start == first else first)]
        if (out * -math.copysign(1.0, inwards)).max() > BESIDE_MM:
            raise GeometryError("it is bent or has a part that reaches past its sides: only a straight strip can be")
    moved = ring.copy()
    middle = (ring[first] + ring[second]) / 2
    across = (ring - middle) @ np.array([-axis[1], axis[0]])
    of_first = math.copysign(1.0, across[first])
    for number in chain(ahead, behind):
        nearer = axis if abs(across[number]) < STRAIGHT_MM else ways[0 if across[number] * of_first > 0 else 1]
        step = nearer / float(nearer @ axis) * by_mm
        moved[number] += step if number in ahead else -step
    moved = np.round(moved - moved.min(axis=0), 4) + 0.0
    if not shapely.Polygon(moved).is_valid:
        raise GeometryError("so much longer its sides would meet")
    return tuple((float(x), float(y)) for x, y in moved)


def _without_first_if_idle(ring: np.ndarray) -> np.ndarray:
    """Without the first corner where it lies on a straight side, which simplifying keeps."""
    line = shapely.LineString([ring[-1], ring[1]])
    return ring[1:] if line.distance(shapely.Point(ring[0])) < STRAIGHT_MM else ring
