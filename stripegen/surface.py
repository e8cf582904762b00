"""The wall of a cup with one straight side, and the plane that it unrolls into.

A point of the wall is (around, down): radians to the right as one looks at the outside of the upright
cup, and millimetres from the rim along the wall. `slope` is dr/d(down): negative where the cup narrows
towards its base, 0 for a plain cylinder. Nothing here divides by the slope where it is small, so a
cylinder is a cone like any other.

A heading is the angle of a direction from straight down, towards +around. In the flat frames y points
down and x to the right, so a heading f is the direction (sin f, cos f) where `around` is the frame's own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stripegen.errors import GeometryError

Floats = np.ndarray | float

SMALL = 1e-8  # below this, the next term of the series is lost in rounding


def _sinc(t: Floats) -> Floats:
    return np.sinc(np.asarray(t) / math.pi)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frustum:
    """One straight wall: the radius at the rim, its change per mm of wall, and the wall's length."""

    rim_radius_mm: float
    slope: float
    wall_mm: float

    def __post_init__(self) -> None:
        values = (self.rim_radius_mm, self.slope, self.wall_mm)
        if not all(math.isfinite(value) for value in values):
            raise GeometryError(f"a wall needs finite measures, not {values}")
        if not (self.rim_radius_mm > 0 and self.wall_mm > 0 and -1 < self.slope < 1):
            raise GeometryError("a wall needs a radius and a length above 0 and must not lie flat")
        if self.base_radius_mm <= 0:
            raise GeometryError("the wall closes to a point before it reaches the base")

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
    def height_mm(self) -> float:
        """Upright, from the plane of the rim to the plane of the base."""
        return self.wall_mm * self.upright

    @property
    def upright(self) -> float:
        """Cosine of the angle between the wall and the axis: d(height)/d(down)."""
        return math.sqrt((1 - self.slope) * (1 + self.slope))

    @property
    def mean_radius_mm(self) -> float:
        return (self.rim_radius_mm + self.base_radius_mm) / 2

    def radius_mm(self, down_mm: Floats) -> Floats:
        return self.rim_radius_mm + self.slope * down_mm

    def girth_mm(self, down_mm: float) -> float:
        """Once round, `down_mm` from the rim."""
        return 2 * math.pi * self.radius_mm(down_mm)

    def coated(self, resin_mm: float) -> Frustum:
        """This wall with so much resin on it, moved squarely outwards: the same slope and length."""
        return Frustum(
            rim_radius_mm=self.rim_radius_mm + resin_mm * self.upright, slope=self.slope, wall_mm=self.wall_mm
        )

    def reach(
        self, around_rad: Floats, down_mm: Floats, heading_rad: Floats, distance_mm: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Where the shortest way ends that leaves a point at a heading and is so long.

        All arguments broadcast; a negative distance goes the other way. The way runs on past rim and base
        as if the wall did. Returns around (not wrapped), down and the heading there; NaN past the apex.

        The way is a straight line of the development: exact (do Carmo 4-4 for its being a geodesic).
        """
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
        """Heading at the start and length of the shortest way between two points (around, down).

        Raises GeometryError where there is none without passing the apex, or where it leaves the wall.
        """
        turn = end[0] - start[0]
        if abs(self.slope * turn) >= math.pi * (1 - 1e-9):
            limit_deg = math.degrees(math.pi / abs(self.slope))
            raise GeometryError(
                f"no straight way goes {math.degrees(abs(turn)):.1f} degrees round so tapered a wall "
                f"(under {limit_deg:.1f}): use path = \"same-slant\" or \"even-drop\""
            )
        x, y = self.develop(end[0], end[1], about=start)
        length, heading = math.hypot(x, y), math.atan2(x, y)
        level = self._level_place(start, heading, length)
        low, high = min(start[1], end[1], level), max(start[1], end[1], level)
        if low < -1e-9 or high > self.wall_mm + 1e-9:
            where = f"{-low:.1f} mm over the rim" if low < -1e-9 else f"{high - self.wall_mm:.1f} mm below the base"
            raise GeometryError(
                f"the straight way runs off the wall ({where}): move its ends, or use path = \"even-drop\""
            )
        return heading, length

    def _level_place(self, start: tuple[float, float], heading_rad: float, length_mm: float) -> float:
        """How far down a straight way runs level: its place nearest to the apex, if it passes that."""
        radius, k = self.radius_mm(start[1]), self.slope
        if k == 0 or not 0 < -radius * math.cos(heading_rad) / k < length_mm:
            return start[1]
        # the radius there is radius |sin f| (Clairaut); 1 - |sin f| written without cancellation
        return start[1] - radius * math.cos(heading_rad) ** 2 / (1 + abs(math.sin(heading_rad))) / k
