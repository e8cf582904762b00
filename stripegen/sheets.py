"""Pieces placed on named sheets of vinyl: what `strips` and `nest` give, as values."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace

from stripegen.errors import Fault, NestError, Notice, Shortfall
from stripegen.layout import (
    Blank,
    SheetLayout,
    Stock,
    Supply,
    bound_mm,
    piece_area_mm2,
    used_length_mm,
)
from stripegen.mats import fits_mat, pack
from stripegen.placing import Placed, Way, placed_pieces, plain_way, shared_way
from stripegen.production import Piece, Production
from stripegen.proof import prove_mat
from stripegen.sharing import ways_to_share
from stripegen.spec import Job, Offcut, SheetSize, Vinyl
from stripegen.stock import sizes_of, supply_of
from stripegen.tasks import Lay, Prove, Sharing, Task, outcomes

LONGEST_PDF_MM = 14_400 / 72 * 25.4  # the limit of PDF 1.7's own page sizes, Annex C


@dataclass(frozen=True)
class OffcutPlace:
    """An offcut in the frame of the sheet that it is, or of the mat on which it lies; used so far from its own end.

    `shelf`: from where it is to be taken.
    """

    x_mm: float
    y_mm: float
    width_mm: float
    length_mm: float
    used_length_mm: float
    shelf: str = field(default="", compare=False)


@dataclass(frozen=True)
class Sheet:
    """One sheet, one run of a roll, an offcut, or a mat with offcuts. `length_mm` is its own, or what is used of a roll.

    `bound_mm` is for what the cutter takes of it; `waste` is of the whole width. `offcuts`: those it consists of, none
    for new stock.
    """

    name: str
    vinyl: Vinyl
    width_mm: float
    length_mm: float
    used_length_mm: float
    piece_area_mm2: float
    bound_mm: float
    tightness: float
    waste: float
    placed: tuple[Placed, ...]
    offcuts: tuple[OffcutPlace, ...] = ()

    @property
    def is_on_mat(self) -> bool:
        """Whether it is a mat with offcuts; an offcut as large as the mat is not told from one."""
        whole = OffcutPlace(0.0, 0.0, self.width_mm, self.length_mm, self.used_length_mm)
        return bool(self.offcuts) and self.offcuts != (whole,)

    @property
    def shared_mm(self) -> float:
        """How much less is cut than if no strip shared a cut."""
        return math.fsum(each.shared.saved_mm for each in self.placed if each.shared)


def lay_out(
    production: Production,
    stem: str,
    lay: Lay,
    prove: Prove,
    executor: Executor | None = None,
    progress: Callable[[float], None] | None = None,
    sharing: Sharing | None = None,
) -> list[Sheet]:
    """Every piece of a job on sheets of its vinyl, as much of it as the cutter takes, each layout proved.

    Parameters
    ----------
    lay, prove : what lays a vinyl's blanks on its stock, and what proves that
    executor : runs a task for each vinyl, which is sent that vinyl's blanks alone; None: one after the other, here
        Sheets are the same whatever runs them. To cross to another process `lay` and `prove` must be picklable.
    progress : called now and then with the share done, 0 to 1
    sharing : how vinyls are laid out whose strips may share cuts; None: as all others, and no cut is shared

    Raises
    ------
    NestError
        naming every piece of any vinyl that fits no sheet, or where a layout fails its proof or a process dies.
    """
    sheets: list[Sheet] = []
    faults: list[Fault] = []
    shortfalls: list[Shortfall] = []
    job = production.job
    works = [_Work.of(vinyl, production, sharing) for vinyl in production.vinyls]
    tasks = [work.task for work in works]
    for work, outcome in zip(works, outcomes(tasks, lay, prove, executor, progress, sharing), strict=True):
        vinyl = work.vinyl
        if isinstance(outcome, NestError):
            faults += [Fault(vinyl.where, "", "", line) for line in str(outcome).splitlines()]
            shortfalls += outcome.shortfalls
            continue
        parts, way = [], work.ways[outcome.number]
        for sheet in outcome.layout.sheets:
            placed = [each for place in sheet.placements for each in placed_pieces(place, work.pieces, way.wholes)]
            parts.append(_part(sheet, vinyl, job, work.supply, way.blanks, placed))
        for number, cut in enumerate(_cuts(parts, job.cutter.mat_mm), 1):
            sheets.append(_sheet(f"{stem}-{vinyl.name}-{number}", vinyl, cut, job.cutter.mat_mm))
    if faults:
        raise NestError(*faults, shortfalls=tuple(shortfalls))
    return sheets


@dataclass(frozen=True, kw_only=True)
class _Part:
    """A filled sheet, offcut or run by itself, and where it lies on its mat."""

    size: SheetSize | Offcut | Vinyl
    stock: Stock
    used_mm: float
    blanks: list[Blank]
    placed: list[Placed]
    x_mm: float = 0.0
    y_mm: float = 0.0
    on_mat: bool = False

    @property
    def place(self) -> OffcutPlace:
        shelf = self.size.shelf if isinstance(self.size, Offcut) else ""
        return OffcutPlace(self.x_mm, self.y_mm, self.size.width_mm, self.size.length_mm, self.used_mm, shelf)


def _part(
    sheet: SheetLayout, vinyl: Vinyl, job: Job, supply: Supply, blanks: dict[str, Blank], placed: list[Placed]
) -> _Part:
    stock = supply.lots[sheet.lot].stock
    return _Part(
        size=sizes_of(vinyl, job.offcuts)[sheet.lot],
        stock=stock,
        used_mm=used_length_mm(sheet, blanks, stock),
        blanks=[blanks[place.key] for place in sheet.placements],
        placed=placed,
    )


def _cuts(parts: Sequence[_Part], mat: tuple[float, float] | None) -> list[list[_Part]]:
    """What is cut at once: the offcuts on each mat, then all else by itself."""
    by_mat = [part for part in parts if mat and isinstance(part.size, Offcut) and fits_mat(_extent(part), mat)]
    alone = [[part] for part in parts if not any(part is other for other in by_mat)]
    mats = pack([_extent(part) for part in by_mat], mat) if by_mat else []
    cuts = []
    for places in mats:
        cut = [replace(by_mat[index], x_mm=x, y_mm=y, on_mat=True) for index, x, y in places]
        prove_mat(mat, [(part.x_mm, part.y_mm, *_extent(part)) for part in cut])
        cuts.append(cut)
    return cuts + alone


def _extent(part: _Part) -> tuple[float, float]:
    return part.size.width_mm, part.size.length_mm


@dataclass(frozen=True)
class _Work:
    """A vinyl, all pieces that are cut of it, on what, and the ways to place them: the first shares no cut."""

    vinyl: Vinyl
    supply: Supply
    pieces: dict[str, Piece]
    ways: list[Way]

    @classmethod
    def of(cls, vinyl: Vinyl, production: Production, sharing: Sharing | None) -> _Work:
        pieces = production.of_vinyl(vinyl.name)
        supply = supply_of(vinyl, production.job.cutter, production.job.offcuts)
        ways = [plain_way(pieces, vinyl)]
        if sharing and vinyl.shared_cuts:
            ways += [shared_way(ways[0], way, vinyl) for way in ways_to_share(pieces, vinyl, supply, sharing.by_order)]
        return cls(vinyl, supply, {piece.id: piece for piece in pieces}, ways)

    @property
    def task(self) -> Task:
        first, *others = (tuple(way.blanks.values()) for way in self.ways)
        return Task(first, self.supply, tuple(others))


def sheet_notices(sheets: Sequence[Sheet], mat: tuple[float, float] | None = None) -> tuple[Notice, ...]:
    """What the maker should know of the sheets themselves, where the cutter has such a mat."""
    long = [
        Notice(
            code="long-page",
            message=f"{sheet.name} is {sheet.length_mm:.0f} mm long; many programs refuse a PDF page over "
            f"{LONGEST_PDF_MM:.0f} mm: use the SVG",
        )
        for sheet in sheets
        if sheet.length_mm > LONGEST_PDF_MM
    ]
    off_mat = [
        Notice(
            code="off-mat",
            message=f"{sheet.name} is an offcut larger than the mat of {mat[0]:g} x {mat[1]:g} mm: it is cut by itself, "
            "without the mat",
        )
        for sheet in sheets
        if mat and sheet.offcuts and not fits_mat((sheet.width_mm, sheet.length_mm), mat)
    ]
    return (*long, *off_mat)


def _sheet(name: str, vinyl: Vinyl, parts: Sequence[_Part], mat: tuple[float, float] | None) -> Sheet:
    first = parts[0]
    stock = first.stock
    width_mm, length_mm = mat if first.on_mat else _extent(first)
    if first.on_mat:
        stock = replace(stock, width_mm=width_mm, length_mm=length_mm)
    own = [blank for part in parts for blank in part.blanks]
    used_mm = max(part.y_mm + part.used_mm for part in parts)
    area_mm2, bound = piece_area_mm2(own), bound_mm(own, stock)
    return Sheet(
        name=name,
        vinyl=vinyl,
        width_mm=width_mm,
        length_mm=used_mm if length_mm is None else length_mm,
        used_length_mm=used_mm,
        piece_area_mm2=area_mm2,
        bound_mm=bound,
        tightness=bound / used_mm,
        waste=1.0 - area_mm2 / math.fsum(part.size.width_mm * part.used_mm for part in parts),
        placed=tuple(each.moved(part.x_mm, part.y_mm) for part in parts for each in part.placed),
        offcuts=tuple(part.place for part in parts if isinstance(part.size, Offcut)),
    )
