"""A filled box made shorter: its pieces pushed together, each moved and turned as its neighbours let it.

Recipes lay bent pieces at quarter turns, in piles of one outline. Here the box is made a little shorter, all overlaps that
brings are pushed apart, and so on until that fails; then pieces from the far end are taken out and laid where
there is more room. What comes of it is checked exactly against the outlines, else the box stays as it was.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from stripegen.layout import Stock, rounded_turn
from stripegen.nest_contacts import come_apart
from stripegen.nest_fill import Filled
from stripegen.nest_fit import rounded_up, rounding_mm, turned
from stripegen.nest_shapes import Pose, Shape, grow_mm, grown
from stripegen.nest_skyline import Placed
from stripegen.nest_voids import roomiest, voids

_APART_MM = (1e-3, 4e-3, 1e-2)  # so much farther apart than asked, the next where the check fails
_SEGMENTS = 2  # of a quarter turn, where a corner is grown
_ACROSS_MM2 = 1.0  # two bodies that lie across one another share at least so much
_SPAN_MM = 8.0  # between corners of a body, at most
_EACH = 3  # of the corners that can't touch, one is looked at
_FIRST = 0.01  # of the length: the first step that is tried
_STEPS = 2000  # pushes at most to settle after one of them
_SHORTER = 0.0004  # of the length, that a piece laid elsewhere must gain
_AFTER = 0.001  # and so much more, as often as it goes
_FROM_END = 8.0  # pieces from the far end, the mean of which one is taken out
_WIDEST_MM = 6.0  # half the width of a piece that is laid elsewhere, at most
_SWELL_STEPS = 60  # pushes in which a piece that was laid elsewhere comes to its width
_PLACES = 3  # for a piece that was taken out, of the best
_DRAWN = 1000  # that are tried to find them


class Bodies:
    """The pieces in a box as nest_contacts has them."""

    def __init__(self, shapes: Sequence[Shape], placed: Sequence[Placed], mode: str):
        self.shapes, self.mode = shapes, mode
        self.of = [member.pose.index for member in placed]
        kinds = sorted(set(self.of))
        number = {index: k for k, index in enumerate(kinds)}
        self._frames = {index: _frame(shapes[index]) for index in kinds}
        rings = [self._frames[index][1] for index in kinds]
        ahead = [np.roll(ring, -1, axis=0) - ring for ring in rings]
        long = [np.hypot(*step.T) for step in ahead]
        self.kind = np.array([number[index] for index in self.of])
        self.radius = np.array([np.hypot(*ring.T).max() for ring in rings])
        self.arrays = (
            self.kind,
            np.array([shapes[index].is_free and not shapes[index].blank.shares_cuts for index in self.of]),
            np.cumsum([0, *map(len, rings)]),
            np.concatenate(rings),
            np.concatenate([np.c_[step / far[:, None], far] for step, far in zip(ahead, long, strict=True)]),
            self.radius,
            np.concatenate([_touching(ring) for ring in rings]),
        )
        self.middles = [_middle(ring) for ring in rings]
        self.half = [Polygon(ring).area / Polygon(ring).length for ring in rings]
        self._placed = placed

    @property
    def turnable(self) -> np.ndarray:
        return self.arrays[1]

    def places(self) -> np.ndarray:
        """Where they lie now: x, y, turn of each one's centre."""
        return np.array([self._place(member) for member in self._placed])

    def _place(self, member: Placed) -> tuple[float, float, float]:
        pose = member.pose
        x, y = (member.u_mm, member.v_mm) if self.mode == "across" else (member.v_mm, member.u_mm)
        centre = turned([self._frames[pose.index][0]], pose.turn_deg)[0] - pose.corner
        return x + centre[0], y + centre[1], math.radians(pose.turn_deg)

    def reach_mm(self, places: np.ndarray) -> float:
        """How far they reach along the feed."""
        first, corners = self.arrays[2], self.arrays[3]
        far = 0.0
        for (_, y, turn), kind in zip(places.tolist(), self.kind.tolist(), strict=True):
            ring = corners[first[kind] : first[kind + 1]]
            far = max(far, y + float((math.sin(turn) * ring[:, 0] + math.cos(turn) * ring[:, 1]).max()))
        return far

    def are_clear(self, places: np.ndarray) -> bool:
        """Whether none lies across another, which has no depth that would be seen."""
        first, corners = self.arrays[2], self.arrays[3]
        rings = []
        for (x, y, turn), kind in zip(places.tolist(), self.kind.tolist(), strict=True):
            c, s = math.cos(turn), math.sin(turn)
            rings.append(Polygon(corners[first[kind] : first[kind + 1]] @ np.array([[c, s], [-s, c]]) + (x, y)))
        solid = np.array(rings)
        a, b = shapely.STRtree(solid).query(solid, predicate="intersects")
        a, b = a[a < b], b[a < b]
        return bool(shapely.area(shapely.intersection(solid[a], solid[b])).max(initial=0.0) < _ACROSS_MM2)

    def laid(self, places: np.ndarray) -> list[Placed]:
        """Poses where bodies lie, on whole units."""
        laid = []
        for member, (x, y, turn) in zip(self._placed, places.tolist(), strict=True):
            pose = member.pose
            turn_deg = rounded_turn(math.degrees(turn))
            if turn_deg != pose.turn_deg:
                shape = self.shapes[pose.index]
                pose = Pose(pose.index, turn_deg, shape.blank, shape.stock, self.mode)
            centre = turned([self._frames[pose.index][0]], pose.turn_deg)[0] - pose.corner
            x, y = round(float(x - centre[0]), 4), round(float(y - centre[1]), 4)
            laid.append(Placed(pose, *((x, y) if self.mode == "across" else (y, x))))
        return laid


def _frame(shape: Shape) -> tuple[np.ndarray, np.ndarray]:
    """A shape's centre in its own frame, and its grown ring about that."""
    solid = Polygon(shape.blank.outline)
    ring = shapely.get_exterior_ring(grown(solid, grow_mm(shape.stock, shape.blank.slack_mm, 1.0), _SEGMENTS))
    points = shapely.get_coordinates(ring if shapely.is_ccw(ring) else shapely.reverse(ring))[:-1]
    centre = np.array(shapely.oriented_envelope(solid).centroid.coords[0])
    parts = []
    for start, end in zip(points, np.roll(points, -1, axis=0), strict=True):
        count = max(1, math.ceil(math.dist(start, end) / _SPAN_MM))
        parts.append(start + (end - start) * (np.arange(count) / count)[:, None])
    return centre, np.concatenate(parts) - centre


def _touching(ring: np.ndarray) -> np.ndarray:
    """Which corners are looked at: those that stand out, which alone can touch another body, and a few of the others, so
    that none is seen to lie across another too late."""
    behind, ahead = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    bend = (behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]) / (np.hypot(*behind.T) * np.hypot(*ahead.T))
    return (bend >= 1e-9) | (np.arange(len(ring)) % _EACH == 0)


def _middle(ring: np.ndarray) -> np.ndarray:
    """Points of a piece's middle line: where the two sides from one end to the other are half way."""
    ends = sorted((int(ring[:, axis].argmin()), int(ring[:, axis].argmax())) for axis in (0, 1))
    first, last = max(ends, key=lambda pair: math.dist(ring[pair[0]], ring[pair[1]]))
    first, last = min(first, last), max(first, last)
    sides = ring[first : last + 1], np.concatenate([ring[last:], ring[: first + 1]])[::-1]
    halves = []
    for side in sides:
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(side, axis=0).T))])
        at = np.linspace(0.03, 0.97, 24) * along[-1]
        halves.append(np.stack([np.interp(at, along, side[:, axis]) for axis in (0, 1)], axis=1))
    return (halves[0] + halves[1]) / 2


@dataclass(frozen=True, slots=True)
class Pressing:
    """How hard a box is pressed.

    least: the least share of its length that is worth while. steps: in which all pieces are pushed as they lie, at most.
    tries, pushes: how often each piece is laid elsewhere, on average, and how often pieces are pushed for that, at most.
    """

    least: float
    steps: int
    tries: int
    pushes: int


class Press:
    """Pushes the pieces of one box together; `pushes`, each step one of each body, are what it may yet do."""

    def __init__(self, bodies: Bodies, width_mm: float):
        self.bodies, self.width_mm = bodies, width_mm
        self.pushes = 0
        self.thin = np.zeros(len(bodies.of))

    def settled(self, places: np.ndarray, length_mm: float, apart_mm: float, thin: np.ndarray | None = None) -> bool:
        """Whether all come to lie in a box of this length without overlap; places are changed."""
        thin = self.thin.copy() if thin is None else thin
        swell = float(thin.max()) / _SWELL_STEPS
        are_apart, steps = come_apart(
            places, thin, swell, self.bodies.arrays, self.width_mm, length_mm, apart_mm, _STEPS
        )  # fmt: skip
        self.pushes -= steps * len(places)
        return are_apart and self.bodies.are_clear(places)

    def squeezed(
        self, places: np.ndarray, length_mm: float, share: float, least: float, apart_mm: float = _APART_MM[0]
    ) -> tuple[np.ndarray, float]:
        """Shorter by a share each time, half as much where that fails, down to the least."""
        while share >= least and self.pushes > 0:
            shorter = places.copy()
            shorter[:, 1] *= 1.0 - share
            if self.settled(shorter, length_mm * (1.0 - share), apart_mm):
                places, length_mm = shorter, length_mm * (1.0 - share)
            else:
                share /= 2
        return places, length_mm

    def moved(self, places: np.ndarray, length_mm: float, tries: int) -> tuple[np.ndarray, float]:
        """Pieces from the far end are laid where there is more room, so many times."""
        chance = random.Random(1)
        state = np.array([chance.getrandbits(63) | 1], np.uint64)
        found = np.empty((_PLACES, 4))
        far = places[:, 1]
        for _ in range(tries):
            if self.pushes <= 0:
                break
            order = np.argsort(-far, kind="stable")
            k = int(order[min(len(order) - 1, int(chance.expovariate(1 / _FROM_END)))])
            kind = self.bodies.kind[k]
            if self.bodies.half[kind] > _WIDEST_MM:
                continue
            free = voids(places, self.bodies.arrays, self.width_mm, length_mm, k)
            half, turn = self.bodies.half[kind], places[k, 2]
            roomiest(free, self.bodies.middles[kind], half, turn, self.bodies.turnable[k], _DRAWN, state, found)
            room, *there = found[chance.randrange(_PLACES)]
            if room <= 0.0:
                continue
            shorter, thin = places.copy(), self.thin.copy()
            shorter[k], thin[k] = there, half
            shorter[:, 1] *= 1.0 - _SHORTER
            if self.settled(shorter, length_mm * (1.0 - _SHORTER), _APART_MM[0], thin):
                places, length_mm = self.squeezed(shorter, length_mm * (1.0 - _SHORTER), _AFTER, _AFTER)
                far = places[:, 1]
        return places, length_mm


def press(filled: Filled, shapes: Sequence[Shape], stock: Stock, width_mm: float, how: Pressing) -> Filled:
    """The same pieces in a shorter box, or the same as it was, as it is where none of them is bent."""
    bent_mm2 = math.fsum(member.pose.area for member in filled.placed if shapes[member.pose.index].is_bent)
    if not bent_mm2:
        return filled
    bodies = Bodies(shapes, filled.placed, filled.mode)
    push = Press(bodies, width_mm)
    places, length_mm = bodies.places(), filled.reach_mm
    push.pushes = how.steps * len(places)
    places, length_mm = push.squeezed(places, length_mm, _FIRST, how.least)
    if length_mm == filled.reach_mm:
        return filled  # most likely lanes that leave nothing of the width
    if how.tries:
        push.pushes = how.pushes * (bent_mm2 / filled.area) ** 2  # straight strips lie in lanes, which leave no such room
        places, length_mm = push.moved(places, length_mm, how.tries * len(places))
        push.pushes = how.steps * len(places)
        places, length_mm = push.squeezed(places, length_mm, _AFTER, how.least)
    for apart_mm in _APART_MM:
        laid = bodies.laid(places)
        reach_mm = _reach_mm(laid, filled.mode)
        if reach_mm < filled.reach_mm and _is_sound(laid, shapes, stock, filled.mode, width_mm):
            return replace(filled, placed=tuple(laid), reach_mm=reach_mm)
        push.settled(places, length_mm + 2 * apart_mm, apart_mm)
    return filled


def _reach_mm(laid: Sequence[Placed], mode: str) -> float:
    if mode == "across":
        return max(member.v_mm + member.pose.v_mm for member in laid)
    return max(member.u_mm + member.pose.u_mm for member in laid)


def _is_sound(laid: Sequence[Placed], shapes: Sequence[Shape], stock: Stock, mode: str, width_mm: float) -> bool:
    """Whether all lie within the box and keep their distances, by their outlines."""
    outlines, slacks = [], []
    for member in laid:
        pose = member.pose
        x, y = (member.u_mm, member.v_mm) if mode == "across" else (member.v_mm, member.u_mm)
        across = pose.u_mm if mode == "across" else pose.v_mm
        if min(x, y) < 0.0 or x + across > width_mm:
            return False
        blank = shapes[pose.index].blank
        outlines.append(Polygon(turned(blank.outline, pose.turn_deg) - pose.corner + (x, y)))
        slacks.append(rounded_up(blank.slack_mm) + rounding_mm(pose.turn_deg))
    solid, slack = np.array(outlines), np.array(slacks)
    gap_mm = rounded_up(stock.gap_mm)
    near = shapely.STRtree(solid).query(solid, predicate="dwithin", distance=gap_mm + 2 * float(slack.max()))
    a, b = near[:, near[0] < near[1]]
    apart = shapely.distance(solid[a], solid[b])
    return bool((apart >= gap_mm + slack[a] + slack[b] - 1e-7).all() and (apart > 0.0).all())
