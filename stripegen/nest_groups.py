"""Nesting by order: each order's pieces lie in a rectangle of their own, easy to weed and to pick.

Each order is nested by itself, over the whole width and over parts of it; the rectangles that come of it, blocks, are
laid side by side and one after the other, each at one of its widths.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from stripegen.errors import NestError
from stripegen.layout import (
    MOVE_DECIMALS,
    Blank,
    Layout,
    Lot,
    Placement,
    SheetLayout,
    Stock,
    Supply,
    placed_polygon,
    used_length_mm,
)
from stripegen.nest import nest
from stripegen.nest_fit import rounded_up
from stripegen.reading import lay_in_reading_order
from stripegen.rectangles import pack

# An order is nested over so many widths: the whole, a half, ... of it.
PARTS = (1, 2, 3, 4, 6, 8, 12)
_LONGEST = 2.0  # but over none that would make its block longer than so many widths of the vinyl, by area
# How often the blocks' places are varied: so often, or with so many blocks in all.
TRIALS = {"quick": (1_000, 40_000), "normal": (5_000, 200_000), "thorough": (20_000, 800_000)}
_UNIT_MM = 10.0**-MOVE_DECIMALS


def order_of(key: str) -> str:
    """The order whose piece or unit has this id: what stands before the first dot, which no order's name holds."""
    return key.partition(".")[0]


def nest_by_order(
    blanks: Sequence[Blank],
    stock: Stock | Supply,
    effort: str = "normal",
    progress: Callable[[float], None] | None = None,
    group_of: Callable[[str], str] = order_of,
) -> Layout:
    """Nest pieces onto one vinyl so that no two orders' rectangles on a sheet overlap.

    Parameters
    ----------
    blanks, stock, effort, progress : as for `nest`
    group_of : the order of a blank's key

    Returns
    -------
    Layout
        An order that fits one sheet lies on one; of a longer one each full sheet and the rest are blocks. On a roll
        it never takes more than the orders' quick nests over the whole width, one after the other. Of a supply the
        first new size that holds every piece is used, and no offcut.

    Raises
    ------
    NestError
        As `nest` does, or if there is too little of that size.
    """
    if effort not in TRIALS:
        raise NestError(f"effort must be one of {', '.join(TRIALS)}: got {effort!r}")
    groups: dict[str, list[Blank]] = {}
    for blank in blanks:
        groups.setdefault(group_of(blank.key), []).append(blank)
    if len(groups) < 2:
        return nest(blanks, stock, effort, progress)
    supply = Supply.of(stock)
    number = _first_that_holds(blanks, supply)
    stock = _in_units(supply.lots[number].stock)
    told = progress or (lambda share: None)
    maker = _Maker(stock, len(blanks), told)
    tried = [maker.alternatives(own) for own in groups.values()]
    room = _Room.of(stock)
    most, blocks = TRIALS[effort]
    trials = min(most, blocks // len(groups))
    first = pack([[each.sizes(room) for each in own] for own in tried], room.width, room.length, trials)
    # What is used of the alternatives is nested again with more effort, and then takes its old size or less.
    for own, choice in zip(tried, first.choices, strict=True):
        own[choice] = maker.improved(own[choice], effort)
    best = pack([[each.sizes(room) for each in own] for own in tried], room.width, room.length, trials)
    sheets: list[list[Placement]] = [[] for _ in range(best.cost[0])]
    for own, choice, spots in zip(tried, best.choices, best.spots, strict=True):
        for block, spot in zip(own[choice].blocks, spots, strict=True):
            sheets[spot.sheet] += block.placed(room, spot.x, spot.y)
    told(1.0)
    layout = Layout(tuple(SheetLayout(tuple(sheet), number) for sheet in sheets))
    _check_enough(layout, supply.lots[number], {blank.key: blank for blank in blanks})
    return layout


def nest_ungrouped(
    blanks: Sequence[Blank],
    stock: Stock | Supply,
    effort: str = "normal",
    progress: Callable[[float], None] | None = None,
) -> Layout:
    """The same pieces as tight as can be on the same vinyl as `nest_by_order` uses, to compare with."""
    supply = Supply.of(stock)
    if len({order_of(blank.key) for blank in blanks}) < 2:
        return nest(blanks, supply, effort, progress)
    number = _first_that_holds(blanks, supply)
    layout = nest(blanks, Supply((supply.lots[number],)), effort, progress)
    return Layout(tuple(replace(sheet, lot=number) for sheet in layout.sheets))


def _first_that_holds(blanks: Sequence[Blank], supply: Supply) -> int:
    """The first new size that holds every piece; before anything is searched all misfits are told."""
    for number in supply.new:
        try:
            lay_in_reading_order(blanks, _in_units(supply.lots[number].stock))
        except NestError:
            if number == supply.new[-1]:
                raise
        else:
            return number
    raise NestError("a supply needs new stock")


def _check_enough(layout: Layout, lot: Lot, blanks: dict[str, Blank]) -> None:
    if lot.quantity == 0 and layout.sheets:
        raise NestError("no new vinyl of it is in hand, and by order no offcuts are used")
    if lot.quantity is not None and len(layout.sheets) > lot.quantity:
        size = f"{lot.stock.width_mm:g} x {lot.stock.length_mm:g} mm"
        raise NestError(f"by order it takes {len(layout.sheets)} sheets of {size}, and there are {lot.quantity}")
    used_mm = sum(used_length_mm(sheet, blanks, lot.stock) for sheet in layout.sheets)
    if lot.total_mm is not None and used_mm > lot.total_mm:
        raise NestError(f"by order it takes {used_mm:.1f} mm, and {lot.total_mm:g} mm are left of the roll")


@dataclass(frozen=True, slots=True)
class _Room:
    """What can be used of a sheet, in whole units of moves: where it begins, its size, and the gap.

    Sizes here are with a gap to the right and below, for rectangles that have one too.
    """

    start: int
    width: int
    length: int | None
    gap: int

    @classmethod
    def of(cls, stock: Stock) -> _Room:
        start, gap = _units_up(stock.margin_mm), _units_up(stock.gap_mm)

        def size(whole_mm: float) -> int:
            return _units_down(whole_mm - stock.margin_mm) - start + gap

        return cls(start, size(stock.width_mm), None if stock.length_mm is None else size(stock.length_mm), gap)


def _in_units(stock: Stock) -> Stock:
    """The same with margins of whole units, so that the box about anything nested on it lies within its room."""
    room = _Room.of(stock)
    ends = [None if size is None else (2 * room.start + size - room.gap) * _UNIT_MM for size in (room.width, room.length)]
    return replace(stock, margin_mm=room.start * _UNIT_MM, width_mm=ends[0], length_mm=ends[1])


@dataclass(frozen=True, slots=True)
class _Block:
    """Pieces of one order as they were nested, and the least box of whole units about them."""

    placements: tuple[Placement, ...]
    left: int
    top: int
    right: int
    bottom: int

    def size(self, room: _Room) -> tuple[int, int]:
        """Across and along, each with the gap."""
        return self.right - self.left + room.gap, self.bottom - self.top + room.gap

    def placed(self, room: _Room, x: int, y: int) -> list[Placement]:
        """The pieces where they lie with the box's corner at (x, y) of the room."""
        dx_mm, dy_mm = (room.start + x - self.left) * _UNIT_MM, (room.start + y - self.top) * _UNIT_MM
        return [replace(place, dx_mm=place.dx_mm + dx_mm, dy_mm=place.dy_mm + dy_mm) for place in self.placements]


@dataclass(frozen=True, slots=True)
class _Alternative:
    """One way to lay an order: its pieces, the stock that they were nested on, and the blocks, one a sheet."""

    blanks: tuple[Blank, ...]
    stock: Stock
    blocks: tuple[_Block, ...]

    def sizes(self, room: _Room) -> tuple[tuple[int, int], ...]:
        return tuple(block.size(room) for block in self.blocks)


class _Maker:
    """Nests orders by themselves; what is alike but for its names is nested once."""

    def __init__(self, stock: Stock, count: int, progress: Callable[[float], None]):
        self.stock = stock
        self.known: dict[tuple, Layout | None] = {}
        self.progress = progress
        self.left = self.total = 2 * count  # each piece over its widths, and then again with more effort

    def alternatives(self, blanks: Sequence[Blank]) -> list[_Alternative]:
        """An order over the whole width first, then over parts of it that take it on no more sheets."""
        found = []
        longest_mm = _LONGEST * self.stock.width_mm
        for parts in PARTS:
            stock = self._part(parts)
            if stock is None or (found and _area_mm2(blanks) > longest_mm * stock.usable_width_mm):
                break
            layout = self._nest(blanks, stock, "quick")
            if layout is None:
                break
            made = _Alternative(tuple(blanks), stock, _blocks(layout, blanks))
            if not found or len(made.blocks) <= len(found[0].blocks):
                found.append(made)
        self._report(len(blanks))
        return found

    def improved(self, alternative: _Alternative, effort: str) -> _Alternative:
        """Nested again with this effort; as it was where that gains nothing."""
        layout = self._nest(alternative.blanks, alternative.stock, effort)
        again = replace(alternative, blocks=_blocks(layout, alternative.blanks))
        self._report(len(alternative.blanks))

        def cost(alternative: _Alternative) -> tuple[int, int, int]:
            last = alternative.blocks[-1]
            return len(alternative.blocks), last.bottom - last.top, last.right - last.left

        return min(alternative, again, key=cost)

    def _part(self, parts: int) -> Stock | None:
        """So narrow a stock that so many blocks lie side by side; None where nothing is left of it."""
        if parts == 1:
            return self.stock
        gap_mm = rounded_up(self.stock.gap_mm)
        width_mm = _UNIT_MM * _units_down((self.stock.usable_width_mm - (parts - 1) * gap_mm) / parts)
        if width_mm <= 0:
            return None
        return replace(self.stock, width_mm=width_mm + 2 * self.stock.margin_mm)

    def _nest(self, blanks: Sequence[Blank], stock: Stock, effort: str) -> Layout | None:
        """The layout; None where a piece does not fit."""
        alike = (stock, effort, *(replace(blank, key="") for blank in blanks))
        if alike not in self.known:
            numbered = [replace(blank, key=str(k)) for k, blank in enumerate(blanks)]
            try:
                self.known[alike] = nest(numbered, stock, effort)
            except NestError:
                if stock is self.stock:
                    raise
                self.known[alike] = None
        layout = self.known[alike]
        if layout is None:
            return None
        return Layout(
            tuple(
                SheetLayout(tuple(replace(place, key=blanks[int(place.key)].key) for place in sheet.placements))
                for sheet in layout.sheets
            )
        )

    def _report(self, pieces: int) -> None:
        self.progress(1.0 - self.left / self.total)
        self.left -= pieces


def _blocks(layout: Layout, blanks: Sequence[Blank]) -> tuple[_Block, ...]:
    by_key = {blank.key: blank for blank in blanks}
    found = []
    for sheet in layout.sheets:
        reaches = []
        for place in sheet.placements:
            blank = by_key[place.key]
            x0, y0, x1, y1 = placed_polygon(blank, place).bounds
            slack = blank.slack_mm
            reaches.append((x0 - slack, y0 - slack, x1 + slack, y1 + slack))
        left, top, right, bottom = zip(*reaches, strict=True)
        found.append(
            _Block(
                sheet.placements,
                _units_down(min(left)),
                _units_down(min(top)),
                _units_up(max(right)),
                _units_up(max(bottom)),
            )
        )
    return tuple(found)


def _area_mm2(blanks: Sequence[Blank]) -> float:
    return math.fsum(blank.polygon.area for blank in blanks)


def _units_up(length_mm: float) -> int:
    """Whole units; less than 1e-7 mm too much is taken for the rounding of decimals."""
    return math.ceil(length_mm / _UNIT_MM - 1e-3)


def _units_down(length_mm: float) -> int:
    return math.floor(length_mm / _UNIT_MM + 1e-3)
