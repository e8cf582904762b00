"""Which sheet is filled next: offcuts before new stock, then the fewest new sheets, the last as short as can be."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from stripegen.layout import Blank, Lot, Stock, Supply, kept_mm
from stripegen.nest_fill import Filled
from stripegen.nest_fit import rounded_up
from stripegen.nest_search import Search, Section
from stripegen.nest_shapes import group, grow_mm

_OFFCUT_EFFORTS = {"quick": "quick", "normal": "quick", "thorough": "normal"}  # they are many, small and paid for
_TRIED = 3  # offcuts, the smallest that may hold all that is left

Counts = tuple[int, ...]  # how many of each shape
Progress = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Cut:
    """A filled sheet, offcut or run of a roll: what lies on it, and how much of its length that uses."""

    lot: int
    sections: tuple[Section, ...]
    used_mm: float


@dataclass(frozen=True, slots=True)
class Plan:
    """Filled sheets in order, and how many of each shape found no room."""

    cuts: tuple[Cut, ...]
    left: Counts


class Box:
    """One size of stock and the search in it; shapes have the same numbers in all boxes of a vinyl."""

    def __init__(self, blanks: Sequence[Blank], stock: Stock, effort: str, progress: Progress):
        self.stock = stock
        self.shapes = group(blanks, stock)
        self.search = Search(self.shapes, stock, effort, progress)
        self.holds = tuple(self.search.holds(shape) for shape in self.shapes)

    def held(self, counts: Counts) -> Counts:
        """Of these, the copies of shapes that an empty box takes."""
        return tuple(count * held for count, held in zip(counts, self.holds, strict=True))

    def taken_mm2(self, counts: Counts) -> float:
        return sum(count * shape.area for count, shape in zip(counts, self.shapes, strict=True))

    def may_hold(self, counts: Counts) -> bool:
        """Whether it takes all of these, as far as sizes and areas tell."""
        return self.taken_mm2(counts) < area_mm2(self.stock) and self.held(counts) == counts

    def used_mm(self, reach_mm: float) -> float:
        """The length used, margins included, where grown shapes reach so far."""
        margin_mm = self.stock.margin_mm
        return reach_mm - 2 * grow_mm(self.stock) + margin_mm + rounded_up(margin_mm)


def area_mm2(stock: Stock) -> float:
    """Room for grown shapes."""
    return (stock.usable_width_mm + 2 * grow_mm(stock)) * (stock.usable_length_mm + 2 * grow_mm(stock))


class Filling:
    """Fills the lots of one supply with the same blanks, in one order and another."""

    def __init__(self, blanks: Sequence[Blank], supply: Supply, effort: str, progress: Progress):
        self.blanks = blanks
        self.supply = supply
        self.effort = effort
        self.progress = progress
        self.boxes: dict[tuple[Stock, bool], Box] = {}

    @property
    def shapes(self) -> list:
        return self.box(self.supply.lots[-1].stock).shapes

    def box(self, stock: Stock, is_offcut: bool = False) -> Box:
        if (stock, is_offcut) not in self.boxes:
            effort = _OFFCUT_EFFORTS[self.effort] if is_offcut else self.effort
            self.boxes[stock, is_offcut] = Box(self.blanks, stock, effort, lambda share: self.progress(share))
        return self.boxes[stock, is_offcut]

    def box_of(self, number: int) -> Box:
        lot = self.supply.lots[number]
        return self.box(lot.stock, lot.is_offcut)

    def area_of(self, number: int) -> float:
        return area_mm2(self.supply.lots[number].stock)

    def misfits(self) -> list[int]:
        """The numbers of shapes that nothing holds."""
        missed = self.missed_by_new()
        for number in self.supply.offcuts if missed else ():
            missed = [index for index in missed if not self.box_of(number).holds[index]]
        return missed

    def missed_by_new(self) -> list[int]:
        holds = [self.box_of(number).holds for number in self.supply.new]
        return [shape.index for shape in self.shapes if not any(held[shape.index] for held in holds)]

    def plans(self) -> Iterator[Plan]:
        """With as much on offcuts as can be found; then, unless those hold everything, without them."""
        everything = tuple(len(shape.keys) for shape in self.shapes)
        whole = self.progress
        if self.supply.offcuts:
            self.progress = lambda share: None  # offcuts take little time, and their shares are of other totals
            first = min(self._offcut_plans(everything), key=self._rest)
            self.progress = lambda share: whole(share / 2)
            new = self._new(first.left)
            yield Plan((*first.cuts, *new.cuts), new.left)
            if not any(first.left) or self.missed_by_new():
                return
            self.progress = lambda share: whole((1 + share) / 2)
        yield self._new(everything)

    def _offcut_plans(self, left: Counts) -> Iterator[Plan]:
        """The largest offcuts first, and the smallest: neither is always better."""
        order = sorted(self.supply.offcuts, key=lambda number: (self.area_of(number), number))
        yield self._fill(order[::-1], left)
        if self.supply.lots[order[0]].stock != self.supply.lots[order[-1]].stock:
            yield self._fill(order, left)

    def _rest(self, plan: Plan) -> tuple[float, float]:
        """How much finds no room on offcuts, then how much of them is spent."""
        left_mm2 = self.box_of(self.supply.new[0]).taken_mm2(plan.left)
        return left_mm2, sum(self._spent_mm2(cut) for cut in plan.cuts)

    def _new(self, left: Counts) -> Plan:
        lots = self.supply.lots
        if not any(left) or not any(map(self._quantity, self.supply.new)):
            return Plan((), left)
        if lots[-1].is_roll:
            return self._roll(self.supply.new[0], left)
        order = sorted(self.supply.new, key=lambda number: (-self.area_of(number), number))
        return self._fill(order, left)

    def _fill(self, order: Sequence[int], left: Counts) -> Plan:
        """Fill lots in this order; what the rest fits on whole comes last, that which wastes least."""
        in_hand: dict[int, float] = {number: self._quantity(number) for number in order}
        cuts: list[Cut] = []
        while any(left) and any(in_hand.values()):
            there = [number for number in order if in_hand[number]]
            last = self._last(there, left)
            if last:
                cuts.append(last)
                return Plan(tuple(cuts), (0,) * len(left))
            number, box = there[0], self.box_of(there[0])
            filled = self._fullest(number, there, left) if any(box.held(left)) else None
            if filled is None or not filled.placed:
                in_hand[number] = 0
                continue
            in_hand[number] -= 1
            cuts.append(self._cut(number, box, [Section(0.0, filled)]))
            left = _less(left, filled)
        return Plan(tuple(cuts), left)

    def _quantity(self, number: int) -> float:
        quantity = self.supply.lots[number].quantity
        return float("inf") if quantity is None else quantity

    def _last(self, there: Sequence[int], left: Counts) -> Cut | None:
        """All that is left on one sheet: of offcuts the smallest that holds it, of new ones that with the least waste."""
        found: list[Cut] = []
        taken_mm2, tried = self.box_of(self.supply.new[0]).taken_mm2(left), 0
        for number in sorted(there, key=lambda number: (self.area_of(number), number)):
            if self.area_of(number) <= taken_mm2 or not self.box_of(number).may_hold(left):
                continue
            is_offcut, box = self.supply.lots[number].is_offcut, self.box_of(number)
            if is_offcut and (found or tried == _TRIED):
                break
            tried += 1
            filled = box.search.shortest(left)
            if filled:
                found.append(self._cut(number, box, [Section(0.0, filled)]))
        return min(found, key=self._spent_mm2, default=None)

    def _fullest(self, number: int, there: Sequence[int], left: Counts) -> Filled:
        """As much as can be found; of a limited lot as much as can be of what no other holds, if that is more."""
        box = self.box_of(number)
        counts = box.held(left)
        filled = box.search.fullest(counts)
        only = counts
        for other in dict.fromkeys((*filter(self._quantity, self.supply.new), *there)):
            if other != number and any(only):
                only = tuple(count * (not held) for count, held in zip(only, self.box_of(other).holds, strict=True))
        if not self.supply.lots[number].is_limited or not any(only) or only == counts:
            return filled
        missed = tuple(min(a, b) for a, b in zip(only, filled.left, strict=True))
        if not any(missed):
            return filled
        bare = box.search.fullest(only)
        return bare if box.taken_mm2(bare.left) < box.taken_mm2(missed) else filled

    def _roll(self, number: int, left: Counts) -> Plan:
        """A roll in one run, or what is left of one in as many runs as it takes."""
        lot = self.supply.lots[number]
        rest_mm = lot.total_mm
        cuts: list[Cut] = []
        while any(left):
            box, filled = self._run(lot, rest_mm, left)
            if not filled:
                break
            cuts.append(self._cut(number, box, filled))
            for section in filled:
                left = _less(left, section.filled)
            if rest_mm is not None:
                rest_mm = math.floor((rest_mm - cuts[-1].used_mm) * 1e4) / 1e4
        return Plan(tuple(cuts), left)

    def _run(self, lot: Lot, rest_mm: float | None, left: Counts) -> tuple[Box | None, Sequence[Section]]:
        """The next run of a roll; no sections where the rest of it takes nothing more."""
        if rest_mm is None:
            box = self.box(lot.stock)
            return box, box.search.roll(left)[0]
        if rest_mm <= 2 * lot.stock.margin_mm:
            return None, ()
        box = self.box(replace(lot.stock, length_mm=min(lot.stock.length_mm, rest_mm)))
        counts = box.held(left)
        if not any(counts):
            return None, ()
        if rest_mm <= lot.stock.length_mm and counts == left:  # all in one run, as on a roll without an end, if that suffices
            endless = self.box(replace(lot.stock, length_mm=None))
            sections = endless.search.roll(left)[0]
            if endless.used_mm(_reach_mm(sections)) <= rest_mm:
                return endless, sections
        filled = (box.search.shortest(left) if box.may_hold(left) else None) or box.search.fullest(counts)
        return box, [Section(0.0, filled)] if filled.placed else ()

    def _cut(self, number: int, box: Box, sections: Sequence[Section]) -> Cut:
        return Cut(number, tuple(sections), box.used_mm(_reach_mm(sections)))

    def _spent_mm2(self, cut: Cut) -> float:
        """What is not left over of a sheet, all its width."""
        stock = self.supply.lots[cut.lot].stock
        return stock.width_mm * (stock.length_mm - kept_mm(stock.length_mm, cut.used_mm, stock.margin_mm))


def _reach_mm(sections: Sequence[Section]) -> float:
    return max(section.start_mm + section.filled.reach_mm for section in sections)


def _less(left: Counts, filled: Filled) -> Counts:
    """What is left without that which lies in a box."""
    rest = list(left)
    for placed in filled.placed:
        rest[placed.pose.index] -= 1
    return tuple(rest)
