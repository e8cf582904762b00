"""Warnings of what comes too near, and of nothing else."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_neighbours import PLAIN, decorated, diagonal, ring, vertical

from stripegen.closeness import close_notices
from stripegen.spacing import spacing_of
from stripegen.spec import Repeat, Vertical


def notices_on(*laid, width=1.0, min_gap=0.0, unit="mm"):
    pairs = spacing_of(decorated(PLAIN, *laid), []).pairs
    return close_notices(pairs, laid, {line.name: width for line in laid}, min_gap, unit)


def apart(gap: float, width: float = 3.0):
    """Two verticals so far apart, edge to edge, on a wall of 40 mm radius."""
    return vertical("a", 1.0, width), vertical("b", 1.0 + (width + gap) / 40, width)


@given(st.floats(0.05, 6.0), st.floats(0.0, 3.0), st.floats(0.0, 5.0))
def test_it_is_the_greater_of_what_can_be_weeded_and_what_is_asked_for(gap, width, min_gap):
    pairs = PAIRS[min(PAIRS, key=lambda each: abs(each - gap))]
    gap = min(PAIRS, key=lambda each: abs(each - gap))
    found = close_notices(pairs, apart(gap), {"a": width, "b": width / 2}, min_gap)
    assert bool(found) == (gap < max(width, min_gap) - 1e-4)


PAIRS = {gap: spacing_of(decorated(PLAIN, *apart(gap)), []).pairs for gap in (0.1, 0.5, 1.0, 2.0, 4.0)}


def test_the_figure_the_place_and_the_remedy_are_told():
    (notice,) = notices_on(*apart(0.6))
    assert (notice.code, notice.line) == ("too-close", "a")
    assert "a and b come within 0.60 mm of each other, 59.9 degrees round and 12.0 mm down" in notice.told
    assert "less than 1.00 mm, narrower waste can't be weeded: move one of them" in notice.told
    (notice,) = notices_on(*apart(0.6), min_gap=25.4 / 8, unit="in")
    assert "within 0.024 in of each other, 59.9 degrees round and 0.47 in down; less than 0.125 in, the least gap" in notice.told


def test_copies_of_one_line_are_told_once():
    (notice,) = notices_on(Vertical(name="pin", vinyl="v", width_mm=3.0, repeat=Repeat(count=70)))
    assert "(and 69 more such)" in notice.told and "use fewer copies" in notice.told
    assert "pin 1 and pin 2 come within 0.59 mm" in notice.told or "come within 0.59 mm" in notice.told


def test_what_touches_without_being_joined_is_told_and_how_to_join_it():
    (notice,) = notices_on(ring("hoop", 50.0), diagonal("sash", (0.0, 51.0), (1.0, 90.0)))
    assert "hoop and sash touch or overlap" in notice.told
    assert 'under = ["hoop"] or clear_of = ["hoop"] for sash' in notice.told


JOINED = {
    "crossing": (ring("hoop", 50.0), vertical("pin", 0.0)),
    "under": (vertical("edge", 0.0, 6.0), diagonal("sash", (0.0, 30.0), (1.5, 90.0), under=("edge",))),
    "kept clear, though less than can be weeded": (ring("hoop", 50.0), vertical("pin", 0.0, clear_of=("hoop",), by_mm=0.4)),
    "wholly on another": (vertical("wide", 0.0, 8.0), vertical("thin", 0.0, 2.0)),
    "on another coat": (*apart(0.2)[:1], vertical("b", 1.0 + 3.2 / 40, 3.0, resin_mm=0.4)),
    "meeting under a third": (
        vertical("edge", 0.0, 6.0),
        *(
            diagonal(name, (0.0, 60.0), (turn, 60.0), path="straight", ends="upright", under=("edge",), tuck_mm=2.9)
            for name, turn in (("left", -1.0), ("right", 1.0))
        ),
    ),
}


@pytest.mark.parametrize("case", JOINED)
def test_what_is_joined_by_design_is_not_told(case):
    assert not notices_on(*JOINED[case])
