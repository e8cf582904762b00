"""Straight strips in two stacks that face each other, long rows of the one beside short rows of the other, and a few
rows across them.

A core of bent pieces may be between the stacks. Which strips share a row, and on which side, is annealed (nest_annealing);
here that becomes a filled box.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from stripegen.nest_annealing import anneal, measure
from stripegen.nest_core import NO_CORE, Core
from stripegen.nest_lanes import Strip, kinds, spacings
from stripegen.nest_row import UNIT_MM
from stripegen.nest_shapes import Pose
from stripegen.nest_skyline import Placed
from stripegen.nest_sums import MOST_ROW

# The row of each copy, its side, the place of each row in its stack, and how far the core is moved.
Rows = tuple[np.ndarray, np.ndarray, np.ndarray, float]
_Row = tuple[float, float, list[tuple[Pose, float]]]  # length, thickness, poses and where along the row each begins

_SLACK_MM = UNIT_MM / 2
_SEED = 0x9E3779B97F4A7C15  # its multiples are far from each other


class _Lying:
    """Strips as rows of one direction lay them."""

    def __init__(self, strips: Sequence[Strip]):
        self.poses = [pose for strip in strips for pose in strip.poses]
        self.compiled = (
            (
                np.cumsum([0, *(len(strip.poses) for strip in strips)]),
                np.array([strip.pitch_mm for strip in strips]),
                np.array([strip.thickness_mm for strip in strips]),
            ),
            (np.array([pose.u_mm for pose in self.poses]), spacings(self.poses)),
        )


class Sides:
    """Lays copies of given strips, each as often as `counts` says, in two stacks; lengths are those of grown shapes.

    `across` are the same strips as they lie in rows across those; empty: none may.
    """

    def __init__(
        self, strips: Sequence[Strip], across: Sequence[Strip], counts: Sequence[int], core: Core | None = None
    ):
        groups = kinds(strips)
        strips = [strip for group in groups for strip in group]
        number = np.array([counts[strip.index] for strip in strips], np.int64)
        self.copies = np.repeat(np.arange(len(strips)), number)
        kind_of = np.repeat(np.repeat(np.arange(len(groups)), [len(group) for group in groups]), number)
        self._kinds = np.searchsorted(kind_of, np.arange(len(groups) + 1)), kind_of
        by_index = {strip.index: strip for strip in across}
        self.core = core
        self.may_cross = bool(across)
        lying = _Lying(strips)
        self._ways = (lying, lying, _Lying([by_index[strip.index] for strip in strips]) if across else lying)

    def sought(
        self, u_mm: float, v_mm: float, shrinks_u: bool, crosses: int, work: int, trial: int
    ) -> tuple[Rows, float, float]:
        """Rows that fit into a box that is smaller along or across them, its size there, infinite if none was found, and
        what the last rows overlapped; so many of them lie across the others, if they may.

        Trials of other numbers share nothing and may run beside one another.
        """
        box = down(u_mm), down(v_mm)
        seed = np.uint64((trial + 1) * _SEED & (1 << 64) - 1)
        ways = tuple(way.compiled for way in self._ways)
        crosses, core = crosses if self.may_cross else 0, self.core.compiled if self.core else NO_CORE
        rows, sides, stacked, shift_mm, fits_mm, cost = anneal(
            self.copies, self._kinds, ways, crosses, core, box, shrinks_u, work, seed
        )
        return (rows, sides, stacked, shift_mm), fits_mm, cost

    def laid(self, found: Rows, u_mm: float, v_mm: float, quarter: Callable[[Pose], Pose]) -> list[Placed]:
        """Where the strips of such rows lie in their box; `quarter` makes of a pose across the rows the same in it."""
        left, right, cross = self._stacks(found)
        end, top = down(u_mm), down(v_mm)
        hangs = self.core is not None and self.core.hangs
        placed = self.core.moved(found[3]) if self.core else []
        depth = 0.0
        for _, thick_mm, row in left:
            v = top - depth - thick_mm if hangs else depth
            placed += [Placed(pose, u, _whole(v)) for pose, u in row]
            depth += thick_mm
        ends = [(-math.inf, end)]  # of the room beside the cross rows, from what depth on
        for length_mm, thick_mm, row in cross:
            end -= thick_mm
            begin = 0.0 if hangs else top - length_mm
            placed += [Placed(quarter(pose), _whole(end), _whole(begin + v)) for pose, v in row]
            ends.append((top - length_mm, end))
        depth = 0.0 if self.core else top - math.fsum(thick_mm for _, thick_mm, _ in right)
        for length_mm, thick_mm, row in right:
            v = top - depth - thick_mm if hangs else depth
            depth += thick_mm
            wall = min(end for begin, end in ends if begin < depth - _SLACK_MM)
            placed += [Placed(pose, _whole(wall - length_mm + u), _whole(v)) for pose, u in row]
        return placed

    def _stacks(self, found: Rows) -> tuple[list[_Row], ...]:
        """The rows of each side, as depths grow; cross rows from the wall on."""
        stacks: tuple[list[_Row], ...] = ([], [], [])
        for number in sorted(set(found[0].tolist()), key=lambda number: found[2][number]):
            mine = np.flatnonzero(found[0] == number)
            side = found[1][mine[0]]
            way = self._ways[side]
            m, chosen = len(mine), np.zeros(MOST_ROW, np.int64)
            chosen[:m] = self.copies[mine]
            rooms = [np.zeros(MOST_ROW, kind) for kind in (np.int64, float, np.int64, float, np.int64)]
            length_mm, thick_mm, _ = measure(chosen, m, *way.compiled, tuple(rooms))
            row = [(way.poses[k], u) for k, u in zip(rooms[0][:m].tolist(), rooms[1][:m].tolist(), strict=True)]
            stacks[side].append((length_mm, thick_mm, row))
        return stacks


def down(length_mm: float) -> float:
    """To whole units of moves."""
    return math.floor(length_mm / UNIT_MM + 1e-6) * UNIT_MM


def _whole(length_mm: float) -> float:
    return round(length_mm / UNIT_MM) * UNIT_MM
