"""Any turned wall as points in space: lengths, straight ways and shortest ways, without a formula of the tool.

A profile is a chain of (radius, height) from rim to base, straight between its points or a natural cubic
spline. Lengths are sums of chords, extrapolated; a straight way is a point that moves in space and is only ever
bent squarely to the wall; a shortest way is the shortest of many polylines. Of a wall, only its points and the
directions square to it are used. What the lines and flat strips on it are is in `reference_strips`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from reference import chords, extrapolated
from scipy.integrate import DOP853
from scipy.interpolate import CubicHermiteSpline, CubicSpline
from scipy.linalg import cho_factor, cho_solve, cho_solve_banded, cholesky_banded
from scipy.optimize import brentq

from stripegen.spec import Cup

Way = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]  # t -> around, down
Place = tuple[float, float]  # around, down

NODES, WEIGHTS = np.polynomial.legendre.leggauss(12)
STEP_MM = 1.0
ON_BEND_MM = 1e-7


@dataclass(frozen=True)
class Section:
    """A straight stretch of profile, known by its length down: a point, the way down and the way out."""

    first: float
    last: float
    corner: tuple[float, float]
    way: tuple[float, float]

    def u_of(self, down):
        return np.asarray(down, float)

    down_of = u_of

    def places(self, u) -> np.ndarray:
        """(radius, height) and their first two derivatives by u: an array (3, 2, ...)."""
        u = np.asarray(u, float)
        one, none = np.ones_like(u), np.zeros_like(u)
        far = u - self.first
        place = np.stack([self.corner[0] + self.way[0] * far, self.corner[1] + self.way[1] * far])
        return np.stack([place, np.stack([self.way[0] * one, self.way[1] * one]), np.stack([none, none])])

    def out(self, u) -> np.ndarray:
        """The unit way out, (radial, up), and its derivative by u: an array (2, 2, ...)."""
        one, none = np.ones_like(u), np.zeros_like(u)
        return np.stack([np.stack([-self.way[1] * one, self.way[0] * one]), np.stack([none, none])])


    def moving(self, u):
        """Radius, way along, way out and its derivative by u."""
        return self.corner[0] + self.way[0] * (u - self.first), self.way, (-self.way[1], self.way[0]), (0.0, 0.0)


class Spline:
    """A smooth profile, known by u = -height of the bare wall; past its ends it runs on straight."""

    def __init__(self, points: Sequence[Place], resin: float):
        radii, heights = np.array(points, float).T
        self.spline = CubicSpline(heights[::-1], radii[::-1], bc_type="natural")
        self.resin, self.low, self.high = resin, -heights[0], -heights[-1]
        # down by u and back, from sums of the speed over narrow panels; knots are nodes
        counts = [max(8, math.ceil(8 * (high - low))) for low, high in pairwise(-heights)]
        steps = [np.linspace(*ends, n + 1)[:-1] for ends, n in zip(pairwise(-heights), counts, strict=True)]
        u = np.concatenate([*steps, [self.high]])
        half = np.diff(u)[:, None] / 2
        inner = (u[1:, None] + u[:-1, None]) / 2 + half * NODES
        downs = np.concatenate([[0.0], np.cumsum((half * WEIGHTS * self._speed(inner)).sum(axis=1))])
        self.first, self.last = 0.0, float(downs[-1])
        self._down = CubicHermiteSpline(u, downs, self._speed(u))
        self._u = CubicHermiteSpline(downs, u, 1 / self._speed(u))
        self.knots = self._down(-heights[1:-1])

    def _speed(self, u):
        return np.hypot(*self.places(u)[1])

    def down_of(self, u):
        u = np.asarray(u, float)
        low, high = np.minimum(u - self.low, 0.0), np.maximum(u - self.high, 0.0)
        ends = self._speed(np.array([self.low, self.high]))
        return self._down(np.clip(u, self.low, self.high)) + low * ends[0] + high * ends[1]

    def u_of(self, down):
        down = np.asarray(down, float)
        low, high = np.minimum(down, 0.0), np.maximum(down - self.last, 0.0)
        ends = self._speed(np.array([self.low, self.high]))
        found = self._u(np.clip(down, 0.0, self.last)) + low / ends[0] + high / ends[1]
        return found - (self.down_of(found) - down) / self._speed(found)  # once by Newton: as good as the table down

    def _bare(self, u) -> tuple[np.ndarray, ...]:
        """Radius by height and its first three derivatives."""
        height = -np.asarray(u, float)
        inside = np.clip(height, -self.high, -self.low)
        on = inside == height
        radius, slope = self.spline(inside), self.spline(inside, 1)
        return (
            radius + slope * (height - inside), slope,
            self.spline(inside, 2) * on, self.spline(inside, 3) * on,
        )

    def places(self, u) -> np.ndarray:
        radius, slope, bend, third = self._bare(u)
        one = np.ones_like(radius)
        bare = np.stack([np.stack([radius, -np.asarray(u, float)]), np.stack([-slope, -one]), np.stack([bend, 0 * one])])
        if not self.resin:
            return bare
        size = np.sqrt(1 + slope**2)
        out = np.stack([one, -slope]) / size
        by_slope = np.stack([-slope, -one]) / size**3
        twice = np.stack([2 * slope**2 - 1, 3 * slope]) / size**5
        return bare + self.resin * np.stack([out, -by_slope * bend, twice * bend**2 + by_slope * third])

    def moving(self, u):
        """Radius, way along, way out and its derivative by u."""
        radius, slope, bend, _ = self._bare(u)
        size = np.sqrt(1 + slope**2)
        out, by_u = (1 / size, -slope / size), (slope * bend / size**3, bend / size**3)
        ways = -slope + self.resin * by_u[0], -1 + self.resin * by_u[1]
        return radius + self.resin * out[0], ways, out, by_u

    def out(self, u) -> np.ndarray:
        _, slope, bend, _ = self._bare(u)
        one, size = np.ones_like(slope), np.sqrt(1 + slope**2)
        return np.stack([np.stack([one, -slope]) / size, np.stack([slope, one]) * bend / size**3])


class Turned:
    """A wall turned from a profile, with so much resin on it, each point of its bare side moved squarely out."""

    def __init__(self, points: Sequence[Place], smooth: bool = False, resin: float = 0.0):
        self.smooth, self.resin = smooth, resin
        self.bare_points = tuple((float(radius), float(height)) for radius, height in points)
        if smooth and len(points) > 2:
            self.pieces = [Spline(points, resin)]
            self.knots = tuple(float(knot) for knot in self.pieces[0].knots)
            self.bends: tuple[float, ...] = ()
        else:
            corners = _coated(np.array(points, float), resin)
            sides = np.diff(corners, axis=0)
            sizes = np.hypot(*sides.T)
            downs = np.concatenate([[0.0], np.cumsum(sizes)])
            self.pieces = [
                Section(*(float(down) for down in downs[i : i + 2]), tuple(corners[i]), tuple(sides[i] / sizes[i]))
                for i in range(len(sides))
            ]
            self.bends, self.knots = tuple(float(down) for down in downs[1:-1]), ()

    @classmethod
    def of(cls, cup: Cup, resin: float | None = None) -> Turned:
        return cls(cup.profile, cup.smooth, cup.resin_mm if resin is None else resin)

    @property
    def length(self) -> float:
        return self.pieces[-1].last

    @cached_property
    def spans(self) -> list[tuple[Section | Spline, float, float]]:
        """Pieces parted at knots too, each with its first and last u: on each the profile is smooth to the end."""
        found = []
        for piece in self.pieces:
            inner = [float(piece.u_of(knot)) for knot in self.knots]
            ends = [float(piece.u_of(piece.first)), *inner, float(piece.u_of(piece.last))]
            found += [(piece, *pair) for pair in pairwise(ends)]
        return found

    @property
    def breaks(self) -> tuple[float, ...]:
        """Downs where the profile is not smooth to the end."""
        return self.bends + self.knots

    def piece_at(self, down, downwards=True) -> np.ndarray:
        """Which piece a place is on; on a bend, the one that lies in the way."""
        after = np.searchsorted(np.array(self.bends) - ON_BEND_MM, down, side="right")
        before = np.searchsorted(np.array(self.bends) + ON_BEND_MM, down, side="left")
        return np.where(downwards, after, before)

    def place(self, down) -> np.ndarray:
        """(radius, height) so far down, (2, ...)."""
        down = np.asarray(down, float)
        at = self.piece_at(down)
        found = np.empty((2, *down.shape))
        for index, piece in enumerate(self.pieces):
            on = at == index
            found[:, on] = piece.places(piece.u_of(down[on]))[0]
        return found

    def radius(self, down):
        return self.place(down)[0]

    def girth(self, down) -> float:
        """The chords of a circle, summed."""
        return length(self, lambda t: (t, np.full_like(t, down)), 0.0, math.tau)

    def point(self, around, down) -> np.ndarray:
        """Points in space, (..., 3): x towards around 0, y towards a quarter turn, z up."""
        around, down = np.broadcast_arrays(np.asarray(around, float), np.asarray(down, float))
        radius, height = self.place(down)
        return np.stack([radius * np.cos(around), radius * np.sin(around), height], axis=-1)

    def out(self, around, down) -> np.ndarray:
        """Unit ways square to the wall, outwards, (..., 3)."""
        around, down = np.broadcast_arrays(np.asarray(around, float), np.asarray(down, float))
        at = self.piece_at(down)
        found = np.empty((2, *down.shape))
        for index, piece in enumerate(self.pieces):
            on = at == index
            found[:, on] = piece.out(piece.u_of(down[on]))[0]
        return np.stack([found[0] * np.cos(around), found[0] * np.sin(around), found[1]], axis=-1)


def _coated(points: np.ndarray, resin: float) -> np.ndarray:
    """The corners of a chain whose sides are moved squarely out until they meet, its ends squarely."""
    ways = np.diff(points, axis=0)
    ways /= np.hypot(*ways.T)[:, None]
    outs = np.stack([-ways[:, 1], ways[:, 0]], axis=1) * resin
    corners = [points[0] + outs[0]]
    for i in range(1, len(ways)):
        sides = np.stack([ways[i - 1], -ways[i]], axis=1)
        if abs(np.linalg.det(sides)) < 1e-9:
            corners.append(points[i] + outs[i])
            continue
        far, _ = np.linalg.solve(sides, outs[i] - outs[i - 1])
        corners.append(points[i] + outs[i - 1] + far * ways[i - 1])
    corners.append(points[-1] + outs[-1])
    if np.any((np.diff(corners, axis=0) * ways).sum(axis=1) <= 0):
        raise ValueError("the coat swallows a section")
    return np.array(corners)


# -- lengths --------------------------------------------------------------------------------------------


def crossings(wall: Turned, way: Way, t0: float, t1: float, count: int = 600) -> list[float]:
    """The t, within two, at which a way is where the wall's profile is not smooth."""
    if not wall.breaks:
        return []
    t = np.linspace(t0, t1, count + 1)
    downs = np.asarray(way(t)[1], float)
    found = []
    for level in wall.breaks:
        off = downs - level

        def over(x: float, level: float = level) -> float:
            return float(way(np.array([x]))[1][0]) - level

        for i in np.flatnonzero((np.sign(off[:-1]) * np.sign(off[1:])) < 0):
            found.append(brentq(over, t[i], t[i + 1], xtol=1e-14))
        found += [float(t[i]) for i in np.flatnonzero(off == 0)]
    return sorted({x for x in found if t0 < x < t1})


def stretches(t0: float, t1: float, breaks: Iterable[float]) -> list[tuple[float, float]]:
    """The parts between two t that some others part them into; none that is next to nothing."""
    least = 1e-9 * (t1 - t0)
    inner = [t0]
    for t in sorted(breaks):
        if inner[-1] + least < t < t1 - least:
            inner.append(t)
    return list(pairwise([*inner, t1]))


def length(wall: Turned, way: Way, t0: float, t1: float, parts: int = 64, breaks: Iterable[float] = ()) -> float:
    """The length of a way on a wall: chords, extrapolated between the places where something bends abruptly.

    `breaks` are further t of such places.
    """
    if t1 < t0:
        return -length(wall, way, t1, t0, parts, breaks)
    total = 0.0
    for first, last in stretches(t0, t1, [*crossings(wall, way, t0, t1), *breaks]):
        sums = []
        for n in (parts, 2 * parts, 4 * parts, 8 * parts):
            t = np.linspace(first, last, n + 1)
            sums.append(chords(wall.point(*way(t))))
        total += extrapolated(sums)
    return total


# -- straight ways: a point that moves in space and is only ever bent squarely to the wall ----------------


def _rates(piece, state: np.ndarray) -> np.ndarray:
    """How u, around and the velocity change: the velocity only along the way out."""
    u, around, *velocity = state
    radius, ways, (radial, up), (radial_by_u, up_by_u) = piece.moving(u)
    cos, sin = np.cos(around), np.sin(around)
    level = velocity[0] * cos + velocity[1] * sin
    du = (level * ways[0] + velocity[2] * ways[1]) / (ways[0] ** 2 + ways[1] ** 2)
    turn = (velocity[1] * cos - velocity[0] * sin) / radius
    more, across = radial_by_u * du, radial * turn
    bent = -(
        velocity[0] * (more * cos - across * sin)
        + velocity[1] * (more * sin + across * cos)
        + velocity[2] * (up_by_u * du)
    )
    return np.stack([du, turn, bent * radial * cos, bent * radial * sin, bent * up])


def _step(piece, state: np.ndarray, step: np.ndarray) -> np.ndarray:
    """One step of eighth order, by scipy's table of Dormand and Prince's."""
    rates = np.empty((len(DOP853.B), *state.shape))
    rates[0] = _rates(piece, state)
    for stage in range(1, len(rates)):
        rates[stage] = _rates(piece, state + step * np.tensordot(DOP853.A[stage, :stage], rates[:stage], 1))
    return state + step * np.tensordot(DOP853.B, rates, 1)


def _velocity(piece, u, around, heading) -> np.ndarray:
    ways = piece.places(u)[1]
    ways = ways / np.hypot(*ways)
    cos, sin, down, side = np.cos(around), np.sin(around), np.cos(heading), np.sin(heading)
    return np.stack([down * ways[0] * cos - side * sin, down * ways[0] * sin + side * cos, down * ways[1]])


def _heading(piece, state: np.ndarray) -> np.ndarray:
    u, around, *velocity = state
    ways = piece.places(u)[1]
    ways = ways / np.hypot(*ways)
    cos, sin = np.cos(around), np.sin(around)
    down = (velocity[0] * cos + velocity[1] * sin) * ways[0] + velocity[2] * ways[1]
    return np.arctan2(velocity[1] * cos - velocity[0] * sin, down)


def march(wall: Turned, around, down, heading, distance, step_mm: float = STEP_MM, trace: list | None = None):
    """Where points come that move straight ahead so far: (around, down, heading) of all, arrays.

    At a bend the way keeps its angle to it, as it does where two faces are folded flat.
    """
    around, down, heading, distance = (
        np.array(x, float) for x in np.broadcast_arrays(around, down, heading, distance)
    )
    shape = around.shape
    around, down, distance = around.ravel(), down.ravel(), distance.ravel()
    back = distance < 0
    heading, left = heading.ravel() + math.pi * back, np.abs(distance)
    level = np.array(wall.breaks)
    on_or_below = np.searchsorted(level - ON_BEND_MM, down, side="right")
    at = np.where(np.cos(heading) > 0, on_or_below, np.searchsorted(level + ON_BEND_MM, down, side="left"))
    state = np.empty((5, len(around)))
    for index, (piece, _, _) in enumerate(wall.spans):
        on = at == index
        u = piece.u_of(down[on])
        state[:, on] = np.concatenate([np.stack([u, around[on]]), _velocity(piece, u, around[on], heading[on])])
    while np.any(left > 0):
        for index, (piece, low, high) in enumerate(wall.spans):
            on = np.flatnonzero((left > 0) & (at == index))
            if not len(on):
                continue
            low = low if index > 0 else -math.inf
            high = high if index < len(wall.spans) - 1 else math.inf
            state[:, on], gone, side = _through(piece, state[:, on], left[on], low, high, step_mm, trace)
            left[on] -= gone
            left[on[side == 0]] = 0.0
            for way in (-1, 1):
                over = on[side == way]
                if len(over):
                    bound = low if way < 0 else high
                    state[:, over] = _fold(piece, wall.spans[index + way][0], state[:, over], bound)
                    at[over] += way
    downs, headings = np.empty(len(around)), np.empty(len(around))
    for index, (piece, _, _) in enumerate(wall.spans):
        on = at == index
        downs[on], headings[on] = piece.down_of(state[0, on]), _heading(piece, state[:, on])
    return state[1].reshape(shape), downs.reshape(shape), (headings - math.pi * back).reshape(shape)


def _through(piece, state, left, low, high, step_mm, trace):
    """Move on one piece: the state at the end or at the bend, how far, and which bend (-1, 0, 1)."""
    count = max(1, math.ceil(float(left.max()) / step_mm))
    step, side, gone = left / count, np.zeros(len(left), int), np.zeros(len(left))
    state = state.copy()
    for _ in range(count):
        moving = np.flatnonzero(side == 0)
        if not len(moving):
            break
        before = state[:, moving]
        after = _step(piece, before, step[moving])
        beyond = np.where(after[0] < low, -1, np.where(after[0] > high, 1, 0))
        out = np.flatnonzero(beyond)
        part = step[moving].copy()
        if len(out):
            bound = np.where(beyond[out] < 0, low, high)
            share = (bound - before[0, out]) / (after[0, out] - before[0, out]) * part[out]
            for _ in range(8):
                there = _step(piece, before[:, out], share)
                share = np.clip(share - (there[0] - bound) / _rates(piece, there)[0], 0.0, part[out])
            after[:, out] = _step(piece, before[:, out], share)
            part[out] = share
        state[:, moving], side[moving] = after, beyond
        gone[moving] += part
        if trace is not None:
            trace.append((float(part[0]), float(after[1, 0]), float(piece.down_of(after[0, 0])),
                          float(_heading(piece, after)[0])))
    return state, gone, side


def _fold(piece, other, state, bound) -> np.ndarray:
    """Over a bend: the same angle to it on the other side."""
    heading = _heading(piece, state)
    u = np.full(state.shape[1], float(bound))
    return np.concatenate([np.stack([u, state[1]]), _velocity(other, u, state[1], heading)])


# -- shortest ways: the shortest of many polylines ---------------------------------------------------------


@dataclass(frozen=True)
class Shortest:
    """The shortest way between two places: its length, the joints of its polyline, and whether it follows a bend.

    `doubt_mm` is by how much the length still changed as the joints were doubled. Where the way follows a bend, it
    is only known roughly.
    """

    length: float
    around: np.ndarray
    down: np.ndarray
    follows_bend: bool = False
    doubt_mm: float = 0.0

    def off_mm(self, wall: Turned) -> float:
        """How far it leaves the wall."""
        return max(-float(self.down.min()), float(self.down.max()) - wall.length, 0.0)


@dataclass(frozen=True)
class _Leg:
    """A part of a way, on one piece of the wall, and which that is."""

    piece: Section | Spline
    index: int


class _Polyline:
    """Legs of joints on a wall; inner joints are free, those on bends slide along them, the ends are fixed.

    Of each leg the sum of squared chords times their number is taken, whose root is the leg's length when the
    joints are evenly spaced, and more when they are not: so its least value is the length, and the joints
    have no freedom that changes nothing.
    """

    def __init__(self, wall: Turned, legs: list[_Leg], stops: list[float], start: Place, end: Place, counts: list[int]):
        self.wall, self.legs, self.size = wall, legs, 0.0
        self.scale = float(np.mean(wall.radius(np.array([start[1], end[1]]))))
        # each joint's around and u have numbers; -1 where fixed
        arounds = [start[0], *([0.0] * len(stops)), end[0]]
        self.stop_downs = stops
        self.free = 0
        stop_ids = [-1]
        self.ids, self.fixed = [], []
        downs = [start[1], *stops, end[1]]
        for number, (leg, count) in enumerate(zip(legs, counts, strict=True)):
            ids, fixed = np.full((count + 1, 2), -1), np.zeros((count + 1, 2))
            ids[1:-1] = self._new(2 * (count - 1)).reshape(-1, 2)
            for row, at in ((0, number), (-1, number + 1)):
                fixed[row] = arounds[at], float(leg.piece.u_of(downs[at]))
            stop_ids.append(int(self._new(1)[0]) if number < len(stops) else -1)
            ids[0, 0], ids[-1, 0] = stop_ids[number], stop_ids[number + 1]
            self.ids.append(ids)
            self.fixed.append(fixed)

    def _new(self, count: int) -> np.ndarray:
        """Numbers of so many free values, in order along the way, so that only near ones bear on each other."""
        self.free += count
        return np.arange(self.free - count, self.free)

    def joints(self, x: np.ndarray) -> list[np.ndarray]:
        """(around, u) of the joints of each leg."""
        found = []
        for ids, fixed in zip(self.ids, self.fixed, strict=True):
            values = np.where(ids >= 0, x[ids], fixed)
            values[:, 0] = np.where(ids[:, 0] >= 0, values[:, 0] / self.scale, values[:, 0])
            found.append(values)
        return found

    def pack(self, joints: list[np.ndarray]) -> np.ndarray:
        x = np.zeros(self.free)
        for ids, values in zip(self.ids, joints, strict=True):
            x[ids[ids[:, 0] >= 0, 0]] = values[ids[:, 0] >= 0, 0] * self.scale
            x[ids[ids[:, 1] >= 0, 1]] = values[ids[:, 1] >= 0, 1]
        return x

    def __call__(self, x: np.ndarray) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
        """Length, its slope, and its second derivatives by all that is free: a band (lower) less squares of rows."""
        total, slope, rows = 0.0, np.zeros(self.free + 1), []
        band = np.zeros((4, self.free + 1))  # -1 is the last column, which is thrown away
        for leg, ids, values in zip(self.legs, self.ids, self.joints(x), strict=True):
            square, by, own, near = self._squares(leg.piece, values)
            n = len(ids) - 1
            size = math.sqrt(n * square)
            total += size
            slope[ids] += n / (2 * size) * by
            row = np.zeros(self.free + 1)
            row[ids] = n / (2 * size**1.5) * by
            rows.append(row[:-1])
            for low, high, values in ((ids, ids, own), (ids[:-1], ids[1:], near)):
                columns = np.broadcast_to(low[:, :, None], values.shape)
                lines = np.broadcast_to(high[:, None, :], values.shape)
                kept = (columns >= 0) & (lines >= columns)
                np.add.at(band, ((lines - columns)[kept], columns[kept]), n / (2 * size) * values[kept])
        return total, slope[:-1], band[:, :-1], np.array(rows).reshape(len(rows), self.free)

    def _squares(self, piece, values: np.ndarray) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
        """Sum of squared chords of a leg; its derivatives by (around x scale, u) of each joint, and of it and the next."""
        (radius, height), ways, bends = piece.places(values[:, 1])
        cos, sin, none = np.cos(values[:, 0]), np.sin(values[:, 0]), np.zeros(len(values))
        point = np.stack([radius * cos, radius * sin, height], axis=-1)
        by = np.stack(  # joint, coordinate, xyz
            [
                np.stack([-radius * sin, radius * cos, none], axis=-1) / self.scale,
                np.stack([ways[0] * cos, ways[0] * sin, ways[1]], axis=-1),
            ],
            axis=1,
        )
        mixed = np.stack([-ways[0] * sin, ways[0] * cos, none], axis=-1) / self.scale
        twice = np.empty((len(values), 2, 2, 3))
        twice[:, 0, 0] = np.stack([-radius * cos, -radius * sin, none], axis=-1) / self.scale**2
        twice[:, 0, 1] = twice[:, 1, 0] = mixed
        twice[:, 1, 1] = np.stack([bends[0] * cos, bends[0] * sin, bends[1]], axis=-1)
        chord = np.diff(point, axis=0)
        pull = np.zeros_like(point)  # of the sum, by each point in space, halved
        pull[1:] += chord
        pull[:-1] -= chord
        slope = 2 * np.einsum("jx,jcx->jc", pull, by)
        count = np.full(len(values), 2.0)
        count[[0, -1]] = 1.0
        own = 2 * (
            count[:, None, None] * np.einsum("jcx,jdx->jcd", by, by) + np.einsum("jx,jcdx->jcd", pull, twice)
        )
        near = -2 * np.einsum("jcx,jdx->jcd", by[:-1], by[1:])
        return float((chord**2).sum()), slope, own, near

    def shortened(self, joints: list[np.ndarray], fine: bool = True) -> tuple[float, list[np.ndarray]]:
        """The least length near some joints, by Newton's steps, held short and downhill; infinite if none is found."""
        x, lift = self.pack(joints), 0.0
        if not self.free:
            return self(x)[0], joints
        size, *bent = self(x)
        for _ in range(80):
            move = _newton(*bent, lift)
            if move is None:
                if lift > 1e6 or not math.isfinite(size):
                    return math.inf, joints
                lift = max(1e-3, 4 * lift)
                continue
            move *= min(1.0, 10.0 / np.abs(move).max())
            after = self(x + move)
            if after[0] <= size + 1e-12 * size:
                x, (size, *bent), lift = x + move, after, lift / 8 if lift > 1e-4 else 0.0
            else:
                lift = max(1e-3, 4 * lift)
            if np.abs(move).max() < (1e-7 if fine else 1e-2) and lift < 1e-2:
                return float(size), self.joints(x)
        return math.inf, self.joints(x)

    def stays(self, joints: list[np.ndarray]) -> bool:
        """Whether each leg stays on its piece, goes somewhere, and has no joints so far apart that they cut corners."""
        for leg, values in zip(self.legs, joints, strict=True):
            steps = np.diff(values[:, 0])
            low, high = _bounds(self.wall, leg)
            down, radius = leg.piece.down_of(values[:, 1]), leg.piece.places(values[:, 1])[0][0]
            goes = abs(steps.sum()) + abs(down[-1] - down[0]) > 1e-5
            if not goes or down.min() < low - 1e-3 or down.max() > high + 1e-3 or np.abs(steps).max() > 1.0:
                return False
            if radius.min() < 0.5:
                return False
        return True

    def downs(self, joints: list[np.ndarray]) -> np.ndarray:
        return np.concatenate(
            [leg.piece.down_of(values[:, 1]) for leg, values in zip(self.legs, joints, strict=True)]
        )


def _newton(slope: np.ndarray, band: np.ndarray, rows: np.ndarray, lift: float) -> np.ndarray | None:
    """Newton's step with second derivatives of a lifted band less squares of rows; None unless they bend upwards."""
    lifted = band.copy()
    lifted[0] += lift
    try:
        both = cho_solve_banded((cholesky_banded(lifted, lower=True), True), np.vstack([slope, rows]).T)
        small = cho_factor(np.eye(len(rows)) - rows @ both[:, 1:])
    except (np.linalg.LinAlgError, ValueError):
        return None
    return -(both[:, 0] + both[:, 1:] @ cho_solve(small, rows @ both[:, 0]))


def _finer(values: np.ndarray, count: int) -> np.ndarray:
    at = np.linspace(0, 1, count + 1)
    return np.stack([np.interp(at, np.linspace(0, 1, len(values)), column) for column in values.T], axis=1)


def shortest(wall: Turned, start: Place, end: Place) -> Shortest:
    """The shortest way between two places, among all that turn as far as their arounds differ."""
    if start[0] == end[0]:
        downs = np.linspace(start[1], end[1], 33)
        return Shortest(abs(end[1] - start[1]), np.full(33, start[0]), downs)
    found = _found(wall, start, end, 0.0)
    if found.length == math.inf or found.off_mm(wall) > 1e-6:  # there is none on the wall
        found = _found(wall, start, end, 50.0)
    if found.length < math.inf:
        return found
    scouted = _scouted(wall, start, end, 0.0)
    for bend, level in enumerate(wall.bends):
        if _is_waist(wall, bend) and (np.abs(scouted[1:-1, 1] - level) < 0.6).sum() > 1:
            return Shortest(math.nan, *scouted.T, follows_bend=True)
    raise ValueError("no shortest way found")


def _found(wall: Turned, start: Place, end: Place, beyond: float) -> Shortest:
    """The shortest way near one scouted no further than so far past rim and base."""
    scouted = _scouted(wall, start, end, beyond)
    tries = []
    for legs, stops in _routes(wall, scouted):
        leaves_and_returns = any(a == b for a, b in pairwise(stops))
        tries += [_tried(wall, legs, stops, scouted, wide) for wide in ((0.0, 0.4) if leaves_and_returns else (0.0,))]
    tries = sorted((found for found in tries if found), key=lambda found: found[0])
    seen, best = [], Shortest(math.inf, np.array([]), np.array([]))
    for size, line, joints in tries:
        if size < tries[0][0] + 0.5 and all(line.legs != legs or size > known + 1e-3 for legs, known in seen):
            seen.append((line.legs, size))
            best = min(best, _refined(wall, line, joints, start, end), key=lambda found: found.length)
    return best


def _refined(wall: Turned, line: _Polyline, joints: list[np.ndarray], start: Place, end: Place) -> Shortest:
    """The length of a coarse shortest way, its joints doubled until it is sure."""
    sums, wanted = [], 1e-7 if wall.smooth else 1e-8
    turns = [abs(values[-1, 0] - values[0, 0]) for values in joints]
    coarse = [math.ceil(turn / 0.3 + line.size / 12) if wall.smooth else math.ceil(turn / 0.2) for turn in turns]
    for factor in (2, 4, 8, 16, 32):
        counts = [factor * max(4, count) for count in coarse]
        finer = _Polyline(wall, line.legs, line.stop_downs, start, end, counts)
        total, joints = finer.shortened([_finer(v, n) for v, n in zip(joints, counts, strict=True)])
        if not finer.stays(joints):
            total = math.inf
        if total == math.inf:
            return Shortest(math.inf, np.array([]), np.array([]))
        sums.append(total)
        doubt = abs(extrapolated(sums) - extrapolated(sums[1:])) if len(sums) > 2 else math.inf
        if doubt < wanted or finer.free > 3000:
            break
    # a leg that leaves a bend onto an upright piece and comes back is the circle at the bend
    stops = [math.nan, *line.stop_downs, math.nan]
    along = any(
        stops[k] == stops[k + 1] and abs(leg.piece.way[0]) < 1e-12 for k, leg in enumerate(line.legs)
    )
    around = np.concatenate([values[:, 0] for values in joints])
    return Shortest(extrapolated(sums), around, finer.downs(joints), along, doubt)


def _scouted(wall: Turned, start: Place, end: Place, beyond: float) -> np.ndarray:
    """(around, down) of nearly the shortest of all ways over a grid of places, found stage by stage."""
    low, high = -beyond, wall.length + beyond
    grid = np.unique(np.concatenate([np.linspace(low, high, 240), wall.bends, [start[1], end[1]]]))
    grid = grid[wall.radius(grid) > 2.0]
    turn = end[0] - start[0]
    count = max(16, math.ceil(abs(turn) / 0.2))
    fine = np.linspace(grid[0], grid[-1], 4000)
    summed = np.concatenate([[0.0], np.cumsum(np.diff(fine) * (wall.radius(fine) ** 2)[:-1])])
    total = np.interp(grid, fine, summed)
    drop = grid[:, None] - grid
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(drop == 0, wall.radius(grid) ** 2, (total[:, None] - total) / drop)
    costs = np.sqrt(drop**2 + mean * (turn / count) ** 2)
    best = np.where(grid == start[1], 0.0, np.inf)
    came = []
    for _ in range(count):
        ways = best[:, None] + costs
        came.append(ways.argmin(axis=0))
        best = ways.min(axis=0)
    at = int(np.flatnonzero(grid == end[1])[0])
    path = [at]
    for before in reversed(came):
        at = int(before[at])
        path.append(at)
    return np.stack([np.linspace(start[0], end[0], count + 1), grid[path[::-1]]], axis=1)


def _tried(wall: Turned, legs: list[_Leg], stops: list[float], scouted: np.ndarray, wide: float):
    """A coarse shortest way by such legs near the scouted one; None where it does not stay on their pieces.

    A leg that leaves a bend and comes back to it is taken to turn by that share of the whole turn, at least.
    """
    start, end = tuple(scouted[0]), tuple(scouted[-1])
    around, down = scouted.T
    at, first, turned = [0], 0, 0
    for number, stop in enumerate(stops):  # where the scouted way is nearest to each stop, in order
        rises = int(np.sign(legs[number + 1].index - legs[number].index))
        if turned and rises != turned:  # past a place where it turns back
            first = max(first, int(np.flatnonzero(down * turned > (down * turned).max() - 1.0)[-1]))
        turned = rises
        first += int(np.abs(down[first:] - stop).argmin())
        at.append(first)
    ends = np.append(around[at], end[0])
    few = 0.1 * (end[0] - start[0]) / len(legs)
    for number in range(1, len(stops)):
        if stops[number] == stops[number - 1]:
            middle, half = (ends[number] + ends[number + 1]) / 2, wide * (end[0] - start[0]) / 2
            if abs(ends[number + 1] - ends[number]) < abs(2 * half):
                ends[number], ends[number + 1] = middle - half, middle + half
    for number in range(1, len(ends) - 1):  # apart, in order
        ends[number] = ends[number - 1] + few if (ends[number] - ends[number - 1]) / few < 1 else ends[number]
    for number in range(len(ends) - 2, 0, -1):
        ends[number] = ends[number + 1] - few if (ends[number + 1] - ends[number]) / few < 1 else ends[number]
    counts, joints = [], []
    for number, leg in enumerate(legs):
        counts.append(max(8, math.ceil(abs(ends[number + 1] - ends[number]) / 0.06)))
        arounds = np.linspace(ends[number], ends[number + 1], counts[-1] + 1)
        downs = np.interp(arounds * np.sign(few), around * np.sign(few), down)
        low, high = _bounds(wall, leg)
        bends = [start[1], *stops, end[1]]
        downs = np.clip(downs, low, high)
        downs[0], downs[-1] = bends[number], bends[number + 1]
        joints.append(np.stack([arounds, leg.piece.u_of(downs)], axis=1))
    line = _Polyline(wall, legs, stops, start, end, counts)
    with np.errstate(all="ignore"):
        line.size, joints = line.shortened(joints, fine=False)
    on = math.isfinite(line.size) and line.stays(joints)
    return (line.size, line, joints) if on else None


def _bounds(wall: Turned, leg: _Leg) -> tuple[float, float]:
    low = leg.piece.first if leg.index > 0 else -math.inf
    return low, leg.piece.last if leg.index < len(wall.pieces) - 1 else math.inf


NEAR_MM = 4.0


def _routes(wall: Turned, scouted: np.ndarray):
    """Which pieces a way may go over in turn and on which bends its stops are: as scouted, and nearly so.

    A turn back near a bend is taken on both sides of it.
    """
    down = scouted[:, 1]
    first = int(wall.piece_at(down[0], down[-1] >= down[0]))
    last = int(wall.piece_at(down[-1], down[-1] < down[0]))
    ends = min(first, last), max(first, last)
    tops, feet = (
        [min(int(np.searchsorted(wall.bends, down.min() - depth)), ends[0]) for depth in (0.0, NEAR_MM, -NEAR_MM)],
        [max(int(np.searchsorted(wall.bends, down.max() + depth)), ends[1]) for depth in (0.0, NEAR_MM, -NEAR_MM)],
    )
    seen = set()
    for low, high in {ends, *((top, feet[0]) for top in tops), *((tops[0], foot) for foot in feet)}:
        steps = [first]
        for stop in (low, high, last) if down.argmin() <= down.argmax() else (high, low, last):
            way = 1 if stop > steps[-1] else -1
            steps += range(steps[-1] + way, stop + way, way) if stop != steps[-1] else []
        if tuple(steps) not in seen:
            seen.add(tuple(steps))
            legs = [_Leg(wall.pieces[i], i) for i in steps]
            stops = [wall.bends[max(pair) - 1] for pair in pairwise(steps)]
            yield legs, stops


def _is_waist(wall: Turned, bend: int) -> bool:
    """Whether to leave a bend either way costs length."""
    above, below = wall.pieces[bend].way[0], wall.pieces[bend + 1].way[0]
    return above <= 1e-12 and below >= -1e-12 and below - above > 1e-9


def shoot(wall: Turned, start: Place, end: Place, guess: Shortest | None = None) -> tuple[float, float]:
    """Heading and length of the straight way that starts like the shortest and ends where it does."""
    found = guess or shortest(wall, start, end)
    first = np.array([found.around[1] - start[0], found.down[1] - start[1]])
    aim = np.array([math.atan2(first[0] * float(wall.radius(start[1])), first[1]), found.length])
    radius = float(wall.radius(end[1]))
    before, move = math.inf, np.zeros(2)
    for _ in range(20):
        near = aim[:, None] + np.array([[0.0, 1e-5, -1e-5, 0.0, 0.0], [0.0, 0.0, 0.0, 1e-3, -1e-3]])
        around, down, _ = march(wall, start[0], start[1], *near, step_mm=2.0)
        miss = np.stack([(around - end[0]) * radius, down - end[1]])
        far = float(np.abs(miss[:, 0]).max())
        if far < 1e-9:
            return float(aim[0]), float(aim[1])
        if far < before:
            slopes = np.stack([(miss[:, 1] - miss[:, 2]) / 2e-5, (miss[:, 3] - miss[:, 4]) / 2e-3], axis=1)
            before, move = far, -np.linalg.solve(slopes, miss[:, 0])
        else:  # too far
            aim, move = aim - move, move / 4
        aim = aim + move
    raise ValueError("no straight way found")
