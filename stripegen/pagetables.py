"""The spacing as tables for the page: a length is told as {"mm": value}, for it to be shown in either unit."""

from __future__ import annotations

import math

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
    return tables


def _table(caption: str, heads: list[str], rows: list[list]) -> dict:
    return {"caption": caption, "heads": heads, "rows": rows}


def _mm(value: float) -> dict[str, float]:
    return {"mm": round(value, 3) + 0.0}


def _degrees(value_rad: float) -> str:
    return f"{math.degrees(value_rad):.1f}\N{DEGREE SIGN}"
