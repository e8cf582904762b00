"""How even gaps are, by plain arithmetic."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_neighbours import PLAIN, TAPERED, decorated, ring, vertical

from stripegen.evenness import Evenness
from stripegen.shapes import FULL_TURN
from stripegen.spacing import spacing_of
from stripegen.spec import Repeat, Vertical


def evenness_on(cup, *laid):
    return spacing_of(decorated(cup, *laid), []).evenness


@given(st.sampled_from([PLAIN, TAPERED]), st.integers(2, 20), st.floats(0.5, 4.0), st.booleans())
@settings(deadline=None, max_examples=20)
def test_a_repeat_is_even_at_every_level(cup, count, width, narrows):
    found = evenness_on(cup, Vertical(name="pin", vinyl="v", width_mm=width, repeat=Repeat(count=count), narrows=narrows))
    assert [(each.line, each.level, each.gaps) for each in found] == [("pin", at, count) for at in ("rim", "middle", "base")]
    for each in found:
        assert each.deviation_mm == pytest.approx(0.0, abs=1e-6) and each.share == pytest.approx(0.0, abs=1e-6)


def test_the_gap_that_differs_most_is_told():
    places = (0.0, 1.0, 3.0)
    line = Vertical(name="bar", vinyl="v", width_mm=4.0, around=places)
    (rim, _, _) = evenness_on(PLAIN, line)
    gaps = [40 * turn - 4 for turn in (1.0, 2.0, FULL_TURN - 3.0)]
    mean = sum(gaps) / 3
    assert rim.mean_mm == pytest.approx(mean) and rim.deviation_mm == pytest.approx(max(abs(gap - mean) for gap in gaps))
    assert rim.share == pytest.approx(rim.deviation_mm / mean)


def test_all_lines_are_told_together_where_there_are_several():
    found = evenness_on(PLAIN, vertical("a", 0.0, 4.0), vertical("b", math.pi, 4.0), ring("hoop", 50.0))
    assert [(each.line, each.level, each.gaps) for each in found] == [(None, at, 2) for at in ("rim", "middle", "base")]
    assert all(each.deviation_mm == pytest.approx(0.0, abs=1e-9) for each in found)


def test_where_lines_overlap_so_much_that_no_gap_is_left_there_is_no_share():
    assert Evenness(line=None, level="rim", down_mm=12.0, gaps=2, mean_mm=-1.0, deviation_mm=0.5).share is None
