"""Shapes: which of them count as bent."""

from __future__ import annotations

from blanks import arc, blanks_of, mitred, strip
from hypothesis import given
from hypothesis import strategies as st

from stripegen.layout import Stock
from stripegen.nest_shapes import group

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
