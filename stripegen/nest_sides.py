"""Straight strips in two stacks that face each other: long rows of the one beside short rows of the other.

Which strips share a row, and on which side, is annealed (nest_annealing); here that becomes a filled box.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from stripegen.nest_annealing import LEFT, anneal, measure
from stripegen.nest_lanes import Strip, kinds, spacings
from stripegen.nest_row import UNIT_MM
from stripegen.nest_skyline import Placed
from stripegen.nest_sums import MOST_ROW

Rows = tuple[np.ndarray, np.ndarray]  # the row of each copy, and its side

_SEED = 0x9E3779B97F4A7C15  # its multiples are far from each other


class Sides:
    """Lays copies of given strips, each as often as `counts` says, in two stacks; lengths are those of grown shapes."""

    def __init__(self, strips: Sequence[Strip], counts: Sequence[int]):
        groups = kinds(strips)
        self.strips = [strip for group in groups for strip in group]
        self.poses = [pose for strip in self.strips for pose in strip.poses]
        number = np.array([counts[strip.index] for strip in self.strips], np.int64)
        self.copies = np.repeat(np.arange(len(self.strips)), number)
        kind_of = np.repeat(np.repeat(np.arange(len(groups)), [len(group) for group in groups]), number)
        self._kinds = np.searchsorted(kind_of, np.arange(len(groups) + 1)), kind_of
        self._strips = (
            np.cumsum([0, *(len(strip.poses) for strip in self.strips)]),
            np.array([strip.pitch_mm for strip in self.strips]),
            np.array([strip.thickness_mm for strip in self.strips]),
        )
        self._of_poses = np.array([pose.u_mm for pose in self.poses]), spacings(self.poses)

    def sought(
        self, u_mm: float, v_mm: float, shrinks_u: bool, work: int, trial: int
    ) -> tuple[Rows, float, float]:
        """Rows that fit into a box that is smaller along or across them, its size there, infinite if none was found, and
        what the last rows overlapped.

        Trials of other numbers share nothing and may run beside one another.
        """
        box = _down(u_mm), _down(v_mm)
        seed = np.uint64((trial + 1) * _SEED & (1 << 64) - 1)
        rows, sides, fits_mm, cost = anneal(
            self.copies, self._kinds, self._strips, self._of_poses, box, shrinks_u, work, seed
        )
        return (rows, sides), fits_mm, cost

    def laid(self, found: Rows, u_mm: float, v_mm: float) -> list[Placed]:
        """Where the strips of such rows lie in their box."""
        left, right = self._stacks(found)
        placed: list[Placed] = []
        v = 0.0
        for _, thick_mm, row in left:
            placed += [Placed(self.poses[pose], u, _whole(v)) for pose, u in row]
            v += thick_mm
        top = _down(v_mm)
        for length_mm, thick_mm, row in reversed(right):
            top -= thick_mm
            placed += [Placed(self.poses[pose], _whole(_down(u_mm) - length_mm + u), _whole(top)) for pose, u in row]
        return placed

    def _stacks(self, found: Rows) -> tuple[list, list]:
        """Left and right rows from the floor up: length, thickness, poses and where along the row each begins."""
        stacks: tuple[list, list] = [], []
        for number in np.unique(found[0]):
            mine = np.flatnonzero(found[0] == number)
            m, chosen = len(mine), np.zeros(MOST_ROW, np.int64)
            chosen[:m] = self.copies[mine]
            rooms = [np.zeros(MOST_ROW, kind) for kind in (np.int64, float, np.int64, float, np.int64)]
            length_mm, thick_mm, _ = measure(chosen, m, self._strips, self._of_poses, tuple(rooms))
            row = list(zip(rooms[0][:m].tolist(), rooms[1][:m].tolist(), strict=True))
            stacks[0 if found[1][mine[0]] == LEFT else 1].append((length_mm, thick_mm, row))
        stacks[0].sort(key=lambda row: -row[0])
        stacks[1].sort(key=lambda row: row[0])
        return stacks


def _down(length_mm: float) -> float:
    """To whole units of moves."""
    return math.floor(length_mm / UNIT_MM + 1e-6) * UNIT_MM


def _whole(length_mm: float) -> float:
    return round(length_mm / UNIT_MM) * UNIT_MM
