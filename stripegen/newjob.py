"""A first job file as text, from figures as they were read off a tape; proved by reading it back."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from stripegen.errors import Fault, JobError, Where
from stripegen.jobfile import QUANTITY_MOST, parse_job
from stripegen.measures import read_cup
from stripegen.shelf import FindPreset, PresetNames, Shelf
from stripegen.spec import Job
from stripegen.tables import NAME_MEANING, Table, is_name
from stripegen.units import UNITS, parse_length, parse_written_length, show_length

OWN_CUP = "own"


class Range(NamedTuple):
    """What a figure of a drinking cup may be; anything else is taken for a slip."""

    least_mm: float
    most_mm: float


FIGURES = {
    "upper_down": Range(0, 400),
    "upper_girth": Range(75, 650),
    "lower_down": Range(0, 400),
    "lower_girth": Range(75, 650),
    "wall": Range(20, 400),
    "resin": Range(0, 5),
    "rim_clearance": Range(0, 100),
    "base_clearance": Range(0, 100),
}


def figure_mm(key: str, text: str, units: str) -> float:
    """Read one of FIGURES as it was written.

    Raises ValueError, with what would be right, where it is no length or not one that a cup has.
    """
    length_mm = parse_written_length(text, units)
    least_mm, most_mm = FIGURES[key]
    if least_mm <= length_mm <= most_mm:
        return length_mm
    least, most = (show_length(bound_mm, units).rstrip("0").rstrip(".") for bound_mm in (least_mm, most_mm))
    meant = [f"{text.strip()} {unit}" for unit in UNITS if _fits(key, f"{text.strip()} {unit}")]
    hint = f"; did you mean {' or '.join(meant)}?" if meant else ""
    raise ValueError(f"must be from {least} to {most} {units} on a drinking cup{hint}")


def _fits(key: str, text: str) -> bool:
    try:
        return FIGURES[key].least_mm <= parse_length(text, "mm") <= FIGURES[key].most_mm
    except ValueError:  # it had a unit of its own
        return False


def cup_fault(figures: Mapping[str, str], units: str) -> str | None:
    """What is wrong with sound figures taken together, on one line; None if nothing is.

    The figures that are not there yet are not judged: without `wall` the lower girth is taken for the base.
    """
    known = {"wall": figures["lower_down"]} | dict(figures)
    upper_mm, lower_mm = (figure_mm(key, known[key], units) for key in ("upper_down", "lower_down"))
    if lower_mm <= upper_mm:
        return f"the lower girth must be farther down than the upper one, which is at {known['upper_down']}"
    if parse_written_length(known["wall"], units) < lower_mm:
        return f"the wall, read as {known['wall']}, must reach the lower girth, which is at {known['lower_down']}"
    values = tomllib.loads("\n".join(f"{key} = {value}" for key, value in _cup_values(known, units).items()))
    faults: list[Fault] = []
    read_cup(OWN_CUP, Table(values, Where("", ""), faults, units))
    return f"{faults[0].key} {faults[0].right}" if faults else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """All that a first job says. `figures` are those of FIGURES, as written; None: `cup` is a preset's name."""

    units: str
    cup: str
    figures: Mapping[str, str] | None
    pattern: str
    vinyls: Mapping[str, str]
    id: str
    quantity: int

    def __post_init__(self) -> None:
        if self.units not in UNITS:
            raise ValueError(f"units must be one of {', '.join(UNITS)}")
        if not 1 <= self.quantity <= QUANTITY_MOST:
            raise ValueError(f"quantity must be from 1 to {QUANTITY_MOST}")
        for name in (self.cup, self.pattern, self.id, *self.vinyls, *self.vinyls.values()):
            if not is_name(name):
                raise ValueError(f"must be {NAME_MEANING}")
        if self.figures is not None:
            for key in FIGURES:
                figure_mm(key, self.figures[key], self.units)
            if fault := cup_fault(self.figures, self.units):
                raise ValueError(fault)


def roles_of(pattern: str, find_preset: FindPreset) -> list[str]:
    """The roles of a pattern preset: what its lines call their vinyl, where no vinyl preset has that name.

    Raises JobError if the preset is not there or is at fault.
    """
    faults: list[Fault] = []
    shelf = Shelf("pattern", faults, find_preset, lambda kind: ())
    if not shelf.look_up(pattern):
        faults.append(Fault(Where("presets", ""), "", pattern, shelf.hint(pattern)))
    if faults:
        raise JobError(*faults)
    named = dict.fromkeys(line.vinyl for line in shelf.found[pattern].lines)
    return [name for name in named if find_preset("vinyl", name) is None]


def new_job(
    answers: Answers, file: str, find_preset: FindPreset, preset_names: PresetNames = lambda kind: ()
) -> tuple[str, Job]:
    """The text of a first job file, and the job that it reads as.

    Raises JobError, with every fault, if it does not read.
    """
    text = job_text(answers)
    return text, parse_job(text, file, find_preset, preset_names)


def job_text(answers: Answers) -> str:
    """The text of a job file: what was answered, and in comments what else may be said.

    Lines that begin with `#` and no space are TOML: taking the `#` off leaves a job that reads.
    """
    parts = [_HEAD.format(units=answers.units)]
    if answers.figures is None:
        parts.append(_PRESET_CUP.format(cup=answers.cup))
    else:
        measured = _cup_values(answers.figures, answers.units)
        inch = answers.units == "in"
        parts.append(_MEASURED_CUP.format(name=answers.cup, **measured, **(_INCH if inch else _METRIC)))
    bound = ", ".join(f'{role} = "{name}"' for role, name in answers.vinyls.items())
    parts.append(
        _ORDER_TABLE.format(
            id=answers.id,
            cup=answers.cup,
            pattern=answers.pattern,
            quantity=answers.quantity,
            vinyl=f"vinyl    = {{ {bound} }}\n" if bound else "",
            next_id="next" if answers.id.casefold() != "next" else "next-2",
            next_vinyl=f"#vinyl    = {{ {bound} }}\n" if bound else "",
        )
    )
    parts.append(_CUTTER.format(**(_INCH if answers.units == "in" else _METRIC)))
    return "\n".join(parts)


def _cup_values(figures: Mapping[str, str], units: str) -> dict[str, str]:
    """The keys of a cup table with their values as TOML."""
    said = {key: _literal(text, units) for key, text in figures.items()}
    ends = (
        f"{{ down = {said.pop(f'{end}_down')}, circumference = {said.pop(f'{end}_girth')} }}"
        for end in ("upper", "lower")
    )
    return {"girths": f"[ {', '.join(ends)} ]", **said}


def _literal(text: str, units: str) -> str:
    """A written length as TOML that reads as the same length: a bare number, or a text with its unit."""
    text = text.strip()
    length_mm = parse_written_length(text, units)
    for literal in (text, f'"{text}"', f'"{text} {units}"'):
        try:
            if parse_length(tomllib.loads(f"x = {literal}")["x"], units) == length_mm:
                return literal
        except ValueError:  # no TOML, or a text without a unit
            continue
    raise AssertionError(f"no TOML reads as {text!r}")


_METRIC = {
    "colour": '"#e8e4da"',
    "seal": '"1.2 mm"',
    "handle_width": '"36 mm"',
    "handle_from": '"5 mm"',
    "handle_to": '"95 mm"',
    "opening": '"2 mm"',
    "cut_width": '"290 mm"',
    "longest_run": '"600 mm"',
}
_INCH = {
    "colour": '"#e8e4da"',
    "seal": '"0.05 in"',
    "handle_width": '"1 3/8 in"',
    "handle_from": '"1/4 in"',
    "handle_to": '"3 3/4 in"',
    "opening": '"1/16 in"',
    "cut_width": '"11 1/2 in"',
    "longest_run": '"24 in"',
}

_HEAD = """\
# A job: what is measured on the cups, and what is ordered.
#
# This line, with a space after the mark, is said to you. A line without that space is left out for now: take the mark
# away, and put your own in place of what it says. `stripegen keys` tells every key that a job may have.

units = "{units}"   # of bare numbers; a text may carry its own: "4 mm", "2.5 cm", "3 1/8 in"
#title = "Harbour cups"
"""

_MEASURED_CUP = """\
[cup.{name}]
# Two girths of the bare cup: how far down the wall the tape lay, from the rim, and what it read.
girths = {girths}
wall   = {wall:<14} # rim to base along the outside
resin  = {resin:<14} # on the wall already when the strips go on
rim_clearance  = {rim_clearance:<8} # bare lip, and an edge for the last coat to seal
base_clearance = {base_clearance}
#colour = {colour:<14}# of the cup in the preview
#seal   = {seal:<14}# the resin to come over the last strips
# A handle: no piece enters it. Degrees to the right of the zero mark, its root's width and a little more, and down the wall.
#keepout = [ {{ around = 270, width = {handle_width}, from = {handle_from}, to = {handle_to} }} ]
# Where the panels meet, in degrees; front 0 and back 180 if nothing is said. opening: how far they gape.
#seams   = {{ front = 0, back = {{ rim = 176.5, base = 178, opening = {opening} }} }}
# The fit ring that `stripegen guide` writes tells a line `fit` to put here. A wall that is not straight is given as a
# profile in place of girths and wall: see "Measuring a cup" in the README.
"""

_PRESET_CUP = """\
# The cup "{cup}" is a preset. To give your own measures, copy its table here from `stripegen presets show cups/{cup}`
# and change them.
"""

_ORDER_TABLE = """\
# An order. Cups, patterns and vinyls are those of this file, else presets: `stripegen presets` lists them. To change a
# preset, copy its table into this file from `stripegen presets show NAME`.
[[order]]
id       = "{id}"
cup      = "{cup}"
pattern  = "{pattern}"
quantity = {quantity}
{vinyl}#due      = 2027-05-14
#seams    = {{ back = 183 }}         # where this order's panels meet, if not where the cup's do

# As many orders as you like, each with an id of its own; they are nested together.
#[[order]]
#id       = "{next_id}"
#cup      = "{cup}"
#pattern  = "{pattern}"
#quantity = 1
{next_vinyl}"""

_CUTTER = """\
# What your cutter can do, if it is less than the vinyl's size.
#[cutter]
#cut_width   = {cut_width}
#longest_run = {longest_run}
"""
