"""How far apart two places of a wall are, along the wall.

The way between two places is the shortest on the side where they are told to be, the wall taken to run on past rim
and base. For many places at once its length d is worked out by

    d^2 = dv^2 + (2 sin(k da / 2) / k)^2 / mean(1 / r^2),

with dv and da what lies between them down the wall and round it, the mean taken over the downs between them and k
the slope of the chord. On a straight wall, where mean(1 / r^2) is 1 / (r1 r2), that is the law of cosines in the
development, and exact. On others it is right for steep ways and for short ones; a way that is told is pulled taut on
the wall itself (`told_mm`).
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.surface import Frustum, Wall

TABLE_MM = 0.1  # between the places for which 1 / r^2 is summed
LEVEL_MM = 1.0  # over less than this down the wall the mean is that of its ends
KNOTS = 64  # of a way that is pulled taut
PULLS = 40
TAUT_MM = 1e-7  # a pull that shortens it by less is the last
LEAST_STEP = 1e-3


class Ways:
    """The distances on one wall."""

    def __init__(self, wall: Wall):
        self.wall = wall
        self.is_straight = isinstance(wall, Frustum)
        if not self.is_straight:
            self._downs, self._sums = _summed(wall)

    def spots(self, around, down) -> np.ndarray:
        """Places with what their distances are worked out from: rows of around, down, radius, and on walls that are
        not straight the integral of 1 / r^2 down to there and the slope."""
        around, down = np.broadcast_arrays(np.asarray(around, dtype=float), np.asarray(down, dtype=float))
        rows = [around, down, self.wall.radius_mm(down)]
        if not self.is_straight:
            rows += [np.interp(down, self._downs, self._sums), self.wall.slope_at(down)]
        return np.stack(rows)

    def squared(self, spots: np.ndarray, others: np.ndarray):
        """The square of the distance between spots (mm^2); arrays broadcast. Around is not wrapped."""
        da, dv, both = others[0] - spots[0], others[1] - spots[1], spots[2] * others[2]
        if self.is_straight:
            across = 2 / self.wall.slope * np.sin(self.wall.slope / 2 * da) if self.wall.slope else da
            return dv * dv + across * across * both
        far = np.abs(dv) > LEVEL_MM
        over = np.where(far, dv, 1.0)
        slope = np.where(far, (others[2] - spots[2]) / over, (spots[4] + others[4]) / 2)
        slope[np.abs(slope) < 1e-9] = 1e-9
        across = 2 / slope * np.sin(slope / 2 * da)
        return dv * dv + across * across / np.where(far, (others[3] - spots[3]) / over, 1 / both)

    def near_mm(self, place: tuple[float, float], other: tuple[float, float]) -> float:
        """The distance between two places as `squared` has it."""
        one, two = (self.spots(*np.array(each)[:, None]) for each in (place, other))
        return math.sqrt(float(self.squared(one, two)[0]))

    def told_mm(self, place: tuple[float, float], other: tuple[float, float]) -> float:
        """The distance between two places: exact on a straight wall.

        On others the length of a real way between them, pulled taut: never less than the distance, and above it by a
        few thousandths of a millimetre.
        """
        near = self.near_mm(place, other)
        if self.is_straight or near == 0:
            return near
        return self._taut_mm(place, other)

    def _taut_mm(self, place: tuple[float, float], other: tuple[float, float]) -> float:
        """By turns: round the cup by 1 / r^2 (Clairaut), down the wall by v'' = r r' a'^2, at an even pace."""
        wall, turn = self.wall, other[0] - place[0]
        share = np.linspace(0.0, 1.0, KNOTS + 1)
        level = place[1] + share * (other[1] - place[1])
        down, best, kept, step = level, math.inf, level, 1.0
        for _ in range(PULLS):
            middle = (down[1:] + down[:-1]) / 2
            paces = 1 / wall.radius_mm(middle) ** 2
            paces *= turn / paces.sum()
            length = _length(wall, down, paces)
            if length < best - TAUT_MM:
                best, kept = length, down
                pull = wall.radius_mm(middle) * wall.slope_at(middle) * paces**2
                bent = np.concatenate([[0.0, 0.0], np.cumsum(np.cumsum((pull[1:] + pull[:-1]) / 2))])
                aim = level + bent - share * bent[-1]
            elif length <= best + TAUT_MM or step < LEAST_STEP:
                break
            else:  # pulled too far, as over a sharp bend
                step /= 2
            down = kept + step * (aim - kept)
        return min(length, best)


def _length(wall: Wall, down: np.ndarray, paces: np.ndarray) -> float:
    """Of a way that is even between its knots, by Gauss and Legendre's rule on two points."""
    total = 0.0
    for share in (0.5 - math.sqrt(1 / 12), 0.5 + math.sqrt(1 / 12)):
        radius = wall.radius_mm(down[:-1] + share * np.diff(down))
        total += float(np.sum(np.hypot(np.diff(down), radius * paces))) / 2
    return total


def _summed(wall: Wall) -> tuple[np.ndarray, np.ndarray]:
    """The integral of 1 / r^2 from over the rim to below the base."""
    downs = np.linspace(-20.0, wall.wall_mm + 20.0, round((wall.wall_mm + 40.0) / TABLE_MM) + 1)
    downs = np.unique(np.concatenate([downs, wall.bends_mm]))
    values = 1 / wall.radius_mm(downs) ** 2
    steps = np.diff(downs) * (values[1:] + values[:-1]) / 2
    return downs, np.concatenate([[0.0], np.cumsum(steps)])
