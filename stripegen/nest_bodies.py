"""The pieces of a box as bodies, as nest_contacts has them: rings about a centre, and where they lie."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import Polygon

from stripegen.layout import rounded_turn
from stripegen.nest_fit import turned
from stripegen.nest_shapes import Pose, Shape, grow_mm, grown
from stripegen.nest_skyline import Placed

_SEGMENTS = 3  # of a quarter turn, where a corner is grown
_ACROSS_MM2 = 1.0  # two bodies that lie across one another share at least so much
_CAP = 3.0  # half widths: no end is farther along the ring from the corner that stands out most
_MIDDLES = 24  # points of a middle line
_KEPT = 256  # kinds, of which it is kept how others lie in their stead
_DEEP_MM = 0.35  # half of how deep one that is only squeezed lies in another, at most ...
_DEEP = 0.2  # ... or so much of half its width, if that is less
_SPAN_MM = 8.0  # between corners of a body, at most
_EACH = 3  # of the corners that can't touch, one is looked at
_PLAIN_MM, _PLAIN_SPAN_MM = 0.08, 12.0  # how far off a plainer ring may be, and between its corners


class Bodies:
    """The pieces in a box as nest_contacts has them."""

    def __init__(self, shapes: Sequence[Shape], placed: Sequence[Placed], mode: str):
        self.shapes, self.mode = shapes, mode
        self.of = [member.pose.index for member in placed]
        kinds = sorted(set(self.of))
        number = {index: k for k, index in enumerate(kinds)}
        self._frames = {index: _frame(shapes[index]) for index in kinds}
        rings = [self._frames[index][1] for index in kinds]
        self.kind = np.array([number[index] for index in self.of])
        self.turnable = np.array([shapes[index].is_free and not shapes[index].blank.shares_cuts for index in self.of])
        self.arrays = self._arrays(rings)
        self.plain = self._arrays([_plain(ring) for ring in rings])  # by which places are only compared
        self.middles = [_middle(ring) for ring in rings]
        self._middles = np.stack(self.middles) @ (1.0, 1j)
        self.likeness = lru_cache(_KEPT)(self._likeness)
        self.half = [Polygon(ring).area / Polygon(ring).length for ring in rings]
        self._placed = placed
        self.corner, self.owner = self._laid_out(rings)
        cores = list(map(_core, rings))
        core_corner, self._core_owner = self._laid_out(cores)
        self._cores = np.concatenate(cores)[core_corner]

    def _laid_out(self, rings: Sequence[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
        """All bodies' corners, by their numbers among those of all kinds' rings, and whose they are."""
        count = np.array(list(map(len, rings)))
        numbers = np.split(np.arange(count.sum()), np.cumsum(count)[:-1])
        return np.concatenate([numbers[kind] for kind in self.kind]), np.repeat(np.arange(len(self.kind)), count[self.kind])

    def _arrays(self, rings: Sequence[np.ndarray]) -> tuple[np.ndarray, ...]:
        ahead = [np.roll(ring, -1, axis=0) - ring for ring in rings]
        long = [np.hypot(*step.T) for step in ahead]
        return (
            self.kind,
            self.turnable,
            np.cumsum([0, *map(len, rings)]),
            np.concatenate(rings),
            np.concatenate([np.c_[step / far[:, None], far] for step, far in zip(ahead, long, strict=True)]),
            np.array([np.hypot(*ring.T).max() for ring in rings]),
            np.concatenate([_touching(ring) for ring in rings]),
        )

    def places(self) -> np.ndarray:
        """Where they lie now: x, y, turn of each one's centre."""
        return np.array([self._place(member) for member in self._placed])

    def _place(self, member: Placed) -> tuple[float, float, float]:
        pose = member.pose
        x, y = (member.u_mm, member.v_mm) if self.mode == "across" else (member.v_mm, member.u_mm)
        centre = turned([self._frames[pose.index][0]], pose.turn_deg)[0] - pose.corner
        return x + centre[0], y + centre[1], math.radians(pose.turn_deg)

    def _likeness(self, kind: int) -> tuple[np.ndarray, np.ndarray]:
        """How each kind lies most like this one, in its frame: how far apart the points of their middle lines are then, as a
        root of mean squares, and (kinds, 3) x, y, turn; either end first."""
        mine = self._middles[kind] - self._middles[kind].mean()
        centres = self._middles.mean(axis=1)
        best_mm, best = np.full(len(centres), np.inf), np.ones(len(centres), complex)
        for others in (self._middles, self._middles[:, ::-1]):
            others = others - centres[:, None]
            met = others.conj() @ mine
            turns = met / np.maximum(np.abs(met), 1e-12)
            off_mm = np.sqrt((np.abs(turns[:, None] * others - mine) ** 2).mean(axis=1))
            best = np.where(off_mm < best_mm, turns, best)
            best_mm = np.minimum(best_mm, off_mm)
        moves = self._middles[kind].mean() - best * centres
        return best_mm, np.stack([moves.real, moves.imag, np.angle(best)], axis=1)

    def in_stead(self, places: np.ndarray, j: int, k: int) -> tuple[float, float, float]:
        """Where body k lies most as body j does now."""
        (x, y, turn), (dx, dy, by) = places[j].tolist(), self.likeness(self.kind[j])[1][self.kind[k]].tolist()
        c, s = math.cos(turn), math.sin(turn)
        return x + c * dx - s * dy, y + s * dx + c * dy, turn + by

    def reach_mm(self, places: np.ndarray) -> float:
        """How far they reach along the feed."""
        x, y = self.arrays[3][self.corner].T
        turn = places[self.owner, 2]
        return float((places[self.owner, 1] + np.sin(turn) * x + np.cos(turn) * y).max())

    def are_clear(self, places: np.ndarray) -> bool:
        """Whether none lies across another, which has no depth that would be seen."""
        return bool(shapely.area(self._shared(places)).max(initial=0.0) < _ACROSS_MM2)

    def are_shallow(self, places: np.ndarray) -> bool:
        """Whether none lies so deep in another that it isn't only squeezed."""
        cores = _solids(places, self._cores, self._core_owner)
        return shapely.STRtree(cores).query(cores, predicate="intersects").shape[1] == len(cores)

    def _shared(self, places: np.ndarray) -> np.ndarray:
        """What each two have in common."""
        solid = _solids(places, self.arrays[3][self.corner], self.owner)
        a, b = shapely.STRtree(solid).query(solid, predicate="intersects")
        a, b = a[a < b], b[a < b]
        return shapely.intersection(solid[a], solid[b])

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
    return centre, _spanned(points, _SPAN_MM) - centre


def _solids(places: np.ndarray, corners: np.ndarray, owner: np.ndarray) -> np.ndarray:
    """Bodies in the box, of corners about their centres."""
    (x, y), c, s = corners.T, np.cos(places[owner, 2]), np.sin(places[owner, 2])
    there = places[owner, :2] + np.stack([c * x - s * y, s * x + c * y], axis=1)
    return shapely.polygons(shapely.linearrings(there, indices=owner))


def _core(ring: np.ndarray) -> np.ndarray:
    """What is left of a body within its sides, by as much as half of how deep another may lie in it."""
    solid = Polygon(ring)
    deep_mm = min(_DEEP_MM, _DEEP * solid.area / solid.length)
    parts = shapely.get_parts(shapely.buffer(solid, -deep_mm, join_style="mitre"))
    return shapely.get_coordinates(max(parts, key=shapely.area).exterior)[:-1]


def _spanned(ring: np.ndarray, most_mm: float) -> np.ndarray:
    """The ring with more corners, none farther from the next than that."""
    parts = []
    for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        count = max(1, math.ceil(math.dist(start, end) / most_mm))
        parts.append(start + (end - start) * (np.arange(count) / count)[:, None])
    return np.concatenate(parts)


def _plain(ring: np.ndarray) -> np.ndarray:
    """The ring with fewer corners."""
    plain = shapely.get_exterior_ring(shapely.simplify(Polygon(ring), _PLAIN_MM))
    points = shapely.get_coordinates(plain if shapely.is_ccw(plain) else shapely.reverse(plain))[:-1]
    return _spanned(points, _PLAIN_SPAN_MM)


def _touching(ring: np.ndarray) -> np.ndarray:
    """Which corners are looked at: those that stand out, which alone can touch another body, and a few of the others, so
    that none is seen to lie across another too late."""
    behind, ahead = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    bend = (behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]) / (
        np.hypot(*behind.T) * np.hypot(*ahead.T)
    )
    return (bend >= 1e-9) | (np.arange(len(ring)) % _EACH == 0)


def _middle(ring: np.ndarray) -> np.ndarray:
    """Points of a piece's middle line: where the two sides from one end to the other are half way."""
    corners = sorted((int(ring[:, axis].argmin()), int(ring[:, axis].argmax())) for axis in (0, 1))
    first, last = sorted(max(corners, key=lambda pair: math.dist(ring[pair[0]], ring[pair[1]])))
    closed = np.concatenate([ring, ring[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])

    def at(way: np.ndarray) -> np.ndarray:
        return np.stack([np.interp(way % along[-1], along, closed[:, axis]) for axis in (0, 1)], axis=-1)

    # The corner that stands out most is on one side of its end; in the middle of that what lies as far ahead on the ring
    # as behind is nearest.
    half = Polygon(ring).area / along[-1]
    around = np.linspace(-1.0, 1.0, 61) * _CAP * half
    ends = []
    for way in (along[first] + around, along[last] + around):
        across = np.hypot(*(at(way + around[-1]) - at(way - around[-1])).T)
        ends.append(way[across.argmin()])
    ahead_mm = (ends[1] - ends[0]) % along[-1]
    begin = 4.0 * half / along[-1]  # round half the end and as far on
    share = np.linspace(begin, 1.0 - begin, _MIDDLES)
    return (at(ends[0] + share * ahead_mm) + at(ends[0] - share * (along[-1] - ahead_mm))) / 2
