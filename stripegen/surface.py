"""The wall of a cup: what every surface of revolution offers, and the wall with one straight side.

A point of the wall is (around, down): radians to the right as one looks at the outside of the upright
cup, and millimetres from the rim along the wall. A wall's slope is dr/d(down): negative where the cup narrows towards its base,
0 where it is a plain cylinder. Nothing here divides by the slope where it is small, so a cylinder is a cone
like any other. Past rim and base a wall runs on straight, as its last bit does.

A heading is the angle of a direction from straight down, towards +around. In the flat frames y points
down and x to the right, so a heading f is the direction (sin f, cos f) where `around` is the frame's own.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass

import numpy as np

from stripegen.errors import Figure, GeometryError

Floats = np.ndarray | float

SMALL = 1e-8  # below this, the next term of the series is lost in rounding


def _sinc(t: Floats) -> Floats:
    return np.sinc(np.asarray(t) / math.pi)


class Wall(ABC):
    """A surface of revolution, its radius known all the way down, and the straightest ways on it.

    `bends_mm` are the places down where the slope changes at once; between them the wall is smooth.
    """

    __slots__ = ()

    rim_radius_mm: float
    base_radius_mm: float
    wall_mm: float
    bends_mm: tuple[float, ...] = ()
    least_radius_mm: float
    greatest_radius_mm: float

    @property
    def height_mm(self) -> float:
        """Upright, from the plane of the rim to the plane of the base."""
        return float(self.drop_mm(self.wall_mm))

    @property
    def mean_radius_mm(self) -> float:
        """Half way between the least and the greatest: the scale of the plane in which shapes are cut."""
        return (self.least_radius_mm + self.greatest_radius_mm) / 2

    @abstractmethod
    def radius_mm(self, down_mm: Floats) -> Floats: ...

    @abstractmethod
    def slope_at(self, down_mm: Floats) -> Floats:
        """dr/d(down); at a bend, that just below it."""

    @abstractmethod
    def drop_mm(self, down_mm: Floats) -> Floats:
        """How far a place lies below the plane of the rim, upright."""

    def girth_mm(self, down_mm: Floats) -> Floats:
        """Once round, `down_mm` from the rim."""
        return 2 * math.pi * self.radius_mm(down_mm)

    @abstractmethod
    def coated(self, resin_mm: float) -> Wall:
        """This wall with so much resin on it, moved squarely outwards.

        Raises GeometryError where the coat would fill a hollow so that nothing is left of a part of the wall.
        """

    @abstractmethod
    def carried(self, down_mm: Floats, onto: Wall) -> tuple[Floats, Floats]:
        """Where a place of this wall lies on another coat of the same cup, and how that changes with it."""

    @abstractmethod
    def reach(
        self, around_rad: Floats, down_mm: Floats, heading_rad: Floats, distance_mm: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Where the straightest way ends that leaves a point at a heading and is so long.

        All arguments broadcast; a negative distance goes the other way. Returns around (not wrapped), down and
        the heading there; NaN past the point to which a wall tapers.
        """

    @abstractmethod
    def spread(
        self, down_mm: Floats, heading_rad: Floats, distance_mm: Floats
    ) -> tuple[Floats, Floats]:
        """How two ways that start side by side have parted after a distance.

        The first for ways that start parallel, 1 apart; the second for ways that part by 1 radian: Jacobi's
        equation along the way (do Carmo, 5-5). On a straight wall 1 and the distance itself.
        """

    @abstractmethod
    def mean_inverse(self, down_mm: Floats, other_mm: Floats) -> Floats:
        """The mean of 1 / radius along a meridian between two places."""

    @abstractmethod
    def straight_way(self, start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
        """Heading at the start and length of the shortest way between two points (around, down).

        Raises GeometryError where there is none, or where it leaves the wall.
        """

    @abstractmethod
    def section(self, low_mm: float, high_mm: float) -> tuple[Frustum, float] | None:
        """The straight section that holds all between two places down, and where it begins; None: none does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frustum(Wall):
    """One straight wall: the radius at the rim, its change per mm of wall, and the wall's length."""

    rim_radius_mm: float
    slope: float
    wall_mm: float

    def __post_init__(self) -> None:
        values = (self.rim_radius_mm, self.slope, self.wall_mm)
        if not all(math.isfinite(value) for value in values):
            raise GeometryError(f"a wall needs finite measures, not {values}")
        if not (self.rim_radius_mm > 0 and self.wall_mm > 0 and -1 <= self.slope <= 1):
            raise GeometryError("a wall needs a radius and a length above 0, and a slope of at most 1")
        if self.base_radius_mm <= 0:
            raise GeometryError("the wall closes to a point before it reaches the base", "measure its diameters and its height anew")

    @classmethod
    def from_radii(cls, rim_radius_mm: float, base_radius_mm: float, wall_mm: float) -> Frustum:
        return cls(
            rim_radius_mm=rim_radius_mm,
            slope=(base_radius_mm - rim_radius_mm) / wall_mm,
            wall_mm=wall_mm,
        )

    @property
    def base_radius_mm(self) -> float:
        return self.rim_radius_mm + self.slope * self.wall_mm

    @property
    def upright(self) -> float:
        """Cosine of the angle between the wall and the axis: d(height)/d(down)."""
        return math.sqrt((1 - self.slope) * (1 + self.slope))

    @property
    def least_radius_mm(self) -> float:
        return min(self.rim_radius_mm, self.base_radius_mm)

    @property
    def greatest_radius_mm(self) -> float:
        return max(self.rim_radius_mm, self.base_radius_mm)

    def radius_mm(self, down_mm: Floats) -> Floats:
        return self.rim_radius_mm + self.slope * down_mm

    def slope_at(self, down_mm: Floats) -> Floats:
        return self.slope + 0 * down_mm

    def drop_mm(self, down_mm: Floats) -> Floats:
        return self.upright * down_mm

    def coated(self, resin_mm: float) -> Frustum:
        """This wall with so much resin on it: the same slope and length."""
        return Frustum(
            rim_radius_mm=self.rim_radius_mm + resin_mm * self.upright, slope=self.slope, wall_mm=self.wall_mm
        )

    def carried(self, down_mm: Floats, onto: Wall) -> tuple[Floats, Floats]:
        return down_mm, 1.0 + 0 * down_mm

    def reach(
        self, around_rad: Floats, down_mm: Floats, heading_rad: Floats, distance_mm: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """A straight line of the development: exact (do Carmo 4-4 for its being a geodesic)."""
        if isinstance(distance_mm, float) and isinstance(heading_rad, float) and isinstance(down_mm, float):
            return self._reach_one(around_rad, down_mm, heading_rad, distance_mm)
        across = distance_mm * np.sin(heading_rad)
        along = distance_mm * np.cos(heading_rad)
        k = self.slope
        radius = self.radius_mm(down_mm)
        x, q = k * across, radius + k * along
        with np.errstate(divide="ignore", invalid="ignore"):
            # turn / x = atan2(x, q) / x, which tends to 1 / q as the taper or the sideways way vanish
            per_x = np.where(np.abs(x) < SMALL * np.abs(q), 1 / np.where(q > 0, q, np.nan), np.arctan2(x, q) / x)
            far = np.hypot(x, q)
            drop = np.where(q > 0, along + x * across / (far + q), (far - radius) / k)
        around = across * per_x
        return around_rad + around, down_mm + drop, heading_rad - k * around

    def _reach_one(
        self, around_rad: float, down_mm: float, heading_rad: float, distance_mm: float
    ) -> tuple[float, float, float]:
        """The same for single numbers, which the solving of corners asks for by the thousand."""
        across, along = distance_mm * math.sin(heading_rad), distance_mm * math.cos(heading_rad)
        k = self.slope
        radius = self.rim_radius_mm + k * down_mm
        x, q = k * across, radius + k * along
        far = math.hypot(x, q)
        if q > 0:
            around = across * (1 / q if abs(x) < SMALL * q else math.atan2(x, q) / x)
            drop = along + x * across / (far + q)
        elif abs(x) < SMALL * -q or not k:
            return math.nan, math.nan, math.nan
        else:
            around, drop = across * (math.atan2(x, q) / x), (far - radius) / k
        return around_rad + around, down_mm + drop, heading_rad - k * around

    def spread(self, down_mm: Floats, heading_rad: Floats, distance_mm: Floats) -> tuple[Floats, Floats]:
        return 1.0 + 0 * distance_mm, distance_mm

    def mean_inverse(self, down_mm: Floats, other_mm: Floats) -> Floats:
        radius = self.radius_mm(down_mm)
        x = self.slope * (other_mm - down_mm) / radius
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(np.abs(x) < SMALL, 1 - x / 2, np.log1p(x) / x) / radius

    def section(self, low_mm: float, high_mm: float) -> tuple[Frustum, float]:
        return self, 0.0

    def develop(
        self, around_rad: Floats, down_mm: Floats, about: tuple[float, float] = (0.0, 0.0)
    ) -> tuple[Floats, Floats]:
        """Points of the wall laid flat, every length kept: x and y in mm.

        The point `about` (around, down) lands at the origin with its meridian along +y. Exact on the whole
        wall; with phi = slope * around, x = r around sinc(phi) and y = down - r around (phi/2) sinc(phi/2)^2,
        which holds as the slope goes to 0.
        """
        turn = np.asarray(around_rad) - about[0]
        radius = self.radius_mm(down_mm)
        half = 0.5 * self.slope * turn
        x = radius * turn * _sinc(2 * half)
        y = (down_mm - about[1]) - radius * turn * half * _sinc(half) ** 2
        return x, y

    def straight_way(self, start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
        """The straight line between the points laid flat, which must not pass the apex."""
        turn = end[0] - start[0]
        if abs(self.slope * turn) >= math.pi * (1 - 1e-9):
            limit_deg = math.degrees(math.pi / abs(self.slope))
            raise GeometryError(
                f"no straight way goes {math.degrees(abs(turn)):.1f} degrees round so tapered a wall "
                f"(under {limit_deg:.1f})",
                'use path = "same-slant" or "even-drop"',
                Figure("round", math.degrees(abs(turn)), "degrees"),
            )
        x, y = self.develop(end[0], end[1], about=start)
        length, heading = math.hypot(x, y), math.atan2(x, y)
        level = self._level_place(start, heading, length)
        low, high = min(start[1], end[1], level), max(start[1], end[1], level)
        if low < -1e-9 or high > self.wall_mm + 1e-9:
            where = f"{-low:.1f} mm over the rim" if low < -1e-9 else f"{high - self.wall_mm:.1f} mm below the base"
            raise GeometryError(
                f"the straight way runs off the wall ({where})", 'move its ends, or use path = "even-drop"'
            )
        return heading, length

    def _level_place(self, start: tuple[float, float], heading_rad: float, length_mm: float) -> float:
        """How far down a straight way runs level: its place nearest to the apex, if it passes that."""
        radius, k = self.radius_mm(start[1]), self.slope
        if k == 0 or not 0 < -radius * math.cos(heading_rad) / k < length_mm:
            return start[1]
        # the radius there is radius |sin f| (Clairaut); 1 - |sin f| written without cancellation
        return start[1] - radius * math.cos(heading_rad) ** 2 / (1 + abs(math.sin(heading_rad))) / k
