"""A strip by lengths along its centre line: the part between two places, and what lies across it where.

Places are lengths along the centre line from the strip's start, in mm. A strip is cut across squarely, or
`upright`: along meridians, which suits a zigzag.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from stripegen.curves import Parallel, Straight
from stripegen.errors import GeometryError
from stripegen.laid import Strip
from stripegen.margins import cross_edge
from stripegen.overlay import overlay
from stripegen.shapes import Edge, Shape, images, plane

Span = tuple[float, float]

KNIFE_MM = 1.0  # so much of the line is cut out at a cut; what lies beyond falls off
ASIDE_MM = 0.05  # a knife is so much wider than the strip on either side
SAMPLE_MM = 0.25  # between the places at which a strip is looked at
SAMPLES = 4000  # and the most of them
LANES = 17  # points looked at across a strip ...
RUNGS = 65  # ... and upright, over all its height
SPOTS = (0.02, 0.2, 0.5, 0.8, 0.98)
SAME_MM = 1e-9


class Way:
    """A centre line, by lengths along it."""

    def __init__(self, edges: Sequence[Edge]):
        self.edges = tuple(edges)
        lengths = [edge.curve.length_mm(edge.t0, edge.t1) for edge in edges]
        self.starts = np.concatenate([[0.0], np.cumsum(lengths)])
        self.length_mm = float(self.starts[-1])

    def place(self, along_mm: float) -> tuple[int, float]:
        """The edge, by number, and t at a length along it."""
        index = int(np.searchsorted(self.starts[1:-1], along_mm, side="right"))
        edge, left = self.edges[index], along_mm - float(self.starts[index])
        length = float(self.starts[index + 1] - self.starts[index])
        t = edge.t0 + (edge.t1 - edge.t0) * left / length
        for _ in range(20):
            off = left - edge.curve.length_mm(edge.t0, t)
            if abs(off) < SAME_MM / 10:
                break
            t += off / float(edge.curve.speed(t))
        return index, t

    def between(self, from_mm: float, to_mm: float) -> tuple[Edge, ...]:
        """The stretch between two places; the line's own ends where they are those."""
        first, t0 = (0, self.edges[0].t0) if from_mm <= 0 else self.place(from_mm)
        last, t1 = (len(self.edges) - 1, self.edges[-1].t1) if to_mm >= self.length_mm else self.place(to_mm)
        found = []
        for index in range(first, last + 1):
            edge = self.edges[index]
            part = Edge(edge.curve, t0 if index == first else edge.t0, t1 if index == last else edge.t1)
            if abs(edge.curve.length_mm(part.t0, part.t1)) > SAME_MM:
                found.append(part)
        return tuple(found)

    def samples(self) -> list[tuple[Edge, np.ndarray, np.ndarray]]:
        """Places all along: for each edge some t and how far along they are."""
        found = []
        for edge, start, end in zip(self.edges, self.starts[:-1], self.starts[1:], strict=True):
            count = int(min(SAMPLES, max(8, math.ceil((end - start) / SAMPLE_MM)))) + 1
            t = np.linspace(edge.t0, edge.t1, count)
            speed = np.broadcast_to(edge.curve.speed(t), t.shape)
            summed = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2)])
            found.append((edge, t, start + summed * ((end - start) / summed[-1])))
        return found


def part_of(strip: Strip, way: Way, from_mm: float, to_mm: float, upright: bool = False) -> Shape:
    """The part of a strip's shape between two places, cut across there; at the strip's own ends it is as it was.

    Raises GeometryError where the cuts leave no sound shape.
    """
    at_start, at_end = from_mm > SAME_MM, to_mm < way.length_mm - SAME_MM
    for half_mm in strip.width_mm * np.array([0.5, 1.0, 2.0, 4.0]) + ASIDE_MM:  # a strip that narrows may be wider
        knives = []
        if at_start:
            knives.append(_knife(strip, way, from_mm, -KNIFE_MM, half_mm, upright))
        if at_end:
            knives.append(_knife(strip, way, to_mm, KNIFE_MM, half_mm, upright))
        left = overlay([strip.shape], knives)
        if not left:
            break
        # the line may run along a border, so nearness tells, not what lies inside
        inner = _spots(way, from_mm, to_mm)
        part = left[nearest([shape.polygon for shape in left], inner)]
        beyond = [*_spots(way, 0.0, from_mm - KNIFE_MM), *_spots(way, to_mm + KNIFE_MM, way.length_mm)]
        if not any(part.polygon.distance(spot) < ASIDE_MM / 2 for spot in beyond):
            return part
    raise GeometryError("a cut across it leaves no sound shape", "make it narrower, or move what cuts it")


def nearest(polygons: Sequence[shapely.Polygon], spots: Sequence[shapely.Point]) -> int:
    """Which of some polygons lies nearest to some places, by number."""
    return min(range(len(polygons)), key=lambda index: float(np.sum(shapely.distance(polygons[index], spots))))


def _spots(way: Way, from_mm: float, to_mm: float) -> list[shapely.Point]:
    """A few places on a stretch, in the plane (mean radius x around, down); none where it has no length."""
    if to_mm <= from_mm:
        return []
    scale, found = way.edges[0].curve.wall.mean_radius_mm, []
    for share in SPOTS:
        index, t = way.place(from_mm + share * (to_mm - from_mm))
        found.append(shapely.Point(plane(way.edges[index].curve, t, scale)))
    return found


def stretch_of(
    strip: Strip, way: Way, shape: Shape, from_mm: float, to_mm: float, seen_to_mm: float = math.inf
) -> Strip:
    """The strip of a part's shape, whose centre line is a stretch of the whole's, seen up to a place of that."""
    hidden = [(max(low, from_mm), min(high, to_mm, seen_to_mm)) for low, high in strip.hidden]
    hidden = [(low - from_mm, high - from_mm) for low, high in hidden if low < high]
    if seen_to_mm < to_mm:
        hidden.append((seen_to_mm - from_mm, to_mm - from_mm))
    return Strip(shape, way.between(from_mm, to_mm), tuple(hidden), strip.width_mm)


def _knife(strip: Strip, way: Way, at_mm: float, by_mm: float, half_mm: float, upright: bool) -> Shape:
    """What a cut takes out: from a place on, by so much along the line, and to either side of it."""
    index, t = way.place(at_mm)
    curve = way.edges[index].curve
    far = t + by_mm / float(curve.speed(t))
    if not upright:
        return Shape(
            (
                Edge(curve.parallel(-half_mm), t, far),
                cross_edge(curve, far, -half_mm, half_mm),
                Edge(curve.parallel(half_mm), far, t),
                cross_edge(curve, t, half_mm, -half_mm),
            )
        )
    wall, (a, b) = curve.wall, (float(curve.at(place)[0]) for place in (t, far))
    _, top, _, bottom = strip.shape.polygon.bounds
    top, bottom = top - 1, bottom + 1
    return Shape(
        (
            Edge(Straight(wall, a, 0.0, 0.0), top, bottom),
            Edge(Parallel(wall, bottom), a, b),
            Edge(Straight(wall, b, 0.0, 0.0), bottom, top),
            Edge(Parallel(wall, top), b, a),
        )
    )


def chain(edges: Sequence[Edge]) -> shapely.LineString:
    """A line's samples in the plane (mean radius x around, down)."""
    scale = edges[0].curve.wall.mean_radius_mm
    return shapely.LineString(np.concatenate([plane(edge.curve, edge.samples(), scale) for edge in edges]))


class Sections:
    """A strip's sections at places all along it, each by points across it (or upright, over all its height)."""

    def __init__(self, strip: Strip, way: Way, upright: bool = False):
        self.shape, self.upright = strip.shape, upright
        scale = strip.shape.outer[0].curve.wall.mean_radius_mm
        _, top, _, bottom = strip.shape.polygon.bounds
        aside = np.linspace(-0.499, 0.499, LANES) * strip.width_mm
        places, points = [], []
        for edge, t, along in way.samples():
            places.append(along)
            if upright:
                around = scale * np.asarray(edge.curve.at(t)[0])
                points.append(np.stack(np.broadcast_arrays(around[:, None], np.linspace(top, bottom, RUNGS)), axis=-1))
            else:
                lanes = [plane(edge.curve.parallel(float(far)), t, scale) for far in aside]
                points.append(np.stack(lanes, axis=1))
        self.points_mm = way.starts[1:-1]
        self.places, self.points = np.concatenate(places), np.concatenate(points)
        self.own = self._inside(strip.shape)

    def crossed(self, shapes: Sequence[Shape]) -> list[Span]:
        """Stretches over which some of the strip lies in some of the shapes; none is told too short."""
        return self._spans((self.own & self._inside_any(shapes)).any(axis=1), wide=True)

    def covered(self, shapes: Sequence[Shape]) -> list[Span]:
        """Stretches over which all of the strip's width lies in the shapes; none is told too long."""
        return self._spans((~self.own | self._inside_any(shapes)).all(axis=1) & self.own.any(axis=1), wide=False)

    def rough(self, from_mm: np.ndarray, to_mm: np.ndarray) -> np.ndarray:
        """Whether between two places a strip is not plain: its sides are cut, it is much narrower, or has a point."""
        if self.upright:
            first, last = (np.searchsorted(self.points_mm, at) for at in (from_mm, to_mm))
            return last > first
        width = self.own.sum(axis=1)
        rough = width < 0.8 * width.max()
        rough[1:] |= (self.own[1:] != self.own[:-1]).any(axis=1)
        before = np.concatenate([[0], np.cumsum(rough)])
        first, last = (np.searchsorted(self.places, at) for at in (from_mm, to_mm))
        return before[np.minimum(last + 1, len(self.places))] > before[np.maximum(first - 1, 0)]

    def _inside_any(self, shapes: Sequence[Shape]) -> np.ndarray:
        found = np.zeros(self.own.shape, bool)
        for shape in images(shapes, self.shape.around_range):
            if shape.polygon.intersects(self.shape.polygon):
                found |= self._inside(shape)
        return found

    def _inside(self, shape: Shape) -> np.ndarray:
        shapely.prepare(shape.polygon)
        return shapely.contains_xy(shape.polygon, self.points[..., 0], self.points[..., 1])

    def _spans(self, inside: np.ndarray, wide: bool) -> list[Span]:
        steps = np.diff(np.concatenate([[0], inside.astype(int), [0]]))
        firsts, lasts = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1) - 1
        if wide:
            firsts, lasts = np.maximum(firsts - 1, 0), np.minimum(lasts + 1, len(inside) - 1)
        return [(float(self.places[a]), float(self.places[b])) for a, b in zip(firsts, lasts, strict=True)]
