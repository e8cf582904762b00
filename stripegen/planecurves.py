"""The plane curve with the same geodesic curvature as a curve on a wall, at the same t.

Its direction is that of the curve on the wall, turned on by the integral of r'(v) da (Liouville; do Carmo 4-4). A
straight way becomes a line, a parallel an arc; the rest is integrated on panels, by the integrals of the Legendre
polynomials through its values there.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.polynomial import legendre

from stripegen.curves import Curve, Parallel, Straight
from stripegen.errors import GeometryError

ORDER = 12
PANEL_MM = 10.0
PAST = 0.5  # of a panel: so far past its ends a curve is still told by them
STRAIGHT = 1e-12  # a parallel that bends less, in 1/mm, is straight


@dataclass(frozen=True)
class PlaneCurve(ABC):
    """A curve of the plane, moved by a turn (from +y towards +x) and a shift."""

    turn_rad: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)

    is_straight = False

    @abstractmethod
    def _raw(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Places (n, 2) and directions (n,), before the move."""

    def at(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Places (n, 2), and directions (n,) as angles from +y towards +x."""
        place, way = self._raw(t)
        return self._turned(place) + self.shift, way + self.turn_rad

    def beside(self, t: np.ndarray, distance_mm) -> np.ndarray:
        """The places (n, 2) square to the curve, so far towards direction + 90 degrees."""
        place, way = self.at(t)
        return place + np.stack([np.cos(way), -np.sin(way)], axis=1) * np.reshape(distance_mm, (-1, 1))

    def posed(self, t: float, place: tuple[float, float], way_rad: float) -> PlaneCurve:
        """The curve moved so that at t it is at a place, with a direction."""
        turned = replace(self, turn_rad=self.turn_rad + way_rad - float(self.at(np.array([t]))[1][0]))
        there = turned.at(np.array([t]))[0][0]
        x, y = turned.shift
        return replace(turned, shift=(x + place[0] - float(there[0]), y + place[1] - float(there[1])))

    def moved(self, origin: tuple[float, float], turn_rad: float) -> PlaneCurve:
        """The curve with a place of its plane moved to (0, 0) and all turned about that."""
        x, y = self.shift[0] - origin[0], self.shift[1] - origin[1]
        c, s = math.cos(turn_rad), math.sin(turn_rad)
        return replace(self, turn_rad=self.turn_rad + turn_rad, shift=(x * c + y * s, y * c - x * s))

    def _turned(self, place: np.ndarray) -> np.ndarray:
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        x, y = place[:, 0], place[:, 1]
        return np.stack([x * c + y * s, y * c - x * s], axis=1)


@dataclass(frozen=True, kw_only=True)
class _Line(PlaneCurve):
    start_t: float

    is_straight = True

    def _raw(self, t):
        return np.stack([np.zeros_like(t), t - self.start_t], axis=1), np.zeros_like(t)


@dataclass(frozen=True, kw_only=True)
class _Arc(PlaneCurve):
    start_t: float
    radius_mm: float
    curvature: float

    @property
    def is_straight(self) -> bool:
        return abs(self.curvature) < STRAIGHT

    @property
    def centre(self) -> tuple[float, float]:
        """Where the arc's centre lies, towards direction + 90 degrees if the curvature is above 0."""
        x, y = self.beside(np.array([self.start_t]), 1 / self.curvature)[0]
        return float(x), float(y)

    def _raw(self, t):
        s = (t - self.start_t) * self.radius_mm
        half = self.curvature * s / 2
        chord = s * np.sinc(half / math.pi)
        return np.stack([chord * np.sin(half), chord * np.cos(half)], axis=1), 2 * half


@dataclass(frozen=True, kw_only=True)
class _Panels(PlaneCurve):
    """Places and directions as sums of Legendre polynomials, panel by panel: `terms` (panels, ORDER + 1, 3)."""

    stops: np.ndarray
    terms: np.ndarray

    def _raw(self, t):
        at = np.clip(np.searchsorted(self.stops, t, side="right") - 1, 0, len(self.stops) - 2)
        low, high = self.stops[at], self.stops[at + 1]
        x = (2 * t - low - high) / (high - low)
        if (np.abs(x) > 1 + 2 * PAST).any():
            raise GeometryError("it is too wide for so bent a way: its edges reach too far past its ends")
        values = np.einsum("nk,nkc->nc", legendre.legvander(x, ORDER), self.terms[at])
        return values[:, :2], values[:, 2]


_NODES, _ = legendre.leggauss(ORDER)
_FIT = np.linalg.inv(legendre.legvander(_NODES, ORDER - 1))


def _integrated(values: np.ndarray, halves: np.ndarray) -> np.ndarray:
    """Series of the integral of functions known at the nodes of panels (m, ORDER), from the first panel's start."""
    series = legendre.legint((values * halves[:, None]) @ _FIT.T, lbnd=-1, axis=1)
    ends = legendre.legval(1.0, series.T)
    series[:, 0] += np.concatenate([[0.0], np.cumsum(ends)[:-1]])
    return series


def _room(curve: Curve, end: float, past: float) -> float:
    """How far past an end a curve can be followed, of `past`: it may run off the wall or onto its point before."""
    for share in (1.0, 0.5, 0.25, 0.1, 0.03):
        t = end + past * share * np.linspace(0.0, 1.0, 9)
        with np.errstate(invalid="ignore"):
            if np.isfinite(curve.along(t)).all() and np.isfinite(curve.speed(t)).all():
                return past * share
    return 0.0


def plane_curve(curve: Curve, t0: float, t1: float) -> PlaneCurve:
    """The curve laid flat, good from t0 to t1 and as far past as the ends of a strip may slant."""
    if isinstance(curve, Straight):
        return _Line(start_t=t0)
    if isinstance(curve, Parallel):
        radius = float(curve.wall.radius_mm(curve.down_mm))
        return _Arc(start_t=t0, radius_mm=radius, curvature=float(curve.curvature(0.0)))
    past = (t1 - t0) / 4 + 20.0 / float(curve.speed(t0))
    first, last = (end + _room(curve, end, far) for end, far in ((t0, -past), (t1, past)))
    stops = np.sort([first, t0, *curve.bends_t(first, last), t1, last])
    parts = [
        np.linspace(low, high, max(1, math.ceil((high - low) * float(curve.speed((low + high) / 2)) / PANEL_MM)) + 1)
        for low, high in pairwise(stops)
        if high - low > 1e-12
    ]
    edges = np.unique(np.concatenate(parts))
    halves = np.diff(edges) / 2
    t = (edges[:-1] + halves)[:, None] + halves[:, None] * _NODES
    _, down, heading = curve.along(t.ravel())
    speed = np.asarray(curve.speed(t.ravel()), dtype=float)
    wall = curve.wall
    turning = speed * np.sin(heading) * wall.slope_at(down) / wall.radius_mm(down)
    turned = legendre.legval(_NODES, _integrated(turning.reshape(t.shape), halves).T)
    way = heading.reshape(t.shape) + turned
    speed = speed.reshape(t.shape)
    x, y = (_integrated(speed * part(way), halves) for part in (np.sin, np.cos))
    ways = np.pad(way @ _FIT.T, ((0, 0), (0, 1)))
    return _Panels(stops=edges, terms=np.stack([x, y, ways], axis=2))
