"""Which strips of a vinyl may share cuts, and the ways to lay them in planks that are worth trying.

How wide planks should be depends on what else is to be nested: wide ones save more gaps, narrow ones fill better. So a
few ways are offered, by the most strips in a plank and by rows of equal planks over the vinyl's width.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from stripegen.layout import Stock, Supply
from stripegen.planks import Bar, Plank, planks_of
from stripegen.production import Piece
from stripegen.spec import Vinyl
from stripegen.stock import plank_turn

STRIPS = (2, 4, 8, 16, 32, 64)  # the most in a plank
ROWS = (1, 2, 3, 4)
ROUNDING_MM = 1e-3  # what whole units of moves and margins may take of the room


@dataclass(frozen=True)
class Joined:
    """Pieces that lie in one plank, in its order; the first lends it its name."""

    pieces: tuple[Piece, ...]
    plank: Plank

    @property
    def key(self) -> str:
        return self.pieces[0].id


@dataclass(frozen=True)
class _Group:
    """Strips that may lie in one plank: as long as each other, turned alike. `most_mm`: no plank of them is wider.

    `row` of them lie end to end over the vinyl's width.
    """

    pieces: list[Piece]
    bars: list[Bar]
    most_mm: float
    row: int
    made: dict[tuple[int, ...], Plank] = field(default_factory=dict)  # by their bars: many are alike

    def planks(self, count: int) -> Iterator[Joined]:
        """In so many planks, at least; a strip by itself is none."""
        for own in planks_of(self.bars, max(1, min(count, len(self.bars))), self.most_mm):
            if len(own) > 1:
                bars = tuple(self.bars[n] for n in own)
                plank = self.made.setdefault(tuple(map(id, bars)), Plank(bars))
                yield Joined(tuple(self.pieces[n] for n in own), plank)


def ways_to_share(pieces: Sequence[Piece], vinyl: Vinyl, supply: Supply, by_order: bool = False) -> list[list[Joined]]:
    """Different ways to lay straight strips of a vinyl in planks; what is in no plank shares no cut.

    None where nothing can be shared. `by_order`: no plank holds strips of two orders.
    """
    groups = _groups(pieces, vinyl, supply, by_order)
    if not groups:
        return []
    most = max(len(group.bars) for group in groups)
    counts: list[Callable[[_Group], int]] = [
        lambda group, strips=strips: math.ceil(len(group.bars) / strips) for strips in STRIPS if strips < most
    ]
    counts += [lambda group, rows=rows: rows * group.row for rows in ROWS]
    found: dict[tuple, list[Joined]] = {}
    for count in (*counts, lambda group: 1):
        way = [joined for group in groups for joined in group.planks(count(group))]
        found.setdefault(tuple(tuple(piece.id for piece in joined.pieces) for joined in way), way)
    return [way for way in found.values() if way]


def _groups(pieces: Sequence[Piece], vinyl: Vinyl, supply: Supply, by_order: bool) -> list[_Group]:
    known: dict[int, Bar | None] = {}  # copies of a piece have its outline
    found: dict[tuple, list[tuple[Piece, Bar]]] = {}
    for piece in pieces:
        outline = piece.flat.outline
        if piece.unit is not None:
            continue
        if id(outline) not in known:
            known[id(outline)] = Bar.of(piece.flat)
        bar = known[id(outline)]
        if bar:
            alike = (piece.order if by_order else "", bar.length_mm, plank_turn(bar, vinyl))
            found.setdefault(alike, []).append((piece, bar))
    stocks = [supply.lots[number].stock for number in supply.new]
    groups = []
    for (_, _, turn), own in found.items():
        if len(own) > 1:
            bars = [bar for _, bar in own]
            reach_mm = max(bar.reach_mm + 2 * bar.slack_mm for bar in bars)
            turns = (0.0, 90.0) if turn is None else (turn,)
            rooms = [_room_mm(reach_mm, each, stock) for each in turns for stock in stocks]
            across = turn is None or abs(turn % 180.0 - 90.0) < 1.0
            row = max(int((stock.usable_width_mm + stock.gap_mm) // (reach_mm + stock.gap_mm)) for stock in stocks)
            slack_mm = max(bar.slack_mm for bar in bars)
            most_mm = max(rooms) - 2 * slack_mm - ROUNDING_MM
            groups.append(_Group([piece for piece, _ in own], bars, most_mm, max(1, row) if across else 1))
    return groups


def _room_mm(length_mm: float, turn_deg: float, stock: Stock) -> float:
    """How wide a box of this length may be that is turned so; below 0 where none fits."""
    cos, sin = abs(math.cos(math.radians(turn_deg))), abs(math.sin(math.radians(turn_deg)))
    room_mm = math.inf
    for usable_mm, along, over in ((stock.usable_width_mm, sin, cos), (stock.usable_length_mm, cos, sin)):
        rest_mm = usable_mm - along * length_mm if along > 1e-9 else usable_mm
        if rest_mm < 0:
            return -math.inf
        if over > 1e-9:
            room_mm = min(room_mm, rest_mm / over)
    return room_mm
