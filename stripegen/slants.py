"""Curves that wind down a wall and are bent when laid flat: of one slant, and of an even drop."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from stripegen.curves import Curve, summed_length
from stripegen.surface import Wall


@dataclass(frozen=True, slots=True)
class SameSlant(Curve):
    """A curve that keeps its heading (on a cone, laid flat, a logarithmic spiral); t is length.

    Its turn is tan f times the integral of 1 / radius down the wall.
    """

    around_rad: float
    down_mm: float
    heading_rad: float

    def along(self, t):
        if isinstance(t, float):
            drop = t * math.cos(self.heading_rad)
            mean = float(self.wall.mean_inverse(self.down_mm, self.down_mm + drop))
            around = self.around_rad + t * math.sin(self.heading_rad) * mean
            return around, self.down_mm + drop, self.heading_rad
        t = np.asarray(t, dtype=float)
        drop = t * math.cos(self.heading_rad)
        mean = self.wall.mean_inverse(self.down_mm, self.down_mm + drop)
        around = self.around_rad + t * math.sin(self.heading_rad) * mean
        return around, self.down_mm + drop, np.full_like(t, self.heading_rad)

    def length_mm(self, t0, t1):
        return t1 - t0

    def turned(self, turn_rad):
        return replace(self, around_rad=self.around_rad + turn_rad)

    def speed(self, t):
        return np.ones_like(t, dtype=float)

    def curvature(self, t):
        _, v, f = self.along(t)
        return np.sin(f) * self.wall.slope_at(v) / self.wall.radius_mm(v)

    @classmethod
    def between(cls, wall: Wall, start: tuple[float, float], end: tuple[float, float]):
        """The one through two points (around, down), and its length."""
        drop, turn = end[1] - start[1], end[0] - start[0]
        heading = math.atan2(turn, drop * float(wall.mean_inverse(start[1], end[1])))
        return cls(wall, start[0], start[1], heading), drop / math.cos(heading)


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
        if isinstance(t, float):
            down = self.down_mm + self.drop_mm * t
            sideways = float(self.wall.radius_mm(down)) * self.turn_rad
            return self.around_rad + self.turn_rad * t, down, math.atan2(sideways, self.drop_mm)
        t = np.asarray(t, dtype=float)
        down = self.down_mm + self.drop_mm * t
        sideways = self.wall.radius_mm(down) * self.turn_rad
        return self.around_rad + self.turn_rad * t, down, np.arctan2(sideways, self.drop_mm)

    def length_mm(self, t0, t1):
        return summed_length(self, t0, t1)

    def turned(self, turn_rad):
        return replace(self, around_rad=self.around_rad + turn_rad)

    def speed(self, t):
        return np.hypot(self.wall.radius_mm(self.along(t)[1]) * self.turn_rad, self.drop_mm)

    def curvature(self, t):
        speed, slope = self.speed(t), self.wall.slope_at(self.along(t)[1])
        return slope * self.turn_rad * (1 + (self.drop_mm / speed) ** 2) / speed
