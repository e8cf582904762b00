"""Holes: what finds a place overlaps nothing, lies in the box, and takes the tightest gap there is."""

from __future__ import annotations

import pytest
from blanks import arc, blanks_of, mitred, strip
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from stripegen.layout import Stock
from stripegen.nest_holes import Holes
from stripegen.nest_shapes import group
from stripegen.nest_skyline import Placed

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)
OUTLINES = [strip(4, 60), strip(8, 35), mitred(5, 50, 5, -3), arc(4, 60, 1.2), arc(3, 90, 0.8), arc(5, 40, 2.0)]
shapes = group(blanks_of(*OUTLINES), ROLL)


def solid(placed):
    return Polygon(placed.pose.ring + [placed.u_mm, placed.v_mm])


def lying(shape):
    return next(pose for pose in shape.poses("across") if pose.u_mm >= pose.v_mm)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 5), st.floats(0, 60), st.floats(0, 90)), max_size=8),
    st.lists(st.integers(0, 5), min_size=1, max_size=4),
)
def test_what_is_laid_overlaps_nothing_and_lies_in_the_box(there, waiting):
    """Whatever lies there, even overlapping and at places between cells."""
    placed = [Placed(lying(shapes[k]), u, round(v, 4)) for k, u, v in there]
    holes = Holes(130.0, 100.0, placed)
    for k in waiting:
        member = holes.take(shapes[k].poses("across"))
        if member is None:
            continue
        for other in placed:
            assert solid(member).intersection(solid(other)).area < 1e-3
        assert box(-1e-5, -1e-5, 130 + 1e-5, 100 + 1e-5).contains(solid(member))
        assert member.v_mm == pytest.approx(round(member.v_mm, 4), abs=1e-9)
        placed.append(member)


def test_the_tightest_gap_is_taken():
    """Two gaps between three long strips: one of 20 mm, one that the strip just fills."""
    (long, short) = group(blanks_of(strip(8, 98.5), strip(4, 60)), ROLL)
    high = lying(long).v_mm
    placed = [Placed(lying(long), 0.0, v) for v in (0.0, high + 20, 2 * high + 20 + 5.5)]
    member = Holes(100.0, 3 * high + 60, placed).take(short.poses("across"))
    assert member.v_mm == pytest.approx(2 * high + 20, abs=1e-3)


def test_a_short_strip_lies_under_an_arch():
    (arch, short) = group(blanks_of(arc(4, 60, 1.6), strip(4, 30)), ROLL)
    pose = max(arch.poses("across"), key=lambda p: p.profile.low[len(p.profile.low) // 2] - p.profile.low[0])
    holes = Holes(pose.u_mm, pose.v_mm, [Placed(pose, 0.0, 0.0)])
    member = holes.take([lying(short)])
    assert member.v_mm + member.pose.v_mm < pose.v_mm - 4


def test_where_nothing_fits_nothing_is_laid():
    (wide,) = group(blanks_of(strip(8, 98.5)), ROLL)
    pose = lying(wide)
    assert Holes(pose.u_mm, pose.v_mm - 1, []).take([pose]) is None
    assert Holes(pose.u_mm - 1, 50, []).take([pose]) is None
    full = Holes(pose.u_mm, pose.v_mm, [])
    assert full.take([pose]) is not None
    assert full.take([pose]) is None
