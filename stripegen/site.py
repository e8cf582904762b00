"""A cup as lines see it: the wall they lie on, and where its seams, clearances and keepouts are."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import shapely

from stripegen.crossing import level_t
from stripegen.curves import Parallel, Straight
from stripegen.errors import Figure, GeometryError
from stripegen.shapes import CHORD_MM, FULL_TURN, Edge, Shape, images
from stripegen.spec import Along, Around, Cup, Down, Keepout, Pattern
from stripegen.surface import Wall
from stripegen.walls import bare_wall

RIM_CLEARANCE_MM = 12.0
BASE_CLEARANCE_MM = 6.0
TOUCH_MM = 1e-7  # so near to a limit is on it
KEEPOUT, RIM, BASE = "a keepout", "the rim clearance", "the base clearance"  # what cuts a line off


@dataclass(frozen=True)
class Site:
    """One wall of a cup (bare, or under so much resin) with its limits.

    `cup_wall` is the wall under the cup's own resin: places are read there, and carried over to `wall` where a line
    lies on a further coat. `top_mm` and `bottom_mm` are where the decorated part begins and ends on `wall`. `seams`
    maps a name to its places at rim and base, in radians.
    """

    wall: Wall
    cup_wall: Wall
    rim_clearance_mm: float
    base_clearance_mm: float
    top_mm: float
    bottom_mm: float
    seams: Mapping[str, tuple[float, float]]
    keepouts: tuple[Shape, ...] = ()

    @classmethod
    def of(cls, cup: Cup, pattern: Pattern, resin_mm: float | None = None) -> Site:
        """The site of a pattern's lines on a cup; `resin_mm` instead of the cup's own, where given."""
        bare = bare_wall(cup)
        cup_wall = bare.coated(cup.resin_mm)
        wall = cup_wall if resin_mm is None else bare.coated(resin_mm)
        rim_mm = _larger(cup.rim_clearance_mm, pattern.rim_clearance_mm, RIM_CLEARANCE_MM)
        base_mm = _larger(cup.base_clearance_mm, pattern.base_clearance_mm, BASE_CLEARANCE_MM)
        if rim_mm + base_mm >= cup_wall.wall_mm:
            raise GeometryError(
                f"the clearances ({rim_mm:g} and {base_mm:g} mm) leave nothing of a wall of {cup_wall.wall_mm:g} mm",
                "make the clearances smaller",
                Figure("rim clearance", rim_mm),
                Figure("base clearance", base_mm),
                Figure("wall", cup_wall.wall_mm),
            )
        seams = {
            name: (_fixed(seam.rim, bare), _short_way(_fixed(seam.rim, bare), _fixed(seam.base, bare)))
            for name, seam in cup.seams.items()
        }
        top_mm, bottom_mm = (
            float(cup_wall.carried(down, wall)[0]) for down in (rim_mm, cup_wall.wall_mm - base_mm)
        )
        site = cls(wall, cup_wall, rim_mm, base_mm, top_mm, bottom_mm, seams)
        return replace(site, keepouts=tuple(site._keepout(keepout, bare) for keepout in cup.keepouts))

    def down_mm(self, place: Down) -> float:
        """A place down the wall, in mm; GeometryError where it is off the wall."""
        length_mm = self.cup_wall.wall_mm
        down = place.on(length_mm, self.rim_clearance_mm, self.base_clearance_mm)
        if not -1e-9 <= down <= length_mm + 1e-9:
            raise GeometryError(
                f"a place {down:.2f} mm down misses the wall, which is {length_mm:.2f} mm long",
                "give a place on the wall, or a share such as \"50%\", which suits any cup",
                Figure("down", down),
                Figure("wall", length_mm),
            )
        return float(self.cup_wall.carried(down, self.wall)[0])

    def around_rad(self, place: Around, down_mm: float) -> float:
        """A place round the cup, in radians; a seam is read `down_mm` down this wall."""
        if not isinstance(place, str):
            return _fixed(place, self.cup_wall)
        seam = _upright(self.cup_wall, *self.seams[place])
        own_mm = float(self.wall.carried(down_mm, self.cup_wall)[0])
        return float(seam.at(float(level_t(seam, own_mm)))[0])

    def seam(self, name: str) -> Straight:
        """The straight way along a seam on this wall, t = 0 at the rim."""
        return _upright(self.wall, *self.seams[name])

    def limits(self, shape: Shape) -> list[Shape]:
        """What of the clearances and keepouts may lie over a shape."""
        return [limit for _, limit in self.named_limits(shape)]

    def named_limits(self, shape: Shape) -> list[tuple[str, Shape]]:
        """What of the clearances and keepouts may lie over a shape, and what each is: KEEPOUT, RIM or BASE."""
        low, high = shape.around_range
        _, top, _, bottom = shape.polygon.bounds
        found = [(KEEPOUT, image) for image in images(self.keepouts, (low, high))]
        if top < self.top_mm - TOUCH_MM:
            found.append((RIM, self._belt(low - 0.1, high + 0.1, top - 1, self.top_mm)))
        if bottom > self.bottom_mm + TOUCH_MM:
            found.append((BASE, self._belt(low - 0.1, high + 0.1, bottom + 1, self.bottom_mm)))
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

    def _keepout(self, keepout: Keepout, bare: Wall) -> Shape:
        place = keepout.around
        from_mm, to_mm = (float(bare.carried(down, self.wall)[0]) for down in (keepout.from_mm, keepout.to_mm))
        around = self.around_rad(place, (from_mm + to_mm) / 2) if isinstance(place, str) else _fixed(place, bare)
        half = keepout.width_mm / 2
        if half >= min(float(self.wall.radius_mm(down)) for down in (from_mm, to_mm)) * math.pi / 2:
            raise GeometryError(f"a keepout of {keepout.width_mm:g} mm is wider than the cup", "make it narrower", Figure("width", keepout.width_mm))
        meridian = Straight(self.wall, around, 0.0, 0.0)
        left, right = meridian.parallel(-half), meridian.parallel(half)
        (left_from, left_to), (right_from, right_to) = (
            tuple(float(level_t(curve, down)) for down in (from_mm, to_mm)) for curve in (left, right)
        )
        if not all(map(math.isfinite, (left_from, left_to, right_from, right_to))):
            raise GeometryError(
                f"a keepout of {keepout.width_mm:g} mm is too wide for so bent a wall", "make it narrower", Figure("width", keepout.width_mm)
            )
        arounds = {
            end: (float(left.at(at_left)[0]), float(right.at(at_right)[0]))
            for end, at_left, at_right in (("from", left_from, right_from), ("to", left_to, right_to))
        }
        return Shape(
            (
                Edge(left, left_from, left_to),
                Edge(Parallel(self.wall, to_mm), *arounds["to"]),
                Edge(right, right_to, right_from),
                Edge(Parallel(self.wall, from_mm), *reversed(arounds["from"])),
            )
        )


def _upright(wall: Wall, rim_rad: float, base_rad: float) -> Straight:
    """The straight way from a place at the rim to one at the base."""
    heading = 0.0
    if rim_rad != base_rad:
        heading, _ = wall.straight_way((rim_rad, 0.0), (base_rad, wall.wall_mm))
    return Straight(wall, rim_rad, 0.0, heading)


def _larger(first: float | None, second: float | None, default: float) -> float:
    given = [value for value in (first, second) if value is not None]
    return max(given) if given else default


def _fixed(place: float | Along, wall: Wall) -> float:
    if isinstance(place, Along):
        if not 0 <= place.at_mm <= wall.wall_mm:
            raise GeometryError(
                f"a girth {place.at_mm:g} mm down misses the wall, which is {wall.wall_mm:.2f} mm long",
                "give a place on the wall",
                Figure("down", place.at_mm),
                Figure("wall", wall.wall_mm),
            )
        return place.along_mm / float(wall.radius_mm(place.at_mm))
    return place


def _short_way(rim_rad: float, base_rad: float) -> float:
    """The seam's place at the base, counted on from that at the rim the short way."""
    return rim_rad + math.remainder(base_rad - rim_rad, FULL_TURN)
