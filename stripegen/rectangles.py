"""Rectangles on sheets of one width, or on a roll: so many sheets, or so much of it, as few trials can find.

All measures are whole numbers. A rectangle lies as low as it can, then as far left: its lower edge on the skyline of
those before it. Which of its alternatives each item takes, and in what order they are laid, is varied by chance from
a fixed seed, so that the same items always lie the same way.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

Size = tuple[int, int]  # across, along the feed
Alternative = tuple[Size, ...]  # the rectangles of one item; no two lie on one sheet

_SWAPS = 0.5  # share of trials that change the order, not an item's alternative
_WIDTH_COSTS = (0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 1.0)  # what is left of a niche beside a rectangle, as a share of lost area
_LOOKED_AT = 300  # items, the largest left, that are looked at for a niche


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a rectangle lies: on which sheet, and its corner there."""

    sheet: int
    x: int
    y: int


@dataclass(frozen=True, slots=True)
class Packing:
    """The alternative that each item takes, and where its rectangles lie. `cost`: sheets, and length of the last."""

    choices: tuple[int, ...]
    spots: tuple[tuple[Spot, ...], ...]
    cost: tuple[int, int]


def pack(items: Sequence[Sequence[Alternative]], width: int, length: int | None, trials: int) -> Packing:
    """Lay items, each by one of its alternatives.

    Parameters
    ----------
    items : for each the alternatives, at least one, the widest first; every rectangle fits an empty sheet
    width, length : of a sheet; a roll has no length
    trials : how often the best so far is varied

    Notes
    -----
    Never longer on a roll than the first alternatives one after the other.
    """
    most = max((len(alternatives) for alternatives in items), default=1)
    starts = [[min(k, len(alternatives) - 1) for alternatives in items] for k in range(most)]
    starts.append([min(range(len(each)), key=lambda k: _area(each[k])) for each in items])
    orders = [(choices, _tallest_first(items, choices)) for choices in starts]
    orders += [_niche_by_niche(items, width, cost) for cost in _WIDTH_COSTS]
    packed = [_pack(items, choices, order, width, length) for choices, order in orders]
    best, order = min(packed, key=lambda pair: pair[0].cost)
    chance = random.Random(1)
    choosing = [k for k, alternatives in enumerate(items) if len(alternatives) > 1]
    for _ in range(trials if len(items) > 1 else 0):
        choices, varied = list(best.choices), list(order)
        if choosing and chance.random() > _SWAPS:
            item = chance.choice(choosing)
            choices[item] = chance.randrange(len(items[item]))
        if chance.random() < _SWAPS or not choosing:
            first, second = chance.randrange(len(varied)), chance.randrange(len(varied))
            varied.insert(second, varied.pop(first))
        tried = _pack(items, choices, varied, width, length)
        if tried[0].cost <= best.cost:
            best, order = tried
    return best


def _area(alternative: Alternative) -> int:
    return sum(across * along for across, along in alternative)


def _tallest_first(items: Sequence[Sequence[Alternative]], choices: Sequence[int]) -> list[int]:
    def size(item: int) -> tuple[int, int]:
        across, along = max(items[item][choices[item]], key=lambda size: size[1])
        return along, across

    return sorted(range(len(items)), key=size, reverse=True)


def _niche_by_niche(items: Sequence[Sequence[Alternative]], width: int, width_cost: float) -> tuple[list[int], list[int]]:
    """Alternatives and an order in which, on a roll, each item fills the lowest niche of those before it well.

    Lost is what an alternative takes more than the item's least, and a share of what is left of the niche beside it.
    """
    least = [min(map(_area, alternatives)) for alternatives in items]
    left = sorted(range(len(items)), key=lambda item: -least[item])
    skyline, order, choices = _Skyline(width, None), [], [0] * len(items)
    while left:
        x, y, room = skyline.lowest_niche()
        fitting = [
            (((room - across) * along * width_cost + across * along) / max(1, least[item]), item, choice)
            for item in left[:_LOOKED_AT]
            for choice, alternative in enumerate(items[item])
            for across, along in alternative[-1:]
            if across <= room
        ]
        if not fitting:
            skyline.close_niche(x, y, room)
            continue
        _, item, choices[item] = min(fitting)
        skyline.lay(x, y, *items[item][choices[item]][-1])
        order.append(item)
        left.remove(item)
    return choices, order


def _pack(
    items: Sequence[Sequence[Alternative]],
    choices: Sequence[int],
    order: Sequence[int],
    width: int,
    length: int | None,
) -> tuple[Packing, Sequence[int]]:
    """Lay the items in this order, each rectangle on the first sheet that takes it."""
    sheets: list[_Skyline] = []
    spots: list[tuple[Spot, ...]] = [()] * len(items)
    for item in order:
        own: list[Spot] = []
        for across, along in items[item][choices[item]]:
            taken = {spot.sheet for spot in own}
            for number in range(len(sheets) + 1):
                if number == len(sheets):
                    sheets.append(_Skyline(width, length))
                corner = None if number in taken else sheets[number].lowest(across, along)
                if corner is not None:
                    sheets[number].lay(*corner, across, along)
                    own.append(Spot(number, *corner))
                    break
        spots[item] = tuple(own)
    cost = (len(sheets), sheets[-1].top if sheets else 0)
    return Packing(tuple(choices), tuple(spots), cost), order


class _Skyline:
    """How far a sheet is filled at each place across: steps of a start and a height, from left to right."""

    def __init__(self, width: int, length: int | None):
        self.width, self.length = width, length
        self.starts, self.heights = [0], [0]
        self.top = 0

    def lowest(self, across: int, along: int) -> tuple[int, int] | None:
        """The lowest corner at which a rectangle lies free, of those the leftmost; None where it does not fit."""
        best: tuple[int, int] | None = None
        for k, x in enumerate(self.starts):
            if x + across > self.width:
                break
            y, j = 0, k
            while j < len(self.starts) and self.starts[j] < x + across:
                y = max(y, self.heights[j])
                j += 1
            if (self.length is None or y + along <= self.length) and (best is None or y < best[1]):
                best = x, y
        return best

    def lowest_niche(self) -> tuple[int, int, int]:
        """The lowest step: where it starts, its height, and how wide it is."""
        k = min(range(len(self.starts)), key=self.heights.__getitem__)
        return self.starts[k], self.heights[k], (*self.starts, self.width)[k + 1] - self.starts[k]

    def close_niche(self, x: int, y: int, across: int) -> None:
        """Raise a step to the lower of its neighbours."""
        k = self.starts.index(x)
        top = min(self.heights[j] for j in (k - 1, k + 1) if 0 <= j < len(self.heights))
        self.lay(x, y, across, top - y)

    def lay(self, x: int, y: int, across: int, along: int) -> None:
        """Raise the steps under a rectangle to its far end; neighbours of one height are one step."""
        end, top = x + across, y + along
        steps = []
        for k, start in enumerate(self.starts):
            stop = self.starts[k + 1] if k + 1 < len(self.starts) else self.width
            if start < x:
                steps.append((start, self.heights[k]))
            if start <= x < stop:
                steps.append((x, top))
            if stop > end and stop > x:
                steps.append((max(start, end), self.heights[k]))
        first = [k for k, (_, height) in enumerate(steps) if k == 0 or height != steps[k - 1][1]]
        self.starts = [steps[k][0] for k in first]
        self.heights = [steps[k][1] for k in first]
        self.top = max(self.top, top)
