"""Where the lines of a decoration cross each other, and at what angle: centre line over centre line.

Lines cross where both run on past the place by more than half the other's width. A line that is cut back from another
(`clear_of`) does not cross it; one that goes under it does.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from stripegen.bands import middle
from stripegen.carrying import carried
from stripegen.courses import Course, courses_of
from stripegen.crossing import meet
from stripegen.curves import Curve
from stripegen.decoration import Decoration
from stripegen.laid import LaidLine
from stripegen.lineparts import Part, label_of
from stripegen.repeats import likeness
from stripegen.shapes import FULL_TURN, Edge
from stripegen.spec import Line
from stripegen.surface import Wall

LEAST_RAD = 1e-4  # lines at a smaller angle run side by side
SAME_MM = 1e-3  # crossings of the same two lines no farther apart are one


@dataclass(frozen=True, slots=True, kw_only=True)
class Cross:
    """Where two lines cross: `angle_rad` is that between their centre lines, above 0 and at most a quarter turn."""

    first: str
    second: str
    lines: tuple[str, str]
    around_rad: float
    down_mm: float
    angle_rad: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AlikeCrosses:
    """All crossings of two lines' copies at one angle and one place down."""

    lines: tuple[str, str]
    number: int
    down_mm: float
    angle_rad: float


@dataclass(frozen=True)
class _Centre:
    """The centre line of one copy, on the cup's own wall."""

    line: Line
    label: str
    course: Course
    edges: tuple[Edge, ...]

    @cached_property
    def _sampled(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        points, edges, t = [], [], []
        for number, edge in enumerate(self.edges):
            own = edge.samples()
            points.append(np.stack(np.broadcast_arrays(*edge.curve.at(own)), axis=-1))
            edges.append(np.full(len(own), number))
            t.append(own)
        return np.concatenate(points), np.concatenate(edges), np.concatenate(t)

    @cached_property
    def chain(self) -> shapely.LineString:
        """Its samples in the plane (mean radius x around, down)."""
        return shapely.LineString(self._sampled[0] * (self.scale_mm, 1.0))

    @property
    def scale_mm(self) -> float:
        return self.edges[0].curve.wall.mean_radius_mm

    @cached_property
    def kind(self) -> tuple:
        """What it has in common with the copies that are it, turned."""
        return self.line.name, likeness(self.course)

    def place(self, point: np.ndarray) -> tuple[Edge, float]:
        """The edge and t nearest to a point of the plane."""
        points, edges, t = self._sampled
        lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points * (self.scale_mm, 1.0), axis=0).T))])
        off = shapely.line_locate_point(self.chain, shapely.Point(point))
        at = int(np.clip(np.searchsorted(lengths, off), 1, len(lengths) - 1))
        while at < len(lengths) - 1 and edges[at - 1] != edges[at]:
            at += 1
        share = (off - lengths[at - 1]) / max(lengths[at] - lengths[at - 1], 1e-12)
        return self.edges[edges[at]], float(t[at - 1] + min(1.0, max(0.0, share)) * (t[at] - t[at - 1]))

    @cached_property
    def _lengths(self) -> list[float]:
        return [edge.curve.length_mm(edge.t0, edge.t1) for edge in self.edges]

    def goes_on(self, edge: Edge, t: float, least_mm: float) -> bool:
        """Whether it runs on both ways by more than so much from a place on it."""
        if self.course.closed:
            return True
        at = next(number for number, own in enumerate(self.edges) if own is edge)
        here = edge.curve.length_mm(edge.t0, t)
        before, after = sum(self._lengths[:at]) + here, sum(self._lengths[at:]) - here
        return min(before, after) > least_mm


def crossings_of(decoration: Decoration) -> list[Cross]:
    """Every place where the centre lines of two lines, or of two copies of one, cross, in the pattern's order.

    At some of them neither line may lie, as in a keepout: see `lying_crosses`.
    """
    centres = [centre for laid in decoration.lines for centre in _centres(laid, decoration.site.wall)]
    known: dict[tuple, list[Cross]] = {}
    found: list[Cross] = []
    for number, first in enumerate(centres):
        start = first.course.around_rad
        for second in centres[number + 1 :]:
            if _kept_clear(first.line, second.line):
                continue
            ahead = round((second.course.around_rad - start) % FULL_TURN, 7) % round(FULL_TURN, 7)
            key = (first.kind, second.kind, ahead)
            if key not in known:  # copies cross as often as they are turned alike
                known[key] = [replace(cross, around_rad=cross.around_rad - start) for cross in _crosses(first, second)]
            found += [
                replace(
                    cross,
                    first=first.label,
                    second=second.label,
                    around_rad=(cross.around_rad + start) % FULL_TURN,
                )
                for cross in known[key]
            ]
    return found


def alike_crosses(crosses: Sequence[Cross]) -> list[AlikeCrosses]:
    """Crossings of the same lines, at one angle and one place down, told once: to 0.01 degrees and 0.01 mm."""
    told: dict[tuple, list[Cross]] = {}
    for cross in crosses:
        key = (cross.lines, round(math.degrees(cross.angle_rad), 2), round(cross.down_mm, 2))
        told.setdefault(key, []).append(cross)
    return [
        AlikeCrosses(lines=lines, number=len(alike), down_mm=alike[0].down_mm, angle_rad=alike[0].angle_rad)
        for (lines, _, _), alike in sorted(told.items(), key=lambda item: (_order(item[0][0], crosses), item[0][2]))
    ]


def _order(lines: tuple[str, str], crosses: Sequence[Cross]) -> int:
    return next(number for number, cross in enumerate(crosses) if cross.lines == lines)


def _centres(laid: LaidLine, wall: Wall) -> Iterator[_Centre]:
    courses = courses_of(laid.line, laid.site)
    for number, course in enumerate(courses, 1):
        edges = tuple(Edge(_on(edge.curve, wall), edge.t0, edge.t1) for edge in middle(course, 0.0))
        yield _Centre(laid.line, label_of(laid.line.name, number if len(courses) > 1 else None), course, edges)


def _on(curve: Curve, wall: Wall) -> Curve:
    return curve if curve.wall == wall else carried(curve, wall)


def _kept_clear(first: Line, second: Line) -> bool:
    return second.name in first.clear_of or first.name in second.clear_of


def _crosses(first: _Centre, second: _Centre) -> Iterator[Cross]:
    scale, seen = first.scale_mm, []
    low, high = (first.chain.bounds[side] / scale for side in (0, 2))
    own_low, own_high = (second.chain.bounds[side] / scale for side in (0, 2))
    for turns in range(math.ceil((low - own_high) / FULL_TURN), math.floor((high - own_low) / FULL_TURN) + 1):
        across = turns * FULL_TURN * scale
        moved = shapely.transform(second.chain, lambda points, by=across: points + (by, 0.0))
        met = shapely.intersection(first.chain, moved)
        for point in (each for each in shapely.get_parts(met) if each.geom_type == "Point"):
            cross = _cross_near(first, second, shapely.get_coordinates(point)[0], turns)
            if cross is None:
                continue
            if not any(_is_one(cross, other, scale) for other in seen):
                seen.append(cross)
                yield cross


def _cross_near(first: _Centre, second: _Centre, point: np.ndarray, turns: int) -> Cross | None:
    edge, t = first.place(point)
    other, u = second.place(point - (turns * FULL_TURN * first.scale_mm, 0.0))
    met = meet(edge.curve, t, other.curve.turned(turns * FULL_TURN), u)
    if met is None:
        return None
    t, u = met
    if not (
        first.goes_on(edge, t, second.line.full_width_mm / 2) and second.goes_on(other, u, first.line.full_width_mm / 2)
    ):
        return None
    around, down, heading = (float(value) for value in edge.curve.along(t))
    angle = abs(math.remainder(heading - float(other.curve.along(u)[2]), math.pi))
    if angle < LEAST_RAD:
        return None
    return Cross(
        first=first.label,
        second=second.label,
        lines=(first.line.name, second.line.name),
        around_rad=around,
        down_mm=down,
        angle_rad=angle,
    )


def _is_one(cross: Cross, other: Cross, scale_mm: float) -> bool:
    across = math.remainder(cross.around_rad - other.around_rad, FULL_TURN) * scale_mm
    return math.hypot(across, cross.down_mm - other.down_mm) < SAME_MM


def lying_crosses(crosses: Sequence[Cross], parts: Sequence[Part], scale_mm: float) -> list[Cross]:
    """The crossings at places where one of the two lines is; `parts` are the decoration's (`parts_of`)."""
    if not crosses:
        return []
    tree = shapely.STRtree([part.shape.polygon for part in parts])
    low, _, high, _ = shapely.total_bounds(tree.geometries)
    places = np.array([(cross.around_rad * scale_mm, cross.down_mm) for cross in crosses])
    lies = np.zeros(len(crosses), dtype=bool)
    turn_mm = FULL_TURN * scale_mm
    for turns in range(math.floor(low / turn_mm) - 1, math.ceil(high / turn_mm) + 1):
        at, under = tree.query(shapely.points(places + (turns * turn_mm, 0.0)), predicate="intersects")
        for number, part in zip(at.tolist(), under.tolist(), strict=True):
            lies[number] |= parts[part].label in (crosses[number].first, crosses[number].second)
    return [cross for cross, is_there in zip(crosses, lies, strict=True) if is_there]
