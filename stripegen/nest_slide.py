"""A filled box made shorter by linear programmes: all its pieces slide and turn at once, as far as their contacts let them.

Near where they lie, how far a corner is from another body's side is linear in how both move and turn. So the least length
that small moves can reach is a linear programme: one is solved, all is moved, what touches is found anew, and so on.
A straight strip at a quarter turn slides along the feed alone, for lanes may leave nothing of the width.
"""

from __future__ import annotations

import highspy
import numpy as np

from stripegen.nest_bodies import Bodies
from stripegen.nest_near import contacts

_STEP_MM = 0.5  # that a piece may slide at a time, and its farthest corner turn
_CLEAN_MM = (0.15, 0.05, 0.02)  # the same in the end, so that turns leave no overlap
_APART_MM = 8e-4
_NEAR_MM = 2.0  # what is farther from a side or a wall is left out
_PAST_MM = 0.3  # past a side's ends
_BESIDE_MM = 0.01  # that strips which slide side by side may overlap in width, for they are grown a little too much
_LOOK_BACK = 3  # rounds, in which ...
_LEAST = 3e-4  # ... so much of the length must be gained
_CLOSE_MM = 0.04  # room of what a programme asks for to begin with
_KEPT_MM = 1e-6  # by which others may lack room in the end
_OPTIONS = {
    "output_flag": False, "threads": 1, "solver": "simplex", "presolve": "off",
    "simplex_scale_strategy": 0, "simplex_dual_edge_weight_strategy": 1,
}  # fmt: skip


class Slide:
    """The pieces of one box between the walls of a roll."""

    def __init__(self, bodies: Bodies, places: np.ndarray, width_mm: float):
        self.bodies, self.width_mm = bodies, width_mm
        self.kind, turnable, _, self.corners, self.sides, self.radius, self.touches = bodies.arrays
        straight = np.array([not bodies.shapes[index].is_bent for index in bodies.of])
        self.is_held = straight & (np.abs(np.sin(2 * places[:, 2])) < 1e-9)
        self.turns = turnable & ~self.is_held
        self.corner, self.owner = bodies.corner, bodies.owner
        self.thin = np.zeros(len(places))

    def shortened(self, places: np.ndarray, rounds: int) -> np.ndarray:
        """Places that reach less far, after so many rounds at most."""
        reach_mm = [self.bodies.reach_mm(places)]
        while len(reach_mm) <= rounds:
            moved = self._moved(places, reach_mm[-1], _STEP_MM)
            if moved is None:
                break
            places = moved
            reach_mm.append(self.bodies.reach_mm(places))
            if len(reach_mm) > _LOOK_BACK and reach_mm[-1 - _LOOK_BACK] - reach_mm[-1] < _LEAST * reach_mm[-1]:
                break
        for clean_mm in _CLEAN_MM if rounds else ():
            moved = self._moved(places, self.bodies.reach_mm(places), clean_mm)
            places = places if moved is None else moved
        return places

    def _moved(self, places: np.ndarray, length_mm: float, step_mm: float) -> np.ndarray | None:
        """Where the least length is that moves of at most a step can reach; None: none keeps all apart."""
        cos, sin = np.cos(places[:, 2]), np.sin(places[:, 2])
        x, y = self.corners[self.corner].T
        c, s = cos[self.owner], sin[self.owner]
        arms = np.stack([c * x - s * y, s * x + c * y], axis=1)  # of every corner from its body's centre
        touching, free = self._contacts(places, length_mm, cos, sin)
        walls, room = self._walls(places, arms, length_mm)
        room = np.concatenate([free, room]) - _APART_MM
        count = 3 * len(places) + 1
        most = np.where(self.turns, step_mm / self.radius[self.kind], 0.0)
        across = np.where(self.is_held, 0.0, step_mm)
        most = np.append(np.stack([across, np.full(len(places), step_mm), most], axis=1).ravel(), highspy.kHighsInf)
        least = -most
        least[-1] = 0.0
        cost = np.zeros(count)
        cost[-1] = 1.0
        moves = _solved(cost, least, most, [touching, walls], room)
        return None if moves is None else places + moves[:-1].reshape(-1, 3)

    def _contacts(
        self, places: np.ndarray, length_mm: float, cos: np.ndarray, sin: np.ndarray
    ) -> tuple[tuple[np.ndarray, np.ndarray], np.ndarray]:
        """For each corner near another body's side how it comes nearer as both move, and how much nearer it may."""
        found = contacts(places, self.thin, self.bodies.arrays, self.width_mm, length_mm)
        i, k, j, e = found.T.astype(np.int64)
        a, b = self.corners[k], self.sides[e]
        ax, ay = cos[i] * a[:, 0] - sin[i] * a[:, 1], sin[i] * a[:, 0] + cos[i] * a[:, 1]
        bx, by = places[i, 0] + ax - places[j, 0], places[i, 1] + ay - places[j, 1]
        x, y = cos[j] * bx + sin[j] * by - self.corners[e, 0], cos[j] * by - sin[j] * bx - self.corners[e, 1]
        along, free = x * b[:, 0] + y * b[:, 1], x * b[:, 1] - y * b[:, 0]
        counts = (along > -_PAST_MM) & (along < b[:, 2] + _PAST_MM) & (free < _NEAR_MM) & ~self._are_beside(places, i, j)
        nx, ny = cos[j] * b[:, 1] + sin[j] * b[:, 0], sin[j] * b[:, 1] - cos[j] * b[:, 0]  # out of the other body
        columns = np.stack([3 * i, 3 * i + 1, 3 * i + 2, 3 * j, 3 * j + 1, 3 * j + 2], axis=1)
        nearer = np.stack([-nx, -ny, ay * nx - ax * ny, nx, ny, bx * ny - by * nx], axis=1)
        return (columns[counts], nearer[counts]), free[counts]

    def _are_beside(self, places: np.ndarray, i: np.ndarray, j: np.ndarray) -> np.ndarray:
        """Which two slide side by side, and so never meet."""
        low, high = self._across(places)
        overlap = np.minimum(high[i], high[j]) - np.maximum(low[i], low[j])
        return self.is_held[i] & self.is_held[j] & (overlap < _BESIDE_MM)

    def _across(self, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """From where to where each reaches across the roll."""
        x, y = self.corners[self.corner].T
        there = places[self.owner, 0] + np.cos(places[self.owner, 2]) * x - np.sin(places[self.owner, 2]) * y
        starts = np.flatnonzero(np.diff(self.owner, prepend=-1))
        return np.minimum.reduceat(there, starts), np.maximum.reduceat(there, starts)

    def _walls(
        self, places: np.ndarray, arms: np.ndarray, length_mm: float
    ) -> tuple[tuple[np.ndarray, np.ndarray], np.ndarray]:
        """The same for corners near a wall; the far one, which moves, is where the length is."""
        owner, touches = self.owner, self.touches[self.corner]
        x, y = (places[owner, :2] + arms).T
        end = np.full(len(owner), 3 * len(places))
        of = np.stack([3 * owner, 3 * owner + 1, 3 * owner + 2, end], axis=1)
        zero, one = np.zeros(len(owner)), np.ones(len(owner))
        free = touches & ~self.is_held[owner]
        sides = (
            (free, x, (-one, zero, arms[:, 1], zero)),
            (free, self.width_mm - x, (one, zero, -arms[:, 1], zero)),
            (touches, y, (zero, -one, -arms[:, 0], zero)),
            (touches & (y > length_mm - 2 * _NEAR_MM), -y, (zero, one, arms[:, 0], -one)),
        )
        columns, nearer, room = [], [], []
        for counts, far, how in sides:
            counts = counts & (far < _NEAR_MM)
            columns.append(of[counts])
            nearer.append(np.stack(how, axis=1)[counts])
            room.append(far[counts])
        return (np.concatenate(columns), np.concatenate(nearer)), np.concatenate(room)


class _Quiet(highspy.Highs):
    def enableCallbacks(self) -> None:
        """Not wanted: it writes to stdout."""


def _solved(cost, least, most, rows, room) -> np.ndarray | None:
    """The cheapest values within these limits, of which no row's sum is more than its room; None: there are none.

    Few rows are ever met, so those with little room are asked for first, then what the answer does not keep.

    rows : pairs of (m, k) arrays, the numbers of values and their factors
    """
    index = np.concatenate([columns.ravel() for columns, _ in rows])
    factor = np.concatenate([factors.ravel() for _, factors in rows])
    length = np.concatenate([np.full(len(columns), columns.shape[1]) for columns, _ in rows])
    row = np.repeat(np.arange(len(room)), length)
    solver = _Quiet()
    for option, value in _OPTIONS.items():
        solver.setOptionValue(option, value)
    none = np.empty(0, np.int32)
    solver.addCols(len(cost), cost, least, most, 0, none, none, np.empty(0))
    asked = np.zeros(len(room), bool)
    new = room < _CLOSE_MM
    while True:
        begins = np.cumsum(length[new]) - length[new]
        theirs = new[row]
        none_below = np.full(len(begins), -highspy.kHighsInf)
        solver.addRows(len(begins), none_below, room[new], theirs.sum(), begins, index[theirs], factor[theirs])
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        values = np.array(solver.getSolution().col_value)
        asked |= new
        new = (np.bincount(row, factor * values[index], len(room)) > room + _KEPT_MM) & ~asked
        if not new.any():
            return values
