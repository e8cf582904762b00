"""Straight strips side by side with no gap, one cut between two of them: a plank, which is placed as one.

A strip is straight here if two straight sides bound it that are equally long and level with each other. Its ends may be
anything that lies between them: on a tapered cup a level end, laid flat, is an arc. In a plank's frame sides are
upright, on whole 1e-4 mm, so that those of neighbours are the same numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from stripegen.errors import GeometryError
from stripegen.flat import CHORD_MM, FlatPiece
from stripegen.layout import OUTLINE_DECIMALS
from stripegen.outline import ArcEdge, CubicEdge, Edge, LineEdge, Point, Ring

STRAIGHT_MM = 1e-6  # a side leaves its own line, and a strip its sides, by no more
LEVEL_MM = 1e-4  # the sides of one strip begin and end as near to level


def whole(length_mm: float) -> float:
    """To whole 1e-4 mm, as outlines are."""
    return round(length_mm, OUTLINE_DECIMALS) + 0.0


@dataclass(frozen=True, slots=True)
class Bar:
    """A straight strip, turned by `turn_rad` so that its sides are upright.

    `ring` begins where its left side ends, and ends with that side; `right` is the number of the right side.
    `corner` is the upper left one, `width_mm` and `length_mm` are those of the sides: all on whole 1e-4 mm, from which
    the ring's own corners are no further.
    """

    ring: Ring
    right: int
    turn_rad: float
    corner: Point
    width_mm: float
    length_mm: float
    slack_mm: float

    @classmethod
    def of(cls, flat: FlatPiece) -> Bar | None:
        """A flat piece as a bar; None if it is not straight."""
        if flat.outline.holes:
            return None
        ring = flat.outline.outer.moved(flat.lean_rad, 0.0, 0.0)
        least, _, most, _ = ring.bounds()
        lefts, rights = _sides(ring, least), _sides(ring, most)
        if len(lefts) != 1 or len(rights) != 1 or whole(most - least) <= 0:
            return None
        (left,), (right,) = lefts, rights
        ring = Ring(ring.edges[left].end, ring.edges[left + 1 :] + ring.edges[: left + 1])
        right = (right - left - 1) % len(ring.edges)
        (upper, lower), (other_upper, other_lower) = _span(ring, len(ring.edges) - 1), _span(ring, right)
        if max(abs(upper - other_upper), abs(lower - other_lower)) > LEVEL_MM:
            return None
        corner = (whole(least), whole(upper))
        return cls(ring, right, flat.lean_rad, corner, whole(most - least), whole(whole(lower) - corner[1]), flat.slack_mm)

    @property
    def reach_mm(self) -> float:
        """How long it is with its ends."""
        _, upper, _, lower = self.ring.bounds()
        return lower - upper

    def at(self, x_mm: float) -> Ring:
        """The ring with its left side at x and its upper corners at y = 0, its sides between whole 1e-4 mm."""
        ring = self.ring.moved(0.0, x_mm - self.corner[0], -self.corner[1])
        is_clockwise = ring.signed_area_mm2() > 0  # up the left side and down the right one
        far_mm = whole(x_mm + self.width_mm)
        ends = [(x_mm, 0.0), (far_mm, 0.0), (far_mm, self.length_mm), (x_mm, self.length_mm)]
        first, second, third, fourth = ends if is_clockwise else ends[::-1]
        return Ring(
            first,
            (
                *_fitted(ring, 0, self.right, first, second),
                LineEdge(third),
                *_fitted(ring, self.right + 1, len(ring.edges) - 1, third, fourth),
                LineEdge(first),
            ),
        )


def _sides(ring: Ring, x_mm: float) -> list[int]:
    """The numbers of the straight edges that lie upright at x."""
    return [
        number
        for number, (begin, edge) in enumerate(ring.walk())
        if isinstance(edge, LineEdge)
        and max(abs(begin[0] - x_mm), abs(edge.end[0] - x_mm)) <= STRAIGHT_MM
        and abs(begin[1] - edge.end[1]) > LEVEL_MM
    ]


def _span(ring: Ring, number: int) -> tuple[float, float]:
    begin, edge = [*ring.walk()][number]
    return min(begin[1], edge.end[1]), max(begin[1], edge.end[1])


def _fitted(ring: Ring, first: int, stop: int, start: Point, end: Point) -> list[Edge]:
    """Some edges of a ring, from a start to an end that are their own but for rounding."""
    found = []
    for number in range(first, stop):
        edge = ring.edges[number]
        found.append(_between(edge, start, end if number == stop - 1 else edge.end))
        start = found[-1].end
    return found


def _between(edge: Edge, start: Point, end: Point) -> Edge:
    """The edge between ends that are its own but for rounding; an arc's centre follows, square to the chord's middle."""
    if isinstance(edge, CubicEdge):
        return CubicEdge(edge.control1, edge.control2, end)
    if isinstance(edge, ArcEdge):
        (x0, y0), (x1, y1), (x, y) = start, end, edge.centre
        along = ((x1 - x0) * ((x0 + x1) / 2 - x) + (y1 - y0) * ((y0 + y1) / 2 - y)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)
        return ArcEdge(end, (x + along * (x1 - x0), y + along * (y1 - y0)), edge.clockwise)
    return LineEdge(end)


@dataclass(frozen=True)
class Plank:
    """Bars side by side from left to right, equally long, each beside the next along the whole of its side."""

    bars: tuple[Bar, ...]

    def __post_init__(self) -> None:
        lengths = {bar.length_mm for bar in self.bars}
        if len(lengths) != 1:
            raise GeometryError(f"strips in a plank must be equally long: got {sorted(lengths)}")

    @cached_property
    def lefts_mm(self) -> tuple[float, ...]:
        """Where each bar's left side is."""
        found = [0.0]
        for bar in self.bars[:-1]:
            found.append(whole(found[-1] + bar.width_mm))
        return tuple(found)

    @property
    def width_mm(self) -> float:
        return whole(self.lefts_mm[-1] + self.bars[-1].width_mm)

    @cached_property
    def rings(self) -> tuple[Ring, ...]:
        """Each bar's own, which ends with its left side: all but the first one's is cut with the bar before."""
        return tuple(bar.at(x_mm) for bar, x_mm in zip(self.bars, self.lefts_mm, strict=True))

    @property
    def poses(self) -> tuple[tuple[float, float, float], ...]:
        """What turns and then moves each flat piece to its place (turn_rad, dx, dy)."""
        return tuple(
            (bar.turn_rad, x_mm - bar.corner[0], -bar.corner[1]) for bar, x_mm in zip(self.bars, self.lefts_mm, strict=True)
        )

    @cached_property
    def polygons(self) -> tuple[tuple[Point, ...], ...]:
        """Each ring's points on whole 1e-4 mm."""
        return tuple(
            tuple(dict.fromkeys((whole(x), whole(y)) for x, y in ring.points(CHORD_MM))) for ring in self.rings
        )

    @property
    def border(self) -> tuple[Point, ...]:
        """The ring about all of them, without the points at which straight ends go straight on."""
        tops: list[Point] = []
        bottoms: list[Point] = []
        for bar, x_mm, points in zip(self.bars, self.lefts_mm, self.polygons, strict=True):
            far_mm = whole(x_mm + bar.width_mm)
            # from the corner where the ring begins to the right side, and from there back
            turn = points.index((far_mm, 0.0)), points.index((far_mm, bar.length_mm))
            out, back = points[: min(turn) + 1], points[max(turn) :]
            top, bottom = (out, back[::-1]) if turn[0] < turn[1] else (back[::-1], out)
            tops += top[1:] if tops else top
            bottoms += bottom[1:] if bottoms else bottom
        return tuple(_without_straight(tops) + _without_straight(bottoms)[::-1])


def _without_straight(points: Sequence[Point]) -> list[Point]:
    """A chain without the points between two that are level with them."""
    inner = [
        point
        for before, point, after in zip(points, points[1:], points[2:], strict=False)
        if not before[1] == point[1] == after[1]
    ]
    return [points[0], *inner, points[-1]]


def planks_of(bars: Iterable[Bar], count: int, most_mm: float) -> list[list[int]]:
    """Which bars lie in which plank: so many, as even as can be, or as many more as keep each narrow enough.

    Bars are taken by width; the numbers are theirs. A single bar may be wider than that.
    """
    widths = [bar.width_mm for bar in bars]
    order = sorted(range(len(widths)), key=lambda number: (-widths[number], number))
    for parts in range(count, len(order) + 1):
        ends = [len(order) * part // parts for part in range(parts + 1)]
        found = [order[start:end] for start, end in pairwise(ends)]
        if all(len(own) == 1 or math.fsum(widths[number] for number in own) <= most_mm for own in found):
            return found
    return [[number] for number in order]
