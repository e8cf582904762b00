"""What runs beside a line that crosses a bend of the wall too steeply: section by section, joined at the bend.

Ways square to a line that runs nearly straight down over a bend graze the bend, and cross each other or part. There
each section is taken to run on past the bend, the line in it to run on as bent as it is (the same geodesic curvature),
and what runs beside it is a curve of that section alone. Two sections' curves meet the bend about d^2 / 2 times the change of
slope over r too early or too late for each other; over some times as long the curve is drawn out or pushed together, and
turns from the one's heading to the other's.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from stripegen.surface import Frustum, Wall

if TYPE_CHECKING:
    from stripegen.curves import Curve

QUARTER = math.pi / 2
STEEP = 1.5  # ways that cross a bend at this many times the least angle part or close up by two thirds at most
JOINS = (3.0, 2.0, 1.0, 0.6)  # half a join over what it makes up for: a strip as wide as it is far off needs over 1.5
LEAST_MM = 1e-3  # half of the shortest join
AGREE_MM = 1e-7
ASIDE_MM = 1e-3  # so far off a bend a line is on one side of it

Square = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray, np.ndarray]]


def leaning(wall: Wall, bend_mm: float, reach_mm: float) -> tuple[float, float]:
    """By how much two ways that reach so far part for each of their distance over a bend, and how far one leans off its
    parallel in the section that tapers more; both in radians."""
    slopes = [float(wall.slope_at(bend_mm + side)) for side in (-1e-6, 1e-6)]
    share = reach_mm / float(wall.radius_mm(bend_mm))
    return share * abs(slopes[1] - slopes[0]), share * max(map(abs, slopes))


def is_steep(wall: Wall, bend_mm: float, heading_rad: float, reach_mm: float) -> bool:
    """Whether ways that reach so far square to a line graze a bend that it crosses at a heading, cross or part there."""
    return abs(math.tan(heading_rad)) < STEEP * sum(leaning(wall, bend_mm, reach_mm))


@dataclass(frozen=True, slots=True)
class _Crossing:
    """A place of a line just on one side of a bend, how it is bent there, and how fast it runs."""

    t: float
    around_rad: float
    down_mm: float
    heading_rad: float
    curvature: float
    speed: float


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A line beside another on one section, which begins `start_mm` down the wall; past where the other enters and
    leaves the section both run on."""

    base: Curve
    distance_mm: float
    part: Frustum
    start_mm: float
    enters: _Crossing | None
    leaves: _Crossing | None

    def along(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        a, v, f = (np.asarray(value, dtype=float) for value in self.base.along(t))
        a, v, f = self.part.reach(a, v - self.start_mm, f + QUARTER, self.distance_mm)
        place = a, v + self.start_mm, f - QUARTER
        for crossing, past in self._past(t):
            if np.any(past):
                beyond = self._run_on(crossing, t)
                place = tuple(np.where(past, new, old) for new, old in zip(beyond, place, strict=True))
        return place

    def speed(self, t: np.ndarray) -> np.ndarray:
        speed = self.base.speed(t) * (1 - self.distance_mm * self.base.curvature(t))
        for crossing, past in self._past(t):
            speed = np.where(past, crossing.speed * (1 - self.distance_mm * crossing.curvature), speed)
        return speed

    def level_t(self, down_mm: float, t: float) -> float:
        """Where it is so far down, by Newton's method; NaN where that finds nothing."""
        for _ in range(40):
            at = np.array([t])
            _, v, f = self.along(at)
            step = (down_mm - float(v[0])) / (float(self.speed(at)[0]) * math.cos(float(f[0])))
            t += step
            if abs(step) < 1e-12 * max(1.0, abs(t)):
                return t
        return math.nan

    def _past(self, t: np.ndarray):
        if self.enters:
            yield self.enters, t < self.enters.t
        if self.leaves:
            yield self.leaves, t > self.leaves.t

    def _run_on(self, crossing: _Crossing, t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Beside an arc of the section laid flat, on from where the base crosses the bend."""
        length = (t - crossing.t) * crossing.speed
        half = crossing.curvature * length / 2
        chord, way = length * np.sinc(half / math.pi), crossing.heading_rad + 2 * half
        across = chord * np.sin(crossing.heading_rad + half) + self.distance_mm * np.cos(way)
        along = chord * np.cos(crossing.heading_rad + half) - self.distance_mm * np.sin(way)
        a, v, _ = self.part.reach(
            crossing.around_rad, crossing.down_mm - self.start_mm, np.arctan2(across, along), np.hypot(across, along)
        )
        return a, v + self.start_mm, way - self.part.slope * (a - crossing.around_rad)


@dataclass(frozen=True)
class _Join:
    """From one stretch, which meets the bend at `first`, to the next, which does at `second`, between t0 and t1."""

    before: _Stretch
    after: _Stretch
    t0: float
    t1: float
    first: float
    second: float

    def along(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        share, rows = (t - self.t0) / (self.t1 - self.t0), self._rows(t)
        first, last = self._headings
        early = share < 0.5
        around = np.where(early, rows[0][0] + self._off * share, rows[1][0] - self._off * (1 - share))
        return around, np.where(early, rows[0][1], rows[1][1]), first + share * (last - first)

    def speed(self, t: np.ndarray) -> np.ndarray:
        half = (self.t1 - self.t0) / 2
        shares = (self.first - self.t0) / half, (self.t1 - self.second) / half
        found = []
        for part, at, share, row in zip((self.before, self.after), self._places(t), shares, self._rows(t), strict=True):
            _, down, heading = row
            pace = share * part.speed(at)
            across = self.before.base.wall.radius_mm(down) * self._off / (self.t1 - self.t0)
            found.append(np.hypot(pace * np.sin(heading) + across, pace * np.cos(heading)))
        return np.where(t - self.t0 < half, *found)

    @cached_property
    def _headings(self) -> tuple[float, float]:
        """At the start and at the end."""
        return _place(self.before.along, self.t0)[2], _place(self.after.along, self.t1)[2]

    @cached_property
    def _off(self) -> float:
        """How far round the cup the stretches miss each other at the bend."""
        return _place(self.after.along, self.second)[0] - _place(self.before.along, self.first)[0]

    def _places(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The places on both stretches that belong to a place of the join, half of which lies on each."""
        share = (t - self.t0) / (self.t1 - self.t0)
        return self.t0 + 2 * share * (self.first - self.t0), self.t1 - 2 * (1 - share) * (self.t1 - self.second)

    def _rows(self, t: np.ndarray) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
        return [part.along(at) for part, at in zip((self.before, self.after), self._places(t), strict=True)]


@dataclass(frozen=True, slots=True)
class Mend:
    """A part of a curve beside another: `parts`, each between two of `stops`. Without parts it is nowhere."""

    stops: tuple[float, ...]
    parts: tuple[_Stretch | _Join, ...]

    @property
    def is_torn(self) -> bool:
        return not self.parts

    def over(self, t, from_rad: float, *place):
        """Around, down and heading at t, so far round the cup: as given outside this part."""
        at, held = self._held(t)
        if at is None:
            return place
        found = [np.array(np.broadcast_to(value, np.shape(t)), dtype=float).ravel() for value in place]
        for number, own in held:
            around, down, heading = self.parts[number].along(at[own]) if self.parts else (math.nan,) * 3
            for value, part in zip(found, (from_rad + around, down, heading), strict=True):
                value[own] = part
        return tuple(value.reshape(np.shape(t)) if np.ndim(t) else float(value[0]) for value in found)

    def speed(self, t, given):
        at, held = self._held(t)
        if at is None:
            return given
        found = np.array(np.broadcast_to(given, np.shape(t)), dtype=float).ravel()
        for number, own in held:
            found[own] = self.parts[number].speed(at[own]) if self.parts else math.nan
        return found.reshape(np.shape(t)) if np.ndim(t) else float(found[0])

    def _held(self, t) -> tuple[np.ndarray | None, list[tuple[int, np.ndarray]]]:
        """The values of t, in a row, and which of them lie in which part; None where none does."""
        if isinstance(t, float) and not self.stops[0] < t < self.stops[-1]:
            return None, []
        at = np.ravel(np.asarray(t, dtype=float))
        part = np.searchsorted(self.stops, at) - 1
        part[~(at < self.stops[-1])] = -1  # NaN too
        held = np.unique(part[part >= 0])
        return (at, [(int(number), part == number) for number in held]) if len(held) else (None, [])


def mends(base: Curve, distance_mm: float, square: Square, crossed: Sequence[float]) -> list[Mend]:
    """The parts of the curve so far beside another that are followed section by section.

    `crossed` are the places where the base is bent, at bends of the wall and, where it is itself joined over one, at the
    join's ends; in order. `square(t)` is what the ways square to it say.
    """
    wall, reach = base.wall, abs(distance_mm)
    windows, steep = [], []
    for t in crossed:
        _, v, f = (float(value) for value in base.along(t))
        # past all ways square to the base that reach the bend, and past the join
        far = (2 * reach * (abs(math.tan(f)) + sum(leaning(wall, v, reach))) + 3 * LEAST_MM) / float(base.speed(t))
        windows.append((t - far, t + far))
        steep.append(_is_bend(wall, v) and is_steep(wall, v, f, reach))
    found = []
    for group in _overlapping(windows):  # a bend too near to one that is crossed steeply is taken with it
        if any(steep[number] for number in group):
            low, high = min(windows[number][0] for number in group), max(windows[number][1] for number in group)
            found.append(_mend(base, distance_mm, square, [crossed[number] for number in group], low, high))
    return found


def _overlapping(windows: Sequence[tuple[float, float]]) -> list[list[int]]:
    groups: list[list[int]] = []
    farthest = -math.inf
    for number, (low, high) in enumerate(windows):
        if low < farthest:
            groups[-1].append(number)
        else:
            groups.append([number])
        farthest = max(farthest, high)
    return groups


def _mend(
    base: Curve, distance_mm: float, square: Square, crossed: Sequence[float], low: float, high: float
) -> Mend:
    """The part from low to high, within which the base is bent at some places.

    The base's own joins are left out: both of its stretches are run on to the bend of the wall instead.
    """
    wall, speed = base.wall, float(base.speed(crossed[0]))
    aside = ASIDE_MM / speed
    at_bends = [t for t in crossed if _is_bend(wall, float(base.at(t)[1]))]
    about: dict[float, list[float]] = {t: [] for t in at_bends}
    for t in crossed:
        about[min(at_bends, key=lambda bend: abs(bend - t))].append(t)
    stretches = []
    for begins, ends in pairwise((None, *at_bends, None)):
        t0 = None if begins is None else max(about[begins]) + aside
        t1 = None if ends is None else min(about[ends]) - aside
        part, start_mm = wall.part_at(float(base.at(t0 if t1 is None else t1)[1]))
        enters, leaves = (None if t is None else _near(base, t) for t in (t0, t1))
        stretches.append(_Stretch(base, distance_mm, part, start_mm, enters, leaves))
    for stretch, t in ((stretches[0], low), (stretches[-1], high)):
        if not _apart(wall, _place(stretch.along, t), _place(square, t)) < AGREE_MM:
            return Mend((low, high), ())
    pairs = list(pairwise(stretches))
    met = [tuple(part.level_t(float(base.at(t)[1]), t) for part in pair) for t, pair in zip(at_bends, pairs, strict=True)]
    for times in JOINS if np.isfinite(met).all() else ():
        joins = [
            _Join(*pair, *_about(*places, times, LEAST_MM / speed), *places)
            for pair, places in zip(pairs, met, strict=True)
        ]
        stops = [low, *(end for join in joins for end in (join.t0, join.t1)), high]
        if (np.diff(stops) > 0).all():
            return Mend(tuple(stops), (stretches[0], *(part for join in joins for part in (join, join.after))))
    return Mend((low, high), ())


def _is_bend(wall: Wall, down_mm: float) -> bool:
    return min(abs(down_mm - bend) for bend in wall.bends_mm) < AGREE_MM


def _about(first: float, second: float, times: float, least: float) -> tuple[float, float]:
    half = times * abs(second - first) + least
    return (first + second) / 2 - half, (first + second) / 2 + half


def _near(base: Curve, t: float) -> _Crossing:
    return _Crossing(t, *(float(value) for value in (*base.along(t), base.curvature(t), base.speed(t))))


def _place(along: Square, t: float) -> tuple[float, float, float]:
    return tuple(float(np.squeeze(value)) for value in along(np.array([t])))


def _apart(wall: Wall, first: tuple[float, ...], second: tuple[float, ...]) -> float:
    return math.hypot((first[0] - second[0]) * float(wall.radius_mm(second[1])), first[1] - second[1])
