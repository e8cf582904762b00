"""What can't be weeded is taken off strips, against openings by a disc of their flat outlines."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from soundness import corners
from strategies import CUPS, WALL, a_cup, box, cups, lines, ribbon
from test_lengthwise import ring, sash, strips, upright, zigzag

from stripegen.curves import Straight
from stripegen.errors import GeometryError
from stripegen.flat import lay_flat
from stripegen.laid import Strip
from stripegen.overlay import overlay
from stripegen.shapes import Edge, Shape
from stripegen.weeding import Weeded, weedable

QUAD = 64


def unrolled(edge: Edge, count: int = 300) -> np.ndarray:
    """Points of an edge on a straight wall unrolled, the same frame for all of that wall."""
    around, down = edge.curve.at(np.linspace(edge.t0, edge.t1, count))
    k, radius = edge.curve.wall.slope, edge.curve.wall.radius_mm(down)
    if abs(k) < 1e-6:
        return np.stack([radius * around, down + 0 * around], axis=1)
    return np.stack([radius / k * np.sin(k * around), radius / k * np.cos(k * around)], axis=1)


def laid(shape: Shape) -> shapely.Polygon:
    rings = [np.concatenate([unrolled(edge)[:-1] for edge in loop]) for loop in shape.loops]
    return shapely.Polygon(rings[0], rings[1:])


def opened(polygon: shapely.Polygon, width: float) -> shapely.Geometry:
    return polygon.buffer(-width / 2, quad_segs=QUAD).buffer(width / 2, quad_segs=QUAD)


def sharpest(shape: Shape, width: float) -> float:
    """The least angle of an outline's corners, in degrees, of those between edges longer than some widths."""
    chains = [unrolled(edge, 2001) for edge in shape.outer]
    turn = 1 if shapely.LinearRing(np.concatenate([chain[:-1] for chain in chains])).is_ccw else -1
    found = [180.0]
    for chain, after in zip(chains, chains[1:] + chains[:1], strict=True):
        if min(np.hypot(*(each[-1] - each[0])) for each in (chain, after)) > 2.5 * width:
            ways = chain[-2] - chain[-1], after[1] - after[0]
            back, ahead = (math.atan2(y, x) for x, y in ways)
            found.append(math.degrees((turn * (back - ahead)) % math.tau))
    return min(found)


def wedge(angle: float, length: float = 30.0, turn: float = 0.4) -> Strip:
    """A strip with a sharp end: between two straight lines from one place, cut across."""
    apex = (WALL, 0.0, 60.0)
    low, high = Straight(*apex, turn - angle / 2), Straight(*apex, turn + angle / 2)
    foot, side = length * math.cos(angle / 2), length * math.sin(angle / 2)
    middle = Straight(*apex, turn)
    around, down, heading = (float(value) for value in middle.along(foot))
    across = Straight(WALL, around, down, heading + math.pi / 2)
    shape = Shape((Edge(low, 0.0, length), Edge(across, -side, side), Edge(high, length, 0.0)))
    return Strip(shape, (Edge(middle, 0.0, foot),), (), 2 * side)


@pytest.mark.parametrize("line", [ring(40.0), ring(40.0, 1.0), upright(1.0), sash(1.0), sash(2.0, ends="square"), zigzag()])
@pytest.mark.parametrize("cup", ["cylinder", "coated"])
def test_plain_strips_come_back_themselves(cup, line):
    for strip in strips(CUPS[cup], line):
        assert weedable(strip, 1.0) == Weeded(strip) and weedable(strip, 1.0).strip is strip


@settings(max_examples=25)
@given(cup=cups(keepouts=1), line=lines(stripes=1), width=st.floats(0.3, 1.5))
def test_only_what_no_disc_reaches_is_taken(cup, line, width):
    try:
        found = strips(cup, line)
    except GeometryError:
        assume(False)
    for strip in found:
        weeded = weedable(strip, width)
        before = laid(strip.shape)
        if weeded.strip is None:
            assert strip.width_mm < width or before.buffer(-width / 2).is_empty
            assert weeded.seen_mm == strip.true_mm
            continue
        if weeded.strip is strip:
            assert not weeded.tips_mm
            assert weeded.left or sharpest(strip.shape, width) > 29.0
            continue
        after = laid(weeded.strip.shape)
        taken = before.difference(after)
        assert not corners(weeded.strip.shape) and after.difference(before).area < 0.01
        assert len(weeded.tips_mm) == len(shapely.get_parts(taken.buffer(-0.01)))
        unreached = before.difference(opened(before, width))
        # where sides bend the place is found within an eighth of the width
        assert taken.difference(unreached.buffer(0.14 * width)).area < 0.01
        assert weeded.left or sharpest(weeded.strip.shape, width) > 29.0
        assert strip.cut_mm - 2 * width * len(weeded.tips_mm) <= weeded.strip.cut_mm <= strip.cut_mm + 1e-9
        assert weeded.seen_mm == pytest.approx(strip.true_mm - weeded.strip.true_mm)
        again = weedable(weeded.strip, width)
        assert again.strip is not None and not again.tips_mm


@pytest.mark.parametrize("degrees", [4.0, 10.0, 17.0, 25.0, 29.9])
@pytest.mark.parametrize("width", [0.5, 1.0, 2.0])
def test_a_tip_is_cut_off_where_the_disc_ends(degrees, width):
    half = math.radians(degrees) / 2
    strip = wedge(2 * half, 60.0)
    weeded = weedable(strip, width)
    length = width / 2 / math.sin(half) - width / 2
    if length > 2 * width:  # all of which is off the strip's own length
        assert weeded.strip is strip and weeded.left == 1 and not weeded.tips_mm
        return
    assert weeded.tips_mm == pytest.approx((length,)) and weeded.left == 0
    assert weeded.seen_mm == pytest.approx(length) and weeded.strip.cut_mm == pytest.approx(strip.cut_mm - length)
    # one straight edge, square to the bisector
    (cut,) = [edge for edge in weeded.strip.shape.outer if abs(edge.t1 - edge.t0) < 2 * length * math.tan(half) + 0.01]
    assert abs(cut.t1 - cut.t0) == pytest.approx(2 * length * math.tan(half))
    assert lay_flat(weeded.strip).area_mm2 == pytest.approx(lay_flat(strip).area_mm2 - length**2 * math.tan(half), abs=1e-6)
    start = weeded.strip.middle[0]
    assert start.t0 == pytest.approx(length)


def test_corners_of_thirty_degrees_and_more_are_let_be():
    for degrees in (30.1, 45.0, 90.0):
        strip = wedge(math.radians(degrees))
        assert weedable(strip, 1.0) == Weeded(strip)


def test_level_ends_of_a_slanted_strip_lose_their_tips_and_it_no_length():
    strip = strips(CUPS["cylinder"], sash(5.0, width_mm=6.0))[0]
    angle = math.pi / 2 - math.atan2(200.0, 60.0)
    weeded = weedable(strip, 1.0)
    assert weeded.tips_mm == pytest.approx([0.5 / math.sin(angle / 2) - 0.5] * 2)
    assert weeded.seen_mm == 0.0 and weeded.left == 0
    assert weeded.strip.middle == strip.middle and weeded.strip.cut_mm == strip.cut_mm
    assert len(weeded.strip.shape.outer) == 6


def test_what_is_hidden_of_a_shortened_strip_is_counted_on():
    plain = wedge(math.radians(25.0), 60.0)
    strip = Strip(plain.shape, plain.middle, ((0.0, 1.0), (20.0, 25.0)), plain.width_mm)
    weeded = weedable(strip, 1.0)
    (length,) = weeded.tips_mm
    (span,) = weeded.strip.hidden
    assert span == pytest.approx((20.0 - length, 25.0 - length))
    assert weeded.seen_mm == pytest.approx(length - 1.0)


def test_strips_and_slivers_that_are_nowhere_wide_enough_are_dropped():
    (thin,) = strips(CUPS["cylinder"], ring(40.0, 0.8))
    assert weedable(thin, 1.0) == Weeded(None, seen_mm=thin.true_mm)
    assert weedable(thin, 0.8).strip is thin and weedable(thin, 0.0).strip is thin
    # of a ring's 2.4 mm the clearances leave 1.2 or 0.8
    for left, dropped in ((1.2, False), (0.8, True)):
        cup = a_cup(40.0, 40.0, 120.0, rim_clearance_mm=40.0, base_clearance_mm=80.0 - left)
        (half,) = strips(cup, ring(40.4, 2.4))
        top, bottom = np.array(half.shape.polygon.bounds)[[1, 3]]
        assert bottom - top == pytest.approx(left)
        assert weedable(half, 1.0) == (Weeded(None, seen_mm=half.true_mm) if dropped else Weeded(half))
    # smaller both ways than the least width
    bit = box(WALL, 0.0, 0.7 / 40.0, 50.0, 50.8)
    middle = (Edge(Straight(WALL, 0.35 / 40.0, 50.0, 0.0), 0.0, 0.8),)
    assert weedable(Strip(bit, middle, (), 3.0), 1.0).strip is None


def test_a_tail_beside_the_centre_line_is_cut_off_and_one_along_it_is_told():
    curve = Straight(WALL, 0.0, 40.0, 0.3)
    whole = ribbon(curve, 0.0, 40.0, -3.0, 3.0)
    tail = overlay([whole], [ribbon(curve, -1.0, 5.0, -2.5, 4.0)])
    strip = Strip(tail[0], (Edge(curve, 5.0, 40.0),), (), 6.0)
    weeded = weedable(strip, 1.0)
    assert weeded.tips_mm == pytest.approx((5.0,), abs=0.3) and weeded.left == 0
    assert weeded.strip.middle == strip.middle
    assert laid(weeded.strip.shape).area == pytest.approx(35.0 * 6.0, abs=0.3)
    tail = overlay([whole], [ribbon(curve, -1.0, 5.0, 0.3, 4.0), ribbon(curve, -1.0, 5.0, -4.0, -0.3)])
    strip = Strip(tail[0], (Edge(curve, 0.0, 40.0),), (), 6.0)
    weeded = weedable(strip, 1.0)
    assert weeded.strip is strip and weeded.left == 1 and not weeded.tips_mm


@pytest.mark.parametrize("degrees", [20.2, 21.5, 26.0])
def test_a_blunt_tip_is_a_tip_still(degrees):
    """An end narrower than the least width, between sides that run together."""
    whole = wedge(math.radians(degrees), 60.0)
    curve, end = whole.middle[0].curve, whole.middle[0].t1
    blunt = overlay([whole.shape], [ribbon(curve, -1.0, 0.5, -2.0, 2.0)])[0]
    weeded = weedable(Strip(blunt, (Edge(curve, 0.5, end),), (), whole.width_mm), 1.0)
    left = 0.5 / math.sin(math.radians(degrees / 2)) - 0.5 - 0.5
    assert weeded.tips_mm == pytest.approx((left,) if left > 1.44 else (), abs=0.13)
