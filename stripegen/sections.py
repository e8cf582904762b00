"""A wall of several straight sections: bent in or out, with upright parts, shoulders and ledges."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np

from stripegen.errors import Figure, GeometryError
from stripegen.shortest import shortest_way
from stripegen.surface import Floats, Frustum, Wall

SAME_MM = 1e-7  # what reaches no further past a section's end lies in it
FOLDED = 1e-6
ON_BEND_MM = 1e-11  # a way that starts so near to a bend starts on it


@dataclass(frozen=True, kw_only=True)
class SectionWall(Wall):
    """Straight sections end to end, from the rim to the base.

    `radii_mm` and `downs_mm` are those of the rim, of each bend and of the base; the k-th of another coat of the
    same cup is the same bend. `drops_mm` are how far they lie below the rim, upright.
    """

    radii_mm: tuple[float, ...]
    downs_mm: tuple[float, ...]
    drops_mm: tuple[float, ...]
    _slopes: np.ndarray = field(init=False, compare=False, repr=False)
    _radii: np.ndarray = field(init=False, compare=False, repr=False)
    _downs: np.ndarray = field(init=False, compare=False, repr=False)
    _sums: np.ndarray = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        radii, downs = np.array(self.radii_mm, dtype=float), np.array(self.downs_mm, dtype=float)
        if not (np.isfinite(radii).all() and np.isfinite(downs).all() and (radii > 0).all()):
            raise GeometryError("every radius of a wall must be finite and above 0")
        if len(radii) < 2 or not (np.diff(downs) > 0).all():
            raise GeometryError("a wall needs two places or more, each farther down than the one before")
        slopes = np.diff(radii) / np.diff(downs)
        self.__dict__.update(_slopes=np.clip(slopes, -1.0, 1.0), _radii=radii, _downs=downs)
        means = [float(part.mean_inverse(0.0, part.wall_mm)) * part.wall_mm for part in self.parts]
        self.__dict__["_sums"] = np.concatenate([[0.0], np.cumsum(means)])

    @classmethod
    def through(cls, points: Sequence[tuple[float, float]]) -> SectionWall:
        """The wall through points (radius, height) from the rim to the base."""
        radii, heights = (tuple(float(point[axis]) for point in points) for axis in (0, 1))
        steps = [math.hypot(r1 - r0, h1 - h0) for (r0, h0), (r1, h1) in pairwise(points)]
        return cls(
            radii_mm=radii,
            downs_mm=tuple(float(down) for down in np.concatenate([[0.0], np.cumsum(steps)])),
            drops_mm=tuple(heights[0] - height for height in heights),
        )

    @cached_property
    def parts(self) -> tuple[Frustum, ...]:
        """Each section as a wall of its own."""
        rows = zip(self.radii_mm, self._slopes, np.diff(self._downs), strict=False)
        return tuple(
            Frustum(rim_radius_mm=radius, slope=float(slope), wall_mm=float(length)) for radius, slope, length in rows
        )

    @property
    def wall_mm(self) -> float:
        return self.downs_mm[-1]

    @property
    def bends_mm(self) -> tuple[float, ...]:
        return self.downs_mm[1:-1]

    @property
    def rim_radius_mm(self) -> float:
        return self.radii_mm[0]

    @property
    def base_radius_mm(self) -> float:
        return self.radii_mm[-1]

    @cached_property
    def least_radius_mm(self) -> float:
        return min(self.radii_mm)

    @cached_property
    def greatest_radius_mm(self) -> float:
        return max(self.radii_mm)

    def _at(self, down_mm: Floats) -> np.ndarray:
        """The number of the section in which a place lies; a bend belongs to the section below it."""
        return np.searchsorted(self._downs[1:-1], down_mm, side="right")

    def part_at(self, down_mm: float) -> tuple[Frustum, float]:
        """The section in which a single place lies, and where it begins."""
        at = min(max(bisect_right(self.downs_mm, down_mm) - 1, 0), len(self.parts) - 1)
        return self.parts[at], self.downs_mm[at]

    def radius_mm(self, down_mm: Floats) -> Floats:
        if isinstance(down_mm, float):
            part, start = self.part_at(down_mm)
            return part.rim_radius_mm + part.slope * (down_mm - start)
        at = self._at(down_mm)
        return self._radii[at] + self._slopes[at] * (down_mm - self._downs[at])

    def slope_at(self, down_mm: Floats) -> Floats:
        if isinstance(down_mm, float):
            return self.part_at(down_mm)[0].slope
        return self._slopes[self._at(down_mm)]

    def drop_mm(self, down_mm: Floats) -> Floats:
        at = self._at(down_mm)
        upright = np.sqrt((1 - self._slopes) * (1 + self._slopes))
        return np.array(self.drops_mm)[at] + upright[at] * (down_mm - self._downs[at])

    def coated(self, resin_mm: float) -> SectionWall:
        """Every section moved squarely outwards, drawn out or shortened until it meets the next."""
        if not resin_mm:
            return self
        # along the wall and squarely outwards, as (radius, drop)
        along = np.stack([np.diff(self._radii), np.diff(self.drops_mm)], axis=1) / np.diff(self._downs)[:, None]
        out = np.stack([along[:, 1], -along[:, 0]], axis=1)
        square = np.concatenate([out[:1], out[:-1] + out[1:], out[-1:]])
        share = np.concatenate([[1.0], 1 + np.sum(out[:-1] * out[1:], axis=1), [1.0]])
        if (share < FOLDED).any():
            raise GeometryError("a coat can't lie on a wall that folds back on itself", "give it a smaller ledge")
        old = np.stack([self._radii, self.drops_mm], axis=1)
        new = old + resin_mm * square / share[:, None]
        lengths = np.sum(np.diff(new, axis=0) * along, axis=1)
        if (lengths <= 0).any():
            lost = int(np.argmin(lengths))
            raise GeometryError(
                f"{resin_mm:g} mm of resin would leave nothing of the section from {self.downs_mm[lost]:.1f} to "
                f"{self.downs_mm[lost + 1]:.1f} mm down",
                "leave that section out of the profile",
                Figure("resin", resin_mm),
            )
        return SectionWall(
            radii_mm=tuple(map(float, new[:, 0])),
            downs_mm=tuple(map(float, np.concatenate([[0.0], np.cumsum(lengths)]))),
            drops_mm=tuple(map(float, new[:, 1] - new[0, 1])),
        )

    def carried(self, down_mm: Floats, onto: SectionWall) -> tuple[Floats, Floats]:
        """Section by section, in proportion, so that bends stay bends."""
        at = self._at(down_mm)
        rate = (np.diff(onto._downs) / np.diff(self._downs))[at]
        if onto is self or onto == self:
            rate = np.ones_like(rate)
        return onto._downs[at] + rate * (down_mm - self._downs[at]), rate

    def mean_inverse(self, down_mm: Floats, other_mm: Floats) -> Floats:
        if isinstance(down_mm, float) and isinstance(other_mm, float):
            return self._mean_one(down_mm, other_mm)
        low, high = np.asarray(down_mm, dtype=float), np.asarray(other_mm, dtype=float)
        apart = high - low
        at_low, at_high = self._at(low), self._at(high)
        same = at_low == at_high
        if np.all(same):
            return self._mean_within(at_low, low, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = (self._summed(at_high, high) - self._summed(at_low, low)) / apart
        return np.where(same, self._mean_within(at_low, low, high), mean)

    def _mean_one(self, low: float, high: float) -> float:
        """The same for single numbers, which the solving of corners asks for by the thousand."""
        (first, start), (last, end) = self.part_at(low), self.part_at(high)
        if start == end:
            return _mean(first.rim_radius_mm + first.slope * (low - start), first.slope, high - low)
        total = 0.0
        for part, begins, place, side in ((first, start, low, -1), (last, end, high, 1)):
            along = place - begins
            total += side * (float(self._sums[self.downs_mm.index(begins)]) + _mean(part.rim_radius_mm, part.slope, along) * along)
        return total / (high - low)

    def _mean_within(self, at: np.ndarray, down_mm: np.ndarray, other_mm: np.ndarray) -> np.ndarray:
        """The mean of 1 / radius between two places of one section: log1p(x) / x, which is 1 for x = 0."""
        radius = self._radii[at] + self._slopes[at] * (down_mm - self._downs[at])
        x = self._slopes[at] * (other_mm - down_mm) / radius
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(np.abs(x) < 1e-8, 1 - x / 2, np.log1p(x) / x) / radius

    def _summed(self, at: np.ndarray, down_mm: np.ndarray) -> np.ndarray:
        """The integral of 1 / radius from the rim down to places in sections."""
        start = self._downs[at]
        return self._sums[at] + self._mean_within(at, start, down_mm) * (down_mm - start)

    def section(self, low_mm: float, high_mm: float) -> tuple[Frustum, float] | None:
        for part, start, end in zip(self.parts, self.downs_mm[:-1], self.downs_mm[1:], strict=True):
            above = low_mm >= start - SAME_MM or start == 0
            below = high_mm <= end + SAME_MM or end == self.wall_mm
            if above and below:
                return part, start
        return None

    def straight_way(self, start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
        held = self.section(min(start[1], end[1]), max(start[1], end[1]))
        if held and start[0] == end[0]:
            return (0.0 if end[1] >= start[1] else math.pi), abs(end[1] - start[1])
        return _shortest(self, start[1], end[1], end[0] - start[0])

    def reach(
        self, around_rad: Floats, down_mm: Floats, heading_rad: Floats, distance_mm: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Straight in each section laid flat; the heading is kept across a bend (Clairaut)."""
        if isinstance(distance_mm, float) and isinstance(heading_rad, float) and isinstance(down_mm, float):
            return self._reach_one(around_rad, down_mm, heading_rad, distance_mm)
        a, v, f, *_ = self._walk(around_rad, down_mm, heading_rad, distance_mm)
        return a, v, f

    def _reach_one(self, a: float, v: float, f: float, distance: float) -> tuple[float, float, float]:
        """The same for single numbers, which the solving of corners asks for by the thousand."""
        back = math.pi if distance < 0 else 0.0
        f, left, last = f + back, abs(distance), len(self.parts) - 1
        at = min(max(bisect_right(self.downs_mm, v) - 1, 0), last)
        if v - self.downs_mm[at] < ON_BEND_MM and math.cos(f) < 0 and at > 0:
            at -= 1
        elif self.downs_mm[at + 1] - v < ON_BEND_MM and math.cos(f) > 0 and at < last:
            at += 1
        for _ in range(6 * len(self.parts) + 20):
            part, start = self.parts[at], self.downs_mm[at]
            radius, k = part.rim_radius_mm + part.slope * (v - start), part.slope
            b = radius * math.cos(f)
            to_bend, below = math.inf, 0
            for down, end in enumerate((at, at + 1)):
                if end in (0, last + 1):
                    continue
                c = (self.downs_mm[end] - v) * (radius + self.radii_mm[end])
                square = b * b + k * c
                if square < 0:
                    continue
                q = -(b + math.copysign(math.sqrt(square), b))
                for root in (q / k if k else math.inf, -c / q if q else math.inf):
                    if ON_BEND_MM < root < to_bend:
                        to_bend, below = root, down
            step = min(left, to_bend)
            turn, reached, way = part.reach(0.0, v - start, f, float(step))
            a, f = a + turn, way
            if left <= to_bend or not math.isfinite(reached):
                return a, start + reached, f - back
            v, left, at = self.downs_mm[at + below], left - step, at + 2 * below - 1
        return math.nan, math.nan, math.nan

    def spread(self, down_mm: Floats, heading_rad: Floats, distance_mm: Floats) -> tuple[Floats, Floats]:
        """Ways part evenly within a section; a bend, all its curvature in one place, turns them by
        (slope below - slope above) / (r |cos f|) of what they are apart."""
        *_, parallel, fan = self._walk(0.0, down_mm, heading_rad, distance_mm)
        return parallel, fan

    def _walk(self, around_rad, down_mm, heading_rad, distance_mm) -> tuple[np.ndarray, ...]:
        a, v, f, left = (
            np.array(value, dtype=float)
            for value in np.broadcast_arrays(around_rad, down_mm, heading_rad, distance_mm)
        )
        shape, back = left.shape, np.where(left < 0, math.pi, 0.0)
        a, v, f, left, back = a.ravel(), v.ravel(), (f + back).ravel(), np.abs(left).ravel(), back.ravel()
        at = self._at(v)
        # a place on a bend belongs to the section into which the way leads
        at = np.where((v - self._downs[at] < ON_BEND_MM) & (np.cos(f) < 0) & (at > 0), at - 1, at)
        lower = (self._downs[at + 1] - v < ON_BEND_MM) & (np.cos(f) > 0) & (at < len(self._slopes) - 1)
        at = np.where(lower, at + 1, at)
        parted = np.stack([np.ones_like(v), np.zeros_like(v)])  # by ways that start parallel, and in a fan
        parting = np.stack([np.zeros_like(v), np.ones_like(v)])
        going = np.arange(len(v))
        for _ in range(6 * len(self._slopes) + 20):
            i = at[going]
            radius = self._radii[i] + self._slopes[i] * (v[going] - self._downs[i])
            to_bend, down = self._next_bend(i, v[going], f[going], radius)
            stays = ~(to_bend < left[going])
            step = np.where(stays, left[going], to_bend)
            turn, drop, turned = _stepped(self._slopes[i], radius, f[going], step)
            parted[:, going] += parting[:, going] * step
            a[going] += turn
            f[going] += turned
            v[going] = np.where(stays, v[going] + drop, self._downs[i + down])
            left[going] -= step
            going, down, i = going[~stays], down[~stays], i[~stays]
            if not len(going):
                break
            bend = self._slopes[i + down] - self._slopes[i + down - 1]
            radius = self._radii[i + down]
            parting[:, going] += bend / (radius * np.abs(np.cos(f[going]))) * parted[:, going]
            at[going] = i + 2 * down - 1
        a[going] = v[going] = f[going] = math.nan
        signs = np.where(back > 0, -1.0, 1.0)
        return tuple(value.reshape(shape) for value in (a, v, f - back, parted[0], parted[1] * signs))

    def _next_bend(self, at, v, f, radius) -> tuple[np.ndarray, np.ndarray]:
        """How far it is to a section's end along a way, and whether that end is the lower one.

        In the section laid flat k t^2 + 2 r cos f t = (end - v) (r + r there).
        """
        k, b = self._slopes[at], radius * np.cos(f)
        found = []
        for end in (at, at + 1):
            outer = (end == 0) | (end == len(self._downs) - 1)  # the wall runs on past rim and base
            c = (self._downs[end] - v) * (radius + self._radii[end])
            with np.errstate(divide="ignore", invalid="ignore"):
                q = -(b + np.copysign(np.sqrt(b * b + k * c), b))
                roots = np.stack([q / k, -c / q])
            roots[~(roots > ON_BEND_MM)] = math.inf
            found.append(np.where(outer, math.inf, roots.min(axis=0)))
        return np.minimum(*found), (found[1] < found[0]).astype(int)


def _mean(radius: float, slope: float, apart: float) -> float:
    """The mean of 1 / radius from where it is so much; NaN past the point to which a section tapers."""
    x = slope * apart / radius
    if not x > -1:
        return math.nan
    return (1 - x / 2 if abs(x) < 1e-8 else math.log1p(x) / x) / radius


def _stepped(k, radius, f, distance) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Changes of around, down and heading along a straight way on a section; as for a single one."""
    across, along = distance * np.sin(f), distance * np.cos(f)
    x, q = k * across, radius + k * along
    with np.errstate(divide="ignore", invalid="ignore"):
        per_x = np.where(np.abs(x) < 1e-8 * np.abs(q), 1 / np.where(q > 0, q, np.nan), np.arctan2(x, q) / x)
        far = np.hypot(x, q)
        drop = np.where(q > 0, along + x * across / (far + q), (far - radius) / k)
    around = across * per_x
    return around, drop, -k * around


@lru_cache(maxsize=4096)
def _shortest(wall: SectionWall, down_mm: float, end_mm: float, turn_rad: float) -> tuple[float, float]:
    return shortest_way(wall, down_mm, end_mm, turn_rad)
