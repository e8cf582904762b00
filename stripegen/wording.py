"""Numbers with what they count, as all commands and papers tell them."""

from __future__ import annotations


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number and its noun: `1 sheet`, `1,200 sheets`."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"
