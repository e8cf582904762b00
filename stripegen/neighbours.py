"""How near the lines of a decoration come to their neighbours, and how far they part, along the wall.

Two lines are neighbours where a way round the cup, or straight down the wall, leads from one to the other and meets
no third, or where they come within `facing.NEAR_MM` of each other with nothing between. The least distance is the
shortest way on the wall from any point of one line's edges to any of the other's, on the side where they face. The
greatest is that of the nearest distances: each point of an edge that faces the other line has one, the shortest way
from it to that line; the greatest of them is told.

A line is here what is seen of it: what lies under the lines that it goes under is not counted. With several stripes it
is one region, from outer edge to outer edge, unless another line lies between its stripes: then it is its stripes.

The least distance is exact on a straight wall. On others the two places are looked for by `Ways.squared`, and the
way between them is told: it may be above the least by a few hundredths of a millimetre, by more only over a steep
shoulder. The greatest is looked for at samples, the ends of a stretch met within 0.01 mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from stripegen.borders import Apart, Border, farthest, least_apart
from stripegen.decoration import Decoration
from stripegen.errors import GeometryError
from stripegen.facing import Facing, facing
from stripegen.levels import Level
from stripegen.lineparts import Part
from stripegen.overlay import overlay
from stripegen.repeats import surroundings
from stripegen.shapes import FULL_TURN, Shape, images
from stripegen.spec import Chevron, Line, Ring
from stripegen.ways import Ways


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two neighbours: the left and the right one, or the upper and the lower one (`is_round` false).

    Places are (around, down), half way between the two lines, around counted within a turn. `rim_mm`, `middle_mm` and
    `base_mm` are along the girth, where they are neighbours there. `touches`: they touch or overlap, and the least
    is 0; then nothing is the greatest. `kept_clear`: one is cut back from the other.
    """

    first: str
    second: str
    lines: tuple[str, str]
    is_round: bool
    least_mm: float
    least_at: tuple[float, float]
    greatest_mm: float | None
    greatest_at: tuple[float, float] | None
    rim_mm: float | None = None
    middle_mm: float | None = None
    base_mm: float | None = None
    touches: bool = False
    kept_clear: bool = False


@dataclass(frozen=True)
class Lying:
    """One copy of a line as it lies on the cup's own wall: its region, and what is seen of it (or of its stripes)."""

    line: Line
    label: str
    region: tuple[Shape, ...]
    seen: tuple[Shape, ...]

    @property
    def goes_round(self) -> bool:
        whole = isinstance(self.line, Chevron) or (isinstance(self.line, Ring) and self.line.start is None)
        ranges = [shape.around_range for shape in self.seen]
        return whole and all(high - low > FULL_TURN - 1e-3 for low, high in ranges)

    @property
    def turn_rad(self) -> float:
        return self.seen[0].origin[1]

    @property
    def scale_mm(self) -> float:
        return self.seen[0].outer[0].curve.wall.mean_radius_mm

    @property
    def kind(self) -> tuple:
        """Equal for copies that are one another, turned."""
        origins = [shape.origin for shape in self.seen]
        return tuple((id(first), round(turn - self.turn_rad, 7)) for first, turn in origins)


def lyings_of(decoration: Decoration, parts: Sequence[Part]) -> list[Lying]:
    """Each copy of each line of which anything is seen; `parts` are the decoration's (`parts_of`)."""
    site = decoration.site
    laid_by_name = {laid.line.name: laid for laid in decoration.lines}
    copies: dict[tuple[str, int | None], list[Part]] = {}
    for part in parts:
        copies.setdefault((part.line.name, part.copy), []).append(part)
    covers = {
        name: [shape for cover in laid.line.under for shape in laid_by_name[cover].region_on(site)]
        for name, laid in laid_by_name.items()
    }
    known: dict[tuple, tuple[list[Shape], float]] = {}
    found = []
    for (name, copy), own in copies.items():
        laid = laid_by_name[name]
        shapes = region = tuple(part.shape for part in own)
        if laid.line.stripes > 1:
            stripes = tuple(strip.shape.carried(site.wall) for strip in laid.cuts[(copy or 1) - 1].strips)
            others = [part.shape for part in parts if (part.line.name, part.copy) != (name, copy)]
            shapes = stripes if _has_between(region, stripes, others) else region
        seen = tuple(bit for shape in shapes for bit in _seen(shape, covers[name], known))
        if seen:
            found.append(Lying(laid.line, own[0].label, region, seen))
    return found


def _seen(shape: Shape, covers: Sequence[Shape], known: dict[tuple, tuple[list[Shape], float]]) -> list[Shape]:
    """What some covers leave of a shape to be seen, worked out once for copies that are covered alike."""
    if not covers:
        return [shape]
    first, turn_rad = shape.origin
    key = (id(first), surroundings(turn_rad, covers))
    if key not in known:
        try:
            known[key] = overlay([shape], images(covers, shape.around_range)), turn_rad
        except GeometryError:  # no sound shape is left: too little is seen past the cover to matter
            known[key] = [], turn_rad
    bits, from_rad = known[key]
    return [bit.turned(turn_rad - from_rad) for bit in bits]


def _has_between(region: Sequence[Shape], stripes: Sequence[Shape], others: Sequence[Shape]) -> bool:
    """Whether one of some shapes lies in a region and touches none of its stripes."""
    low = min(shape.around_range[0] for shape in region)
    high = max(shape.around_range[1] for shape in region)
    whole, own = (shapely.union_all([shape.polygon for shape in shapes]) for shapes in (region, stripes))
    shapely.prepare(whole)
    shapely.prepare(own)
    near = [image.polygon for image in images(others, (low, high))]
    return any(whole.intersects(polygon) and not own.intersects(polygon) for polygon in near)


def pairs_of(
    lyings: Sequence[Lying], ways: Ways, levels: Sequence[Level], crossing: set[frozenset[str]]
) -> list[Pair]:
    """Every pair of neighbours that are not joined: that neither cross nor lie on or under one another.

    `crossing` are the labels of those that cross.
    """
    measured = _Measured(lyings, ways)
    closed = {number for number, each in enumerate(lyings) if each.goes_round}
    faces, touching = facing([each.seen for each in lyings], ways.wall.mean_radius_mm, closed)
    found: dict[tuple[str, str], Pair] = {}
    for key in sorted({*faces, *touching}):
        one, other = lyings[key[0]], lyings[key[1]]
        if frozenset((one.label, other.label)) in crossing or _is_under(one.line, other.line):
            continue
        if one is other and isinstance(one.line, Ring | Chevron):  # it comes back to itself at its joint
            continue
        if key in touching:
            pair = _touching(one, other, key[2])
        else:
            pair = _pair(one, other, faces[key], *measured.of(key, faces[key]))
        if pair is not None:
            before = found.get((pair.first, pair.second))
            found[pair.first, pair.second] = pair if before is None else _both(before, pair)
    touched = {frozenset((pair.first, pair.second)) for pair in found.values() if pair.touches}
    across = [{(gap.left, gap.right): gap.clear_mm for gap in level.gaps if gap.clear_mm > 0} for level in levels]
    often = [_often(level) for level in levels]
    order = {each.label: number for number, each in enumerate(lyings)}
    pairs = []
    for pair in found.values():
        if frozenset((pair.first, pair.second)) in touched and not pair.touches:
            continue
        labels = (pair.first, pair.second)
        rim, middle, base = (
            gaps.get(labels) if pair.is_round and labels not in twice else None
            for gaps, twice in zip(across, often, strict=True)
        )
        pairs.append(replace(pair, rim_mm=rim, middle_mm=middle, base_mm=base))
    return sorted(pairs, key=lambda pair: _rank(pair, lyings, order))


def _often(level: Level) -> set[tuple[str, str]]:
    """The neighbours that have several gaps at a level."""
    labels = [(gap.left, gap.right) for gap in level.gaps]
    return {pair for pair in labels if labels.count(pair) > 1}


def _rank(pair: Pair, lyings: Sequence[Lying], order: dict[str, int]) -> tuple:
    lines = [lyings[order[label]].line.name for label in (pair.first, pair.second)]
    first = {name: number for number, name in reversed(list(enumerate(each.line.name for each in lyings)))}
    return (first[lines[0]], first[lines[1]], order[pair.first], order[pair.second])


def _is_under(one: Line, other: Line) -> bool:
    return other.name in one.under or one.name in other.under


def _is_clear(one: Line, other: Line) -> bool:
    return other.name in one.clear_of or one.name in other.clear_of


def _within_turn(place: tuple[float, float]) -> tuple[float, float]:
    return place[0] % FULL_TURN, place[1]


def _pair(one: Lying, other: Lying, faces: Facing, least: Apart, greatest: Apart) -> Pair:
    is_round = faces.round_ways >= faces.down_ways
    forwards = (faces.beside if is_round else faces.below) >= 0
    first, second = (one, other) if forwards else (other, one)
    return Pair(
        first=first.label,
        second=second.label,
        lines=(first.line.name, second.line.name),
        is_round=is_round,
        least_mm=least.mm,
        least_at=_within_turn(least.middle),
        greatest_mm=greatest.mm,
        greatest_at=_within_turn(greatest.middle),
        kept_clear=_is_clear(one.line, other.line),
    )


def _touching(one: Lying, other: Lying, turns: int) -> Pair | None:
    """What touches or overlaps; None where one lies wholly on the other."""
    ours, theirs = (shapely.union_all([shape.polygon for shape in each.seen]) for each in (one, other))
    across = turns * FULL_TURN * one.scale_mm
    theirs = shapely.transform(theirs, lambda points: points + (across, 0.0))
    shared = shapely.intersection(ours, theirs)
    if shared.area > 0.99 * min(ours.area, theirs.area):
        return None
    if shared.is_empty:  # they touch at a point, but for rounding
        shared = shapely.shortest_line(ours, theirs)
    place = shapely.get_coordinates(shapely.point_on_surface(shared))[0] / (one.scale_mm, 1.0)
    return Pair(
        first=one.label,
        second=other.label,
        lines=(one.line.name, other.line.name),
        is_round=False,
        least_mm=0.0,
        least_at=_within_turn((float(place[0]), float(place[1]))),
        greatest_mm=None,
        greatest_at=None,
        touches=True,
        kept_clear=_is_clear(one.line, other.line),
    )


def _both(pair: Pair, other: Pair) -> Pair:
    """Two of the same two lines, as where one winds past the other several times."""
    if pair.touches or other.touches:
        return pair if pair.touches else other
    near = min(pair, other, key=lambda each: each.least_mm)
    far = max(pair, other, key=lambda each: each.greatest_mm)
    return replace(near, greatest_mm=far.greatest_mm, greatest_at=far.greatest_at)


class _Measured:
    """Distances between lines, the least made once for all copies that lie alike."""

    def __init__(self, lyings: Sequence[Lying], ways: Ways):
        self.lyings, self.ways = lyings, ways
        self._borders: dict[tuple, tuple[Border, float]] = {}
        self._least: dict[tuple, tuple[Apart, float]] = {}

    def of(self, key: tuple[int, int, int], faces: Facing) -> tuple[Apart, Apart]:
        """The least and the greatest of two lines, places counted as the first has them."""
        one, other, turns = key
        first, second = self.border(one), self.border(other).turned(turns * FULL_TURN)
        greatest = max(
            farthest(np.array(faces.first), second, self.ways),
            farthest(np.array(faces.second), first, self.ways),
            key=lambda apart: apart.mm,
        )
        greatest = replace(greatest, mm=self.ways.told_mm(greatest.first, greatest.second))
        return self._least_of(key, first, second), greatest

    def border(self, number: int) -> Border:
        lying = self.lyings[number]
        kind = (lying.goes_round, *lying.kind)
        if kind not in self._borders:
            self._borders[kind] = Border.of(lying.seen, self.ways, lying.goes_round), lying.turn_rad
        border, turn_rad = self._borders[kind]
        return border.turned(lying.turn_rad - turn_rad)

    def _least_of(self, key: tuple[int, int, int], first: Border, second: Border) -> Apart:
        one, other = self.lyings[key[0]], self.lyings[key[1]]
        ahead = other.turn_rad + key[2] * FULL_TURN - one.turn_rad
        alike = (one.kind, other.kind, round(ahead, 7))
        if alike not in self._least:
            self._least[alike] = least_apart(first, second, self.ways), one.turn_rad
        apart, turn_rad = self._least[alike]
        by = one.turn_rad - turn_rad
        return Apart(apart.mm, *((around + by, down) for around, down in (apart.first, apart.second)))
