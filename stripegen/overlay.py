"""What one shape less others leaves, and which stretches of a line lie inside shapes.

Shapely decides on samples what is left; every edge of the answer is traced back to its curve, and every
corner is solved for on the two curves that make it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from stripegen.crossing import meet, moving
from stripegen.curves import Curve
from stripegen.errors import GeometryError
from stripegen.shapes import CHORD_MM, Edge, Loop, Shape, Tracer, plane
from stripegen.slants import EvenDrop

GRID_MM = 1e-9  # edges that should coincide do, in spite of rounding
SPECK_MM2 = 1e-3  # what is smaller is an artefact of sampling, not a piece
SPECK_MM = 2 * CHORD_MM  # and so is a shorter edge, or what is narrower
GRAZE_MM = 0.1  # curves so near to each other may meet as far off


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
    tracer = Tracer([*keep, *cut])
    shapes = (_shape(tracer, polygon) for polygon in sorted(polygons, key=lambda part: part.bounds))
    return [shape for shape in shapes if shape]


def _union(shapes: Sequence[Shape]) -> shapely.Geometry:
    try:
        return shapely.unary_union([shape.polygon for shape in shapes], grid_size=GRID_MM)
    except shapely.GEOSException as error:  # a shape that crosses itself
        raise GeometryError("what it is cut by is too wide for so bent a wall: its edges cross", "make that narrower") from error


def _is_speck(polygon: shapely.Polygon) -> bool:
    return polygon.area < max(SPECK_MM2, polygon.length / 2 * SPECK_MM)


def _shape(tracer: Tracer, polygon: shapely.Polygon) -> Shape | None:
    """A polygon as a shape; None where nothing is left of a sliver once its corners are solved for."""
    holes = [ring for ring in polygon.interiors if not _is_speck(shapely.Polygon(ring))]
    shape = Shape(_loop(tracer, polygon.exterior), tuple(_loop(tracer, ring) for ring in holes))
    outer, *inner = (_encloses(trace.points) for trace in shape.traces)
    if not outer:
        return None
    if not all(inner):
        shape = Shape(shape.outer, tuple(hole for hole, is_one in zip(shape.holes, inner, strict=True) if is_one))
    if not shape.polygon.is_valid:
        raise GeometryError("its cut edges lie so close together that no sound shape is left", "move it a bit")
    return shape


def _encloses(points: np.ndarray) -> bool:
    return len(points) > 2 and not _is_speck(shapely.Polygon(points))


def _loop(tracer: Tracer, ring: shapely.LinearRing) -> Loop:
    """The edges under a ring, their corners solved for."""
    points = _spaced(shapely.get_coordinates(ring)[:-1])
    following = np.roll(points, -1, axis=0)
    segments = tracer.segments_under((points + following) / 2)
    edges = tracer.edge_of[segments]
    breaks = np.flatnonzero(edges != np.roll(edges, 1))
    if not len(breaks):
        return (tracer.edges[edges[0]],)
    count, runs = len(points), []
    for first, stop in zip(breaks, np.roll(breaks, -1), strict=True):
        last = (stop - 1) % count
        edge = tracer.edges[edges[first]]
        runs.append(
            [edge, tracer.t_at(points[first], segments[first]), tracer.t_at(following[last], segments[last])]
        )
    runs = _continued(_without_specks(_continued(runs)))
    for before, after in zip(runs, runs[1:] + runs[:1], strict=True):
        before[2], after[1] = _joined(before[0], before[2], after[0], after[1])
    return _closed([Edge(edge.curve, t0, t1) for edge, t0, t1 in runs if t0 != t1])


def _closed(edges: list[Edge]) -> Loop:
    """The edges as a loop, the ends of those that run side by side joined straight across."""
    closed = []
    for edge, after in zip(edges, edges[1:] + edges[:1], strict=True):
        closed.append(edge)
        wall = edge.curve.wall
        (a, v), (b, w) = (tuple(map(float, e.curve.at(t))) for e, t in ((edge, edge.t1), (after, after.t0)))
        if math.hypot((b - a) * float(wall.radius_mm(v)), w - v) > GRID_MM:
            closed.append(Edge(EvenDrop(wall, a, v, b - a, w - v), 0.0, 1.0))
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
            if np.abs(plane(before.curve, t, scale) - plane(after.curve, u, scale)).max() < 1e-9:
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
    (x, y), _ = moving(other, u)
    for _ in range(3):
        (z, w), (a, b) = moving(curve, t)
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


def spans_inside(edge: Edge, shapes: Sequence[Shape]) -> list[tuple[float, float]]:
    """The stretches (t from, t to) of an edge, in its own direction, that lie inside any of some shapes."""
    t = edge.samples()
    scale = edge.curve.wall.mean_radius_mm
    points = plane(edge.curve, t, scale)
    chain = shapely.LineString(points)
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])

    def place(point: np.ndarray, tracer: Tracer) -> float:
        for end in (edge.t0, edge.t1):
            if np.abs(plane(edge.curve, end, scale) - point).max() < 1e-9:
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
