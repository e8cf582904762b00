"""Where the wall of a cup lies on the paper of its guide: bands under each other, each with a flap to close it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from stripegen.flatbands import clear_shift
from stripegen.paper import Grid, Paper, on_grid
from stripegen.paperbands import PaperBand, paper_bands
from stripegen.pictures import Onto, divided
from stripegen.shapes import FULL_TURN
from stripegen.surface import Wall

FLAP_MM = 8.0
SLANT_MM = 2.0  # the flap's ends
APART_MM = 6.0  # between bands
WITHIN_MM = 0.005  # drawn lines keep so near to the true ones
BORDER_POINTS = 721


@dataclass(frozen=True, slots=True)
class GuideSheet:
    """The wall on paper, once round to the right of `start_rad`; each band lies as far down as its shift says."""

    wall: Wall
    bands: tuple[PaperBand, ...]
    shifts_mm: tuple[float, ...]
    start_rad: float
    grid: Grid

    @property
    def end_rad(self) -> float:
        return self.start_rad + FULL_TURN

    @property
    def middle_rad(self) -> float:
        return self.start_rad + FULL_TURN / 2

    def onto(self, band: PaperBand) -> Onto:
        return band.onto(self.middle_rad, self.shifts_mm[band.number - 1])

    def drawn(self, band: PaperBand, chain: np.ndarray) -> np.ndarray:
        """A chain (n, 2) of (around, down) on the paper."""
        onto = self.onto(band)
        return np.stack(onto.place(*divided(chain, onto, WITHIN_MM).T), axis=-1)

    def level(self, band: PaperBand, down_mm: float) -> np.ndarray:
        """A girth on the paper."""
        return self.drawn(band, np.array([(self.start_rad, down_mm), (self.end_rad, down_mm)]))

    def lean_deg(self, band: PaperBand, around_rad: float) -> float:
        """By how much a text that runs round the cup there is turned on the paper."""
        return -math.degrees(band.lean_rad(around_rad - self.middle_rad))

    def beside(
        self, band: PaperBand, around_rad: float, down_mm: float, right_mm: float, below_mm: float
    ) -> tuple[float, float]:
        """A point of the paper so far to the right and below a point of the wall, as the wall leans there."""
        x, y = self.onto(band).place(around_rad, down_mm)
        lean = band.lean_rad(around_rad - self.middle_rad)
        c, s = math.cos(lean), math.sin(lean)
        return float(x + right_mm * c + below_mm * s), float(y - right_mm * s + below_mm * c)

    def flap(self, band: PaperBand) -> np.ndarray | None:
        """The flap's outline (4, 2) from the upper end of the last edge; None where there is no room for one."""
        flap = _flap(band)
        return None if flap is None else flap + (0.0, self.shifts_mm[band.number - 1])

    def around_in(self, around_rad: float) -> Iterator[float]:
        """Where a meridian is seen: once, or at both edges."""
        first = self.start_rad + (around_rad - self.start_rad) % FULL_TURN
        yield from (each for each in (first, first - FULL_TURN, first + FULL_TURN)
                    if self.start_rad - 1e-9 <= each <= self.end_rad + 1e-9)  # fmt: skip

    def band_at(self, down_mm: float) -> PaperBand:
        """The band that holds a place; where two meet, the lower one."""
        return next((band for band in reversed(self.bands) if band.low_mm <= down_mm), self.bands[0])

    def area(self, band: PaperBand) -> shapely.Geometry:
        """What a band takes of the paper, without its flap."""
        return shapely.transform(_area(band), lambda points: points + (0.0, self.shifts_mm[band.number - 1]))


def guide_sheet(wall: Wall, start_rad: float, paper: Paper) -> GuideSheet:
    """The sheet of a wall. Raises GeometryError where it would take too many pages."""
    bands = paper_bands(wall)
    shifts, grid = _laid(bands, paper)
    return GuideSheet(wall, bands, shifts, start_rad, grid)


@lru_cache(maxsize=64)
def _laid(bands: tuple[PaperBand, ...], paper: Paper) -> tuple[tuple[float, ...], Grid]:
    shifts: list[float] = []
    above: list[shapely.Polygon] = []
    for band in bands:
        flap = _flap(band)
        own = _area(band) if flap is None else shapely.union(_area(band), shapely.Polygon(flap))
        shift = clear_shift(above, own, shifts[-1] + _height(bands[len(shifts) - 1]), APART_MM) if shifts else 0.0
        shifts.append(shift)
        above += shapely.get_parts(shapely.transform(own, lambda points, by=shift: points + (0.0, by))).tolist()
    return tuple(shifts), on_grid(shapely.buffer(shapely.union_all(above), 0.5), paper)


def _height(band: PaperBand) -> float:
    return band.high_mm - band.low_mm


def _area(band: PaperBand) -> shapely.Geometry:
    turns = np.linspace(-math.pi, math.pi, BORDER_POINTS)
    sides = [(turns, np.full_like(turns, band.low_mm)), (turns[::-1], np.full_like(turns, band.high_mm))]
    points = np.concatenate([np.stack(band.laid(*side), axis=-1) for side in sides])
    return shapely.make_valid(shapely.Polygon(points))


def _flap(band: PaperBand) -> np.ndarray | None:
    ends = np.array([[float(each) for each in band.laid(math.pi, down)] for down in (band.low_mm, band.high_mm)])
    lean = band.lean_rad(math.pi)
    right, below = (np.array(way) for way in ((math.cos(lean), -math.sin(lean)), (math.sin(lean), math.cos(lean))))
    slant = min(SLANT_MM, _height(band) / 4)
    far = ends + FLAP_MM * right + np.array([[slant], [-slant]]) * below
    flap = np.stack([ends[0], far[0], far[1], ends[1]])
    # a wall as flat as a ledge goes all the way round on the paper too
    clear = shapely.intersection(_area(band), shapely.Polygon(flap)).area < 0.05 * FLAP_MM * _height(band)
    return flap if clear else None
