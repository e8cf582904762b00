"""Pieces laid out in reading order, not nested: rows of boxes, left to right, top to bottom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from stripegen.errors import NestError
from stripegen.layout import (
    Blank,
    Layout,
    Lot,
    Placement,
    SheetLayout,
    Stock,
    Supply,
    snug_move,
    used_length_mm,
)
from stripegen.nest_fit import check_keys, fitting_turns, misfits, turned

_Box = tuple[float, tuple[float, float], tuple[float, float]]  # a turn, and between which corners it is then


def lay_in_reading_order(blanks: Sequence[Blank], stock: Stock | Supply) -> Layout:
    """Lay the pieces' boxes in rows, in the order given, the stock's gap between them.

    Each lies at its first allowed turn that fits (0 for a free one). A row is as high as its highest
    box; a full sheet is followed by another, a roll never ends. Of a supply only new stock is used: for each
    piece the first size that holds it, sheets of one size after those of another.

    Raises
    ------
    NestError
        naming every piece that fits no sheet, if there are too few sheets or too little of a roll, or if keys repeat.
    """
    check_keys(blanks)
    supply = Supply.of(stock)
    rows = {number: _Rows(supply.lots[number].stock) for number in supply.new}
    unplaceable = [blank for blank in blanks if not any(of_lot.take(blank) for of_lot in rows.values())]
    if unplaceable:
        raise misfits(unplaceable, Supply(tuple(supply.lots[number] for number in supply.new)))
    sheets = [SheetLayout(tuple(sheet), number) for number, of_lot in rows.items() for sheet in of_lot.sheets]
    by_key = {blank.key: blank for blank in blanks}
    for number in rows:
        _check_enough(supply.lots[number], [sheet for sheet in sheets if sheet.lot == number], by_key)
    return Layout(tuple(sheets))


class _Rows:
    """Sheets of one stock, filled row by row."""

    def __init__(self, stock: Stock):
        self.stock = stock
        self.sheets: list[list[Placement]] = []
        self.x_mm = self.y_mm = self.next_row_mm = stock.margin_mm
        self._boxes: dict[tuple, _Box | None] = {}  # of what many pieces have in common

    def take(self, blank: Blank) -> bool:
        """Lay a piece after the others; False: it fits no such sheet."""
        alike = (blank.outline, blank.slack_mm, blank.turns, blank.lean_deg)
        if alike not in self._boxes:
            self._boxes[alike] = self._box(blank)
        if self._boxes[alike] is None:
            return False
        stock, (turn_deg, least, most) = self.stock, self._boxes[alike]
        right_mm = stock.width_mm - stock.margin_mm - most[0]
        end_mm = float("inf") if stock.length_mm is None else stock.length_mm - stock.margin_mm - most[1]
        if not self.sheets:
            self.sheets.append([])
        dx = snug_move(self.x_mm - least[0], self.x_mm - least[0], right_mm)
        if dx is None:
            self.x_mm, self.y_mm = stock.margin_mm, self.next_row_mm
            dx = snug_move(self.x_mm - least[0], self.x_mm - least[0], right_mm)
        dy = snug_move(self.y_mm - least[1], self.y_mm - least[1], end_mm)
        if dy is None:
            self.sheets.append([])
            self.x_mm = self.y_mm = self.next_row_mm = stock.margin_mm
            dx = snug_move(self.x_mm - least[0], self.x_mm - least[0], right_mm)
            dy = snug_move(self.y_mm - least[1], self.y_mm - least[1], end_mm)
        self.sheets[-1].append(Placement(key=blank.key, turn_deg=turn_deg, dx_mm=dx, dy_mm=dy))
        self.x_mm = dx + most[0] + stock.gap_mm
        self.next_row_mm = max(self.next_row_mm, dy + most[1] + stock.gap_mm)
        return True

    def _box(self, blank: Blank) -> _Box | None:
        turns = fitting_turns(blank, self.stock, (0.0, 90.0))
        if not turns:
            return None
        points = turned(blank.outline, turns[0])
        least, most = points.min(axis=0) - blank.slack_mm, points.max(axis=0) + blank.slack_mm
        return turns[0], tuple(least.tolist()), tuple(most.tolist())


def _check_enough(lot: Lot, sheets: Sequence[SheetLayout], blanks: Mapping[str, Blank]) -> None:
    if lot.quantity == 0 and sheets:
        raise NestError("no new vinyl of it is in hand")
    if lot.quantity is not None and len(sheets) > lot.quantity:
        size = f"{lot.stock.width_mm:g} x {lot.stock.length_mm:g} mm"
        raise NestError(f"in plain rows it takes {len(sheets)} sheets of {size}, and there are {lot.quantity}: nest it")
    used_mm = sum(used_length_mm(sheet, blanks, lot.stock) for sheet in sheets)
    if lot.total_mm is not None and used_mm > lot.total_mm:
        raise NestError(f"in plain rows it takes {used_mm:.1f} mm, and {lot.total_mm:g} mm are left of the roll: nest it")
