"""What each sheet of a result takes of the vinyl in hand, read from its manifest: that is counted off once it is cut."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass

from stripegen.manifestfile import UNREADABLE, manifest_of, refusal, told_of
from stripegen.tables import is_name, show


@dataclass(frozen=True, slots=True)
class Used:
    """A piece of vinyl that a sheet is cut of, used so far from its beginning; `length_mm` None: a roll."""

    width_mm: float
    length_mm: float | None
    used_mm: float
    shelf: str = ""


@dataclass(frozen=True, slots=True)
class SheetTaken:
    """A sheet of a result: new vinyl, or the offcuts that it consists of.

    `own_size_mm` is the vinyl as bought; length None: a roll.
    """

    name: str
    vinyl: str
    margin_mm: float
    own_size_mm: tuple[float, float | None]
    used: tuple[Used, ...]
    is_new: bool


@dataclass(frozen=True, slots=True)
class Taken:
    """A result, the sha256 of its manifest, and what its sheets take."""

    file: str
    name: str
    sha256: str
    sheets: tuple[SheetTaken, ...]


def read_taken(data: bytes, file: str) -> Taken:
    """Read a manifest of `nest`, `strips` or `recut`. Raises JobError, one line, where it can't be understood."""
    manifest = manifest_of(data, file)
    try:
        job, command = manifest["job"], manifest["command"]
        of = f" of {job}" if isinstance(job, str) and job.isprintable() and 0 < len(job) <= 40 else ""
        sheets = tuple(_sheet(row) for row in manifest["sheets"])
        names = {sheet.name for sheet in sheets}
    except UNREADABLE as error:
        raise refusal(file, f"it does not tell what its sheets take: {told_of(error)}") from None
    if not is_name(command) or len(names) < len(sheets):
        raise refusal(file, "it is no whole manifest of sheets")
    return Taken(file, f"{command}{of}", hashlib.sha256(data).hexdigest(), sheets)


def _sheet(row: Mapping) -> SheetTaken:
    film = row["film"]
    if not is_name(row["vinyl"]):
        raise ValueError(f"{show(row['vinyl'])} is no name of a vinyl")
    if not (isinstance(row["name"], str) and row["name"].isprintable() and 0 < len(row["name"]) <= 80):
        raise ValueError(f"{show(row['name'])} is no name of a sheet")
    own = _length(film["width"]), None if film["length"] is None else _length(film["length"])
    if row["offcuts"]:
        used = tuple(
            Used(*(_length(each[key]) for key in ("width", "length", "used_length")), str(each.get("shelf", "")))
            for each in row["offcuts"]
        )
    else:
        length = None if own[1] is None else _length(row["length"])
        used = (Used(_length(row["width"]), length, _length(row["used_length"])),)
    return SheetTaken(row["name"], row["vinyl"], float(film["margin"]), own, used, not row["offcuts"])


def _length(value: object) -> float:
    length_mm = float(value)
    if not (math.isfinite(length_mm) and length_mm > 0):
        raise ValueError(f"{show(value)} is no length")
    return length_mm
