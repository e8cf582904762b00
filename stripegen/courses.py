"""Where the lines of a pattern run: each line's centre lines on a wall, one a copy, with how its ends are cut."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from stripegen.carrying import Shared
from stripegen.crossing import level_t
from stripegen.curves import Curve, Parallel, Straight
from stripegen.errors import Figure, GeometryError
from stripegen.shapes import FULL_TURN
from stripegen.site import Site
from stripegen.slants import EvenDrop, SameSlant
from stripegen.spec import Around, Chevron, Diagonal, Line, Repeat, Ring, Vertical

SAME_RAD = 1e-9


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch of centre line and how each end is cut: "level", "upright" or "square"."""

    curve: Curve
    t0: float
    t1: float
    start_cut: str
    end_cut: str

    def place(self, t: float) -> tuple[float, float]:
        around, down = self.curve.at(t)
        return float(around), float(down)


@dataclass(frozen=True, slots=True)
class Course:
    """One copy of a line: its legs end to end. A closed course ends where it began, at its joint.

    `narrows` says that what runs beside it are meridians, at distances measured on the rim. `stripe_mm` is the
    width of one stripe of a chevron, by which its tips are limited.
    """

    legs: tuple[Leg, ...]
    closed: bool = False
    overlap_mm: float = 0.0
    narrows: bool = False
    stripe_mm: float = 0.0

    def beside(self, leg: Leg, distance_mm: float) -> Curve:
        """The curve at a distance from a leg, towards its heading + 90 degrees, at the same t."""
        if self.narrows:
            return leg.curve.turned(distance_mm / leg.curve.wall.rim_radius_mm)
        return leg.curve.parallel(distance_mm)

    def run_on(self, start_t: float | None, end_t: float | None) -> Course:
        """This course with its ends run on the same way as far as given, cut across there (None: as it is)."""
        legs, cut = list(self.legs), "level" if self.narrows else "square"
        if start_t is not None:
            legs[0] = replace(legs[0], t0=start_t, start_cut=cut)
        if end_t is not None:
            legs[-1] = replace(legs[-1], t1=end_t, end_cut=cut)
        return replace(self, legs=tuple(legs))

    def unrolled(self) -> Course:
        """Three turns of a closed course, the middle one its own."""
        legs = [
            replace(leg, curve=leg.curve.turned(turn * FULL_TURN)) for turn in (-1, 0, 1) for leg in self.legs
        ]
        return replace(self, legs=tuple(legs), closed=False)

    @property
    def around_rad(self) -> float:
        """Where the course starts round the cup; a closed one has its joint there."""
        return self.legs[0].place(self.legs[0].t0)[0]


def courses_of(line: Line, site: Site) -> list[Course]:
    """Every copy of a line on a wall, in order, none twice.

    Raises GeometryError where a copy can't lie on the wall.
    """
    _check_width(line, site)
    if isinstance(line, Vertical):
        courses = _verticals(line, site)
    elif isinstance(line, Ring):
        courses = _rings(line, site)
    elif isinstance(line, Diagonal):
        courses = _diagonals(line, site)
    elif isinstance(line, Chevron):
        courses = [_chevron(line, site, turn) for turn in _turns(line.repeat)]
    else:
        raise TypeError(f"no such line: {line!r}")
    return _distinct(courses)


def _check_width(line: Line, site: Site) -> None:
    wall, full = site.wall, line.full_width_mm
    if isinstance(line, Ring | Chevron) and full > wall.wall_mm:
        raise GeometryError(
            f"it is {full:g} mm wide in all, the wall {wall.wall_mm:.2f} mm long",
            "make it narrower, or use fewer stripes",
            Figure("width", full),
            Figure("wall", wall.wall_mm),
        )
    if isinstance(line, Vertical) and line.narrows:
        radius, where = wall.rim_radius_mm, "rim"
    else:
        radius, where = wall.least_radius_mm, "narrowest"
    if full > FULL_TURN * radius + 1e-6:
        raise GeometryError(
            f"it is {full:g} mm wide in all, the cup at its {where} {FULL_TURN * radius:.2f} mm round",
            "make it narrower, or use fewer stripes",
            Figure("width", full),
            Figure("girth", FULL_TURN * radius),
        )


def _turns(repeat: Repeat | None) -> list[float]:
    """By how much each copy is turned from the first."""
    if repeat is None:
        return [0.0]
    step = FULL_TURN / repeat.count if repeat.step_rad is None else repeat.step_rad
    return [number * step for number in range(repeat.count)]


def _verticals(line: Vertical, site: Site) -> list[Course]:
    start = site.top_mm if line.start is None else site.down_mm(line.start)
    end = site.bottom_mm if line.end is None else site.down_mm(line.end)
    if end - start < 1e-6:
        raise GeometryError(
            f"it would run from {start:.2f} to {end:.2f} mm down",
            "`to` must lie below `from`",
            Figure("from", start),
            Figure("to", end),
        )
    middle = (start + end) / 2
    if line.repeat is not None and line.repeat.between is not None:
        curves = _spread(line.repeat, site, middle)
    else:
        places = line.around or (0.0,)
        curves = [_upright(place, site, middle).turned(turn) for place in places for turn in _turns(line.repeat)]
    if line.mirror is not None:
        mirror = site.around_rad(line.mirror, middle)
        curves += [_mirrored(curve, mirror) for curve in curves]
    if line.narrows and any(isinstance(curve, Shared) or curve.heading_rad for curve in curves):
        raise GeometryError("narrows = true needs upright places; a leaning seam has none", "leave narrows out, or give degrees")
    return [
        Course(
            (Leg(curve, float(level_t(curve, start)), float(level_t(curve, end)), line.ends, line.ends),),
            narrows=line.narrows,
        )
        for curve in curves
    ]


def _upright(place: Around, site: Site, down_mm: float) -> Straight:
    if isinstance(place, str):
        return site.seam(place)
    return Straight(site.wall, site.around_rad(place, down_mm), 0.0, 0.0)


def _mirrored(curve: Straight | Shared, mirror_rad: float) -> Straight | Shared:
    """The image of a line down the wall in a meridian."""
    if isinstance(curve, Shared):
        return replace(curve, first=_mirrored(curve.first, mirror_rad), second=_mirrored(curve.second, mirror_rad))
    return replace(curve, around_rad=2 * mirror_rad - curve.around_rad, heading_rad=-curve.heading_rad)


def _spread(repeat: Repeat, site: Site, down_mm: float) -> list[Straight | Shared]:
    """Lines down the wall between two places, to the right of the first, with equal gaps at both ends too.

    Between leaning seams they lie at each place down by their share of the way round.
    """
    first, last = (_upright(place, site, down_mm) for place in repeat.between)
    turn = (last.around_rad - first.around_rad) % FULL_TURN
    if turn < SAME_RAD:
        turn = FULL_TURN
    shares = [number / (repeat.count + 1) for number in range(1, repeat.count + 1)]
    if not (first.heading_rad or last.heading_rad):
        return [first.turned(turn * share) for share in shares]
    last = last.turned(first.around_rad + turn - last.around_rad)
    at_base = [float(curve.at(float(level_t(curve, site.wall.wall_mm)))[0]) for curve in (first, last)]
    if at_base[1] - at_base[0] < SAME_RAD:
        raise GeometryError("the seams that it should lie between cross on their way down", "give it other places to lie between")
    return [Shared(site.wall, first, last, share) for share in shares]


def _rings(line: Ring, site: Site) -> list[Course]:
    if line.start is None and line.repeat is not None:
        raise GeometryError("repeat turns a line round the cup, and a full ring comes back to itself", "list its downs")
    courses = []
    for place in line.downs:
        down = site.down_mm(place)
        if line.start is None:
            joint = site.around_rad(line.joint, down)
            leg = Leg(Parallel(site.wall, down, joint), 0.0, FULL_TURN, "upright", "upright")
            courses.append(Course((leg,), closed=True, overlap_mm=line.overlap_mm))
            continue
        start, end = site.around_rad(line.start, down), site.around_rad(line.end, down)
        turn = (end - start) % FULL_TURN
        if not SAME_RAD < turn < FULL_TURN - SAME_RAD:
            raise GeometryError("start and end are one place", "leave both out for a full ring")
        for further in _turns(line.repeat):
            curve = Parallel(site.wall, down, start + further)
            courses.append(Course((Leg(curve, 0.0, turn, line.ends, line.ends),)))
    return courses


def _diagonals(line: Diagonal, site: Site) -> list[Course]:
    down0, down1 = site.down_mm(line.start_down), site.down_mm(line.end_down)
    around0, around1 = site.around_rad(line.start_around, down0), site.around_rad(line.end_around, down1)
    if isinstance(line.start_around, str) or isinstance(line.end_around, str):
        around1 = around0 + (around1 - around0) % FULL_TURN
    ends = [(around0, around1)]
    if line.mirror is True:
        ends.append((around1, around0))
    elif line.mirror is not None and line.mirror is not False:
        mirror = site.around_rad(line.mirror, (down0 + down1) / 2)
        ends.append((2 * mirror - around0, 2 * mirror - around1))
    return [
        Course((_leg(line.path, site, (start + turn, down0), (end + turn, down1), line.ends),))
        for start, end in ends
        for turn in _turns(line.repeat)
    ]


def _leg(path: str, site: Site, start: tuple[float, float], end: tuple[float, float], cut: str) -> Leg:
    turn, drop = end[0] - start[0], end[1] - start[1]
    if math.hypot(turn * site.wall.radius_mm(start[1]), drop) < 1e-6:
        raise GeometryError("it starts and ends at one place", "give it two different places")
    if path == "straight":
        heading, length = site.wall.straight_way(start, end)
        return Leg(Straight(site.wall, *start, heading), 0.0, length, cut, cut)
    if abs(drop) < 1e-6:
        raise GeometryError(
            f'path = "{path}" needs two different places down', 'between equal ones make it kind = "ring", with start and end'
        )
    if path == "same-slant":
        curve, length = SameSlant.between(site.wall, start, end)
        return Leg(curve, 0.0, length, cut, cut)
    return Leg(EvenDrop(site.wall, *start, turn, drop), 0.0, 1.0, cut, cut)


def _chevron(line: Chevron, site: Site, turn_rad: float) -> Course:
    top, bottom = site.down_mm(line.top), site.down_mm(line.bottom)
    if bottom - top < 1e-6:
        raise GeometryError(
            f"its top lies {top:.2f} mm down, its bottom {bottom:.2f} mm",
            "the top must lie above the bottom",
            Figure("top", top),
            Figure("bottom", bottom),
        )
    step = FULL_TURN / line.points
    start = site.around_rad(line.start, top) + turn_rad
    joint = site.around_rad(line.joint, top)
    first = start + step * round((joint - start) / step)  # the upper point nearest to the joint
    lower, following = first + step / 2, first + step
    pair = (
        _leg(line.path, site, (first, top), (lower, bottom), "upright"),
        _leg(line.path, site, (lower, bottom), (following, top), "upright"),
    )
    legs = [replace(leg, curve=leg.curve.turned(step * number)) for number in range(line.points) for leg in pair]
    return Course(tuple(legs), closed=True, overlap_mm=line.overlap_mm, stripe_mm=line.width_mm)


def _distinct(courses: list[Course]) -> list[Course]:
    """The courses less those that fall on an earlier one, forwards or backwards."""
    kept: list[Course] = []
    seen = np.empty((len(courses), 4))
    for course in courses:
        keys = _keys(course)
        if not any(_holds(seen[: len(kept)], key) for key in keys):
            seen[len(kept)] = keys[0]
            kept.append(course)
    return kept


def _keys(course: Course) -> list[np.ndarray]:
    """What a course has in common with one that covers it: phase round the cup, turn, downs."""
    first, last = course.legs[0], course.legs[-1]
    start, end = first.place(first.t0), last.place(last.t1)
    if course.closed:
        points = max(1, len(course.legs) // 2)
        return [np.array([start[0] * points, 0.0, start[1], first.place(first.t1)[1]])]
    turn = end[0] - start[0]
    return [np.array([start[0], turn, start[1], end[1]]), np.array([end[0], -turn, end[1], start[1]])]


def _holds(seen: np.ndarray, key: np.ndarray) -> bool:
    """Whether a key is among some, its first number up to whole turns."""
    gaps = seen - key
    gaps[:, 0] -= FULL_TURN * np.round(gaps[:, 0] / FULL_TURN)
    return bool(np.any(np.all(np.abs(gaps) < 1e-7, axis=1)))
