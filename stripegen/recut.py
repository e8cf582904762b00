"""Some pieces of an earlier result, to be cut again: chosen by id, made longer if that is asked for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from stripegen.errors import Fault, GeometryError, JobError, Notice, Where
from stripegen.lengthen import lengthened
from stripegen.nearmiss import did_you_mean
from stripegen.production import Piece, Production
from stripegen.readback import Earlier
from stripegen.sheets import Sheet
from stripegen.spec import Job, Order
from stripegen.stockspec import usable
from stripegen.tables import show


@dataclass(frozen=True)
class Again:
    """What is cut again: which pieces, how much longer at each end, and margin and gap if not those they had."""

    pieces: tuple[str, ...]
    longer_mm: float = 0.0
    margin_mm: float | None = None
    gap_mm: float | None = None


def recut_production(earlier: Earlier, again: Again, of_offcuts: bool = True) -> Production:
    """Those pieces as a production of their own, in the order of the earlier result.

    They are cut of what that left over, where they fit on it, and of new vinyl; or of new vinyl alone.
    Raises JobError with a line for each name that is no piece's, or for each piece that can't be made longer.
    """
    pieces = [replace(piece, flat=piece.flat.at_corner()) for piece in chosen(earlier, again.pieces)]
    if again.longer_mm:
        pieces = _longer(pieces, again.longer_mm, earlier.file)
    names = dict.fromkeys(piece.vinyl for piece in pieces)
    vinyls = {name: earlier.vinyls[name] for name in names}
    own = {"margin_mm": again.margin_mm, "piece_gap_mm": again.gap_mm}
    own = {key: value for key, value in own.items() if value is not None}
    try:
        vinyls = {name: replace(vinyl, **own) for name, vinyl in vinyls.items()}
    except ValueError as error:
        raise JobError(Fault(Where(earlier.file, ""), "", "", str(error))) from None
    orders = tuple(Order(id=order, cup="", pattern="") for order in dict.fromkeys(piece.order for piece in pieces))
    job = Job(
        file=earlier.job or "",
        cups={},
        vinyls=vinyls,
        patterns={},
        orders=orders,
        cutter=earlier.cutter,
        offcuts=usable(earlier.offcuts, vinyls) if of_offcuts else (),
    )
    return Production(job, tuple(pieces), {}, tuple(_taken_for_granted(earlier, vinyls)))


def offcut_lines(sheets: Sequence[Sheet], left_by: str) -> list[str]:
    """Which sheets are offcuts that an earlier result left over, and may have been used since."""
    return [
        f"{sheet.name} is cut of an offcut of {offcut.width_mm:g} x {offcut.length_mm:g} mm that {left_by} left over: "
        "if it is no longer there, --new takes new vinyl"
        for sheet in sheets
        for offcut in sheet.offcuts
    ]


def chosen(earlier: Earlier, asked: Sequence[str]) -> list[Piece]:
    """The pieces of an earlier result that are asked for, each once, in its order.

    A name is a piece's id, or its beginning up to a dot; `*` stands for anything.
    """
    found: set[str] = set()
    faults = []
    ids = [piece.id for piece in earlier.pieces]
    for name in asked:
        form = re.compile(re.escape(name).replace(r"\*", ".*") + r"(\..*)?")
        own = {each for each in ids if form.fullmatch(each)}
        found |= own
        if not own:
            faults.append(Fault(Where(earlier.file, ""), "pieces", show(name), _right(name, ids)))
    if faults:
        raise JobError(*dict.fromkeys(faults))
    return [piece for piece in earlier.pieces if piece.id in found]


def _right(name: str, ids: Iterable[str]) -> str:
    """What would be right in place of a name that no piece has: the nearest among those that begin like it."""
    if "*" in name:
        return "no piece's id is like this"
    parts = name.split(".")
    known = [each.split(".") for each in ids]
    for count in range(1, len(parts) + 1):
        begun = [each for each in known if each[: count - 1] == parts[: count - 1]]
        if not any(each[:count] == parts[:count] for each in begun):
            near = dict.fromkeys(".".join(each[:count]) for each in begun if len(each) >= count)
            return "no piece has this id or one that begins so" + did_you_mean(".".join(parts[:count]), near)
    return "no piece has this id or one that begins so"


def _longer(pieces: Sequence[Piece], by_mm: float, file: str) -> list[Piece]:
    made, faults = [], []
    for piece in pieces:
        try:
            if piece.flat.holes:
                raise GeometryError("it has a hole: only a straight strip can be")
            points = lengthened(piece.flat.points, by_mm)
        except GeometryError as error:
            faults.append(Fault(Where(file, ""), piece.id, "", f"can't be made longer: {error}"))
            continue
        # how it lies on the cup and what is seen of it are told as before
        flat = replace(piece.flat, points=points, cut_mm=piece.flat.cut_mm + 2 * by_mm)
        made.append(replace(piece, flat=flat))
    if faults:
        raise JobError(*faults)
    return made


def _taken_for_granted(earlier: Earlier, vinyls: dict) -> list[Notice]:
    return [
        Notice(
            code="taken-for-granted",
            message=f"{earlier.file} does not tell how {name} is cut: margin {vinyl.margin_mm:g} mm, gap "
            f"{vinyl.piece_gap_mm:g} mm, no grain, cut from its face, as far across as it is wide",
        )
        for name, vinyl in vinyls.items()
        if name in earlier.plain
    ]
