"""Straight strips in lanes: rows of strips of one thickness whose lengths sum closest to a valley's.

The lowest valley of the skyline is filled first. Which lengths fit best is a subset sum, solved for
every length at once in the bits of one integer. Strips with slanted ends are turned and ordered so that
their ends interlock. Of all lanes that a valley could take, the one that leaves least of the area it
sweeps empty is laid.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stripegen.nest_fit import rounded_up
from stripegen.nest_shapes import CELL_MM, Pose
from stripegen.nest_skyline import Placed, Skyline

_BITS_MM = 10  # bits to the millimetre in the subset sums
_ALIKE_MM = 0.3  # thicknesses this close, or 3 %, share a lane
_LEVELS = 6  # heights above a valley's floor that are tried, for a lane that spans its steps
_SETS = 3  # of each valley and thickness, so many sets of strips
_LEAVE_MM = (0.0, 2.0, 5.0)  # less than the valley, in case slanted ends interlock badly
_STARTS = 4  # strips that a row of slanted ones is begun with, in turn
_SWAY = 0.005  # most that chance adds to a lane's score
_NEAR_MM = 60.0  # from the ceiling, the rest must be made of whole lanes
_TOP = 1e12


class Strip:
    """A shape that lies in lanes: its poses there, how many are left, and its length in a row."""

    def __init__(self, poses: Sequence[Pose]):
        self.poses = tuple(poses)
        self.count = 0
        self.index = poses[0].index
        self.u_mm = min(pose.u_mm for pose in poses)
        self.v_mm = max(pose.v_mm for pose in poses)
        pairs = [(a, b) for k, a in enumerate(poses) for b in poses[k:]]
        self.pitch_mm = min((spacing(a, b) + spacing(b, a)) / 2 for a, b in pairs)


def spacing(left: Pose, right: Pose) -> float:
    """The least u from one pose's box to the next one's in a lane."""
    ahead, behind = left.sides[1], right.sides[0]
    bands = min(len(ahead), len(behind))
    return float((ahead[:bands] - behind[:bands]).max())


class Kind:
    """Strips of about one thickness, and which sums their lengths can make."""

    def __init__(self, strips: Sequence[Strip], longest_mm: float, rows: Rows):
        self.rows = rows
        self.strips = sorted(strips, key=lambda strip: (strip.pitch_mm, strip.index))
        self.v_mm = max(strip.v_mm for strip in strips)
        self.longest_mm = longest_mm
        self.refresh()

    def refresh(self) -> None:
        """Work out the sums anew, after strips were taken."""
        self.strips = [strip for strip in self.strips if strip.count]
        self.shortest_mm = min((strip.u_mm for strip in self.strips), default=math.inf)
        self.thinnest_mm = min((strip.v_mm for strip in self.strips), default=math.inf)
        self.slanted = any(len(strip.poses) > 1 for strip in self.strips)
        bits = int(self.longest_mm * _BITS_MM) + 1
        mask = (1 << bits) - 1
        self._sums = 1
        self._steps: list[tuple[Strip, int, bytes]] = []  # and which sums could be made without it
        self._found: dict[int, list[list[Strip]]] = {}
        for strip in self.strips:
            length = max(1, round(strip.pitch_mm * _BITS_MM))
            for _ in range(min(strip.count, bits // length)):
                self._steps.append((strip, length, self._sums.to_bytes(bits // 8 + 1, "little")))
                self._sums |= self._sums << length & mask

    def sets(self, length_mm: float) -> list[list[Strip]]:
        """Sets of strips that make about this length or less, the closest first, long strips before short."""
        limit = math.floor(length_mm * _BITS_MM) + 1
        if limit < 1:
            return []
        if limit not in self._found:
            sums = self._sums & (1 << limit + 1) - 1
            found = self._found[limit] = []
            while sums > 1 and len(found) < _SETS:
                total = sums.bit_length() - 1
                found.append(self._set_of(total))
                sums &= (1 << max(0, total - _BITS_MM // 5)) - 1
        return self._found[limit]

    def _set_of(self, total: int) -> list[Strip]:
        chosen = []
        for strip, length, before in reversed(self._steps):
            rest = total - length
            if rest >= 0 and before[rest >> 3] >> (rest & 7) & 1:
                chosen.append(strip)
                total = rest
                if not total:
                    break
        return chosen


class Rows:
    """Strips laid end to end; each set of strips is worked out once."""

    def __init__(self) -> None:
        self._rows: dict[tuple, Row] = {}
        self._spacings: dict[tuple, float] = {}

    def row(self, strips: Sequence[Strip]) -> Row:
        """Each strip next to the one whose end interlocks best with it."""
        key = tuple(strip.poses for strip in strips)
        if key not in self._rows:
            self._rows[key] = self._made(strips)
        return self._rows[key]

    def _made(self, strips: Sequence[Strip]) -> Row:
        if not any(len(strip.poses) > 1 for strip in strips):
            return _laid([strip.poses[0] for strip in strips])
        best = None
        for first in list(dict.fromkeys(strips))[:_STARTS]:
            for pose in first.poses:
                rest = list(strips)
                rest.remove(first)
                order = [pose]
                while rest:
                    order.append(self._best_after(order[-1], rest))
                row = _laid(order)
                if best is None or row.u_mm < best.u_mm - 1e-9:
                    best = row
        return best

    def _best_after(self, last: Pose, rest: list[Strip]) -> Pose:
        """Take from `rest` the strip that loses least length beside `last`; at the end, its far end counts."""
        losses = (
            (self._spacing(last, pose) + (0.0 if len(rest) > 1 else pose.u_mm) - strip.pitch_mm, k, turn)
            for k, strip in enumerate(rest)
            for turn, pose in enumerate(strip.poses)
        )
        _, k, turn = min(losses)
        return rest.pop(k).poses[turn]

    def _spacing(self, left: Pose, right: Pose) -> float:
        if (left, right) not in self._spacings:
            self._spacings[left, right] = spacing(left, right)
        return self._spacings[left, right]


@dataclass(frozen=True, slots=True)
class Row:
    """Strips end to end from (0, 0), how long and thick the row is, their area and the longest's length."""

    placed: tuple[Placed, ...]
    u_mm: float
    v_mm: float
    area: float
    longest_mm: float


def _laid(poses: Sequence[Pose]) -> Row:
    front = np.full(max(len(pose.sides[0]) for pose in poses), -math.inf)
    placed = []
    for pose in poses:
        left, right = pose.sides
        u_mm = rounded_up(max(0.0, float((front[: len(left)] - left).max())))
        front[: len(left)] = np.maximum(front[: len(left)], u_mm + right)
        placed.append(Placed(pose, u_mm, 0.0))
    return Row(
        tuple(placed),
        max(member.u_mm + member.pose.u_mm for member in placed),
        max(pose.v_mm for pose in poses),
        sum(pose.area for pose in poses),
        max(pose.u_mm for pose in poses),
    )


def kinds(strips: Sequence[Strip], longest_mm: float, rows: Rows) -> list[Kind]:
    """Strips grouped by thickness."""
    groups: list[list[Strip]] = []
    for strip in sorted(strips, key=lambda strip: (strip.v_mm, strip.index)):
        thinnest = groups[-1][0].v_mm if groups else -math.inf
        if strip.v_mm <= thinnest + max(_ALIKE_MM, 0.03 * thinnest):
            groups[-1].append(strip)
        else:
            groups.append([strip])
    return [Kind(group, longest_mm, rows) for group in groups]


@dataclass(frozen=True, slots=True)
class _Lane:
    score: float
    kind: Kind
    row: Row
    first: int
    last: int  # the valley's cells
    v_mm: float


class LaneFiller:
    """Fills what a skyline leaves with lanes.

    `long_first` is how much a lane's score gains if it uses the longest strip of its kind, which is
    the hardest to place later. `seed`, if not 0, sways the scores by a little chance.
    """

    def __init__(self, sky: Skyline, strips: Sequence[Strip], rows: Rows, long_first: float, seed: int):
        self.chance = random.Random(seed) if seed else None
        self.u_mm, self.ceiling = sky.u_mm, sky.v_mm
        self.height = sky.height.reshape(-1, 2).max(axis=1)
        self.edges = np.minimum(np.arange(sky.cells + 1) * CELL_MM, sky.u_mm)
        self.widths = np.diff(self.edges)
        self.kinds = kinds(strips, sky.u_mm, rows)
        self.long_first = long_first
        self._leftovers: dict[tuple, float] = {}
        self._note_lanes()

    def fill(self) -> list[Placed]:
        """Lay lanes until no strip is left or none fits; takes from the strips' counts."""
        placed = []
        while self.kinds:
            floor = int(self.height.argmin())
            thinnest = min(kind.thinnest_mm for kind in self.kinds)
            if self.height[floor] + thinnest > min(self.ceiling, _TOP) + 1e-9:
                break
            first, last, _ = next(self._valleys(floor))
            shortest = min(kind.shortest_mm for kind in self.kinds)
            lane = None
            if self.edges[last] - self.edges[first] >= shortest - 1e-9:
                lane = self._best_lane(floor, shortest)
            if lane is not None:
                placed += self._lay(lane)
            else:
                wall = self._lower_wall(first, last)
                self.height[first:last] = wall if wall < self.ceiling else _TOP
        return placed

    def _valleys(self, floor: int):
        """Cells and height of the valley about a cell, and of the wider ones that span its steps."""
        level = rounded_up(float(self.height[floor]))
        for _ in range(_LEVELS):
            left = np.flatnonzero(self.height[:floor] > level + 2e-7)  # rounding up forgives half as much
            right = np.flatnonzero(self.height[floor:] > level + 2e-7)  # rounding up forgives half as much
            first = int(left[-1]) + 1 if len(left) else 0
            last = floor + int(right[0]) if len(right) else len(self.height)
            yield first, last, level
            step = self._lower_wall(first, last)
            if step > self.ceiling:
                return
            level = rounded_up(max(step, level + CELL_MM))

    def _lower_wall(self, first: int, last: int) -> float:
        left = self.height[first - 1] if first > 0 else _TOP
        right = self.height[last] if last < len(self.height) else _TOP
        return min(left, right)

    def _best_lane(self, floor: int, shortest: float) -> _Lane | None:
        best = None
        for step, (first, last, level) in enumerate(self._valleys(floor)):
            room = float(self.edges[last] - self.edges[first])
            for kind in self.kinds:
                if level + kind.thinnest_mm > self.ceiling + 1e-9 or kind.shortest_mm > room + 1e-9:
                    continue
                longest = kind.strips[-1].pitch_mm
                for row in self._rows(kind, room):
                    top_mm = level + row.v_mm
                    if row.u_mm > room + 1e-9 or top_mm > self.ceiling + 1e-9:
                        continue
                    # What is left beside it counts, if nothing fits there or it spans a step to get there.
                    taken = room if step or room - row.u_mm < shortest else row.u_mm
                    swept = self._swept(first, last, taken, top_mm)
                    swept += self._leftover(self.ceiling - top_mm) * taken
                    score = row.area / swept + self.long_first * row.longest_mm / longest
                    if self.chance:
                        score += _SWAY * self.chance.random()
                    if best is None or score > best.score + 1e-12:
                        best = _Lane(score, kind, row, first, last, level)
        return best

    def _rows(self, kind: Kind, room: float):
        seen = set()
        for leave_mm in _LEAVE_MM if kind.slanted else _LEAVE_MM[:1]:
            for chosen in kind.sets(room - leave_mm):
                names = tuple(strip.index for strip in chosen)
                if names not in seen:
                    seen.add(names)
                    yield kind.rows.row(chosen)
        # The sums are rounded, so a strip that fits to a hair needs to be tried by itself.
        fitting = [strip for strip in kind.strips if strip.u_mm <= room + 1e-9]
        if fitting:
            longest = max(fitting, key=lambda strip: (strip.u_mm, -strip.index))
            if (longest.index,) not in seen:
                yield kind.rows.row([longest])

    def _swept(self, first: int, last: int, length_mm: float, top_mm: float) -> float:
        end = min(last, first + math.ceil(length_mm / CELL_MM - 1e-9))
        return float((self.widths[first:end] * (top_mm - self.height[first:end])).sum())

    def _leftover(self, depth_mm: float) -> float:
        """What no whole lanes can fill of the depth that is left under the ceiling."""
        if depth_mm > _NEAR_MM:
            return 0.0
        limit = max(0, math.floor(depth_mm * _BITS_MM + 1e-6))
        lanes = self._lanes
        if (limit, lanes) not in self._leftovers:
            sums = [True] + [False] * limit
            for depth in range(1, limit + 1):
                sums[depth] = any(depth >= lane and sums[depth - lane] for lane in lanes)
            filled = max(depth for depth in range(limit + 1) if sums[depth])
            self._leftovers[limit, lanes] = (limit - filled) / _BITS_MM
        return self._leftovers[limit, lanes]

    def _lay(self, lane: _Lane) -> list[Placed]:
        """Lay a lane against the higher wall of its valley."""
        left = self.height[lane.first - 1] if lane.first > 0 else _TOP
        right = self.height[lane.last] if lane.last < len(self.height) else _TOP
        at_right = right > left
        start = float(self.edges[lane.first])
        if at_right:
            # Down to a whole unit of moves, as far as the valley allows it.
            start = max(start, rounded_up(float(self.edges[lane.last]) - lane.row.u_mm - 1e-4))
        placed = [member.moved(start, lane.v_mm) for member in lane.row.placed]
        for member in placed:
            begin = int(member.u_mm / CELL_MM + 1e-9)
            end = min(len(self.height), math.ceil((member.u_mm + member.pose.u_mm) / CELL_MM - 1e-9))
            span = slice(begin, end)
            self.height[span] = np.maximum(self.height[span], lane.v_mm + member.pose.v_mm)
        by_index = {strip.index: strip for strip in lane.kind.strips}
        for member in placed:
            by_index[member.pose.index].count -= 1
        lane.kind.refresh()
        self.kinds = [kind for kind in self.kinds if kind.strips]
        self._note_lanes()
        return placed

    def _note_lanes(self) -> None:
        self._lanes = tuple(math.ceil(kind.v_mm * _BITS_MM - 1e-6) for kind in self.kinds)
