"""A sheet as text: cells come back as they were written, rows are numbered as a spreadsheet numbers them."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.csvtext import CELLS_MOST, ROWS_MOST, SEPARATORS, SheetError, decode, folded, rows_of

cells = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=12)
sheets = st.lists(st.lists(cells, min_size=1, max_size=5), max_size=8)


def written(rows, separator=",", ends="\r\n") -> str:
    text = io.StringIO()
    csv.writer(text, delimiter=separator, lineterminator=ends, quoting=csv.QUOTE_ALL).writerows(rows)
    return text.getvalue()


@given(sheets, st.sampled_from(sorted(SEPARATORS.values())), st.sampled_from(["\n", "\r\n", "\r"]))
def test_cells_come_back_and_rows_are_counted_as_written(rows, separator, ends):
    text = written(rows, separator, ends)
    found = list(rows_of(text, separator))
    expected = [(n, tuple(cell.strip() for cell in row)) for n, row in enumerate(rows, 1)]
    assert [(row.number, row.cells) for row in found] == [each for each in expected if any(each[1])]
    lines = io.StringIO(text, newline="").readlines()
    for row in found:
        # a row begins where all rows before it end
        assert "".join(lines[: row.line - 1]) == written(rows[: row.number - 1], separator, ends)


@given(sheets, st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"]))
def test_text_comes_back_from_every_way_in_which_sheets_are_saved(rows, coding):
    text = written(rows)
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(coding, b"")
    assert decode(mark + text.encode(coding)) == text.removeprefix("\ufeff" if coding == "utf-8" else "")


@pytest.mark.parametrize(
    ("data", "line"),
    [("id\nA\nK\u00f6ln".encode("latin-1"), 3), (b"\xff\xfe\x00", None), ("id".encode("utf-16-le"), None), (b"PK\x03\x04\x00", None)],
)
def test_what_is_no_such_text_is_refused_with_its_line(data, line):
    with pytest.raises(SheetError, match="UTF-8") as caught:
        decode(data)
    assert caught.value.line == line


@pytest.mark.parametrize(
    ("text", "line", "right"),
    [
        ('a\n\n"b\nc\n', 3, "none closes it"),
        ('a\n"b"c\n', 2, "written twice"),
        ("a\n" + "," * CELLS_MOST, 2, "1,000 cells"),
        ("a\n" + "b" * 200_000, 2, "characters"),
        ("\n" * (ROWS_MOST + 5), ROWS_MOST + 1, "rows"),
    ],
)
def test_what_can_not_be_understood_is_told_with_the_line_where_it_begins(text, line, right):
    with pytest.raises(SheetError, match=right) as caught:
        list(rows_of(text, ","))
    assert caught.value.line == line


@given(st.text())
def test_any_text_is_read_or_refused(text):
    for separator in SEPARATORS.values():
        try:
            rows = list(rows_of(text, separator))
        except SheetError:
            continue
        assert all(any(row.cells) and row.number <= row.line for row in rows)


def test_words_are_compared_without_case_or_space():
    assert folded("  Gold,\n  SHINY ") == folded("gold, shiny") != folded("gold,shiny")
