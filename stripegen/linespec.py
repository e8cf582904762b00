"""A pattern table and its lines, as checked values: which keys each kind of line takes and what they mean."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from stripegen.errors import Steps
from stripegen.linerefs import check_names, check_references
from stripegen.spec import PATHS, Chevron, Diagonal, Down, Line, Pattern, Repeat, Ring, Vertical
from stripegen.tables import Table, is_name, parse_down, parse_name, parse_place, show_key
from stripegen.units import parse_degrees

KINDS = ("vertical", "ring", "diagonal", "chevron")
LINES_MOST = 1_000
PATTERN_KEYS = ("rim_clearance", "base_clearance", "together")

_COMMON = (
    "name", "kind", "width", "vinyl", "stripes", "gap", "under", "tuck", "clear_of", "by", "resin",
    "split", "together", "repeat", "spare",
)  # fmt: skip
KEYS = {
    "vertical": (*_COMMON, "around", "from", "to", "narrows", "mirror", "ends", "slit"),
    "ring": (*_COMMON, "down", "up", "start", "end", "joint", "overlap", "ends", "slit"),
    "diagonal": (*_COMMON, "start", "end", "path", "mirror", "ends", "slit"),
    "chevron": (*_COMMON, "top", "bottom", "points", "start", "joint", "overlap", "path"),
}
_EVERY_KEY = tuple(dict.fromkeys(key for keys in KEYS.values() for key in keys))
_ENDS = {
    "vertical": ("level", "square"),  # upright would run along the line and never across it
    "ring": ("upright", "square"),  # and so would level
    "diagonal": ("level", "upright", "square"),
}
_DEFAULT_ENDS = {"vertical": "level", "ring": "upright", "diagonal": "level", "chevron": "upright"}


def read_pattern(name: str, table: Table) -> Pattern | None:
    """Read one pattern table with its lines. None if anything is wrong, as ``table.faults`` then tells."""
    return build_pattern(name, table, line_tables(name, table))


def build_pattern(name: str, table: Table, tables: list[Table]) -> Pattern | None:
    """Read one pattern table, its lines from tables of their own."""
    clearances = [table.length(f"{end}_clearance", None) for end in ("rim", "base")]
    together = table.boolean("together", False)
    table.finish(("line", *PATTERN_KEYS))
    lines = [_read_line(line) for line in tables]
    check_names(tables)
    check_references(tables, lines)
    if not table.is_sound or not all(line.is_sound for line in tables):
        return None
    return Pattern(
        name=name,
        lines=tuple(lines),
        rim_clearance_mm=clearances[0],
        base_clearance_mm=clearances[1],
        together=together,
        where=table.where,
    )


def seams_named(line: Line) -> Iterator[tuple[Steps, str]]:
    """Every seam that a line names, with the way to the key that names it."""
    match line:
        case Vertical():
            places = [*((("around",), place) for place in line.around), (("mirror",), line.mirror)]
        case Ring():
            places = [(("start",), line.start), (("end",), line.end), (("joint",), line.joint)]
        case Diagonal():
            places = [
                (("start", "around"), line.start_around),
                (("end", "around"), line.end_around),
                (("mirror",), line.mirror),
            ]
        case Chevron():
            places = [(("start",), line.start), (("joint",), line.joint)]
        case _:
            places = []
    if line.repeat and line.repeat.between:
        places += [(("repeat", "between"), place) for place in line.repeat.between]
    return ((key, place) for key, place in places if isinstance(place, str))


def line_tables(pattern: str, table: Table) -> list[Table]:
    """The tables of a pattern's lines, in its order; none after a fault."""
    entries = table.values.get("line", [])
    heading = f"[[pattern.{show_key(pattern)}.line]]"
    if not isinstance(entries, list) or not all(isinstance(entry, Mapping) for entry in entries):
        table.fault("line", f"must be written {heading}, with two brackets on each side, once for every line")
        return []
    if not 1 <= len(entries) <= LINES_MOST:
        table.fault("line", f"must be 1 to {LINES_MOST} tables {heading}", read=f"{len(entries)} lines")
        return []
    found = []
    for n, entry in enumerate(entries, start=1):
        label = f'"{entry["name"]}"' if is_name(entry.get("name")) else f"number {n}"
        where = table.where.inner(f"{heading} {label}", "line", n - 1)
        found.append(Table(entry, where, table.faults, table.unit))
    return found


def _read_line(table: Table) -> Line | None:
    kind = table.choice("kind", KINDS)
    if kind is None:
        table.finish(_EVERY_KEY)
        return None
    common = _read_common(table, kind)
    build, own = {
        "vertical": _read_vertical,
        "ring": _read_ring,
        "diagonal": _read_diagonal,
        "chevron": _read_chevron,
    }[kind](table, common["repeat"])
    table.finish(KEYS[kind], _elsewhere(kind))
    return build(**common, **own) if table.is_sound else None


def _elsewhere(kind: str) -> dict[str, str]:
    """What to say of keys that other kinds of line take."""
    told = {}
    for key in _EVERY_KEY:
        takers = [other for other in KINDS if key in KEYS[other]]
        told[key] = f"is for {' and '.join(takers)} lines, not for a {kind}: leave it out"
    if kind == "chevron":
        told["ends"] = "has no place on a chevron, which is always cut upright: leave it out"
    return told


def _read_common(table: Table, kind: str) -> dict[str, Any]:
    common = {
        "name": table.name("name"),
        "vinyl": table.name("vinyl", example="a role that the orders bind to a vinyl, or a vinyl's name"),
        "width_mm": table.length("width", above_mm=0),
        "stripes": table.integer("stripes", 1),
        "gap_mm": table.length("gap", 2.0),
        "repeat": _read_repeat(table, kind),
        "ends": _DEFAULT_ENDS[kind],
        "under": table.several("under", parse_name, ()),
        "tuck_mm": table.length("tuck", 1.5),
        "clear_of": table.several("clear_of", parse_name, ()),
        "by_mm": table.length("by", 1.0),
        "resin_mm": table.length("resin", None),
        "split": table.boolean("split", kind == "ring"),
        "together": table.boolean("together", False),
        "spare": table.integer("spare", None, least=0),
        "where": table.where,
    }
    if "slit" in KEYS[kind]:
        common["slit"] = table.boolean("slit", False)
    if kind in _ENDS:
        common["ends"] = table.choice("ends", _ENDS[kind], common["ends"])
    for key, needs in (("gap", "stripes"), ("tuck", "under"), ("by", "clear_of")):
        if key in table and needs not in table:
            table.fault(key, f"means nothing without {needs}: give that too, or leave {key} out")
    return common


def _read_repeat(table: Table, kind: str) -> Repeat | None:
    value = table.values.get("repeat")
    if not isinstance(value, Mapping):
        count = table.integer("repeat", None)
        return None if count is None else Repeat(count=count)
    repeat = table.child("repeat", "{ count = 3, step = 30 }")
    count = repeat.integer("count")
    step_rad = repeat.read("step", parse_degrees, None)
    between = None
    if kind == "vertical":
        between = repeat.read("between", lambda value: _parse_between(value, table.unit_of("repeat")), None)
    repeat.finish(
        ("count", "step", "between") if kind == "vertical" else ("count", "step"),
        {"between": f"is for vertical lines only, not for a {kind}"},
    )
    if ("step" in repeat) + ("between" in repeat) != 1:
        table.fault(
            "repeat", 'must have count with either step or, for verticals, between = ["front", "back"]'
        )
    if not repeat.is_sound or not table.is_sound:
        return None
    if step_rad is not None and _meets_itself(count, value["step"]):
        repeat.fault(
            "step", f"brings some of the {count} onto others: must not make whole turns within the count"
        )
        return None
    return Repeat(count=count, step_rad=step_rad, between=between)


def _meets_itself(count: int, step_deg: float) -> bool:
    return any(abs(math.remainder(n * step_deg, 360)) < 1e-6 for n in range(1, count))


def _parse_between(value: object, unit: str) -> tuple:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError('must be two places round the cup, such as ["front", "back"]')
    places = tuple(parse_place(place, unit) for place in value)
    if places[0] == places[1]:
        raise ValueError("must be two places that differ")
    return places


def _read_vertical(table: Table, repeat: Repeat | None) -> tuple[type[Line], dict[str, Any]]:
    around = table.several("around", lambda value: parse_place(value, table.unit_of("around")), ())
    start, end = table.down("from", None), table.down("to", None)
    mirror = None
    if isinstance(table.values.get("mirror"), bool):
        table.fault(
            "mirror", "must be a place round the cup: only a diagonal has a middle of its own to mirror in"
        )
    else:
        mirror = table.place("mirror", None)
    if repeat and repeat.between and "around" in table:
        table.fault(
            "around", "can't stand beside repeat.between, which says where the lines go: leave one out"
        )
    elif around and len(around) > 1 and "repeat" in table:
        table.fault(
            "around", "has several places, and the line has repeat too: must be one place, or no repeat"
        )
    elif "around" not in table and "repeat" not in table:
        table.fault("around", "is missing: one place round the cup or more, or repeat")
    if around and len(set(around)) < len(around):
        table.fault("around", "names a place twice: must be different places")
    _check_above(table, "to", start, end, "must be farther down than from")
    if not around and repeat and not repeat.between:
        around = (0.0,)
    narrows = table.boolean("narrows", False)
    if narrows and table.values.get("slit") is True:
        table.fault("slit", "can't stand beside narrows, whose strips have meridians as edges: leave one out")
    return Vertical, {"around": around, "start": start, "end": end, "narrows": narrows, "mirror": mirror}


def _read_ring(table: Table, repeat: Repeat | None) -> tuple[type[Line], dict[str, Any]]:
    if ("down" in table) == ("up" in table):
        both = (
            "can't stand beside up: leave one out"
            if "down" in table
            else "is missing: down, or up from the base"
        )
        table.fault("down", both)
    key = "up" if "up" in table and "down" not in table else "down"
    downs = table.several(key, lambda value: parse_down(value, table.unit_of(key), from_base=key == "up"), ())
    if downs and len(set(downs)) < len(downs):
        table.fault(key, "names a place twice: must be different places")
    start, end = table.place("start", None), table.place("end", None)
    if ("start" in table) != ("end" in table):
        lone, other = ("start", "end") if "start" in table else ("end", "start")
        table.fault(other, f"is missing: a part of a ring has start and end, and this one has only {lone}")
    elif start is not None and start == end:
        table.fault(
            "end", "is where the part starts: must be another place; a whole ring has neither start nor end"
        )
    elif isinstance(start, float) and isinstance(end, float) and end - start > math.tau + 1e-9:
        table.fault(
            "end", "is more than once round from the start: must be at most 360 degrees to the right of it"
        )
    joint = table.place("joint", "back")
    overlap_mm = table.length("overlap", 3.0)
    if "start" in table or "end" in table:
        for key in ("joint", "overlap"):
            if key in table:
                table.fault(key, "is for a whole ring only, and this one has start and end: leave it out")
    elif "repeat" in table:
        table.fault(
            "repeat", "would lay whole rings on each other: list their places in down, or give start and end"
        )
    return Ring, {"downs": downs, "start": start, "end": end, "joint": joint, "overlap_mm": overlap_mm}


def _read_diagonal(table: Table, repeat: Repeat | None) -> tuple[type[Line], dict[str, Any]]:
    own: dict[str, Any] = {}
    for key in ("start", "end"):
        point = table.child(key, '{ around = "front", down = "20%" }')
        own[f"{key}_around"] = point.place("around") if point else None
        own[f"{key}_down"] = point.down("down") if point else None
        if point:
            point.finish(("around", "down"))
    own["path"] = table.choice("path", PATHS, "straight")
    mirror = table.values.get("mirror")
    own["mirror"] = (mirror or None) if isinstance(mirror, bool) else table.place("mirror", None)
    if table.is_sound and own["start_down"] == own["end_down"]:
        if own["start_around"] == own["end_around"]:
            table.fault("end", "is the same place as start: must be another")
        elif own["path"] != "straight":
            table.fault(
                "path",
                "needs ends at different places down the wall: at equal ones a ring with start and end"
                " is meant",
            )
    return Diagonal, own


def _read_chevron(table: Table, repeat: Repeat | None) -> tuple[type[Line], dict[str, Any]]:
    top, bottom = table.down("top"), table.down("bottom")
    _check_above(
        table, "bottom", top, bottom, "must be farther down than top; at equal places a ring is meant"
    )
    return Chevron, {
        "top": top,
        "bottom": bottom,
        "points": table.integer("points"),
        "start": table.place("start", 0.0),
        "joint": table.place("joint", "back"),
        "overlap_mm": table.length("overlap", 0.0),
        "path": table.choice("path", PATHS, "straight"),
    }


def _check_above(table: Table, key: str, upper: Down | None, lower: Down | None, right: str) -> None:
    """Fault two places in the wrong order, where that shows without knowing the wall."""
    if upper and lower and upper.is_share == lower.is_share and upper.value >= lower.value:
        table.fault(key, right)
