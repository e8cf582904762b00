"""Curves made of others: carried over to another coat of the cup, or between two that run down the wall."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from stripegen.crossing import level_t
from stripegen.curves import Curve, Parallel, Straight, summed_length
from stripegen.surface import Frustum, Wall


@dataclass(frozen=True, slots=True)
class Carried(Curve):
    """A curve of another coat of the same cup, carried over along the normals."""

    base: Curve

    @property
    def block_t(self):
        return self.base.block_t

    def along(self, t):
        a, v, f = self.base.along(t)
        down, rate = self.base.wall.carried(v, self.wall)
        more = self.wall.radius_mm(down) / (self.base.wall.radius_mm(v) * rate) - 1
        # tan f grows by the ratio of the radii to that of the downs; as a change of f, which does not wrap
        sine, cosine = np.sin(f), np.cos(f)
        return a, down, f + np.arctan2(more * sine * cosine, 1 + more * sine**2)

    def length_mm(self, t0, t1):
        return summed_length(self, t0, t1)

    def bends_t(self, t0, t1):
        return self.base.bends_t(t0, t1)

    def turned(self, turn_rad):
        return replace(self, base=self.base.turned(turn_rad))

    def speed(self, t):
        _, v, f = self.base.along(t)
        down, rate = self.base.wall.carried(v, self.wall)
        ratio = self.wall.radius_mm(down) / self.base.wall.radius_mm(v)
        return self.base.speed(t) * np.hypot(np.sin(f) * ratio, np.cos(f) * rate)

    def curvature(self, t):
        return self.turned_by(t, 1e-3 / self.speed(t)) / 2e-3


@dataclass(frozen=True, slots=True)
class Shared(Curve):
    """Between two curves that run down the wall, at each place down by a share of the way round; t is down."""

    first: Curve
    second: Curve
    share: float

    def along(self, t):
        t = np.asarray(t, dtype=float)
        rows = [curve.along(level_t(curve, t)) for curve in (self.first, self.second)]
        (a0, _, f0), (a1, _, f1) = rows
        steep = (1 - self.share) * np.tan(f0) + self.share * np.tan(f1)
        return (1 - self.share) * a0 + self.share * a1, t, np.arctan(steep)

    def length_mm(self, t0, t1):
        return summed_length(self, t0, t1)

    def turned(self, turn_rad):
        return replace(self, first=self.first.turned(turn_rad), second=self.second.turned(turn_rad))

    def speed(self, t):
        return 1 / np.cos(self.along(t)[2])

    def curvature(self, t):
        return self.turned_by(t, 1e-3) / (2e-3 * self.speed(t))


def carried(curve: Curve, wall: Wall) -> Curve:
    """A curve as it lies on another coat of the same cup."""
    if isinstance(curve, Parallel):
        return replace(curve, wall=wall, down_mm=float(curve.wall.carried(curve.down_mm, wall)[0]))
    if isinstance(curve, Straight) and curve.heading_rad == 0 and isinstance(wall, Frustum):
        return replace(curve, wall=wall)
    return Carried(wall, curve)
