"""Nesting: all pieces of one vinyl onto as few sheets, or as little of a roll, as can be found."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from stripegen.errors import Figure, NestError, Shortfall
from stripegen.layout import (
    Blank,
    Layout,
    Placement,
    SheetLayout,
    Stock,
    Supply,
    bound_mm,
    kept_mm,
    used_length_mm,
)
from stripegen.nest_efforts import EFFORTS
from stripegen.nest_fit import check_keys, misfits, rounded_up
from stripegen.nest_shapes import Shape, grow_mm
from stripegen.nest_supply import Cut, Filling, Plan
from stripegen.reading import lay_in_reading_order

_MOST_NAMED = 5


def nest(
    blanks: Sequence[Blank],
    stock: Stock | Supply,
    effort: str = "normal",
    progress: Callable[[float], None] | None = None,
) -> Layout:
    """Nest pieces onto one vinyl.

    Parameters
    ----------
    blanks : the pieces; their keys differ
    stock : the sheet or roll, or all that there is of the vinyl
    effort : ``"quick"``, ``"normal"`` or ``"thorough"``
        How much is tried.
    progress : called now and then with the share done, 0 to 1

    Returns
    -------
    Layout
        Offcuts that hold something, then of new sheets the fewest found, then the shortest last one; of a
        roll one run, the shortest found. Never more new stock than without the offcuts, nor than
        `lay_in_reading_order` would take.

    Raises
    ------
    NestError
        if some pieces fit nothing there is (before anything is searched), if there is too little, if keys
        repeat, or `effort` is unknown.
    """
    if effort not in EFFORTS:
        raise NestError(f"effort must be one of {', '.join(EFFORTS)}: got {effort!r}")
    check_keys(blanks)
    supply = Supply.of(stock)
    told = _rising(progress)
    filling = Filling(blanks, supply, effort, told)
    shapes = filling.shapes
    unplaceable = [replace(shapes[k].blank, key=key) for k in filling.misfits() for key in shapes[k].keys]
    if unplaceable:
        raise misfits(unplaceable, supply)
    told(0.0)
    by_key = {blank.key: blank for blank in blanks}
    plans: list[Plan] = []
    layouts: list[Layout] = []
    least = _least_new(blanks, supply)
    for plan in filling.plans():
        plans.append(plan)
        if not any(plan.left):
            layouts.append(_layout(plan.cuts, shapes, supply))
            if cost_of(layouts[-1], by_key, supply)[:2] <= least:
                break
    # A few odd shapes may lie better in plain rows; what is nested must never take more than that.
    try:
        layouts.append(lay_in_reading_order(blanks, supply))
    except NestError:
        if not layouts:
            most = min(plans, key=lambda plan: filling.box_of(supply.new[0]).taken_mm2(plan.left))
            over = [blank for shape in shapes for blank in _last_of(shape, most.left[shape.index])]
            raise _too_little(over, supply, effort) from None
    told(1.0)
    return min(layouts, key=lambda layout: cost_of(layout, by_key, supply))


def lay_to_check(blanks: Sequence[Blank], supply: Supply) -> Layout:
    """A layout that shows whether there is room for all: plain rows where stock is had without end, else a quick nest.

    Raises NestError where there is none, as those do.
    """
    return lay_in_reading_order(blanks, supply) if supply.is_plain else nest(blanks, supply, "quick")


def _rising(progress: Callable[[float], None] | None) -> Callable[[float], None]:
    """Tells a share only if it is no less than the last: several searches of one vinyl take turns."""
    most = 0.0

    def tell(share: float) -> None:
        nonlocal most
        if progress and share >= most:
            most = share
            progress(share)

    return tell


def cost_of(layout: Layout, blanks: dict[str, Blank], supply: Supply) -> tuple[int, float, float]:
    """New sheets, what they take (of the last what is used), what is spent of offcuts."""
    taken_mm2, last_mm2, spent_mm2, count = 0.0, 0.0, 0.0, 0
    for sheet in layout.sheets:
        lot = supply.lots[sheet.lot]
        width_mm, length_mm = lot.stock.width_mm, lot.stock.length_mm
        used_mm = used_length_mm(sheet, blanks, lot.stock)
        if lot.is_offcut:
            spent_mm2 += width_mm * (length_mm - kept_mm(length_mm, used_mm, lot.stock.margin_mm))
            continue
        count += 1
        last_mm2 = width_mm * used_mm
        taken_mm2 += last_mm2 if lot.is_roll else width_mm * length_mm
    if count and not lot.is_roll:
        taken_mm2 += last_mm2 - width_mm * length_mm
    return count, taken_mm2, spent_mm2


def _least_new(blanks: Sequence[Blank], supply: Supply) -> tuple[int, float]:
    """What nothing without offcuts can better, by area: the new sheets, and what they take as `cost_of` has it."""
    stocks = [supply.lots[number].stock for number in supply.new]
    rim_mm = 2 * stocks[0].margin_mm - stocks[0].gap_mm
    largest = max(stocks, key=lambda stock: (stock.width_mm - rim_mm) * (stock.usable_length_mm - rim_mm))
    content_mm = bound_mm(blanks, largest) - rim_mm
    if supply.lots[-1].is_roll:
        return 1, largest.width_mm * (content_mm + rim_mm)
    sheet_mm = largest.length_mm - rim_mm
    count = math.ceil(content_mm / sheet_mm)
    if len(stocks) > 1:
        return count, 0.0
    full_mm = (count - 1) * largest.length_mm
    return count, largest.width_mm * (full_mm + content_mm - (count - 1) * sheet_mm + rim_mm)


def _last_of(shape: Shape, count: int) -> list[Blank]:
    return [replace(shape.blank, key=key) for key in shape.keys[len(shape.keys) - count:]]


def _too_little(over: Sequence[Blank], supply: Supply, effort: str) -> NestError:
    """What is left over where the vinyl in hand is used up, and how much more it takes at least."""
    stock = supply.lots[supply.new[0]].stock
    named = ", ".join(blank.key for blank in over[:_MOST_NAMED])
    more = f" and {len(over) - _MOST_NAMED} more" if len(over) > _MOST_NAMED else ""
    lacking_mm = bound_mm(over, stock) - 2 * stock.margin_mm
    harder = "" if effort == "thorough" else ", or let nest look longer (--effort thorough)"
    shortfall = Shortfall(
        code="too-little",
        message=f"there is too little of it: no room for {len(over)} of the pieces ({named}{more}), which need at least "
        f"{lacking_mm:.1f} mm more of {stock.width_mm:g} mm width",
        remedy=f"have more of it in hand{harder}",
        keys=tuple(blank.key for blank in over),
        figures=(Figure("pieces", len(over), ""), Figure("more length", lacking_mm), Figure("width", stock.width_mm)),
    )
    return NestError.of(shortfall)


def _layout(cuts: Sequence[Cut], shapes: Sequence[Shape], supply: Supply) -> Layout:
    """Boxes of grown shapes to placements; copies of a shape are taken in the order of the blanks."""
    waiting = [iter(shape.keys) for shape in shapes]
    laid = []
    for cut in cuts:
        stock = supply.lots[cut.lot].stock
        origin = rounded_up(stock.margin_mm) - grow_mm(stock)
        placements = []
        for section in cut.sections:
            for placed in section.filled.placed:
                pose = placed.pose
                across = section.filled.mode == "across"
                x, y = (placed.u_mm, placed.v_mm) if across else (placed.v_mm, placed.u_mm)
                dx, dy = origin + x - pose.corner[0], origin + section.start_mm + y - pose.corner[1]
                key = next(waiting[pose.index])
                placements.append(Placement(key=key, turn_deg=pose.turn_deg, dx_mm=dx, dy_mm=dy))
        laid.append(SheetLayout(tuple(placements), cut.lot))
    return Layout(tuple(laid))
