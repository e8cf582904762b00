"""Parts of strips that are too long: they make the strip, overlap as asked, fit, and meet where they should."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from soundness import corners
from strategies import CUPS, a_cup, cups, lines
from test_lengthwise import ring, sash, strips, upright, walked, zigzag

from stripegen.errors import GeometryError
from stripegen.finishing import fits_in
from stripegen.flat import FlatPiece, lay_flat
from stripegen.laid import Strip
from stripegen.layout import Stock
from stripegen.shapes import FULL_TURN
from stripegen.spec import Ring, Vertical, Vinyl
from stripegen.splitting import LEAST_MM
from stripegen.splitting import split as split_flat

VINYL = Vinyl(name="v", colour="#b8923a", width_mm=300.0)


def sheet(width: float, length: float):
    return fits_in(Stock(width_mm=width, length_mm=length, margin_mm=5.0, gap_mm=1.5), VINYL)


class Shorter:
    """Fits what is no longer than so much, and counts how often it is asked."""

    def __init__(self, limit_mm: float):
        self.limit_mm, self.asked = limit_mm, 0

    def __call__(self, flat: FlatPiece) -> bool:
        self.asked += 1
        return flat.cut_mm <= self.limit_mm


def split(strip: Strip, *args, **more) -> list[Strip]:
    """The parts of a strip, which laid flat are what is returned."""
    parts = split_flat(lay_flat(strip), *args, **more)
    for part in parts:
        assert part.points == lay_flat(part.strip).points
    return [part.strip for part in parts]


def joints(parts: list[Strip], overlap: float) -> list[float]:
    """Where each part but the first begins, from the parts' lengths."""
    return [sum(part.cut_mm for part in parts[:count]) - count * overlap for count in range(1, len(parts))]


def check(strip: Strip, parts: list[Strip], overlap: float) -> None:
    """What holds of all parts: they are the strip, in order, overlap by so much, and show what it shows."""
    whole = shapely.union_all([part.shape.polygon for part in parts])
    assert shapely.symmetric_difference(whole, strip.shape.polygon).area < 0.1 * len(parts)
    assert sum(part.true_mm for part in parts) == pytest.approx(strip.true_mm, abs=1e-7)
    assert sum(part.cut_mm for part in parts) == pytest.approx(strip.cut_mm + (len(parts) - 1) * overlap, abs=1e-7)
    arounds, downs, along = walked(strip)
    scale = strip.middle[0].curve.wall.mean_radius_mm
    line = shapely.LineString(np.stack([scale * arounds, downs], axis=1))
    plain = np.concatenate([[0.0], np.cumsum(np.hypot(scale * np.diff(arounds), np.diff(downs)))])

    def place(edge, t: float) -> float:
        around, down = (float(value) for value in edge.curve.at(t))
        at = shapely.Point(scale * around, down)
        assert line.distance(at) < 1e-3
        return float(np.interp(line.project(at), plain, along))

    ends = [(place(part.middle[0], part.middle[0].t0), place(part.middle[-1], part.middle[-1].t1)) for part in parts]
    assert ends[0][0] == pytest.approx(0.0, abs=1e-6) and ends[-1][1] == pytest.approx(along[-1], abs=1e-6)
    for (start, end), (next_start, next_end) in pairwise(ends):
        assert start < next_start and end < next_end
        assert end - next_start == pytest.approx(overlap, abs=2e-3)
    for part in parts:
        assert part.shape.polygon.is_valid and not (corners(part.shape) and not corners(strip.shape))
        assert 0 < part.true_mm <= part.cut_mm + 1e-9
        assert part.width_mm == strip.width_mm
    for number, part in enumerate(parts):
        for other in parts[number + 2 :]:
            assert part.shape.polygon.intersection(other.shape.polygon).area < 1e-3
    for part, other in pairwise(parts):
        shared = part.shape.polygon.intersection(other.shape.polygon)
        assert (shared.area > 0.1 * overlap * strip.width_mm) if overlap > 0.1 else shared.area < 0.2


def clear(places: list[float], overlap: float, spans) -> bool:
    return not any(at < high - 1e-6 and at + overlap > low + 1e-6 for at in places for low, high in spans)


@settings(max_examples=25)
@given(
    cup=cups(keepouts=1),
    line=lines(stripes=1),
    share=st.floats(0.15, 0.9),
    overlap=st.sampled_from((0.0, 1.5, 3.0, 8.0)),
)
def test_parts_make_the_strip(cup, line, share, overlap):
    try:
        strip = max(strips(cup, line), key=lambda strip: strip.cut_mm)
    except GeometryError:
        assume(False)
    limit = max(share * strip.cut_mm, 30.0)
    assume(strip.cut_mm > limit + 1)
    fits = Shorter(limit)
    parts = split(strip, fits, overlap, upright=len(strip.middle) > 1)
    check(strip, parts, overlap)
    lengths = [part.cut_mm for part in parts]
    assert max(lengths) <= limit
    # as few as can be: less than one part more than lengths alone would ask for
    assert len(parts) == math.ceil((strip.cut_mm - overlap) / (limit - 0.25 - overlap) - 1e-9) or (
        len(parts) == math.ceil((strip.cut_mm - overlap) / (limit - overlap) - 1e-9)
    )
    assert fits.asked <= 14 + 6 * len(parts)


@pytest.mark.parametrize("overlap", [0.0, 3.0, 10.0])
@pytest.mark.parametrize("line", [ring(40.0), upright(1.0), sash(4.0), sash(4.0, path="even-drop"), zigzag()])
def test_parts_of_a_plain_strip_are_even(line, overlap):
    strip = strips(CUPS["coated"], line)[0]
    limit = (strip.cut_mm + 2 * overlap) / 3 + 1
    parts = split(strip, Shorter(limit), overlap, upright=len(strip.middle) > 1)
    check(strip, parts, overlap)
    lengths = [part.cut_mm for part in parts]
    assert len(parts) == 3
    assert max(lengths) - min(lengths) < 1e-6


def test_a_strip_that_fits_is_itself():
    (strip,) = strips(CUPS["coated"], ring(40.0))
    fits = Shorter(1000.0)
    assert split(strip, fits) == [strip] and split(strip, fits)[0] is strip and fits.asked == 2


def test_a_closed_ring_keeps_its_joint():
    (strip,) = strips(CUPS["coated"], ring(40.0, joint=1.0, overlap_mm=3.0))
    parts = split(strip, Shorter(120.0), 3.0)
    check(strip, parts, 3.0)
    first, last = parts[0].middle[0], parts[-1].middle[-1]
    assert float(first.curve.at(first.t0)[0]) == pytest.approx(1.0)
    radius = first.curve.speed(first.t0)
    assert float(last.curve.at(last.t1)[0]) == pytest.approx(1.0 + FULL_TURN + 3.0 / float(radius))
    assert sum(part.true_mm for part in parts) == pytest.approx(FULL_TURN * float(radius))
    for part in parts:
        assert part.hidden[0] == pytest.approx((part.cut_mm - 3.0, part.cut_mm)) and len(part.hidden) == 1


def test_a_large_ring_on_a_narrow_sheet_is_laid_askew_before_it_is_split():
    cup = a_cup(46.0, 38.0, 140.0, resin_mm=0.8)
    (strip,) = strips(cup, ring(20.0))
    flat = shapely.Polygon(lay_flat(strip).points)
    length = max(math.dist(a, b) for a, b in pairwise(shapely.minimum_rotated_rectangle(flat).exterior.coords))
    # far longer than the sheet either way, but not than its diagonal
    assert length > 285.0
    assert split(strip, sheet(200.0, 240.0)) == [strip]
    parts = split(strip, sheet(110.0, 210.0))
    check(strip, parts, 3.0)
    assert len(parts) == 2 and all(sheet(110.0, 210.0)(lay_flat(part)) for part in parts)


@settings(max_examples=12)
@given(line=lines(stripes=1), size=st.tuples(st.floats(70.0, 160.0), st.floats(70.0, 160.0)))
@pytest.mark.parametrize("cup", ["coated", "steep", "cylinder"])
def test_parts_fit_real_sheets_and_one_less_would_not(cup, line, size):
    try:
        strip = max(strips(CUPS[cup], line), key=lambda strip: strip.cut_mm)
    except GeometryError:
        assume(False)
    fits, zigzags = sheet(*size), len(strip.middle) > 1
    parts = split(strip, fits, 3.0, upright=zigzags)
    if parts == [strip]:
        assert fits(lay_flat(strip))
        return
    check(strip, parts, 3.0)
    assert not fits(lay_flat(strip))
    assert all(fits(lay_flat(part)) for part in parts)
    # one part less, even of a line that bends the same all along, would not do
    if isinstance(line, Ring | Vertical) and len(parts) > 2:
        fewer = (strip.cut_mm + (len(parts) - 2) * 3.0) / (len(parts) - 1)
        middle = split(strip, Shorter(fewer + 0.3), 3.0)[0 if len(parts) == 3 else 1]
        assert middle.cut_mm < fewer + 0.3 and not fits(lay_flat(middle))


@settings(max_examples=40)
@given(
    limit=st.floats(60.0, 200.0),
    overlap=st.sampled_from((0.0, 3.0, 6.0)),
    gaps=st.lists(st.tuples(st.floats(3.0, 60.0), st.floats(2.0, 50.0)), min_size=1, max_size=5),
)
def test_no_joint_reaches_into_a_crossing(limit, overlap, gaps):
    (strip,) = strips(CUPS["coated"], ring(40.0))
    forbidden, at = [], 0.0
    for free, wide in gaps:
        forbidden.append((at + free, at + free + wide))
        at += free + wide
    try:
        parts = split(strip, Shorter(limit), overlap, forbidden=forbidden)
    except GeometryError as error:
        assert "no joint can be placed clear of the lines that it crosses" in str(error)
        assert "\n" not in str(error)
        assert not any_way(strip.cut_mm, limit - 0.6, overlap, by(0.3, forbidden))
        return
    check(strip, parts, overlap)
    assert clear(joints(parts, overlap), overlap, forbidden)
    assert max(part.cut_mm for part in parts) <= limit
    assert any_way(strip.cut_mm, limit + 0.3, overlap, by(-0.1, forbidden), most=len(parts))
    assert not any_way(strip.cut_mm, limit - 0.6, overlap, by(0.3, forbidden), most=len(parts) - 1)


def by(more: float, spans) -> list[tuple[float, float]]:
    return [(low - more, high + more) for low, high in spans]


def any_way(whole: float, limit: float, overlap: float, forbidden, most: int = 99) -> bool:
    """Whether some joints on a fine grid leave parts that are short enough: every way, part by part."""
    least = max(LEAST_MM, overlap)
    places = np.arange(0.0, whole - least - 3.0, 0.05)  # the ring's own joint is 3 mm
    free = np.all([(places + overlap <= low) | (places >= high) for low, high in forbidden], axis=0)
    starts = np.array([0.0])
    for _ in range(most):
        if whole - starts.max() <= limit:
            return True
        # each place has a start in reach if the first that is not too far back is not too near
        first = np.searchsorted(starts, places + overlap - limit)
        near = starts[np.minimum(first, len(starts) - 1)]
        reached = free & (first < len(starts)) & (near + least <= places)
        further = np.union1d(starts, places[reached])
        if len(further) == len(starts):
            return False
        starts = further
    return False


@settings(max_examples=30)
@given(limit=st.floats(70.0, 240.0), hidden=st.lists(st.tuples(st.floats(1.0, 70.0), st.floats(1.0, 12.0)), max_size=5))
def test_joints_lie_under_covers_where_they_can(limit, hidden):
    (strip,) = strips(CUPS["coated"], ring(40.0))
    spans, at = [], 0.0
    for free, wide in hidden:
        if at + free + wide < strip.cut_mm - 20:
            spans.append((at + free, at + free + wide))
            at += free + wide
    strip = Strip(strip.shape, strip.middle, (*spans, *strip.hidden), strip.width_mm)
    parts = split(strip, Shorter(limit), 3.0, hidden=spans)
    check(strip, parts, 3.0)
    places = joints(parts, 3.0)

    def is_hidden(place: float) -> bool:
        return any(low - 1e-6 <= place and place + 3.0 <= high + 1e-6 for low, high in spans)

    count = sum(map(is_hidden, places))
    if len(parts) == 2:
        # with one joint: it is hidden if any hidden place leaves two parts that fit and show something
        options = [
            place
            for low, high in spans
            for place in np.arange(low, high - 3.0 + 1e-9, 0.01)
            if strip.cut_mm - limit + 0.3 <= place <= limit - 3.3
            and min(shown(strip, 0, place), shown(strip, place, strip.cut_mm)) > LEAST_MM + 0.1
        ]
        assert count == 1 or not options
    assert all(part.true_mm >= LEAST_MM - 1e-6 for part in parts)


def shown(strip: Strip, start: float, end: float) -> float:
    return end - start - sum(max(0.0, min(high, end) - max(low, start)) for low, high in strip.hidden)


def test_hidden_joints_come_before_even_ones_and_crossings_before_both():
    (strip,) = strips(CUPS["cylinder"], ring(40.0))  # 251.3 + 3
    assert joints(split(strip, Shorter(200.0)), 3.0) == pytest.approx([(strip.cut_mm - 3) / 2], abs=0.01)
    hidden = [(70.0, 76.0)]
    (joint,) = joints(split(strip, Shorter(200.0), hidden=hidden), 3.0)
    assert 70.0 <= joint <= 73.0
    (joint,) = joints(split(strip, Shorter(200.0), hidden=hidden, forbidden=[(72.0, 74.5)]), 3.0)
    assert joint == pytest.approx((strip.cut_mm - 3) / 2, abs=0.01)
    # too short a cover hides no joint
    (joint,) = joints(split(strip, Shorter(200.0), hidden=[(70.0, 72.9)]), 3.0)
    assert joint == pytest.approx((strip.cut_mm - 3) / 2, abs=0.01)
    # and a third part only to hide one is not worth it
    assert len(split(strip, Shorter(200.0), hidden=[(5.0, 12.0), (240.0, 248.0)])) == 2


def test_a_joint_keeps_away_from_slanted_ends_if_it_can():
    (strip,) = strips(CUPS["cylinder"], sash(3.0, width_mm=8.0))
    tip = 4.0 * math.tan(math.atan2(120.0, 60.0))
    parts = split(strip, Shorter(strip.cut_mm - tip / 2), 3.0, hidden=[(6.0, 10.0)])
    assert 6.0 <= joints(parts, 3.0)[0] <= 7.0  # hidden all the same
    parts = split(strip, Shorter(strip.cut_mm - 1), 3.0, forbidden=[(tip + 6.0, strip.cut_mm - 5.5)])
    assert tip <= joints(parts, 3.0)[0] <= tip + 3.0


def test_joints_keep_away_from_a_zigzags_points_if_they_can():
    (strip,) = strips(CUPS["cylinder"], zigzag(points=3, overlap_mm=0.0))
    points = np.cumsum([edge.curve.length_mm(edge.t0, edge.t1) for edge in strip.middle])
    for count in (2, 3, 4):
        parts = split(strip, Shorter(strip.cut_mm / count + 14.0), 3.0, upright=True)
        check(strip, parts, 3.0)
        assert len(parts) == count
        assert all(np.abs(points - at).min() > 1.0 for place in joints(parts, 3.0) for at in (place, place + 3.0))


def test_what_can_not_be_split_is_told():
    (strip,) = strips(CUPS["cylinder"], ring(40.0, 30.0))
    with pytest.raises(GeometryError, match=r"even 8 mm of it, 30 mm wide, fit no sheet .* a narrower line"):
        split(strip, sheet(35.0, 35.0))
    with pytest.raises(GeometryError) as caught:
        split(strip, Shorter(100.0), forbidden=[(60.0, 200.0)])
    assert str(caught.value) == (
        "it is 254.3 mm long, more than its vinyl takes, and no joint can be placed clear of the lines that it "
        "crosses: use a longer or wider vinyl, or lay it under one of those lines"
    )


def test_one_look_at_the_longest_part_serves_the_whole_of_a_ring():
    (strip,) = strips(CUPS["coated"], ring(40.0))
    asked = []
    fits = sheet(60.0, 60.0)
    parts = split(strip, lambda flat: asked.append(flat) or fits(flat))
    assert len(parts) >= 5
    # ten to find out the longest, three to see that it is the longest of the next, two for each part
    assert len(asked) <= 14 + 5 * len(parts)
