"""What of a wall is laid flat in one piece of paper: each straight section, or bands so narrow that a cone nearly holds them.

Paper is a true cone's, so that its ends meet wherever it is laid round. On a wall that is none, a band's cone runs beside
the wall, as far outside at one place as inside at another; degrees and places down are the wall's own, and lengths round
it are off by no more than `off_mm` once round.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from stripegen.pictures import Onto
from stripegen.surface import Floats, Frustum, Wall

MOST_SECTIONS = 8  # a wall of more is laid like a smooth one
CLOSE_MM = 0.3  # a band is narrow enough where it is off by no more
LEAST_BAND_MM = 15.0
GRID_MOST = 200  # places where bands may end
FINE = 4  # looks at a wall for each of them


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperBand:
    """The wall from `low_mm` to `high_mm` down as a piece of a cone, the `number`-th of `count`."""

    cone: Frustum
    low_mm: float
    high_mm: float
    number: int
    count: int
    off_mm: float = 0.0

    def laid(self, turn_rad: Floats, down_mm: Floats) -> tuple[Floats, Floats]:
        """Places so far round from the middle: mm on the paper from where the middle enters the band."""
        return self.cone.develop(turn_rad, down_mm - self.low_mm)

    def lean_rad(self, turn_rad: Floats) -> Floats:
        """By how much the way straight down the cup is turned there, from down to the right."""
        return self.cone.slope * turn_rad

    @property
    def bending(self) -> tuple[float, float, float]:
        """How much its picture bends, as `Onto` has it."""
        return self.cone.greatest_radius_mm * abs(self.cone.slope), 2 * abs(self.cone.slope), 0.0

    def onto(self, middle_rad: float, shift_mm: float) -> Onto:
        """How it comes onto paper, so far down, a meridian of the cup in its middle."""

        def place(around_rad, down_mm):
            x, y = self.laid(around_rad - middle_rad, down_mm)
            return x, y + shift_mm

        return Onto(place, self.bending)


@lru_cache(maxsize=64)
def paper_bands(wall: Wall) -> tuple[PaperBand, ...]:
    """The wall as bands, from the rim down."""
    ends = (0.0, *wall.bends_mm, wall.wall_mm)
    held = [wall.section(low, high) for low, high in pairwise(ends)]
    if None not in held and len(held) <= MOST_SECTIONS:
        cones = [(part, 0.0) for part, _ in held]
    else:
        ends = _ends(wall)
        cones = [_beside(wall, low, high) for low, high in pairwise(ends)]
    return tuple(
        PaperBand(cone=cone, low_mm=low, high_mm=high, number=number, count=len(cones), off_mm=off_mm)
        for number, ((cone, off_mm), (low, high)) in enumerate(zip(cones, pairwise(ends), strict=True), 1)
    )


def _beside(wall: Wall, low_mm: float, high_mm: float) -> tuple[Frustum, float]:
    """The cone whose girths are nearest to the wall's, and by how much they differ at most."""
    downs = np.linspace(low_mm, high_mm, max(65, math.ceil((high_mm - low_mm) * FINE) + 1))
    off = wall.radius_mm(downs) - np.interp(downs, (low_mm, high_mm), wall.radius_mm(downs[[0, -1]]))
    shift = float(off.max() + off.min()) / 2
    first, last = (float(wall.radius_mm(down)) + shift for down in (low_mm, high_mm))
    return Frustum.from_radii(first, last, high_mm - low_mm), math.pi * float(off.max() - off.min())


def _ends(wall: Wall) -> tuple[float, ...]:
    """Where bands end: as few as are near enough, or as are no narrower than LEAST_BAND_MM, as near as can be."""
    step = max(1, math.ceil(wall.wall_mm / GRID_MOST))
    places = np.append(np.arange(0.0, wall.wall_mm - step / 2, step), wall.wall_mm)
    last = len(places) - 1
    downs = np.interp(np.arange(FINE * last + 1) / FINE, np.arange(last + 1), places)
    radii = wall.radius_mm(downs)
    off = np.full((last + 1, last + 1), math.inf)
    for i in range(last):
        for j in range(i + 1, last + 1):
            if places[j] - places[i] >= LEAST_BAND_MM - 1e-9 or (i, j) == (0, last):
                part, at = radii[FINE * i : FINE * j + 1], downs[FINE * i : FINE * j + 1]
                beside = part - np.interp(at, at[[0, -1]], part[[0, -1]])
                off[i, j] = math.pi * float(np.ptp(beside))
    worst, before = off[0], [np.zeros(last + 1, dtype=int)]
    best, found = worst[last], [last, 0]
    while best > CLOSE_MM and len(before) < places[last] // LEAST_BAND_MM:
        ways = np.maximum(worst[:, None], off)
        worst = ways.min(axis=0)
        before.append(ways.argmin(axis=0))
        if worst[last] < best:
            best, found = worst[last], [last]
            for step_back in reversed(before):
                found.append(int(step_back[found[-1]]))
    return tuple(float(places[n]) for n in reversed(found))
