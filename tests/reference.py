"""The geometry of a strip on a cup, found again without a formula of the tool.

A wall is only known here as points in space. Lengths are sums of chords, extrapolated; a straight way is the
shortest polyline in space; a flat shape is what triangles make that keep their three sides. Everything seen
from outside the upright cup: `around` to the right, `down` to +y.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from scipy.integrate import quad
from scipy.optimize import brentq, minimize
from shapely.ops import split

from stripegen.spec import Cup

Way = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]  # t -> around, down

FAR_MM = 400.0


@dataclass(frozen=True)
class Wall:
    """Radii at rim and base, and the length between them along the wall."""

    rim: float
    base: float
    length: float

    @classmethod
    def of(cls, cup: Cup, resin: float | None = None) -> Wall:
        """A cup's wall with its resin on, each point of its side moved squarely out."""
        resin = cup.resin_mm if resin is None else resin
        height = math.sqrt(cup.wall_mm**2 - (cup.base_radius_mm - cup.rim_radius_mm) ** 2)
        side = np.array([cup.base_radius_mm - cup.rim_radius_mm, -height])
        out = np.array([-side[1], side[0]]) / math.hypot(*side) * resin
        return cls(cup.rim_radius_mm + float(out[0]), cup.base_radius_mm + float(out[0]), cup.wall_mm)

    def radius(self, down):
        return self.rim + (self.base - self.rim) * (np.asarray(down) / self.length)

    @property
    def height(self) -> float:
        return math.sqrt(self.length**2 - (self.base - self.rim) ** 2)

    def point(self, around, down) -> np.ndarray:
        """Points in space, (n, 3): x towards around 0, y towards a quarter turn, z up from the rim."""
        around, down = np.broadcast_arrays(np.asarray(around, float), np.asarray(down, float))
        radius = self.radius(down)
        return np.stack(
            [radius * np.cos(around), radius * np.sin(around), -down * (self.height / self.length)], axis=-1
        )

    def out(self, around, down) -> np.ndarray:
        """Roughly outwards: level, away from the axis."""
        around = np.asarray(around, float)
        return np.stack([np.cos(around), np.sin(around), np.zeros_like(around)], axis=-1)


def chords(points: np.ndarray) -> float:
    return float(np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1)).sum())


def extrapolated(sums: list[float]) -> float:
    """The limit of sums over n, 2n, 4n, ... parts whose error has even powers of 1/n."""
    row = list(sums)
    for order in range(1, len(sums)):
        row = [(4**order * fine - coarse) / (4**order - 1) for coarse, fine in pairwise(row)]
    return row[0]


def length(wall: Wall, way: Way, t0: float, t1: float, parts: int = 128) -> float:
    """The length of a way on a wall."""
    return extrapolated(
        [
            chords(wall.point(*way(np.linspace(t0, t1, n + 1))))
            for n in (parts, 2 * parts, 4 * parts, 8 * parts)
        ]
    )


def shortest(wall: Wall, start: tuple[float, float], end: tuple[float, float], parts: int = 8):
    """Length of the shortest way between two places, and (around, down) along its finest polyline.

    The joints of a polyline in space slide along evenly spaced meridians until it is as short as can be.
    """
    sums, downs = [], np.linspace(start[1], end[1], parts + 1)
    for n in (parts, 2 * parts, 4 * parts, 8 * parts):
        arounds = np.linspace(start[0], end[0], n + 1)
        downs = np.interp(np.linspace(0, 1, n + 1), np.linspace(0, 1, len(downs)), downs)
        chain = _Chain(wall, arounds, start[1], end[1])
        found = minimize(
            chain.total,
            downs[1:-1],
            jac=chain.slope,
            hess=chain.bend,
            method="trust-exact",
            options={"gtol": 1e-9},
        )
        downs = np.concatenate([[start[1]], found.x, [end[1]]])
        sums.append(float(found.fun))
    return extrapolated(sums), arounds, downs


class _Chain:
    """The length of a polyline whose inner joints slide along their meridians, and how that changes."""

    def __init__(self, wall: Wall, arounds: np.ndarray, first: float, last: float):
        self.wall, self.arounds, self.ends = wall, arounds, (first, last)
        self.slide = wall.point(arounds, 1.0) - wall.point(arounds, 0.0)

    def _parts(self, inner: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        points = self.wall.point(self.arounds, np.concatenate([self.ends[:1], inner, self.ends[1:]]))
        ways = np.diff(points, axis=0)
        sizes = np.sqrt((ways**2).sum(axis=1))
        return sizes, ways / sizes[:, None]

    def total(self, inner: np.ndarray) -> float:
        return float(self._parts(inner)[0].sum())

    def slope(self, inner: np.ndarray) -> np.ndarray:
        _, units = self._parts(inner)
        return ((units[:-1] - units[1:]) * self.slide[1:-1]).sum(axis=1)

    def bend(self, inner: np.ndarray) -> np.ndarray:
        sizes, units = self._parts(inner)
        near = (units * self.slide[:-1]).sum(axis=1)
        far = (units * self.slide[1:]).sum(axis=1)
        square = (self.slide**2).sum(axis=1)
        both = (self.slide[:-1] * self.slide[1:]).sum(axis=1)
        full = np.zeros((len(sizes) + 1, len(sizes) + 1))
        at = np.arange(len(sizes))
        full[at, at] += (square[:-1] - near**2) / sizes
        full[at + 1, at + 1] += (square[1:] - far**2) / sizes
        full[at, at + 1] = full[at + 1, at] = -(both - near * far) / sizes
        return full[1:-1, 1:-1]


def _between(first: np.ndarray, last: np.ndarray) -> np.ndarray:
    return np.sqrt(((first - last) ** 2).sum(axis=-1))


def lay_triangles(left: np.ndarray, right: np.ndarray, out: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A strip of triangles between two rows of points in space, laid flat one after another.

    The first point of the left row lands at the origin, that of the right row straight right of it (+x). A
    triangle keeps its sides, and the face that looks `out` stays up.
    """
    flat_left, flat_right = [0j], [complex(math.dist(left[0], right[0]), 0)]
    for i in range(1, len(left)):
        flat_left.append(_third(left[i - 1], right[i - 1], left[i], flat_left[-1], flat_right[-1], out[i]))
        flat_right.append(_third(left[i], right[i - 1], right[i], flat_left[-1], flat_right[-1], out[i]))
    return tuple(np.array([[z.real, z.imag] for z in row]) for row in (flat_left, flat_right))


def _third(a, b, c, flat_a: complex, flat_b: complex, out) -> complex:
    """Where c lands when a and b are laid down already."""
    ab, ac, bc = math.dist(a, b), math.dist(a, c), math.dist(b, c)
    along = (ab * ab + ac * ac - bc * bc) / (2 * ab)
    aside = math.sqrt(max(0.0, ac * ac - along * along))
    # seen from outside with y down, the turn from +x to +y is clockwise: against `out`
    side = -1 if np.dot(np.cross(np.subtract(b, a), np.subtract(c, a)), out) > 0 else 1
    unit = (flat_b - flat_a) / abs(flat_b - flat_a)
    return flat_a + unit * complex(along, side * aside)


class Flat:
    """A stretch of a wall laid flat: between near meridians it is two triangles, laid one after another."""

    def __init__(self, wall: Wall, low: float, high: float, step: float = 1e-3):
        count = max(2, math.ceil((high - low) / step))
        self.wall, self.arounds = wall, np.linspace(low, high, count + 1)
        # flat places as y + i x: straight down at the first meridian is 1
        steps, turns = self._next_meridian(self.arounds[:-1], self.arounds[1:])
        self.ways = np.concatenate([[1.0 + 0j], np.cumprod(turns)])
        self.rims = np.concatenate([[0j], np.cumsum(self.ways[:-1] * steps)])

    def _next_meridian(self, first: np.ndarray, last: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where triangles put a meridian: its rim and its way down, as seen along the one before it."""
        side = self.wall.length
        rims, feet = self.wall.point(first, 0.0), self.wall.point(first, side)
        next_rims, next_feet = self.wall.point(last, 0.0), self.wall.point(last, side)
        # the triangle rim, foot, next rim
        rim_rim, foot_rim = _between(rims, next_rims), _between(feet, next_rims)
        along = (side**2 + rim_rim**2 - foot_rim**2) / (2 * side)
        across = np.sqrt(np.maximum(rim_rim**2 - along**2, 0.0))
        # the triangle foot, next rim, next foot: the last lies to the right of the other two
        foot_foot = _between(feet, next_feet)
        part = (foot_rim**2 + foot_foot**2 - side**2) / (2 * foot_rim)
        aside = np.sqrt(np.maximum(foot_foot**2 - part**2, 0.0))
        up = (along - side + 1j * across) / foot_rim
        next_rim = along + 1j * across
        next_foot = side + up * (part - 1j * aside)
        return next_rim, (next_foot - next_rim) / side

    def _at(self, around, down) -> np.ndarray:
        around, down = np.broadcast_arrays(np.asarray(around, float), np.asarray(down, float))
        if around.min() < self.arounds[0] - 0.01 or around.max() > self.arounds[-1] + 0.01:
            raise ValueError("off the stretch that was laid flat")
        at = np.clip(np.searchsorted(self.arounds, around, side="right") - 1, 0, len(self.arounds) - 1)
        step, turn = self._next_meridian(self.arounds[at], around)
        return self.rims[at] + self.ways[at] * (step + turn * down)

    def __call__(self, around, down) -> np.ndarray:
        """Flat places (n, 2) of places on the wall."""
        found = self._at(around, down)
        return np.stack([found.imag, found.real], axis=-1)

    def way_down(self, around: float) -> complex:
        return complex(self._at(around, 1.0) - self._at(around, 0.0))

    def around_of(self, x: float, y: float) -> float:
        """The meridian that a flat place lies on."""
        place = complex(y, x)

        def aside(around: float) -> float:
            rim = complex(self._at(around, 0.0))
            return ((place - rim) * self.way_down(around).conjugate()).imag

        seen = (place - self.rims) * self.ways.conj()
        across = np.flatnonzero(np.diff(np.sign(seen.imag)) != 0)
        on = [i for i in across if self._top < seen.real[i] < self._bottom]
        step = self.arounds[1] - self.arounds[0]
        return brentq(aside, self.arounds[on[0]] - step / 2, self.arounds[on[0]] + 1.5 * step, xtol=1e-13)

    def place_of(self, x: float, y: float) -> tuple[float, float]:
        """The place on the wall, (around, down), of a flat place."""
        around = self.around_of(x, y)
        return around, (
            (complex(y, x) - complex(self._at(around, 0.0))) * self.way_down(around).conjugate()
        ).real

    def turned(self, shape, around: float):
        """A flat shape turned so that straight down at a meridian is +y."""
        way = self.way_down(around)

        def turn(points):
            z = (points[:, 1] + 1j * points[:, 0]) * way.conjugate()
            return np.stack([z.imag, z.real], axis=1)

        return shapely.transform(shape, turn)

    def region(self, around0: float, around1: float, down0: float, down1: float) -> shapely.Polygon:
        """The part of the wall between two meridians and two parallels."""
        arounds = np.linspace(around0, around1, max(2, math.ceil(abs(around1 - around0) / 2e-3)) + 1)
        return shapely.Polygon(np.concatenate([self(arounds, down0), self(arounds[::-1], down1)]))

    def cut_line(self, place: tuple[float, float], kind: str) -> shapely.LineString:
        """The parallel ("level") or the meridian ("upright") through a place."""
        around, down = place
        if kind == "level":
            return shapely.LineString(self(self.arounds[::2], down))
        return shapely.LineString(self(around, np.array([self._top, self._bottom])))

    def above(self, down: float) -> shapely.Polygon:
        """Everything above a parallel, and far over the rim."""
        return self.region(self.arounds[0], self.arounds[-1], self._top, down)

    def below(self, down: float) -> shapely.Polygon:
        return self.region(self.arounds[0], self.arounds[-1], down, self._bottom)

    def belt(self, down0: float, down1: float) -> shapely.Polygon:
        return self.region(self.arounds[0], self.arounds[-1], down0, down1)

    def sector(self, around0: float, around1: float) -> shapely.Polygon:
        """Everything between two meridians."""
        return self.region(around0, around1, self._top, self._bottom)

    @cached_property
    def _top(self) -> float:
        """So far up that the wall has not come to a point."""
        wall = self.wall
        to_point = wall.rim / (wall.base - wall.rim) * wall.length if wall.base > wall.rim else math.inf
        return -min(FAR_MM, 0.999 * to_point)

    @cached_property
    def _bottom(self) -> float:
        wall = self.wall
        to_point = wall.rim / (wall.rim - wall.base) * wall.length if wall.base < wall.rim else math.inf
        return min(wall.length + FAR_MM, 0.999 * to_point)


def beside(points: np.ndarray, distance: float) -> np.ndarray:
    """A flat chain moved squarely: positive to the side of a quarter turn from +y to +x, looking along it."""
    ways = np.gradient(points, axis=0, edge_order=2)
    ways /= np.hypot(*ways.T)[:, None]
    return points + distance * np.stack([ways[:, 1], -ways[:, 0]], axis=1)


def ribbon(points: np.ndarray, low: float, high: float) -> shapely.Polygon:
    """The flat band from one distance to another beside a flat chain."""
    return shapely.Polygon(np.concatenate([beside(points, low), beside(points, high)[::-1]]))


def straight_way(flat: Flat, start, end, beyond: float = 0.0, count: int = 400) -> np.ndarray:
    """The flat points of the straight way between two places, run on by a length at both ends."""
    first, last = flat(*start), flat(*end)
    unit = (last - first) / np.hypot(*(last - first))
    return np.linspace(first - beyond * unit, last + beyond * unit, count)


def even_drop(start, end) -> Way:
    """t from 0 to 1, and past both."""
    return lambda t: (
        start[0] + (end[0] - start[0]) * np.asarray(t),
        start[1] + (end[1] - start[1]) * np.asarray(t),
    )


def same_slant(wall: Wall, start, end) -> Way:
    """The way that keeps its angle to the meridians: t is down. da/dv = tan f / r, summed in steps."""

    def sum_to(down: float) -> float:
        return quad(lambda v: 1 / float(wall.radius(v)), start[1], down, epsabs=1e-14, epsrel=1e-13)[0]

    tangent = (end[0] - start[0]) / sum_to(end[1])
    nodes, weights = np.polynomial.legendre.leggauss(20)

    def way(down):
        down = np.asarray(down, float)
        half = (down[..., None] - start[1]) / 2
        around = (half * weights / wall.radius(start[1] + half * (1 + nodes))).sum(axis=-1)
        return start[0] + tangent * around, down

    return way


def framed(flat: Flat, shape: shapely.Polygon, middle: np.ndarray) -> shapely.Polygon:
    """A flat shape as a piece is drawn: down is +y at the middle, its bounding box starts at (0, 0)."""
    turned = flat.turned(shape, flat.around_of(*middle))
    x0, y0, *_ = turned.bounds
    return shapely.transform(turned, lambda points: points - (x0, y0))


def middle_of(chain: np.ndarray, within: shapely.Polygon) -> np.ndarray:
    """The middle, by length, of what of a flat chain lies in a shape."""
    inside = shapely.LineString(chain).intersection(within)
    parts = sorted(shapely.get_parts(inside), key=lambda part: -part.length)
    return np.array(parts[0].interpolate(0.5, normalized=True).coords[0])


def apart(first: shapely.Polygon, second: shapely.Polygon) -> float:
    """The greatest distance between two shapes' borders, from the points of each to the other."""
    found = 0.0
    for one, other in ((first, second), (second, first)):
        points = np.concatenate(
            [shapely.get_coordinates(shapely.segmentize(ring, 2.0)) for ring in _rings(one)]
        )
        sides = [
            np.stack([ring[:-1], ring[1:]], axis=1) for ring in map(shapely.get_coordinates, _rings(other))
        ]
        tree = shapely.STRtree(shapely.linestrings(np.concatenate(sides)))
        _, gaps = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
        found = max(found, float(gaps.max()))
    return found


def _rings(polygon: shapely.Polygon) -> list[shapely.LinearRing]:
    return [polygon.exterior, *polygon.interiors]


@dataclass(frozen=True)
class Run:
    """A line's own centre line laid flat, run on past both ends, which are at `first` and `last`."""

    chain: np.ndarray
    first: tuple[float, float]
    last: tuple[float, float]


def run_of(flat: Flat, path: str, start, end, beyond_mm: float, count: int = 800) -> Run:
    """The run of a path between two places on a wall."""
    wall = flat.wall
    if path == "straight":
        return Run(straight_way(flat, start, end, beyond_mm, count), start, end)
    way = even_drop(start, end)
    t0, t1 = 0.0, 1.0
    if path == "same-slant" and start[0] != end[0]:
        way, t0, t1 = same_slant(wall, start, end), start[1], end[1]
    size = chords(wall.point(*way(np.linspace(t0, t1, 500))))
    more = beyond_mm / size * (t1 - t0)
    return Run(flat(*way(np.linspace(t0 - more, t1 + more, count))), start, end)


def cut_ribbon(flat: Flat, run: Run, low: float, high: float, ends: str) -> shapely.Polygon:
    """The band beside a run, cut at each end along a parallel, a meridian or squarely, on that side only."""
    chain = run.chain
    if ends == "square":
        line = shapely.LineString(chain)
        stops = [
            shapely.line_locate_point(line, shapely.Point(flat(*place))) for place in (run.first, run.last)
        ]
        inner = shapely.line_interpolate_point(line, np.linspace(*stops, len(chain)))
        return ribbon(shapely.get_coordinates(inner), low, high)
    whole = ribbon(chain, low, high)
    middle = beside(chain, (low + high) / 2)
    for place, tail in ((run.first, middle[0]), (run.last, middle[-1])):
        parts = shapely.get_parts(split(whole, flat.cut_line(place, ends)))
        whole = shapely.union_all([part for part in parts if part.distance(shapely.Point(tail)) > 1e-3])
    return whole
