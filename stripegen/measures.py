"""What a person measures on a cup, as a cup table has it, to a cup: its wall and what is on it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from stripegen.errors import Where
from stripegen.fitspec import read_fit, ring_down_mm
from stripegen.nearmiss import did_you_mean
from stripegen.panelspec import read_panels
from stripegen.profiles import AGREE_MM, MeasuredWall, read_profile, read_radius
from stripegen.seamspec import DEFAULT_SEAMS, default_seams, off_the_wall, read_seams, seams_off_the_wall
from stripegen.spec import Cup, Keepout, Misread
from stripegen.tables import Table, parse_colour
from stripegen.units import LENGTH_LIMIT_MM, parse_length
from stripegen.walls import bare_wall

BOWED_MM = 1.0
MISREAD_MM = 1.0

_KEYS = (
    "rim", "base", "girths", "profile", "smooth", "height", "wall", "fit", "resin", "seal", "rim_clearance",
    "base_clearance", "keepout", "seams", "panels", "colour",
)  # fmt: skip
_ROUND = "{ diameter = 86 } or { circumference = 270.2 }"
_GIRTH = "{ down = 14, circumference = 268 }"
_KEEPOUT = "{ around = 180, width = 36, from = 20, to = 95 }"


def read_cup(name: str, table: Table) -> Cup | None:
    """Read one cup table. None if anything in it is wrong; the faults are then in ``table.faults``."""
    wall = _read_wall(table)
    resin_mm, seal_mm = table.length("resin", 0.0), table.length("seal", None)
    if wall and resin_mm is not None:
        wall = read_fit(table, wall, resin_mm)
    clearances = [table.length(f"{end}_clearance", None) for end in ("rim", "base")]
    colour = table.read("colour", parse_colour, None)
    seams = default_seams() | read_seams(table, DEFAULT_SEAMS)
    for key, read, right in seams_off_the_wall(seams, wall.length_mm) if wall else ():
        table.fault_at(key, right, read)
    given = table.values.get("seams")  # a seam that is at fault is no second fault of a keepout there
    keepouts = _read_keepouts(table, wall, {*seams, *given} if isinstance(given, Mapping) else seams)
    panels = read_panels(table, {*seams, *given} if isinstance(given, Mapping) else seams)
    table.finish(_KEYS)
    if wall and None not in clearances and sum(clearances) >= wall.length_mm:
        table.fault(
            "base_clearance",
            f"together with the rim clearance leaves nothing of a wall of {wall.length_mm:.2f} mm",
        )
    if not table.is_sound or wall is None:
        return None
    return Cup(
        name=name,
        **_wall_fields(wall),
        resin_mm=resin_mm,
        seal_mm=seal_mm,
        rim_clearance_mm=clearances[0],
        base_clearance_mm=clearances[1],
        keepouts=keepouts,
        seams=seams,
        panels=panels,
        misreads=tuple(_misreads(table)),
        where=table.where,
        **({"colour": colour} if colour else {}),
    )


def _wall_fields(wall: MeasuredWall) -> dict[str, Any]:
    return {
        "rim_radius_mm": wall.rim_mm,
        "base_radius_mm": wall.base_mm,
        "wall_mm": wall.length_mm,
        "profile": wall.profile,
        "smooth": wall.smooth,
    }


def _misreads(table: Table) -> Iterator[Misread]:
    """One for each length that shapes the wall (one that is only checked against others shapes nothing)."""
    for path in _measured(table.values):
        label = " ".join(f"number {step + 1}" if isinstance(step, int) else step for step in path)
        yield Misread(label, partial(_misread, table.values, table.unit, path))


def _measured(values: Mapping) -> Iterator[tuple[str | int, ...]]:
    """Where the lengths stand in a sound cup table that give its wall its shape."""
    for key in ("rim", "base"):
        yield from ((key, size) for size in values.get(key, ()))
    if "fit" in values:
        yield from (("fit", size) for size in values["fit"]) if isinstance(values["fit"], Mapping) else [("fit",)]
    for key in ("girths", "profile"):
        yield from ((key, n, size) for n, entry in enumerate(values.get(key, ())) for size in entry)
    if "profile" not in values:
        yield ("wall",) if "wall" in values else ("height",)


def _misread(values: Mapping, unit: str, path: tuple[str | int, ...], cup: Cup) -> Cup | None:
    """A cup with the wall that these values give when the one at `path` is 1 mm more."""

    def more(value: Any, path: tuple[str | int, ...]) -> Any:
        if not path:
            return f"{parse_length(value, unit) + MISREAD_MM!r} mm"
        if isinstance(value, Mapping):
            return {key: more(entry, path[1:]) if key == path[0] else entry for key, entry in value.items()}
        return [more(entry, path[1:]) if n == path[0] else entry for n, entry in enumerate(value)]

    table = Table(more(values, path), Where("", ""), [], unit)
    wall = _read_wall(table, checked=False)
    if wall and "fit" in values:
        ring_mm = ring_down_mm(bare_wall(cup).coated(cup.resin_mm))  # the ring lay where the true measures put it
        wall = read_fit(table, wall, cup.resin_mm, ring_mm=ring_mm, checked=False)
    if wall is None or any(seams_off_the_wall(cup.seams, wall.length_mm)):
        return None
    return replace(cup, **_wall_fields(wall), misreads=())


def _read_wall(table: Table, *, checked: bool = True) -> MeasuredWall | None:
    """The wall of a cup table; None after a fault. `checked`: measures that overlap must agree."""
    height_mm = table.length("height", None, above_mm=0)
    wall_mm = table.length("wall", None, above_mm=0)
    if "profile" in table:
        return read_profile(table, wall_mm, checked=checked)
    if "smooth" in table:
        table.fault("smooth", "means nothing without profile: give that too, or leave smooth out")
    if "height" not in table and "wall" not in table:
        table.fault("height", "is missing: the upright height, or else wall, the length along the wall")
    if "girths" in table:
        return _wall_of_girths(table, height_mm, wall_mm, checked)
    rim_mm, base_mm = _read_end(table, "rim"), _read_end(table, "base")
    if rim_mm is None or base_mm is None or (height_mm is None and wall_mm is None):
        return None
    taper_mm = abs(base_mm - rim_mm)
    if wall_mm is not None and wall_mm <= taper_mm:
        table.fault(
            "wall",
            f"must be longer than {taper_mm:.2f} mm, by which the radii differ; check the measures",
        )
        return None
    if height_mm is not None:
        wall_mm = _agreed_mm(table, wall_mm, math.hypot(height_mm, taper_mm), checked)
    if wall_mm is not None and wall_mm <= taper_mm:
        table.fault("height", "leaves nothing of the wall beside the taper; check its unit")
        return None
    return None if wall_mm is None else MeasuredWall(rim_mm, base_mm, wall_mm)


def _agreed_mm(table: Table, wall_mm: float | None, implied_mm: float, checked: bool) -> float | None:
    """The wall's length, once what was measured along it agrees with what the height makes it."""
    if implied_mm > LENGTH_LIMIT_MM:
        table.fault("height", "makes a wall of more than 10 m; check its unit")
        return None
    if checked and wall_mm is not None and abs(wall_mm - implied_mm) > AGREE_MM:
        table.fault(
            "wall",
            f"must agree within {AGREE_MM:g} mm with the height, which makes it {implied_mm:.2f} mm long"
            f" where wall says {wall_mm:.2f} mm; measure again, or give only one of the two",
        )
        return None
    return implied_mm if wall_mm is None else wall_mm


def _read_end(table: Table, key: str) -> float | None:
    end = table.child(key, _ROUND)
    if end is None:
        return None
    end.finish(("diameter", "circumference"))
    return read_radius(end)


def _wall_of_girths(
    table: Table, height_mm: float | None, wall_mm: float | None, checked: bool
) -> MeasuredWall | None:
    """The straight wall through girths, out to rim and base; least squares through more than two."""
    for key in ("rim", "base"):
        if key in table:
            table.fault(
                key,
                "can't stand beside girths, which are drawn out: give the girths alone, or a profile",
            )
    girths = []
    for entry in table.children("girths", f"{_GIRTH}, {_GIRTH.replace('14', '140').replace('268', '203')}"):
        girths.append((entry.length("down"), entry.length("circumference", above_mm=0)))
        entry.finish(("down", "circumference"))
    if not table.is_sound:
        return None
    downs_mm = [down_mm for down_mm, _ in girths]
    if len(girths) < 2 or len(set(downs_mm)) < len(girths):
        table.fault("girths", "must be two or more, each at another place down the wall")
        return None
    mean_down_mm = math.fsum(downs_mm) / len(girths)
    mean_girth_mm = math.fsum(girth_mm for _, girth_mm in girths) / len(girths)
    slope = math.fsum((d - mean_down_mm) * (g - mean_girth_mm) for d, g in girths) / math.fsum(
        (d - mean_down_mm) ** 2 for d in downs_mm
    )

    def girth_at(down_mm: float) -> float:
        return mean_girth_mm + slope * (down_mm - mean_down_mm)

    off_mm, n = max((abs(g - girth_at(d)), n) for n, (d, g) in enumerate(girths, start=1))
    if checked and off_mm > BOWED_MM:
        down_mm, girth_mm = girths[n - 1]
        table.fault(
            "girths",
            f"is {off_mm:.2f} mm off the straight wall through them all, which would have"
            f" {girth_at(down_mm):.2f} mm there ({BOWED_MM:g} mm is allowed): the wall is bowed by so much,"
            " so give its points as a profile, or measure again",
            read=f"{girth_mm:.2f} mm round at {down_mm:.2f} mm down",
            entry=n - 1,
        )
        return None
    lean = slope / math.tau  # of the radius for every mm down the wall: the sine of the half angle
    if abs(lean) >= 1:
        table.fault(
            "girths", "change by more than any wall can: by more than 6.28 mm for every mm down the wall"
        )
        return None
    if height_mm is not None:
        wall_mm = _agreed_mm(table, wall_mm, height_mm / math.sqrt((1 - lean) * (1 + lean)), checked)
    if wall_mm is None:
        return None
    if max(downs_mm) > wall_mm:
        table.fault("girths", f"must lie on the wall, which ends {wall_mm:.2f} mm down")
        return None
    wall = MeasuredWall(girth_at(0.0) / math.tau, girth_at(wall_mm) / math.tau, wall_mm)
    for end, radius_mm in (("rim", wall.rim_mm), ("base", wall.base_mm)):
        if not 0 < radius_mm <= LENGTH_LIMIT_MM:
            table.fault(
                "girths",
                f"draw out to a {end} of {radius_mm * math.tau:.2f} mm round, which can't be; measure again",
            )
            return None
    return wall


def _read_keepouts(table: Table, wall: MeasuredWall | None, seams: Collection[str]) -> tuple[Keepout, ...]:
    keepouts = []
    for entry in table.children("keepout", _KEEPOUT):
        around = entry.place("around")
        width_mm = entry.length("width", above_mm=0)
        from_mm, to_mm = entry.length("from"), entry.length("to", above_mm=0)
        entry.finish(("around", "width", "from", "to"))
        if isinstance(around, str) and around not in seams:
            entry.fault(
                "around",
                f"must be a seam of this cup, which has {', '.join(sorted(seams))}"
                + did_you_mean(around, seams),
            )
        if wall and (right := off_the_wall(around, wall.length_mm)):
            entry.fault("around", right)
        if not entry.is_sound:
            continue
        if from_mm >= to_mm:
            entry.fault("to", "must be farther down than from")
        elif wall and from_mm >= wall.length_mm:
            entry.fault("from", f"must lie on the wall, which ends {wall.length_mm:.2f} mm down")
        elif wall and width_mm >= math.tau * wall.least_radius_mm(from_mm, to_mm):
            entry.fault("width", "must be less than once round the cup")
        else:
            keepouts.append(Keepout(around=around, width_mm=width_mm, from_mm=from_mm, to_mm=to_mm))
    return tuple(keepouts)
