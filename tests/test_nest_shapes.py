"""Shapes: which of them count as bent, and their outlines at each turn."""

from __future__ import annotations

from dataclasses import replace

import shapely
from blanks import arc, blanks_of, mitred, strip
from hypothesis import given
from hypothesis import strategies as st

from stripegen.layout import Stock
from stripegen.nest_shapes import OTHER, Pose, group

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)


@given(st.integers(3, 10), st.integers(140, 700), st.floats(0.25, 1.5))
def test_an_arc_is_bent_even_if_it_stands_almost_straight(width, radius, sweep):
    """A wide and gently bent one that stands has long straight middles, but it never lies in a lane."""
    (shape,) = group(blanks_of(arc(width, radius, min(sweep, 200 / radius))), ROLL)
    sagitta_mm = shape.size[1] - width if shape.size[0] > shape.size[1] else shape.size[0] - width
    assert shape.is_bent or sagitta_mm < 0.1 * (width + 1.5)


@given(st.integers(3, 10), st.integers(30, 260), st.floats(-1, 1))
def test_a_strip_is_not_bent(width, length, slant):
    for outline in (strip(width, length), mitred(width, length, slant * width, slant * width)):
        (shape,) = group(blanks_of(outline), ROLL)
        assert not shape.is_bent


@given(st.integers(3, 10), st.integers(140, 700), st.floats(0.25, 1.0), st.floats(-1.2, 1.2), st.booleans(), st.floats(0, 360))
def test_an_outline_turned_by_quarters_is_that_drawn_anew(width, radius, sweep, slant, is_arc, lean):
    outline = arc(width, radius, min(sweep, 200 / radius)) if is_arc else mitred(width, 120, slant * width, -slant * width)
    (blank,) = blanks_of(outline)
    (shape,) = group([replace(blank, turns="any" if is_arc else "along-flip", lean_deg=lean, slack_mm=0.01)], ROLL)
    for mode in OTHER:
        for turn_deg in shape.turns_deg:
            turned, anew = shape.pose(mode, turn_deg), Pose(0, turn_deg, shape.blank, ROLL, mode)
            assert (turned.u_mm, turned.v_mm, tuple(turned.corner)) == (anew.u_mm, anew.v_mm, tuple(anew.corner))
            assert abs(turned.area - anew.area) < 1e-5
            assert shapely.hausdorff_distance(shapely.linearrings(turned.ring), shapely.linearrings(anew.ring)) < 1e-5
