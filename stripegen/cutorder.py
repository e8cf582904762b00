"""The order in which a sheet's pieces are cut, and where the knife enters each.

A cutter feeds the vinyl to and fro under the knife. So pieces are cut along the feed: none begins more than a band's
width farther back than one cut before it. Inside the band the knife travels little: the next piece is the nearest,
pieces are then moved one by one to where they cost less, and of all corners those are chosen to start at that make the
whole way shortest.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stripegen.cutforms import begun_at, turned_round
from stripegen.outline import Outline, Ring, Stroke

MOST_STARTS = 24  # corners at which a piece may be started
NEAR = 40  # places before and after at which a piece is tried
ROUNDS = 3

Shape = Outline | Stroke


@dataclass(frozen=True)
class Cut:
    """A piece's shapes as the knife follows them: holes first, then the outer ring."""

    id: str
    shapes: tuple[Ring | Stroke, ...]


@dataclass(frozen=True)
class Travel:
    """How far the knife goes down and up, and how far the vinyl is fed back in all; from (0, 0) on."""

    down_mm: float
    up_mm: float
    back_mm: float


def in_cutting_order(pieces: Sequence[tuple[str, Shape]], band_mm: float) -> list[Cut]:
    """The pieces of a sheet, along the feed (+y), each turned to start at one of its corners.

    Once a piece has been begun at y, measured where it begins along the feed, none follows that begins before
    y - `band_mm`.
    """
    if not pieces:
        return []
    spots = [_starts(shape) for _, shape in pieces]
    first = np.array([_outer(shape).bounds()[1] for _, shape in pieces])
    order = _moved(_nearest_next(spots, first, band_mm), spots, first, band_mm)
    chosen = _best_starts([spots[number] for number in order])
    found = []
    for number, start in zip(order, chosen, strict=True):
        name, shape = pieces[number]
        inner = shape.holes if isinstance(shape, Outline) else ()
        found.append(Cut(name, (*inner, _started(_outer(shape), start))))
    return found


def travel_of(cuts: Sequence[Cut]) -> Travel:
    """What a knife and the vinyl go through that cut so; along true edges, to 0.01 mm."""
    down = up = back = 0.0
    at = np.zeros(2)
    for cut in cuts:
        for shape in cut.shapes:
            points = shape.points(0.02)
            if isinstance(shape, Ring):
                points = [*points, points[0]]
            way = np.array(points)
            up += float(np.hypot(*(way[0] - at)))
            down += float(np.hypot(*np.diff(way, axis=0).T).sum())
            fed = np.diff(np.concatenate([[at[1]], way[:, 1]]))
            back -= float(fed[fed < 0].sum())
            at = way[-1]
    return Travel(down, up, back)


def _outer(shape: Shape) -> Ring | Stroke:
    return shape.outer if isinstance(shape, Outline) else shape


def _starts(shape: Shape) -> tuple[np.ndarray, np.ndarray]:
    """Where a piece may be begun, and where the knife then leaves it; (n, 2) each."""
    outer = _outer(shape)
    corners = np.array([begin for begin, _ in outer.walk()])
    if isinstance(outer, Stroke):
        ends = np.array([outer.start, outer.edges[-1].end])
        return ends, ends[::-1]
    if len(corners) > MOST_STARTS:
        corners = corners[np.linspace(0, len(corners) - 1, MOST_STARTS).astype(int)]
    return corners, corners


def _nearest_next(spots: Sequence[tuple[np.ndarray, np.ndarray]], first: np.ndarray, band_mm: float) -> list[int]:
    """Always on to the piece that can be begun nearest, of those that may come next."""
    waiting = np.argsort(first, kind="stable").tolist()
    at, found = np.zeros(2), []
    while waiting:
        may = bisect_right(waiting, first[waiting[0]] + band_mm, key=first.__getitem__)
        entries = np.concatenate([spots[number][0] for number in waiting[:may]])
        nearest = int(np.argmin(np.hypot(*(entries - at).T)))
        for place, number in enumerate(waiting[:may]):
            if nearest < len(spots[number][0]):
                break
            nearest -= len(spots[number][0])
        at = spots[number][1][nearest]
        found.append(number)
        del waiting[place]
    return found


def _moved(
    order: list[int], spots: Sequence[tuple[np.ndarray, np.ndarray]], first: np.ndarray, band_mm: float
) -> list[int]:
    """The order, pieces taken out one by one and put back where that makes the way shortest, near by."""
    for _ in range(ROUNDS):
        start = _best_starts([spots[number] for number in order])
        enter = np.array([spots[number][0][k] for number, k in zip(order, start, strict=True)])
        leave = np.array([spots[number][1][k] for number, k in zip(order, start, strict=True)])
        places = {number: place for place, number in enumerate(order)}
        at = {number: (enter[place], leave[place]) for number, place in places.items()}
        shorter = False
        for number in [*order]:
            place = places[number]
            low, high = max(0, place - NEAR), min(len(order), place + NEAR + 1)
            near = order[low:high]
            rest = near[: place - low] + near[place - low + 1 :]
            before = at[order[low - 1]][1] if low else np.zeros(2)
            after = at[order[high]][0] if high < len(order) else None
            leaves = np.array([before, *(at[other][1] for other in rest)])
            enters = np.array([at[other][0] for other in rest] + ([after] if after is not None else [])).reshape(-1, 2)
            into, out = at[number]
            cost = np.hypot(*(leaves - into).T)
            joined = len(enters)
            cost[:joined] += np.hypot(*(enters - out).T) - np.hypot(*(enters - leaves[:joined]).T)
            # none before it may begin a band's width after it, and none after it so much before it
            latest = np.maximum.accumulate(np.concatenate([[-np.inf], first[rest]]))
            soonest = np.minimum.accumulate(np.concatenate([first[rest], [np.inf]])[::-1])[::-1]
            cost[(latest > first[number] + band_mm) | (soonest < first[number] - band_mm)] = np.inf
            best = int(np.argmin(cost))
            if cost[best] < cost[place - low] - 1e-6:
                order[low:high] = rest[:best] + [number] + rest[best:]
                for index in range(low, high):
                    places[order[index]] = index
                shorter = True
        if not shorter:
            break
    return order


def _best_starts(spots: Sequence[tuple[np.ndarray, np.ndarray]]) -> list[int]:
    """For each piece in turn the start that makes the way from (0, 0) through all shortest: a chain of choices."""
    ways, costs, leave = [], np.zeros(1), np.zeros((1, 2))
    for enter, out in spots:
        total = costs[:, None] + np.hypot(*(leave[:, None] - enter[None]).transpose(2, 0, 1))
        best = np.argmin(total, axis=0)
        ways.append(best)
        costs, leave = total[best, np.arange(len(enter))], out
    chosen = [int(np.argmin(costs))]
    for best in reversed(ways[1:]):
        chosen.append(int(best[chosen[-1]]))
    return chosen[::-1]


def _started(outer: Ring | Stroke, start: int) -> Ring | Stroke:
    """A ring begun at one of its corners, a stroke at one of its ends."""
    if isinstance(outer, Stroke):
        return outer if start == 0 else turned_round(outer)
    count = len(outer.edges)
    if count > MOST_STARTS:
        start = int(np.linspace(0, count - 1, MOST_STARTS).astype(int)[start])
    return begun_at(outer, start)
