"""The flat outlines of a strip's parts, cut from that of the whole: quick, and good enough to look for parts that fit.

The centre line laid flat is the plane curve with the same geodesic curvature; where a cut crosses it, the flat
outline is cut straight across there.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely.affinity import affine_transform

from stripegen.flat import FlatPiece
from stripegen.lengthwise import ASIDE_MM, KNIFE_MM, SPOTS, Way, nearest

DECIMALS = 4
BEFORE_MM = 2e-6  # at a point between two legs the first one counts


class Sketch:
    """A laid strip and its centre line in the same frame, for cuts at lengths along that.

    At each of `places` are the line's points (x, y), the angle of its direction and that of straight down the cup,
    both from +y towards +x.
    """

    def __init__(self, flat: FlatPiece, way: Way, upright: bool):
        self.flat, self.way, self.upright = flat, way, upright
        self.polygon = shapely.Polygon(flat.points, flat.holes)
        places, headings, turned, ahead = [], [], [], 0.0
        for edge, t, along in way.samples():
            heading = np.asarray(edge.curve.along(t)[2], dtype=float)
            curvature = np.broadcast_to(edge.curve.curvature(t), t.shape)
            turning = np.concatenate([[0.0], np.cumsum(np.diff(along) * (curvature[1:] + curvature[:-1]) / 2)])
            if headings:
                ahead += float(heading[0] - headings[-1][-1])
            places.append(along)
            headings.append(heading)
            turned.append(ahead + turning)
            ahead += float(turning[-1])
        self.places, heading, turned = (np.concatenate(some) for some in (places, headings, turned))
        half = way.length_mm / 2
        downs = turned - heading  # which goes on evenly past a zigzag's points
        self.downs = downs - np.interp(half, self.places, downs)
        self.angles = self.downs + heading
        steps, between = np.diff(self.places), (self.angles[1:] + self.angles[:-1]) / 2
        self.points = []
        for start, walked in zip(flat.middle, (steps * np.sin(between), steps * np.cos(between)), strict=True):
            values = np.concatenate([[0.0], np.cumsum(walked)])
            self.points.append(values + start - np.interp(half, self.places, values))

    def part(self, from_mm: float, to_mm: float) -> FlatPiece:
        """The part between two places: its outline, turned as a flat piece is, and its length; no true edges."""
        knives = []
        if from_mm > 0:
            knives.append(self._knife(from_mm, -KNIFE_MM))
        if to_mm < self.way.length_mm:
            knives.append(self._knife(to_mm, KNIFE_MM))
        left = shapely.get_parts(shapely.difference(self.polygon, shapely.union_all(knives)))
        spots = [shapely.Point(self._at(from_mm + share * (to_mm - from_mm))[:2]) for share in SPOTS]
        part = left[nearest(left, spots)]
        _, _, angle, down = self._at((from_mm + to_mm) / 2 - BEFORE_MM)
        cos, sin = math.cos(down), math.sin(down)
        part = affine_transform(part, (cos, -sin, sin, cos, 0.0, 0.0))
        left_mm, top_mm, _, _ = part.bounds
        points = shapely.get_coordinates(part.exterior)[:-1] - (left_mm, top_mm)
        return replace(
            self.flat,
            points=tuple((round(float(x), DECIMALS) + 0.0, round(float(y), DECIMALS) + 0.0) for x, y in points),
            holes=(),
            cut_mm=to_mm - from_mm,
            lean_rad=angle - down,
        )

    def _at(self, along_mm: float) -> tuple[float, float, float, float]:
        """The point, the direction and that of straight down at a place."""
        return tuple(float(np.interp(along_mm, self.places, row)) for row in (*self.points, self.angles, self.downs))

    def _knife(self, at_mm: float, by_mm: float) -> shapely.Polygon:
        x, y, angle, down = self._at(at_mm)
        half_mm = self.flat.width_mm + ASIDE_MM
        across = angle + math.pi / 2
        if self.upright:
            across, half_mm = down, half_mm / max(abs(math.sin(angle - down)), 0.01)
        near = np.array([math.sin(across), math.cos(across)]) * half_mm
        far = np.array([math.sin(angle), math.cos(angle)]) * by_mm
        place = np.array([x, y])
        return shapely.Polygon([place - near, place + near, place + near + far, place - near + far])
