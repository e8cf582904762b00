"""How sure the measures are: what a tape should read, and what an error of 1 mm in each measure would do.

A cup is laid out as its measures make it. Were one of them really 1 mm more, its pieces would have to be so
much longer or shorter, and what closes round it would open at its joint, or overlap more, by as much as its way
once round changes. Every such length is that of a line's whole centre line, before anything cuts it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from stripegen.columns import aligned
from stripegen.courses import Course, courses_of
from stripegen.decoration import where_of
from stripegen.errors import Figure, GeometryError, Notice, Where
from stripegen.production import Production
from stripegen.site import Site
from stripegen.spec import Chevron, Cup, Diagonal, Line, Misread, Pattern, Ring, Vertical
from stripegen.units import MM_PER_UNIT, show_length

OVERLAP_STEPS = {"mm": Fraction(1), "cm": Fraction(1, 10), "in": Fraction(1, 16)}  # told in whole such steps
UNIT_NAMES = {"mm": "mm", "cm": "cm", "in": "inches"}
SAME_MM = 1e-6  # a smaller change is none
LEG_WIDTH_MM = 1e-3  # of a chevron's leg that is only measured


@dataclass(frozen=True, slots=True)
class Tape:
    """What a tape round the cup reads so far down the wall."""

    down_mm: float
    girth_mm: float


@dataclass(frozen=True, slots=True)
class Effect:
    """What changes where one measure is really 1 mm more.

    `longest_mm`: by how much longer the longest line is. `joint_mm`: by how much the joint opens that changes most
    (below 0: it overlaps more). None: that line can't be laid then, or there is none. `possible`: whether
    a cup can have such measures at all.
    """

    measure: str
    longest_mm: float | None = None
    joint_mm: float | None = None
    possible: bool = True


@dataclass(frozen=True, slots=True)
class Joint:
    """A line that closes round the cup: by how much an error of 1 mm can open it, and in which measure."""

    line: str
    overlap_mm: float
    opens_mm: float
    measure: str
    where: Where | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sureness:
    """How sure a pattern on a cup is. `tapes` are read on the wall with its resin: at the rim clearance, in the
    middle of the decorated part, and at the base clearance. `longest` is the longest line's name and length."""

    cup: str
    pattern: str
    resin_mm: float
    tapes: tuple[Tape, Tape, Tape]
    longest: tuple[str, float]
    effects: tuple[Effect, ...]
    joints: tuple[Joint, ...]

    @property
    def cover_mm(self) -> float:
        """The least overlap with which every joint stays closed under an error of 1 mm in any one measure."""
        return max((joint.opens_mm for joint in self.joints), default=0.0)


def surenesses(production: Production) -> tuple[Sureness, ...]:
    """That of every pattern on every cup of a job, each told once."""
    pairs = {(each.cup.name, each.pattern.title): each for each in production.decorations.values()}
    return tuple(sureness_of(each.cup, each.pattern) for each in pairs.values())


def sureness_of(cup: Cup, pattern: Pattern) -> Sureness:
    """How sure a pattern is on a cup that it can be laid on.

    An error of 1 mm either way is taken to change a length by as much. Raises GeometryError where it can't be laid.
    """
    laid = _Lengths(cup, pattern)
    ways = {line.name: laid.of(line) for line in pattern.lines}
    longest = max(pattern.lines, key=lambda line: max(ways[line.name]))
    closed = [line for line in pattern.lines if isinstance(line, Chevron) or _is_full_ring(line)]
    effects, worst = [], {line.name: (0.0, "") for line in closed}
    for misread in cup.misreads:
        changes = _changes(misread, cup, pattern, {line.name: line for line in (longest, *closed)}, ways)
        if changes is None:
            effects.append(Effect(misread.label, possible=False))
            continue
        at = ways[longest.name].index(max(ways[longest.name]))
        change = changes[longest.name]
        opens = [_greatest(changes[line.name]) for line in closed if changes[line.name]]
        joint_mm = _greatest(opens) if opens else None
        effects.append(Effect(misread.label, change[at] if at < len(change) else None, joint_mm))
        for line in closed:
            opens_mm = abs(_greatest(changes[line.name] or [0.0]))
            worst[line.name] = max(worst[line.name], (opens_mm, misread.label), key=lambda found: found[0])
    return Sureness(
        cup=cup.name,
        pattern=pattern.title,
        resin_mm=cup.resin_mm,
        tapes=_tapes(laid.site(None)),
        longest=(longest.name, max(ways[longest.name])),
        effects=tuple(effects),
        joints=tuple(Joint(line.name, line.overlap_mm, *worst[line.name], where_of(line, pattern)) for line in closed),
    )


def joint_notices(found: Sureness, unit: str = "mm") -> list[Notice]:
    """A warning for each line whose overlap is less than what an error of 1 mm may open."""
    return [
        Notice(
            code="joint-may-open",
            line=joint.line,
            where=joint.where,
            message=f"on cup {found.cup}, an error of {_millimetre(unit)} in the {joint.measure} opens its joint by "
            f"{show_length(joint.opens_mm, unit, 1)} {unit}, more than its overlap of "
            f"{show_length(joint.overlap_mm, unit, 1)} {unit}",
            remedy=f"{_overlap(joint.opens_mm, unit)} or more covers that",
            figures=(Figure("opens", joint.opens_mm), Figure("overlap", joint.overlap_mm)),
        )
        for joint in found.joints
        if joint.overlap_mm < joint.opens_mm - SAME_MM
    ]


def sureness_lines(found: Sequence[Sureness], unit: str = "mm") -> list[str]:
    """What a maker should know of it as lines of plain text, lengths in a unit: a table for each pattern on a cup."""
    changes = f"what changes, in {UNIT_NAMES[unit]}, where one of them is really {_millimetre(unit)} more"
    lines = [
        f"How sure the measures are: {changes}.",
        "A piece is as long as its line before anything cuts it. A joint opens by so much; below 0 it overlaps more.",
    ]
    told: list[tuple[str, tuple[Tape, ...]]] = []
    for each in found:
        lines += ["", f"{each.cup}, {each.pattern}"]
        if (each.cup, each.tapes) not in told:
            told.append((each.cup, each.tapes))
            lines.append(f"  {_tape_text(each, unit)}")
        lines += _table(each, unit)
    return lines


def _is_full_ring(line: Line) -> bool:
    return isinstance(line, Ring) and line.start is None


def _tapes(site: Site) -> tuple[Tape, Tape, Tape]:
    downs_mm = site.top_mm, (site.top_mm + site.bottom_mm) / 2, site.bottom_mm
    rim, middle, base = (Tape(down_mm, float(site.wall.girth_mm(down_mm))) for down_mm in downs_mm)
    return rim, middle, base


def _changes(
    misread: Misread, cup: Cup, pattern: Pattern, lines: dict[str, Line], ways: dict[str, list[float]]
) -> dict[str, list[float]] | None:
    """By how much the ways of some lines are longer on the cup as misread: none where one can't be laid there.

    None where there can be no such cup.
    """
    other = misread.of(cup)
    if other is None:
        return None
    laid, changes = _Lengths(other, pattern), {}
    try:
        laid.site(None)
    except GeometryError:
        return None
    for name, line in lines.items():
        try:
            after = laid.of(line)
        except GeometryError:
            after = []
        changes[name] = [now - before for before, now in zip(ways[name], after, strict=False)]
    return changes


def _greatest(changes: Sequence[float]) -> float:
    """The change that is greatest either way."""
    return max(changes, key=abs)


class _Lengths:
    """The lengths of the centre lines of a pattern's lines on one cup."""

    def __init__(self, cup: Cup, pattern: Pattern):
        self.cup, self.pattern = cup, pattern
        self.sites: dict[float | None, Site] = {}

    def site(self, resin_mm: float | None) -> Site:
        if resin_mm not in self.sites:
            self.sites[resin_mm] = Site.of(self.cup, self.pattern, resin_mm)
        return self.sites[resin_mm]

    def of(self, line: Line) -> list[float]:
        """Of each copy, but for those that are only turned round the cup; a closed one's once round."""
        site = self.site(line.resin_mm)
        if isinstance(line, Chevron):
            # its legs are all alike, one way round or the other
            (leg,) = courses_of(_leg(line), site)
            return [2 * line.points * _length(leg)]
        if not (isinstance(line, Vertical) and line.repeat and line.repeat.between):
            line = replace(line, repeat=None)
        return [_length(course) for course in courses_of(line, site)]


def _leg(line: Chevron) -> Diagonal:
    return Diagonal(
        name=line.name,
        vinyl=line.vinyl,
        width_mm=LEG_WIDTH_MM,
        start_around=0.0,
        start_down=line.top,
        end_around=math.pi / line.points,
        end_down=line.bottom,
        path=line.path,
    )


def _length(course: Course) -> float:
    return math.fsum(leg.curve.length_mm(leg.t0, leg.t1) for leg in course.legs)


# ---- as text


def _millimetre(unit: str) -> str:
    return "1 mm" if unit == "mm" else f"1 mm ({show_length(1.0, unit, 1 if unit == 'in' else 0)} {unit})"


def _overlap(least_mm: float, unit: str) -> str:
    """An overlap that is no less, as one would write it: in whole mm, or sixteenths of an inch."""
    step = OVERLAP_STEPS[unit]
    steps = math.ceil(least_mm / float(step * MM_PER_UNIT[unit]) - SAME_MM)
    whole, rest = divmod(steps * step, 1)
    if unit != "in":
        return f"an overlap of {float(steps * step):g} {unit}"
    return f"an overlap of {' '.join(str(part) for part in (whole, rest) if part)} in"


def _tape_text(found: Sureness, unit: str) -> str:
    where = "With the resin on, a tape" if found.resin_mm else "A tape"
    reads = [
        f"{show_length(tape.girth_mm, unit)} {unit} at {show_length(tape.down_mm, unit)} {unit}" for tape in found.tapes
    ]
    return f"{where} round the cup should read {reads[0]} down, {reads[1]} and {reads[2]}."


def _table(found: Sureness, unit: str) -> Iterator[str]:
    if not found.effects:
        return
    line, length_mm = found.longest
    head = ["measure", f"longest piece ({line}, {show_length(length_mm, unit)})"]
    rows = [[effect.measure, *_cells(effect, unit)] for effect in found.effects]
    if not found.joints:
        yield from aligned([head, *(row[:-1] for row in rows)])
        return
    yield from aligned([[*head, "worst joint"], *rows])
    if found.cover_mm > SAME_MM:
        yield f"  {_overlap(found.cover_mm, unit).capitalize()} or more covers that."


def _cells(effect: Effect, unit: str) -> list[str]:
    if not effect.possible:
        return ["no such cup", ""]
    return ["-" if change is None else _signed(change, unit) for change in (effect.longest_mm, effect.joint_mm)]


def _signed(change_mm: float, unit: str) -> str:
    shown = show_length(change_mm, unit, 1)
    return shown if shown.startswith("-") else f"+{shown}"
