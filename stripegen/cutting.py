"""What of a line's stripes is really stuck on the wall: cut at limits, tucked under other lines, cleared of them.

The lines of a pattern are taken so that a line comes after those that it goes under or keeps clear of; the
region of each (all of it, outer edge to outer edge, after its own cuts) is what the later ones are cut by.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from stripegen.bands import band, middle
from stripegen.courses import Course, courses_of
from stripegen.errors import GeometryError
from stripegen.laid import Covers, CutCourse, LaidLine, Strip, deepest, length_mm_of
from stripegen.overlay import GRID_MM, overlay, spans_inside
from stripegen.repeats import likeness, surroundings
from stripegen.shapes import FULL_TURN, Edge, Shape, images
from stripegen.site import Site
from stripegen.spec import Line

SEEN_MM = 1e-3  # less of a centre line than this does not make a piece
ASIDE_MM = 0.05
TOUCH_MM = 1e-6  # an end so near to a region lies in it, whatever rounding says of its border
STEP_MM = 0.5  # a tied end is run on by such steps
NEAR_RAD = 0.05  # so far past a line other things are looked at to tell whether its copies are cut alike


def lay_line(line: Line, site: Site, covers: Covers, slits: int = 1) -> LaidLine:
    """Lay a line on a wall, cut by limits and covers; each stripe slit into so many strips side by side.

    Raises GeometryError where it can't be laid or nothing is left of it.
    """
    around = (*covers.under, *covers.under_cut, *covers.clear_cut, *site.keepouts)
    known: dict[tuple, list[CutCourse]] = {}
    cuts: list[CutCourse] = []
    for course in courses_of(line, site):
        alike = known.setdefault((likeness(course), surroundings(course.around_rad, around)), [])
        found = alike[0].turned_to(course) if alike else _as_one_near(cuts, course, around)
        cuts.append(found or _cut_course(_Cutter(course, line, site, covers), slits))
        alike.append(cuts[-1])
    laid = LaidLine(line, site, tuple(cuts))
    if not laid.strips:
        raise GeometryError(
            "nothing is left of it: it lies wholly in clearances, keepouts or under other lines",
            "move it, or make what covers it smaller",
        )
    return laid


def _cut_course(cutter: _Cutter, slits: int) -> CutCourse:
    line = cutter.line
    strips: list[Strip] = []
    dropped = cut_off = 0
    cut_at: list[dict[str, float]] = []
    for distance_mm in _strip_places(line, slits):
        kept = cutter.cut(distance_mm, line.width_mm / slits)
        strips += kept
        dropped += cutter.dropped
        cut_off += bool(cutter.cut_at)
        cut_at.append(cutter.cut_at)
    if line.stripes * slits > 1:
        kept = cutter.cut(0.0, line.full_width_mm)
    region = cutter.region(kept) if cutter.closed else [strip.shape for strip in kept]
    return CutCourse(
        cutter.course,
        tuple(strips),
        tuple(region),
        cutter.closed,
        dropped,
        cut_off,
        any(cutter.ties),
        deepest(cut_at),
    )


def _as_one_near(cuts: Sequence[CutCourse], course: Course, around: Sequence[Shape]) -> CutCourse | None:
    """A course cut before, turned, if it is this one, ends free, and all that lies about it there lies here too."""
    like = likeness(course)
    for cut in cuts:
        if cut.course.closed or cut.tied or likeness(cut.course) != like:
            continue
        turn = course.around_rad - cut.course.around_rad
        low, high = (place + side * NEAR_RAD for place, side in zip(cut.around_range, (-1, 1), strict=True))
        there = surroundings(cut.course.around_rad, around, (low, high))
        if there == surroundings(course.around_rad, around, (low + turn, high + turn)):
            return cut.turned_to(course)
    return None


def _strip_places(line: Line, slits: int) -> list[float]:
    """How far beside the line the middle of each strip lies."""
    pitch, narrow = line.width_mm + line.gap_mm, line.width_mm / slits
    return [
        (stripe - (line.stripes - 1) / 2) * pitch + (slit - (slits - 1) / 2) * narrow
        for stripe in range(line.stripes)
        for slit in range(slits)
    ]


class _Cutter:
    """Cuts the bands of one course. After each cut: `dropped`, `cut_at`, and whether it `closed` round."""

    def __init__(self, course: Course, line: Line, site: Site, covers: Covers):
        self.course, self.line, self.site, self.covers = course, line, site, covers
        self.dropped, self.cut_at = 0, {}
        self.closed = course.closed
        self.ties = (None, None) if course.closed else (self._tie(True), self._tie(False))

    def cut(self, distance_mm: float, width_mm: float) -> list[Strip]:
        """The strips that are left of the band of this width whose middle is so far beside the course."""
        self.dropped, self.cut_at = 0, {}
        low_mm, high_mm = distance_mm - width_mm / 2, distance_mm + width_mm / 2
        if not self.course.closed:
            return self._cut_open(distance_mm, low_mm, high_mm)
        return self._cut_closed(distance_mm, low_mm, high_mm)

    def region(self, kept: Sequence[Strip]) -> list[Shape]:
        """The region of a closed course that no cut has opened: exactly once round, without its overlap."""
        low_mm, high_mm = -self.line.full_width_mm / 2, self.line.full_width_mm / 2
        whole = band(self.course, low_mm, high_mm)
        return overlay([whole], self._cutters(whole))

    def _cutters(self, shape: Shape) -> list[Shape]:
        limits = self.site.limits(shape)
        return limits + self.covers.near(shape)

    def _cut_closed(self, distance_mm: float, low_mm: float, high_mm: float) -> list[Strip]:
        overlap_mm = self.course.overlap_mm
        whole = band(self.course, low_mm, high_mm, overlap_mm)
        once = middle(self.course, distance_mm)
        centre = middle(self.course, distance_mm, overlap_mm)
        cutters = _meeting(whole, self._cutters(whole))
        self._note_cut_off(whole)
        self.closed = True
        if not cutters:
            return self._seen([self._strip(whole, centre, once, high_mm - low_mm)])
        turns = band(self.course.unrolled(), low_mm, high_mm)
        parts = overlay([turns], self._cutters(turns))
        # what goes all the way round is laid from the joint on; the rest are pieces as of any open line
        closed, loose = _apart(parts, turns)
        self.closed = bool(closed)
        strips = []
        if closed:
            cut = overlay([whole], cutters)
            strips = self._strips(_apart(cut, whole)[0] or cut, centre, high_mm - low_mm, once=once)
        joint = self.course.around_rad
        own = [part for part in loose if -1e-9 <= part.around_range[0] - joint < FULL_TURN - 1e-9]
        return strips + self._strips(own, middle(self.course.unrolled(), distance_mm), high_mm - low_mm)

    def _cut_open(self, distance_mm: float, low_mm: float, high_mm: float) -> list[Strip]:
        ends_t = [
            tie and _run_on_t(self.course, at_start, low_mm, high_mm, tie)
            for at_start, tie in zip((True, False), self.ties, strict=True)
        ]
        course = self.course.run_on(*ends_t)
        shape, centre = band(course, low_mm, high_mm), middle(course, distance_mm)
        beyond: list[Shape] = []
        inner_from, inner_to = -math.inf, math.inf
        for at_start, tie in zip((True, False), self.ties, strict=True):
            if tie is None:
                continue
            entry = _entry_t(self.course, centre[0], at_start, tie)
            if entry is None:
                continue
            if at_start:
                inner_from = entry
            else:
                inner_to = entry
            # wider than the strip, so that their sides don't run along its own
            wide = band(course, low_mm - ASIDE_MM, high_mm + ASIDE_MM)
            for part in overlay([wide], images(tie, wide.around_range)):
                at = _t_near(centre, part)
                if at < inner_from or at > inner_to:
                    beyond.append(part)
        held = [image for tie in self.ties if tie for image in images(tie, shape.around_range)]
        self._note_cut_off(shape, [*held, *beyond])
        parts = overlay([shape], self._cutters(shape) + beyond)
        return self._strips(parts, centre, high_mm - low_mm, inner_from, inner_to)

    def _strips(
        self,
        parts: Sequence[Shape],
        centre: list[Edge],
        width_mm: float,
        inner_from: float = -math.inf,
        inner_to: float = math.inf,
        once: list[Edge] | None = None,
    ) -> list[Strip]:
        """The parts that are pieces, in the order of the centre line; the others are counted as dropped.

        Parts wholly outside inner_from to inner_to (a tied end's run on) are no loss and not counted. Of a centre
        line that overlaps itself, only what lies on `once` is seen.
        """
        found = []
        for part in parts:
            spans = [
                (index, span)
                for index, edge in enumerate(centre)
                if _may_meet(edge, part)
                for span in spans_inside(edge, [part])
            ]
            if not spans:
                at = _t_near(centre, part)
                self.dropped += inner_from < at < inner_to
                continue
            (first, (t0, _)), (last, (_, t1)) = spans[0], spans[-1]
            if t1 <= inner_from + 1e-6 or t0 >= inner_to - 1e-6:
                continue
            line = _stretch(centre, first, t0, last, t1)
            seen = line
            if once:
                seen = _stretch(once, first, t0, *min((last, t1), (len(once) - 1, once[-1].t1)))
            found.append(((first, t0), self._strip(part, line, seen, width_mm)))
        return self._seen([strip for _, strip in sorted(found, key=lambda item: item[0])])

    def _seen(self, strips: Sequence[Strip]) -> list[Strip]:
        """Those that do not lie wholly under other lines; the others are counted as dropped."""
        found = [strip for strip in strips if strip.true_mm >= SEEN_MM]
        self.dropped += len(strips) - len(found)
        return found

    def _strip(self, shape: Shape, line: Sequence[Edge], seen: Sequence[Edge], width_mm: float) -> Strip:
        """The strip of a shape along `line`, which is `seen` and, if longer, runs on past where its other end lies."""
        hidden, along_mm = [], 0.0
        for edge in seen:
            over = images(self.covers.under, _around_range(edge)) if self.covers.under else []
            for span in spans_inside(edge, over):
                hidden.append(tuple(along_mm + edge.curve.length_mm(edge.t0, t) for t in span))
            along_mm += edge.curve.length_mm(edge.t0, edge.t1)
        whole_mm = length_mm_of(line)
        if along_mm < whole_mm:
            hidden.append((along_mm, whole_mm))
        return Strip(shape, tuple(line), tuple(hidden), width_mm)

    def _note_cut_off(self, shape: Shape, hidden: Sequence[Shape] = ()) -> None:
        """Note which limits take anything off a strip, but for what is hidden or dropped anyway."""
        seen = shape.polygon
        if hidden:
            seen = seen.difference(shapely.unary_union([other.polygon for other in hidden]))
        lost = [(name, seen.intersection(limit.polygon)) for name, limit in self.site.named_limits(shape)]
        self.cut_at = deepest({name: part.bounds[3] - part.bounds[1]} for name, part in lost if part.area > 0.01)

    def _tie(self, at_start: bool) -> tuple[Shape, ...] | None:
        """What holds an end of the course: the regions in which it lies; None where it lies in none."""
        leg = self.course.legs[0] if at_start else self.course.legs[-1]
        around, down = leg.place(leg.t0 if at_start else leg.t1)
        spot = shapely.Point(self.site.wall.mean_radius_mm * around, down)
        near = images((*self.covers.under, *self.covers.clear_cut), (around - math.pi, around + math.pi))
        if not any(shape.polygon.distance(spot) < TOUCH_MM for shape in near):
            return None
        whole = shapely.unary_union([shape.polygon for shape in near], grid_size=GRID_MM)  # turns of a ring meet
        block = min(shapely.get_parts(whole), key=spot.distance)
        return tuple(shape for shape in near if shape.polygon.intersection(block).area > 0)


def _apart(parts: Sequence[Shape], whole: Shape) -> tuple[list[Shape], list[Shape]]:
    """The parts that reach from one end of a shape to the other, and those that don't."""
    low, high = whole.around_range
    across = [part.around_range[1] - part.around_range[0] > high - low - 1e-6 for part in parts]
    return (
        [part for part, reaches in zip(parts, across, strict=True) if reaches],
        [part for part, reaches in zip(parts, across, strict=True) if not reaches],
    )


def _may_meet(edge: Edge, part: Shape) -> bool:
    """Whether a stretch of centre line, which never turns back round the cup, reaches a part's range of around."""
    (low, high), ends = part.around_range, [float(edge.curve.at(t)[0]) for t in (edge.t0, edge.t1)]
    return min(ends) <= high and max(ends) >= low


def _meeting(shape: Shape, cutters: Sequence[Shape]) -> list[Shape]:
    return [cutter for cutter in cutters if shape.polygon.intersects(cutter.polygon)]


def _run_on_t(course: Course, at_start: bool, low_mm: float, high_mm: float, tie: Sequence[Shape]) -> float:
    """How far (t) an end must run on until the whole width of a band is past what holds it."""
    leg = course.legs[0] if at_start else course.legs[-1]
    wall = leg.curve.wall
    t_end = leg.t0 if at_start else leg.t1
    step = STEP_MM / float(leg.curve.speed(t_end)) * (-1 if at_start else 1)
    count = math.ceil((wall.girth_mm(0) + wall.girth_mm(wall.wall_mm) + wall.wall_mm) / STEP_MM)
    t = t_end + step * np.arange(count)
    ends = [np.stack(course.beside(leg, side).at(t), axis=-1) for side in (low_mm, high_mm)]
    across = np.stack(ends, axis=1) * (wall.mean_radius_mm, 1.0)
    across = across[: np.argmin(np.append(np.isfinite(across).all(axis=(1, 2)), False))]
    block = shapely.unary_union([shape.polygon for shape in tie])
    shapely.prepare(block)
    clear = np.flatnonzero(~shapely.intersects(block, shapely.linestrings(across)))
    if not len(clear):
        raise GeometryError(
            "its end lies along the line that it should tuck under or keep clear of", "let it end across that line, or clear of it"
        )
    return float(t[clear[0]])


def _entry_t(course: Course, centre: Edge, at_start: bool, tie: Sequence[Shape]) -> float | None:
    """Where a stripe's centre line, coming from the line's middle, enters what holds its end."""
    t_end = course.legs[0].t0 if at_start else course.legs[-1].t1
    spans = spans_inside(centre, tie)
    if not spans:
        return None
    span = min(spans, key=lambda span: max(span[0] - t_end, t_end - span[1], 0.0))
    return span[1] if at_start else span[0]


def _t_near(centre: Sequence[Edge], part: Shape) -> float:
    """The place on a centre line (of one leg; of several, any) nearest to a part of its band."""
    edge = centre[0]
    t = edge.samples()
    around, down = edge.curve.at(t)
    chain = np.stack([edge.curve.wall.mean_radius_mm * around, down], axis=-1)
    along = shapely.line_locate_point(shapely.LineString(chain), part.polygon.representative_point())
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(chain, axis=0).T))])
    return float(np.interp(along, lengths, t))


def _stretch(centre: Sequence[Edge], first: int, t0: float, last: int, t1: float) -> list[Edge]:
    """The centre line from t0 on one of its edges to t1 on another."""
    edges = []
    for index in range(first, last + 1):
        edge = centre[index]
        edges.append(Edge(edge.curve, t0 if index == first else edge.t0, t1 if index == last else edge.t1))
    return edges


def _around_range(edge: Edge) -> tuple[float, float]:
    around = edge.curve.at(edge.samples())[0]
    return float(around.min()), float(around.max())
