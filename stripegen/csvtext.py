"""A spreadsheet saved as text, as rows of cells: each row knows its number in the spreadsheet and its line in the file."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
CELLS_MOST = 1_000
ROWS_MOST = 100_000  # empty ones among them


class SheetError(ValueError):
    """What is wrong with a sheet as text, and in which line of the file, if that is known."""

    def __init__(self, right: str, line: int | None = None):
        super().__init__(right)
        self.line = line


@dataclass(frozen=True, slots=True)
class Row:
    """A row: its number as the spreadsheet counts, the line of the file in which it begins, its cells without the space
    around what they hold."""

    number: int
    line: int
    cells: tuple[str, ...]


def decode(data: bytes) -> str:
    """The text of a file: UTF-8, or UTF-16 that says so by its mark. Raises SheetError for anything else."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise SheetError("it begins as UTF-16 text and does not go on so: save it anew as CSV in UTF-8") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SheetError("it must be UTF-8 text, and here it is not: save it anew as CSV in UTF-8", line) from None
    if "\x00" in text:
        raise SheetError("it is no text: save the sheet as CSV in UTF-8")
    return text


def rows_of(text: str, separator: str) -> Iterator[Row]:
    """The rows that hold anything, the header first. Raises SheetError where quotation marks can't be understood."""
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    number, line = 0, 1
    while True:
        try:
            cells = next(lines, None)
        except csv.Error as error:
            raise SheetError(_right(str(error)), line) from None
        if cells is None:
            return
        number += 1
        if number > ROWS_MOST:
            raise SheetError(f"a sheet may have {ROWS_MOST:,} rows, empty ones among them: delete those", line)
        if len(cells) > CELLS_MOST:
            raise SheetError(f"a row may have {CELLS_MOST:,} cells: read {len(cells):,}", line)
        stripped = tuple(cell.strip() for cell in cells)
        if any(stripped):
            yield Row(number, line, stripped)
        line = lines.line_num + 1


def folded(words: str) -> str:
    """Words as they are compared: case and the space between them do not count."""
    return " ".join(words.split()).casefold()


def _right(told: str) -> str:
    if "unexpected end" in told:
        return "a quotation mark opens a cell here and none closes it"
    if "expected after" in told:
        return "a cell in quotation marks must end with the second; one within a cell is written twice"
    if "field limit" in told:
        return f"a cell may have {csv.field_size_limit():,} characters; does a quotation mark lack its second?"
    return told
