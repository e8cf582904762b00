"""Strips laid flat: the outline that the blade follows, in millimetres, y down.

A strip is laid flat by the development of its wall, seen from outside and never mirrored, turned so that at
the middle of its centre line straight down the cup is +y, its bounding box starting at (0, 0).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.curves import Parallel, Round
from stripegen.cutting import Strip
from stripegen.errors import GeometryError
from stripegen.outline import ArcEdge, CubicEdge, LineEdge, Outline, Point, Ring
from stripegen.shapes import Edge, Loop

CHORD_MM = 0.005  # the polygon of an outline follows its true edges this closely
FIT_MM = 0.002  # a fitted curve follows a spiral this closely
STRAIGHT_MM = 1e-7  # what leaves its chord by less is straight, as spirals on a cylinder are
STRAIGHT_SLOPE = 1e-10  # a parallel of a wall that tapers less is straight, near enough


@dataclass(frozen=True)
class FlatPiece:
    """A strip laid flat.

    `points` and `holes` are its polygon, rounded to 1e-4 mm, within CHORD_MM + FIT_MM of the true shape;
    `slack_mm` says how far the true edges may leave the polygon. `start` and `end` are where its centre
    line begins and ends on the wall (around, down), `middle` where its half way is on the flat piece, and
    `lean_rad` its heading there.
    """

    outline: Outline
    points: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...]
    slack_mm: float
    width_mm: float
    true_mm: float
    cut_mm: float
    area_mm2: float
    start: tuple[float, float]
    end: tuple[float, float]
    middle: Point
    lean_rad: float
    strip: Strip


def lay_flat(strip: Strip) -> FlatPiece:
    """A strip's flat piece. Raises GeometryError where it would lie over itself."""
    edge, t = _half_way(strip)
    around, down, heading = (float(value) for value in edge.curve.along(t))
    about = (around, down)
    outline = Outline(
        _ring(strip.shape.outer, about), tuple(_ring(hole, about) for hole in strip.shape.holes)
    )
    outer, _ = outline.points(CHORD_MM)
    left, top = min(x for x, _ in outer), min(y for _, y in outer)
    outline = outline.moved(0.0, -left, -top)
    outer, inner = outline.points(CHORD_MM)
    points, holes = _rounded(outer), [_rounded(ring) for ring in inner]
    if not shapely.Polygon(points, holes).is_valid:
        raise GeometryError("laid flat, one strip of it would lie over itself: use fewer turns or a narrower strip")
    first, last = strip.middle[0], strip.middle[-1]
    return FlatPiece(
        outline=outline,
        points=points,
        holes=tuple(holes),
        slack_mm=0.0 if outline.is_straight else CHORD_MM,
        width_mm=strip.width_mm,
        true_mm=strip.true_mm,
        cut_mm=strip.cut_mm,
        area_mm2=outline.area(),
        start=_place(first, first.t0),
        end=_place(last, last.t1),
        middle=(-left, -top),
        lean_rad=heading,
        strip=strip,
    )


def _place(edge: Edge, t: float) -> tuple[float, float]:
    around, down = edge.curve.at(t)
    return float(around), float(down)


def _rounded(points: list[Point]) -> tuple[Point, ...]:
    """Points to 1e-4 mm, without -0 and without repeats."""
    kept: list[Point] = []
    for x, y in points:
        point = (round(x, 4) + 0.0, round(y, 4) + 0.0)
        if not kept or point != kept[-1]:
            kept.append(point)
    while len(kept) > 1 and kept[0] == kept[-1]:
        kept.pop()
    return tuple(kept)


def _half_way(strip: Strip) -> tuple[Edge, float]:
    """The middle, by length, of a strip's centre line."""
    left = strip.cut_mm / 2
    for edge in strip.middle:
        length = edge.curve.length_mm(edge.t0, edge.t1)
        if left <= length + 1e-6 or edge is strip.middle[-1]:  # at a point between two legs, the first
            break
        left -= length
    t = edge.t0 + (edge.t1 - edge.t0) * left / length
    for _ in range(8):
        t += (left - edge.curve.length_mm(edge.t0, t)) / float(edge.curve.speed(t))
    return edge, t


def _ring(loop: Loop, about: tuple[float, float]) -> Ring:
    wall = loop[0].curve.wall

    def flat(edge: Edge, t: float) -> Point:
        x, y = wall.develop(*edge.curve.at(t), about=about)
        return float(x), float(y)

    starts = [flat(edge, edge.t0) for edge in loop]
    edges = []
    for index, edge in enumerate(loop):
        start, end = starts[index], starts[(index + 1) % len(loop)]
        if edge.curve.flat == "line" or (isinstance(edge.curve, Parallel) and abs(wall.slope) < STRAIGHT_SLOPE):
            edges.append(LineEdge(end))
        elif isinstance(edge.curve, Parallel):
            apex = (0.0, -float(wall.radius_mm(about[1])) / wall.slope)
            edges.append(ArcEdge(end, _evened(apex, start, end), (wall.slope < 0) == (edge.t1 > edge.t0)))
        elif isinstance(edge.curve, Round):
            x, y = wall.develop(edge.curve.around_rad, edge.curve.down_mm, about=about)
            edges.append(ArcEdge(end, _evened((float(x), float(y)), start, end), edge.t1 < edge.t0))
        else:
            edges += _fitted(edge, about, start, end)
    return Ring(starts[0], tuple(edges))


def _evened(centre: Point, start: Point, end: Point) -> Point:
    """The centre moved by rounding's worth, to be equally far from both ends of its arc."""
    chord = math.hypot(end[0] - start[0], end[1] - start[1])
    if chord < 1e-9:
        return centre
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    off = ((start[0] + end[0]) / 2 - centre[0]) * ux + ((start[1] + end[1]) / 2 - centre[1]) * uy
    return centre[0] + off * ux, centre[1] + off * uy


def _fitted(
    edge: Edge, about: tuple[float, float], start: Point, end: Point
) -> list[CubicEdge] | list[LineEdge]:
    """Cubic Bezier curves along an edge that is neither straight nor an arc, within FIT_MM of it.

    Each has the true end points and directions; with a turning of u between them, handles of
    chord / (3 cos^2(u/4)) are those of an arc.
    """
    wall = edge.curve.wall
    around, down = edge.curve.at(np.linspace(edge.t0, edge.t1, 9))
    inner = np.stack(wall.develop(around, down, about=about), axis=1)[1:-1]
    if shapely.distance(shapely.LineString([start, end]), shapely.points(inner)).max() < STRAIGHT_MM:
        return [LineEdge(end)]
    count = 1
    while True:
        t = np.linspace(edge.t0, edge.t1, count + 1)
        around, down, heading = edge.curve.along(t)
        x, y = wall.develop(around, down, about=about)
        x[0], y[0], x[-1], y[-1] = *start, *end
        way = heading + wall.slope * (around - about[0]) + (math.pi if edge.t1 < edge.t0 else 0.0)
        handle = np.hypot(np.diff(x), np.diff(y)) / 3 / np.cos(np.diff(way) / 4) ** 2
        ends = np.stack([x, y], axis=1)
        ways = np.stack([np.sin(way), np.cos(way)], axis=1)
        first = ends[:-1] + handle[:, None] * ways[:-1]
        second = ends[1:] - handle[:, None] * ways[1:]
        if _off_by(edge, about, ends, first, second) <= FIT_MM:
            return [
                CubicEdge(tuple(map(float, a)), tuple(map(float, b)), tuple(map(float, c)))
                for a, b, c in zip(first, second, ends[1:], strict=True)
            ]
        count *= 2
        if count > 4096:
            raise GeometryError("an edge is bent too sharply to be cut as a curve")


def _off_by(edge: Edge, about: tuple[float, float], ends, first, second) -> float:
    """How far cubic curves leave an edge, measured at points of them."""
    share = np.linspace(0, 1, 9)[1:-1, None, None]
    curve = (
        (1 - share) ** 3 * ends[:-1]
        + 3 * share * (1 - share) ** 2 * first
        + 3 * share**2 * (1 - share) * second
        + share**3 * ends[1:]
    )
    t = np.linspace(edge.t0, edge.t1, 24 * len(first) + 1)
    true = np.stack(edge.curve.wall.develop(*edge.curve.at(t), about=about), axis=1)
    return float(shapely.distance(shapely.LineString(true), shapely.points(curve.reshape(-1, 2))).max())
