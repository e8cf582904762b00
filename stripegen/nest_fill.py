"""Filling one box by a recipe: bent pieces first, in piles, then straight strips under them and in lanes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stripegen.nest_annealing import SHORTER
from stripegen.nest_core import Core, core_of
from stripegen.nest_holes import Holes
from stripegen.nest_lanes import LaneFiller, Strip
from stripegen.nest_recipes import Recipe
from stripegen.nest_shapes import CELL_MM, OTHER, Pose, Shape, grow_mm
from stripegen.nest_sides import Sides, down
from stripegen.nest_skyline import Pile, Placed, Skyline, lay, stack, turned_piles

HOPELESS = 0.04  # of the box: where the first lanes leave more, laying them anew never lays all
_MOST_PLUGGED = 0.02  # of the box: the last piece, if it is laid in a hole


@dataclass(frozen=True, slots=True)
class Filled:
    """What was laid in a box, how far it reaches along the feed, and how many of each shape are left."""

    mode: str
    placed: tuple[Placed, ...]
    reach_mm: float
    left: tuple[int, ...]

    @property
    def area(self) -> float:
        return sum(placed.pose.area for placed in self.placed)


def _filled(mode: str, placed: Sequence[Placed], left: Sequence[int]) -> Filled:
    if mode == "across":
        reach_mm = max((p.v_mm + p.pose.v_mm for p in placed), default=0.0)
    else:
        reach_mm = max((p.u_mm + p.pose.u_mm for p in placed), default=0.0)
    return Filled(mode, tuple(placed), reach_mm, tuple(left))


def _sky(width_mm: float, length_mm: float, mode: str) -> Skyline:
    return Skyline(width_mm, length_mm) if mode == "across" else Skyline(length_mm, width_mm)


def _without(counts: Sequence[int], placed: Sequence[Placed]) -> list[int]:
    """How many of each shape are left."""
    left = list(counts)
    for member in placed:
        left[member.pose.index] -= 1
    return left


class Filler:
    """Fills boxes with copies of given shapes, and keeps what boxes have in common."""

    def __init__(self, shapes: Sequence[Shape]):
        self.shapes = shapes
        self._strips: dict[tuple[Pose, ...], Strip] = {}
        self._lanes: dict[tuple[Strip, ...], LaneFiller] = {}
        self._piles: dict[tuple, list[list[Pile]]] = {}
        self._turns: dict[tuple, list[Pile]] = {}
        self._singles: dict[tuple[Pose, ...], list[Pile]] = {}

    def fill(
        self,
        counts: Sequence[int],
        width_mm: float,
        length_mm: float,
        recipe: Recipe,
        tries: int = 0,
        all_or_none: bool = False,
    ) -> Filled:
        """Lay as many as fit of `counts[i]` copies of each shape in a box of this width and length (grown).

        Lanes are laid anew so many times, see LaneFiller. With `all_or_none` no pains are taken where some find no place.
        """
        left = list(counts)
        sky = _sky(width_mm, length_mm, recipe.mode)
        strips, bent = self._sorted_out(counts, sky, recipe.mode)
        placed = self._lay_bent(sky, bent, left, recipe)
        if strips and placed and recipe.under:
            placed += self._filler(strips).fill_hollows(Holes(sky.u_mm, sky.v_mm, placed), left, recipe.under)
        if strips:
            most_left = math.inf
            if all_or_none and placed:
                most_left = HOPELESS * sky.u_mm * sky.v_mm - sum(left[index] * self.shapes[index].area for index in bent)
            placed += self._filler(strips).fill(sky, left, recipe.long_first, recipe.seed, tries, most_left)
        if sum(left) == 1:
            placed += self._plugged(sky, placed, left, recipe.mode)
        return _filled(recipe.mode, placed, left)

    def bent_of(self, counts: Sequence[int], width_mm: float, length_mm: float, recipe: Recipe) -> list[Placed] | None:
        """All that is bent as a recipe lays it in such a box; None: some finds no place."""
        sky, left = _sky(width_mm, length_mm, recipe.mode), list(counts)
        _, bent = self._sorted_out(counts, sky, recipe.mode)
        placed = self._lay_bent(sky, bent, left, recipe)
        return None if any(left[index] for index in bent) else placed

    def core(self, counts: Sequence[int], width_mm: float, length_mm: float, placed: Sequence[Placed]) -> Core:
        """These as a core in a box along the feed, beside which the others of so many find room."""
        strips, _ = self._sorted_out(_without(counts, placed), _sky(width_mm, length_mm, "along"), "along")
        return core_of(placed, down(width_mm), max((strip.thickness_mm for strip in strips), default=0.0))

    def sides(
        self, counts: Sequence[int], width_mm: float, length_mm: float, mode: str, core: Core | None = None
    ) -> Sides | None:
        """What lays all of these in two stacks of such a box beside what is in its core already; None: not all the others
        are straight, or one does not fit."""
        left = _without(counts, core.placed if core else ())
        wanted = sum(map(bool, left))
        strips, _ = self._sorted_out(left, _sky(width_mm, length_mm, mode), mode)
        if len(strips) < wanted or not strips:
            return None
        if core and max(strip.thickness_mm for strip in strips) > core.thickest_mm:  # one no longer lies, but stands
            return None
        across, _ = self._sorted_out(left, self._roomy(), OTHER[mode])
        may_cross = len(across) == wanted and all(strip.poses[0].lies for strip in across)
        return Sides(strips, across if may_cross else (), left, core)

    def _roomy(self) -> Skyline:
        """A box that holds any of them at any turn."""
        long_mm = 2 * max(math.hypot(*shape.size) + grow_mm(shape.stock, shape.blank.slack_mm, 1.0) for shape in self.shapes)
        return Skyline(long_mm, long_mm)

    def in_sides(
        self,
        counts: Sequence[int],
        width_mm: float,
        length_mm: float,
        mode: str,
        crosses: int,
        work: int,
        trial: int,
        core: Core | None = None,
    ) -> tuple[Filled | None, float]:
        """All of these in a box shorter than that, if it is found with so much work, and what was lacking from a
        still shorter one, in mm2; so many rows lie across the others."""
        shorter_mm = length_mm * (1 - SHORTER)
        sides = self.sides(counts, width_mm, shorter_mm, mode, core)
        if sides is None:
            return None, math.inf
        u_mm, v_mm = (width_mm, shorter_mm) if mode == "across" else (shorter_mm, width_mm)
        found, fits_mm, lacking = sides.sought(u_mm, v_mm, mode == "along", crosses, work, trial)
        if not math.isfinite(fits_mm):
            return None, lacking
        u_mm, v_mm = (width_mm, fits_mm) if mode == "across" else (fits_mm, width_mm)
        laid = sides.laid(found, u_mm, v_mm, lambda pose: self.shapes[pose.index].pose(mode, pose.turn_deg))
        return _filled(mode, laid, [0] * len(counts)), lacking

    def _plugged(self, sky: Skyline, placed: Sequence[Placed], left: list[int], mode: str) -> list[Placed]:
        """Lay the last piece, if it is small, between what lies there; takes from `left`."""
        last = next(shape for shape in self.shapes if left[shape.index])
        if last.area > _MOST_PLUGGED * sky.u_mm * sky.v_mm:
            return []
        member = Holes(sky.u_mm, sky.v_mm, placed).take(last.poses(mode))
        if member is None:
            return []
        left[last.index] = 0
        return [member]

    def _filler(self, strips: Sequence[Strip]) -> LaneFiller:
        same = tuple(strips)
        if same not in self._lanes:
            self._lanes[same] = LaneFiller(strips)
        return self._lanes[same]

    def _sorted_out(
        self, counts: Sequence[int], sky: Skyline, mode: str
    ) -> tuple[list[Strip], dict[int, tuple[Pose, ...]]]:
        """Strips that can lie in lanes of such a box, and the poses that fit of all other shapes."""
        strips, bent = [], {}
        for shape in self.shapes:
            if not counts[shape.index]:
                continue
            fitting = [pose for pose in shape.poses(mode) if sky.holds(pose)]
            lying = [pose for pose in fitting if pose.lies] or fitting
            straight = tuple(pose for pose in lying if pose.is_straight)
            if straight:
                strips.append(self._strips.setdefault(straight, Strip(straight)))
            elif lying:
                bent[shape.index] = tuple(lying)
        return strips, bent

    def _lay_bent(
        self, sky: Skyline, bent: Mapping[int, tuple[Pose, ...]], left: list[int], recipe: Recipe
    ) -> list[Placed]:
        """Lay piles in their order, a pile that fits nowhere piece by piece; takes from `left`."""
        placed: list[Placed] = []
        piles = list(self._stacked(sky, bent, left, recipe))
        for a, b in recipe.swaps if piles else ():
            i, j = int(a * len(piles)), int(b * len(piles))
            piles[i], piles[j] = piles[j], piles[i]
        for turned in piles:
            laid = lay(sky, turned, recipe.mode)
            if laid is None and len(turned[0].members) > 1:
                laid = []
                for member in turned[0].members:
                    laid += lay(sky, self._single(member.pose.index, bent, recipe.mode), recipe.mode) or []
            for member in laid or ():
                left[member.pose.index] -= 1
                placed.append(member)
        return _shifted(sky, placed, recipe.shift)

    def _single(self, index: int, bent: Mapping[int, tuple[Pose, ...]], mode: str) -> list[Pile]:
        poses = bent[index]
        if poses not in self._singles:
            self._singles[poses] = self._turned(stack({index: poses}, {index: 1}, math.inf, 0.0), mode)
        return self._singles[poses]

    def _turned(self, pile: Pile, mode: str) -> list[Pile]:
        key = (mode, pile.members)
        if key not in self._turns:
            self._turns[key] = turned_piles(pile, self.shapes, mode)
        return self._turns[key]

    def _stacked(
        self, sky: Skyline, bent: Mapping[int, tuple[Pose, ...]], counts: Sequence[int], recipe: Recipe
    ) -> list[list[Pile]]:
        """The bent pieces in piles, each as it may be turned; those as deep as the box stay as they are."""
        box_mm = min(sky.v_mm, sky.u_mm)
        wanted = tuple((poses, counts[index]) for index, poses in bent.items())
        key = (recipe.mode, recipe.whole, recipe.depth, recipe.choice, recipe.neat, box_mm, wanted)
        if key not in self._piles:
            piles = _piles(box_mm, bent, counts, recipe)
            self._piles[key] = [
                [pile] if k < recipe.whole else self._turned(pile, recipe.mode) for k, pile in enumerate(piles)
            ]
        return self._piles[key]


def _piles(
    box_mm: float, bent: Mapping[int, Sequence[Pose]], counts: Sequence[int], recipe: Recipe
) -> list[Pile]:
    """Stack the bent pieces, each pile of the longest that are left."""
    left = list(counts)
    length_mm = {index: max(pose.u_mm for pose in poses) for index, poses in bent.items()}
    order = sorted(bent, key=lambda index: (-length_mm[index], index))
    piles: list[Pile] = []
    while order:
        depth_mm = box_mm if len(piles) < recipe.whole else box_mm * recipe.depth
        chosen: dict[int, int] = {}
        wanting_mm = depth_mm * recipe.choice
        for index in order:
            thickness_mm = bent[index][0].area / length_mm[index]
            chosen[index] = min(left[index], max(1, math.ceil(wanting_mm / thickness_mm)))
            wanting_mm -= chosen[index] * thickness_mm
            if wanting_mm <= 0:
                break
        least_mm = max(min(pose.v_mm for pose in bent[index]) for index in chosen)
        pile = stack({index: bent[index] for index in chosen}, chosen, max(depth_mm, least_mm), recipe.neat)
        for member in pile.members:
            left[member.pose.index] -= 1
        piles.append(pile)
        order = [index for index in order if left[index]]
    return piles


def _shifted(sky: Skyline, placed: list[Placed], share: float) -> list[Placed]:
    """Move all that was laid along the floor by a share of what it leaves free there."""
    end = max((p.u_mm + p.pose.u_mm for p in placed), default=0.0)
    cells = int(sky.last_cell(end) * share) if share > 0 and end > 0 else 0
    if cells <= 0:
        return placed
    sky.height = np.roll(sky.height, 2 * cells)
    return [p.moved(cells * CELL_MM, 0.0) for p in placed]
