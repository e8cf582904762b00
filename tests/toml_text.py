"""Values as TOML text, and cups and lines as the tables that say them."""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Mapping
from typing import Any

from stripegen.spec import (
    Along,
    Around,
    Chevron,
    Cup,
    Diagonal,
    Down,
    Line,
    Pattern,
    Repeat,
    Ring,
    Seam,
    Vertical,
)


def value_text(value: Any) -> str:
    """A value as TOML has it, tables within others inline."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {value_text(each)}" for key, each in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(value_text, value)) + "]"
    if isinstance(value, datetime.date):
        return value.isoformat()
    return json.dumps(value) if isinstance(value, str) else repr(value)


def job_text(job: Mapping[str, Any]) -> str:
    """A whole job, each of its tables inline."""
    return "".join(f"{key} = {value_text(value)}\n" for key, value in job.items())


def cup_table(cup: Cup) -> dict[str, Any]:
    if cup.profile:
        wall = {"profile": [{"height": p.height_mm, "diameter": 2 * p.radius_mm} for p in cup.profile], "smooth": cup.smooth}
    else:
        wall = {"rim": {"diameter": 2 * cup.rim_radius_mm}, "base": {"diameter": 2 * cup.base_radius_mm}, "wall": cup.wall_mm}
    keepouts = [
        {"around": around(k.around), "width": k.width_mm, "from": k.from_mm, "to": k.to_mm} for k in cup.keepouts
    ]
    return wall | given(
        resin=cup.resin_mm,
        rim_clearance=cup.rim_clearance_mm,
        base_clearance=cup.base_clearance_mm,
        keepout=keepouts,
        seams={name: _seam(seam) for name, seam in cup.seams.items()},
    )


def pattern_table(pattern: Pattern) -> dict[str, Any]:
    return {"line": [line_table(line) for line in pattern.lines]}


def line_table(line: Line) -> dict[str, Any]:
    kind = type(line).__name__.lower()
    common = {"name": line.name, "kind": kind, "width": line.width_mm, "vinyl": line.vinyl}
    common |= {"stripes": line.stripes, "gap": line.gap_mm, "repeat": _repeat(line.repeat), "resin": line.resin_mm}
    if line.under:
        common |= {"under": list(line.under), "tuck": line.tuck_mm}
    if line.clear_of:
        common |= {"clear_of": list(line.clear_of), "by": line.by_mm}
    match line:
        case Vertical():
            places = [around(place) for place in line.around]
            own = {"around": places or None, "from": down(line.start), "to": down(line.end), "narrows": line.narrows}
            own |= {"mirror": around(line.mirror), "ends": line.ends}
        case Ring():
            own = {"up" if line.downs[0].from_base else "down": [down(place) for place in line.downs], "ends": line.ends}
            if line.start is None:
                own |= {"joint": around(line.joint), "overlap": line.overlap_mm}
            else:
                own |= {"start": around(line.start), "end": around(line.end)}
        case Diagonal():
            own = {end: {"around": around(place), "down": down(how_far)} for end, place, how_far in (
                ("start", line.start_around, line.start_down), ("end", line.end_around, line.end_down))}  # fmt: skip
            mirror = line.mirror if isinstance(line.mirror, bool) else around(line.mirror)
            own |= {"path": line.path, "mirror": mirror, "ends": line.ends}
        case Chevron():
            own = {"top": down(line.top), "bottom": down(line.bottom), "points": line.points, "start": around(line.start)}
            own |= {"joint": around(line.joint), "overlap": line.overlap_mm, "path": line.path}
    return given(**common, **own)


def given(**values: Any) -> dict[str, Any]:
    return {key: value for key, value in values.items() if value is not None}


def around(place: Around | None) -> Any:
    if isinstance(place, Along):
        return {"along": place.along_mm, "at": place.at_mm}
    return math.degrees(place) if isinstance(place, float) else place


def down(place: Down | None) -> float | str | None:
    if place is None:
        return None
    return f"{100 * place.value:.6f}%" if place.is_share else place.value


def _seam(seam: Seam) -> Any:
    return {"rim": around(seam.rim), "base": around(seam.base), "opening": seam.opening_mm}


def _repeat(repeat: Repeat | None) -> Any:
    if repeat is None:
        return None
    if repeat.step_rad is None and repeat.between is None:
        return repeat.count
    step = None if repeat.step_rad is None else math.degrees(repeat.step_rad)
    between = None if repeat.between is None else [around(place) for place in repeat.between]
    return given(count=repeat.count, step=step, between=between)
