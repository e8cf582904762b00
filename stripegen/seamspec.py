"""Seams as a cup or an order says them: where two panels meet, and how far apart they lie there."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from stripegen.errors import Steps
from stripegen.spec import Along, Around, Seam
from stripegen.tables import NAME_MEANING, Table, is_name, parse_place, show_key

DEFAULT_SEAMS = {"front": 0.0, "back": math.pi}

_SEAMS = "{ front = 0, back = { rim = 176.5, base = 178 } }"
_FORMS = "{ around = 180, opening = 2 }, or with rim and base, or along and at, in place of around"
_PLACES = {"around": ("around",), "rim": ("rim", "base"), "base": ("rim", "base")}


def default_seams() -> dict[str, Seam]:
    """The seams that every cup has unless it says otherwise."""
    return {name: Seam(name=name, rim=turn, base=turn) for name, turn in DEFAULT_SEAMS.items()}


def read_seams(table: Table, known: Collection[str] = ()) -> dict[str, Seam]:
    """Read the key `seams` of a cup or an order: what it gives, without those at fault.

    No name may differ from another, or from a `known` one, only by its case.
    """
    given = table.child("seams", _SEAMS, optional=True)
    seams: dict[str, Seam] = {}
    folded = {name.casefold(): name for name in known}
    for name in given.values if given else ():
        if not is_name(name):
            given.fault(name, f"must be {NAME_MEANING}", read=show_key(name))
            continue
        twin = folded.setdefault(name.casefold(), name)
        if twin != name:
            given.fault(name, right_of_twin(twin))
            continue
        seam = _read_seam(given, name)
        if None not in seam.values():
            seams[name] = Seam(name=name, **seam)
    return seams


def right_of_twin(twin: str) -> str:
    """What to say of a seam whose name differs from another's only by its case."""
    return f'differs from the seam "{twin}" only by its case: must have another name'


def off_the_wall(place: Around | None, wall_mm: float) -> str | None:
    """What to say of a place along a girth that is not on a wall so long; None where it is."""
    if isinstance(place, Along) and place.at_mm > wall_mm:
        return f"at must lie on the wall, which ends {wall_mm:.2f} mm down"
    return None


def seams_off_the_wall(seams: Mapping[str, Seam], wall_mm: float) -> Iterator[tuple[Steps, str, str]]:
    """Every place of seams that is not on a wall so long: the way to its key, what was read, what would be right."""
    for name, seam in seams.items():
        ends = {(): seam.rim} if seam.rim == seam.base else {("rim",): seam.rim, ("base",): seam.base}
        for end, place in ends.items():
            right = off_the_wall(place, wall_mm)
            if right:
                yield ("seams", name, *end), f"at = {place.at_mm:.2f} mm", right


def _read_seam(given: Table, name: str) -> dict[str, Any]:
    """The places at rim and base and the opening; any of them None after a fault."""
    value = given.values[name]
    if not isinstance(value, Mapping):
        place = given.read(name, lambda value: parse_place(value, given.unit, seams=False))
        return {"rim": place, "base": place}
    seam = given.child(name, _FORMS)
    opening_mm = seam.length("opening", 0.0)
    keys = next((keys for key, keys in _PLACES.items() if key in seam), None)
    if {"along", "at"} & set(value):
        keys = ("along", "at")
        only = {key: value[key] for key in keys if key in value}
        try:
            place = parse_place(only, given.unit, seams=False)
        except ValueError as error:
            seam.fault_whole(str(error))
            place = None
        places = [place]
    elif keys:
        places = [seam.place(key, seams=False) for key in keys]
    else:
        keys, places = ("around", "rim", "base", "along", "at"), [None]
        if not set(value) - {"opening"}:
            seam.fault_whole(f"says not where: must be such as {_FORMS}")
    seam.finish((*keys, "opening"))
    return {"rim": places[0], "base": places[-1], "opening_mm": opening_mm}
