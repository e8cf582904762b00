"""What a person measures on a cup, as a cup table has it, to a straight wall: two radii and its length."""

from __future__ import annotations

import math
from typing import NamedTuple

from stripegen.spec import Along, Cup, Keepout, Seam
from stripegen.tables import NAME_MEANING, Table, did_you_mean, is_name, parse_colour, parse_place, show_key
from stripegen.units import LENGTH_LIMIT_MM

AGREE_MM = 0.5
BOWED_MM = 1.0
DEFAULT_SEAMS = {"front": 0.0, "back": math.pi}

_KEYS = (
    "rim", "base", "girths", "height", "wall", "resin", "rim_clearance", "base_clearance", "keepout",
    "seams", "colour",
)  # fmt: skip
_ROUND = "{ diameter = 86 } or { circumference = 270.2 }"
_GIRTH = "{ down = 14, circumference = 268 }"
_KEEPOUT = "{ around = 180, width = 36, from = 20, to = 95 }"
_NO_PROFILE = (
    "walls that are bowed (profile, smooth) are not supported yet by this version;"
    " rim, base and height or wall, or girths, describe a straight wall"
)


class Wall(NamedTuple):
    """A straight wall: radius at the rim, radius at the base, length along it; mm."""

    rim_mm: float
    base_mm: float
    length_mm: float

    def radius_mm(self, down_mm: float) -> float:
        """Radius so far down the wall; held at the ends beyond them."""
        share = min(max(down_mm / self.length_mm, 0.0), 1.0)
        return self.rim_mm + share * (self.base_mm - self.rim_mm)


def read_cup(name: str, table: Table) -> Cup | None:
    """Read one cup table. None if anything in it is wrong; the faults are then in ``table.faults``."""
    wall = _read_wall(table)
    resin_mm = table.length("resin", 0.0)
    clearances = [table.length(f"{end}_clearance", None) for end in ("rim", "base")]
    colour = table.read("colour", parse_colour, None)
    seams = _read_seams(table, wall)
    keepouts = _read_keepouts(table, wall, seams)
    table.finish(_KEYS, {"profile": _NO_PROFILE, "smooth": _NO_PROFILE})
    if wall and None not in clearances and sum(clearances) >= wall.length_mm:
        table.fault(
            "base_clearance",
            f"together with the rim clearance leaves nothing of a wall of {wall.length_mm:.2f} mm",
        )
    if not table.is_sound or wall is None:
        return None
    return Cup(
        name=name,
        rim_radius_mm=wall.rim_mm,
        base_radius_mm=wall.base_mm,
        wall_mm=wall.length_mm,
        resin_mm=resin_mm,
        rim_clearance_mm=clearances[0],
        base_clearance_mm=clearances[1],
        keepouts=keepouts,
        seams=seams,
        where=table.where,
        **({"colour": colour} if colour else {}),
    )


def _read_wall(table: Table) -> Wall | None:
    height_mm = table.length("height", None, above_mm=0)
    wall_mm = table.length("wall", None, above_mm=0)
    if "profile" in table or "smooth" in table:
        return None
    if "height" not in table and "wall" not in table:
        table.fault("height", "is missing: the upright height, or else wall, the length along the wall")
    if "girths" in table:
        return _wall_of_girths(table, height_mm, wall_mm)
    rim_mm, base_mm = _read_radius(table, "rim"), _read_radius(table, "base")
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
        implied_mm = math.hypot(height_mm, taper_mm)
        wall_mm = _agreed_mm(table, wall_mm, implied_mm)
    return None if wall_mm is None else Wall(rim_mm, base_mm, wall_mm)


def _agreed_mm(table: Table, wall_mm: float | None, implied_mm: float) -> float | None:
    """The wall's length, once what was measured along it agrees with what the height makes it."""
    if implied_mm > LENGTH_LIMIT_MM:
        table.fault("height", "makes a wall of more than 10 m; check its unit")
        return None
    if wall_mm is not None and abs(wall_mm - implied_mm) > AGREE_MM:
        table.fault(
            "wall",
            f"must agree within {AGREE_MM:g} mm with the height, which makes it {implied_mm:.2f} mm long"
            f" where wall says {wall_mm:.2f} mm; measure again, or give only one of the two",
        )
        return None
    return implied_mm if wall_mm is None else wall_mm


def _read_radius(table: Table, key: str) -> float | None:
    end = table.child(key, _ROUND)
    if end is None:
        return None
    end.finish(("diameter", "circumference"))
    if ("diameter" in end) == ("circumference" in end):
        table.fault(key, f"must have one of the two: {_ROUND}")
        return None
    if "diameter" in end:
        diameter_mm = end.length("diameter", above_mm=0)
        return None if diameter_mm is None else diameter_mm / 2
    circumference_mm = end.length("circumference", above_mm=0)
    return None if circumference_mm is None else circumference_mm / math.tau


def _wall_of_girths(table: Table, height_mm: float | None, wall_mm: float | None) -> Wall | None:
    """The straight wall through girths, out to rim and base; least squares through more than two."""
    for key in ("rim", "base"):
        if key in table:
            table.fault(
                key, "can't stand beside girths, which are drawn out to the rim and the base: leave one out"
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
    if off_mm > BOWED_MM:
        down_mm, girth_mm = girths[n - 1]
        table.fault(
            f"girths number {n}",
            f"is {off_mm:.2f} mm off the straight wall through them all, which would have"
            f" {girth_at(down_mm):.2f} mm there ({BOWED_MM:g} mm is allowed): measure again;"
            " a wall that is bowed so far needs a profile, which is not supported yet by this version",
            read=f"{girth_mm:.2f} mm round at {down_mm:.2f} mm down",
        )
        return None
    lean = slope / math.tau  # of the radius for every mm down the wall: the sine of the half angle
    if abs(lean) >= 1:
        table.fault(
            "girths", "change by more than any wall can: by more than 6.28 mm for every mm down the wall"
        )
        return None
    if height_mm is not None:
        wall_mm = _agreed_mm(table, wall_mm, height_mm / math.sqrt((1 - lean) * (1 + lean)))
    if wall_mm is None:
        return None
    if max(downs_mm) > wall_mm:
        table.fault("girths", f"must lie on the wall, which ends {wall_mm:.2f} mm down")
        return None
    wall = Wall(girth_at(0.0) / math.tau, girth_at(wall_mm) / math.tau, wall_mm)
    for end, radius_mm in (("rim", wall.rim_mm), ("base", wall.base_mm)):
        if not 0 < radius_mm <= LENGTH_LIMIT_MM:
            table.fault(
                "girths",
                f"draw out to a {end} of {radius_mm * math.tau:.2f} mm round, which can't be; measure again",
            )
            return None
    return wall


def _check_at(table: Table, key: str, place: object, wall: Wall | None) -> None:
    if isinstance(place, Along) and wall and place.at_mm > wall.length_mm:
        table.fault(key, f"at must lie on the wall, which ends {wall.length_mm:.2f} mm down")


def _read_seams(table: Table, wall: Wall | None) -> dict[str, Seam]:
    seams = {name: Seam(name=name, rim=turn, base=turn) for name, turn in DEFAULT_SEAMS.items()}
    given = table.child("seams", "{ front = 0, back = { rim = 176.5, base = 178 } }", optional=True)
    if given is None:
        return seams
    folded = {name.casefold(): name for name in DEFAULT_SEAMS}
    for name, value in given.values.items():
        if not is_name(name):
            given.fault(name, f"must be {NAME_MEANING}", read=show_key(name))
            continue
        twin = folded.setdefault(name.casefold(), name)
        if twin != name:
            given.fault(name, f'differs from the seam "{twin}" only by its case: must have another name')
            continue
        if isinstance(value, dict) and not {"along", "at"} & set(value):
            ends = given.child(name, "{ rim = 176.5, base = 178 }")
            rim, base = (ends.place(end, seams=False) for end in ("rim", "base"))
            ends.finish(("rim", "base"))
            _check_at(ends, "rim", rim, wall)
            _check_at(ends, "base", base, wall)
        else:
            rim = base = given.read(name, lambda value: parse_place(value, table.unit, seams=False))
            _check_at(given, name, rim, wall)
        if rim is not None and base is not None:
            seams[name] = Seam(name=name, rim=rim, base=base)
    return seams


def _read_keepouts(table: Table, wall: Wall | None, seams: dict[str, Seam]) -> tuple[Keepout, ...]:
    given = table.values.get("seams")
    known = {*seams, *given} if isinstance(given, dict) else set(seams)  # a faulty seam is no fault here too
    keepouts = []
    for entry in table.children("keepout", _KEEPOUT):
        around = entry.place("around")
        width_mm = entry.length("width", above_mm=0)
        from_mm, to_mm = entry.length("from"), entry.length("to", above_mm=0)
        entry.finish(("around", "width", "from", "to"))
        if isinstance(around, str) and around not in known:
            entry.fault(
                "around",
                f"must be a seam of this cup, which has {', '.join(sorted(known))}"
                + did_you_mean(around, known),
            )
        _check_at(entry, "around", around, wall)
        if not entry.is_sound:
            continue
        if from_mm >= to_mm:
            entry.fault("to", "must be farther down than from")
        elif wall and from_mm >= wall.length_mm:
            entry.fault("from", f"must lie on the wall, which ends {wall.length_mm:.2f} mm down")
        elif wall and width_mm >= math.tau * min(wall.radius_mm(from_mm), wall.radius_mm(to_mm)):
            entry.fault("width", "must be less than once round the cup")
        else:
            keepouts.append(Keepout(around=around, width_mm=width_mm, from_mm=from_mm, to_mm=to_mm))
    return tuple(keepouts)
