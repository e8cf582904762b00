"""A core: bent pieces that keep their places in a box, and how much room is beside them at each height."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stripegen.nest_shapes import BAND_MM
from stripegen.nest_skyline import Placed

_SLACK = 1e-6  # of a band


@dataclass(frozen=True)
class Core:
    """Pieces of a box and, over every m bands of depth from each on, the least and the greatest u at which they are.

    Depth is measured from that side of the box, the ceiling if the core `hangs`, at which more room is beside it.
    `near`, `far` : (m, bands); row 0 is not used. Where no piece is, both are the core's middle.
    """

    placed: tuple[Placed, ...]
    thickest_mm: float  # of the rows beside it
    hangs: bool
    near: np.ndarray
    far: np.ndarray

    @cached_property
    def compiled(self) -> tuple:
        """What nest_overlap asks of it."""
        return self.near, self.far, np.maximum.accumulate(self.far[1][::-1])[::-1].copy(), float(self.near[1].min())

    def moved(self, shift_mm: float) -> list[Placed]:
        return [member.moved(shift_mm, 0.0) for member in self.placed]


NO_CORE = (np.empty((0, 0)), np.empty((0, 0)), np.empty(0), 0.0)


def core_of(placed: Sequence[Placed], v_mm: float, thickest_mm: float) -> Core:
    """The core of these pieces in a box so high, beside which rows of such thickness at most are laid."""
    sides = []
    for hangs in (True, False):
        near, far = _ends(placed, v_mm, hangs)
        empty = near > far
        near[empty] = far[empty] = (near.min() + far.max()) / 2
        sides.append((hangs, near, far))
    hangs, near, far = min(sides, key=lambda side: (side[2] - side[1])[: len(near) // 2].sum())
    most = math.ceil(thickest_mm / BAND_MM) + 2
    return Core(tuple(placed), thickest_mm, hangs, _running(near, most, np.minimum), _running(far, most, np.maximum))


def within(placed: Sequence[Placed], bent: Sequence[Placed], v_mm: float) -> list[Placed]:
    """Of what is laid in a box so high all that is bent, and what lies neither left nor right of all that is."""
    near, far = _ends(bent, v_mm, False)
    inner = list(bent)
    for member in placed:
        if member not in bent:
            begin = math.floor(member.v_mm / BAND_MM + _SLACK)
            bands = slice(begin, math.ceil((member.v_mm + member.pose.v_mm) / BAND_MM - _SLACK))
            is_left = member.u_mm + member.pose.u_mm <= near[bands].min() + _SLACK
            is_right = member.u_mm >= far[bands].max() - _SLACK
            if not is_left and not is_right:
                inner.append(member)
    return inner


def _ends(placed: Sequence[Placed], v_mm: float, hangs: bool) -> tuple[np.ndarray, np.ndarray]:
    """The least and the greatest u of each band of depth; infinite, the other way round, where nothing is."""
    bands = math.ceil(v_mm / BAND_MM - _SLACK)
    near, far = np.full(bands, np.inf), np.full(bands, -np.inf)
    for member in placed:
        left, right = (side.reshape(-1, 2) + member.u_mm for side in member.pose.sides)
        left, right = left.min(axis=1), right.max(axis=1)
        begin = member.v_mm + np.arange(len(left)) * BAND_MM
        end = np.minimum(begin + BAND_MM, member.v_mm + member.pose.v_mm)
        if hangs:
            begin, end = v_mm - end, v_mm - begin
        first, last = np.floor(begin / BAND_MM + _SLACK), np.ceil(end / BAND_MM - _SLACK) - 1
        for touched in (first, np.maximum(first, last)):  # a piece's band reaches into two of the box's at most
            at = np.clip(touched.astype(np.int64), 0, bands - 1)
            np.minimum.at(near, at, left)
            np.maximum.at(far, at, right)
    return near, far


def _running(values: np.ndarray, most: int, extreme) -> np.ndarray:
    """The extreme of every m values from each on, m up to `most`; past the end, of those that are there."""
    table = np.tile(values, (most + 1, 1))
    for m in range(2, most + 1):
        table[m] = table[m - 1]
        table[m, : -(m - 1)] = extreme(table[m - 1, : -(m - 1)], values[m - 1 :])
    return table
