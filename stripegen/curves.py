"""Curves on a wall: what centre lines, stripe edges and limits are made of.

A curve is known on the wall, at(t) -> (around, down), for any real t, winding as often as it does. Each
kind knows its parallel curve at a distance (towards heading + 90 degrees) and what it is when laid flat:
a straight line, an arc, or neither. With f the heading and a = around, the direction in the development
is f + slope * a, so the turning of a curve laid flat is the change of that (Liouville; do Carmo 4-4).
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass, replace

import numpy as np

from stripegen.errors import GeometryError
from stripegen.surface import SMALL, Frustum

QUARTER = math.pi / 2


@dataclass(frozen=True, slots=True)
class Curve(ABC):
    """What every curve offers. `flat` says what it is when laid flat: "line", "arc" or "free".

    It bends evenly enough over blocks of t that are `block_t` long for one measure of each.
    """

    wall: Frustum

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

    def turning_rad(self, t0: float, t1: float) -> float:
        """Change of direction, laid flat, from t0 to t1."""
        (a0, _, f0), (a1, _, f1) = self.along(t0), self.along(t1)
        return float(f1 - f0 + self.wall.slope * (a1 - a0))


@dataclass(frozen=True, slots=True)
class Straight(Curve):
    """A geodesic from a point at a heading; t is length. A meridian is one with heading 0."""

    around_rad: float
    down_mm: float
    heading_rad: float

    flat = "line"

    def along(self, t):
        return self.wall.reach(self.around_rad, self.down_mm, self.heading_rad, t)

    def length_mm(self, t0, t1):
        return t1 - t0

    def parallel(self, distance_mm):
        if not distance_mm:
            return self
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
        return np.full_like(t, self.wall.slope / self.wall.radius_mm(self.down_mm), dtype=float)


@dataclass(frozen=True, slots=True)
class Round(Curve):
    """The circle of points at one distance from a centre; t is the heading from the centre."""

    around_rad: float
    down_mm: float
    radius_mm: float

    flat = "arc"
    block_t = 0.5

    def along(self, t):
        a, v, f = self.wall.reach(self.around_rad, self.down_mm, t, self.radius_mm)
        return a, v, f + QUARTER

    def length_mm(self, t0, t1):
        return (t1 - t0) * self.radius_mm

    def parallel(self, distance_mm):
        if distance_mm >= self.radius_mm:
            raise GeometryError("an arc can't be moved inwards past its centre")
        return replace(self, radius_mm=self.radius_mm - distance_mm)

    def turned(self, turn_rad):
        return replace(self, around_rad=self.around_rad + turn_rad)

    def speed(self, t):
        return np.full_like(t, self.radius_mm, dtype=float)

    def curvature(self, t):
        return np.full_like(t, 1 / self.radius_mm, dtype=float)


@dataclass(frozen=True, slots=True)
class SameSlant(Curve):
    """A curve that keeps its heading (on a cone, laid flat, a logarithmic spiral); t is length."""

    around_rad: float
    down_mm: float
    heading_rad: float

    def along(self, t):
        t = np.asarray(t, dtype=float)
        drop = t * math.cos(self.heading_rad)
        radius = self.wall.radius_mm(self.down_mm)
        with np.errstate(divide="ignore", invalid="ignore"):
            x = self.wall.slope * drop / radius
            log_per_x = np.where(np.abs(x) < SMALL, 1 - x / 2, np.log1p(x) / x)
            around = self.around_rad + t * math.sin(self.heading_rad) / radius * log_per_x
        return around, self.down_mm + drop, np.full_like(t, self.heading_rad)

    def length_mm(self, t0, t1):
        return t1 - t0

    def turned(self, turn_rad):
        return replace(self, around_rad=self.around_rad + turn_rad)

    def speed(self, t):
        return np.ones_like(t, dtype=float)

    def curvature(self, t):
        _, v, f = self.along(t)
        return np.sin(f) * self.wall.slope / self.wall.radius_mm(v)

    @classmethod
    def between(cls, wall: Frustum, start: tuple[float, float], end: tuple[float, float]):
        """The one through two points (around, down), and its length."""
        drop, turn = end[1] - start[1], end[0] - start[0]
        x = wall.slope * drop / wall.radius_mm(start[1])
        log_per_x = 1 - x / 2 if abs(x) < SMALL else math.log1p(x) / x
        heading = math.atan2(turn * wall.radius_mm(start[1]), drop * log_per_x)
        return cls(wall, start[0], start[1], heading), drop / math.cos(heading)


# nodes and weights for lengths that have no short closed form; exact to rounding on a short panel
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)


def _summed_length(curve: Curve, t0: float, t1: float, panels: int) -> float:
    edges = np.linspace(t0, t1, panels + 1)
    half = (edges[1:] - edges[:-1])[:, None] / 2
    t = (edges[1:] + edges[:-1])[:, None] / 2 + half * _NODES
    return float(np.sum(half * _WEIGHTS * curve.speed(t)))


@dataclass(frozen=True, slots=True)
class EvenDrop(Curve):
    """A curve that drops the same for every degree (on a cone an Archimedean spiral).

    At t it has turned t * turn_rad and dropped t * drop_mm, so 0 to 1 is the whole way.
    """

    around_rad: float
    down_mm: float
    turn_rad: float
    drop_mm: float

    block_t = 1 / 16

    def along(self, t):
        t = np.asarray(t, dtype=float)
        down = self.down_mm + self.drop_mm * t
        sideways = self.wall.radius_mm(down) * self.turn_rad
        return self.around_rad + self.turn_rad * t, down, np.arctan2(sideways, self.drop_mm)

    def length_mm(self, t0, t1):
        return _summed_length(self, t0, t1, max(1, math.ceil(abs((t1 - t0) * self.turn_rad) / 0.5)))

    def turned(self, turn_rad):
        return replace(self, around_rad=self.around_rad + turn_rad)

    def speed(self, t):
        return np.hypot(self.wall.radius_mm(self.along(t)[1]) * self.turn_rad, self.drop_mm)

    def curvature(self, t):
        speed = self.speed(t)
        return self.wall.slope * self.turn_rad * (1 + (self.drop_mm / speed) ** 2) / speed


@dataclass(frozen=True, slots=True)
class Beside(Curve):
    """The curve at a constant distance from a spiral, point by point square to it."""

    base: Curve
    distance_mm: float

    @property
    def block_t(self):
        return self.base.block_t

    def along(self, t):
        a, v, f = self.base.along(t)
        a, v, f = self.wall.reach(a, v, f + QUARTER, self.distance_mm)
        return a, v, f - QUARTER

    def length_mm(self, t0, t1):
        return self.base.length_mm(t0, t1) - self.distance_mm * self.base.turning_rad(t0, t1)

    def parallel(self, distance_mm):
        return self.base.parallel(self.distance_mm + distance_mm)

    def turned(self, turn_rad):
        return replace(self, base=self.base.turned(turn_rad))

    def speed(self, t):
        return self.base.speed(t) * (1 - self.distance_mm * self.base.curvature(t))

    def curvature(self, t):
        curvature = self.base.curvature(t)
        return curvature / (1 - self.distance_mm * curvature)


@dataclass(frozen=True, slots=True)
class Carried(Curve):
    """A curve of another coat of the same cup, carried over along the normals: same around, same down."""

    base: Curve

    @property
    def block_t(self):
        return self.base.block_t

    def along(self, t):
        a, v, f = self.base.along(t)
        more = self.wall.radius_mm(v) / self.base.wall.radius_mm(v) - 1
        # tan f grows by the ratio of the radii; written as a change of f, which does not wrap
        sine, cosine = np.sin(f), np.cos(f)
        return a, v, f + np.arctan2(more * sine * cosine, 1 + more * sine**2)

    def length_mm(self, t0, t1):
        return _summed_length(self, t0, t1, 16)

    def turned(self, turn_rad):
        return replace(self, base=self.base.turned(turn_rad))

    def speed(self, t):
        _, v, f = self.base.along(t)
        ratio = self.wall.radius_mm(v) / self.base.wall.radius_mm(v)
        return self.base.speed(t) * np.hypot(np.sin(f) * ratio, np.cos(f))

    def curvature(self, t):
        step = 1e-3 / self.speed(t)
        (a0, _, f0), (a1, _, f1) = self.along(t - step), self.along(t + step)
        return (f1 - f0 + self.wall.slope * (a1 - a0)) / 2e-3


def carried(curve: Curve, wall: Frustum) -> Curve:
    """A curve as it lies on another coat of the same cup."""
    if isinstance(curve, Parallel) or (isinstance(curve, Straight) and math.sin(curve.heading_rad) == 0):
        return replace(curve, wall=wall)
    return Carried(wall, curve)
