"""What became of a line on the wall, as values: its strips, what each course became, and what cuts other lines."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from stripegen.courses import Course
from stripegen.margins import grown, shrunk
from stripegen.shapes import FULL_TURN, Edge, Shape, images
from stripegen.site import KEEPOUT, Site
from stripegen.spec import Line


@dataclass(frozen=True)
class Strip:
    """One piece of vinyl on the wall.

    `middle` is its own centre line from end to end; `hidden` are the stretches of it, by lengths from its start,
    that are not seen: under covering lines, or past where another end lies. `first` is the strip of which this is
    a copy further round the cup, if it is one.
    """

    shape: Shape
    middle: tuple[Edge, ...]
    hidden: tuple[tuple[float, float], ...]
    width_mm: float
    first: Strip | None = None

    @cached_property
    def cut_mm(self) -> float:
        """Of the centre line, from end to end."""
        return length_mm_of(self.middle)

    @cached_property
    def true_mm(self) -> float:
        """What is seen of the centre line."""
        return self.cut_mm - sum(end - start for start, end in self.hidden)

    def turned(self, turn_rad: float) -> Strip:
        """The same strip further round the cup."""
        middle = tuple(edge.turned(turn_rad) for edge in self.middle)
        copy = replace(self, shape=self.shape.turned(turn_rad), middle=middle, first=self.first or self)
        copy.__dict__.update(cut_mm=self.cut_mm, true_mm=self.true_mm)
        return copy


@dataclass(frozen=True)
class Covers:
    """What cuts a line, all on its own wall: full regions, and what is really cut away for them."""

    under: tuple[Shape, ...] = ()
    under_cut: tuple[Shape, ...] = ()
    clear_cut: tuple[Shape, ...] = ()

    def near(self, shape: Shape) -> list[Shape]:
        return images((*self.under_cut, *self.clear_cut), shape.around_range)


@dataclass(frozen=True)
class CutCourse:
    """What one course of a line became: its strips in order, its region, and how many bits were dropped or cut off.

    `closed` says that it runs all the way round still. `cut_at`: what cuts its strips off, by the names that `site` has
    for limits, and how far down the wall they would have reached into it.
    """

    course: Course
    strips: tuple[Strip, ...]
    region: tuple[Shape, ...]
    closed: bool
    dropped: int
    cut_off: int
    tied: bool = False
    cut_at: Mapping[str, float] = field(default_factory=dict)

    def turned_to(self, course: Course) -> CutCourse:
        """The same for another course that is this one, turned."""
        turn_rad = course.around_rad - self.course.around_rad
        return replace(
            self,
            course=course,
            strips=tuple(strip.turned(turn_rad) for strip in self.strips),
            region=tuple(shape.turned(turn_rad) for shape in self.region),
        )

    @property
    def around_range(self) -> tuple[float, float]:
        ranges = [shape.around_range for shape in (*self.region, *(strip.shape for strip in self.strips))]
        return min((low for low, _ in ranges), default=0.0), max((high for _, high in ranges), default=0.0)


@dataclass(frozen=True)
class LaidLine:
    """A line on the wall: what each of its courses became, in order."""

    line: Line
    site: Site
    cuts: tuple[CutCourse, ...]

    @cached_property
    def strips(self) -> tuple[Strip, ...]:
        return tuple(strip for cut in self.cuts for strip in cut.strips)

    @cached_property
    def region(self) -> tuple[Shape, ...]:
        return tuple(shape for cut in self.cuts for shape in cut.region)

    @property
    def dropped(self) -> int:
        return sum(cut.dropped for cut in self.cuts)

    @property
    def cut_off(self) -> int:
        return sum(cut.cut_off for cut in self.cuts)

    @property
    def cut_at(self) -> dict[str, float]:
        """What cuts its strips off, and how far they would have reached into it at most."""
        return deepest(cut.cut_at for cut in self.cuts)

    @property
    def is_opened(self) -> bool:
        """Whether a keepout cuts it open that would go all the way round."""
        return any(cut.course.closed and not cut.closed and KEEPOUT in cut.cut_at for cut in self.cuts)

    @property
    def joints_rad(self) -> tuple[float, ...]:
        """Where the courses that run all the way round have their joints."""
        return tuple(cut.course.around_rad for cut in self.cuts if cut.closed)

    def region_on(self, site: Site) -> list[Shape]:
        """The region as it lies on the wall of another line."""
        if site.wall == self.site.wall:
            return list(self.region)
        known: dict[int, list[Shape]] = {}
        return [
            part
            for shape in self.region
            for part in shape.as_first(lambda first: [first.carried(site.wall)], known)
        ]

    def stays(self, edge: Edge, site: Site) -> bool:
        """Whether the region's border at an edge is none: a limit, where nothing else is stuck, or a joint."""
        arounds = edge.curve.at(np.linspace(edge.t0, edge.t1, 3))[0]
        for joint in self.joints_rad:
            if all(abs(math.remainder(float(around) - joint, FULL_TURN)) < 1e-9 for around in arounds):
                return True
        return site.on_limit(edge)


def covers_of(line: Line, site: Site, laid: Sequence[LaidLine]) -> Covers:
    """What cuts a line, of the lines laid before it."""
    by_name = {other.line.name: other for other in laid}
    under = [(by_name[name], by_name[name].region_on(site)) for name in line.under]
    clear = [by_name[name].region_on(site) for name in line.clear_of]
    return Covers(
        under=tuple(shape for _, region in under for shape in region),
        under_cut=tuple(
            part
            for other, region in under
            for part in _each(region, lambda shape, other=other: shrunk(shape, line.tuck_mm, lambda e: other.stays(e, site)))
        ),
        clear_cut=tuple(part for region in clear for part in _each(region, lambda shape: grown(shape, line.by_mm))),
    )


def _each(region: Sequence[Shape], made: Callable[[Shape], list[Shape]]) -> list[Shape]:
    """What is made of each shape of a region, made once for copies of one."""
    known: dict[int, list[Shape]] = {}
    return [part for shape in region for part in shape.as_first(made, known)]


def length_mm_of(edges: Sequence[Edge]) -> float:
    return sum(edge.curve.length_mm(edge.t0, edge.t1) for edge in edges)


def deepest(cuts: Iterable[Mapping[str, float]]) -> dict[str, float]:
    found: dict[str, float] = {}
    for cut in cuts:
        for name, deep_mm in cut.items():
            found[name] = max(found.get(name, 0.0), deep_mm)
    return found
