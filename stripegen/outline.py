"""Flat shapes with true edges: straight lines, circle arcs and cubic Bezier curves; no file format.

Every length is in millimetres; x runs to the right and y down. Angles grow from +x towards +y, which is
clockwise as drawn. An edge holds where it ends; it starts where the edge before it ended, so most methods of
an edge take that start.

A strip that hardly tapers has arcs of enormous radius. Points, areas and bounds of an arc are therefore
worked out from its own start, and are as good as the floats that hold its centre: to 1e-8 mm at a radius of
10 km.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import asin, atan2, ceil, cos, fsum, hypot, isfinite, pi, sin, sqrt, tan, ulp
from typing import TYPE_CHECKING, Self

from stripegen.errors import GeometryError

if TYPE_CHECKING:
    from shapely import Polygon

Point = tuple[float, float]
Bounds = tuple[float, float, float, float]

CLOSED_MM = 1e-6
"""A ring's last edge ends within this of its start; an arc's two radii agree within it."""

POINT_MM = 1e-9
"""An arc whose ends are nearer than this and its centre's rounding turns by nothing, not once round."""


def _point(value: Point) -> Point:
    x, y = float(value[0]), float(value[1])
    if not (isfinite(x) and isfinite(y)):
        raise GeometryError(f"a point of a flat shape must be finite: got ({x}, {y})")
    return x, y


def _turn(turn_rad: float) -> tuple[float, float]:
    """Cosine and sine of a turn; those of quarter turns exact, so that what was level stays level."""
    quarters = round(turn_rad / (pi / 2))
    if abs(turn_rad - quarters * (pi / 2)) < 1e-14:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarters % 4]
    return cos(turn_rad), sin(turn_rad)


@dataclass(frozen=True, slots=True)
class _Move:
    """A turn about the origin (+x towards +y), then a shift."""

    cos_turn: float
    sin_turn: float
    dx_mm: float
    dy_mm: float

    def __call__(self, point: Point) -> Point:
        x, y = point
        return (
            x * self.cos_turn - y * self.sin_turn + self.dx_mm,
            x * self.sin_turn + y * self.cos_turn + self.dy_mm,
        )


@dataclass(frozen=True, slots=True)
class LineEdge:
    """A straight edge to ``end``."""

    end: Point

    def __post_init__(self) -> None:
        object.__setattr__(self, "end", _point(self.end))

    def _moved(self, move: _Move) -> LineEdge:
        return LineEdge(move(self.end))

    def _bulge_mm2(self, start: Point) -> float:
        return 0.0

    def _bounds(self, start: Point) -> Bounds:
        (x0, y0), (x1, y1) = start, self.end
        return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)

    def _points(self, start: Point, chord_mm: float) -> Iterator[Point]:
        yield self.end


def cubic_sweep_rad(radius_mm: float, within_mm: float) -> float:
    """The greatest sweep, up to a quarter turn, that one cubic Bezier curve follows so closely.

    A curve of sweep t with handles 4/3 tan(t/4) R long leaves the circle by at most
    R * 4/27 * sin(t/4)^6 / cos(t/4)^2, outwards (M. Goldapp, Computer Aided Geometric Design 8, 1991).
    """
    if not radius_mm > 0:
        return pi / 2
    # cos(t/4)^2 > 0.85 up to a quarter turn
    return min(pi / 2, 4 * asin(min(1.0, (0.85 * within_mm / radius_mm * 27 / 4) ** (1 / 6))))


@dataclass(frozen=True, slots=True)
class ArcEdge:
    """A circle arc to ``end`` about ``centre``, of less than a whole turn.

    ``clockwise`` is as drawn with y down: the angle atan2(y, x) about the centre increases along the arc.
    """

    end: Point
    centre: Point
    clockwise: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "end", _point(self.end))
        object.__setattr__(self, "centre", _point(self.centre))

    def radius_mm(self, start: Point) -> float:
        """The distance from the centre to the start."""
        return hypot(start[0] - self.centre[0], start[1] - self.centre[1])

    def sweep_rad(self, start: Point) -> float:
        """The turn from start to end, at least 0 and less than 2 pi, whichever way it goes."""
        (sx, sy), (ex, ey), (cx, cy) = start, self.end, self.centre
        if hypot(ex - sx, ey - sy) < POINT_MM + 16 * ulp(self.radius_mm(start)):
            return 0.0
        ux, uy = sx - cx, sy - cy
        # the same as (start - centre) x (end - centre), but right to the last digit for a short arc too
        cross = ux * (ey - sy) - uy * (ex - sx)
        turn = atan2(cross if self.clockwise else -cross, ux * (ex - cx) + uy * (ey - cy))
        return turn if turn >= 0 else turn + 2 * pi

    def point_at(self, start: Point, turn_rad: float) -> Point:
        """The point of the circle ``turn_rad`` on from the start in the arc's direction."""
        half = turn_rad / 2 if self.clockwise else -turn_rad / 2
        ux, uy = start[0] - self.centre[0], start[1] - self.centre[1]
        # the chord: 2 R sin(half) long, square to the radius at its middle
        chord, c, s = 2 * sin(half), cos(half), sin(half)
        return start[0] - chord * (ux * s + uy * c), start[1] + chord * (ux * c - uy * s)

    def sagitta_mm(self, start: Point) -> float:
        """The height of the arc over its chord."""
        return 2 * self.radius_mm(start) * sin(self.sweep_rad(start) / 4) ** 2

    def parts(self, start: Point, at_most_rad: float) -> tuple[ArcEdge, ...]:
        """The same arc as equal arcs that each sweep no more than ``at_most_rad``."""
        sweep = self.sweep_rad(start)
        count = max(1, ceil(sweep / at_most_rad - 1e-12))
        inner = (self.point_at(start, sweep * step / count) for step in range(1, count))
        return tuple(ArcEdge(end, self.centre, self.clockwise) for end in (*inner, self.end))

    def cubics(self, start: Point, within_mm: float) -> tuple[CubicEdge, ...]:
        """The arc as cubic Bezier curves, nowhere further than ``within_mm`` from it."""
        curves = []
        for part in self.parts(start, cubic_sweep_rad(self.radius_mm(start), within_mm)):
            handle = 4 / 3 * tan(part.sweep_rad(start) / 4) * (1 if self.clockwise else -1)
            (sx, sy), (ex, ey), (cx, cy) = start, part.end, self.centre
            control1 = (sx - handle * (sy - cy), sy + handle * (sx - cx))
            control2 = (ex + handle * (ey - cy), ey - handle * (ex - cx))
            curves.append(CubicEdge(control1, control2, part.end))
            start = part.end
        return tuple(curves)

    def _check(self, start: Point) -> None:
        first, last = self.radius_mm(start), self.radius_mm(self.end)
        if not abs(first - last) <= CLOSED_MM + 4 * ulp(max(first, last)):
            raise GeometryError(
                f"an arc from {start} to {self.end} about {self.centre} must keep its radius: "
                f"{first:.6f} mm at its start, {last:.6f} mm at its end"
            )

    def _moved(self, move: _Move) -> ArcEdge:
        return ArcEdge(move(self.end), move(self.centre), self.clockwise)

    def _bulge_mm2(self, start: Point) -> float:
        sweep = self.sweep_rad(start)
        bulge = self.radius_mm(start) ** 2 / 2 * (sweep - sin(sweep))
        return bulge if self.clockwise else -bulge

    def _bounds(self, start: Point) -> Bounds:
        (sx, sy), (ex, ey), (cx, cy) = start, self.end, self.centre
        ux, uy = sx - cx, sy - cy
        vx, vy = ex - cx, ey - cy
        radius = hypot(ux, uy)
        sweep = self.sweep_rad(start)
        sign = 1 if self.clockwise else -1

        def passes(dx: int, dy: int) -> bool:
            after_start = sign * (ux * dy - uy * dx) > 0
            before_end = sign * (dx * vy - dy * vx) > 0
            return (after_start and before_end) if sweep <= pi else (after_start or before_end)

        x0, y0, x1, y1 = min(sx, ex), min(sy, ey), max(sx, ex), max(sy, ey)
        if sweep > 0:
            if passes(1, 0):
                x1 = max(x1, sx + (radius - ux))
            if passes(-1, 0):
                x0 = min(x0, sx - (radius + ux))
            if passes(0, 1):
                y1 = max(y1, sy + (radius - uy))
            if passes(0, -1):
                y0 = min(y0, sy - (radius + uy))
        return x0, y0, x1, y1

    def _points(self, start: Point, chord_mm: float) -> Iterator[Point]:
        sweep, radius = self.sweep_rad(start), self.radius_mm(start)
        if sweep > 0:
            # a part of sweep t lies 2 R sin(t/4)^2 from its chord; never more than a quarter turn
            most = min(pi / 2, 4 * asin(min(1.0, sqrt(chord_mm / (2 * radius)))))
            count = ceil(sweep / most - 1e-12)
            for step in range(1, count):
                yield self.point_at(start, sweep * step / count)
        yield self.end


@dataclass(frozen=True, slots=True)
class CubicEdge:
    """A cubic Bezier curve to ``end``."""

    control1: Point
    control2: Point
    end: Point

    def __post_init__(self) -> None:
        for name in ("control1", "control2", "end"):
            object.__setattr__(self, name, _point(getattr(self, name)))

    def point_at(self, start: Point, share: float) -> Point:
        """The point at parameter ``share``, 0 to 1."""
        t, u = share, 1 - share
        b0, b1, b2, b3 = u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t
        return (
            b0 * start[0] + b1 * self.control1[0] + b2 * self.control2[0] + b3 * self.end[0],
            b0 * start[1] + b1 * self.control1[1] + b2 * self.control2[1] + b3 * self.end[1],
        )

    def _moved(self, move: _Move) -> CubicEdge:
        return CubicEdge(move(self.control1), move(self.control2), move(self.end))

    def _bulge_mm2(self, start: Point) -> float:
        # half the integral of (x dy - y dx), with the start as origin; exact
        (ax, ay), (bx, by), (ex, ey) = (
            (x - start[0], y - start[1]) for x, y in (self.control1, self.control2, self.end)
        )
        return 0.15 * (ax * by - ay * bx) + 0.15 * (ax * ey - ay * ex) + 0.3 * (bx * ey - by * ex)

    def _bounds(self, start: Point) -> Bounds:
        low, high = [], []
        for axis in (0, 1):
            values = [start[axis], self.end[axis]]
            values += [self.point_at(start, share)[axis] for share in self._turning(start, axis)]
            low.append(min(values))
            high.append(max(values))
        return low[0], low[1], high[0], high[1]

    def _turning(self, start: Point, axis: int) -> list[float]:
        """Where inside (0, 1) the curve stops moving along one axis."""
        first = self.control1[axis] - start[axis]
        middle = self.control2[axis] - self.control1[axis]
        last = self.end[axis] - self.control2[axis]
        # the derivative over 3: a t^2 + b t + c
        a, b, c = first - 2 * middle + last, 2 * (middle - first), first
        root = b * b - 4 * a * c
        if root < 0:
            return []
        q = -(b + (sqrt(root) if b >= 0 else -sqrt(root))) / 2
        roots = [top / bottom for top, bottom in ((q, a), (c, q)) if abs(top) < abs(bottom)]
        return [share for share in roots if 0 < share < 1]

    def _points(self, start: Point, chord_mm: float) -> Iterator[Point]:
        a, b, c = start, self.control1, self.control2
        d = self.end
        # a step h in the parameter leaves its chord by at most h^2 / 8 of the greatest second derivative
        bend = 6 * max(
            hypot(a[0] - 2 * b[0] + c[0], a[1] - 2 * b[1] + c[1]),
            hypot(b[0] - 2 * c[0] + d[0], b[1] - 2 * c[1] + d[1]),
        )
        count = max(1, ceil(sqrt(bend / (8 * chord_mm))))
        for step in range(1, count):
            yield self.point_at(start, step / count)
        yield d


Edge = LineEdge | ArcEdge | CubicEdge


def _positive(chord_mm: float) -> float:
    if not (isfinite(chord_mm) and chord_mm > 0):
        raise GeometryError(f"chord_mm must be finite and > 0: got {chord_mm}")
    return chord_mm


@dataclass(frozen=True, slots=True)
class _Chain:
    """Edges, each starting where the one before it ends."""

    start: Point
    edges: tuple[Edge, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", _point(self.start))
        object.__setattr__(self, "edges", tuple(self.edges))
        if not self.edges:
            raise GeometryError(f"a flat shape at {self.start} needs at least one edge")
        for begin, edge in self.walk():
            if isinstance(edge, ArcEdge):
                edge._check(begin)

    def walk(self) -> Iterator[tuple[Point, Edge]]:
        """Each edge with the point where it starts."""
        begin = self.start
        for edge in self.edges:
            yield begin, edge
            begin = edge.end

    def moved(self, turn_rad: float, dx_mm: float, dy_mm: float) -> Self:
        """Turned about the origin (+x towards +y), then shifted; never mirrored."""
        move = _Move(*_turn(turn_rad), dx_mm, dy_mm)
        return type(self)(move(self.start), tuple(edge._moved(move) for edge in self.edges))

    def bounds(self) -> Bounds:
        """Least and greatest x and y: (x0, y0, x1, y1), exact for every kind of edge."""
        x0, y0, x1, y1 = zip(*(edge._bounds(begin) for begin, edge in self.walk()))
        return min(x0), min(y0), max(x1), max(y1)

    def points(self, chord_mm: float) -> list[Point]:
        """Points from the start to the end; every edge lies within ``chord_mm`` of its chords."""
        _positive(chord_mm)
        return [self.start, *(p for begin, edge in self.walk() for p in edge._points(begin, chord_mm))]

    @property
    def is_straight(self) -> bool:
        """Whether every edge is a straight line."""
        return all(isinstance(edge, LineEdge) for edge in self.edges)


@dataclass(frozen=True, slots=True)
class Stroke(_Chain):
    """An open chain of edges, for pictures and for what is cut with another piece."""

    @classmethod
    def through(cls, points: Iterable[Point]) -> Stroke:
        """Straight from point to point."""
        first, *rest = points
        return cls(first, tuple(LineEdge(point) for point in rest))


@dataclass(frozen=True, slots=True)
class Ring(_Chain):
    """A closed chain of edges: the last one ends at ``start``."""

    def __post_init__(self) -> None:
        _Chain.__post_init__(self)
        start, end = self.start, self.edges[-1].end
        if hypot(end[0] - start[0], end[1] - start[1]) > CLOSED_MM:
            raise GeometryError(f"a ring must end where it starts: it starts at {start} and ends at {end}")

    @classmethod
    def through(cls, points: Iterable[Point]) -> Ring:
        """Straight from point to point and back to the first, which is not repeated."""
        first, *rest = points
        return cls(first, tuple(LineEdge(point) for point in (*rest, first)))

    def points(self, chord_mm: float) -> list[Point]:
        """The ring's points, the first not repeated; every edge lies within ``chord_mm`` of its chords."""
        return _Chain.points(self, chord_mm)[:-1]

    def signed_area_mm2(self) -> float:
        """The area, by Green's theorem; positive if the ring runs clockwise as drawn."""
        x, y = self.start
        terms = []
        for begin, edge in self.walk():
            (ax, ay), (bx, by) = begin, edge.end
            terms.append(((ax - x) * (by - y) - (ay - y) * (bx - x)) / 2)
            terms.append(edge._bulge_mm2(begin))
        return fsum(terms)


@dataclass(frozen=True, slots=True)
class Outline:
    """A flat shape: an outer ring and the holes inside it, nearly always none."""

    outer: Ring
    holes: tuple[Ring, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "holes", tuple(self.holes))

    @property
    def rings(self) -> tuple[Ring, ...]:
        """The outer ring, then the holes."""
        return self.outer, *self.holes

    def moved(self, turn_rad: float, dx_mm: float, dy_mm: float) -> Outline:
        """Turned about the origin (+x towards +y), then shifted; never mirrored."""
        outer, *holes = (ring.moved(turn_rad, dx_mm, dy_mm) for ring in self.rings)
        return Outline(outer, tuple(holes))

    def bounds(self) -> Bounds:
        """Least and greatest x and y: (x0, y0, x1, y1), exact for every kind of edge."""
        return self.outer.bounds()

    def area(self) -> float:
        """Square millimetres, holes taken off; exact for every kind of edge, whichever way the rings run."""
        return abs(self.outer.signed_area_mm2()) - fsum(abs(hole.signed_area_mm2()) for hole in self.holes)

    def points(self, chord_mm: float) -> tuple[list[Point], list[list[Point]]]:
        """The outer ring's points and each hole's, the first of each not repeated.

        Every true edge lies within ``chord_mm`` of its chords; arcs are sampled evenly.
        """
        return self.outer.points(chord_mm), [hole.points(chord_mm) for hole in self.holes]

    def polygon(self, chord_mm: float) -> Polygon:
        """The shape as a shapely polygon of those points."""
        from shapely import Polygon  # heavy, and a caller that only writes files does not need it

        return Polygon(*self.points(chord_mm))

    @property
    def is_straight(self) -> bool:
        """Whether every edge of every ring is a straight line."""
        return all(ring.is_straight for ring in self.rings)
