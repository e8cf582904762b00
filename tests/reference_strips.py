"""Lines on any turned wall and strips about them laid flat, without a formula of the tool.

A line is known by its own definition only; what lies beside it is where points come that move straight ahead
from it, squarely. A strip is laid flat as very narrow triangles left and right of its centre line, one by one:
they keep the lengths along it and the angles at it, and so its bending; its sides lie squarely beside that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from reference import extrapolated
from reference_walls import (
    NODES,
    WEIGHTS,
    Place,
    Turned,
    Way,
    crossings,
    length,
    march,
    shoot,
    shortest,
    stretches,
)
from scipy.interpolate import CubicHermiteSpline, CubicSpline

QUARTER = math.pi / 2
ASIDE_MM = 1e-3  # the triangles are so wide to each side


@dataclass(frozen=True)
class Line:
    """A way on a wall and the t of its ends; it runs on past them. Its heading is that of growing t.

    `breaks` are t where it may bend abruptly, besides those where it crosses a bend of the wall.
    """

    wall: Turned
    way: Way
    t0: float
    t1: float
    breaks: tuple[float, ...] = field(default=())

    def heading(self, t) -> np.ndarray:
        """From straight down towards more around, by two places next to each t."""
        t, step = np.asarray(t, float), 2e-5 * (self.t1 - self.t0)
        (a0, v0), (a1, v1) = self.way(t - step), self.way(t + step)
        return np.arctan2((a1 - a0) * self.wall.radius(self.way(t)[1]), v1 - v0)

    def beside(self, t, distance) -> tuple[np.ndarray, np.ndarray]:
        """(around, down) so far from the line squarely, towards heading + a quarter turn."""
        around, down = self.way(t)
        return march(self.wall, around, down, self.heading(t) + QUARTER, distance)[:2]

    def length(self, t0: float | None = None, t1: float | None = None) -> float:
        t0, t1 = self.t0 if t0 is None else t0, self.t1 if t1 is None else t1
        return length(self.wall, self.way, t0, t1, breaks=self.breaks)

    def moved(self, distance: float) -> Line:
        """The line at a distance, at the same t. It may bend abruptly where this one does."""
        if not distance:
            return self
        more = 0.2 * (self.t1 - self.t0)
        breaks = (*self.breaks, *crossings(self.wall, self.way, self.t0 - more, self.t1 + more))
        return Line(self.wall, lambda t: self.beside(t, distance), self.t0, self.t1, breaks)


def meridian(wall: Turned, around: float, down0: float, down1: float) -> Line:
    return Line(wall, lambda t: (np.full_like(np.asarray(t, float), around), np.asarray(t, float)), down0, down1)


def ring(wall: Turned, down: float, around0: float, around1: float) -> Line:
    return Line(wall, lambda t: (np.asarray(t, float), np.full_like(np.asarray(t, float), down)), around0, around1)


def even_drop(wall: Turned, start: Place, end: Place) -> Line:
    """t from 0 to 1: so much of the turn and of the drop."""

    def way(t):
        t = np.asarray(t, float)
        return start[0] + (end[0] - start[0]) * t, start[1] + (end[1] - start[1]) * t

    return Line(wall, way, 0.0, 1.0)


def same_slant(wall: Turned, start: Place, end: Place, beyond: float = 40.0) -> Line:
    """The same angle to all meridians: t is the way down, turned so that it grows."""
    sign = math.copysign(1.0, end[1] - start[1])
    low, high = min(start[1], end[1]) - beyond, max(start[1], end[1]) + beyond
    while float(wall.radius(low)) < 2:
        low += 1.0
    while float(wall.radius(high)) < 2:
        high -= 1.0
    parts = stretches(low, high, wall.breaks)
    v = np.concatenate([[low]] + [np.linspace(*part, math.ceil((part[1] - part[0]) / 0.25) + 1)[1:] for part in parts])
    half = np.diff(v)[:, None] / 2
    inner = (v[1:, None] + v[:-1, None]) / 2 + half * NODES
    summed = np.concatenate([[0.0], np.cumsum((half * WEIGHTS / wall.radius(inner)).sum(axis=1))])
    table = CubicHermiteSpline(v, summed, 1 / wall.radius(v))
    tangent = (end[0] - start[0]) / float(table(end[1]) - table(start[1]))

    def way(t):
        down = sign * np.asarray(t, float)
        return start[0] + tangent * (table(down) - table(start[1])), down

    return Line(wall, way, sign * start[1], sign * end[1])


def straight(wall: Turned, start: Place, end: Place, beyond: float = 40.0) -> Line:
    """A point that moves straight ahead, aimed so that it comes to the end; t is length."""
    heading, size = shoot(wall, start, end, shortest(wall, start, end))
    return ahead(wall, start, heading, -beyond, size + beyond, size)


def ahead(wall: Turned, start: Place, heading: float, low: float, high: float, size: float) -> Line:
    rows = [(0.0, *start, heading)]
    for sign, end in ((1, high), (-1, low)):
        trace: list[tuple[float, float, float, float]] = []
        turn = 0.0 if sign > 0 else math.pi
        march(wall, *start, heading + turn, abs(end), step_mm=0.5, trace=trace)
        gone = np.cumsum([row[0] for row in trace])
        rows += [(sign * t, a, v, f - turn) for t, (_, a, v, f) in zip(gone, trace, strict=True)]
    rows = sorted(rows)
    kept = [rows[0]] + [row for before, row in pairwise(rows) if row[0] - before[0] > 1e-9]
    t, around, down, headings = np.array(kept).T
    arounds = CubicHermiteSpline(t, around, np.sin(headings) / wall.radius(down))
    downs = CubicHermiteSpline(t, down, np.cos(headings))
    return Line(wall, lambda t: (arounds(t), downs(t)), 0.0, size)


def line_between(wall: Turned, path: str, start: Place, end: Place) -> Line:
    if start[0] == end[0]:
        if start[1] < end[1]:
            return meridian(wall, start[0], start[1], end[1])
        return Line(wall, lambda t: (np.full_like(np.asarray(t, float), start[0]), -np.asarray(t, float)),
                    -start[1], -end[1])
    return {"straight": straight, "same-slant": same_slant, "even-drop": even_drop}[path](wall, start, end)


# -- laid flat ------------------------------------------------------------------------------------------


class Flat:
    """A line laid flat from one t to another, and what lies squarely beside it.

    In the flat frame a direction p is (sin p, cos p); at t0 the line points as its heading says.
    """

    def __init__(self, line: Line, t0: float, t1: float, parts: int = 48):
        self.line = line
        breaks = [*line.breaks, *crossings(line.wall, line.way, t0, t1)]
        self.parts = stretches(t0, t1, breaks)
        sums = [_laid(line, self.parts, n) for n in (parts, 2 * parts, 4 * parts)]
        steps = [n // parts for n in (parts, 2 * parts, 4 * parts)]
        rows = [row[::step] for row, step in zip(sums, steps, strict=True)]
        found = np.array([[extrapolated([row[i, k] for row in rows]) for k in range(3)] for i in range(len(rows[0]))])
        self.pieces = []
        for number, part in enumerate(self.parts):
            t = np.linspace(*part, parts + 1)
            self.pieces.append(CubicSpline(t, found[number * parts : (number + 1) * parts + 1]))

    def _at(self, t) -> np.ndarray:
        t = np.asarray(t, float)
        found = np.empty((*t.shape, 3))
        at = np.searchsorted([part[0] for part in self.parts[1:]], t, side="right")
        for index, piece in enumerate(self.pieces):
            found[at == index] = piece(t[at == index])
        return found

    def __call__(self, t, distance=0.0) -> np.ndarray:
        """Flat places (n, 2) so far squarely beside the line at t."""
        x, y, way = np.moveaxis(self._at(t), -1, 0)
        return np.stack([x + distance * np.cos(way), y - distance * np.sin(way)], axis=-1)

    def way(self, t) -> np.ndarray:
        return self._at(t)[..., 2]


def _angle(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    return np.arctan2(np.sqrt((np.cross(first, second) ** 2).sum(axis=-1)), (first * second).sum(axis=-1))


def _laid(line: Line, parts: Sequence[tuple[float, float]], n: int) -> np.ndarray:
    """(x, y, way) of the joints of all parts, n + 1 of each, those between parts once."""
    wall = line.wall
    t = np.concatenate([[parts[0][0]]] + [np.linspace(*part, n + 1)[1:] for part in parts])
    around, down = (np.array(x, float) for x in line.way(t))
    heading = line.heading(t)
    bends = np.array(wall.bends)
    on_bend = np.zeros(len(t), bool)
    if len(bends):
        nearest = np.abs(down[:, None] - bends).argmin(axis=1)
        on_bend = np.abs(down - bends[nearest]) < 1e-8
        down = np.where(on_bend, bends[nearest], down)
    # the outer corners of the triangles: squarely beside the line, and along a bend where it crosses one
    ways = np.where(on_bend, np.where(np.cos(heading) > 0, QUARTER, -QUARTER), heading + QUARTER)
    high = wall.point(*march(wall, around, down, ways, np.where(on_bend, 0.0, ASIDE_MM))[:2])
    low = wall.point(*march(wall, around, down, ways, np.where(on_bend, 0.0, -ASIDE_MM))[:2])
    centre = wall.point(around, down)
    along = np.sign(ways) * ASIDE_MM / wall.radius(down)
    high = np.where(on_bend[:, None], wall.point(around + along, down), high) - centre
    low = np.where(on_bend[:, None], wall.point(around - along, down), low) - centre
    fore = np.diff(centre, axis=0)
    high_fore, low_fore = _angle(high[:-1], fore), _angle(low[:-1], fore)
    high_back, low_back = _angle(high[1:], -fore), _angle(low[1:], -fore)
    # a line turns to the side where its triangles leave less than two right angles
    turns = ((low_back + low_fore[[*range(1, len(fore)), 0]]) - (high_back + high_fore[[*range(1, len(fore)), 0]])) / 2
    chords = np.concatenate([[0.0], np.cumsum(turns[:-1])])
    sizes = np.sqrt((fore**2).sum(axis=1))
    x = np.concatenate([[0.0], np.cumsum(sizes * np.sin(chords))])
    y = np.concatenate([[0.0], np.cumsum(sizes * np.cos(chords))])
    # the line's own way at each joint, from the outer corners, whose way on the wall is known
    aside = ways - heading
    mean = ((high_fore - aside[:-1]) + (math.pi - aside[:-1] - low_fore)) / 2
    last = ((math.pi - high_back - aside[1:]) + (low_back - aside[1:])) / 2
    way = chords + _small(mean)
    way = np.append(way, chords[-1] + _small(last)[-1])
    spin = way[0] - heading[0]
    cos, sin = math.cos(spin), math.sin(spin)
    return np.stack([x * cos - y * sin, x * sin + y * cos, way - spin], axis=1)


def _small(angle: np.ndarray) -> np.ndarray:
    return np.remainder(angle + math.pi, math.tau) - math.pi


def level_t(line: Line, distance, down: float, near: float) -> np.ndarray:
    """Where what lies so far beside a line is so far down, near a t."""
    return _met(line, distance, near, lambda around, found: found - down)


def upright_t(line: Line, distance, around: float, near: float) -> np.ndarray:
    return _met(line, distance, near, lambda found, _: found - around)


def _met(line: Line, distance, near: float, off) -> np.ndarray:
    distance = np.asarray(distance, float)
    t, step = np.full(distance.shape, near), 1e-4 * (line.t1 - line.t0)
    for _ in range(30):
        here, further = off(*line.beside(t, distance)), off(*line.beside(t + step, distance))
        move = -here * step / (further - here)
        t = t + np.clip(move, -2000 * step, 2000 * step)
        if np.abs(move).max() < 1e-9 * abs(line.t1 - line.t0):
            return t
    raise ValueError("the end cut is not met")


@dataclass(frozen=True)
class FlatStrip:
    """A strip laid flat, drawn as pieces are: straight down at its middle is +y, its box starts at (0, 0)."""

    polygon: shapely.Polygon
    length: float
    start: Place
    end: Place


def flat_strip(line: Line, low: float, high: float, ends: str = "level", count: int = 400) -> FlatStrip:
    """The strip between two distances beside a line, its ends cut through the line's own ends."""
    middle, half = (low + high) / 2, (high - low) / 2
    aside = np.linspace(-half, half, 25)
    cuts = []
    for t in (line.t0, line.t1):
        around, down = (float(x) for x in line.way(t))
        if ends == "square":
            cuts.append(np.full(aside.shape, t))
        elif ends == "level":
            cuts.append(level_t(line, middle + aside, down, t))
        else:
            cuts.append(upright_t(line, middle + aside, around, t))
    own = line.moved(middle)
    reach = 1e-6 * (line.t1 - line.t0)
    flat = Flat(own, min(cuts[0].min(), line.t0) - reach, max(cuts[1].max(), line.t1) + reach)
    share = np.linspace(0, 1, count + 1)
    sides = [
        flat(cuts[0][at] + (cuts[1][at] - cuts[0][at]) * share, aside[at]) for at in (0, len(aside) - 1)
    ]
    first, last = flat(cuts[0], aside), flat(cuts[1], aside)
    shape = shapely.Polygon(np.concatenate([first[::-1], sides[0], last, sides[1][::-1]]))
    t0, t1 = cuts[0][len(aside) // 2], cuts[1][len(aside) // 2]
    inner = np.linspace(t0, t1, 2001)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(flat(inner), axis=0).T))])
    t = float(np.interp(run[-1] / 2, run, inner))
    spin = float(own.heading(np.array([t]))[0] - flat.way(np.array([t]))[0])  # so much must its way grow
    cos, sin = math.cos(spin), math.sin(spin)
    turned = shapely.transform(shape, lambda xy: xy @ np.array([[cos, -sin], [sin, cos]]))
    x0, y0, *_ = turned.bounds
    places = [tuple(float(x[0]) for x in own.way(np.array([t]))) for t in (t0, t1)]
    return FlatStrip(
        shapely.transform(turned, lambda xy: xy - (x0, y0)), own.length(t0, t1), *places
    )
