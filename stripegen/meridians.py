"""How far the lines of a decoration lie above each other, edge to edge, along meridians of the cup.

A vertical that runs the whole decorated part lies above nothing and is left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import shapely

from stripegen.curves import Straight
from stripegen.decoration import Decoration
from stripegen.lineparts import TOUCH_MM, Part, joined
from stripegen.overlay import spans_inside
from stripegen.shapes import FULL_TURN, Edge, Shape, images
from stripegen.spec import Chevron, Line, Ring, Vertical
from stripegen.surface import Wall

RIM, BASE = "rim", "base"  # what the first line down is measured from, and the last to
ALIKE_MM = 0.005  # two distances no further apart count as equal when meridians are chosen
MOST_MERIDIANS = 3
MOST_OF_A_KIND = 48  # places of one kind that are looked at when meridians are chosen


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What a line takes of a meridian. `line` is its name, `label` with the copy's number."""

    line: str
    label: str
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """From a line's lower edge (or the rim) to the upper edge of the next below it (or the base).

    A `clear_mm` below 0: they overlap by that.
    """

    upper: str
    lower: str
    from_mm: float
    to_mm: float
    clear_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Meridian:
    """One way straight down the wall: what it crosses and what is clear between."""

    around_rad: float
    stretches: tuple[Stretch, ...]
    drops: tuple[Drop, ...]


def meridian_at(parts: Sequence[Part], wall: Wall, around_rad: float) -> Meridian:
    """What lies above each other at a place round the cup."""
    return _meridian(_stacked(parts), wall, around_rad, _exact_spans)


def telling_meridians(
    parts: Sequence[Part], decoration: Decoration, between_rad: Sequence[float]
) -> list[float]:
    """The fewest meridians that show each pair of neighbours where it is nearest, of those looked at.

    Looked at are quarters of the turn, seams, the points of chevrons, each 15 degrees and `between_rad`.
    Pairs that cross anywhere have no distance to show; nor has a diagonal from the rim or the base.
    """
    stacked = _stacked(parts)
    if not stacked:
        return []
    return _telling(stacked, decoration.site.wall, _candidates(decoration, between_rad))


def _stacked(parts: Sequence[Part]) -> list[Part]:
    return [
        part
        for part in parts
        if not (isinstance(part.line, Vertical) and part.line.start is None and part.line.end is None)
    ]


SpansOf = Callable[[Shape, Wall, float], list[tuple[float, float]]]


def _exact_spans(shape: Shape, wall: Wall, around_rad: float) -> list[tuple[float, float]]:
    return spans_inside(Edge(Straight(wall, around_rad, 0.0, 0.0), 0.0, wall.wall_mm), [shape])


def _near_spans(shape: Shape, wall: Wall, around_rad: float) -> list[tuple[float, float]]:
    """The same from the shape's samples: enough to choose by."""
    x = wall.mean_radius_mm * around_rad
    inside = shapely.LineString([(x, 0.0), (x, wall.wall_mm)]).intersection(shape.polygon)
    return [(part.bounds[1], part.bounds[3]) for part in shapely.get_parts(inside) if part.length > TOUCH_MM]


def _meridian(parts: Sequence[Part], wall: Wall, around_rad: float, spans_of: SpansOf) -> Meridian:
    found: dict[str, list[tuple[float, float]]] = {}
    names = {}
    for part in parts:
        for image in images([part.shape], (around_rad, around_rad)):
            found.setdefault(part.label, []).extend(spans_of(image, wall, around_rad))
            names[part.label] = part.line.name
    stretches = [
        Stretch(line=names[label], label=label, from_mm=start, to_mm=end)
        for label, spans in found.items()
        for start, end in joined(spans, TOUCH_MM)
    ]
    stretches.sort(key=lambda stretch: (stretch.from_mm, stretch.to_mm))
    drops = []
    upper, reached_mm = RIM, 0.0
    for lower, from_mm, to_mm in (
        *((stretch.label, stretch.from_mm, stretch.to_mm) for stretch in stretches),
        (BASE, wall.wall_mm, wall.wall_mm),
    ):
        drops.append(
            Drop(upper=upper, lower=lower, from_mm=reached_mm, to_mm=from_mm, clear_mm=from_mm - reached_mm)
        )
        if to_mm > reached_mm:
            upper, reached_mm = lower, to_mm
    return Meridian(around_rad=around_rad, stretches=tuple(stretches), drops=tuple(drops))


def _candidates(decoration: Decoration, between_rad: Sequence[float]) -> list[float]:
    """Meridians worth looking at, the plainest first."""
    site = decoration.site
    found = [quarter * FULL_TURN / 4 for quarter in range(4)]
    found += [site.around_rad(name, (site.top_mm + site.bottom_mm) / 2) for name in site.seams]
    for laid in decoration.lines:
        if isinstance(laid.line, Chevron):
            line = laid.line
            start = laid.site.around_rad(line.start, laid.site.down_mm(line.top))
            points = min(2 * line.points, MOST_OF_A_KIND)
            found += [start + number * math.pi / line.points for number in range(points)]
    found += [number * FULL_TURN / 24 for number in range(24)]
    found += between_rad[:MOST_OF_A_KIND]
    return [around % FULL_TURN for around in found]


def _telling(parts: Sequence[Part], wall: Wall, candidates: Sequence[float]) -> list[float]:
    lines = {part.label: part.line for part in parts}
    looks = []
    crossing: set[frozenset[str]] = set()
    for around in candidates:
        pairs: dict[tuple[str, str], float] = {}
        for drop in _meridian(parts, wall, around, _near_spans).drops:
            pair = _pair(lines.get(drop.upper), lines.get(drop.lower), drop)
            if pair and drop.clear_mm > 0:
                pairs[pair] = min(drop.clear_mm, pairs.get(pair, math.inf))
            elif pair:
                crossing.add(frozenset(pair))
        looks.append(pairs)
    least: dict[tuple[str, str], float] = {}
    for pairs in looks:
        for pair, clear_mm in pairs.items():
            if frozenset(pair) not in crossing:
                least[pair] = min(clear_mm, least.get(pair, math.inf))
    shown = [
        {pair for pair, clear_mm in pairs.items() if clear_mm <= least.get(pair, -math.inf) + ALIKE_MM}
        for pairs in looks
    ]
    chosen: list[float] = []
    left = set(least)
    while left and len(chosen) < MOST_MERIDIANS:
        best = max(range(len(shown)), key=lambda index: len(shown[index] & left))
        chosen.append(candidates[best])
        left -= shown[best]
    return sorted(chosen)


def _pair(upper: Line | None, lower: Line | None, drop: Drop) -> tuple[str, str] | None:
    """What a distance down the wall is of; None where it says nothing: the rim or base and a diagonal."""
    if (upper is None or lower is None) and not isinstance(upper or lower, Ring | Chevron | Vertical):
        return None
    # each copy of a ring lies elsewhere; those of another line are alike but for their place round the cup
    first, last = (
        label if line is None or isinstance(line, Ring) else line.name
        for line, label in ((upper, drop.upper), (lower, drop.lower))
    )
    return first, last
