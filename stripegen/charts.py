"""How a part of a wall is laid flat.

What lies on one straight section is unrolled with it (`Unrolled`), exactly. Anything else is laid flat along its own
centre line (`Followed`): that becomes the plane curve with the same geodesic curvature, and a point of the strip
keeps its distance from it, measured square to it along the wall. On one section the two agree. Either way the
place `about` lies at the origin, with straight down the cup along +y.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from stripegen.crossing import level_t, upright_t
from stripegen.curves import QUARTER, Beside, Curve, Parallel, Round, Straight
from stripegen.errors import GeometryError
from stripegen.fitting import evened, fitted
from stripegen.outline import ArcEdge, CubicEdge, LineEdge, Point
from stripegen.planecurves import PlaneCurve, plane_curve
from stripegen.shapes import Edge
from stripegen.steep import is_steep
from stripegen.surface import Frustum

STRAIGHT_SLOPE = 1e-10  # a parallel of a wall that tapers less is straight, near enough

WITHIN = 1e-4  # of the way from a place of an edge to its middle: on the edge's side of a mitre there
FULL_SWEEP = 2 * math.pi - 1e-9  # an arc that sweeps more is none

FlatEdges = list[LineEdge | ArcEdge | CubicEdge]


class Unrolled:
    """One straight section, which begins `offset_mm` down its wall, unrolled about a place (around, down)."""

    def __init__(self, section: Frustum, offset_mm: float, about: tuple[float, float]):
        self.section, self.offset_mm = section, offset_mm
        self.about = (about[0], about[1] - offset_mm)

    def is_exact(self, edge: Edge) -> bool:
        """Whether an edge's own places are known best from itself, whatever it meets."""
        return True

    def point(self, edge: Edge, t: float) -> Point:
        x, y = self._laid(*edge.curve.at(t))
        return float(x), float(y)

    def way(self, edge: Edge, t: float) -> float:
        """The direction at a place of an edge, as an angle from +y towards +x."""
        around, _, heading = edge.curve.along(t)
        return float(heading + self.section.slope * (around - self.about[0]))

    def edges(self, edge: Edge, start: Point, end: Point) -> FlatEdges:
        """An edge of the wall as edges of the plane, between points that are known."""
        curve, slope = edge.curve, self.section.slope
        if curve.flat == "line" or (isinstance(curve, Parallel) and abs(slope) < STRAIGHT_SLOPE):
            return [LineEdge(end)]
        if isinstance(curve, Parallel):
            apex = (0.0, -float(self.section.radius_mm(self.about[1])) / slope)
            return [_arc(slope * (edge.t0 - edge.t1), apex, start, end)]
        if isinstance(curve, Round):
            x, y = self._laid(curve.around_rad, curve.down_mm)
            return [ArcEdge(end, evened((float(x), float(y)), start, end), edge.t1 < edge.t0)]
        back = math.pi if edge.t1 < edge.t0 else 0.0

        def points(t: np.ndarray) -> np.ndarray:
            return np.stack(self._laid(*curve.at(t)), axis=1)

        def ways(t: np.ndarray) -> np.ndarray:
            around, _, heading = curve.along(t)
            return heading + slope * (around - self.about[0]) + back

        return fitted(points, ways, edge.t0, edge.t1, start, end)

    def _laid(self, around, down):
        return self.section.develop(around, down - self.offset_mm, about=self.about)


class Followed:
    """A strip laid flat along its centre line, about the place `t` on the leg `about` of it.

    `beside` are edges that may reach far past the ends of the centre line, as where only a corner of it is seen.
    """

    def __init__(self, centre: Sequence[Edge], about: Edge, t: float, beside: Sequence[Edge] = ()):
        self.legs = [_Leg(leg.curve) for leg in centre]
        self.flats: list[PlaneCurve] = []
        spans = [[leg.t0, leg.t1] for leg in centre]
        for edge in beside:
            side = self._side(edge)
            if side:
                spans[side[0]] += edge.t0, edge.t1
        for leg, span in zip(centre, spans, strict=True):
            flat = plane_curve(leg.curve, min(span), max(span))
            if self.flats:
                before = centre[len(self.flats) - 1]
                place, way = self.flats[-1].at(np.array([before.t1]))
                turn = float(leg.curve.along(leg.t0)[2]) - float(before.curve.along(before.t1)[2])
                flat = flat.posed(leg.t0, tuple(place[0]), float(way[0]) + turn)
            self.flats.append(flat)
        at = next(number for number, leg in enumerate(centre) if leg is about)
        heading = float(about.curve.along(t)[2])
        place, way = self.flats[at].at(np.array([t]))
        self.flats = [flat.moved(tuple(place[0]), heading - float(way[0])) for flat in self.flats]
        arounds = [float(leg.curve.at(leg.t0)[0]) for leg in centre[1:]]
        self.rightward = float(centre[-1].curve.at(centre[-1].t1)[0]) >= float(centre[0].curve.at(centre[0].t0)[0])
        self.mitres = np.array(arounds if self.rightward else [-around for around in arounds])

    def is_exact(self, edge: Edge) -> bool:
        """Whether an edge runs along the strip, so that its places are known from how far that is."""
        return self._side(edge) is not None

    def point(self, edge: Edge, t: float) -> Point:
        beside = self._side(edge)
        if beside:
            place = self.flats[beside[0]].beside(np.array([t]), beside[1])[0]
        else:
            place = self._laid(edge.curve, np.array([t]), self._leg_at(edge, t))[0]
        return float(place[0]), float(place[1])

    def way(self, edge: Edge, t: float) -> float:
        """The direction at a place of an edge that runs along the centre line, as an angle from +y towards +x."""
        side = self._side(edge)
        leg = side[0] if side else self._leg_at(edge, t)
        if not side:
            around, down = (np.atleast_1d(value) for value in edge.curve.at(t))
            t = float(self.legs[leg].beside(around, down)[0][0])
        return float(self.flats[leg].at(np.array([t]))[1][0])

    def edges(self, edge: Edge, start: Point, end: Point) -> FlatEdges:
        """An edge of the wall as edges of the plane, between points that are known."""
        side = self._side(edge)
        if side:
            leg, distance = side
            flat = self.flats[leg]
            if flat.is_straight:
                return [LineEdge(end)]
            back = math.pi if edge.t1 < edge.t0 else 0.0
            return self._in_parts(
                edge,
                lambda t: flat.beside(t, distance),
                lambda t: flat.at(t)[1] + back,
                self.legs[leg].curve.bends_t(edge.t0, edge.t1),
                (start, end),
            )
        if isinstance(self.legs[0].curve, Parallel) and not len(self.mitres):
            ready = self._beside_a_parallel(edge, start, end)
            if ready:
                return ready

        # its corners are those of the edges that it meets, from which it may be off where the strip is strained
        off = np.array([start, end]) - self._laid(edge.curve, np.array([edge.t0, edge.t1]), None)

        def points(t: np.ndarray) -> np.ndarray:
            share = ((t - edge.t0) / (edge.t1 - edge.t0))[:, None]
            return self._laid(edge.curve, t, None) + (1 - share) * off[0] + share * off[1]

        stops = edge.curve.bends_t(edge.t0, edge.t1) + self._mitres_on(edge)
        return self._in_parts(edge, points, None, stops, (start, end))

    def _in_parts(self, edge: Edge, points, ways, stops: Sequence[float], ends: tuple[Point, Point]) -> FlatEdges:
        """An edge fitted part by part between the places where it is not smooth."""
        low, high = min(edge.t0, edge.t1), max(edge.t0, edge.t1)
        slack = 1e-6 * (high - low)
        inner = sorted(t for t in stops if low + slack < t < high - slack)
        places = [edge.t0, *(inner if edge.t0 <= edge.t1 else reversed(inner)), edge.t1]
        corners = [ends[0], *(tuple(map(float, points(np.array([t]))[0])) for t in places[1:-1]), ends[1]]
        found: FlatEdges = []
        for number, (t0, t1) in enumerate(pairwise(places)):
            found += fitted(points, ways, t0, t1, corners[number], corners[number + 1])
        return found

    def _beside_a_parallel(self, edge: Edge, start: Point, end: Point) -> FlatEdges | None:
        """Beside a ring parallels stay arcs and meridians lines."""
        flat, curve = self.flats[0], edge.curve
        if isinstance(curve, Straight) and curve.heading_rad == 0:
            return [LineEdge(end)]
        if not isinstance(curve, Parallel):
            return None
        if flat.is_straight:
            return [LineEdge(end)]
        return [_arc(flat.curvature * flat.radius_mm * (edge.t0 - edge.t1), flat.centre, start, end)]

    def _side(self, edge: Edge) -> tuple[int, float] | None:
        """The leg beside which an edge runs at a constant distance, and that; None if beside none."""
        for number, leg in enumerate(leg.curve for leg in self.legs):
            if isinstance(leg, Parallel):
                continue
            base, own_mm = (leg.base, leg.distance_mm) if isinstance(leg, Beside) else (leg, 0.0)
            if edge.curve == base:
                return number, -own_mm
            if isinstance(edge.curve, Beside) and edge.curve.base == base:
                return number, edge.curve.distance_mm - own_mm
        return None

    def _leg_at(self, edge: Edge, t: float) -> int:
        """The leg over whose way round an edge lies at t; at a mitre that on the edge's own side of it."""
        if not len(self.mitres):
            return 0
        within = t + WITHIN * ((edge.t0 + edge.t1) / 2 - t)
        return int(self._legs_at(np.atleast_1d(edge.curve.at(within)[0]))[0])

    def _legs_at(self, around: np.ndarray) -> np.ndarray:
        return np.searchsorted(self.mitres, around if self.rightward else -around)

    def _mitres_on(self, edge: Edge) -> list[float]:
        """Where an edge passes from one leg's side of a mitre to the other's."""
        if not len(self.mitres):
            return []
        around = [float(edge.curve.at(t)[0]) for t in (edge.t0, edge.t1)]
        low, high = min(around), max(around)
        places = [mitre if self.rightward else -mitre for mitre in self.mitres]
        return [
            upright_t(edge.curve, place, (edge.t0 + edge.t1) / 2) for place in places if low + 1e-9 < place < high - 1e-9
        ]

    def _laid(self, curve: Curve, t: np.ndarray, leg: int | None) -> np.ndarray:
        """Points of a curve laid flat, each along one leg, or along the one that it lies beside."""
        around, down = (np.atleast_1d(value) for value in curve.at(t))
        legs = self._legs_at(around) if leg is None else np.full(len(around), leg)
        laid = np.empty((len(around), 2))
        for number in np.unique(legs):
            own = legs == number
            at, beside = self.legs[number].beside(around[own], down[own])
            laid[own] = self.flats[number].beside(at, beside)
        return laid


def _arc(sweep_rad: float, centre: Point, start: Point, end: Point) -> ArcEdge:
    """The arc between two points about a centre; its sweep is above 0 if clockwise."""
    if abs(sweep_rad) > FULL_SWEEP:
        raise GeometryError(
            "laid flat, one strip of it would go all the way round and lie over itself",
            "lay it in two parts, with start and end",
        )
    return ArcEdge(end, evened(centre, start, end), sweep_rad > 0)


class _Leg:
    """A curve, and some places of it, from which the place beside which others lie is looked for."""

    def __init__(self, curve: Curve):
        self.curve = curve
        self.t = curve.block_t * np.linspace(-40, 40, 641)
        with np.errstate(invalid="ignore"):
            self.around, self.down = curve.at(self.t)

    def beside(self, around: np.ndarray, down: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where on the curve the way square to it starts that leads to each place, and how long that way is.

        Raises GeometryError where none is found.
        """
        curve, wall = self.curve, self.curve.wall
        if isinstance(curve, Parallel):
            return around - curve.around_rad, curve.down_mm - down
        radius = wall.radius_mm(down)
        base, own_mm = (curve.base, curve.distance_mm) if isinstance(curve, Beside) else (curve, 0.0)
        off = np.hypot((self.around - around[:, None]) * radius[:, None], self.down - down[:, None])
        reach_mm = abs(own_mm) + float(np.nanmin(off, axis=1).max())
        if isinstance(base, Straight) and _grazes(base, reach_mm):
            t, distance = _beside_steep(base, around, down)
            return t, distance - own_mm
        t = self.t[np.nanargmin(off, axis=1)]
        a, v, f = curve.along(t)
        distance = (around - a) * radius * np.cos(f) - (down - v) * np.sin(f)
        pace = curve.speed(t) * np.maximum(1 - distance * curve.curvature(t), 0.2)
        for _ in range(60):
            a, v, f = curve.along(t)
            a, v, f = wall.reach(a, v, f + QUARTER, distance)
            across, along = (around - a) * radius, down - v
            aside = across * np.sin(f) + along * np.cos(f)
            ahead = across * np.sin(f - QUARTER) + along * np.cos(f - QUARTER)
            if max(np.abs(aside).max(), np.abs(ahead).max()) < 1e-9:
                return t, distance
            t, distance = t + ahead / pace, distance + aside
        raise GeometryError("it is too wide for so bent a way: its edges can't be told from its middle", "make it narrower")


def _grazes(curve: Straight, reach_mm: float) -> bool:
    """Whether a straight way runs so nearly straight down over a bend that ways so long square to it graze that."""
    wall, reach = curve.wall, min(reach_mm, 50.0)
    crossed = [(bend, float(level_t(curve, bend))) for bend in wall.bends_mm]
    return any(
        is_steep(wall, bend, float(curve.along(t)[2]), reach) for bend, t in crossed if math.isfinite(t)
    )


def _beside_steep(curve: Straight, around: np.ndarray, down: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The same beside a straight way that runs nearly straight down over bends: each section unrolled along it.

    Over a bend the sections' developments part or overlap by h^2 / 2 times the change of slope over r; that is evened
    out over a stretch several times as long.
    """
    wall = curve.wall
    entries = [float(level_t(curve, bend)) for bend in wall.bends_mm]
    anchors = [entries[0], *entries]
    maps = []
    for part, start, t in zip(wall.parts, wall.downs_mm[:-1], anchors, strict=True):
        a, v, f = (float(value) for value in curve.along(t))
        x, y = part.develop(around, down - start, about=(a, v - start))
        maps.append((t + x * math.sin(f) + y * math.cos(f), x * math.cos(f) - y * math.sin(f)))
    at = np.clip(np.searchsorted(wall.bends_mm, down, side="right"), 0, len(maps) - 1)
    found = np.array(maps)[at, :, np.arange(len(down))].T
    lengths = np.diff(wall.downs_mm)
    for number, bend in enumerate(wall.bends_mm):
        above, below = np.array(maps[number]), np.array(maps[number + 1])
        aside = np.minimum(np.abs(above[1]), np.abs(below[1]))
        room = 0.45 * min(lengths[number], lengths[number + 1])
        far = np.minimum(1.0 + 4 * aside**2 / float(wall.radius_mm(bend)), room)
        share = np.clip((down - bend + far) / (2 * far), 0.0, 1.0)
        evened = above + share**2 * (3 - 2 * share) * (below - above)
        found = np.where((share > 0) & (share < 1), evened, found)
    return found[0], found[1]
