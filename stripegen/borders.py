"""The border of a line on the wall, as samples that know their curves, and how near it comes to another."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from stripegen.shapes import FULL_TURN, Edge, Shape
from stripegen.ways import Ways

STEP_MM = 2.5  # samples are no farther apart
BLOCK = 16  # so many segments are looked at together
SAME_MM = 1e-5  # distances no further apart are equally near: the place is then the uppermost
ROUNDS = 9  # of looking closer at the nearest places, each time at about a quarter of the stretch


@dataclass(frozen=True)
class Border:
    """Segments of a border: the spots (`Ways.spots`) where each starts and ends, its length squared, and its edge, t to t.

    `turn_rad` is how far the border has been turned from where its edges are. What goes all the way round is there
    three times, so that its joint is no end.
    """

    starts: np.ndarray
    ends: np.ndarray
    squared: np.ndarray
    edge_of: np.ndarray
    t0: np.ndarray
    t1: np.ndarray
    edges: tuple[Edge, ...]
    turn_rad: float = 0.0
    is_thrice: bool = False

    @classmethod
    def of(cls, shapes: Iterable[Shape], ways: Ways, goes_round: bool = False) -> Border:
        if goes_round:
            shapes = [shape.turned(turn) for turn in (-FULL_TURN, 0.0, FULL_TURN) for shape in shapes]
        edges: list[Edge] = []
        rows: list[tuple[np.ndarray, ...]] = []
        for shape in shapes:
            for loop in shape.loops:
                for edge in loop:
                    t = _spaced(edge)
                    spots = ways.spots(*edge.curve.at(t))
                    starts, ends = spots[:, :-1], spots[:, 1:]
                    rows.append((starts, ends, ways.squared(starts, ends), np.full(len(t) - 1, len(edges)), t[:-1], t[1:]))
                    edges.append(edge)
        return cls(*(np.concatenate(column, axis=-1) for column in zip(*rows, strict=True)), tuple(edges), is_thrice=goes_round)

    def turned(self, turn_rad: float) -> Border:
        if not turn_rad:
            return self
        by = np.zeros((len(self.starts), 1))
        by[0] = turn_rad
        return replace(self, starts=self.starts + by, ends=self.ends + by, turn_rad=self.turn_rad + turn_rad)

    def __len__(self) -> int:
        return len(self.t0)

    def at(self, edge: int, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        around, down = self.edges[edge].curve.at(t)
        return around + self.turn_rad, down

    @property
    def own(self) -> slice:
        """Its segments, each once."""
        third = len(self) // 3
        return slice(third, 2 * third) if self.is_thrice else slice(None)

    def foot(self, segment: int, share: float) -> tuple[float, float]:
        """The place at a share of a segment."""
        t = self.t0[segment] + share * (self.t1[segment] - self.t0[segment])
        around, down = self.at(int(self.edge_of[segment]), t)
        return float(around), float(down)

    def blocks(self, ways: Ways) -> tuple[np.ndarray, np.ndarray]:
        """The middle spot of each block of segments, and how far its segments may lie from that (mm)."""
        firsts = np.arange(0, len(self), BLOCK)
        middles = self.starts[:, np.minimum(firsts + BLOCK // 2, len(self) - 1)]
        each = middles[:, np.arange(len(self)) // BLOCK]
        off = np.maximum(ways.squared(each, self.starts), ways.squared(each, self.ends))
        return middles, np.sqrt(np.maximum.reduceat(off, firsts))


@dataclass(frozen=True, slots=True)
class Nearest:
    """For each of some places, how far off a border is (mm^2), on which of its segments, and at which share of it."""

    squared: np.ndarray
    segment: np.ndarray
    share: np.ndarray


def nearest(spots: np.ndarray, border: Border, ways: Ways) -> Nearest:
    """What of a border is nearest to each of some spots.

    Only blocks of segments that may hold the nearest are looked at.
    """
    middles, reach = border.blocks(ways)
    off = np.sqrt(ways.squared(spots[:, :, None], middles[:, None, :]))
    at, block = np.nonzero(off - reach <= (off + reach).min(axis=1)[:, None])
    segment = np.minimum(block[:, None] * BLOCK + np.arange(BLOCK), len(border) - 1)
    squared, share = _to_segments(
        spots[:, at, None], border.starts[:, segment], border.ends[:, segment], ways, border.squared[segment]
    )
    best = np.argmin(squared, axis=1)
    rows = np.arange(len(at))
    squared, segment, share = squared[rows, best], segment[rows, best], share[rows, best]
    order = np.lexsort((squared, at))
    first = order[np.flatnonzero(np.diff(at[order], prepend=-1))]
    return Nearest(squared[first], segment[first], share[first])


@dataclass(frozen=True, slots=True)
class Apart:
    """A distance along the wall, and the two places (around, down) that it is between."""

    mm: float
    first: tuple[float, float]
    second: tuple[float, float]

    def swapped(self) -> Apart:
        return Apart(self.mm, self.second, self.first)

    @property
    def middle(self) -> tuple[float, float]:
        return (self.first[0] + self.second[0]) / 2, (self.first[1] + self.second[1]) / 2


def least_apart(first: Border, second: Border, ways: Ways) -> Apart:
    """The shortest way from one border to another, the second as turned as it is given.

    Sampled, then looked at ever closer on the curves themselves.
    """
    one = nearest(first.starts[:, first.own], second, ways)
    two = nearest(second.starts[:, second.own], first, ways)
    from_first = one.squared.min() <= two.squared.min()
    near, (own, other) = (one, (first, second)) if from_first else (two, (second, first))
    distances = np.sqrt(near.squared)
    at = _uppermost(distances < distances.min() + SAME_MM, own.starts[:, own.own])
    segment, share, sampled = int(near.segment[at]), float(near.share[at]), float(distances[at])
    start = at + (own.own.start or 0)
    places = own.foot(start, 0.0), other.foot(segment, share)
    found = Apart(ways.told_mm(*places) if sampled else 0.0, *places)
    if ways.is_straight and sampled:
        closer = _closer(own, start, other, segment, ways)
        if closer.mm < found.mm - SAME_MM:  # else side by side: the sample's own place, as copies have it
            found = closer
    return found if from_first else found.swapped()


def farthest(places: np.ndarray, border: Border, ways: Ways) -> Apart:
    """Of some places (n, 2) that from which a border is farthest off, and what of the border is nearest to it.

    The distance is `Ways.squared`'s.
    """
    spots = ways.spots(*places.T)
    near = nearest(spots, border, ways)
    distances = np.sqrt(near.squared)
    at = _uppermost(distances > distances.max() - SAME_MM, spots)
    foot = border.foot(int(near.segment[at]), float(near.share[at]))
    return Apart(float(distances[at]), tuple(spots[:2, at].tolist()), foot)


def extremes_mm(border: Border) -> tuple[float, float]:
    """The least and the greatest place down of a border."""
    least, most = (_extreme(border, sign) for sign in (1.0, -1.0))
    return least, -most


def _extreme(border: Border, sign: float) -> float:
    best = np.inf
    for edge, *limits in _touching(border, int(np.argmin(sign * border.starts[1]))):
        low, high = min(limits), max(limits)
        t = np.linspace(low, high, 9)
        for _ in range(ROUNDS):
            downs = sign * np.broadcast_to(border.at(edge, t)[1], t.shape)
            at = int(np.argmin(downs))
            best = min(best, float(downs[at]))
            step = t[1] - t[0]
            t = np.linspace(max(low, t[at] - step), min(high, t[at] + step), 9)
    return best


def _uppermost(which: np.ndarray, spots: np.ndarray) -> int:
    """The first of some spots, down the wall and then round it."""
    chosen = np.flatnonzero(which)
    return int(chosen[np.lexsort((spots[0, chosen].round(5), spots[1, chosen].round(4)))[0]])


def _closer(own: Border, at: int, other: Border, segment: int, ways: Ways) -> Apart:
    """The nearest places of two borders near a sample of the one and a segment of the other."""
    best = None
    for mine in _touching(own, at):
        for theirs in _touching(other, segment):
            found = _closest(own, mine, other, theirs, ways)
            if best is None or found[0] < best[0] - 1e-15:
                best = found
    squared, first, second = best
    return Apart(ways.told_mm(first, second) if squared > 1e-18 else 0.0, first, second)


def _touching(border: Border, segment: int) -> list[tuple[int, float, float]]:
    """The stretches (edge, t, t) of a border about a segment's start and end."""
    found = []
    for each in (segment - 1, segment, (segment + 1) % len(border)):
        edge, t0, t1 = int(border.edge_of[each]), float(border.t0[each]), float(border.t1[each])
        if found and found[-1][0] == edge and found[-1][2] == t0:
            found[-1] = (edge, found[-1][1], t1)
        else:
            found.append((edge, t0, t1))
    return found


def _closest(own: Border, mine, other: Border, theirs, ways: Ways) -> tuple[float, tuple, tuple]:
    """The nearest places of two stretches, each (edge, t, t).

    From each of some places of the first the nearest on the second, then the same about the best of them, and so on.
    """
    (edge, *ends), (other_edge, *other_ends) = mine, theirs
    t, u = np.linspace(min(ends), max(ends), 9), np.linspace(min(other_ends), max(other_ends), 17)
    limits = (t[0], t[-1]), (u[0], u[-1])
    for _ in range(ROUNDS):
        spots, others = ways.spots(*own.at(edge, t)), ways.spots(*other.at(other_edge, u))
        squared, share = _to_segments(spots[:, :, None], others[:, None, :-1], others[:, None, 1:], ways)
        at = np.argmin(squared, axis=1)
        rows = np.arange(len(t))
        step, other_step = t[1] - t[0], u[1] - u[0]
        feet = u[at] + share[rows, at] * other_step
        best = int(np.argmin(squared[rows, at]))
        found = float(squared[best, at[best]]), (t[best], feet[best])
        about = feet[max(0, best - 1) : best + 2]
        t = np.linspace(max(limits[0][0], t[best] - step), min(limits[0][1], t[best] + step), 9)
        u = np.linspace(max(limits[1][0], about.min() - other_step), min(limits[1][1], about.max() + other_step), 17)
    squared, places = found
    first, second = (
        tuple(float(value) for value in border.at(number, np.float64(place)))
        for border, number, place in ((own, edge, places[0]), (other, other_edge, places[1]))
    )
    return squared, first, second


def _to_segments(spots, starts, ends, ways: Ways, length=None) -> tuple[np.ndarray, np.ndarray]:
    """The square of how far segments are from spots, and at which share of them: by Stewart's theorem from their ends."""
    from_start, from_end = ways.squared(spots, starts), ways.squared(spots, ends)
    length = np.maximum(ways.squared(starts, ends) if length is None else length, 1e-18)
    share = np.clip((from_start - from_end + length) / (2 * length), 0.0, 1.0)
    return np.maximum(from_start + share * (from_end - from_start - (1 - share) * length), 0.0), share


def _spaced(edge: Edge) -> np.ndarray:
    """The edge's samples and as many between them that none are farther apart than STEP_MM."""
    t = edge.samples()
    around, down = np.broadcast_arrays(*edge.curve.at(t))
    radius = edge.curve.wall.greatest_radius_mm
    lengths = np.hypot(np.diff(around) * radius, np.diff(down))
    counts = np.maximum(1, np.ceil(lengths / STEP_MM)).astype(int)
    before = np.cumsum(counts) - counts
    shares = (np.arange(counts.sum()) - np.repeat(before, counts)) / np.repeat(counts, counts)
    return np.append(np.repeat(t[:-1], counts) + shares * np.repeat(np.diff(t), counts), t[-1])
