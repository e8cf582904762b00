"""Free corners rounded: sharp corners of vinyl lift under resin.

A corner is free where nothing meets it: not where it is tucked under another strip, nor where it must meet a
neighbour, as a mitre does, or its own other end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from stripegen.cutforms import edge_part
from stripegen.decoration import Decoration
from stripegen.flat import FlatPiece
from stripegen.outline import ArcEdge, CubicEdge, Edge, LineEdge, Outline, Point, Ring
from stripegen.shapes import Shape, images
from stripegen.spec import Vinyl

MEETS_MM = 0.1  # so near to another strip's edge a corner meets it
LEAST_TURN_RAD = math.radians(15)  # a bend of less is no corner
MOST_OF_EDGE = 0.45  # of an edge may go into the corner at either end
LEAST_RADIUS_MM = 0.02
STEPS = 40

_Side = tuple[Point, Edge]


def with_rounded_corners(
    pieces: Sequence[FlatPiece], decoration: Decoration, number: int, vinyl: Vinyl
) -> tuple[FlatPiece, ...]:
    """The pieces of a decoration's line, by number, their free corners rounded as the vinyl asks; copies alike."""
    if not vinyl.corner_radius_mm or vinyl.shared_cuts:
        return tuple(pieces)
    laid = decoration.lines[number]
    wall = laid.site.wall
    others = [
        (other.line.name in laid.line.under, strip.shape.carried(wall))
        for index, other in enumerate(decoration.lines)
        if index != number
        for strip in other.strips
    ]
    own = [piece.strip.shape for piece in pieces]
    known: dict[int, Outline] = {}
    found = []
    for piece in pieces:
        key = id(piece.outline)
        if key not in known:
            free = free_corners(piece, own, others)
            known[key] = rounded_outline(piece.outline, free, vinyl.corner_radius_mm)
        found.append(replace(piece, rounded=known[key]))
    return tuple(found)


def free_corners(piece: FlatPiece, own: Sequence[Shape], others: Sequence[tuple[bool, Shape]]) -> list[int]:
    """The edges of a piece's outer ring, by number, that begin at a free corner.

    `own` are the shapes of its line, its own among them; `others` those of other lines, each with whether the piece
    is tucked under it.
    """
    shape = piece.strip.shape
    scale = shape.outer[0].curve.wall.mean_radius_mm
    spots = np.array([[float(value) for value in edge.curve.at(edge.t0)] for edge in shape.outer]) * (scale, 1.0)
    points = shapely.points(spots)
    free = np.ones(len(points), dtype=bool)
    around = shape.around_range
    near = (around[0] - 0.05, around[1] + 0.05)
    for other in own:
        for image in images([other], near):
            if image.origin == shape.origin and image.polygon.equals(shape.polygon):
                continue
            free &= shapely.distance(image.polygon.boundary, points) > MEETS_MM
    for is_over, other in others:
        for image in images([other], near):
            free &= shapely.distance(image.polygon.boundary, points) > MEETS_MM
            if is_over:
                free &= shapely.distance(image.polygon, points) > MEETS_MM
    return [corner for corner, is_free in zip(piece.corners, free, strict=True) if is_free]


def rounded_outline(outline: Outline, corners: Sequence[int], radius_mm: float) -> Outline:
    """The outline with those of its outer corners rounded that turn outwards, less where its edges are short."""
    edges = [*outline.outer.walk()]
    clockwise = outline.outer.signed_area_mm2() > 0
    starts = [0.0] * len(edges)
    ends = [1.0] * len(edges)
    arcs: dict[int, ArcEdge] = {}
    for number in corners:
        before, after = edges[number - 1], edges[number]
        turn = _turn(before, after)
        if (turn if clockwise else -turn) < LEAST_TURN_RAD:
            continue
        fillet = _fillet(before, after, radius_mm, clockwise)
        if fillet:
            ends[number - 1], starts[number], arcs[number] = fillet
    if not arcs:
        return outline
    found: list[Edge] = []
    first: Point | None = None
    for number, (begin, edge) in enumerate(edges):
        part_start, part = edge_part(begin, edge, starts[number], ends[number])
        if number in arcs:
            found.append(replace(arcs[number], end=part_start))
        elif first is None:
            first = part_start
        first = first or part_start
        found.append(part)
    if 0 in arcs:
        found = [*found[1:], found[0]]  # the ring begins past its first corner's arc
    return Outline(Ring(first, tuple(found)), outline.holes)


def _turn(before: _Side, after: _Side) -> float:
    """By how much the way turns from an edge to the next, clockwise as drawn."""
    (ux, uy), (vx, vy) = _way(*before, 1.0), _way(*after, 0.0)
    return math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)


def _fillet(before: _Side, after: _Side, radius_mm: float, clockwise: bool) -> tuple[float, float, ArcEdge] | None:
    """Where an edge ends, the next begins, and the arc between that touches both; of less radius where they are short."""
    limits = 1 - MOST_OF_EDGE, MOST_OF_EDGE
    radius = radius_mm
    for _ in range(STEPS):
        touch = _touching(before, after, radius, clockwise)
        if touch and touch[0] >= limits[0] and touch[1] <= limits[1]:
            s, t, centre = touch
            return s, t, ArcEdge(_at(*after, t), centre, clockwise)
        radius *= 0.85
        if radius < LEAST_RADIUS_MM:
            return None
    return None


def _touching(before: _Side, after: _Side, radius: float, clockwise: bool) -> tuple[float, float, Point] | None:
    """Shares of two edges at which a circle inside the corner touches them, by Newton's method; None where it finds none."""
    inward = 1.0 if clockwise else -1.0

    def centre(side: _Side, share: float) -> np.ndarray:
        (x, y), (ux, uy) = _at(*side, share), _way(*side, share)
        return np.array([x - inward * radius * uy, y + inward * radius * ux])

    at = np.array([1.0, 0.0])
    for _ in range(STEPS):
        off = centre(before, at[0]) - centre(after, at[1])
        if np.hypot(*off) < 1e-10:
            middle = (centre(before, at[0]) + centre(after, at[1])) / 2
            return float(at[0]), float(at[1]), (float(middle[0]), float(middle[1]))
        step = 1e-6
        slopes = np.stack(
            [
                (centre(before, at[0] + step) - centre(before, at[0] - step)) / (2 * step),
                -(centre(after, at[1] + step) - centre(after, at[1] - step)) / (2 * step),
            ],
            axis=1,
        )
        if abs(np.linalg.det(slopes)) < 1e-12:
            return None
        at = at - np.clip(np.linalg.solve(slopes, off), -0.5, 0.5)
        if not (-1 <= at[0] <= 2 and -1 <= at[1] <= 2):
            return None
    return None


def _at(start: Point, edge: Edge, share: float) -> Point:
    match edge:
        case LineEdge():
            return start[0] + share * (edge.end[0] - start[0]), start[1] + share * (edge.end[1] - start[1])
        case ArcEdge():
            return edge.point_at(start, share * edge.sweep_rad(start))
        case CubicEdge():
            return edge.point_at(start, share)


def _way(start: Point, edge: Edge, share: float) -> Point:
    """The unit direction of an edge at a share of it."""
    match edge:
        case LineEdge():
            x, y = edge.end[0] - start[0], edge.end[1] - start[1]
        case ArcEdge():
            px, py = edge.point_at(start, share * edge.sweep_rad(start))
            x, y = edge.centre[1] - py, px - edge.centre[0]
            if not edge.clockwise:
                x, y = -x, -y
        case CubicEdge():
            t, u = share, 1 - share
            hull = (start, edge.control1, edge.control2, edge.end)
            x, y = (
                u * u * (b[axis] - a[axis]) + 2 * u * t * (c[axis] - b[axis]) + t * t * (d[axis] - c[axis])
                for axis in (0, 1)
                for a, b, c, d in [hull]
            )
            if math.hypot(x, y) < 1e-12:
                far = 1e-3 if share < 0.5 else -1e-3
                (x0, y0), (x1, y1) = edge.point_at(start, share), edge.point_at(start, share + far)
                x, y = math.copysign(1, far) * (x1 - x0), math.copysign(1, far) * (y1 - y0)
    long = math.hypot(x, y) or 1.0
    return x / long, y / long
