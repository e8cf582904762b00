"""How far apart the lines of a decoration lie on the cup, edge to edge: round it and down its wall.

Round the cup: at the rim end, the middle and the base end of the decorated part, between each line that
crosses there and the next to the right. Down the wall: along a few meridians, from the rim to the base. A
line with several stripes counts as one, from its outer edge to its outer edge; each copy of a line is a line.

Every figure is exact: the ends of each stretch are solved for on the line's own edges.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stripegen.columns import aligned
from stripegen.decoration import Decoration
from stripegen.levels import Gap, Level, three_levels
from stripegen.lineparts import parts_of
from stripegen.meridians import Meridian, meridian_at, telling_meridians

ALIKE_ROWS = 3  # so many rows with the same figures are told as one
MINUS_ZERO_MM = 0.005  # less than this is printed as 0.00


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
    return Spacing(levels=levels, meridians=meridians, openings=tuple(_openings(levels)))


def spacing_lines(spacing: Spacing) -> list[str]:
    """The distances as lines of plain text, in mm: one table round the cup, and one for each meridian."""
    lines = [*_round_table(spacing)]
    for meridian in spacing.meridians:
        lines += ["", f"Clear down the wall at {math.degrees(meridian.around_rad):.1f} degrees, mm"]
        rows = [[f"{drop.upper} to {drop.lower}", _figure(drop.clear_mm)] for drop in meridian.drops]
        lines += aligned(rows)
    return lines


def spacing_rows(spacing: Spacing) -> dict:
    """The distances as JSON-able values: millimetres to 1e-6, places round in degrees.

    In a gap `from` is below 360 and `to` is counted on from it. A `clear` below 0 is an overlap.
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
    }


def _mm(value: float) -> float:
    return round(value, 6) + 0.0


def _degrees(value_rad: float) -> float:
    return round(math.degrees(value_rad), 6) + 0.0


def _figure(clear_mm: float) -> str:
    return f"{0.0 if abs(clear_mm) < MINUS_ZERO_MM else clear_mm:.2f}"


def _round_table(spacing: Spacing) -> Iterator[str]:
    if not any(level.gaps for level in spacing.levels):
        return
    yield "Clear round the cup, edge to edge, to the right, mm (below 0: they overlap)"
    opens = {(opening.left, opening.right): opening.opens_mm for opening in spacing.openings}
    rows: dict[tuple[str, str, int], list[str]] = {}
    places: dict[tuple[str, str, int], float] = {}
    for column, level in enumerate(spacing.levels):
        for key, gap in _numbered(level):
            cells = rows.setdefault(key, ["-"] * len(spacing.levels))
            cells[column] = _figure(gap.clear_mm)
            places.setdefault(key, gap.from_rad)
    table = []
    for key in sorted(rows, key=lambda key: places[key]):
        left, right, _ = key
        opening = _figure(opens[left, right]) if (left, right) in opens else ""
        table.append((left, right, [f"{math.degrees(places[key]):.1f}", *rows[key], opening]))
    heads = [f"{level.name} {level.down_mm:.1f}" for level in spacing.levels]
    girths = [_figure(level.girth_mm) for level in spacing.levels]
    yield from aligned(
        [["down to", "degrees", *heads, "opens"], ["once round", "", *girths, ""], *_told_once(table)]
    )


def _numbered(level: Level) -> Iterator[tuple[tuple[str, str, int], Gap]]:
    """Each gap with its neighbours and its number among those of the same two."""
    seen: dict[tuple[str, str], int] = {}
    for gap in level.gaps:
        pair = (gap.left, gap.right)
        seen[pair] = seen.get(pair, 0) + 1
        yield (*pair, seen[pair]), gap


def _told_once(table: list[tuple[str, str, list[str]]]) -> Iterator[list[str]]:
    """The rows, a run of them with the same figures as one."""
    start = 0
    while start < len(table):
        stop = start + 1
        while stop < len(table) and table[stop][2][1:] == table[start][2][1:]:
            stop += 1
        if stop - start < ALIKE_ROWS:
            stop = start + 1
        left, right, cells = table[start]
        more = "" if stop == start + 1 else f" and on to {table[stop - 1][1]}, {stop - start} gaps"
        yield [f"{left} to {right}{more}", *cells]
        start = stop


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
