"""A cup as lines see it: the wall they lie on, and where its seams, clearances and keepouts are."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.curves import Parallel, Straight
from stripegen.errors import GeometryError
from stripegen.shapes import CHORD_MM, FULL_TURN, Edge, Shape, images
from stripegen.spec import Along, Around, Cup, Down, Keepout, Pattern
from stripegen.surface import Frustum

RIM_CLEARANCE_MM = 12.0
BASE_CLEARANCE_MM = 6.0
TOUCH_MM = 1e-7  # so near to a limit is on it


@dataclass(frozen=True)
class Site:
    """One wall of a cup (bare, or under so much resin) with its limits.

    `cup_wall` is the wall under the cup's own resin: places round the cup are read there, whatever further
    coat a line lies on. `seams` maps a name to its places at rim and base, in radians.
    """

    wall: Frustum
    cup_wall: Frustum
    rim_clearance_mm: float
    base_clearance_mm: float
    seams: Mapping[str, tuple[float, float]]
    keepouts: tuple[Shape, ...]

    @classmethod
    def of(cls, cup: Cup, pattern: Pattern, resin_mm: float | None = None) -> Site:
        """The site of a pattern's lines on a cup; `resin_mm` instead of the cup's own, where given."""
        bare = Frustum.from_radii(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm)
        cup_wall = bare.coated(cup.resin_mm)
        wall = cup_wall if resin_mm is None else bare.coated(resin_mm)
        rim_mm = _larger(cup.rim_clearance_mm, pattern.rim_clearance_mm, RIM_CLEARANCE_MM)
        base_mm = _larger(cup.base_clearance_mm, pattern.base_clearance_mm, BASE_CLEARANCE_MM)
        if rim_mm + base_mm >= wall.wall_mm:
            raise GeometryError(
                f"the clearances ({rim_mm:g} and {base_mm:g} mm) leave nothing of a wall of {wall.wall_mm:g} mm"
            )
        seams = {
            name: (_fixed(seam.rim, bare), _short_way(_fixed(seam.rim, bare), _fixed(seam.base, bare)))
            for name, seam in cup.seams.items()
        }
        site = cls(wall, cup_wall, rim_mm, base_mm, seams, ())
        keepouts = tuple(site._keepout(keepout, bare) for keepout in cup.keepouts)
        return cls(wall, cup_wall, rim_mm, base_mm, seams, keepouts)

    @property
    def top_mm(self) -> float:
        """Down, where the decorated part begins."""
        return self.rim_clearance_mm

    @property
    def bottom_mm(self) -> float:
        """Down, where the decorated part ends."""
        return self.wall.wall_mm - self.base_clearance_mm

    def down_mm(self, place: Down) -> float:
        """A place down the wall, in mm; GeometryError where it is off the wall."""
        down = place.on(self.wall.wall_mm, self.rim_clearance_mm, self.base_clearance_mm)
        if not -1e-9 <= down <= self.wall.wall_mm + 1e-9:
            raise GeometryError(f"a place {down:.2f} mm down misses the wall, which is {self.wall.wall_mm:.2f} mm long")
        return down

    def around_rad(self, place: Around, down_mm: float) -> float:
        """A place round the cup, in radians; a seam is read `down_mm` down."""
        if not isinstance(place, str):
            return _fixed(place, self.cup_wall)
        seam = _upright(self.cup_wall, *self.seams[place])
        return float(seam.at(level_t(seam, down_mm))[0])

    def seam(self, name: str) -> Straight:
        """The straight way along a seam on this wall, t = 0 at the rim."""
        return _upright(self.wall, *self.seams[name])

    def limits(self, shape: Shape) -> list[Shape]:
        """What of the clearances and keepouts may lie over a shape."""
        low, high = shape.around_range
        _, top, _, bottom = shape.polygon.bounds
        found = images(self.keepouts, (low, high))
        if top < self.top_mm - TOUCH_MM:
            found.append(self._belt(low - 0.1, high + 0.1, top - 1, self.top_mm))
        if bottom > self.bottom_mm + TOUCH_MM:
            found.append(self._belt(low - 0.1, high + 0.1, bottom + 1, self.bottom_mm))
        return found

    def on_limit(self, edge: Edge) -> bool:
        """Whether an edge runs along a clearance or the border of a keepout."""
        arounds, downs = edge.curve.at(np.linspace(edge.t0, edge.t1, 3))
        for limit_mm in (self.top_mm, self.bottom_mm):
            if np.all(np.abs(downs - limit_mm) < 10 * TOUCH_MM):
                return True
        scale = self.wall.mean_radius_mm
        points = shapely.points(scale * arounds, downs)
        near = images(self.keepouts, (arounds.min() - 0.01, arounds.max() + 0.01))
        return any(np.all(shapely.distance(shape.polygon.boundary, points) < 2 * CHORD_MM) for shape in near)

    def _belt(self, low_rad: float, high_rad: float, far_mm: float, limit_mm: float) -> Shape:
        return Shape(
            (
                Edge(Parallel(self.wall, limit_mm), low_rad, high_rad),
                Edge(Straight(self.wall, high_rad, 0.0, 0.0), limit_mm, far_mm),
                Edge(Parallel(self.wall, far_mm), high_rad, low_rad),
                Edge(Straight(self.wall, low_rad, 0.0, 0.0), far_mm, limit_mm),
            )
        )

    def _keepout(self, keepout: Keepout, bare: Frustum) -> Shape:
        place = keepout.around
        middle_mm = (keepout.from_mm + keepout.to_mm) / 2
        around = self.around_rad(place, middle_mm) if isinstance(place, str) else _fixed(place, bare)
        half = keepout.width_mm / 2
        if half >= self.wall.radius_mm(min(keepout.from_mm, keepout.to_mm)) * math.pi / 2:
            raise GeometryError(f"a keepout of {keepout.width_mm:g} mm is wider than the cup")
        meridian = Straight(self.wall, around, 0.0, 0.0)
        left, right = meridian.parallel(-half), meridian.parallel(half)
        ends = {}
        for side, curve in (("left", left), ("right", right)):
            for end, down in (("from", keepout.from_mm), ("to", keepout.to_mm)):
                ends[side, end] = level_t(curve, down)
        def at(side: str, end: str) -> float:
            return float((left if side == "left" else right).at(ends[side, end])[0])
        return Shape(
            (
                Edge(left, ends["left", "from"], ends["left", "to"]),
                Edge(Parallel(self.wall, keepout.to_mm), at("left", "to"), at("right", "to")),
                Edge(right, ends["right", "to"], ends["right", "from"]),
                Edge(Parallel(self.wall, keepout.from_mm), at("right", "from"), at("left", "from")),
            )
        )


def _upright(wall: Frustum, rim_rad: float, base_rad: float) -> Straight:
    """The straight way from a place at the rim to one at the base."""
    heading = 0.0
    if rim_rad != base_rad:
        heading, _ = wall.straight_way((rim_rad, 0.0), (base_rad, wall.wall_mm))
    return Straight(wall, rim_rad, 0.0, heading)


def level_t(curve: Straight, down_mm: float, near_t: float | None = None) -> float:
    """Where a straight way is `down_mm` down: of two such places, that nearest to `near_t`.

    With r0 and c = cos f at its start, k t^2 + 2 r0 c t = (down - down0) (r + r0) in the development.
    """
    k, b = curve.wall.slope, curve.wall.radius_mm(curve.down_mm) * math.cos(curve.heading_rad)
    c = (down_mm - curve.down_mm) * (curve.wall.radius_mm(down_mm) + curve.wall.radius_mm(curve.down_mm))
    square = b * b + k * c
    if square < 0:
        return math.nan
    larger = b + math.copysign(math.sqrt(square), b)
    roots = ([c / larger] if larger else []) + ([-larger / k] if k else [])
    if not roots:
        return math.nan
    near = 0.0 if near_t is None else near_t
    return min(roots, key=lambda t: abs(t - near)) if near_t is not None else roots[0]


def upright_t(curve: Straight, around_rad: float) -> float:
    """Where a straight way meets a meridian; NaN where it never does.

    Both are straight in the development, and the law of sines gives the way's part of their triangle.
    """
    turn = around_rad - curve.around_rad
    swing = curve.wall.slope * turn
    ahead, across = math.sin(curve.heading_rad - swing), math.sin(curve.heading_rad)
    if abs(swing) >= math.pi or not ahead * across > 0:  # only past the point to which the wall tapers
        return math.nan
    return float(curve.wall.radius_mm(curve.down_mm) * turn * np.sinc(swing / math.pi) / ahead)


def _larger(first: float | None, second: float | None, default: float) -> float:
    given = [value for value in (first, second) if value is not None]
    return max(given) if given else default


def _fixed(place: float | Along, wall: Frustum) -> float:
    if isinstance(place, Along):
        if not 0 <= place.at_mm <= wall.wall_mm:
            raise GeometryError(f"a girth {place.at_mm:g} mm down misses the wall, which is {wall.wall_mm:.2f} mm long")
        return place.along_mm / wall.radius_mm(place.at_mm)
    return place


def _short_way(rim_rad: float, base_rad: float) -> float:
    """The seam's place at the base, counted on from that at the rim the short way."""
    return rim_rad + math.remainder(base_rad - rim_rad, FULL_TURN)
