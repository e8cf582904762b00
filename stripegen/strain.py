"""How much the edges of a strip must stretch or shrink to lie on the wall, where that does not unroll.

Over a smooth wall a strip of half width h has edges too long or too short by |K| h^2 / 2, with K the Gaussian
curvature -r'' / r (Jacobi's equation). Where its centre line crosses a bend at heading f, they are by
h |r1' - r2'| / (4 r |cos f|), spread over the strip's width; a strip whose centre runs past a bend at a distance
c < h without crossing it, as a ring does, by (h - c) |r1' - r2'| / r at that edge. On one straight section there is none.
At a zigzag's point its legs are one piece as far as their inner edges meet, and lie farther apart there, or nearer, than
laid flat, as ways from the point spread on the wall; that is shared by both legs' widths.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from stripegen.curves import Curve
from stripegen.shapes import Edge
from stripegen.smooth import SmoothWall
from stripegen.surface import Wall

SAMPLES = 65  # of each stretch of a centre line
LEAST_MM = 0.3  # nobody cuts strips that narrow


def edge_strain(centre: Sequence[Edge], width_mm: float) -> float:
    """The greatest edge strain of a strip of a width along a centre line, as a share: 0.01 is 1 %."""
    points = [_at_point(before, after, width_mm / 2) for before, after in pairwise(centre)]
    return max(*(_strain(edge, width_mm / 2) for edge in centre), *points, 0.0)


def widest_mm(centre: Sequence[Edge], width_mm: float, strain: float) -> float:
    """The greatest width up to a given one at which a strip along a centre line has no more than a strain."""
    low, high = 0.0, width_mm
    if edge_strain(centre, high) <= strain:
        return high
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if edge_strain(centre, middle) <= strain else (low, middle)
    return low


def _strain(edge: Edge, half_mm: float) -> float:
    curve, wall = edge.curve, edge.curve.wall
    if not (wall.bends_mm or isinstance(wall, SmoothWall)):
        return 0.0
    _, downs, headings = curve.along(np.linspace(edge.t0, edge.t1, SAMPLES))
    if isinstance(wall, SmoothWall):
        return float(np.max(np.abs(wall.gauss_at(downs)))) * half_mm**2 / 2
    crossed = curve.bends_t(edge.t0, edge.t1)
    return max(_at_bend(curve, wall, bend, crossed, downs, headings, half_mm) for bend in wall.bends_mm)


def _at_bend(
    curve: Curve, wall: Wall, bend_mm: float, crossed: Sequence[float], downs, headings, half_mm: float
) -> float:
    change = abs(float(wall.slope_at(bend_mm + 1e-6)) - float(wall.slope_at(bend_mm - 1e-6)))
    most = half_mm * change / float(wall.radius_mm(bend_mm))
    found = []
    for t in crossed:
        _, down, heading = (float(value) for value in curve.along(t))
        if abs(down - bend_mm) < 1e-3:
            found.append(most / max(4 * abs(math.cos(heading)), 1.0))
    if found:
        return max(found)
    # how far a way square to the line goes to the bend
    clear = float(np.min(np.abs(downs - bend_mm) / np.maximum(np.abs(np.sin(headings)), 1e-9)))
    return most * max(0.0, 1 - clear / half_mm)


def _at_point(before: Edge, after: Edge, half_mm: float) -> float:
    """Where two legs of a zigzag meet."""
    wall = after.curve.wall
    if not (wall.bends_mm or isinstance(wall, SmoothWall)):
        return 0.0
    _, down, onwards = (float(value) for value in after.curve.along(after.t0))
    backwards = float(before.curve.along(before.t1)[2]) + math.pi
    between = abs(math.remainder(onwards - backwards, 2 * math.pi))
    found = 0.0
    for edge, heading in ((before, backwards), (after, onwards)):
        joined_mm = min(half_mm / max(math.tan(between / 2), 1e-9), abs(edge.curve.length_mm(edge.t0, edge.t1)))
        spread = float(wall.spread(down, heading, joined_mm)[1])
        found = max(found, abs(spread / joined_mm - 1) / 2)
    return found


def strain_told(
    strips: Sequence[Sequence[Edge]], width_mm: float, strain: float, stretch: float, film: str
) -> tuple[str, str]:
    """What to tell of strips of one width whose edges a film can't follow, and what to do about it."""
    widest = min(widest_mm(centre, width_mm, stretch) for centre in strips)
    message = (
        f"its edges would have to stretch or shrink by {100 * strain:.2g} % to lie on so bent a wall, and {film} lies "
        f"down with {100 * stretch:.2g} %"
    )
    if widest < LEAST_MM:
        return message, "put it where the wall is straighter"
    count = math.ceil(width_mm / widest)
    return message, (
        f"make it {math.floor(10 * widest) / 10:.1f} mm wide at most, or {count} strips side by side (slit = true), or "
        "put it where the wall is straighter"
    )
