"""A smooth wall: a natural cubic spline of radius against height, bare or under a coat.

A coat lies on it point by point along the normal. With s the length down the bare wall, t the angle of its tangent
from the axis (sin t = dr/ds) and c the coat, the coated wall is (r + c cos t, drop - c sin t), its length grows by
1 - c dt/ds and its slope stays sin t. All of it is tabled against the length down the wall, TABLE_MM apart, as
polynomials that keep value, slope and second derivative, and read to 1e-7 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from stripegen.errors import Figure, GeometryError
from stripegen.shortest import shortest_way
from stripegen.surface import Floats, Frustum, Wall
from stripegen.units import LENGTH_LIMIT_MM

TABLE_MM = 0.25
GRID_MM = 0.5  # lengths of the spline are summed over such parts
STEP_MM = 1.0  # straightest ways are followed by such steps, to the fifth order
FARTHEST_MM = 10_000.0  # and no farther; beyond it they are nowhere
MOST_RAYS = 20_000

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)


class _Table:
    """A function of the length down the wall; past its ends it runs on straight."""

    def __init__(self, value: np.ndarray, first: np.ndarray, second: np.ndarray, length_mm: float):
        count = len(value) - 1
        self.step, self.length, self.last = length_mm / count, length_mm, count - 1
        h = self.step
        f0, f1, d0, d1 = value[:-1], value[1:], first[:-1] * h, first[1:] * h
        s0, s1 = second[:-1] * h * h, second[1:] * h * h
        # quintic through values, slopes and second derivatives at both ends of a cell, in x from 0 to 1
        a, b, c = f1 - f0 - d0 - s0 / 2, d1 - d0 - s0, s1 - s0
        rows = [f0, d0, s0 / 2, 10 * a - 4 * b + c / 2, -15 * a + 7 * b - c, 6 * a - 3 * b + c / 2]
        self.terms = np.stack(rows)
        self.cells = self.terms.T.tolist()  # for single numbers
        self.ends = ((float(value[0]), float(first[0])), (float(value[-1]), float(first[-1])))

    def __call__(self, down: Floats) -> Floats:
        return self.with_slope(down)[0]

    def with_slope(self, down: Floats) -> tuple[Floats, Floats]:
        if isinstance(down, float):
            return self._one(down)
        down, inside, x, (c0, c1, c2, c3, c4, c5) = self._cell(down)
        value = c0 + x * (c1 + x * (c2 + x * (c3 + x * (c4 + x * c5))))
        slope = (c1 + x * (2 * c2 + x * (3 * c3 + x * (4 * c4 + x * 5 * c5)))) / self.step
        return value + slope * (down - inside), slope

    def _cell(self, down: Floats) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        down = np.asarray(down, dtype=float)
        inside = np.fmax(np.fmin(down, self.length), 0.0)
        cell = np.minimum((inside / self.step).astype(int), self.last)
        return down, inside, inside / self.step - cell, self.terms[:, cell]

    def _one(self, down: float) -> tuple[float, float]:
        if not 0.0 <= down <= self.length:
            (value, slope), end = (self.ends[1], self.length) if down > 0 else (self.ends[0], 0.0)
            return value + slope * (down - end), slope
        cell = min(int(down / self.step), self.last)
        x = down / self.step - cell
        c0, c1, c2, c3, c4, c5 = self.cells[cell]
        return (
            c0 + x * (c1 + x * (c2 + x * (c3 + x * (c4 + x * c5)))),
            (c1 + x * (2 * c2 + x * (3 * c3 + x * (4 * c4 + x * 5 * c5)))) / self.step,
        )

    def with_bend(self, down: Floats) -> tuple[Floats, Floats]:
        """The value and the second derivative, which is 0 past the ends."""
        down, inside, x, (c0, c1, c2, c3, c4, c5) = self._cell(down)
        value = c0 + x * (c1 + x * (c2 + x * (c3 + x * (c4 + x * c5))))
        bend = (2 * c2 + x * (6 * c3 + x * (12 * c4 + x * 20 * c5))) / self.step**2
        if np.all(inside == down):
            return value, bend
        return self.with_slope(down)[0], np.where(inside == down, bend, 0.0)


class _Profile:
    """The spline through points (radius, drop below the rim), and its tables under a coat."""

    def __init__(self, points: Sequence[tuple[float, float]], coat_mm: float):
        self.radii, heights = (np.array([point[axis] for point in points], dtype=float) for axis in (0, 1))
        self.knots = heights[0] - heights
        if len(points) < 3 or not np.isfinite([self.radii, self.knots]).all() or not (np.diff(self.knots) > 0).all():
            raise GeometryError("a smooth wall needs three points or more, each lower than the one before")
        self.seconds = _natural(self.knots, self.radii)
        self.coat_mm = coat_mm
        counts = np.ceil(np.diff(self.knots) / GRID_MM).astype(int)
        parts = [
            np.linspace(a, b, n, endpoint=False)
            for a, b, n in zip(self.knots[:-1], self.knots[1:], counts, strict=True)
        ]
        self.grid = np.append(np.concatenate(parts), self.knots[-1])
        if (self.radius(self.grid)[0] <= 0).any():
            raise GeometryError("the smooth line through the points reaches the axis", "add points where it bends most")
        if (self.pace(self.grid) <= 0).any():
            raise GeometryError(
                f"{coat_mm:g} mm of resin would fill a hollow of the wall {self._hollow():.1f} mm below the rim, "
                "which bends more tightly than that",
                "give it less resin, or measure that hollow anew",
                Figure("resin", coat_mm),
            )
        half = np.diff(self.grid)[:, None] / 2
        places = self.grid[:-1, None] + half * (1 + _NODES)
        steps = np.sum(half * _WEIGHTS * self.pace(places), axis=1)
        self.lengths = np.concatenate([[0.0], np.cumsum(steps)])
        if self.lengths[-1] > LENGTH_LIMIT_MM:  # before it is tabled
            raise GeometryError("the smooth line through the points makes a wall of more than 10 m", "check the points")

    def _hollow(self) -> float:
        return float(self.grid[np.argmin(self.pace(self.grid))])

    def radius(self, drop: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The bare radius and its first and second derivative with the drop."""
        at = np.clip(np.searchsorted(self.knots, drop, side="right") - 1, 0, len(self.knots) - 2)
        h = self.knots[at + 1] - self.knots[at]
        a, b = (self.knots[at + 1] - drop) / h, (drop - self.knots[at]) / h
        m0, m1 = self.seconds[at], self.seconds[at + 1]
        value = a * self.radii[at] + b * self.radii[at + 1] + ((a**3 - a) * m0 + (b**3 - b) * m1) * h * h / 6
        first = (self.radii[at + 1] - self.radii[at]) / h + ((3 * b * b - 1) * m1 - (3 * a * a - 1) * m0) * h / 6
        return value, first, a * m0 + b * m1

    def pace(self, drop: np.ndarray) -> np.ndarray:
        """Length down the coated wall for every mm of drop of the bare one."""
        _, first, second = self.radius(drop)
        return np.sqrt(1 + first**2) - self.coat_mm * second / (1 + first**2)

    def drop_at(self, down: np.ndarray) -> np.ndarray:
        """The drop of the bare wall under places of the coated one (held at the ends)."""
        down = np.clip(down, 0.0, self.lengths[-1])
        at = np.clip(np.searchsorted(self.lengths, down, side="right") - 1, 0, len(self.grid) - 2)
        drop = np.interp(down, self.lengths, self.grid)
        for _ in range(4):
            step = (down - self._length(drop, at)) / self.pace(drop)
            drop = drop + step
            if np.all(np.abs(step) < 1e-9):  # the next would be its square
                break
        return np.clip(drop, 0.0, self.knots[-1])

    def down_at(self, drop: np.ndarray) -> np.ndarray:
        """The place down the coated wall over a drop of the bare one."""
        at = np.clip(np.searchsorted(self.grid, drop, side="right") - 1, 0, len(self.grid) - 2)
        return self._length(drop, at)

    def _length(self, drop: np.ndarray, at: np.ndarray) -> np.ndarray:
        half = (drop - self.grid[at])[..., None] / 2
        inside = self.grid[at][..., None] + half * (1 + _NODES)
        return self.lengths[at] + np.sum(half * _WEIGHTS * self.pace(inside), axis=-1)

    @cached_property
    def tables(self) -> tuple[_Table, _Table, _Table]:
        """Radius, drop below the rim's plane, and the integral of 1 / radius."""
        length = float(self.lengths[-1])
        downs = np.linspace(0.0, length, math.ceil(length / TABLE_MM) + 1)
        drop = self.drop_at(downs)
        bare, first, second = self.radius(drop)
        upright = 1 / np.sqrt(1 + first**2)
        slope, turning = first * upright, second * upright**2 / self.pace(drop)
        radius, depth = bare + self.coat_mm * upright, drop - self.coat_mm * slope
        radii = _Table(radius, slope, upright * turning, length)
        half = downs[1] / 2
        places = downs[:-1, None] + half * (1 + _NODES)
        sums = np.concatenate([[0.0], np.cumsum(np.sum(half * _WEIGHTS / radii(places), axis=1))])
        return (
            radii,
            _Table(depth - depth[0], upright, -slope * turning, length),
            _Table(sums, 1 / radius, -slope / radius**2, length),
        )


def _natural(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Second derivatives of the natural cubic spline at its knots."""
    h, count = np.diff(x), len(x)
    matrix, right = np.eye(count), np.zeros(count)
    for n in range(1, count - 1):
        matrix[n, n - 1 : n + 2] = h[n - 1], 2 * (h[n - 1] + h[n]), h[n]
        right[n] = 6 * ((y[n + 1] - y[n]) / h[n] - (y[n] - y[n - 1]) / h[n - 1])
    return np.linalg.solve(matrix, right)


@lru_cache(maxsize=256)
def _profile(points: tuple[tuple[float, float], ...], coat_mm: float) -> _Profile:
    return _Profile(points, coat_mm)


@dataclass(frozen=True, kw_only=True)
class SmoothWall(Wall):
    """The smooth wall through `points` (radius, height), from the rim to the base, under a coat."""

    points: tuple[tuple[float, float], ...]
    coat_mm: float = 0.0
    _radius: _Table = field(init=False, compare=False, repr=False)
    _drop: _Table = field(init=False, compare=False, repr=False)
    _sum: _Table = field(init=False, compare=False, repr=False)
    _rays: dict = field(init=False, compare=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        radius, drop, summed = _profile(self.points, self.coat_mm).tables
        self.__dict__.update(_radius=radius, _drop=drop, _sum=summed)

    @classmethod
    def through(cls, points: Sequence[tuple[float, float]]) -> SmoothWall:
        return cls(points=tuple((float(radius), float(height)) for radius, height in points))

    @property
    def wall_mm(self) -> float:
        return self._radius.length

    @property
    def rim_radius_mm(self) -> float:
        return self._radius.ends[0][0]

    @property
    def base_radius_mm(self) -> float:
        return self._radius.ends[1][0]

    @cached_property
    def least_radius_mm(self) -> float:
        return float(self._radius.terms[0].min())

    @cached_property
    def greatest_radius_mm(self) -> float:
        return float(self._radius.terms[0].max())

    def radius_mm(self, down_mm: Floats) -> Floats:
        return self._radius(down_mm)

    def slope_at(self, down_mm: Floats) -> Floats:
        return self._radius.with_slope(down_mm)[1]

    def drop_mm(self, down_mm: Floats) -> Floats:
        return self._drop(down_mm)

    def gauss_at(self, down_mm: Floats) -> Floats:
        """Gaussian curvature: -r'' / r (do Carmo 3-3), 1/mm^2."""
        radius, bend = self._radius.with_bend(down_mm)
        return -bend / radius

    def coated(self, resin_mm: float) -> SmoothWall:
        return SmoothWall(points=self.points, coat_mm=self.coat_mm + resin_mm) if resin_mm else self

    def carried(self, down_mm: Floats, onto: SmoothWall) -> tuple[Floats, Floats]:
        """Along the normals; past rim and base as far past as here."""
        down = np.asarray(down_mm, dtype=float)
        if onto == self:
            return down, np.ones_like(down)
        here, there = _profile(self.points, self.coat_mm), _profile(onto.points, onto.coat_mm)
        drop = here.drop_at(down)
        past = down - np.clip(down, 0.0, self.wall_mm)
        rate = np.where(past == 0, there.pace(drop) / here.pace(drop), 1.0)
        return there.down_at(drop) + past, rate

    def mean_inverse(self, down_mm: Floats, other_mm: Floats) -> Floats:
        low, high = np.asarray(down_mm, dtype=float), np.asarray(other_mm, dtype=float)
        apart = high - low
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = (self._summed(high) - self._summed(low)) / apart
        return np.where(np.abs(apart) < 1e-6, 1 / self._radius((low + high) / 2), mean)

    def _summed(self, down: np.ndarray) -> np.ndarray:
        """The integral of 1 / radius from the rim down; past the ends that of the straight run on."""
        inside = np.clip(down, 0.0, self.wall_mm)
        radius, slope = self._radius.with_slope(inside)
        x = slope * (down - inside) / radius
        with np.errstate(divide="ignore", invalid="ignore"):
            past = (down - inside) / radius * np.where(np.abs(x) < 1e-8, 1 - x / 2, np.log1p(x) / x)
        return self._sum(inside) + past

    def section(self, low_mm: float, high_mm: float) -> tuple[Frustum, float] | None:
        return None

    def straight_way(self, start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
        return _shortest(self, start[1], end[1], end[0] - start[0])

    def reach(
        self, around_rad: Floats, down_mm: Floats, heading_rad: Floats, distance_mm: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Followed by steps in v' = cos f, a' = sin f / r, f' = -sin f r' / r."""
        if isinstance(down_mm, float) and isinstance(heading_rad, float):
            return self._along_ray(around_rad, down_mm, heading_rad, distance_mm)
        a, v, f, left = (
            np.array(value, dtype=float)
            for value in np.broadcast_arrays(around_rad, down_mm, heading_rad, distance_mm)
        )
        left = np.where(np.abs(left) <= FARTHEST_MM, left, math.nan)
        while np.any(np.abs(left) > 0):
            step = np.clip(left, -STEP_MM, STEP_MM)
            turn, v, f = _stepped(self._radius, v, f, step, np)
            a, left = a + turn, left - step
        return a, v, f

    def _along_ray(self, around_rad: float, down_mm: float, heading_rad: float, distance_mm: Floats):
        """One way, kept as far as it was ever asked for, and a last step from there."""
        if math.sin(heading_rad) == 0:
            along = distance_mm * math.cos(heading_rad)
            return around_rad + 0 * along, down_mm + along, heading_rad + 0 * along
        if len(self._rays) > MOST_RAYS:
            self._rays.clear()
        ray = self._rays.setdefault((down_mm, heading_rad), _Ray(self._radius, down_mm, heading_rad))
        if isinstance(distance_mm, float):
            turn, v, f = ray.at(distance_mm)
            return around_rad + turn, v, f
        distance = np.asarray(distance_mm, dtype=float)
        turn, v, f = ray.at_each(distance.ravel())
        return around_rad + turn.reshape(distance.shape), v.reshape(distance.shape), f.reshape(distance.shape)

    def spread(self, down_mm: Floats, heading_rad: Floats, distance_mm: Floats) -> tuple[Floats, Floats]:
        """Jacobi's equation J'' = -K J beside the way, by the same steps."""
        v, f, left = (
            np.array(value, dtype=float) for value in np.broadcast_arrays(down_mm, heading_rad, distance_mm)
        )
        left = np.where(np.abs(left) <= FARTHEST_MM, left, math.nan)
        parted = np.stack([np.ones_like(v), np.zeros_like(v)])
        parting = np.stack([np.zeros_like(v), np.ones_like(v)])
        k0 = -self.gauss_at(v)
        while np.any(np.abs(left) > 0):
            step = np.clip(left, -STEP_MM, STEP_MM)
            _, v_next, f_next = _stepped(self._radius, v, f, step, np)
            # half way by the cubic through both ends
            v_half = (v + v_next) / 2 + step / 8 * (np.cos(f) - np.cos(f_next))
            k1, k2 = -self.gauss_at(v_half), -self.gauss_at(v_next)
            p1, q1 = parting, k0 * parted
            p2, q2 = parting + step / 2 * q1, k1 * (parted + step / 2 * p1)
            p3, q3 = parting + step / 2 * q2, k1 * (parted + step / 2 * p2)
            p4, q4 = parting + step * q3, k2 * (parted + step * p3)
            parted = parted + step / 6 * (p1 + 2 * p2 + 2 * p3 + p4)
            parting = parting + step / 6 * (q1 + 2 * q2 + 2 * q3 + q4)
            v, f, left, k0 = v_next, f_next, left - step, k2
        return parted[0], parted[1]


class _Ray:
    """A straightest way from one place at one heading, at steps of STEP_MM both ways."""

    def __init__(self, radius: _Table, down_mm: float, heading_rad: float):
        self.radius = radius
        self.marks = {1: [(0.0, down_mm, heading_rad)], -1: [(0.0, down_mm, heading_rad)]}
        self.rows = {1: np.empty((0, 3)), -1: np.empty((0, 3))}  # the same, for many places at once

    def _mark(self, side: int, number: int) -> tuple[float, float, float]:
        marks = self.marks[side]
        while len(marks) <= number:
            a, v, f = marks[-1]
            turn, v, f = _stepped(self.radius, v, f, side * STEP_MM, math)
            marks.append((a + turn, v, f))
        return marks[number]

    def at(self, distance: float) -> tuple[float, float, float]:
        if not abs(distance) <= FARTHEST_MM:
            return math.nan, math.nan, math.nan
        side = 1 if distance >= 0 else -1
        number = int(abs(distance) / STEP_MM)
        a, v, f = self._mark(side, number)
        turn, v, f = _stepped(self.radius, v, f, distance - side * number * STEP_MM, math)
        return a + turn, v, f

    def at_each(self, distance: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        distance = np.where(np.abs(distance) <= FARTHEST_MM, distance, math.nan)
        side = np.where(distance >= 0, 1, -1)
        number = np.nan_to_num(np.abs(distance) / STEP_MM).astype(int)
        starts = np.empty((3, len(distance)))
        for way in (1, -1):
            own = side == way
            if own.any():
                self._mark(way, int(number[own].max()))
                if len(self.rows[way]) < len(self.marks[way]):
                    self.rows[way] = np.array(self.marks[way])
                starts[:, own] = self.rows[way][number[own]].T
        a, v, f = starts
        turn, v, f = _stepped(self.radius, v, f, distance - side * number * STEP_MM, np)
        return a + turn, v, f


def _stepped(radius: _Table, v: Floats, f: Floats, step: Floats, m: Callable) -> tuple[Floats, Floats, Floats]:
    """One step along a way: its turn, and where and how it then goes. `m` is math for single numbers, else numpy.

    With c = r sin f kept, v'' = c^2 r' / r^3: by Nystroem's fifth order (Hairer, Norsett, Wanner, Solving ODEs I, II.14);
    a' = c / r^2 and f' = -c r' / r^2 are summed by the same weights.
    """
    r, k = radius.with_slope(v)
    c, along, square = r * m.sin(f), step * m.cos(f), step * step
    c2 = c * c
    a1 = 1 / (r * r)
    f1 = k * a1
    v1 = f1 / r
    r, k = radius.with_slope(v + along / 5 + square / 50 * c2 * v1)
    a2 = 1 / (r * r)
    f2 = k * a2
    v2 = f2 / r
    r, k = radius.with_slope(v + along * (2 / 3) + square / 27 * c2 * (7 * v2 - v1))
    a3 = 1 / (r * r)
    f3 = k * a3
    v3 = f3 / r
    r, k = radius.with_slope(v + along + square * c2 * (0.3 * v1 + (9 * v3 - 2 * v2) / 35))
    a4 = 1 / (r * r)
    f4 = k * a4
    part = c * step / 336
    return (
        part * (14 * a1 + 125 * a2 + 162 * a3 + 35 * a4),
        v + along + square / 336 * c2 * (14 * v1 + 100 * v2 + 54 * v3),
        f - part * (14 * f1 + 125 * f2 + 162 * f3 + 35 * f4),
    )


@lru_cache(maxsize=4096)
def _shortest(wall: SmoothWall, down_mm: float, end_mm: float, turn_rad: float) -> tuple[float, float]:
    return shortest_way(wall, down_mm, end_mm, turn_rad)
