"""A cup seen a little from above, from far away: where a point of its wall is drawn, and which points are seen.

Lines of sight rise towards the eye, so only what is higher on the wall can hide a point. Along one girth what is further
from the middle of the view is hidden sooner: of each girth a single stretch is seen, as far to the left as to the right.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np
import shapely
from shapely import affinity

from stripegen.outline import CubicEdge, Ring
from stripegen.panels import LaidPanel, parts_of_panel
from stripegen.pictures import CHORD_MM, Onto, divided, page_rings, parts_seen, profile_bend
from stripegen.shapes import Shape
from stripegen.surface import Wall

TILT_RAD = math.radians(9)  # the line of sight below the level
SINE, COSINE, TANGENT = math.sin(TILT_RAD), math.cos(TILT_RAD), math.tan(TILT_RAD)

GIRTHS = 480  # down the wall at which is found how much of them is seen ...
FAST_RAD, ROUNDS = 0.05, 4  # ... and a quarter as far apart, again and again, where that changes by more
BY_A_BEND_MM = 1e-6
LEVEL_MM = 1e-7  # what is no higher than this above a point can't hide it
STRAIGHT_MM = 0.01  # on the page, for the border of what is seen
SPECK = 1e-7  # in rad mm
ROUND = 120  # points of an ellipse


class Sight:
    """What of a wall is seen, whatever side is in front, at a scale."""

    def __init__(self, wall: Wall, scale: float):
        self.wall, self.scale = wall, scale
        beside = np.array([bend + side for bend in wall.bends_mm for side in (-BY_A_BEND_MM, BY_A_BEND_MM)])
        self.downs_mm, self.halves_rad = seen_girths(wall, np.union1d(np.linspace(0.0, wall.wall_mm, GIRTHS), beside))
        self.reach_rad = float(np.max(self.halves_rad))
        self.region = self._region()
        steepest, sharpest, _ = profile_bend(wall)
        self.bending = (wall.greatest_radius_mm, 2 * steepest, sharpest)
        self.outline = self._outline()

    def half_rad(self, down_mm: float) -> float:
        """How far to both sides of the middle a girth is seen; at a bend, the girth's edge itself."""
        beside = (down_mm - BY_A_BEND_MM, down_mm + BY_A_BEND_MM) if down_mm in self.wall.bends_mm else (down_mm,)
        return max(float(np.interp(down, self.downs_mm, self.halves_rad)) for down in beside)

    def _region(self) -> shapely.Geometry:
        """What is seen, in the plane of (around from the middle of the view, down)."""
        radius = self.wall.mean_radius_mm
        border = shapely.LineString(np.stack([radius * self.halves_rad, self.downs_mm], axis=-1))
        right = shapely.get_coordinates(border.simplify(STRAIGHT_MM / self.scale)) / (radius, 1.0)
        both = shapely.Polygon(np.concatenate([right, right[::-1] * (-1.0, 1.0)]))
        return shapely.MultiPolygon(list(polygons(shapely.make_valid(both))))

    def _outline(self) -> shapely.Polygon:
        """The whole cup on the page, the rim's middle at (0, 0): between two girths it is the hull of two ellipses."""

        def place(around_rad, down_mm):
            return placed(self.wall, self.scale, around_rad, down_mm)

        within = CHORD_MM / self.scale
        ends = np.array([[0.0, 0.0], [0.0, self.wall.wall_mm]])
        downs = divided(ends, Onto(place, self.bending, self.wall.bends_mm), within)[:, 1]
        turns = np.linspace(-math.pi, math.pi, ROUND, endpoint=False)
        rows = [np.stack(place(turns, np.full(ROUND, down)), axis=-1) for down in downs]
        hulls = [shapely.MultiPoint(np.concatenate(pair)).convex_hull for pair in pairwise(rows)]
        return shapely.unary_union(hulls).simplify(STRAIGHT_MM / 2)


def seen_girths(wall: Wall, downs_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Girths of a wall and how far they are seen; more of them than given where that changes fast."""
    first = downs_mm
    halves = half_seen(wall, downs_mm, first)
    for _ in range(ROUNDS):
        steps = np.diff(downs_mm)
        fast = np.flatnonzero((np.abs(np.diff(halves)) > FAST_RAD) & (steps > 3 * BY_A_BEND_MM))
        if not len(fast):
            break
        between = (downs_mm[fast] + np.outer([0.25, 0.5, 0.75], steps[fast])).ravel()
        downs_mm, order = np.unique(np.concatenate([downs_mm, between]), return_index=True)
        halves = np.concatenate([halves, half_seen(wall, between, first)])[order]
    return downs_mm, halves


def half_seen(wall: Wall, downs_mm: np.ndarray, hiding_mm: np.ndarray) -> np.ndarray:
    """How far to both sides of the middle of a view girths of a wall are seen: radians, 0 to pi.

    What lies at `hiding_mm` down may hide them.

    A point (r, a) is turned from the eye where cos a < -(slope / upright) tan(tilt). The line of sight from it passes
    h higher at sqrt(r^2 + 2 r cos a h / tan + h^2 / tan^2) from the axis; it meets the wall where that is less than
    the wall's radius R there: where cos a < (R^2 - r^2 - h^2 / tan^2) tan / (2 r h).
    """
    radius, drop, slope = wall.radius_mm(downs_mm), wall.drop_mm(downs_mm), wall.slope_at(downs_mm)
    upright = np.sqrt(np.maximum(0.0, (1 - slope) * (1 + slope)))
    least = -slope / np.maximum(upright, 1e-9) * TANGENT
    other = wall.radius_mm(hiding_mm)
    above = drop[:, None] - wall.drop_mm(hiding_mm)[None, :]
    hides = above > LEVEL_MM
    above = np.where(hides, above, 1.0)
    met = (other[None, :] ** 2 - radius[:, None] ** 2 - (above / TANGENT) ** 2) * TANGENT / (2 * radius[:, None] * above)
    least = np.maximum(least, np.max(np.where(hides, met, -np.inf), axis=1))
    return np.arccos(np.clip(least, -1.0, 1.0))


def placed(wall: Wall, scale: float, around_rad, down_mm) -> tuple[np.ndarray, np.ndarray]:
    """Where points of a wall are drawn, the rim's middle at (0, 0) and the middle of the view at 0."""
    radius = wall.radius_mm(down_mm)
    x = radius * np.sin(around_rad)
    y = COSINE * wall.drop_mm(down_mm) + SINE * radius * np.cos(around_rad)
    return scale * x, scale * y


def polygons(geometry: shapely.Geometry) -> Iterator[shapely.Polygon]:
    """The polygons of what is left of one, without specks."""
    for part in shapely.get_parts(shapely.get_parts(geometry)):
        if part.geom_type == "Polygon" and part.area > SPECK:
            yield part


class View:
    """One view's place on the page: `middle_mm` and `top_mm` are the rim's middle."""

    def __init__(self, sight: Sight, view_rad: float, middle_mm: float, top_mm: float):
        self.sight, self.wall, self.scale = sight, sight.wall, sight.scale
        self.view_rad, self.middle_mm, self.top_mm = view_rad, middle_mm, top_mm
        self.onto = Onto(self.place, sight.bending, self.wall.bends_mm)
        self._region = affinity.translate(sight.region, view_rad)
        shapely.prepare(self._region)

    def place(self, around_rad: np.ndarray, down_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        x, y = placed(self.wall, self.scale, around_rad - self.view_rad, down_mm)
        return self.middle_mm + x, self.top_mm + y

    @property
    def outline(self) -> shapely.Polygon:
        """The whole cup on the page."""
        return affinity.translate(self.sight.outline, self.middle_mm, self.top_mm)

    @property
    def foot_mm(self) -> float:
        """The middle of the base on the page."""
        return self.top_mm + self.scale * COSINE * self.wall.height_mm

    def parts(self, shape: Shape) -> Iterator[shapely.Polygon]:
        """What is seen of a shape, in the plane of (around, down)."""
        return self.seen(parts_seen(shape, *self._sides_rad, 0.0, self.wall.wall_mm))

    def panel_parts(self, panel: LaidPanel) -> Iterator[shapely.Polygon]:
        return self.seen(parts_of_panel(panel, *self._sides_rad))

    def belt(self, low_mm: float, high_mm: float, low_rad: float = -math.pi, high_rad: float = math.pi):
        """What is seen between two girths, and between two meridians counted from the middle of the view."""
        return self.seen([shapely.box(self.view_rad + low_rad, low_mm, self.view_rad + high_rad, high_mm)])

    def seen(self, parts: Iterable[shapely.Polygon]) -> Iterator[shapely.Polygon]:
        for part in parts:
            if self._region.contains(part):
                yield part
            else:
                yield from polygons(self._region.intersection(part))

    @property
    def _sides_rad(self) -> tuple[float, float]:
        return self.view_rad - self.sight.reach_rad, self.view_rad + self.sight.reach_rad

    def rings(self, part: shapely.Polygon, within_mm: float = CHORD_MM) -> tuple[Ring, ...]:
        """A part of the wall on the page."""
        return page_rings(part, self.onto, within_mm / self.scale)

    def ellipse(self, radius_mm: float, drop_mm: float, grown_mm: float = 0.0, right_mm: float = 0.0) -> Ring:
        """A level circle about the cup's axis, within 0.0003 of its radius; grown and moved on the page."""
        x, y = self.middle_mm + right_mm, self.top_mm + self.scale * COSINE * drop_mm
        wide, high = self.scale * radius_mm + grown_mm, self.scale * SINE * radius_mm + grown_mm
        k = 4 / 3 * math.tan(math.pi / 8)
        corners = ((1, 0), (0, 1), (-1, 0), (0, -1), (1, 0))

        def point(across: float, along: float) -> tuple[float, float]:
            return x + wide * across, y + high * along

        return Ring(
            point(1, 0),
            tuple(
                CubicEdge(point(a + k * c, b + k * d), point(c + k * a, d + k * b), point(c, d))
                for (a, b), (c, d) in pairwise(corners)
            ),
        )

    def spots(self, x_mm: np.ndarray, y_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The places of the wall, around and down, that points of the page show; each column of points has one x."""
        x, y = np.atleast_2d(x_mm - self.middle_mm) / self.scale, np.atleast_2d(y_mm - self.top_mm) / self.scale
        downs, halves = self.sight.downs_mm, self.sight.halves_rad
        radius, drop = (of(downs)[:, None] for of in (self.wall.radius_mm, self.wall.drop_mm))
        # a column meets each girth twice, in front and behind; what is seen of it is met once from top to bottom
        across = x[:1] / radius
        front = np.arcsin(np.clip(np.abs(across), 0.0, 1.0))
        turns = np.concatenate([front, math.pi - front])
        seen = (np.tile(np.abs(across) <= 1.0, (2, 1))) & (turns <= np.tile(halves, 2)[:, None] + 1e-9)
        heights = np.tile(COSINE * drop, (2, 1)) + SINE * np.tile(radius, (2, 1)) * np.cos(turns)
        order = np.argsort(np.where(seen, heights, np.inf), axis=0)
        around, down = np.zeros_like(y), np.zeros_like(y)
        both = np.tile(downs, 2)
        for column, (rows, count) in enumerate(zip(order.T, seen.sum(axis=0), strict=True)):
            if count:
                rows = rows[:count]
                met = heights[rows, column]
                down[:, column] = np.interp(y[:, column], met, both[rows])
                around[:, column] = np.interp(y[:, column], met, turns[rows, column])
        turn = np.arcsin(np.clip(np.abs(x) / self.wall.radius_mm(down), 0.0, 1.0))
        around = self.view_rad + np.copysign(np.where(around > math.pi / 2, math.pi - turn, turn), x)
        return around.reshape(np.shape(x_mm)), down.reshape(np.shape(x_mm))
