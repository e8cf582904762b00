"""Warnings of neighbouring lines that come too near each other to be weeded or seen apart, or that touch."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from stripegen.errors import Figure, Notice
from stripegen.neighbours import Pair
from stripegen.spec import Line
from stripegen.units import show_length

LEAST_MM = 1e-4  # a gap that misses its limit by less is as wide


def close_notices(
    pairs: Sequence[Pair],
    lines: Sequence[Line],
    min_widths_mm: Mapping[str, float],
    min_gap_mm: float = 0.0,
    unit: str = "mm",
) -> list[Notice]:
    """A warning for each two lines whose copies come too near each other, of the nearest of them.

    Lines on different coats don't lie beside each other, and one that is cut back from another is as near as it was
    told to be.

    Parameters
    ----------
    min_widths_mm : by line, the least width that its vinyl can be weeded at
    min_gap_mm : the least gap that the maker asks for; the greatest of it and the two widths is the limit
    """
    coats = {line.name: line.resin_mm for line in lines}
    close: dict[tuple[str, str], list[Pair]] = {}
    for pair in pairs:
        first, second = pair.lines
        limit_mm = max(min_widths_mm[first], min_widths_mm[second], min_gap_mm)
        if pair.kept_clear or coats[first] != coats[second]:
            continue
        if pair.touches or pair.least_mm < limit_mm - LEAST_MM:
            key = (first, second) if (second, first) not in close else (second, first)
            close.setdefault(key, []).append(pair)
    return [_notice(found, max(min_widths_mm[name] for name in names), min_gap_mm, unit) for names, found in close.items()]


def _notice(found: Sequence[Pair], weeded_mm: float, min_gap_mm: float, unit: str) -> Notice:
    worst = min(found, key=lambda pair: pair.least_mm)
    around, down = worst.least_at
    place = f"{math.degrees(around):.1f} degrees round and {show_length(down, unit)} {unit} down"
    more = "" if len(found) == 1 else f" (and {len(found) - 1} more such)"
    alike = worst.lines[0] == worst.lines[1]
    apart = "use fewer copies or narrower stripes" if alike else "move one of them, or make one narrower"
    if worst.touches:
        joined = "" if alike else f', or say under = ["{worst.lines[0]}"] or clear_of = ["{worst.lines[0]}"] for {worst.lines[1]}'
        message = f"{_named(worst)} touch or overlap {place}{more} without crossing or one going under the other"
        remedy, figures = f"{apart}{joined}", (Figure("least", 0.0),)
    else:
        limit_mm, why = max((weeded_mm, "narrower waste can't be weeded"), (min_gap_mm, "the least gap asked for"))
        message = (
            f"{_named(worst)} come within {show_length(worst.least_mm, unit, 1)} {unit} of each other, {place}{more}; "
            f"less than {show_length(limit_mm, unit, 1)} {unit}, {why}"
        )
        remedy, figures = apart, (Figure("least", worst.least_mm), Figure("limit", limit_mm))
    figures += (Figure("around", math.degrees(around), "degrees"), Figure("down", down), Figure("places", len(found), ""))
    return Notice(code="too-close", line=worst.lines[0], message=message, remedy=remedy, figures=figures)


def _named(pair: Pair) -> str:
    return f"two turns of {pair.first}" if pair.first == pair.second else f"{pair.first} and {pair.second}"
