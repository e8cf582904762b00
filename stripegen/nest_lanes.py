"""Straight strips in lanes: rows of strips of one thickness whose lengths sum closest to a valley's.

The lowest valley of the skyline is filled first. Which lengths fit best is a subset sum, solved for
every length at once in bits. Strips with slanted ends are turned and ordered so that their ends
interlock. Of all lanes that a valley could take, the one that leaves least of the area it sweeps empty
is laid. The loops are in nest_rows.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stripegen.nest_holes import Holes
from stripegen.nest_hollows import fill_hollows
from stripegen.nest_rows import fill_lanes
from stripegen.nest_shapes import CELL_MM, Pose
from stripegen.nest_skyline import Placed, Skyline
from stripegen.nest_sums import BITS_MM

_ALIKE_MM = 0.3  # thicknesses this close, or 3 %, share a lane
_LEAVE_MM = np.array([0.0, 2.0, 5.0])  # less than the valley, in case slanted ends interlock badly
LONG_FIRST = (0.0, 0.02, 0.05, 0.1)  # by how much of its score a lane may gain for the longest strip of its kind
_SWAY = 0.02  # most that chance adds to a lane's score
_WARMTH = 1000.0  # mm2 more that a try may leave and be kept, at first and at most; less and less then
_LEAN = 0.1  # most by which chance prefers one thickness


@dataclass(frozen=True)
class Strip:
    """A shape that lies in lanes, at the poses at which it does."""

    poses: tuple[Pose, ...]

    @property
    def index(self) -> int:
        return self.poses[0].index

    @cached_property
    def thickness_mm(self) -> float:
        return max(pose.v_mm for pose in self.poses)

    @cached_property
    def pitch_mm(self) -> float:
        """Its length in a row of its like."""
        pairs = [(a, b) for k, a in enumerate(self.poses) for b in self.poses[k:]]
        return min((spacing(a, b) + spacing(b, a)) / 2 for a, b in pairs)


def spacing(left: Pose, right: Pose) -> float:
    """The least u from one pose's box to the next one's in a lane."""
    ahead, behind = left.sides[1], right.sides[0]
    bands = min(len(ahead), len(behind))
    return float((ahead[:bands] - behind[:bands]).max())


def kinds(strips: Sequence[Strip]) -> list[list[Strip]]:
    """Strips grouped by thickness, each group's shortest first."""
    groups: list[list[Strip]] = []
    for strip in sorted(strips, key=lambda strip: (strip.thickness_mm, strip.index)):
        thinnest = groups[-1][0].thickness_mm if groups else -np.inf
        if strip.thickness_mm <= thinnest + max(_ALIKE_MM, 0.03 * thinnest):
            groups[-1].append(strip)
        else:
            groups.append([strip])
    return [sorted(group, key=lambda strip: (strip.pitch_mm, strip.index)) for group in groups]


class LaneFiller:
    """Fills what skylines leave with lanes of given strips."""

    def __init__(self, strips: Sequence[Strip]):
        groups = kinds(strips)
        self.strips = [strip for group in groups for strip in group]
        self._poses = [pose for strip in self.strips for pose in strip.poses]
        self._kinds = np.cumsum([0, *map(len, groups)]), np.arange(len(self.strips))
        pitch_mm = np.array([strip.pitch_mm for strip in self.strips])
        self._strips = (
            np.cumsum([0, *(len(strip.poses) for strip in self.strips)]),
            np.maximum(1, np.rint(pitch_mm * BITS_MM)).astype(np.int64),
            pitch_mm,
            np.array([strip.thickness_mm for strip in self.strips]),
        )
        measures = (np.array([getattr(pose, name) for pose in self._poses]) for name in ("u_mm", "v_mm", "area"))
        self._of_poses = (*measures, spacings(self._poses))

    def fill(
        self, sky: Skyline, left: list[int], long_first: float, seed: int, tries: int = 0, most_left: float = math.inf
    ) -> list[Placed]:
        """Lay lanes until no strip is left or none fits; takes from `left`, a count a shape.

        `long_first` is how much a lane's score gains if it uses the longest strip of its kind, which is
        the hardest to place later. `seed`, if not 0, sways the scores by a little chance. So many `tries` are then
        made to leave less, unless the first leaves more than `most_left`, by area.
        """
        chance = random.Random(seed)
        count, placed = self._waiting(left)
        laid, _ = fill_lanes(
            sky.height.reshape(-1, 2).max(axis=1),
            np.minimum(np.arange(sky.cells + 1) * CELL_MM, sky.u_mm),
            sky.v_mm,
            (count, *self._strips),
            self._of_poses,
            self._kinds,
            (np.array([long_first, *LONG_FIRST]), _SWAY if seed else 0.0, _LEAN, _LEAVE_MM, _WARMTH),
            np.array([chance.getrandbits(63) | 1], np.uint64),
            tries,
            most_left,
            placed,
        )
        return self._taken(left, count, placed[:laid])

    def fill_hollows(self, there: Holes, left: list[int], least: float) -> list[Placed]:
        """Lay rows under the pieces that lie there; takes from `left`. Of what a row takes up it fills `least`."""
        count, placed = self._waiting(left)
        laid = fill_hollows(*there.cells(), CELL_MM, there.u_mm, least, (count, *self._strips), self._of_poses, self._kinds, placed)
        return self._taken(left, count, placed[:laid])

    def _waiting(self, left: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
        """How many there are of each strip, and room for as many places."""
        count = np.array([left[strip.index] for strip in self.strips], np.int64)
        return count, np.empty((int(count.sum()), 3))

    def _taken(self, left: list[int], count: np.ndarray, placed: np.ndarray) -> list[Placed]:
        for strip, number in zip(self.strips, count.tolist(), strict=True):
            left[strip.index] = number
        return [Placed(self._poses[int(pose)], u_mm, v_mm) for pose, u_mm, v_mm in placed.tolist()]


def spacings(poses: Sequence[Pose]) -> np.ndarray:
    """`spacing` of every pose to every next one."""
    bands = max(len(pose.sides[0]) for pose in poses)
    ahead, behind = np.full((len(poses), bands), -np.inf), np.full((len(poses), bands), np.inf)
    for k, pose in enumerate(poses):
        behind[k, : len(pose.sides[0])], ahead[k, : len(pose.sides[1])] = pose.sides
    return np.stack([(row - behind).max(axis=1) for row in ahead])
