"""Shapes as a cutter needs them: begun elsewhere, the other way round, cut on past their start, mirrored, stretched."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import TypeVar

from stripegen.errors import GeometryError
from stripegen.outline import ArcEdge, CubicEdge, Edge, LineEdge, Point, Ring, Stroke

STRETCHED_MM = 1e-4  # arcs that are stretched become cubic curves within so much
SAME = 1e-12

Shape = TypeVar("Shape", Ring, Stroke)


def begun_at(ring: Ring, number: int) -> Ring:
    """The same ring, begun where its edge of this number starts."""
    if not number:
        return ring
    starts = [begin for begin, _ in ring.walk()]
    # the last edge ends near the start, not quite on it
    first = ring.edges[:number]
    return Ring(starts[number], (*ring.edges[number:-1], _ended(starts[-1], ring.edges[-1], ring.start), *first))


def _ended(start: Point, edge: Edge, end: Point) -> Edge:
    """An edge with its end put right."""
    if isinstance(edge, LineEdge):
        return LineEdge(end)
    if isinstance(edge, CubicEdge):
        return CubicEdge(edge.control1, edge.control2, end)
    return ArcEdge(end, edge.centre, edge.clockwise)


def turned_round(stroke: Stroke) -> Stroke:
    """The same stroke from its end to its start."""
    back = []
    for begin, edge in stroke.walk():
        match edge:
            case LineEdge():
                back.append(LineEdge(begin))
            case ArcEdge():
                back.append(ArcEdge(begin, edge.centre, not edge.clockwise))
            case CubicEdge():
                back.append(CubicEdge(edge.control2, edge.control1, begin))
    return Stroke(stroke.edges[-1].end, tuple(reversed(back)))


def cut_past(ring: Ring, past_mm: float) -> Ring | Stroke:
    """The ring, closed and cut on along itself for so much, so that the corner where it began comes free.

    Raises GeometryError where it is no longer than that.
    """
    if past_mm <= 0:
        return ring
    more, left = [], past_mm
    for begin, edge in ring.walk():
        long = _length(begin, edge)
        if left < long:
            more.append(_part(begin, edge, left / long))
            return Stroke(ring.start, (*ring.edges, *more))
        more.append(edge)
        left -= long
    raise GeometryError(f"a piece is less than {past_mm:g} mm round: it can't be cut so far past its start")


def mirrored(shape: Shape, width_mm: float) -> Shape:
    """The shape as seen from behind a sheet so wide: left is right."""
    return _mapped(shape, lambda point: (width_mm - point[0], point[1]), flips=True)


def scaled(shape: Shape, across: float, along: float) -> Shape:
    """The shape stretched about (0, 0). Unless both are equal its arcs become cubic curves."""
    if across == along == 1.0:
        return shape
    if abs(across - along) > SAME * abs(across):
        shape = type(shape)(shape.start, tuple(part for begin, edge in shape.walk() for part in _curved(begin, edge)))
    return _mapped(shape, lambda point: (across * point[0], along * point[1]))


def _curved(start: Point, edge: Edge) -> tuple[Edge, ...]:
    return edge.cubics(start, STRETCHED_MM) if isinstance(edge, ArcEdge) else (edge,)


def _mapped(shape: Shape, put: Callable[[Point], Point], flips: bool = False) -> Shape:
    edges = []
    for edge in shape.edges:
        match edge:
            case LineEdge():
                edges.append(LineEdge(put(edge.end)))
            case ArcEdge():
                edges.append(ArcEdge(put(edge.end), put(edge.centre), edge.clockwise != flips))
            case CubicEdge():
                edges.append(CubicEdge(put(edge.control1), put(edge.control2), put(edge.end)))
    return type(shape)(put(shape.start), tuple(edges))


def _length(start: Point, edge: Edge) -> float:
    points = Stroke(start, (edge,)).points(0.001)
    return sum(((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5 for (ax, ay), (bx, by) in pairwise(points))


def edge_part(start: Point, edge: Edge, from_share: float, to_share: float) -> tuple[Point, Edge]:
    """What lies between two shares of an edge, and where that begins. Shares are as in `_part`."""
    if (from_share, to_share) == (0.0, 1.0):
        return start, edge
    head = _part(start, edge, to_share)
    if not from_share:
        return start, head
    whole = Stroke(start, (head,))
    back = turned_round(whole)
    tail = _part(back.start, back.edges[0], 1 - from_share / to_share)
    found = turned_round(Stroke(back.start, (tail,)))
    return found.start, found.edges[0]


def _part(start: Point, edge: Edge, share: float) -> Edge:
    """The first share of an edge: of its length, or of its parameter where it is a cubic curve."""
    if share == 1.0:
        return edge
    (x, y), (ex, ey) = start, edge.end
    match edge:
        case LineEdge():
            return LineEdge((x + share * (ex - x), y + share * (ey - y)))
        case ArcEdge():
            return ArcEdge(edge.point_at(start, share * edge.sweep_rad(start)), edge.centre, edge.clockwise)
    # de Casteljau's division
    points = [start, edge.control1, edge.control2, edge.end]
    heads = []
    while len(points) > 1:
        points = [
            (ax + share * (bx - ax), ay + share * (by - ay))
            for (ax, ay), (bx, by) in pairwise(points)
        ]
        heads.append(points[0])
    return CubicEdge(*heads)



def without_specks(shape: Shape, least_mm: float) -> Shape:
    """The shape without edges shorter than that: each is drawn together into its middle.

    In a shape that has one, arcs become cubic curves. What has no more than three edges is left as it is.
    """
    if not any(_is_speck(begin, edge, least_mm) for begin, edge in shape.walk()):
        return shape
    edges = [part for begin, edge in shape.walk() for part in _curved(begin, edge)]
    start, number = shape.start, 0
    while number < len(edges) and len(edges) > 3:
        begin = edges[number - 1].end if number else start
        is_end = isinstance(shape, Stroke) and number in (0, len(edges) - 1)
        if is_end or not _is_speck(begin, edges[number], least_mm):
            number += 1
            continue
        end = edges[number].end
        middle = (begin[0] + end[0]) / 2, (begin[1] + end[1]) / 2
        after = (number + 1) % len(edges)
        edges[after] = _shifted(edges[after], start_by=_minus(middle, end))
        edges[number - 1] = _shifted(edges[number - 1], end_by=_minus(middle, begin))
        if number in (0, len(edges) - 1):
            start = middle
        del edges[number]
    return type(shape)(start, tuple(edges))


def _is_speck(begin: Point, edge: Edge, least_mm: float) -> bool:
    return math.dist(begin, edge.end) < least_mm and _length(begin, edge) < 2 * least_mm


def _minus(first: Point, second: Point) -> Point:
    return first[0] - second[0], first[1] - second[1]


def _shifted(edge: Edge, start_by: Point = (0.0, 0.0), end_by: Point = (0.0, 0.0)) -> Edge:
    """A line or a cubic curve whose start and end are moved a little."""

    def plus(point: Point, by: Point) -> Point:
        return point[0] + by[0], point[1] + by[1]

    if isinstance(edge, LineEdge):
        return LineEdge(plus(edge.end, end_by))
    return CubicEdge(plus(edge.control1, start_by), plus(edge.control2, end_by), plus(edge.end, end_by))
