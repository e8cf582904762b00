"""Shapes on a wall with true edges, and what cutting one by others leaves.

A shape is bounded by pieces of curves (curves.py). To cut shapes, each is sampled finely in the plane
(mean radius x around, down), where a strip that winds never meets itself by chance; shapely decides there
what is left, every edge of the answer is traced back to its curve, and every corner is then solved for on
the two curves that make it. So the answer has exact edges, however coarse the samples.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from stripegen.curves import Curve, Straight, carried
from stripegen.errors import GeometryError
from stripegen.surface import Frustum

CHORD_MM = 0.002  # samples follow their curve this closely; decides only what meets what
SAME_MM = 1e-7  # a point this near to a curve's samples is on them
GRID_MM = 1e-9  # edges that should coincide do, in spite of rounding
SPECK_MM2 = 1e-3  # what is smaller is an artefact of sampling, not a piece
SPECK_MM = 2 * CHORD_MM  # and so is a shorter edge, or what is narrower
GRAZE_MM = 0.1  # curves so near to each other may meet as far off

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
        points = _plane(self.curve, blocks + size * shares, self.curve.wall.mean_radius_mm)
        chords = points[0] + shares[:, :, None] * (points[-1] - points[0])
        return np.abs(points - chords).max(axis=(0, 2))


Loop = tuple[Edge, ...]


def _plane(curve: Curve, t, scale: float) -> np.ndarray:
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
        points, edges, t0, t1 = [], [], [], []
        for index, edge in enumerate(loop):
            t = edge.samples()
            points.append(_plane(edge.curve, t[:-1], edge.curve.wall.mean_radius_mm))
            edges.append(np.full(len(t) - 1, index))
            t0.append(t[:-1])
            t1.append(t[1:])
        chain = np.concatenate(points)
        if not np.isfinite(chain).all():
            raise GeometryError("a line runs past the point to which the wall tapers")
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
            shape.__dict__["traces"] = tuple(
                trace.moved(turn_rad * outer[0].curve.wall.mean_radius_mm) for trace in self.traces
            )
            self._turned[turn_rad] = shape
        return self._turned[turn_rad]

    @cached_property
    def _turned(self) -> dict[float, Shape]:
        return {}

    def carried(self, wall: Frustum) -> Shape:
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
    def tracer(self) -> _Tracer:
        return _Tracer([self])

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


def overlay(keep: Sequence[Shape], cut: Sequence[Shape] = ()) -> list[Shape]:
    """The union of some shapes less the union of others, as shapes with true edges."""
    keep = list(keep)
    area = _union(keep)
    shapely.prepare(area)
    cut = [shape for shape in cut if area.intersects(shape.polygon)]
    if not cut and len(keep) == 1:
        return keep
    left = shapely.difference(area, _union(cut), grid_size=GRID_MM) if cut else area
    parts = shapely.get_parts(left)
    polygons = [part for part in parts if part.geom_type == "Polygon" and not _is_speck(part)]
    if not polygons:
        return []
    tracer = _Tracer([*keep, *cut])
    return [_shape(tracer, polygon) for polygon in sorted(polygons, key=lambda part: part.bounds)]


def _union(shapes: Sequence[Shape]) -> shapely.Geometry:
    return shapely.unary_union([shape.polygon for shape in shapes], grid_size=GRID_MM)


def _is_speck(polygon: shapely.Polygon) -> bool:
    return polygon.area < max(SPECK_MM2, polygon.length / 2 * SPECK_MM)


def _shape(tracer: _Tracer, polygon: shapely.Polygon) -> Shape:
    holes = [ring for ring in polygon.interiors if not _is_speck(shapely.Polygon(ring))]
    shape = Shape(tracer.loop(polygon.exterior), tuple(map(tracer.loop, holes)))
    if not shape.polygon.is_valid:
        raise GeometryError("its cut edges lie so close together that no sound shape is left: move it a bit")
    return shape


class _Tracer:
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

    def loop(self, ring: shapely.LinearRing) -> Loop:
        """The edges under a ring, their corners solved for."""
        points = _spaced(shapely.get_coordinates(ring)[:-1])
        following = np.roll(points, -1, axis=0)
        segments = self.segments_under((points + following) / 2)
        edges = self.edge_of[segments]
        breaks = np.flatnonzero(edges != np.roll(edges, 1))
        if not len(breaks):
            return (self.edges[edges[0]],)
        count, runs = len(points), []
        for first, stop in zip(breaks, np.roll(breaks, -1), strict=True):
            last = (stop - 1) % count
            edge = self.edges[edges[first]]
            runs.append(
                [edge, self.t_at(points[first], segments[first]), self.t_at(following[last], segments[last])]
            )
        runs = _continued(_without_specks(_continued(runs)))
        for before, after in zip(runs, runs[1:] + runs[:1], strict=True):
            before[2], after[1] = _joined(before[0], before[2], after[0], after[1])
        return _closed([Edge(edge.curve, t0, t1) for edge, t0, t1 in runs if t0 != t1])

    def t_at(self, point: np.ndarray, segment: int) -> float:
        start, way = self.starts[segment], self.ends[segment] - self.starts[segment]
        share = min(1.0, max(0.0, float((point - start) @ way / (way @ way))))
        return float(self.t0[segment] + share * (self.t1[segment] - self.t0[segment]))


def _closed(edges: list[Edge]) -> Loop:
    """The edges as a loop, the ends of those that run side by side joined straight across."""
    closed = []
    for edge, after in zip(edges, edges[1:] + edges[:1], strict=True):
        closed.append(edge)
        wall, place = edge.curve.wall, tuple(float(value) for value in edge.curve.at(edge.t1))
        x, y = wall.develop(*after.curve.at(after.t0), about=place)
        if math.hypot(x, y) > GRID_MM:
            closed.append(Edge(Straight(wall, *place, math.atan2(x, y)), 0.0, math.hypot(x, y)))
    return tuple(closed)


def _spaced(points: np.ndarray) -> np.ndarray:
    """The points less those that repeat the one before."""
    apart = np.abs(points - np.roll(points, 1, axis=0)).max(axis=1) > 1e-6
    return points[apart]


def _continued(runs: list[list]) -> list[list]:
    """The runs (edge, t from, t to), those along one curve made one; there and back again is nothing."""
    whole: list[list] = []
    for run in runs:
        if whole and _goes_on(whole[-1], run):
            whole[-1] = _both(whole[-1], run)
        else:
            whole.append(run)
    if len(whole) > 1 and _goes_on(whole[-1], whole[0]):
        whole[0] = _both(whole.pop(), whole[0])
    return whole


def _goes_on(run: list, after: list) -> bool:
    curve, t = run[0].curve, run[2]
    return curve == after[0].curve and abs(t - after[1]) * float(curve.speed(t)) < SPECK_MM


def _both(run: list, after: list) -> list:
    ends = (run[0].t0, run[0].t1, after[0].t0, after[0].t1)
    return [Edge(run[0].curve, min(ends), max(ends)), run[1], after[2]]


def _without_specks(runs: list[list]) -> list[list]:
    """The runs less those too short to be told from sampling, if their neighbours meet."""
    kept = list(runs)
    for run in runs:
        edge, t0, t1 = run
        if len(kept) < 4 or abs(t1 - t0) * float(edge.curve.speed(t0)) > SPECK_MM:
            continue
        at = next(index for index, other in enumerate(kept) if other is run)
        before, after = kept[at - 1], kept[(at + 1) % len(kept)]
        if before[0].curve == after[0].curve or _crossing(before[0], before[2], after[0], after[1], GRAZE_MM):
            del kept[at]
    return kept


def _joined(before: Edge, t_end: float, after: Edge, t_start: float) -> tuple[float, float]:
    """Where two edges really meet, near the given places on them."""
    for t in _ends_at(before, t_end):
        for u in _ends_at(after, t_start):
            scale = before.curve.wall.mean_radius_mm
            if np.abs(_plane(before.curve, t, scale) - _plane(after.curve, u, scale)).max() < 1e-9:
                return t, u  # a corner that stood before
    met = _crossing(before, t_end, after, t_start)
    if met:
        return met
    # side by side: from where one of them ends, straight across to the other
    if _ends_at(after, t_start):
        return _across(before.curve, t_end, after.curve, t_start), t_start
    return t_end, _across(after.curve, t_start, before.curve, t_end)


def _across(curve: Curve, t: float, other: Curve, u: float) -> float:
    """The place on a curve, near t, that is nearest to another curve's place at u."""
    (x, y), _ = _moving(other, u)
    for _ in range(3):
        (z, w), (a, b) = _moving(curve, t)
        t += ((x - z) * a + (y - w) * b) / (a * a + b * b)
    return t


def _ends_at(edge: Edge, t: float) -> list[float]:
    near = 1e-6 / float(edge.curve.speed(t))
    return [end for end in (edge.t0, edge.t1) if abs(end - t) < near]


def _crossing(
    before: Edge, t_end: float, after: Edge, t_start: float, within_mm: float = 0.5
) -> tuple[float, float] | None:
    """Where two edges cross near places on them, at most a speck past their ends."""
    met = meet(before.curve, t_end, after.curve, t_start, within_mm)
    for edge, t in zip((before, after), met or (), strict=False):
        slack = SPECK_MM / float(edge.curve.speed(t))
        if not min(edge.t0, edge.t1) - slack <= t <= max(edge.t0, edge.t1) + slack:
            return None
    return met


def meet(
    first: Curve, t: float, second: Curve, u: float, within_mm: float = 0.5
) -> tuple[float, float] | None:
    """Where two curves cross, near t on the one and u on the other; None where they run on side by side.

    Newton's method in (around, down), each scaled to millimetres.
    """
    start, t_now, u_now = None, t, u
    for _ in range(20):
        (x, y), (a, c) = _moving(first, t_now)
        (z, w), (b, d) = _moving(second, u_now)
        start = start or (x, y)
        gap = z - x, w - y
        if max(map(abs, gap)) < 1e-12:
            break
        determinant = b * c - a * d
        if not abs(determinant) > 1e-7 * math.hypot(a, c) * math.hypot(b, d):
            return None
        t_now += (b * gap[1] - d * gap[0]) / determinant
        u_now += (a * gap[1] - c * gap[0]) / determinant
    if not (max(map(abs, gap)) < 1e-9 and max(abs(x - start[0]), abs(y - start[1])) < within_mm):
        return None
    return t_now, u_now


def _moving(curve: Curve, t: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """A curve's place at t and how that changes with t, in (mean radius x around, down)."""
    around, down, heading = (float(value) for value in curve.along(t))
    speed, scale = float(curve.speed(t)), curve.wall.mean_radius_mm
    across = scale / float(curve.wall.radius_mm(down))
    return (scale * around, down), (speed * math.sin(heading) * across, speed * math.cos(heading))


def spans_inside(edge: Edge, shapes: Sequence[Shape]) -> list[tuple[float, float]]:
    """The stretches (t from, t to) of an edge, in its own direction, that lie inside any of some shapes."""
    t = edge.samples()
    scale = edge.curve.wall.mean_radius_mm
    points = _plane(edge.curve, t, scale)
    chain = shapely.LineString(points)
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])

    def place(point: np.ndarray, tracer: _Tracer) -> float:
        for end in (edge.t0, edge.t1):
            if np.abs(_plane(edge.curve, end, scale) - point).max() < 1e-9:
                return end
        t_near = float(np.interp(shapely.line_locate_point(chain, shapely.Point(point)), lengths, t))
        segment = tracer.segments_under(point[None])[0]
        met = meet(
            edge.curve, t_near, tracer.edges[tracer.edge_of[segment]].curve, tracer.t_at(point, segment)
        )
        return met[0] if met else t_near

    spans = []
    for shape in shapes:
        if not chain.intersects(shape.polygon):
            continue
        inside = shapely.intersection(chain, shape.polygon, grid_size=GRID_MM)
        for part in shapely.get_parts(inside):
            if part.geom_type == "LineString" and part.length > 1e-6:
                first, last = shapely.get_coordinates(part)[[0, -1]]
                spans.append((place(first, shape.tracer), place(last, shape.tracer)))
    if edge.t1 < edge.t0:
        return [(-first, -last) for first, last in _merged([(-first, -last) for first, last in spans])]
    return _merged(spans)


def _merged(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Spans in order, those that overlap or touch end to end made one."""
    merged: list[tuple[float, float]] = []
    for first, last in sorted((min(span), max(span)) for span in spans):
        if merged and first < merged[-1][1] + 1e-7:
            merged[-1] = (merged[-1][0], max(last, merged[-1][1]))
        else:
            merged.append((first, last))
    return merged
