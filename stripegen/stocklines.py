"""What is in hand, as lines to read: vinyl by vinyl, the largest offcuts first."""

from __future__ import annotations

import math

from stripegen.stockspec import Entry, InHand


def stock_lines(stock: InHand) -> list[str]:
    """A line for each vinyl and a line for each size of offcut of it, areas in square metres; then all offcuts."""
    there = [entry for entry in stock.offcuts if entry.quantity]
    lines = []
    for name in stock.vinyls:
        offcuts = sorted((entry for entry in there if entry.vinyl == name), key=lambda entry: (-_area_m2(entry), entry.shelf))
        told = [f"{entry.length_mm:g} mm left of the roll" for entry in stock.rolls if entry.vinyl == name]
        told += [
            f"{entry.quantity} new sheet{'' if entry.quantity == 1 else 's'}{_size(entry)}"
            for entry in stock.sheets
            if entry.vinyl == name
        ]
        if offcuts:
            told.append(_offcuts(offcuts))
        lines.append(f"{name}: {', '.join(told) if told else 'none left'}")
        lines += [f"  {_offcut(entry)}" for entry in offcuts]
    return [*lines, f"in all {_offcuts(there)}; {_results(len(stock.booked))} booked"]


def stock_rows(stock: InHand) -> dict:
    """The same as JSON has it, lengths in mm, in the order of the file."""
    return {
        "rolls": [{"vinyl": entry.vinyl, "length_left": entry.length_mm} for entry in stock.rolls],
        "sheets": [_row(entry) for entry in stock.sheets],
        "offcuts": [{**_row(entry), "shelf": entry.shelf, "left_of": entry.left_of} for entry in stock.offcuts],
        "booked": [
            {"result": each.result, "manifest": each.manifest, "sheets": each.sheets and list(each.sheets)} for each in stock.booked
        ],
    }


def _row(entry: Entry) -> dict:
    return {"vinyl": entry.vinyl, "width": entry.width_mm, "length": entry.length_mm, "quantity": entry.quantity}


def _area_m2(entry: Entry) -> float:
    return entry.width_mm * entry.length_mm * entry.quantity / 1e6


def _offcuts(entries: list[Entry]) -> str:
    count = sum(entry.quantity for entry in entries)
    return f"{count:,} offcut{'' if count == 1 else 's'}, {math.fsum(map(_area_m2, entries)):.3f} square metres"


def _offcut(entry: Entry) -> str:
    more = ", ".join(text for text in (entry.shelf, entry.left_of and f"left of {entry.left_of}") if text)
    return f"{entry.quantity} x {entry.width_mm:g} x {entry.length_mm:g} mm" + (f"  {more}" if more else "")


def _size(entry: Entry) -> str:
    return "" if entry.width_mm is None else f" of {entry.width_mm:g} x {entry.length_mm:g} mm"


def _results(count: int) -> str:
    return f"{count:,} result{'' if count == 1 else 's'}"
