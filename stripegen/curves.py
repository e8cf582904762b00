"""Curves on a wall: what centre lines, stripe edges and limits are made of.

A curve is known on the wall, at(t) -> (around, down), for any real t, winding as often as it does. Each
kind knows its parallel curve at a distance (towards heading + 90 degrees) and what it is when laid flat:
a straight line, an arc, or neither. With f the heading and a = around, a curve laid flat turns by the change of
f and by the integral of r'(v) da: by f + slope * a on a straight wall (Liouville; do Carmo 4-4).
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass, field, fields, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from stripegen.errors import GeometryError
from stripegen.steep import Mend, mends
from stripegen.surface import Frustum, Wall

QUARTER = math.pi / 2
DIGITS = 8  # of radians and of millimetres, to which curves are alike
EXACT_DIGITS = 12  # and to which what is worked out for one may be taken for the other
BEND_STEPS = 256  # a curve does not cross one bend of a wall twice within such a part of it
LEVEL_MM = 1e-11
PANEL_MM = 12.0  # lengths are summed over parts no longer than about this


@dataclass(frozen=True, slots=True)
class Curve(ABC):
    """What every curve offers. `flat` says what it is when laid flat: "line", "arc" or "free".

    It bends evenly enough over blocks of t that are `block_t` long for one measure of each.
    """

    wall: Wall

    flat = "free"
    block_t = 16.0

    def at(self, t):
        """(around, down) at t, arrays as t."""
        return self.along(t)[:2]

    @abstractmethod
    def along(self, t):
        """(around, down, heading) at t; the heading is that of growing t."""

    @abstractmethod
    def length_mm(self, t0: float, t1: float) -> float:
        """Signed length from t0 to t1."""

    def parallel(self, distance_mm: float) -> Curve:
        """The curve at a constant distance, towards heading + 90 degrees, at the same t."""
        return Beside(self.wall, self, distance_mm) if distance_mm else self

    @abstractmethod
    def turned(self, turn_rad: float) -> Curve:
        """The same curve further round the cup."""

    @abstractmethod
    def speed(self, t):
        """Length per unit of t."""

    @abstractmethod
    def curvature(self, t):
        """Geodesic curvature, positive towards heading + 90 degrees (1/mm)."""

    def bends_t(self, t0: float, t1: float) -> list[float]:
        """Where between t0 and t1 (either may be the greater) the curve crosses bends of its wall, in order of t."""
        low, high = min(t0, t1), max(t0, t1)
        if not self.wall.bends_mm or not high > low:
            return []
        t = np.linspace(low, high, BEND_STEPS + 1)
        downs = np.asarray(self.at(t)[1])
        known = np.isfinite(downs)  # not past the point to which the wall tapers
        found = []
        for bend in self.wall.bends_mm:
            above = downs < bend
            crosses = (above[:-1] != above[1:]) & known[:-1] & known[1:]
            found += [self._level_between(t[n], t[n + 1], bend) for n in np.flatnonzero(crosses)]
        return sorted(found)

    def _level_between(self, low: float, high: float, down_mm: float) -> float:
        """The place between two at which the curve is so far down: by chords, an end that stays counting half (Illinois)."""
        low, high = float(low), float(high)
        off_low, off_high = (float(self.at(t)[1]) - down_mm for t in (low, high))
        kept = 0
        for _ in range(60):
            t = high - off_high * (high - low) / (off_high - off_low) if off_high != off_low else (low + high) / 2
            off = float(self.at(t)[1]) - down_mm
            if abs(off) < LEVEL_MM or high - low < 1e-13 * max(1.0, abs(t)):
                return t
            if (off < 0) == (off_low < 0):
                low, off_low = t, off
                off_high /= 2 if kept == -1 else 1
                kept = -1
            else:
                high, off_high = t, off
                off_low /= 2 if kept == 1 else 1
                kept = 1
        return t

    def turned_by(self, t, step) -> np.ndarray:
        """Curvature by the change of direction over a short way either side."""
        (a0, _, f0), (a1, _, f1) = self.along(t - step), self.along(t + step)
        return f1 - f0 + self.wall.slope_at(self.at(t)[1]) * (a1 - a0)


@dataclass(frozen=True, slots=True)
class Straight(Curve):
    """A geodesic from a point at a heading; t is length. A meridian is one with heading 0."""

    around_rad: float
    down_mm: float
    heading_rad: float

    flat = "line"

    def along(self, t):
        if self.heading_rad == 0:
            return self.around_rad + 0 * t, self.down_mm + t, 0 * t
        return self.wall.reach(self.around_rad, self.down_mm, self.heading_rad, t)

    def length_mm(self, t0, t1):
        return t1 - t0

    def parallel(self, distance_mm):
        if not distance_mm:
            return self
        if not isinstance(self.wall, Frustum):
            return Beside(self.wall, self, distance_mm)
        a, v, f = self.wall.reach(
            self.around_rad, self.down_mm, self.heading_rad + QUARTER, distance_mm
        )
        return Straight(self.wall, float(a), float(v), float(f) - QUARTER)

    def turned(self, turn_rad):
        return replace(self, around_rad=self.around_rad + turn_rad)

    def speed(self, t):
        return np.ones_like(t, dtype=float)

    def curvature(self, t):
        return np.zeros_like(t, dtype=float)


@dataclass(frozen=True, slots=True)
class Parallel(Curve):
    """A circle round the cup; t is the angle from `around_rad` on."""

    down_mm: float
    around_rad: float = 0.0

    flat = "arc"

    def along(self, t):
        if isinstance(t, float):
            return self.around_rad + t, self.down_mm, QUARTER
        t = np.asarray(t, dtype=float)
        return self.around_rad + t, np.full_like(t, self.down_mm), np.full_like(t, QUARTER)

    def length_mm(self, t0, t1):
        return (t1 - t0) * self.wall.radius_mm(self.down_mm)

    def parallel(self, distance_mm):
        return replace(self, down_mm=self.down_mm - distance_mm)

    def turned(self, turn_rad):
        return replace(self, around_rad=self.around_rad + turn_rad)

    def speed(self, t):
        return np.full_like(t, self.wall.radius_mm(self.down_mm), dtype=float)

    def curvature(self, t):
        return np.full_like(t, self.wall.slope_at(self.down_mm) / self.wall.radius_mm(self.down_mm), dtype=float)


@dataclass(frozen=True, slots=True)
class Round(Curve):
    """The points at one distance from a centre, laid flat a circle; t is the heading from the centre."""

    around_rad: float
    down_mm: float
    radius_mm: float

    flat = "arc"
    block_t = 0.5

    def along(self, t):
        a, v, f = self.wall.reach(self.around_rad, self.down_mm, t, self.radius_mm)
        return a, v, f + QUARTER

    def length_mm(self, t0, t1):
        return summed_length(self, t0, t1)

    def parallel(self, distance_mm):
        if distance_mm >= self.radius_mm:
            raise GeometryError("an arc can't be moved inwards past its centre")
        return replace(self, radius_mm=self.radius_mm - distance_mm)

    def turned(self, turn_rad):
        return replace(self, around_rad=self.around_rad + turn_rad)

    def speed(self, t):
        if isinstance(self.wall, Frustum):
            return np.full_like(t, self.radius_mm, dtype=float)
        return self.wall.spread(self.down_mm, t, self.radius_mm)[1]

    def curvature(self, t):
        return np.full_like(t, 1 / self.radius_mm, dtype=float)


# nodes and weights for lengths that have no short closed form; exact to rounding on a short panel
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)


def summed_length(curve: Curve, t0: float, t1: float) -> float:
    """Signed, by Gauss and Legendre's rule on panels that end at the bends that the curve or its base crosses."""
    stops = [t0, *(curve.bends_t(t0, t1) if t0 <= t1 else reversed(curve.bends_t(t0, t1))), t1]
    total = 0.0
    for start, end in pairwise(stops):
        about = abs(end - start) * float(np.max(curve.speed(np.linspace(start, end, 3)[1:2])))
        edges = np.linspace(start, end, max(1, math.ceil(about / PANEL_MM)) + 1)
        half = (edges[1:] - edges[:-1])[:, None] / 2
        t = (edges[1:] + edges[:-1])[:, None] / 2 + half * _NODES
        total += float(np.sum(half * _WEIGHTS * curve.speed(t)))
    return total


@dataclass(frozen=True, slots=True)
class Beside(Curve):
    """The curve at a constant distance from another, point by point square to it.

    Where the other crosses a bend of the wall too steeply for that, it is followed section by section (steep.py).
    """

    base: Curve
    distance_mm: float
    _mends: tuple[Mend, ...] | None = field(default=None, init=False, compare=False, repr=False)

    @property
    def block_t(self):
        return self.base.block_t

    def along(self, t):
        place = self._square(t)
        for mend in self.mends:
            place = mend.over(t, self._from_rad, *place)
        return place

    def _square(self, t):
        a, v, f = self.base.along(t)
        a, v, f = self.wall.reach(a, v, f + QUARTER, self.distance_mm)
        return a, v, f - QUARTER

    @property
    def mends(self) -> tuple[Mend, ...]:
        """The parts followed section by section, their places round the cup counted from the base's own."""
        if self._mends is None:  # worked out once for copies further round
            object.__setattr__(self, "_mends", _mends_of(self.turned(-self._from_rad)) if self.wall.bends_mm else ())
        return self._mends

    @property
    def _from_rad(self) -> float:
        return getattr(self.base, "around_rad", 0.0)

    def is_torn(self, t0: float, t1: float) -> bool:
        """Whether it is nowhere on some part between two places."""
        low, high = min(t0, t1), max(t0, t1)
        return any(mend.is_torn and mend.stops[0] < high and mend.stops[-1] > low for mend in self.mends)

    def length_mm(self, t0, t1):
        if isinstance(self.wall, Frustum):
            (a0, _, f0), (a1, _, f1) = self.base.along(t0), self.base.along(t1)
            turning = f1 - f0 + self.wall.slope * (a1 - a0)
            return float(self.base.length_mm(t0, t1) - self.distance_mm * turning)
        return summed_length(self, t0, t1)

    def bends_t(self, t0, t1):
        ends = [t for mend in self.mends for t in mend.stops if min(t0, t1) < t < max(t0, t1)]
        return sorted(Curve.bends_t(self, t0, t1) + self.base.bends_t(t0, t1) + ends)

    def parallel(self, distance_mm):
        return self.base.parallel(self.distance_mm + distance_mm)

    def turned(self, turn_rad):
        return replace(self, base=self.base.turned(turn_rad))

    def speed(self, t):
        """The base's, as the ways square to it spread (Jacobi; do Carmo 5-5); at a single place, by a difference."""
        if isinstance(t, float) and not isinstance(self.wall, Frustum):
            return self._speed_at(t)
        _, v, f = self.base.along(t)
        parallel, fan = self.wall.spread(v, f + QUARTER, self.distance_mm)
        speed = self.base.speed(t) * (parallel - fan * self.base.curvature(t))
        for mend in self.mends:
            speed = mend.speed(t, speed)
        return speed

    def _speed_at(self, t: float) -> float:
        step = 1e-4 / float(self.base.speed(t))
        (a0, v0, _), (a1, v1, f) = self.along(t - step), self.along(t + step)
        across = (a1 - a0) * self.wall.radius_mm(v1)
        return float(across * math.sin(f) + (v1 - v0) * math.cos(f)) / (2 * step)

    def curvature(self, t):
        if not isinstance(self.wall, Frustum):
            step = 1e-3 / self.speed(t)
            return self.turned_by(t, step) / 2e-3
        curvature = self.base.curvature(t)
        return curvature / (1 - self.distance_mm * curvature)


@lru_cache(maxsize=4096)
def _mends_of(curve: Beside) -> tuple[Mend, ...]:
    crossed = curve.base.bends_t(-40 * curve.block_t, 40 * curve.block_t)
    return tuple(mends(curve.base, curve.distance_mm, curve._square, crossed))


def traits(curve: Curve, from_rad: float, digits: int = DIGITS) -> tuple:
    """A curve's kind and measures, those round the cup counted from a place: equal for curves that are one, turned."""
    found: list = [type(curve).__name__]
    for each in fields(curve):
        value = getattr(curve, each.name)
        if isinstance(value, Curve):
            found.append(traits(value, from_rad, digits))
        elif isinstance(value, float):
            found.append(round(value - from_rad if each.name == "around_rad" else value, digits))
    return tuple(found)
