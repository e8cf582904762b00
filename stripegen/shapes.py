"""Shapes on a wall with true edges, and their samples in a plane.

A shape is bounded by pieces of curves. To be cut by others (overlay.py) each is sampled finely in the plane
(mean radius x around, down), where a strip that winds never meets itself by chance, and every segment of its
samples can be traced back to its curve. So what is cut has exact edges, however coarse the samples.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from stripegen.carrying import carried
from stripegen.curves import EXACT_DIGITS, Curve, traits
from stripegen.errors import GeometryError
from stripegen.surface import Wall

CHORD_MM = 0.002  # samples follow their curve this closely; decides only what meets what
SAME_MM = 1e-7  # a point this near to a curve's samples is on them

FULL_TURN = 2 * math.pi


@dataclass(frozen=True, slots=True)
class Edge:
    """A stretch of a curve, from t0 to t1 (either may be the greater)."""

    curve: Curve
    t0: float
    t1: float

    def turned(self, turn_rad: float) -> Edge:
        return Edge(self.curve.turned(turn_rad), self.t0, self.t1)

    def samples(self) -> np.ndarray:
        """Values of t, both ends among them, whose points follow the curve within CHORD_MM.

        Between the ends they are the curve's own: equal parts of blocks of t, as many as a block is bent. So
        two edges of one curve have the same samples where both are, and leave no slivers between them.
        """
        low, high = min(self.t0, self.t1), max(self.t0, self.t1)
        size = self.curve.block_t
        blocks = size * np.arange(math.floor(low / size), math.ceil(high / size))
        sag = self._sag(blocks, size)
        if np.all(sag < 1e-9):
            return np.array([self.t0, self.t1])
        # a quarter of the sag for every halving; past the point to which the wall tapers there is none
        halvings = np.where(np.isfinite(sag), np.ceil(np.log2(np.maximum(sag, 1e-9) / CHORD_MM) / 2 + 0.1), 6)
        counts = 2 ** np.maximum(halvings, 0).astype(int)
        before = np.cumsum(counts) - counts
        shares = (np.arange(counts.sum()) - np.repeat(before, counts)) / np.repeat(counts, counts)
        inner = np.repeat(blocks, counts) + size * shares
        clear = 1e-6 * size  # of the ends, whose rounding would fold the chain
        t = np.concatenate([[low], inner[(inner > low + clear) & (inner < high - clear)], [high]])
        return t if self.t0 <= self.t1 else t[::-1]

    def _sag(self, blocks: np.ndarray, size: float) -> np.ndarray:
        """How far the curve leaves the chords of blocks of t."""
        shares = np.linspace(0, 1, 5)[:, None]
        points = plane(self.curve, blocks + size * shares, self.curve.wall.mean_radius_mm)
        chords = points[0] + shares[:, :, None] * (points[-1] - points[0])
        return np.abs(points - chords).max(axis=(0, 2))


Loop = tuple[Edge, ...]


def plane(curve: Curve, t, scale: float) -> np.ndarray:
    around, down = curve.at(t)
    return np.stack([scale * around, down], axis=-1)


@dataclass(frozen=True)
class Trace:
    """A loop's samples: points (n, 2) of a closed chain, and the edge and t-range of each segment."""

    points: np.ndarray
    edges: np.ndarray
    t0: np.ndarray
    t1: np.ndarray

    @classmethod
    def of(cls, loop: Loop) -> Trace:
        points, edges, t0, t1, known = [], [], [], [], {}
        scale = loop[0].curve.wall.mean_radius_mm
        for index, edge in enumerate(loop):
            # a zigzag's edges are copies of a few
            around = float(edge.curve.at(edge.t0)[0])
            like = (traits(edge.curve, around, EXACT_DIGITS), edge.t0, edge.t1)
            if like not in known:
                t = edge.samples()
                known[like] = t, plane(edge.curve, t[:-1], scale) - (scale * around, 0.0)
            t, laid = known[like]
            points.append(laid + (scale * around, 0.0))
            edges.append(np.full(len(t) - 1, index))
            t0.append(t[:-1])
            t1.append(t[1:])
        chain = np.concatenate(points)
        if not np.isfinite(chain).all():
            raise GeometryError("a line runs past the point to which the wall tapers", "end it higher on the wall")
        return cls(chain, np.concatenate(edges), np.concatenate(t0), np.concatenate(t1))

    def moved(self, across_mm: float) -> Trace:
        return replace(self, points=self.points + (across_mm, 0.0))


@dataclass(frozen=True)
class Shape:
    """A part of a wall: an outer loop of edges, end to end, and the loops of its holes."""

    outer: Loop
    holes: tuple[Loop, ...] = ()

    def turned(self, turn_rad: float) -> Shape:
        """The same shape further round the cup, made once."""
        if not turn_rad:
            return self
        if turn_rad not in self._turned:
            outer, *holes = (tuple(edge.turned(turn_rad) for edge in loop) for loop in self.loops)
            shape = Shape(outer, tuple(holes))
            across_mm = turn_rad * outer[0].curve.wall.mean_radius_mm
            shape.__dict__["traces"] = tuple(trace.moved(across_mm) for trace in self.traces)
            first, own_rad = self.origin
            shape.__dict__["origin"] = (first, own_rad + turn_rad)
            self._turned[turn_rad] = shape
        return self._turned[turn_rad]

    @cached_property
    def origin(self) -> tuple[Shape, float]:
        """The shape of which this is a copy, further round the cup by so much."""
        return self, 0.0

    def as_first(self, made: Callable[[Shape], list[Shape]], known: dict[int, list[Shape]]) -> list[Shape]:
        """What is made of this shape, made once for all its copies, whose results are kept in `known`."""
        first, turn_rad = self.origin
        if id(first) not in known:
            known[id(first)] = made(first)
        return [shape.turned(turn_rad) for shape in known[id(first)]]

    @cached_property
    def _turned(self) -> dict[float, Shape]:
        return {}

    def carried(self, wall: Wall) -> Shape:
        """The same part of the cup on another coat of it."""
        if wall == self.outer[0].curve.wall:
            return self
        outer, *holes = (
            tuple(Edge(carried(edge.curve, wall), edge.t0, edge.t1) for edge in loop) for loop in self.loops
        )
        return Shape(outer, tuple(holes))

    @property
    def loops(self) -> tuple[Loop, ...]:
        return (self.outer, *self.holes)

    @cached_property
    def traces(self) -> tuple[Trace, ...]:
        return tuple(Trace.of(loop) for loop in self.loops)

    @cached_property
    def polygon(self) -> shapely.Polygon:
        """In the plane (mean radius x around, down), within CHORD_MM."""
        outer, *holes = (trace.points for trace in self.traces)
        return shapely.Polygon(outer, holes)

    @cached_property
    def tracer(self) -> Tracer:
        return Tracer([self])

    @cached_property
    def around_range(self) -> tuple[float, float]:
        """The least and greatest around, in radians."""
        scale = self.outer[0].curve.wall.mean_radius_mm
        x0, _, x1, _ = self.polygon.bounds
        return x0 / scale, x1 / scale


def images(shapes: Iterable[Shape], around_range: tuple[float, float]) -> list[Shape]:
    """Each shape as often as whole turns of it reach into a range of around."""
    low, high = around_range
    found = []
    for shape in shapes:
        own_low, own_high = shape.around_range
        first, last = math.ceil((low - own_high) / FULL_TURN), math.floor((high - own_low) / FULL_TURN)
        found += [shape.turned(turn * FULL_TURN) for turn in range(first, last + 1)]
    return found


class Tracer:
    """Finds the curve under each segment of a ring that shapely made of sampled shapes."""

    def __init__(self, shapes: Sequence[Shape]):
        starts, ends, edges, t0, t1 = [], [], [], [], []
        self.edges: list[Edge] = []
        for shape in shapes:
            for loop, trace in zip(shape.loops, shape.traces, strict=True):
                starts.append(trace.points)
                ends.append(np.roll(trace.points, -1, axis=0))
                edges.append(trace.edges + len(self.edges))
                t0.append(trace.t0)
                t1.append(trace.t1)
                self.edges += loop
        self.starts, self.ends = np.concatenate(starts), np.concatenate(ends)
        self.edge_of = np.concatenate(edges)
        self.t0, self.t1 = np.concatenate(t0), np.concatenate(t1)
        self.tree = shapely.STRtree(shapely.linestrings(np.stack([self.starts, self.ends], axis=1)))

    def segments_under(self, points: np.ndarray) -> np.ndarray:
        """For each point the segment that it lies on; of several, that of the earliest edge."""
        spots = shapely.points(points)
        at, found = self.tree.query(spots, predicate="dwithin", distance=SAME_MM)
        best = np.full(len(points), -1)
        order = np.lexsort((found, at))[::-1]  # the earliest is written last
        best[at[order]] = found[order]
        missing = np.flatnonzero(best < 0)
        if len(missing):
            best[missing] = self.tree.nearest(spots[missing])
        return best

    def t_at(self, point: np.ndarray, segment: int) -> float:
        start, way = self.starts[segment], self.ends[segment] - self.starts[segment]
        share = min(1.0, max(0.0, float((point - start) @ way / (way @ way))))
        return float(self.t0[segment] + share * (self.t1[segment] - self.t0[segment]))
