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
    Supply,
    bound_mm,
    piece_area_mm2,
    turn_matrix,
    used_length_mm,
)
from stripegen.mats import fits_mat, pack
from stripegen.outline import Outline, Ring, Stroke
from stripegen.planks import Plank
from stripegen.production import Piece, Production
from stripegen.proof import prove_mat
from stripegen.sharing import Joined, ways_to_share
from stripegen.spec import Job, Offcut, SheetSize, Vinyl
from stripegen.stock import blank_of, plank_blank, sizes_of, supply_of, unit_blank
from stripegen.tasks import Lay, Prove, Sharing, Task, outcomes

LONGEST_PDF_MM = 14_400 / 72 * 25.4  # the limit of PDF 1.7's own page sizes, Annex C


@dataclass(frozen=True)
class SharedPlace:
    """Where a strip lies that shares cuts: its ring on the sheet, so that shared sides are the same numbers.

    The ring ends with the side that it shares with the strip `before`, if there is one; `after` is the next.
    """

    ring: Ring
    before: str | None
    after: str | None

    @property
    def saved_mm(self) -> float:
        """How much of it is cut with the strip before."""
        last = [*self.ring.walk()][-1]
        return math.dist(last[0], last[1].end) if self.before else 0.0


@dataclass(frozen=True)
class Placed:
    """A piece on a sheet."""

    piece: Piece
    placement: Placement
    shared: SharedPlace | None = None

    @property
    def outline(self) -> Outline:
        """The true outline where it lies on the sheet."""
        if self.shared:
            return Outline(self.shared.ring)
        place = self.placement
        return self.piece.flat.outline.moved(math.radians(place.turn_deg), place.dx_mm, place.dy_mm)

    @property
    def cut(self) -> Outline | Stroke:
        """What is cut of the outline: all, but for a side that is cut with the strip before."""
        if self.shared and self.shared.before:
            return Stroke(self.shared.ring.start, self.shared.ring.edges[:-1])
        return self.outline

    @property
    def shares_cut_with(self) -> tuple[str, ...]:
        """The pieces with which it shares a cut."""
        both = (self.shared.before, self.shared.after) if self.shared else ()
        return tuple(other for other in both if other)

    def moved(self, dx_mm: float, dy_mm: float) -> Placed:
        place, shared = self.placement, self.shared
        if shared:
            shared = replace(shared, ring=shared.ring.moved(0.0, dx_mm, dy_mm))
        return replace(
            self, placement=replace(place, dx_mm=place.dx_mm + dx_mm, dy_mm=place.dy_mm + dy_mm), shared=shared
        )


@dataclass(frozen=True)
class OffcutPlace:
    """An offcut in the frame of the sheet that it is, or of the mat on which it lies; used so far from its own end."""

    x_mm: float
    y_mm: float
    width_mm: float
    length_mm: float
    used_length_mm: float


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
    faults: list[str] = []
    job = production.job
    works = [_Work.of(vinyl, production, sharing) for vinyl in production.vinyls]
    tasks = [work.task for work in works]
    for work, outcome in zip(works, outcomes(tasks, lay, prove, executor, progress, sharing), strict=True):
        vinyl = work.vinyl
        if isinstance(outcome, NestError):
            faults += [f"{vinyl.where}: {line}" for line in str(outcome).splitlines()]
            continue
        parts, way = [], work.ways[outcome.number]
        for sheet in outcome.layout.sheets:
            placed = [each for place in sheet.placements for each in _placed(place, work.pieces, way.wholes)]
            parts.append(_part(sheet, vinyl, job, work.supply, way.blanks, placed))
        for number, cut in enumerate(_cuts(parts, job.cutter.mat_mm), 1):
            sheets.append(_sheet(f"{stem}-{vinyl.name}-{number}", vinyl, cut, job.cutter.mat_mm))
    if faults:
        raise NestError("\n".join(faults))
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
        return OffcutPlace(self.x_mm, self.y_mm, self.size.width_mm, self.size.length_mm, self.used_mm)


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
    ways: list[_Way]

    @classmethod
    def of(cls, vinyl: Vinyl, production: Production, sharing: Sharing | None) -> _Work:
        pieces = production.of_vinyl(vinyl.name)
        supply = supply_of(vinyl, production.job.cutter, production.job.offcuts)
        ways = [_plain(pieces, vinyl)]
        if sharing and vinyl.shared_cuts:
            ways += [_shared(ways[0], way, vinyl) for way in ways_to_share(pieces, vinyl, supply, sharing.by_order)]
        return cls(vinyl, supply, {piece.id: piece for piece in pieces}, ways)

    @property
    def task(self) -> Task:
        first, *others = (tuple(way.blanks.values()) for way in self.ways)
        return Task(first, self.supply, tuple(others))


@dataclass(frozen=True)
class _Whole:
    """Pieces that are placed as one, where each lies in their common frame, and the shift from that to the blank's.

    `plank`: they share cuts, and lie there.
    """

    pieces: list[Piece]
    poses: list[tuple[float, float, float]]
    shift: tuple[float, float]
    plank: Plank | None = None


@dataclass(frozen=True)
class _Way:
    """What is placed, by name: a piece by itself, a unit or a plank."""

    blanks: dict[str, Blank]
    wholes: dict[str, _Whole]


def _plain(pieces: Sequence[Piece], vinyl: Vinyl) -> _Way:
    """Each piece by itself, or with its unit."""
    blanks: dict[str, Blank] = {}
    wholes: dict[str, _Whole] = {}
    for piece in pieces:
        if piece.unit is None:
            blanks[piece.id] = blank_of(piece.id, piece.flat, vinyl)
            continue
        key, unit = piece.unit.id, piece.unit.unit
        if key not in wholes:
            blanks[key], shift = unit_blank(key, unit, vinyl)
            wholes[key] = _Whole([], [], shift)
        wholes[key].pieces.append(piece)
        wholes[key].poses.append(unit.poses[piece.unit.number])
    return _Way(blanks, wholes)


def _shared(plain: _Way, planks: Sequence[Joined], vinyl: Vinyl) -> _Way:
    """The same, but for the pieces that lie in planks."""
    blanks, wholes = dict(plain.blanks), dict(plain.wholes)
    for joined in planks:
        for piece in joined.pieces[1:]:
            del blanks[piece.id]
        blanks[joined.key], shift = plank_blank(joined.key, joined.plank, vinyl)
        wholes[joined.key] = _Whole(list(joined.pieces), list(joined.plank.poses), shift, joined.plank)
    return _Way(blanks, wholes)


def _placed(place: Placement, pieces: dict[str, Piece], wholes: dict[str, _Whole]) -> list[Placed]:
    """The pieces that lie where a blank does."""
    if place.key not in wholes:
        return [Placed(pieces[place.key], place)]
    whole, found = wholes[place.key], []
    for number, (piece, (own_turn, x, y)) in enumerate(zip(whole.pieces, whole.poses, strict=True)):
        dx, dy = _on_sheet(place, (x + whole.shift[0], y + whole.shift[1]))
        turn_deg = place.turn_deg + math.degrees(own_turn)
        own = Placement(key=piece.id, turn_deg=turn_deg, dx_mm=dx, dy_mm=dy)
        found.append(Placed(piece, own, _shared_place(whole, number, place) if whole.plank else None))
    return found


def _shared_place(whole: _Whole, number: int, place: Placement) -> SharedPlace:
    ring = whole.plank.rings[number].moved(math.radians(place.turn_deg), *_on_sheet(place, whole.shift))
    before, after = (
        whole.pieces[other].id if 0 <= other < len(whole.pieces) else None for other in (number - 1, number + 1)
    )
    return SharedPlace(ring, before, after)


def _on_sheet(place: Placement, point: tuple[float, float]) -> tuple[float, float]:
    """Where a point of a blank lies."""
    cos, sin = turn_matrix(place.turn_deg)
    x, y = point
    return x * cos - y * sin + place.dx_mm, x * sin + y * cos + place.dy_mm


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
