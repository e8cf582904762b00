"""Pieces placed on named sheets of vinyl: what `strips` and `nest` give, as values."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from stripegen.errors import NestError, Notice
from stripegen.layout import (
    Blank,
    Placement,
    SheetLayout,
    Stock,
    bound_mm,
    piece_area_mm2,
    tightness,
    used_length_mm,
    waste_share,
)
from stripegen.outline import Outline
from stripegen.production import Piece, Production
from stripegen.spec import Vinyl
from stripegen.stock import blank_of, stock_of, unit_blank
from stripegen.tasks import Lay, Prove, Task, outcomes

LONGEST_PDF_MM = 14_400 / 72 * 25.4  # the limit of PDF 1.7's own page sizes, Annex C


@dataclass(frozen=True)
class Placed:
    """A piece on a sheet."""

    piece: Piece
    placement: Placement

    @property
    def outline(self) -> Outline:
        """The true outline where it lies on the sheet."""
        place = self.placement
        return self.piece.flat.outline.moved(math.radians(place.turn_deg), place.dx_mm, place.dy_mm)


@dataclass(frozen=True)
class Sheet:
    """One sheet, or one run of a roll. `length_mm` is the sheet's own, or what is used of a roll.

    `bound_mm` is for what the cutter takes of it; `waste` is of the whole width.
    """

    name: str
    vinyl: Vinyl
    length_mm: float
    used_length_mm: float
    piece_area_mm2: float
    bound_mm: float
    tightness: float
    waste: float
    placed: tuple[Placed, ...]


def lay_out(
    production: Production,
    stem: str,
    lay: Lay,
    prove: Prove,
    executor: Executor | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Sheet]:
    """Every piece of a job on sheets of its vinyl, as much of it as the cutter takes, each layout proved.

    Parameters
    ----------
    lay, prove : what lays a vinyl's blanks on its stock, and what proves that
    executor : runs a task for each vinyl, which is sent that vinyl's blanks alone; None: one after the other, here
        Sheets are the same whatever runs them. To cross to another process `lay` and `prove` must be picklable.
    progress : called now and then with the share done, 0 to 1

    Raises
    ------
    NestError
        naming every piece of any vinyl that fits no sheet, or where a layout fails its proof or a process dies.
    """
    sheets: list[Sheet] = []
    faults: list[str] = []
    vinyls = [_Cut.of(vinyl, production) for vinyl in production.vinyls]
    tasks = [Task(tuple(cut.blanks.values()), cut.stock) for cut in vinyls]
    for cut, outcome in zip(vinyls, outcomes(tasks, lay, prove, executor, progress), strict=True):
        if isinstance(outcome, NestError):
            faults += [f"{cut.vinyl.where}: {line}" for line in str(outcome).splitlines()]
            continue
        for number, sheet in enumerate(outcome.sheets, 1):
            placed = [each for place in sheet.placements for each in _placed(place, cut.pieces, cut.wholes)]
            sheets.append(_sheet(f"{stem}-{cut.vinyl.name}-{number}", cut.vinyl, sheet, placed, cut.blanks, cut.stock))
    if faults:
        raise NestError("\n".join(faults))
    return sheets


@dataclass(frozen=True)
class _Cut:
    """A vinyl, all pieces that are cut of it, and what is placed of them, on what."""

    vinyl: Vinyl
    stock: Stock
    pieces: dict[str, Piece]
    blanks: dict[str, Blank]
    wholes: dict[str, _Whole]

    @classmethod
    def of(cls, vinyl: Vinyl, production: Production) -> _Cut:
        pieces = {piece.id: piece for piece in production.of_vinyl(vinyl.name)}
        return cls(vinyl, stock_of(vinyl, production.job.cutter), pieces, *_blanks(list(pieces.values()), vinyl))


@dataclass(frozen=True)
class _Whole:
    """Pieces that are placed as one, and the shift from their unit's frame to the blank's."""

    pieces: list[Piece]
    shift: tuple[float, float]


def _blanks(pieces: Sequence[Piece], vinyl: Vinyl) -> tuple[dict[str, Blank], dict[str, _Whole]]:
    """What is placed, by name: each piece by itself, or with its unit."""
    blanks: dict[str, Blank] = {}
    wholes: dict[str, _Whole] = {}
    for piece in pieces:
        if piece.unit is None:
            blanks[piece.id] = blank_of(piece.id, piece.flat, vinyl)
        elif piece.unit.id in wholes:
            wholes[piece.unit.id].pieces.append(piece)
        else:
            blanks[piece.unit.id], shift = unit_blank(piece.unit.id, piece.unit.unit, vinyl)
            wholes[piece.unit.id] = _Whole([piece], shift)
    return blanks, wholes


def _placed(place: Placement, pieces: dict[str, Piece], wholes: dict[str, _Whole]) -> list[Placed]:
    """The pieces that lie where a blank does."""
    if place.key not in wholes:
        return [Placed(pieces[place.key], place)]
    whole, found = wholes[place.key], []
    turn = math.radians(place.turn_deg)
    for piece in whole.pieces:
        own_turn, x, y = piece.unit.unit.poses[piece.unit.number]
        x, y = x + whole.shift[0], y + whole.shift[1]
        dx = x * math.cos(turn) - y * math.sin(turn) + place.dx_mm
        dy = x * math.sin(turn) + y * math.cos(turn) + place.dy_mm
        found.append(Placed(piece, Placement(key=piece.id, turn_deg=place.turn_deg + math.degrees(own_turn), dx_mm=dx, dy_mm=dy)))
    return found


def sheet_notices(sheets: Sequence[Sheet]) -> tuple[Notice, ...]:
    """What the maker should know of the sheets themselves."""
    return tuple(
        Notice(
            code="long-page",
            message=f"{sheet.name} is {sheet.length_mm:.0f} mm long; many programs refuse a PDF page over "
            f"{LONGEST_PDF_MM:.0f} mm: use the SVG",
        )
        for sheet in sheets
        if sheet.length_mm > LONGEST_PDF_MM
    )


def _sheet(
    name: str,
    vinyl: Vinyl,
    layout: SheetLayout,
    placed: list[Placed],
    blanks: dict[str, Blank],
    stock: Stock,
) -> Sheet:
    used = used_length_mm(layout, blanks, stock)
    own = [blanks[place.key] for place in layout.placements]
    return Sheet(
        name=name,
        vinyl=vinyl,
        length_mm=used if vinyl.length_mm is None else vinyl.length_mm,
        used_length_mm=used,
        piece_area_mm2=piece_area_mm2(own),
        bound_mm=bound_mm(own, stock),
        tightness=tightness(layout, blanks, stock),
        waste=waste_share(layout, blanks, replace(stock, width_mm=vinyl.width_mm)),
        placed=tuple(placed),
    )
