"""Rows of cells as lines of plain text: the first column to the left, the others to the right."""

from __future__ import annotations

from collections.abc import Sequence


def aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Each row, which all have as many cells, as one indented line."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [_line(row, widths) for row in rows]


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    first, *others = zip(row, widths, strict=True)
    cells = [first[0].ljust(first[1]), *(cell.rjust(width) for cell, width in others)]
    return "  ".join(["", *cells]).rstrip()
