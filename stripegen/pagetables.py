"""The spacing as tables for the page: a length is told as {"mm": value}, for it to be shown in either unit."""

from __future__ import annotations

import math
from collections.abc import Iterator

from stripegen.crossings import alike_crosses
from stripegen.spacing import Spacing


def spacing_tables(spacing: Spacing) -> list[dict]:
    """Tables with a caption, heads and rows, of what is clear round the cup and down the wall."""
    tables = []
    if any(level.gaps for level in spacing.levels):
        rows = [
            [level.name, _mm(level.down_mm), f"{gap.left} to {gap.right}", _degrees(gap.from_rad), _mm(gap.clear_mm)]
            for level in spacing.levels
            for gap in level.gaps
        ]
        tables.append(_table("Clear round the cup, edge to edge, to the right", ["Level", "Down", "Between", "From", "Clear"], rows))
    for meridian in spacing.meridians:
        rows = [[f"{drop.upper} to {drop.lower}", _mm(drop.from_mm), _mm(drop.clear_mm)] for drop in meridian.drops]
        caption = f"Clear down the wall at {_degrees(meridian.around_rad)}"
        tables.append(_table(caption, ["Between", "From", "Clear"], rows))
    return [*tables, *_pairs(spacing), *_evenness(spacing), *_clearances(spacing), *_crossings(spacing)]


def _pairs(spacing: Spacing) -> Iterator[dict]:
    rows = [
        [f"{pair.first} to {pair.second}", _mm(pair.least_mm), _degrees(pair.least_at[0]), _mm(pair.least_at[1]), _mm(pair.greatest_mm)]
        for pair in spacing.pairs
    ]
    if rows:
        yield _table("Between neighbours, the shortest way along the wall", ["Between", "Least", "At", "Down", "Greatest"], rows)


def _evenness(spacing: Spacing) -> Iterator[dict]:
    rows = [
        [even.line or "all lines", even.level, even.gaps, _mm(even.mean_mm), _mm(even.deviation_mm)]
        for even in spacing.evenness
    ]
    if rows:
        yield _table("How even the gaps are round the cup", ["Lines", "Level", "Gaps", "Mean", "Farthest from it"], rows)


def _clearances(spacing: Spacing) -> Iterator[dict]:
    most = max((len(each.keepouts_mm) for each in spacing.clearances), default=0)
    heads = ["Line", "To rim", "To base", *(f"To keepout {number}" for number in range(1, most + 1))]
    rows = [[each.label, _mm(each.rim_mm), _mm(each.base_mm), *map(_mm, each.keepouts_mm)] for each in spacing.clearances]
    if rows:
        yield _table("Clear of rim, base and keepouts", heads, rows)


def _crossings(spacing: Spacing) -> Iterator[dict]:
    rows = [
        [" and ".join(alike.lines), alike.number, _mm(alike.down_mm), _degrees(alike.angle_rad)]
        for alike in alike_crosses(spacing.crossings)
    ]
    if rows:
        yield _table("Where lines cross", ["Lines", "Times", "Down", "Angle"], rows)


def _table(caption: str, heads: list[str], rows: list[list]) -> dict:
    return {"caption": caption, "heads": heads, "rows": rows}


def _mm(value: float | None) -> dict[str, float] | None:
    return None if value is None else {"mm": round(value, 3) + 0.0}


def _degrees(value_rad: float) -> str:
    return f"{math.degrees(value_rad):.1f}\N{DEGREE SIGN}"
