"""Rows of cells: as lines of plain text, the first column to the left, the others to the right; or to be drawn."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """A table to be told: a `title` above it (or none), the names of its columns (or none) and its rows.

    `spare` are the columns that a narrow terminal may leave out, the first of them first; `left` those whose cells are
    words. `plain` is what plain text says in its place; None: the same cells, aligned, after an `indent`.
    """

    rows: tuple[tuple[str, ...], ...]
    head: tuple[str, ...] = ()
    title: str = ""
    spare: tuple[int, ...] = ()
    left: tuple[int, ...] = (0,)
    indent: str = "  "
    plain: tuple[str, ...] | None = None

    @property
    def is_titled(self) -> bool:
        """Whether its plain text begins with a title, and so with an empty line where something stands above."""
        return bool(self.title) and self.plain is None

    def lines(self) -> list[str]:
        """The table as lines of plain text."""
        if self.plain is not None:
            return [*self.plain]
        rows = aligned([self.head, *self.rows] if self.head else self.rows, self.indent, self.left)
        return [self.title, *rows] if self.title else rows


def plain_lines(told: Iterable[Columns | str]) -> list[str]:
    """Tables, and texts of one line or more, as lines of plain text; an empty one above a title."""
    lines: list[str] = []
    for each in told:
        if isinstance(each, Columns):
            lines += ["", *each.lines()] if lines and each.is_titled else each.lines()
        else:
            lines += each.split("\n")
    return lines


def aligned(rows: Sequence[Sequence[str]], indent: str = "  ", left: Sequence[int] = (0,)) -> list[str]:
    """Each row, which all have as many cells, as one indented line; the cells of the columns `left` begin flush."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [(indent + "  ".join(_cells(row, widths, left))).rstrip() for row in rows]


def _cells(row: Sequence[str], widths: Sequence[int], left: Sequence[int]) -> list[str]:
    sides = zip(row, widths, strict=True)
    return [cell.ljust(width) if number in left else cell.rjust(width) for number, (cell, width) in enumerate(sides)]
