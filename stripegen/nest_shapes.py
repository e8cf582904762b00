"""Distinct shapes of a nest, the turns each may take, and its profiles in a box's frame.

A box is filled from its floor: u runs along the floor, v away from it. It lies on the sheet in one of
two ways: "across", u = x and v = y (the floor is the sheet's near edge), or "along", u = y and v = x
(the floor is its long edge). A pose is a shape at one turn, seen in such a frame, its box at (0, 0).

Shapes are grown by half the gap first, so pieces that don't overlap keep the gap. A profile gives the
shape's lowest and highest v over cells of `CELL_MM` along u, as a line over each cell that never cuts
into the shape: two shapes whose profiles don't cross don't overlap.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Polygon

from stripegen.compiled import compiled
from stripegen.layout import Blank, Stock, rounded_turn
from stripegen.nest_fit import fitting_turns, rounded_up, rounding_mm, turned

CELL_MM = 0.5
OTHER = {"along": "across", "across": "along"}  # mode, in which a box lies a quarter turned and mirrored
BAND_MM = 0.25  # the same along v, for how close two pieces in one lane can come

_SEGMENTS = 16  # of a quarter turn, where a corner is grown
_STRAIGHT = 0.93  # share of a pose's height that its middle thickness reaches, if it is to lie in a lane


def grow_mm(stock: Stock, slack_mm: float = 0.0, turn_deg: float = 0.0) -> float:
    """How much a shape is grown: half the gap, what its curves may bulge, and what rounding may move it.

    Gap and slack are rounded up to the unit of moves, so that shapes at quarter turns lie on whole units.
    """
    return rounded_up(stock.gap_mm) / 2 + rounded_up(slack_mm) + rounding_mm(turn_deg)


class Pose:
    """A shape at one turn in a box's frame; it measures what the outline does, grown.

    like : a pose of the same shape, in either mode, from which quarter turns lead here
        Its grown outline is turned, instead of one drawn anew.
    """

    def __init__(self, index: int, turn_deg: float, blank: Blank, stock: Stock, mode: str, like: Pose | None = None):
        self.index = index
        self.turn_deg = turn_deg
        grow = grow_mm(stock, blank.slack_mm, turn_deg)
        points = turned(blank.outline, turn_deg)
        self.corner = points.min(axis=0) - grow  # x, y of its box before it is moved
        self._points, self._grow, self._mode, self._like = points, grow, mode, like
        self._extent = np.ptp(points, axis=0) + 2 * grow
        self.u_mm, self.v_mm = (self._extent[::-1] if mode == "along" else self._extent).tolist()

    @cached_property
    def _drawn(self) -> tuple[np.ndarray, float]:
        """The corners of its grown outline on the sheet, its box at (0, 0), and its area."""
        if self._like:
            ring, area = self._like._drawn
            for _ in range(round((self.turn_deg - self._like.turn_deg) / 90.0) % 4):
                ring = np.stack([ring[:, 1].max() - ring[:, 1], ring[:, 0]], axis=1)
            return np.clip(ring, 0.0, self._extent), area
        solid = grown(Polygon(self._points - self.corner), self._grow)
        solid = shapely.intersection(solid, shapely.box(0, 0, *self._extent))
        ring = shapely.get_coordinates(shapely.get_exterior_ring(solid))[:-1]
        return np.clip(ring, 0.0, self._extent), float(solid.area)

    @property
    def area(self) -> float:
        return self._drawn[1]

    @cached_property
    def ring(self) -> np.ndarray:
        """The corners of its grown outline in the box's frame."""
        ring, _ = self._drawn
        return ring[:, ::-1] if self._mode == "along" else ring

    @cached_property
    def profile(self) -> Profile:
        return Profile(*profile(self.ring, CELL_MM))

    @cached_property
    def sides(self) -> tuple[np.ndarray, np.ndarray]:
        """Least and greatest u over bands along v, two values a band."""
        left, right = profile(self.ring[:, ::-1], BAND_MM)
        return left.ravel(), right.ravel()

    @property
    def lies(self) -> bool:
        return self.u_mm >= self.v_mm - 1e-9

    @cached_property
    def is_straight(self) -> bool:
        """Floor and top lie flat for most of its length: it can lie in a lane."""
        middle = np.median(self.profile.high - self.profile.low)
        return bool(middle >= _STRAIGHT * self.v_mm)

    def looks_like(self, other: Pose) -> bool:
        """Whether nothing tells the two apart but the turn."""
        return (
            abs(self.u_mm - other.u_mm) < 1e-6
            and abs(self.v_mm - other.v_mm) < 1e-6
            and np.allclose(self.profile.low, other.profile.low, rtol=0, atol=1e-6)
            and np.allclose(self.profile.high, other.profile.high, rtol=0, atol=1e-6)
            and np.allclose(self.sides, other.sides, rtol=0, atol=1e-6)
        )


class Profile:
    """Lowest and highest v over cells along u, flattened: two values a cell, left and right."""

    def __init__(self, low: np.ndarray, high: np.ndarray):
        self.low, self.high = low.ravel(), high.ravel()
        self.cells = len(low)


@compiled()
def _spanned(ring, cell_mm, low, high):
    """Least and greatest second coordinate of a ring at the edges of cells of its first; untouched: none there."""
    for k in range(len(ring)):
        x0, y0 = ring[k - 1]
        x1, y1 = ring[k]
        if abs(x1 - x0) <= 1e-12:
            continue
        first = math.ceil(min(x0, x1) / cell_mm - 1e-9)
        last = math.floor(max(x0, x1) / cell_mm + 1e-9)
        for c in range(max(0, first), min(last, len(low) - 1) + 1):
            y = y0 + (c * cell_mm - x0) / (x1 - x0) * (y1 - y0)
            low[c] = min(low[c], y)
            high[c] = max(high[c], y)


@compiled()
def _covered(low, ring, cell_mm, sign):
    """Lower each cell's line until no corner of the ring lies below it; level it if that is lower still."""
    cells = len(low)
    least = np.full(cells, np.inf)
    excess = np.zeros(cells)
    for c in range(cells):
        if np.isfinite(low[c, 0]) and np.isfinite(low[c, 1]):
            least[c] = min(low[c, 0], low[c, 1])
    for k in range(len(ring)):
        c = min(max(int(ring[k, 0] / cell_mm), 0), cells - 1)
        least[c] = min(least[c], sign * ring[k, 1])
    for c in range(cells):
        if not (np.isfinite(low[c, 0]) and np.isfinite(low[c, 1])):
            least[c] = min(least[c], min(low[c, 0], low[c, 1]))
            low[c] = least[c]
    for k in range(len(ring)):
        c = min(max(int(ring[k, 0] / cell_mm), 0), cells - 1)
        share = ring[k, 0] / cell_mm - c
        excess[c] = max(excess[c], low[c, 0] * (1 - share) + low[c, 1] * share - sign * ring[k, 1])
    for c in range(cells):
        low[c] -= excess[c]
        if min(low[c, 0], low[c, 1]) < least[c]:
            low[c] = least[c]


def profile(ring: np.ndarray, cell_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest second coordinate of a ring over cells of its first, from 0.

    Returns two (m, 2) arrays, the values at a cell's left and right edge; the line between them stays
    outside the ring. Over a cell that the ring does not span it is level.
    """
    ring = np.ascontiguousarray(ring, dtype=float)
    cells = max(1, math.ceil(ring[:, 0].max() / cell_mm - 1e-9))
    floor, top = np.full(cells + 1, np.inf), np.full(cells + 1, -np.inf)
    _spanned(ring, cell_mm, floor, top)
    low = np.stack([floor[:-1], floor[1:]], axis=1)
    high = np.stack([-top[:-1], -top[1:]], axis=1)
    _covered(low, ring, cell_mm, 1.0)
    _covered(high, ring, cell_mm, -1.0)
    return low, -high


class Shape:
    """One distinct shape, its copies, and its poses in either mode."""

    def __init__(self, index: int, blank: Blank, stock: Stock):
        self.index = index
        self.blank = blank
        self.stock = stock
        self.keys = [blank.key]
        self.size = tuple(np.max(blank.outline, axis=0).tolist())
        self.area = float(grown(Polygon(blank.outline), grow_mm(stock, blank.slack_mm)).area)
        level = _level_turn(blank.outline)
        self.turns_deg = fitting_turns(blank, stock, [level + quarter for quarter in (0, 90, 180, 270)])
        self._poses: dict[str, tuple[Pose, ...]] = {}
        self._by_turn: dict[str, dict[float, Pose]] = {}
        self._firsts: list[Pose] = []

    @property
    def is_free(self) -> bool:
        return self.blank.turns == "any"

    @cached_property
    def is_bent(self) -> bool:
        """It lies straight at none of its turns; how it stands is nothing to lanes."""
        poses = self.poses("along")
        lying = [pose for pose in poses if pose.lies] or poses
        return not any(pose.is_straight for pose in lying)

    def poses(self, mode: str) -> tuple[Pose, ...]:
        """At every turn that it may take and that brings another shape."""
        if mode not in self._poses:
            self._by_turn[mode] = {turn: self._drawn_once(turn, mode) for turn in self.turns_deg}
            kept: list[Pose] = []
            for pose in self._by_turn[mode].values():
                if not any(pose.looks_like(other) for other in kept):
                    kept.append(pose)
            self._poses[mode] = tuple(kept)
        return self._poses[mode]

    def _drawn_once(self, turn_deg: float, mode: str) -> Pose:
        quarters = (first for first in self._firsts if rounded_turn(turn_deg - first.turn_deg) % 90.0 == 0.0)
        like = next(quarters, None)
        pose = Pose(self.index, turn_deg, self.blank, self.stock, mode, like)
        if like is None:
            self._firsts.append(pose)
        return pose

    def pose(self, mode: str, turn_deg: float) -> Pose | None:
        """At one turn; None: it may not take that."""
        self.poses(mode)
        return self._by_turn[mode].get(rounded_turn(turn_deg))


def group(blanks: Sequence[Blank], stock: Stock) -> list[Shape]:
    """One shape for all blanks of the same outline, holes, slack and turns, in the order given."""
    shapes: dict[tuple, Shape] = {}
    for blank in blanks:
        same = (blank.outline, blank.holes, blank.slack_mm, blank.turns, blank.lean_deg)
        if same in shapes:
            shapes[same].keys.append(blank.key)
        else:
            shapes[same] = Shape(len(shapes), blank, stock)
    return list(shapes.values())


def grown(solid: Polygon, grow: float, segments: int = _SEGMENTS) -> Polygon:
    """A solid polygon grown, exactly along its straight sides, by a little more at its corners: the fewer
    segments to a quarter turn, the more."""
    if grow == 0.0:
        return solid
    # A round corner's chords lie inside it: grown more, they don't, but then the sides are too far out.
    rounded = shapely.buffer(solid, grow / math.cos(math.pi / (4 * segments)), quad_segs=segments)
    # The chords of a mitred end's corners are longer than others.
    if (least := shapely.distance(shapely.get_exterior_ring(rounded), solid)) < grow:
        rounded = shapely.buffer(solid, grow * grow / (least * math.cos(math.pi / (4 * segments))), quad_segs=segments)
    pointed = shapely.buffer(solid, grow, join_style="mitre")
    both = shapely.intersection(rounded, pointed)
    # Buffering may simplify by a hundredth of the distance; make up for what that took.
    short = grow - shapely.distance(shapely.get_exterior_ring(both), solid)
    if short > 1e-8:
        both = shapely.buffer(both, short, join_style="mitre")
    return Polygon(shapely.get_exterior_ring(both))


def _level_turn(outline: Sequence[tuple[float, float]]) -> float:
    """The turn that lays the longer side of the least box round the outline along x, in (-90, 90]."""
    box = shapely.get_coordinates(shapely.oriented_envelope(Polygon(outline)))
    sides = np.diff(box[:3], axis=0)
    dx, dy = max(sides, key=lambda side: round(math.hypot(*side), 4))
    turn = -math.degrees(math.atan2(dy, dx))
    turn = (turn + 90.0) % 180.0 - 90.0
    return 0.0 if abs(turn) < 1e-6 else 90.0 if abs(abs(turn) - 90.0) < 1e-6 else turn
