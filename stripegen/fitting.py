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
CHECKED = 24  # points of the edge to which each curve is held

TOO_BENT = "it is too wide for so bent a wall"
NARROWER = "make it narrower, or put it where the wall is straighter"


def fitted(
    points: Callable[[np.ndarray], np.ndarray],
    ways: Callable[[np.ndarray], np.ndarray] | None,
    t0: float,
    t1: float,
    start: Point,
    end: Point,
) -> list[CubicEdge] | list[LineEdge]:
    """Curves along points(t), (n, 2), from t0 to t1, whose directions are the angles ways(t) from +y towards +x.

    Each has the true end points and directions; with a turning of u between them, handles of
    chord / (3 cos^2(u/4)) are those of an arc. Without `ways` directions are told by differences.

    Raises GeometryError where the edge is bent too sharply; without `ways` it is then followed by ROUGH straight lines.
    """
    if not all(map(math.isfinite, (*start, *end))):
        raise GeometryError(TOO_BENT, NARROWER)
    count = 1
    while count <= (MOST if ways else ROUGH):
        true, way = _true(points, ways, t0, t1, count)
        if count == 1 and _is_straight(true[3:-1:3], start, end):
            return [LineEdge(end)]
        ends = np.array([start, *true[CHECKED:-1:CHECKED], end])
        handle = np.hypot(*np.diff(ends, axis=0).T) / 3 / np.cos(np.diff(way) / 4) ** 2
        along = np.stack([np.sin(way), np.cos(way)], axis=1)
        first = ends[:-1] + handle[:, None] * along[:-1]
        second = ends[1:] - handle[:, None] * along[1:]
        if _off_by(true, ends, first, second) <= FIT_MM:
            return [
                CubicEdge(tuple(map(float, a)), tuple(map(float, b)), tuple(map(float, c)))
                for a, b, c in zip(first, second, ends[1:], strict=True)
            ]
        count *= 2
    if not ways:
        places = true[::CHECKED]  # of the last try, with ROUGH curves
        return [*(LineEdge((float(x), float(y))) for x, y in places[1:-1]), LineEdge(end)]
    raise GeometryError("an edge is bent too sharply to be cut as a curve", NARROWER)


def _true(points, ways, t0: float, t1: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Points along an edge, CHECKED for each of `count` curves, and the directions at the curves' ends.

    All are asked for at once, since a place beside a bent line is dear to find. Differences stay between t0 and t1.
    """
    t = np.linspace(t0, t1, CHECKED * count + 1)
    step = (t1 - t0) * 1e-4
    low, high = min(t0, t1), max(t0, t1)
    around = [] if ways else [np.clip(t[::CHECKED] + side * step, low, high) for side in (-1, 1)]
    laid = points(np.concatenate([t, *around]))
    if not np.isfinite(laid).all():
        raise GeometryError(TOO_BENT, NARROWER)
    true = laid[: len(t)]
    if ways:
        return true, ways(t[::CHECKED])
    before, after = np.split(laid[len(t) :], 2)
    across = after - before
    return true, np.unwrap(np.arctan2(across[:, 0], across[:, 1]))


def _is_straight(inner: np.ndarray, start: Point, end: Point) -> bool:
    return shapely.distance(shapely.LineString([start, end]), shapely.points(inner)).max() < STRAIGHT_MM


def _off_by(true: np.ndarray, ends: np.ndarray, first: np.ndarray, second: np.ndarray) -> float:
    """How far cubic curves leave an edge, measured at points of them."""
    share = np.linspace(0, 1, 9)[1:-1, None, None]
    curve = (
        (1 - share) ** 3 * ends[:-1]
        + 3 * share * (1 - share) ** 2 * first
        + 3 * share**2 * (1 - share) * second
        + share**3 * ends[1:]
    )
    return float(shapely.distance(shapely.LineString(true), shapely.points(curve.reshape(-1, 2))).max())


def evened(centre: Point, start: Point, end: Point) -> Point:
    """An arc's centre moved by rounding's worth, to be equally far from both ends of its arc."""
    chord = math.hypot(end[0] - start[0], end[1] - start[1])
    if chord < 1e-9:
        return centre
    ux, uy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    off = ((start[0] + end[0]) / 2 - centre[0]) * ux + ((start[1] + end[1]) / 2 - centre[1]) * uy
    return centre[0] + off * ux, centre[1] + off * uy
