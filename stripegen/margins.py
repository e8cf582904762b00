"""A shape on a wall made smaller or larger all round by a distance along the wall.

The border that is taken off or added is built of bands along the shape's edges and sectors about
its corners, so that the result has true edges: parallels of the old ones, and arcs round corners.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from stripegen.curves import QUARTER, Round, Straight
from stripegen.errors import GeometryError
from stripegen.overlay import overlay
from stripegen.shapes import Edge, Loop, Shape

CORNER_RAD = 1e-6  # edges that turn less than this where they meet run on smoothly


def shrunk(shape: Shape, by_mm: float, stays: Callable[[Edge], bool]) -> list[Shape]:
    """What of a shape is at least `by_mm` from its border, less the edges for which `stays` is true."""
    if not by_mm:
        return [shape]
    border = []
    for loop in shape.loops:
        inward = inward_of(shape, loop)
        for edge, after in _pairs(loop):
            if not stays(edge):
                border.append(_band(edge, inward * by_mm))
                if stays(after):
                    border.append(_sector(edge, heading_of(edge, edge.t1), inward, by_mm, -inward * math.pi))
                elif _turn(edge, after) * inward < -CORNER_RAD:
                    border.append(_sector(edge, heading_of(edge, edge.t1), inward, by_mm, _turn(edge, after)))
            elif not stays(after):
                border.append(_sector(edge, heading_of(after, after.t0), inward, by_mm, inward * math.pi))
    return overlay([shape], border)


def grown(shape: Shape, by_mm: float) -> list[Shape]:
    """Everything within `by_mm` of a shape."""
    if not by_mm:
        return [shape]
    border = []
    for loop in shape.loops:
        inward = inward_of(shape, loop)
        for edge, after in _pairs(loop):
            border.append(_band(edge, -inward * by_mm))
            if _turn(edge, after) * inward > CORNER_RAD:
                border.append(_sector(edge, heading_of(edge, edge.t1), -inward, by_mm, _turn(edge, after)))
    return overlay([shape, *border])


def cross_edge(edge_curve, t: float, near_mm: float, far_mm: float) -> Edge:
    """The straight edge square to a curve at t, from one distance beside it to another."""
    around, down, heading = edge_curve.along(t)
    return Edge(Straight(edge_curve.wall, float(around), float(down), float(heading) + QUARTER), near_mm, far_mm)


def _pairs(loop: Loop) -> list[tuple[Edge, Edge]]:
    return list(zip(loop, loop[1:] + loop[:1], strict=True))


def inward_of(shape: Shape, loop: Loop) -> int:
    """+1 where the shape lies on the heading + 90 degrees side of a loop as it runs, -1 on the other."""
    trace = shape.traces[shape.loops.index(loop)]
    x, y = trace.points.T
    twice_area = float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    return (-1 if twice_area > 0 else 1) * (1 if loop is shape.outer else -1)


def _way(edge: Edge) -> int:
    return 1 if edge.t1 >= edge.t0 else -1


def _band(edge: Edge, to_mm: float) -> Shape:
    """The band along an edge, out to a distance on its heading + 90 degrees side as the loop runs."""
    offset = to_mm * _way(edge)
    curve = edge.curve
    if isinstance(curve, Round) and offset >= curve.radius_mm:
        # the whole sector to the centre; what lies past it belongs to the neighbouring edges
        offset = curve.radius_mm * (1 - 1e-9)
    closest = float(np.max(curve.curvature(np.array([edge.t0, (edge.t0 + edge.t1) / 2, edge.t1])) * offset))
    if closest >= 1:
        raise GeometryError(f"a curved edge is too tight to be moved by {abs(offset):.2f} mm", "make the tuck or the distance less")
    return Shape(
        (
            edge,
            cross_edge(curve, edge.t1, 0.0, offset),
            Edge(curve.parallel(offset), edge.t1, edge.t0),
            cross_edge(curve, edge.t0, offset, 0.0),
        )
    )


def _sector(edge: Edge, heading_rad: float, side: int, radius_mm: float, sweep_rad: float) -> Shape:
    """The sector about an edge's end that sweeps on from the end of a band beside it."""
    around, down = (float(value) for value in edge.curve.at(edge.t1))
    first = heading_rad + side * QUARTER
    wall = edge.curve.wall
    return Shape(
        (
            Edge(Straight(wall, around, down, first), 0.0, radius_mm),
            Edge(Round(wall, around, down, radius_mm), first, first + sweep_rad),
            Edge(Straight(wall, around, down, first + sweep_rad), radius_mm, 0.0),
        )
    )


def heading_of(edge: Edge, t: float) -> float:
    """The heading of a loop as it runs along an edge."""
    return float(edge.curve.along(t)[2]) + (0 if _way(edge) > 0 else math.pi)


def _turn(edge: Edge, after: Edge) -> float:
    """How far the loop turns, towards heading + 90 degrees, from one edge to the next."""
    return math.remainder(heading_of(after, after.t0) - heading_of(edge, edge.t1), 2 * math.pi)
