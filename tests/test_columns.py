"""Rows of cells as text: read back by where the columns stand."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from stripegen.columns import aligned

CELL = st.text("abc .-0123456789", max_size=9).map(str.strip)


@given(st.integers(1, 4).flatmap(lambda n: st.lists(st.lists(CELL, min_size=n, max_size=n), min_size=1, max_size=6)))
def test_every_cell_stands_in_its_column(rows):
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row, line in zip(rows, aligned(rows), strict=True):
        assert line == line.rstrip()
        at, line = 0, line.ljust(2 * len(widths) + sum(widths))
        for number, (cell, width) in enumerate(zip(row, widths, strict=True)):
            assert line[at : at + 2] == "  "
            field = line[at + 2 : at + 2 + width]
            assert field.strip() == cell
            assert field == (field.lstrip().rjust(width) if number else cell.ljust(width))
            at += 2 + width
