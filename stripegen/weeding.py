"""What of a strip is too thin or too small to weed: dropped, or its sharp tips cut off.

A disc as wide as the least width that weeds goes only so far into a corner of a strip. What a sharp tip has past
the disc is cut off, squarely to the tip's bisector.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from stripegen.curves import Straight
from stripegen.errors import GeometryError
from stripegen.flat import lay_flat
from stripegen.laid import Strip
from stripegen.lengthwise import Way, chain, stretch_of
from stripegen.margins import cross_edge, heading_of, inward_of
from stripegen.overlay import overlay, spans_inside
from stripegen.shapes import Edge, Loop, Shape, plane

SHARP_RAD = math.radians(30)  # a corner is a tip if it is sharper ...
SHORTEST = 0.5 / math.sin(SHARP_RAD / 2) - 0.5  # ... and so reaches more than so many widths past the disc
SLACK_MM = 0.02  # what is narrower by no more is as good as wide enough
SAG = 0.02  # of the width: a side of a tip that bends less is straight
LONGEST = 40  # widths: a longer tip is left as it is
STEPS = 8  # to a width, at which the sides of a bent tip are looked at
ASIDE = 2  # widths to either side of a tip's bisector in which it lies
CLEAR = 0.05  # widths by which a cutter is wider than its tip
SPECK_MM2 = 2e-3
MIDDLE = 2  # widths: nothing is cut off that would shorten the strip itself by more


@dataclass(frozen=True)
class Weeded:
    """What is left of a strip (None: it is dropped), and what was taken.

    `tips_mm` are the lengths of the tips that are cut off, `seen_mm` how much less of the centre line is seen,
    and `left` the number of tips that are too long to be cut off.
    """

    strip: Strip | None
    tips_mm: tuple[float, ...] = ()
    seen_mm: float = 0.0
    left: int = 0


@dataclass(frozen=True)
class _Tip:
    """A corner: where it is and the heading from there into the strip, its angle, and whether its sides are straight.

    One that ends bluntly is counted from the middle of that end, which lies up to `behind_mm` behind it.
    """

    ruler: Straight
    angle_rad: float
    is_plain: bool
    behind_mm: float


def weedable(strip: Strip, min_width_mm: float) -> Weeded:
    """Take from a strip what is too thin to weed; a strip with nothing of that comes back itself.

    A strip that is nowhere `min_width_mm` wide is dropped. A tip is cut off, unless the strip itself would be
    shortened by more than two such widths. With no least width nothing is taken.
    """
    if min_width_mm <= SLACK_MM:
        return Weeded(strip)
    if strip.width_mm < min_width_mm - SLACK_MM:
        return Weeded(None, seen_mm=strip.true_mm)
    tips, has_short = _corners(strip.shape, min_width_mm)
    if not tips and not has_short:
        return Weeded(strip)
    if _is_sliver(strip, min_width_mm):
        return Weeded(None, seen_mm=strip.true_mm)
    found, lost, left = strip, [], 0
    for tip in tips:
        cut = _cut_off(found, tip, min_width_mm)
        if cut is None:
            left += 1
        elif cut[1]:
            found = cut[0]
            lost.append(cut[1])
    return Weeded(found, tuple(lost), strip.true_mm - found.true_mm, left)


def _is_sliver(strip: Strip, min_width_mm: float) -> bool:
    """Whether a disc of that width fits nowhere in the strip."""
    flat = lay_flat(strip)
    return shapely.Polygon(flat.points, flat.holes).buffer((SLACK_MM - min_width_mm) / 2).is_empty


def _corners(shape: Shape, min_width_mm: float) -> tuple[list[_Tip], bool]:
    """The tips of a shape, and whether some edge is shorter than the least width.

    A tip may end in edges that are shorter than that; its angle is then that between the sides before and after.
    """
    tips, has_short = [], False
    for loop in shape.loops:
        lengths = [abs(edge.curve.length_mm(edge.t0, edge.t1)) for edge in loop]
        inward = inward_of(shape, loop)
        is_short = [length < min_width_mm - SLACK_MM for length in lengths]
        has_short |= any(is_short)
        count = len(loop)
        for first in range(count):
            if is_short[first]:
                continue
            last, turn = first, 0.0
            while last - first < count:
                edge, after = loop[last % count], loop[(last + 1) % count]
                turn += math.remainder(heading_of(after, after.t0) - heading_of(edge, edge.t1), 2 * math.pi)
                last += 1
                if not is_short[last % count]:
                    break
            angle = math.pi - inward * turn
            if angle < SHARP_RAD:
                tips.append(_tip(loop, lengths, first, last, angle, inward, min_width_mm))
    return tips, has_short


def _tip(loop: Loop, lengths: list[float], first: int, last: int, angle: float, inward: int, width: float) -> _Tip:
    """The tip between two of a loop's edges and the short ones between them."""
    count = len(loop)
    before, after = loop[first], loop[last % count]
    between = [loop[index % count] for index in range(first + 1, last)]
    edge = between[len(between) // 2] if between else after
    apex = edge.curve.at((edge.t0 + edge.t1) / 2 if between else edge.t0)
    heading = heading_of(after, after.t0) + inward * angle / 2
    ruler = Straight(edge.curve.wall, *(float(value) for value in apex), heading)
    is_plain = False
    if not between and angle > 0:
        reach = width / 2 / math.tan(angle / 2)
        bend = max(abs(float(side.curve.curvature(t))) for side, t in ((before, before.t1), (after, after.t0)))
        is_plain = min(lengths[first], lengths[last % count]) >= reach and bend * reach**2 / 2 < SAG * width
    return _Tip(ruler, angle, is_plain, sum(lengths[index % count] for index in range(first + 1, last)))


def _cut_off(strip: Strip, tip: _Tip, width: float) -> tuple[Strip, float] | None:
    """The strip without a tip, and by how much that is cut off; None where it can't be."""
    length, aside = _reach(strip.shape, tip, width)
    if length is None:
        return None
    if length <= SHORTEST * width * (1 - 1e-9):
        return strip, 0.0
    ruler, aside, behind = tip.ruler, aside + CLEAR * width, -tip.behind_mm - CLEAR * width
    cutter = Shape(
        (
            Edge(ruler.parallel(-aside), behind, length),
            cross_edge(ruler, length, -aside, aside),
            Edge(ruler.parallel(aside), length, behind),
            cross_edge(ruler, behind, aside, -aside),
        )
    )
    try:
        parts = overlay([strip.shape], [cutter])
        shape = max(parts, key=lambda part: part.polygon.area, default=None)
        cut = shape and _shortened(strip, shape, cutter)
    except GeometryError:
        return None
    if not cut or strip.cut_mm - cut.cut_mm > MIDDLE * width:
        return None
    taken = shapely.get_parts(strip.shape.polygon.difference(shape.polygon))
    is_one = sum(part.area > SPECK_MM2 for part in taken) == 1 and len(parts) == 1
    return (cut, length) if is_one else None


def _reach(shape: Shape, tip: _Tip, width: float) -> tuple[float | None, float]:
    """How much of a tip no disc reaches along its bisector, None where that can't be told; and how wide that is."""
    radius = width / 2
    if tip.is_plain:
        length = radius / math.sin(tip.angle_rad / 2) - radius
        return length, length * math.tan(tip.angle_rad / 2)
    lows, highs, step = [], [], width / STEPS
    for low, high in _chords(shape, tip.ruler, step, ASIDE * width):
        lows.append(low)
        highs.append(high)
        # the disc that ends at the last of them, and how far it reaches to either side at those before
        before = min(len(lows), STEPS)
        half = np.sqrt(np.maximum(radius**2 - (radius - step * np.arange(before)) ** 2, 0.0))[::-1]
        room = np.min(np.array(highs[-before:]) - half) - np.max(np.array(lows[-before:]) + half)
        if len(lows) > STEPS and room > -SLACK_MM:
            own = len(lows) - STEPS
            return step * own, max(*highs[:own], *(-low for low in lows[:own]))
    return None, 0.0


def _chords(shape: Shape, ruler: Straight, step: float, aside: float) -> Iterator[tuple[float, float]]:
    """From where to where a tip reaches beside its bisector, at steps along that, for as long as it does."""
    scale, low, high = ruler.wall.mean_radius_mm, 0.0, 0.0
    for block in range(LONGEST):
        t = step * (1 + block * STEPS + np.arange(STEPS))
        left, right = (plane(ruler.parallel(side), t, scale) for side in (-aside, aside))
        if not np.isfinite([left, right]).all():
            return  # past the point to which the wall tapers
        near = shapely.clip_by_rect(shape.polygon, *shapely.total_bounds(shapely.points([*left, *right])))
        for start, end in zip(left, right, strict=True):
            line = shapely.LineString([start, end])
            spans = [
                sorted(aside * (2 * line.project(shapely.Point(point), normalized=True) - 1) for point in part.coords)
                for part in shapely.get_parts(line.intersection(near))
                if part.geom_type == "LineString" and not part.is_empty
            ]
            own = [span for span in spans if span[0] <= high + step and span[1] >= low - step]
            if not own:
                return
            low, high = max(own, key=lambda span: span[1] - span[0])
            yield low, high


def _shortened(strip: Strip, shape: Shape, cutter: Shape) -> Strip | None:
    """The strip with less of its shape, and what of its centre line is left then; None: nothing is."""
    way = Way(strip.middle)
    if not cutter.polygon.intersects(chain(strip.middle)):
        return replace(strip, shape=shape, first=None)
    left = [
        start + edge.curve.length_mm(edge.t0, t)
        for edge, start in zip(strip.middle, way.starts.tolist(), strict=False)
        for span in spans_inside(edge, [shape])
        for t in span
    ]
    return stretch_of(strip, way, shape, left[0], left[-1]) if left else None
