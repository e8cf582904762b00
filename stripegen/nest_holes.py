"""Compiled: places for pieces that are left over, between those that lie in a box already, hollows included."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stripegen.compiled import compiled
from stripegen.nest_row import up_to_unit
from stripegen.nest_shapes import CELL_MM, Pose
from stripegen.nest_skyline import Placed

_STRIDE = 2  # cells between the places that are tried along the floor
_ROOM_MM = 1e-6
_BOX = 0.99


@compiled(quick=True)
def _between_sides(low, high, lows, highs, at, first, past):
    """Between which v a piece overlaps another one, that lies `at` values further on."""
    down, up = 1e18, -1e18
    for c in range(first, past):
        over, under = highs[at + c] - low[c], lows[at + c] - high[c]
        up = max(up, over)
        down = min(down, under)
    return down, up


@compiled()
def _tightest(low, high, last, most_v, begins, froms, lows, highs, level):
    """The cell and the v at which a piece fits most tightly between others, and its play there in v; -1: nowhere.

    low, high : two values a cell of the piece
    last, most_v : the last cell at which and the greatest v to which it may begin
    begins, froms, lows, highs, level : the first cell of each piece that lies there, where its values begin, the
        values, and whether they are all the same
    """
    best, best_cell, best_v = 1e18, -1, 0.0
    n = len(low)
    flat = low.min() == low.max() and high.min() == high.max()
    starts, ends = np.empty(len(begins)), np.empty(len(begins))
    for cell in range(0, last + 1, _STRIDE):
        m = 0
        for q in range(len(begins)):
            shift = 2 * (begins[q] - cell)
            first, past = max(shift, 0), min(shift + froms[q + 1] - froms[q], n)
            if first >= past:
                continue
            if flat and level[q]:
                past = first + 1
            down, up = _between_sides(low, high, lows, highs, froms[q] - shift, first, past)
            k = m
            while k > 0 and starts[k - 1] > down:
                starts[k], ends[k] = starts[k - 1], ends[k - 1]
                k -= 1
            starts[k], ends[k] = down, up
            m += 1
        v = 0.0
        for k in range(m + 1):
            ceiling = min(starts[k], most_v) if k < m else most_v
            if v > most_v:
                break
            play = ceiling - v
            if -_ROOM_MM <= play < best:
                best, best_cell, best_v = play, cell, v
            if k < m:
                v = max(v, up_to_unit(ends[k]))
    return best_cell, best_v, best


class Holes:
    """What lies in a box, cell by cell, and what still finds a place there."""

    def __init__(self, u_mm: float, v_mm: float, placed: Sequence[Placed]):
        self.u_mm, self.v_mm = u_mm, v_mm
        self._begins: list[int] = []
        self._lows: list[np.ndarray] = []
        self._highs: list[np.ndarray] = []
        self._level: list[bool] = []
        for member in placed:
            self._add(member)

    def _add(self, member: Placed) -> None:
        begin = int(member.u_mm / CELL_MM + 1e-9)
        low, high = _sides(member.pose)
        if member.u_mm - begin * CELL_MM > 1e-9:
            low, high = _between(low, np.minimum), _between(high, np.maximum)
        self._begins.append(begin)
        self._lows.append(low + member.v_mm)
        self._highs.append(high + member.v_mm)
        self._level.append(bool(low.min() == low.max() and high.min() == high.max()))

    def cells(self) -> tuple[np.ndarray, ...]:
        """Of all that lies there the first cells, where each one's values begin, and the values, two a cell."""
        froms = np.cumsum([0, *map(len, self._lows)])
        lows, highs = (np.concatenate(sides) if sides else np.empty(0) for sides in (self._lows, self._highs))
        return np.array(self._begins, np.int64), froms, lows, highs

    def take(self, poses: Sequence[Pose]) -> Placed | None:
        """Lay a piece where it fits most tightly, at one of these poses; None: nowhere."""
        begins, froms, lows, highs = self.cells()
        best = None
        for pose in poses:
            last = int((self.u_mm - pose.u_mm + _ROOM_MM) / CELL_MM) if pose.u_mm <= self.u_mm + _ROOM_MM else -1
            most_v = self.v_mm - pose.v_mm + _ROOM_MM
            if last < 0 or most_v < 0:
                continue
            low, high = _sides(pose)
            cell, v_mm, play = _tightest(
                low, high, last, most_v, begins, froms, lows, highs,
                np.array(self._level),
            )  # fmt: skip
            if cell >= 0 and (best is None or play < best[0] - 1e-9):
                best = (play, Placed(pose, cell * CELL_MM, v_mm))
        if best is None:
            return None
        self._add(best[1])
        return best[1]


def _sides(pose: Pose) -> tuple[np.ndarray, np.ndarray]:
    """Its profile; of what all but fills its box the box's, which is quicker to compare."""
    low, high = pose.profile.low, pose.profile.high
    if pose.area > _BOX * pose.u_mm * pose.v_mm:
        return np.zeros_like(low), np.full_like(high, pose.v_mm)
    return low, high


def _between(values: np.ndarray, most) -> np.ndarray:
    """Two values a cell of something that begins somewhere within a cell: level over each, as far as it reaches."""
    level = most(values[::2], values[1::2])
    reach = np.concatenate([level[:1], most(level[:-1], level[1:]), level[-1:]])
    return np.repeat(reach, 2)
