"""How far apart the lines of a decoration lie round the cup, edge to edge, at one level.

A full ring crosses no level and is left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stripegen.curves import Parallel
from stripegen.lineparts import TOUCH_MM, Part, joined, label_of
from stripegen.overlay import spans_inside
from stripegen.shapes import FULL_TURN, Edge
from stripegen.site import Site
from stripegen.spec import Line, Ring
from stripegen.surface import Wall

INSIDE_MM = 1e-6  # lines end at the very ends of the decorated part: they are met so far inside it


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """Where a line crosses a level. `copy` counts from 1; None: the line has no copies."""

    line: str
    copy: int | None
    from_rad: float
    to_rad: float

    @property
    def label(self) -> str:
        return label_of(self.line, self.copy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """From a line's right edge to the next line's left edge, along the girth.

    `from_rad` is from 0 to a turn, `to_rad` counted on from it. A `clear_mm` below 0: they overlap by that.
    """

    left: str
    right: str
    from_rad: float
    to_rad: float
    clear_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One girth: what crosses it and what is clear between, to the right from the zero mark."""

    name: str
    down_mm: float
    girth_mm: float
    crossings: tuple[Crossing, ...]
    gaps: tuple[Gap, ...]


def three_levels(parts: Sequence[Part], site: Site) -> tuple[Level, Level, Level]:
    """The rim end, the middle and the base end of the decorated part."""
    middle_mm = (site.top_mm + site.bottom_mm) / 2
    return (
        _level(parts, site.wall, "rim", site.top_mm, site.top_mm + INSIDE_MM),
        _level(parts, site.wall, "middle", middle_mm, middle_mm),
        _level(parts, site.wall, "base", site.bottom_mm, site.bottom_mm - INSIDE_MM),
    )


def _level(parts: Sequence[Part], wall: Wall, name: str, down_mm: float, measured_mm: float) -> Level:
    found: dict[tuple[str, int | None], list[tuple[float, float]]] = {}
    for part in parts:
        _, high_mm, _, low_mm = part.shape.polygon.bounds
        if _full_ring(part.line) or not high_mm <= measured_mm <= low_mm:
            continue
        first, last = part.shape.around_range
        edge = Edge(Parallel(wall, measured_mm), first - 0.01, last + 0.01)
        for t0, t1 in spans_inside(edge, [part.shape]):
            start = t0 % FULL_TURN
            found.setdefault((part.line.name, part.copy), []).append((start, start + t1 - t0))
    radius = wall.radius_mm(down_mm)
    crossings = [
        Crossing(line=line, copy=copy, from_rad=start, to_rad=end)
        for (line, copy), spans in found.items()
        for start, end in _joined_round(spans, TOUCH_MM / radius)
    ]
    crossings.sort(key=lambda crossing: (crossing.from_rad, crossing.to_rad))
    return Level(
        name=name,
        down_mm=down_mm,
        girth_mm=wall.girth_mm(down_mm),
        crossings=tuple(crossings),
        gaps=tuple(gaps_between(crossings, radius)),
    )


def _full_ring(line: Line) -> bool:
    return isinstance(line, Ring) and line.start is None


def _joined_round(spans: list[tuple[float, float]], touch_rad: float) -> list[tuple[float, float]]:
    """The same round the cup, each span beginning within the first turn; what goes all round is left out."""
    found = joined(spans, touch_rad)
    if len(found) > 1 and found[0][0] + FULL_TURN <= found[-1][1] + touch_rad:
        first = found.pop(0)
        found[-1] = (found[-1][0], max(found[-1][1], first[1] + FULL_TURN))
    return [(start, end) for start, end in found if end - start < FULL_TURN - touch_rad]


def gaps_between(crossings: Sequence[Crossing], radius_mm: float) -> Iterator[Gap]:
    """From each crossing to the next to the right; the last to the first of the next turn."""
    if not crossings:
        return
    reached = max(crossings, key=lambda crossing: crossing.to_rad)  # what reaches furthest into the next turn
    reached_rad = reached.to_rad - FULL_TURN
    found = []
    for crossing in crossings:
        start = reached_rad % FULL_TURN
        found.append(
            Gap(
                left=reached.label,
                right=crossing.label,
                from_rad=start,
                to_rad=start + crossing.from_rad - reached_rad,
                clear_mm=(crossing.from_rad - reached_rad) * radius_mm,
            )
        )
        if crossing.to_rad > reached_rad:
            reached, reached_rad = crossing, crossing.to_rad
    yield from sorted(found, key=lambda gap: gap.from_rad)
