"""Nesting: all pieces of one vinyl onto as few sheets, or as little of a roll, as can be found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from stripegen.errors import NestError
from stripegen.layout import Blank, Layout, Placement, SheetLayout, Stock, used_length_mm
from stripegen.nest_fit import check_keys, misfits, rounded_up
from stripegen.nest_search import EFFORTS, Search, Section
from stripegen.nest_shapes import Shape, group, grow_mm
from stripegen.reading import lay_in_reading_order


def nest(
    blanks: Sequence[Blank],
    stock: Stock,
    effort: str = "normal",
    progress: Callable[[float], None] | None = None,
) -> Layout:
    """Nest pieces onto one vinyl.

    Parameters
    ----------
    blanks : the pieces; their keys differ
    stock : the sheet or roll
    effort : ``"quick"``, ``"normal"`` or ``"thorough"``
        How much is tried.
    progress : called now and then with the share done, 0 to 1

    Returns
    -------
    Layout
        Of sheets the fewest found, then the shortest last one; of a roll one sheet, the shortest found.
        Never more than `lay_in_reading_order` would take.

    Raises
    ------
    NestError
        if some pieces fit no sheet (before anything is searched), keys repeat, or `effort` is unknown.
    """
    if effort not in EFFORTS:
        raise NestError(f"effort must be one of {', '.join(EFFORTS)}: got {effort!r}")
    check_keys(blanks)
    shapes = group(blanks, stock)
    search = Search(shapes, stock, effort, progress or (lambda share: None))
    unplaceable = [
        replace(shape.blank, key=key) for shape in shapes if not search.holds(shape) for key in shape.keys
    ]
    if unplaceable:
        raise misfits(unplaceable, stock)
    nested = _layout(search.sheets(), shapes, stock)
    by_key = {blank.key: blank for blank in blanks}

    def cost(layout: Layout) -> tuple[int, float]:
        return len(layout.sheets), used_length_mm(layout.sheets[-1], by_key, stock) if layout.sheets else 0.0

    # A few odd shapes may lie better in plain rows; what is nested must never take more than that.
    return min(nested, lay_in_reading_order(blanks, stock), key=cost)


def _layout(sheets: Sequence[Sequence[Section]], shapes: Sequence[Shape], stock: Stock) -> Layout:
    """Boxes of grown shapes to placements; copies of a shape are taken in the order of the blanks."""
    waiting = [iter(shape.keys) for shape in shapes]
    origin = rounded_up(stock.margin_mm) - grow_mm(stock)
    laid = []
    for sections in sheets:
        placements = []
        for section in sections:
            for placed in section.filled.placed:
                pose = placed.pose
                across = section.filled.mode == "across"
                x, y = (placed.u_mm, placed.v_mm) if across else (placed.v_mm, placed.u_mm)
                dx, dy = origin + x - pose.corner[0], origin + section.start_mm + y - pose.corner[1]
                key = next(waiting[pose.index])
                placements.append(Placement(key=key, turn_deg=pose.turn_deg, dx_mm=dx, dy_mm=dy))
        laid.append(SheetLayout(tuple(placements)))
    return Layout(tuple(laid))
