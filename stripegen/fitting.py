"""Cubic Bezier curves along a bent edge, within FIT_MM of it."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import shapely

from stripegen.errors import GeometryError
from stripegen.outline import CubicEdge, LineEdge, Point

FIT_MM = 0.002  # a fitted curve follows its edge this closely
STRAIGHT_MM = 1e-7  # what leaves its chord by less is straight, as spirals on a cylinder are
MOST = 512  # curves along one edge
ROUGH = 32


def fitted(
    points: Callable[[np.ndarray], np.ndarray],
    ways: Callable[[np.ndarray], np.ndarray],
    t0: float,
    t1: float,
    start: Point,
    end: Point,
    rough: bool = False,
) -> list[CubicEdge] | list[LineEdge]:
    """Curves along points(t), (n, 2), from t0 to t1, whose directions are the angles ways(t) from +y towards +x.

    Each has the true end points and directions; with a turning of u between them, handles of
    chord / (3 cos^2(u/4)) are those of an arc.

    Raises GeometryError where the edge is bent too sharply; a rough one is then followed by ROUGH straight lines.
    """
    inner = points(np.linspace(t0, t1, 9))[1:-1]
    if not (np.isfinite(inner).all() and all(map(math.isfinite, (*start, *end)))):
        raise GeometryError("it is too wide for so bent a wall")
    if shapely.distance(shapely.LineString([start, end]), shapely.points(inner)).max() < STRAIGHT_MM:
        return [LineEdge(end)]
    count = 1
    while count <= (ROUGH if rough else MOST):
        t = np.linspace(t0, t1, count + 1)
        ends, way = points(t), ways(t)
        ends[0], ends[-1] = start, end
        handle = np.hypot(*np.diff(ends, axis=0).T) / 3 / np.cos(np.diff(way) / 4) ** 2
        along = np.stack([np.sin(way), np.cos(way)], axis=1)
        first = ends[:-1] + handle[:, None] * along[:-1]
        second = ends[1:] - handle[:, None] * along[1:]
        if _off_by(points, t0, t1, ends, first, second) <= FIT_MM:
            return [
                CubicEdge(tuple(map(float, a)), tuple(map(float, b)), tuple(map(float, c)))
                for a, b, c in zip(first, second, ends[1:], strict=True)
            ]
        count *= 2
    if rough:
        places = points(np.linspace(t0, t1, ROUGH + 1))
        return [*(LineEdge((float(x), float(y))) for x, y in places[1:-1]), LineEdge(end)]
    raise GeometryError("an edge is bent too sharply to be cut as a curve")


def _off_by(points, t0: float, t1: float, ends, first, second) -> float:
    """How far cubic curves leave an edge, measured at points of them."""
    share = np.linspace(0, 1, 9)[1:-1, None, None]
    curve = (
        (1 - share) ** 3 * ends[:-1]
        + 3 * share * (1 - share) ** 2 * first
        + 3 * share**2 * (1 - share) * second
        + share**3 * ends[1:]
    )
    true = points(np.linspace(t0, t1, 24 * len(first) + 1))
    return float(shapely.distance(shapely.LineString(true), shapely.points(curve.reshape(-1, 2))).max())


def ways_along(points: Callable[[np.ndarray], np.ndarray], t0: float, t1: float) -> Callable[[np.ndarray], np.ndarray]:
    """Directions along points(t), by differences that stay between t0 and t1, without wrapping."""
    low, high, step = min(t0, t1), max(t0, t1), abs(t1 - t0) * 1e-4

    def ways(t: np.ndarray) -> np.ndarray:
        across = points(np.clip(t + step, low, high)) - points(np.clip(t - step, low, high))
        if t1 < t0:
            across = -across
        return np.unwrap(np.arctan2(across[:, 0], across[:, 1]))

    return ways


def evened(centre: Point, start: Point, end: Point) -> Point:
    """An arc's centre moved by rounding's worth, to be equally far from both ends of its arc."""
    chord = math.hypot(end[0] - start[0], end[1] - start[1])
    if chord < 1e-9:
        return centre
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    off = ((start[0] + end[0]) / 2 - centre[0]) * ux + ((start[1] + end[1]) / 2 - centre[1]) * uy
    return centre[0] + off * ux, centre[1] + off * uy
