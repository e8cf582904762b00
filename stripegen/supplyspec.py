"""What vinyl there is, as checked values: further sizes and numbers of sheets, what is left of a roll, offcuts."""

from __future__ import annotations

from typing import Any

from stripegen.spec import Offcut, SheetSize, Vinyl
from stripegen.tables import COUNT_LIMIT, Table
from stripegen.units import ROLL_LIMIT_MM

SIZE_FORM = "{ width = 305, length = 610 }"


def read_in_hand(table: Table, margin_mm: float | None) -> dict[str, Any]:
    """Read of a vinyl's table how much of it there is: `quantity` and `sizes` of sheets, `length_left` of a roll."""
    sizes = []
    for own in table.children("sizes", SIZE_FORM):
        values = [own.length("width", above_mm=0), own.length("length", above_mm=0), own.integer("quantity", None)]
        own.finish(("width", "length", "quantity"))
        check_size(own, "width", values[0], margin_mm)
        check_size(own, "length", values[1], margin_mm)
        if own.is_sound:
            sizes.append(SheetSize(*values))
    found = {
        "length_left_mm": table.length("length_left", None, above_mm=0, most_mm=ROLL_LIMIT_MM),
        "quantity": table.integer("quantity", None),
        "sizes": tuple(sizes),
    }
    check_size(table, "length_left", found["length_left_mm"], margin_mm)
    if "length" in table and "length_left" in table:
        table.fault("length_left", "is for a roll: of sheets with a length give the quantity in hand")
    for key in ("quantity", "sizes"):
        if "length" not in table and key in table:
            table.fault(key, "is for sheets: give their length, or of a roll its length_left")
    return found


def check_size(table: Table, key: str, size_mm: float | None, margin_mm: float | None) -> None:
    """Fault a size of which the margins leave nothing."""
    if size_mm is not None and margin_mm is not None and size_mm <= 2 * margin_mm:
        table.fault(key, f"must be more than its two margins of {margin_mm:g} mm, or nothing of it is left to cut")


def read_offcuts(top: Table) -> list[tuple[Offcut, Table]]:
    """Read the tables [[offcut]], each with its table for faults that only the vinyl brings to light."""
    found = []
    for table in top.headed("offcut", "offcut", COUNT_LIMIT):
        values = {
            "vinyl": table.name("vinyl"),
            "width_mm": table.length("width", above_mm=0),
            "length_mm": table.length("length", above_mm=0),
            "quantity": table.integer("quantity", 1),
        }
        table.finish(("vinyl", "width", "length", "quantity"))
        if table.is_sound:
            found.append((Offcut(where=table.where, **values), table))
    return found


def check_offcut(offcut: Offcut, table: Table, vinyl: Vinyl | None) -> None:
    """Fault an offcut of which its vinyl's margins leave nothing."""
    if vinyl is not None:
        check_size(table, "width", offcut.width_mm, vinyl.margin_mm)
        check_size(table, "length", offcut.length_mm, vinyl.margin_mm)
