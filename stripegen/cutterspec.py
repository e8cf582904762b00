"""The table [cutter] of a job: what the cutter can do, and how its files are to be cut."""

from __future__ import annotations

from collections.abc import Mapping

from stripegen.spec import BAND_MM, Cutter
from stripegen.tables import Table

KEYS = ("cut_width", "longest_run", "mat", "band", "cut_past", "scale")
FURTHEST_OFF = 0.05  # a cutter that is farther off than this is not set up, or was measured wrongly
MOST_PAST_MM = 10.0
_READ = "{ drawn = 200, read = 199.6 }"


def read_cutter(top: Table) -> Cutter | None:
    """Read [cutter]; None if anything in it is wrong."""
    given = top.values.get("cutter", {})
    if not isinstance(given, Mapping):
        top.fault("cutter", "must be a table [cutter], with cut_width, longest_run, mat, band, cut_past, scale or some of them")
        return None
    table = Table(given, top.where.inner("[cutter]", "cutter"), top.faults, top.unit)
    values = {f"{key}_mm": table.length(key, None, above_mm=0) for key in ("cut_width", "longest_run")}
    values["mat_mm"] = _read_mat(table, values)
    values["band_mm"] = table.length("band", BAND_MM, above_mm=0)
    values["cut_past_mm"] = table.length("cut_past", 0.0, most_mm=MOST_PAST_MM)
    values["scale"] = _read_scale(table)
    table.finish(KEYS)
    return Cutter(where=table.where, **values) if table.is_sound else None


def _read_mat(table: Table, limits: Mapping[str, float | None]) -> tuple[float, float] | None:
    """The mat's width and length, no larger than what the cutter cuts."""
    own = table.child("mat", "{ width = 300, length = 300 }", optional=True)
    if own is None:
        return None
    sizes = tuple(own.length(key, above_mm=0) for key in ("width", "length"))
    own.finish(("width", "length"))
    for key, size_mm, limit in zip(("width", "length"), sizes, ("cut_width", "longest_run"), strict=True):
        most_mm = limits[f"{limit}_mm"]
        if size_mm is not None and most_mm is not None and size_mm > most_mm:
            own.fault(key, f"must be at most the {limit} of {most_mm:g} mm, or the cutter does not reach all of it")
    return sizes if own.is_sound else None


def _read_scale(table: Table) -> tuple[float, float]:
    """What lengths across and along the feed are drawn with, so that they are cut true: drawn over read."""
    own = table.child("scale", "{ across = " + _READ + " }", optional=True)
    if own is None:
        return 1.0, 1.0
    found = []
    for key in ("across", "along"):
        part = own.child(key, _READ, optional=True)
        if part is None:
            found.append(1.0)
            continue
        drawn, read = (part.length(name, above_mm=0) for name in ("drawn", "read"))
        part.finish(("drawn", "read"))
        if not part.is_sound:
            found.append(1.0)
            continue
        if abs(drawn / read - 1) > FURTHEST_OFF:
            part.fault("read", f"is off what was drawn by more than {FURTHEST_OFF:.0%}: measure again, and set up the cutter first")
        found.append(drawn / read)
    own.finish(("across", "along"))
    return found[0], found[1]
