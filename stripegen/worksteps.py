"""An order's work as steps: its strips in the order in which they are laid.

All cups of an order are alike, so each strip is told once. Strips on one coat are laid line by line, those that go
under others first; between two coats the cup is coated and cured.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from stripegen.decoration import Decoration
from stripegen.pictures import in_painting_order
from stripegen.production import Piece
from stripegen.shapes import FULL_TURN
from stripegen.spec import Chevron, Line, Order, Ring
from stripegen.surface import Wall
from stripegen.worklook import SmallCup
from stripegen.workparts import parts_of

MOST_APART = 4  # of strips that are cut alike so many have a row each; more share rows
MOST_IN_ROW = 12
SAME_RAD = 1e-9

PREPARE, LAY, COAT, SEAL = "prepare", "lay", "coat", "seal"


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the wall as it is when the strip is laid: round from the zero mark, within one turn, and down."""

    around_rad: float
    along_mm: float
    down_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StripAt:
    """A strip of one cup. `id` is that of the first cup's piece, `name` what it is called on every cup.

    `joined`: made of several lines that cross, so that `width_mm` and `length_mm` are those of its box.
    `part` is (which, of how many) parts of a strip that was split, each laid over the end of the one before by `lap_mm`.
    `overlap_mm`: it, or all its parts, go once round to where they began, and end so far over that; else None.
    """

    id: str
    name: str
    mark: str
    vinyl: str
    colour: str
    width_mm: float
    length_mm: float
    start: Spot
    end: Spot
    joined: bool = False
    overlap_mm: float | None = None
    part: tuple[int, int] | None = None
    lap_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Strips told together: one; some that are cut alike; or those of `units` units cut alike (0: they are in none).

    `sheets` are the sheets on which all cups' own lie, with how many of them. `lit` are the strips' numbers in the
    order's look, seen best from `side_deg`. `goes_on`: its strips belong to the unit of the row before.
    """

    strips: tuple[StripAt, ...]
    units: int
    sheets: tuple[tuple[str, int], ...]
    lit: tuple[int, ...]
    side_deg: int | None
    goes_on: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of an order. `resin_mm` is the resin that is on the wall when it is done; `coat_mm` what it adds.

    `under`: lines laid later that cover it; `over`: lines that it goes under by the job, though they are laid already. `girths` (down, round) are what a tape should read on the wall. `is_first` of its kind.
    """

    kind: str
    resin_mm: float
    is_first: bool
    coat_mm: float | None = None
    lines: tuple[Line, ...] = ()
    under: tuple[str, ...] = ()
    over: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()
    girths: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareStrips:
    """So many spares of a strip, and the sheets on which they lie, if those are known."""

    name: str
    mark: str
    count: int
    sheets: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkOrder:
    """An order's steps. `pattern` tells what the order has changed in it too; `seams` maps a seam's name to its spots at rim
    and base."""

    id: str
    cup: str
    pattern: str
    quantity: int
    due: datetime.date | None
    vinyls: tuple[tuple[str, str], ...]
    seams: Mapping[str, tuple[Spot, Spot]]
    rim_clearance_mm: float
    base_clearance_mm: float
    steps: tuple[Step, ...]
    look: SmallCup
    spares: tuple[SpareStrips, ...] = ()

    @property
    def strips(self) -> Iterator[StripAt]:
        """Every strip of one cup."""
        return (strip for step in self.steps for row in step.rows for strip in row.strips)


def spot(wall: Wall, around_rad: float, down_mm: float) -> Spot:
    """A place of a wall as it is measured."""
    around_rad %= FULL_TURN
    if FULL_TURN - around_rad < SAME_RAD:
        around_rad = 0.0
    return Spot(around_rad, around_rad * float(wall.radius_mm(down_mm)), down_mm)


class Orderer:
    """Puts one order's pieces into steps."""

    def __init__(
        self,
        order: Order,
        decoration: Decoration,
        pieces: Sequence[Piece],
        look: SmallCup,
        marks: Mapping[str, str],
        colours: Mapping[str, str],
        sheets: Mapping[str, list[str]],
    ):
        self.given, self.decoration, self.pieces, self.look = order, decoration, pieces, look
        self.marks, self.colours, self.sheets = marks, colours, sheets
        self.number = {piece.id: number for number, piece in enumerate(pieces)}
        self.lines = {laid.line.name: laid.line for laid in decoration.lines}
        self.parts = parts_of(pieces)
        self.cut_lines = {name for piece in pieces for name in piece.line.split(".")}  # of which there is a piece

    def order(self) -> WorkOrder:
        site, order = self.decoration.site, self.given
        vinyls = dict.fromkeys((piece.vinyl, self.colours[piece.vinyl]) for piece in self.pieces)
        wall = site.wall
        return WorkOrder(
            id=order.id,
            cup=order.cup,
            pattern=self.decoration.pattern.title,
            quantity=order.quantity,
            due=order.due,
            vinyls=tuple(vinyls),
            seams={
                name: (spot(wall, rim_rad, 0.0), spot(wall, base_rad, wall.wall_mm))
                for name, (rim_rad, base_rad) in site.seams.items()
            },
            rim_clearance_mm=site.rim_clearance_mm,
            base_clearance_mm=site.base_clearance_mm,
            steps=tuple(self._steps()),
            look=self.look,
        )

    def _steps(self) -> Iterator[Step]:
        cup = self.decoration.cup
        coats: dict[float, list[Piece]] = {}
        for piece in self.pieces:
            coats.setdefault(self._resin_mm(piece), []).append(piece)
        on_wall_mm = None
        is_first = True
        for resin_mm, pieces in sorted(coats.items()):
            girths = self._girths(pieces[0])
            if on_wall_mm is None:
                yield Step(kind=PREPARE, resin_mm=resin_mm, is_first=True, girths=girths)
            else:
                coat_mm = resin_mm - on_wall_mm
                first = on_wall_mm == min(coats)
                yield Step(kind=COAT, resin_mm=resin_mm, is_first=first, coat_mm=coat_mm, girths=girths)
            on_wall_mm = resin_mm
            for step in self._laid(resin_mm, pieces):
                yield replace(step, is_first=is_first)
                is_first = False
        if on_wall_mm is not None:
            sealed_mm = on_wall_mm + (cup.seal_mm or 0.0)
            yield Step(kind=SEAL, resin_mm=sealed_mm, is_first=True, coat_mm=cup.seal_mm)

    def _resin_mm(self, piece: Piece) -> float:
        resin_mm = self._lines_of(piece)[0].resin_mm
        return self.decoration.cup.resin_mm if resin_mm is None else resin_mm

    def _lines_of(self, piece: Piece) -> list[Line]:
        """A piece that is made of several lines has all their names, joined by dots, which no name holds."""
        return [self.lines[name] for name in piece.line.split(".")]

    def _girths(self, piece: Piece) -> tuple[tuple[float, float], ...]:
        """Round the decorated part's upper and lower end, on the wall on which a piece lies."""
        wall = _wall_of(piece)
        site = next(laid.site for laid in self.decoration.lines if laid.line.name in piece.line.split("."))
        return tuple((down, float(wall.girth_mm(down))) for down in (site.top_mm, site.bottom_mm))

    def _laid(self, resin_mm: float, pieces: Sequence[Piece]) -> Iterator[Step]:
        """The steps on one coat: a line each, or where all of the pattern's pieces are together a vinyl each."""
        together = self.decoration.pattern.together
        groups: dict[str, list[Piece]] = {}
        for piece in pieces:
            groups.setdefault(piece.vinyl if together else piece.line, []).append(piece)
        lines = {
            name: list({line.name: line for piece in group for line in self._lines_of(piece)}.values())
            for name, group in groups.items()
        }
        here = {line.name for own in lines.values() for line in own}
        laid: set[str] = set()
        for name in _lying_order(lines):
            own = lines[name]
            names = {line.name for line in own}
            covers = dict.fromkeys(cover for line in own for cover in line.under if cover in self.cut_lines - names)
            over = [cover for cover in covers if cover in laid or cover not in here and self._is_lower(cover, resin_mm)]
            yield Step(
                kind=LAY,
                resin_mm=resin_mm,
                is_first=False,
                lines=tuple(own),
                under=tuple(cover for cover in covers if cover not in over),
                over=tuple(over),
                rows=tuple(self._rows(groups[name])),
            )
            laid |= names

    def _is_lower(self, line: str, resin_mm: float) -> bool:
        own_mm = self.lines[line].resin_mm
        return (self.decoration.cup.resin_mm if own_mm is None else own_mm) < resin_mm

    def _rows(self, pieces: Sequence[Piece]) -> Iterator[Row]:
        """Pieces in rows: what is cut alike, if there is much of it, shares them."""
        bundles: dict[str, list[Piece]] = {}
        for piece in pieces:
            bundles.setdefault(piece.unit.id if piece.unit else piece.id, []).append(piece)
        alike: dict[tuple, list[list[Piece]]] = {}
        for bundle in bundles.values():
            key = tuple((self.marks[piece.id], piece.line) for piece in bundle)
            # parts are laid in their order, one after the other, so they stay by themselves
            alone = any(piece.id in self.parts for piece in bundle)
            alike.setdefault((key, bundle[0].id if alone else None), []).append(bundle)
        for same in alike.values():
            count = len(same) if len(same) > MOST_APART else 1
            in_row = max(1, min(count, MOST_IN_ROW // len(same[0])))
            for start in range(0, len(same), in_row):
                yield from self._row(same[start : start + in_row])

    def _row(self, bundles: Sequence[Sequence[Piece]]) -> Iterator[Row]:
        """A row of bundles cut alike; a single one that has too many strips is told in several."""
        pieces = [piece for bundle in bundles for piece in bundle]
        for start in range(0, len(pieces), MOST_IN_ROW):
            own = pieces[start : start + MOST_IN_ROW]
            lit = tuple(self.number[piece.id] for piece in own)
            sheets = Counter(sheet for piece in own for sheet in self.sheets.get(piece.name, ()))
            yield Row(
                strips=tuple(self._strip(piece) for piece in own),
                units=len(bundles) if own[0].unit and len(bundles[0]) > 1 else 0,
                sheets=tuple(sheets.items()),
                lit=lit,
                side_deg=self.look.side_of(lit),
                goes_on=start > 0,
            )

    def _strip(self, piece: Piece) -> StripAt:
        flat, wall = piece.flat, _wall_of(piece)
        lines = self._lines_of(piece)
        width_mm, length_mm = flat.width_mm, flat.cut_mm
        if len(lines) > 1:
            width_mm, length_mm = (max(values) for values in zip(*flat.points, strict=True))
        rings = [line for line in lines if isinstance(line, Ring | Chevron)]
        part, lap_mm = self.parts.get(piece.id, (None, 0.0))
        first = self.pieces[self.number[piece.id] + 1 - part[1]] if part and part[0] == part[1] else piece
        goes_round = abs(flat.end[0] - first.flat.start[0]) > FULL_TURN - SAME_RAD
        return StripAt(
            id=piece.id,
            name=piece.name,
            mark=self.marks[piece.id],
            vinyl=piece.vinyl,
            colour=self.colours[piece.vinyl],
            width_mm=width_mm,
            length_mm=length_mm,
            start=spot(wall, *flat.start),
            end=spot(wall, *flat.end),
            joined=len(lines) > 1,
            overlap_mm=rings[0].overlap_mm if rings and goes_round else None,
            part=part,
            lap_mm=lap_mm,
        )


def _wall_of(piece: Piece) -> Wall:
    return piece.flat.strip.middle[0].curve.wall


def _lying_order(lines: Mapping[str, Sequence[Line]]) -> list[str]:
    """Groups of lines, each before those that cover it; as listed where they cover each other."""
    covers = {name: {cover for line in own for cover in line.under} for name, own in lines.items()}
    groups = [
        replace(
            own[0],
            name=name,
            under=tuple(n for n, others in lines.items() if n != name and covers[name] & {line.name for line in others}),
        )
        for name, own in lines.items()
    ]
    try:
        return [group.name for group in in_painting_order(groups)]
    except ValueError:
        return list(lines)
