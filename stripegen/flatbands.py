"""What of a wall is laid flat in one piece for a picture, and how the pieces stand under each other on the page.

A straight section is unrolled exactly. What can't be (a smooth wall, or one of very many sections) is laid on the
cone that runs straight from its rim to its base: each girth keeps its distance from the rim and its own length, and is
drawn out along the arc that the cone has there. So lengths round and straight down the middle, and every area, are
true; only slants away from the middle are not. On a straight wall it is the exact development.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
import shapely

from stripegen.drawing import TextItem
from stripegen.lettering import centred, text_box, text_width_mm
from stripegen.pictures import PALE_TEXT, profile_bend
from stripegen.surface import Floats, Frustum, Wall

STRAIGHT = 1e-7  # a cone of less slope is laid flat as a cylinder
MOST_BANDS = 8  # a wall of more sections is drawn as one
BORDER_POINTS, FRINGE_POINTS = 720, 180
PROFILE_STEPS = 400
APART_MM = 3.0  # on the page, between what stands with one band and with the next
DEGREES_MM, SEAMS_MM = 5.6, 10.6  # so far over a band its degrees reach, and the names of seams over the first
BESIDE_MM = 4.0  # and so far past its ends
NAME_MM, NAME_BELOW_MM = 2.6, 2.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The wall from `low_mm` to `high_mm` down, laid on a cone. `part` is that wall, counted from `low_mm`.

    `shift_mm` is how far down the page it stands, for the sake of those over it.
    """

    part: Wall
    cone: Frustum
    low_mm: float
    high_mm: float
    name: str = ""
    shift_mm: float = 0.0

    @property
    def is_exact(self) -> bool:
        return self.part == self.cone

    @property
    def bending(self) -> tuple[float, float, float]:
        """How much its picture bends, as `Onto` has it.

        Let q be the slope that the girths are drawn with and s the wall's less that. Over a step the second difference
        of a place is 2 r' da dv + a r'' dv^2 along the girth, and q (r da + a s dv)^2 / r across it.
        """
        return _bending(self.part, self.cone)

    def laid(self, turn_rad: Floats, down_mm: Floats) -> tuple[Floats, Floats]:
        """Places so far round from the middle: mm of wall from where the middle enters the band."""
        down = down_mm - self.low_mm
        return self.cone.develop(turn_rad * self._share(down), down)

    def spots(self, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
        """The places, turn and down, that are laid at points: what `laid` gives, the other way round.

        On the cone a point's way to the apex is its radius over the slope, and its turn there the slope times that round
        the cup.
        """
        slope, rim = self.cone.slope, float(self.cone.radius_mm(0.0))
        if abs(slope) < STRAIGHT:
            along, turn = y_mm, x_mm / rim
        else:
            far = rim / slope  # from the rim's middle to the apex, up the page where the cone narrows upwards
            sign = math.copysign(1.0, far)
            reach = np.hypot(x_mm, y_mm + far)
            along = sign * reach - far
            turn = np.arctan2(sign * x_mm, sign * (y_mm + far)) / slope
        down = along + self.low_mm
        return turn / self._share(along), down

    def lean_rad(self, turn_rad: Floats, down_mm: float) -> Floats:
        """By how much the way straight down the cone is turned there, from down to the right."""
        return self.cone.slope * (turn_rad * float(self._share(down_mm - self.low_mm)))

    def _share(self, down_mm: Floats) -> Floats:
        return self.part.radius_mm(down_mm) / self.cone.radius_mm(down_mm)

    def area(self, scale: float) -> shapely.Geometry:
        """What it takes of a page of such a scale, its middle entering at (0, 0)."""
        turns = np.linspace(-math.pi, math.pi, BORDER_POINTS)
        downs = np.linspace(self.low_mm, self.high_mm, 2 if self.is_exact else PROFILE_STEPS + 1)
        sides = [
            (turns, np.full_like(turns, self.low_mm)),
            (np.full_like(downs, math.pi), downs),
            (turns[::-1], np.full_like(turns, self.high_mm)),
            (np.full_like(downs, -math.pi), downs[::-1]),
        ]
        points = [scale * np.stack(self.laid(*side), axis=-1) for side in sides]
        return shapely.make_valid(shapely.Polygon(np.concatenate(points)))

    def fringe(self, scale: float) -> shapely.Geometry:
        """What the texts over its upper edge take of the page."""
        most = math.pi + BESIDE_MM / (scale * float(self.part.radius_mm(0.0)))
        turns = np.linspace(-most, most, FRINGE_POINTS)
        edge = scale * np.stack(self.laid(turns, np.full_like(turns, self.low_mm)), axis=-1)
        lean = self.lean_rad(turns, self.low_mm)
        over = edge - (DEGREES_MM if self.low_mm else SEAMS_MM) * np.stack([np.sin(lean), np.cos(lean)], axis=-1)
        return shapely.make_valid(shapely.Polygon(np.concatenate([edge, over[::-1]])))


def bands_of(wall: Wall) -> tuple[Band, ...]:
    """The wall as bands, from the rim down: one a section, or all of it as one where that can't be unrolled."""
    ends = tuple(pairwise((0.0, *wall.bends_mm, wall.wall_mm)))
    held = [wall.section(low, high) for low, high in ends]
    if len(held) > MOST_BANDS or None in held:
        # no girth meets itself on the page: each place's way to the apex of this cone is longer than its radius
        cone = Frustum.from_radii(wall.rim_radius_mm, wall.base_radius_mm, wall.wall_mm)
        return (Band(part=wall, cone=cone, low_mm=0.0, high_mm=wall.wall_mm),)
    names = [
        f"section {number} of {len(held)}, {low:.1f} to {high:.1f} mm down"
        for number, (low, high) in enumerate(ends, 1)
    ]
    return tuple(
        Band(part=part, cone=part, low_mm=low, high_mm=high, name=name if len(held) > 1 else "")
        for (part, _), (low, high), name in zip(held, ends, names, strict=True)
    )


@lru_cache(maxsize=256)
def _bending(part: Wall, cone: Frustum) -> tuple[float, float, float]:
    steepest, bend, downs = profile_bend(part)
    radius = part.radius_mm(downs)
    q = cone.slope * (radius / cone.radius_mm(downs))
    s = part.slope_at(downs) - q
    across = 2 * math.pi * float(np.max(np.abs(q * s)))
    along = math.pi * bend + math.pi**2 * float(np.max(np.abs(q) * s**2 / radius))
    return part.greatest_radius_mm, 2 * steepest + across, along


def stacked(bands: Sequence[Band], scale: float) -> tuple[Band, ...]:
    """The bands moved down a page of such a scale until each is APART_MM from those over it and their names."""
    found: list[Band] = []
    above: list[shapely.Polygon] = []
    for band in bands:
        own, shift = footprint(band, scale), 0.0
        if found:
            last = found[-1]
            touching = last.shift_mm + scale * (last.high_mm - last.low_mm)  # there the two touch in the middle
            shift = clear_shift(above, own, touching, APART_MM)
        found.append(replace(band, shift_mm=shift))
        above += shapely.get_parts(_moved(own, shift)).tolist()
    return tuple(found)


def clear_shift(above: Sequence[shapely.Polygon], own: shapely.Geometry, least_mm: float, apart_mm: float) -> float:
    """How far down a shape is moved, at least so much, until it is so far from those above it."""
    over = shapely.multipolygons(above)
    shapely.prepare(over)
    shift = max(least_mm, over.bounds[3] - own.bounds[1] + apart_mm)
    while shift - least_mm > 0.01:
        tried = (least_mm + shift) / 2
        if shapely.dwithin(over, _moved(own, tried), apart_mm):
            least_mm = tried
        else:
            shift = tried
    return shift


def footprint(band: Band, scale: float) -> shapely.MultiPolygon:
    """What a band takes of the page; if it is one of several, with its degrees and its name. Parts may overlap."""
    parts = shapely.get_parts(band.area(scale)).tolist()
    if band.name:
        parts += [*shapely.get_parts(band.fringe(scale)), text_box(band_name(band, scale))]
    return shapely.multipolygons(parts)


def band_name(band: Band, scale: float) -> TextItem:
    """Its name under its middle, which enters at (0, 0)."""
    half = text_width_mm(band.name, NAME_MM) / 2
    lowest = -math.inf
    for taken in (band.area(scale), band.fringe(scale)):
        _, y0, _, y1 = taken.bounds
        lowest = np.fmax(lowest, shapely.clip_by_rect(taken, -half, y0 - 1, half, y1 + 1).bounds[3])
    return centred(band.name, 0.0, float(lowest) + NAME_BELOW_MM, NAME_MM, 0.0, fill=PALE_TEXT, role="band")


def _moved(area: shapely.Geometry, down_mm: float) -> shapely.Geometry:
    return shapely.transform(area, lambda points: points + (0.0, down_mm))
