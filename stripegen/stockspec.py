"""A stock file as checked values: the vinyl in hand, whatever job it is for; and a job that is cut of it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from stripegen.errors import Fault, JobError, Where
from stripegen.nearmiss import near_miss
from stripegen.shelf import read_top
from stripegen.spec import NOWHERE, Job, Offcut, SheetSize, Vinyl
from stripegen.tables import COUNT_LIMIT, Table, show
from stripegen.units import ROLL_LIMIT_MM

KINDS = ("roll", "sheet", "offcut")
SAME_MM = 1e-5  # sizes are the same if they differ by less: results hold them to 1e-6 mm
_KEYS = {
    "roll": ("vinyl", "length_left"),
    "sheet": ("vinyl", "width", "length", "quantity"),
    "offcut": ("vinyl", "width", "length", "quantity", "shelf", "left_of"),
}
_BOOKED_KEYS = ("result", "manifest", "sheets")
_ENTRIES_MOST = 10_000
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A table of a stock file: a roll with the length that is left of it, or so many sheets or offcuts, 0 where none is.

    A sheet without a size is of the vinyl's own. `shelf` is where an offcut lies, `left_of` what it was cut from.
    """

    vinyl: str
    width_mm: float | None = None
    length_mm: float | None = None
    quantity: int = 1
    shelf: str = ""
    left_of: str = ""
    where: Where = field(default=NOWHERE, compare=False)

    def is_of_size(self, width_mm: float, length_mm: float) -> bool:
        return (
            self.width_mm is not None
            and self.length_mm is not None
            and abs(self.width_mm - width_mm) < SAME_MM
            and abs(self.length_mm - length_mm) < SAME_MM
        )


@dataclass(frozen=True, slots=True)
class Booked:
    """A result that is counted off: the sha256 of its manifest, and which of its sheets; None: all."""

    result: str
    manifest: str
    sheets: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InHand:
    """All that a stock file says, in its order. Of what it says nothing there is as much as the job says."""

    file: str
    units: str = "mm"
    rolls: tuple[Entry, ...] = ()
    sheets: tuple[Entry, ...] = ()
    offcuts: tuple[Entry, ...] = ()
    booked: tuple[Booked, ...] = ()

    @property
    def vinyls(self) -> list[str]:
        """The vinyls that it names, sorted."""
        return sorted({entry.vinyl for entry in (*self.rolls, *self.sheets, *self.offcuts)})

    def is_booked(self, manifest: str, sheet: str) -> bool:
        return any(each.manifest == manifest and (each.sheets is None or sheet in each.sheets) for each in self.booked)


def parse_stock(text: str, file: str) -> InHand:
    """Read a stock file's text; an empty one is right. Raises JobError with all its faults."""
    faults: list[Fault] = []
    top = read_top(text, file, faults)
    entries = {kind: [_entry(kind, table) for table in top.headed(kind, kind, _ENTRIES_MOST)] for kind in KINDS}
    booked = [_booked(table) for table in top.headed("booked", "booked result", _ENTRIES_MOST)]
    top.finish(("units", *KINDS, "booked"))
    if not faults:
        _check_alone(entries["roll"], faults, "length_left", "has one roll already: what is left of another is an [[offcut]]")
        _check_alone(entries["sheet"], faults, "quantity", "has sheets of this size already: add them up in one table")
    if faults:
        raise JobError(*dict.fromkeys(faults))
    rolls, sheets, offcuts = (tuple(entries[kind]) for kind in KINDS)
    return InHand(file=file, units=top.unit, rolls=rolls, sheets=sheets, offcuts=offcuts, booked=tuple(booked))


def _entry(kind: str, table: Table) -> Entry | None:
    values = {"vinyl": table.name("vinyl")}
    if kind == "roll":
        values["length_mm"] = table.length("length_left", most_mm=ROLL_LIMIT_MM)
    else:
        optional = () if kind == "offcut" else (None,)
        values["width_mm"] = table.length("width", *optional, above_mm=0)
        values["length_mm"] = table.length("length", *optional, above_mm=0)
        values["quantity"] = table.read("quantity", _parse_count, *((1,) if kind == "offcut" else ()))
    if kind == "sheet" and ("width" in table) != ("length" in table):
        table.fault("", "has one of width and length: give both, or neither where sheets are of the vinyl's own size")
    if kind == "offcut":
        values |= {key: table.read(key, _parse_note, "") for key in ("shelf", "left_of")}
    table.finish(_KEYS[kind])
    return Entry(where=table.where, **values) if table.is_sound else None


def _booked(table: Table) -> Booked | None:
    result = table.read("result", _parse_note, "")
    manifest = table.read("manifest", _parse_sha256)
    sheets = table.several("sheets", _parse_note, None) if "sheets" in table else None
    table.finish(_BOOKED_KEYS)
    return Booked(result, manifest, sheets) if table.is_sound else None


def _parse_count(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= COUNT_LIMIT:
        raise ValueError(f"must be a whole number from 0 to {COUNT_LIMIT}")
    return value


def _parse_note(value: object) -> str:
    if not isinstance(value, str) or len(value) > 200 or not value.isprintable():
        raise ValueError("must be one line of text in quotes, at most 200 characters")
    return value


def _parse_sha256(value: object) -> str:
    if not isinstance(value, str) or not _SHA256.fullmatch(value):
        raise ValueError("must be 64 digits and letters as stripegen wrote them: leave this table as it was")
    return value


def _check_alone(entries: Iterable[Entry], faults: list[Fault], key: str, right: str) -> None:
    seen: set[tuple] = set()
    for entry in entries:
        what = (entry.vinyl, None) if key == "length_left" else (entry.vinyl, entry.width_mm, entry.length_mm)
        if what in seen:
            faults.append(Fault(entry.where, "vinyl", show(entry.vinyl), right))
        seen.add(what)


def with_stock(job: Job, stock: InHand, name: str) -> Job:
    """The job, cut of what this file says is in hand: that takes the place of what the job says of it.

    `name` is how the job or the command line names the file. Vinyls that the job lacks are left alone, and offcuts too
    small for a vinyl's margins. Raises JobError where the two contradict each other.
    """
    faults = [
        Fault(offcut.where, "", "", f"a job with a stock file has no offcuts of its own: move them into {stock.file}")
        for offcut in job.offcuts
        if offcut.where.file != stock.file
    ]
    faults += _misfits(job, stock)
    if faults:
        raise JobError(*faults)
    vinyls = {name: _vinyl_in_hand(vinyl, stock) for name, vinyl in job.vinyls.items()}
    offcuts = [
        Offcut(
            vinyl=entry.vinyl,
            width_mm=entry.width_mm,
            length_mm=entry.length_mm,
            quantity=entry.quantity,
            shelf=entry.shelf,
            where=entry.where,
        )
        for entry in stock.offcuts
        if entry.quantity and entry.vinyl in vinyls
    ]
    return replace(job, vinyls=vinyls, offcuts=usable(offcuts, vinyls), stock=name)


def usable(offcuts: Iterable[Offcut], vinyls: Mapping[str, Vinyl]) -> tuple[Offcut, ...]:
    """Those of which their vinyls' margins leave something."""
    return tuple(
        offcut
        for offcut in offcuts
        if offcut.vinyl in vinyls and min(offcut.width_mm, offcut.length_mm) > 2 * vinyls[offcut.vinyl].edge_mm
    )


def _misfits(job: Job, stock: InHand) -> list[Fault]:
    """Rolls of what the job has in sheets, and the other way round; sheets of no use."""
    faults, own = [], {}
    for entry in stock.rolls:
        vinyl = job.vinyls.get(entry.vinyl)
        if vinyl and vinyl.length_mm is not None:
            right = f"{job.file} has it in sheets {vinyl.length_mm:g} mm long: a [[sheet]] or an [[offcut]] is meant"
            faults.append(Fault(entry.where, "vinyl", show(entry.vinyl), right))
    for entry in stock.sheets:
        vinyl = job.vinyls.get(entry.vinyl)
        if vinyl is None:
            continue
        least_mm = 2 * vinyl.margin_mm
        if vinyl.length_mm is None:
            right = f"{job.file} has it as a roll: a [[roll]] or an [[offcut]] is meant"
            faults.append(Fault(entry.where, "vinyl", show(entry.vinyl), right))
        elif is_own_size(entry, vinyl):
            if vinyl.name in own:
                right = f"{own[vinyl.name]} has sheets of this size too: add them up in one table"
                faults.append(Fault(entry.where, "vinyl", show(entry.vinyl), right))
            own.setdefault(vinyl.name, entry.where.table)
        elif min(entry.width_mm, entry.length_mm) <= least_mm:
            read = f"{entry.width_mm:g} x {entry.length_mm:g} mm"
            right = f"must be more than its two margins of {vinyl.margin_mm:g} mm each way, or nothing of it is left to cut"
            faults.append(Fault(entry.where, "", read, right))
    return faults


def _vinyl_in_hand(vinyl: Vinyl, stock: InHand) -> Vinyl:
    for roll in stock.rolls:
        if roll.vinyl == vinyl.name:
            return replace(vinyl, length_left_mm=roll.length_mm)
    counted = [sheet for sheet in stock.sheets if sheet.vinyl == vinyl.name]
    own = [sheet for sheet in counted if is_own_size(sheet, vinyl)]
    others = [sheet for sheet in counted if sheet not in own]
    sizes = [size for size in vinyl.sizes if not any(each.is_of_size(size.width_mm, size.length_mm) for each in others)]
    sizes += [SheetSize(sheet.width_mm, sheet.length_mm, sheet.quantity) for sheet in others]
    return replace(vinyl, quantity=own[0].quantity if own else vinyl.quantity, sizes=tuple(sizes))


def is_own_size(sheet: Entry, vinyl: Vinyl) -> bool:
    """Whether sheets in hand are of the size in which their vinyl is bought."""
    return sheet.width_mm is None or sheet.is_of_size(vinyl.width_mm, vinyl.length_mm)


def unused_line(job: Job, stock: InHand) -> str | None:
    """Which vinyls in hand the job has none of, in a line; a slip among them is pointed out."""
    meant = {name: near_miss(name, job.vinyls) for name in stock.vinyls if name not in job.vinyls}
    named = ", ".join(f'{name} (did you mean "{other}"?)' if other else name for name, other in meant.items())
    return f"{stock.file} holds vinyl that the job does not use: {named}" if named else None
