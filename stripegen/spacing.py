"""How far apart the lines of a decoration lie on the cup, edge to edge, in figures.

Round the cup: at the rim end, the middle and the base end of the decorated part, between each line that
crosses there and the next to the right, and how even those gaps are. Down the wall: along a few meridians, from the
rim to the base. The shortest way: between neighbours, and from each line to rim, base and keepouts. And where lines
cross, at what angle. A line with several stripes counts as one, from its outer edge to its outer edge; each copy of
a line is a line.

Figures round the cup and down the wall are exact: the ends of each stretch are solved for on the line's own edges. How
exact the others are is told where they are made.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stripegen.clearances import Clearance, clearances_of
from stripegen.columns import Columns, plain_lines
from stripegen.crossings import Cross, crossings_of, lying_crosses
from stripegen.decoration import Decoration
from stripegen.evenness import Evenness, evenness_of
from stripegen.levels import Gap, Level, three_levels
from stripegen.lineparts import parts_of
from stripegen.meridians import Meridian, meridian_at, telling_meridians
from stripegen.neighbours import Pair, lyings_of, pairs_of
from stripegen.spacingtext import (
    clearance_table,
    crossing_table,
    evenness_table,
    figure,
    pair_table,
    told_once,
)
from stripegen.ways import Ways


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Two lines that are neighbours at all three levels, and how far apart they are at each."""

    left: str
    right: str
    rim_mm: float
    middle_mm: float
    base_mm: float

    @property
    def opens_mm(self) -> float:
        """By how much they open from base to rim; below 0: they close."""
        return self.rim_mm - self.base_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Spacing:
    """Every distance between the lines of a decoration, on the cup's own wall."""

    levels: tuple[Level, ...]
    meridians: tuple[Meridian, ...]
    openings: tuple[Opening, ...]
    pairs: tuple[Pair, ...]
    evenness: tuple[Evenness, ...]
    clearances: tuple[Clearance, ...]
    crossings: tuple[Cross, ...]


def spacing_of(decoration: Decoration, meridians_rad: Sequence[float] | None = None) -> Spacing:
    """Every distance between a decoration's lines.

    Parameters
    ----------
    meridians_rad : where to measure down the wall; None: where the neighbours come nearest to each other,
        at most three
    """
    parts = parts_of(decoration)
    levels = three_levels(parts, decoration.site)
    if meridians_rad is None:
        between = [(gap.from_rad + gap.to_rad) / 2 for gap in levels[1].gaps if gap.clear_mm > 0]
        meridians_rad = telling_meridians(parts, decoration, between)
    meridians = tuple(meridian_at(parts, decoration.site.wall, around) for around in meridians_rad)
    ways = Ways(decoration.site.wall)
    crosses = crossings_of(decoration)
    lyings = lyings_of(decoration, parts)
    crossing = {frozenset((cross.first, cross.second)) for cross in crosses}
    return Spacing(
        levels=levels,
        meridians=meridians,
        openings=tuple(_openings(levels)),
        pairs=tuple(pairs_of(lyings, ways, levels, crossing)),
        evenness=tuple(evenness_of(levels)),
        clearances=tuple(clearances_of(lyings, decoration.site, ways)),
        crossings=tuple(lying_crosses(crosses, parts, ways.wall.mean_radius_mm)),
    )


def spacing_tables(spacing: Spacing) -> list[Columns]:
    """The distances, in mm: tables of all that there is to tell."""
    down = [
        Columns(
            title=f"Clear down the wall at {math.degrees(meridian.around_rad):.1f} degrees, mm",
            rows=tuple((f"{drop.upper} to {drop.lower}", figure(drop.clear_mm)) for drop in meridian.drops),
        )
        for meridian in spacing.meridians
    ]
    tables = [
        _round_table(spacing),
        *down,
        pair_table(spacing.pairs),
        evenness_table(spacing.evenness),
        clearance_table(spacing.clearances),
        crossing_table(spacing.crossings),
    ]
    return [table for table in tables if table]


def spacing_lines(spacing: Spacing) -> list[str]:
    """The same as lines of plain text, an empty one between two tables."""
    return plain_lines(spacing_tables(spacing))


def spacing_rows(spacing: Spacing) -> dict:
    """The distances as JSON-able values: millimetres to 1e-6, places round in degrees.

    In a gap `from` is below 360 and `to` is counted on from it. A `clear` below 0 is an overlap. What there is none of is
    null.
    """
    return {
        "levels": [
            {
                "name": level.name,
                "down": _mm(level.down_mm),
                "girth": _mm(level.girth_mm),
                "lines": [
                    {
                        "line": crossing.line,
                        "copy": crossing.copy,
                        "from": _degrees(crossing.from_rad),
                        "to": _degrees(crossing.to_rad),
                    }
                    for crossing in level.crossings
                ],
                "gaps": [
                    {
                        "left": gap.left,
                        "right": gap.right,
                        "from": _degrees(gap.from_rad),
                        "to": _degrees(gap.to_rad),
                        "clear": _mm(gap.clear_mm),
                    }
                    for gap in level.gaps
                ],
            }
            for level in spacing.levels
        ],
        "meridians": [
            {
                "around": _degrees(meridian.around_rad),
                "gaps": [
                    {
                        "upper": drop.upper,
                        "lower": drop.lower,
                        "from": _mm(drop.from_mm),
                        "to": _mm(drop.to_mm),
                        "clear": _mm(drop.clear_mm),
                    }
                    for drop in meridian.drops
                ],
            }
            for meridian in spacing.meridians
        ],
        "openings": [
            {
                "left": opening.left,
                "right": opening.right,
                "rim": _mm(opening.rim_mm),
                "middle": _mm(opening.middle_mm),
                "base": _mm(opening.base_mm),
                "opens": _mm(opening.opens_mm),
            }
            for opening in spacing.openings
        ],
        "pairs": [_pair_row(pair) for pair in spacing.pairs],
        "evenness": [
            {
                "line": even.line,
                "level": even.level,
                "down": _mm(even.down_mm),
                "gaps": even.gaps,
                "mean": _mm(even.mean_mm),
                "deviation": _mm(even.deviation_mm),
                "share": None if even.share is None else _mm(even.share),
            }
            for even in spacing.evenness
        ],
        "clearances": [
            {
                "label": clear.label,
                "line": clear.line,
                "rim": _mm(clear.rim_mm),
                "rim_limit": _mm(clear.rim_limit_mm),
                "base": _mm(clear.base_mm),
                "base_limit": _mm(clear.base_limit_mm),
                "keepouts": [_mm(keepout_mm) for keepout_mm in clear.keepouts_mm],
            }
            for clear in spacing.clearances
        ],
        "crossings": [
            {
                "first": cross.first,
                "second": cross.second,
                "around": _degrees(cross.around_rad),
                "down": _mm(cross.down_mm),
                "angle": _degrees(cross.angle_rad),
            }
            for cross in spacing.crossings
        ],
    }


def _pair_row(pair: Pair) -> dict:
    return {
        "first": pair.first,
        "second": pair.second,
        "side": "round" if pair.is_round else "down",
        "least": _mm(pair.least_mm),
        "least_at": _place(pair.least_at),
        "greatest": None if pair.greatest_mm is None else _mm(pair.greatest_mm),
        "greatest_at": None if pair.greatest_at is None else _place(pair.greatest_at),
        **{
            level: None if clear_mm is None else _mm(clear_mm)
            for level, clear_mm in (("rim", pair.rim_mm), ("middle", pair.middle_mm), ("base", pair.base_mm))
        },
        "touches": pair.touches,
        "kept_clear": pair.kept_clear,
    }


def _place(place: tuple[float, float]) -> dict:
    return {"around": _degrees(place[0]), "down": _mm(place[1])}


def _mm(value: float) -> float:
    return round(value, 6) + 0.0


def _degrees(value_rad: float) -> float:
    return round(math.degrees(value_rad), 6) + 0.0


def _round_table(spacing: Spacing) -> Columns | None:
    if not any(level.gaps for level in spacing.levels):
        return None
    opens = {(opening.left, opening.right): opening.opens_mm for opening in spacing.openings}
    rows: dict[tuple[str, str, int], list[str]] = {}
    places: dict[tuple[str, str, int], float] = {}
    for column, level in enumerate(spacing.levels):
        for key, gap in _numbered(level):
            cells = rows.setdefault(key, ["-"] * len(spacing.levels))
            cells[column] = figure(gap.clear_mm)
            places.setdefault(key, gap.from_rad)
    table = []
    for key in sorted(rows, key=lambda key: places[key]):
        left, right, _ = key
        opening = figure(opens[left, right]) if (left, right) in opens else ""
        table.append((left, right, None, [f"{math.degrees(places[key]):.1f}", *rows[key], opening]))
    heads = [f"{level.name} {level.down_mm:.1f}" for level in spacing.levels]
    girths = [figure(level.girth_mm) for level in spacing.levels]
    return Columns(
        title="Clear round the cup, edge to edge, to the right, mm (below 0: they overlap)",
        head=("down to", "degrees", *heads, "opens"),
        rows=(("once round", "", *girths, ""), *told_once(table)),
    )


def _numbered(level: Level) -> Iterator[tuple[tuple[str, str, int], Gap]]:
    """Each gap with its neighbours and its number among those of the same two."""
    seen: dict[tuple[str, str], int] = {}
    for gap in level.gaps:
        pair = (gap.left, gap.right)
        seen[pair] = seen.get(pair, 0) + 1
        yield (*pair, seen[pair]), gap


def _openings(levels: Sequence[Level]) -> Iterator[Opening]:
    tables = []
    for level in levels:
        pairs: dict[tuple[str, str], list[float]] = {}
        for gap in level.gaps:
            pairs.setdefault((gap.left, gap.right), []).append(gap.clear_mm)
        tables.append(pairs)
    for pair in tables[0]:
        clears = [table.get(pair, []) for table in tables]
        if all(len(values) == 1 for values in clears):
            (rim,), (centre,), (base,) = clears
            yield Opening(left=pair[0], right=pair[1], rim_mm=rim, middle_mm=centre, base_mm=base)
