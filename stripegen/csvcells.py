"""What a spreadsheet's cells say of an order: ids, words for names, counts and days. Each raises ValueError with what
would be right."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping

from stripegen.csvtext import folded
from stripegen.orderspec import QUANTITY_MOST
from stripegen.tables import NAME_MEANING, is_name, show

DATES = {
    "year-month-day": ("year", "month", "day"),
    "day-month-year": ("day", "month", "year"),
    "month-day-year": ("month", "day", "year"),
}
_EXAMPLES = {"year-month-day": "2027-07-30", "day-month-year": "30.07.2027", "month-day-year": "07/30/2027"}
_DATE = re.compile(r"([0-9]{1,4})([./-])([0-9]{1,2})\2([0-9]{1,4})")
_COUNT = re.compile(r"([0-9]{1,9})(?:[.,]0{1,2})?")  # 8.000 might be eight thousand
_UNPLAIN = re.compile(r"-*[^A-Za-z0-9_-][^A-Za-z0-9_]*")


def read_id(cell: str, is_plain: bool) -> str:
    """An order's id as it stands; with `is_plain`, a hyphen in place of all that no name may have, none at its ends."""
    found = _UNPLAIN.sub("-", cell).strip("-") if is_plain and not is_name(cell) else cell
    if is_name(found):
        return found
    help_ = "" if is_plain else "; plain_ids = true in [orders] puts a hyphen in place of anything else"
    raise ValueError(f"must be {NAME_MEANING}{help_}")


def read_word(cell: str, names: Mapping[str, str]) -> str:
    """A name of a cup, pattern or vinyl: what the job says that the cell means, or the cell itself."""
    found = names.get(folded(cell), cell)
    if is_name(found):
        return found
    raise ValueError(f'must be {NAME_MEANING}, or in [orders] say what it means: names = {{ {show(cell)} = "NAME" }}')


def read_quantity(cell: str) -> int:
    """A whole number; so many noughts as can't be thousands may stand behind a point or comma."""
    found = _COUNT.fullmatch(cell)
    if not found or not 1 <= int(found[1]) <= QUANTITY_MOST:
        raise ValueError(f"must be a whole number from 1 to {QUANTITY_MOST}, in figures alone")
    return int(found[1])


def read_due(cell: str, form: str) -> datetime.date:
    """A day in the given order of day, month and year, the year in four figures, `.`, `/` or `-` between."""
    day = _day(cell, form)
    if day:
        return day
    others = [f'"{other}"' for other in DATES if _day(cell, other)]
    hint = f"; for what is read here, dates in [orders] must be {' or '.join(others)}" if others else ""
    raise ValueError(f"must be a day that there is, its year in four figures, such as {_EXAMPLES[form]}{hint}")


def _day(cell: str, form: str) -> datetime.date | None:
    """The day that a cell says in one order of its parts; None if it says none so."""
    found = _DATE.fullmatch(cell)
    texts = dict(zip(DATES[form], (found[1], found[3], found[4]), strict=True)) if found else {}
    if not found or len(texts["year"]) != 4:  # a two-figure year would leave it open which part it is
        return None
    try:
        return datetime.date(*(int(texts[part]) for part in ("year", "month", "day")))
    except ValueError:
        return None
