"""The skyline of a box being filled, and piles: bent pieces stacked so that they nest into one another.

A skyline holds how far each cell along the floor is filled, two values a cell, as profiles do. What
lies under it is not used again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stripegen.compiled import compiled
from stripegen.nest_fit import rounded_up
from stripegen.nest_shapes import CELL_MM, Pose, Profile, Shape, profile

_WIGGLE = 20  # cells that a piece may move along its pile to lie lower
_STRIDE = 4  # cells between the places tried along the whole floor
_AT_ONCE = 64  # values looked at before a place is given up
_FAR = 1e18  # where what rests too high is said to rest


# Sums may be taken in any order, so that several are taken at once.
@compiled(quick=True, any_order=True)
def resting(height, low, first, last, stride, most):
    """Where a low side comes to rest at every so many cells, and the sum of what is empty below that, per value.

    Where that is higher than `most` the first is `_FAR` and the second 0.
    """
    places = (last - first) // stride + 1
    rest, empty = np.full(places, _FAR), np.zeros(places)
    for k in range(places):
        at = 2 * (first + k * stride)
        highest, filled = -_FAR, 0.0
        for begin in range(0, len(low), _AT_ONCE):
            for c in range(begin, min(begin + _AT_ONCE, len(low))):
                gap = height[at + c] - low[c]
                highest = max(highest, gap)
                filled += height[at + c]
            if highest > most:
                break
        else:
            rest[k], empty[k] = highest, highest * len(low) - filled
    return rest, empty


@dataclass(frozen=True, slots=True)
class Placed:
    """A pose whose box's corner lies at (u, v)."""

    pose: Pose
    u_mm: float
    v_mm: float

    def moved(self, du_mm: float, dv_mm: float) -> Placed:
        return Placed(self.pose, self.u_mm + du_mm, self.v_mm + dv_mm)


@dataclass(frozen=True, slots=True)
class Pile:
    """Pieces that keep their places to one another, and their common profile."""

    members: tuple[Placed, ...]
    profile: Profile
    u_mm: float
    v_mm: float

    @property
    def area(self) -> float:
        return sum(member.pose.area for member in self.members)


class Skyline:
    """A box of `u_mm` along its floor and `v_mm` away from it, and how far it is filled."""

    def __init__(self, u_mm: float, v_mm: float):
        self.u_mm, self.v_mm = u_mm, v_mm
        self.cells = math.ceil(u_mm / CELL_MM - 1e-9)
        self.height = np.zeros(2 * self.cells)

    def resting(self, shape: Profile, v_mm: float, first: int, last: int, stride: int = 1) -> tuple[np.ndarray, np.ndarray]:
        """How far down something so high comes when its first cell is `first`, ..., `last` of the floor, far too high
        where it finds no room, and the area that would be shut in under it there."""
        rest, waste = resting(self.height, shape.low, first, last, stride, self.v_mm - v_mm + 1e-9)
        return rest, (waste + shape.low.sum()) * (CELL_MM / 2)

    def last_cell(self, u_mm: float) -> int:
        """The last cell at which something `u_mm` long may begin; -1: it is too long."""
        return math.floor((self.u_mm - u_mm) / CELL_MM + 1e-9) if u_mm <= self.u_mm + 1e-9 else -1

    def raise_to(self, shape: Profile, first: int, rest_mm: float) -> None:
        self.height[2 * first : 2 * (first + shape.cells)] = rest_mm + shape.high

    def holds(self, pose: Pose) -> bool:
        """Whether the pose would fit the empty box."""
        return pose.u_mm <= self.u_mm + 1e-9 and pose.v_mm <= self.v_mm + 1e-9

    def used_floor_mm(self) -> float:
        """Where along the floor the last filled cell ends."""
        filled = np.flatnonzero(self.height)
        return (int(filled[-1]) // 2 + 1) * CELL_MM if len(filled) else 0.0


def stack(
    poses_of: Mapping[int, Sequence[Pose]], counts: Mapping[int, int], depth_mm: float, neat: float
) -> Pile:
    """Stack `counts[i]` copies of each shape about the middle of a floor, as deep as `depth_mm` at most.

    The floor is as long as the longest. Next comes each time the shape, the pose and the place within
    some cells of the middle that for its area shuts in least; `neat` times what it leaves beside itself
    counts too, so that the greater it is the more a pile is in order of length.
    """
    poses = [pose for index in poses_of for pose in poses_of[index]]
    poses.sort(key=lambda pose: (-pose.u_mm, pose.index))
    sky = Skyline(max(pose.u_mm for pose in poses), depth_mm)
    under = np.full(2 * sky.cells, np.inf)
    members: list[Placed] = []
    left = dict(counts)
    while True:
        best = None
        for pose in poses:
            if not left[pose.index]:
                continue
            beside = neat * (sky.u_mm / pose.u_mm - 1.0)
            if best is not None and beside >= best[0]:
                break
            end = sky.last_cell(pose.u_mm)
            begin, last = max(0, end // 2 - _WIGGLE), min(end, (end + 1) // 2 + _WIGGLE)
            rest, waste = sky.resting(pose.profile, pose.v_mm, begin, last)
            off_middle = np.abs(np.arange(begin, last + 1) - end / 2)
            score = (waste + 1e-3 * off_middle) / pose.area + beside
            score[rest >= _FAR] = np.inf
            k = int(score.argmin())
            if np.isfinite(score[k]) and (best is None or score[k] < best[0] - 1e-9):
                best = (float(score[k]), pose, begin + k, float(rest[k]))
        if best is None:
            return _pile(members, under, sky.height)
        _, pose, begin, rest_mm = best
        rest_mm = rounded_up(rest_mm)
        span = slice(2 * begin, 2 * (begin + pose.profile.cells))
        under[span] = np.minimum(under[span], rest_mm + pose.profile.low)
        sky.raise_to(pose.profile, begin, rest_mm)
        members.append(Placed(pose, begin * CELL_MM, rest_mm))
        left[pose.index] -= 1


def _pile(members: Sequence[Placed], under: np.ndarray, over: np.ndarray) -> Pile:
    left = min((member.u_mm for member in members), default=0.0)
    right = max((member.u_mm + member.pose.u_mm for member in members), default=0.0)
    first = round(left / CELL_MM)
    cells = max(1, math.ceil((right - left) / CELL_MM - 1e-9))
    span = slice(2 * first, 2 * (first + cells))
    low, high = under[span].copy(), over[span].copy()
    hollow = ~np.isfinite(low)  # between members that don't touch: nothing there
    low[hollow] = high[hollow] = 0.0
    return Pile(
        tuple(member.moved(-left, 0.0) for member in members),
        Profile(low.reshape(-1, 2), high.reshape(-1, 2)),
        right - left,
        max((member.v_mm + member.pose.v_mm for member in members), default=0.0),
    )


def turned_piles(pile: Pile, shapes: Sequence[Shape], mode: str) -> list[Pile]:
    """The pile itself and, if all its shapes are free to turn, the pile turned by each quarter."""
    piles = [pile]
    if all(shapes[member.pose.index].is_free for member in pile.members):
        for _ in range(3):
            pile = _quarter_turned(pile, shapes, mode)
            if pile is None:
                break
            piles.append(pile)
    return piles


def _quarter_turned(pile: Pile, shapes: Sequence[Shape], mode: str) -> Pile | None:
    """Turned +u towards +v; that is +x towards +y across the sheet, and the other way along it."""
    quarter = 90.0 if mode == "across" else 270.0
    end_mm = rounded_up(pile.v_mm)
    members = []
    for member in pile.members:
        pose = shapes[member.pose.index].pose(mode, member.pose.turn_deg + quarter)
        if pose is None:
            return None
        members.append(Placed(pose, end_mm - member.v_mm - member.pose.v_mm, member.u_mm))
    along = np.repeat(np.arange(pile.profile.cells + 1) * CELL_MM, 2)[1:-1]
    under = np.stack([end_mm - pile.profile.low, along], axis=1)
    over = np.stack([end_mm - pile.profile.high, along], axis=1)
    ring = np.concatenate([under, over[::-1]])
    return Pile(tuple(members), Profile(*profile(ring, CELL_MM)), end_mm, pile.u_mm)


def lay(sky: Skyline, piles: Sequence[Pile], mode: str) -> list[Placed] | None:
    """Lay one of these piles where it shuts in least and least more of the feed is used; None: none fits."""
    best = None
    used_mm = sky.used_floor_mm() if mode == "along" else sky.height.max()
    for pile in piles:
        end = sky.last_cell(pile.u_mm)
        if end < 0:
            continue
        rest, score = sky.resting(pile.profile, pile.v_mm, 0, end, _STRIDE)
        top = rest + pile.v_mm
        if mode == "along":
            ends = np.arange(len(rest)) * (_STRIDE * CELL_MM) + pile.u_mm
            score += np.maximum(ends - used_mm, 0.0) * sky.v_mm
        else:
            score += np.maximum(top - used_mm, 0.0) * sky.u_mm
        score[rest >= _FAR] = np.inf
        k = int(score.argmin())
        if np.isfinite(score[k]) and (best is None or score[k] < best[0] - 1e-9):
            best = (score[k], pile, _STRIDE * k, float(rest[k]))
    if best is None:
        return None
    _, pile, first, rest_mm = best
    rest_mm = rounded_up(rest_mm)
    sky.raise_to(pile.profile, first, rest_mm)
    return [member.moved(first * CELL_MM, rest_mm) for member in pile.members]
