"""The distances between lines as tables, rows that say the same told once."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from stripegen.clearances import Clearance
from stripegen.columns import Columns
from stripegen.crossings import Cross, alike_crosses
from stripegen.evenness import Evenness
from stripegen.neighbours import Pair

ALIKE_ROWS = 3  # so many rows with the same figures are told as one
MINUS_ZERO_MM = 0.005  # less than this is printed as 0.00


def figure(value_mm: float) -> str:
    return f"{0.0 if abs(value_mm) < MINUS_ZERO_MM else value_mm:.2f}"


def told_once(table: Sequence[tuple[str, str, object, list[str]]]) -> Iterator[tuple[str, ...]]:
    """Rows of neighbours: left, right, what they have in common with alike ones, and cells.

    A run of rows with the same figures, all but the first cell (the place), is one.
    """
    start = 0
    while start < len(table):
        stop = start + 1
        while stop < len(table) and _same(table[start], table[stop]):
            stop += 1
        if stop - start < ALIKE_ROWS:
            stop = start + 1
        left, right, _, cells = table[start]
        more = "" if stop == start + 1 else f" and on to {table[stop - 1][1]}, {stop - start} gaps"
        yield (f"{left} to {right}{more}", *cells)
        start = stop


def _same(row: tuple, other: tuple) -> bool:
    return row[2] == other[2] and row[3][1:] == other[3][1:]


def pair_table(pairs: Sequence[Pair]) -> Columns | None:
    """How near neighbours come to each other and how far they part; None where there are none."""
    if not pairs:
        return None
    table = []
    for pair in pairs:
        around, down = pair.least_at
        most = "touch" if pair.greatest_mm is None else figure(pair.greatest_mm)
        cells = [f"{math.degrees(around):.1f}", f"{down:.1f}", figure(pair.least_mm), most]
        table.append((pair.first, pair.second, pair.lines, cells))
    first: dict[tuple, int] = {}
    for number, (*_, lines, cells) in enumerate(table):
        first.setdefault((lines, *cells[1:]), number)
    table.sort(key=lambda row: first[row[2], *row[3][1:]])  # those that lie alike stand together
    return Columns(
        title="Along the wall between neighbours, the shortest way, mm: the least, where that is, and the greatest",
        head=("between", "degrees", "down", "least", "greatest"),
        rows=tuple(told_once(table)),
    )


def evenness_table(evenness: Sequence[Evenness]) -> Columns | None:
    """How even the gaps round the cup are."""
    if not evenness:
        return None
    rows = [
        (
            f"{even.line or 'all lines'}, {even.level}",
            str(even.gaps),
            figure(even.mean_mm),
            figure(even.deviation_mm),
            "-" if even.share is None else f"{even.share:.1%}",
        )
        for even in evenness
    ]
    return Columns(
        title="How even the gaps round the cup are, mm: their mean, and by how much the most uneven differs from it",
        head=("at", "gaps", "mean", "differs", "share"),
        rows=tuple(rows),
    )


def clearance_table(clearances: Sequence[Clearance]) -> Columns | None:
    """What is clear about each line, copies alike told once."""
    if not clearances:
        return None
    keepouts = max(len(clear.keepouts_mm) for clear in clearances)
    heads = ["line", "rim", "to spare", "base", "to spare"]
    heads += [f"keepout {number}" if keepouts > 1 else "keepout" for number in range(1, keepouts + 1)]
    groups: list[tuple[list[Clearance], list[str]]] = []
    for clear in clearances:
        distances = (clear.rim_mm, clear.rim_limit_mm, clear.base_mm, clear.base_limit_mm, *clear.keepouts_mm)
        cells = [figure(value_mm) for value_mm in distances]
        if groups and groups[-1][0][0].line == clear.line and groups[-1][1] == cells:
            groups[-1][0].append(clear)
        else:
            groups.append(([clear], cells))
    rows = []
    for alike, cells in groups:
        more = "" if len(alike) == 1 else f" and on to {alike[-1].label}"
        rows.append((f"{alike[0].label}{more}", *cells))
    return Columns(
        title="From each line to the rim, the base and keepouts, mm, and what of it the clearances leave to spare",
        head=tuple(heads),
        rows=tuple(rows),
    )


def crossing_table(crossings: Sequence[Cross]) -> Columns | None:
    """Where lines cross and at what angle, those alike told once."""
    if not crossings:
        return None
    rows = [
        (
            " and ".join(alike.lines) if alike.lines[0] != alike.lines[1] else f"{alike.lines[0]}, with itself",
            str(alike.number),
            f"{alike.down_mm:.1f}",
            f"{math.degrees(alike.angle_rad):.2f}",
        )
        for alike in alike_crosses(crossings)
    ]
    return Columns(
        title="Where lines cross: how often, how far down, and the angle between their centre lines in degrees",
        head=("lines", "times", "down", "angle"),
        rows=tuple(rows),
    )
