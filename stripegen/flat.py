"""Strips laid flat: the outline that the blade follows, in millimetres, y down.

A strip is laid flat as charts.py says, seen from outside and never mirrored, turned so that at the middle of its
centre line straight down the cup is +y, its bounding box starting at (0, 0).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import shapely

from stripegen.charts import Followed, Unrolled
from stripegen.errors import GeometryError
from stripegen.laid import Strip
from stripegen.outline import Outline, Point, Ring
from stripegen.shapes import Edge, Loop
from stripegen.strain import edge_strain

CHORD_MM = 0.005  # the polygon of an outline follows its true edges this closely


@dataclass(frozen=True)
class FlatPiece:
    """A strip laid flat.

    `points` and `holes` are its polygon, rounded to 1e-4 mm, within CHORD_MM + FIT_MM of the true shape;
    `slack_mm` says how far the true edges may leave the polygon. `start` and `end` are where its centre
    line begins and ends on the wall (around, down), `middle` where its half way is on the flat piece, and
    `lean_rad` its heading there. `corners` are the edges of the outer ring, by number, that begin where the edges of its
    shape on the wall do. `strain` is the greatest by which an edge must stretch or shrink, as a share.
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
    strain: float
    strip: Strip
    corners: tuple[int, ...] = ()
    rounded: Outline | None = None

    @property
    def cut_outline(self) -> Outline:
        """What is cut: the outline, its free corners rounded where the vinyl asks for it."""
        return self.rounded or self.outline

    @cached_property
    def cut_points(self) -> tuple[tuple[Point, ...], tuple[tuple[Point, ...], ...]]:
        """What is cut as a polygon and its holes, as `points` and `holes` are of the outline."""
        if self.rounded is None:
            return self.points, self.holes
        outer, inner = self.rounded.points(CHORD_MM)
        return _rounded(outer), tuple(_rounded(ring) for ring in inner)

    def of_copy(self, strip: Strip) -> FlatPiece:
        """The flat piece of a copy of the strip, further round the cup."""
        first, last = strip.middle[0], strip.middle[-1]
        return replace(self, start=_place(first, first.t0), end=_place(last, last.t1), strip=strip)


def lay_flat_each(strips: Sequence[Strip]) -> tuple[FlatPiece, ...]:
    """The flat pieces of some strips; copies of one are laid flat once."""
    known: dict[int, FlatPiece] = {}
    found = []
    for strip in strips:
        first = strip.first or strip
        if id(first) not in known:
            known[id(first)] = lay_flat(first)
        found.append(known[id(first)] if strip is first else known[id(first)].of_copy(strip))
    return tuple(found)


def lay_flat(strip: Strip) -> FlatPiece:
    """A strip's flat piece. Raises GeometryError where it would lie over itself."""
    middle = half_way(strip.middle)
    return lay_flat_in(strip, _chart(strip, *middle), middle)[0]


def lay_flat_in(
    strip: Strip, chart: Unrolled | Followed, half: tuple[Edge, float] | None = None
) -> tuple[FlatPiece, tuple[float, float, float]]:
    """A strip's flat piece by a chart, and the turn and shift (rad, mm, mm) that move it to its place there.

    Raises GeometryError where it would lie over itself.
    """
    edge, t = half or half_way(strip.middle)
    outer, corners = _ring(strip.shape.outer, chart)
    outline = Outline(outer, tuple(_ring(hole, chart)[0] for hole in strip.shape.holes))
    heading = float(edge.curve.along(t)[2])
    turn = chart.way(edge, t) - heading  # of straight down
    middle = chart.point(edge, t)
    if abs(turn) > 1e-12:
        outline = outline.moved(turn, 0.0, 0.0)
    outer, _ = outline.points(CHORD_MM)
    left, top = min(x for x, _ in outer), min(y for _, y in outer)
    outline = outline.moved(0.0, -left, -top)
    outer, inner = outline.points(CHORD_MM)
    points, holes = _rounded(outer), [_rounded(ring) for ring in inner]
    if not shapely.Polygon(points, holes).is_valid:
        raise GeometryError("laid flat, one strip of it would lie over itself", "use fewer turns or a narrower strip")
    first, last = strip.middle[0], strip.middle[-1]
    c, s = math.cos(turn), math.sin(turn)
    flat = FlatPiece(
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
        middle=(middle[0] * c - middle[1] * s - left, middle[0] * s + middle[1] * c - top),
        lean_rad=heading,
        strain=0.0 if isinstance(chart, Unrolled) else edge_strain(strip.middle, strip.width_mm),
        strip=strip,
        corners=corners,
    )
    return flat, (-turn, left * c + top * s, top * c - left * s)


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


def half_way(centre: Sequence[Edge]) -> tuple[Edge, float]:
    """The middle, by length, of a centre line."""
    lengths = [edge.curve.length_mm(edge.t0, edge.t1) for edge in centre]
    left = sum(lengths) / 2
    for edge, length in zip(centre, lengths, strict=True):
        if left <= length + 1e-6 or edge is centre[-1]:  # at a point between two legs, the first
            break
        left -= length
    t = edge.t0 + (edge.t1 - edge.t0) * left / length
    reached = edge.curve.length_mm(edge.t0, t)
    for _ in range(8):
        step = (left - reached) / float(edge.curve.speed(t))
        if abs(left - reached) < 1e-12:
            break
        reached += edge.curve.length_mm(t, t + step)
        t += step
    return edge, t


def _chart(strip: Strip, about: Edge, t: float) -> Unrolled | Followed:
    """How a strip is laid flat: with the straight section that it lies on, or along its own centre line."""
    wall = about.curve.wall
    _, top, _, bottom = strip.shape.polygon.bounds
    held = wall.section(top, bottom)
    return Unrolled(*held, _place(about, t)) if held else Followed(strip.middle, about, t, strip.shape.outer)


def _ring(loop: Loop, chart: Unrolled | Followed) -> tuple[Ring, tuple[int, ...]]:
    """A loop laid flat, and by number those of its edges that begin where the loop's own do."""
    starts = [
        chart.point(before, before.t1) if chart.is_exact(before) and not chart.is_exact(edge) else chart.point(edge, edge.t0)
        for before, edge in zip(loop[-1:] + loop[:-1], loop, strict=True)
    ]
    edges, corners = [], []
    for index, edge in enumerate(loop):
        corners.append(len(edges))
        edges += chart.edges(edge, starts[index], starts[(index + 1) % len(loop)])
    return Ring(starts[0], tuple(edges)), tuple(corners)
