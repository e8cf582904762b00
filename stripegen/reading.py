"""Pieces laid out in reading order, not nested: rows of boxes, left to right, top to bottom."""

from __future__ import annotations

from collections.abc import Sequence

from stripegen.layout import Blank, Layout, Placement, SheetLayout, Stock, snug_move
from stripegen.nest_fit import check_keys, fitting_turns, misfits, turned


def lay_in_reading_order(blanks: Sequence[Blank], stock: Stock) -> Layout:
    """Lay the pieces' boxes in rows, in the order given, the stock's gap between them.

    Each lies at its first allowed turn that fits (0 for a free one). A row is as high as its highest
    box; a full sheet is followed by another, a roll never ends.

    Raises
    ------
    NestError
        naming every piece that fits no sheet, or if keys repeat.
    """
    check_keys(blanks)
    turns = {blank.key: fitting_turns(blank, stock, (0.0, 90.0)) for blank in blanks}
    unplaceable = [blank for blank in blanks if not turns[blank.key]]
    if unplaceable:
        raise misfits(unplaceable, stock)
    sheets: list[list[Placement]] = []
    x_mm = y_mm = next_row_mm = stock.margin_mm
    for blank in blanks:
        turn_deg = turns[blank.key][0]
        points = turned(blank.outline, turn_deg)
        least, most = points.min(axis=0) - blank.slack_mm, points.max(axis=0) + blank.slack_mm
        right_mm = stock.width_mm - stock.margin_mm - most[0]
        end_mm = float("inf") if stock.length_mm is None else stock.length_mm - stock.margin_mm - most[1]
        if not sheets:
            sheets.append([])
        dx = snug_move(x_mm - least[0], x_mm - least[0], right_mm)
        if dx is None:
            x_mm, y_mm = stock.margin_mm, next_row_mm
            dx = snug_move(x_mm - least[0], x_mm - least[0], right_mm)
        dy = snug_move(y_mm - least[1], y_mm - least[1], end_mm)
        if dy is None:
            sheets.append([])
            x_mm = y_mm = next_row_mm = stock.margin_mm
            dx = snug_move(x_mm - least[0], x_mm - least[0], right_mm)
            dy = snug_move(y_mm - least[1], y_mm - least[1], end_mm)
        sheets[-1].append(Placement(key=blank.key, turn_deg=turn_deg, dx_mm=dx, dy_mm=dy))
        x_mm = dx + float(most[0]) + stock.gap_mm
        next_row_mm = max(next_row_mm, dy + float(most[1]) + stock.gap_mm)
    return Layout(tuple(SheetLayout(tuple(sheet)) for sheet in sheets))
