"""Stripes over open seams."""

import math

import pytest
from strategies import a_cup

from stripegen.openings import opening_notices
from stripegen.spec import Pattern, Seam, Vertical


def told(*lines, opening=2.0):
    seam = Seam(name="back", rim=math.pi, base=math.pi, opening_mm=opening)
    return opening_notices(a_cup(43, 31, 152, seams={"back": seam}), Pattern(name="p", lines=lines))


def edge(width, **more):
    return Vertical(name="edge", vinyl="v", width_mm=width, around=("front", "back"), **more)


@pytest.mark.parametrize(("opening", "width", "warns"), [(2.0, 5.0, False), (2.0, 4.9, True), (0.0, 1.0, False), (4, 6, True)])
def test_a_stripe_must_be_wider_than_the_opening_by_3_mm(opening, width, warns):
    assert bool(told(edge(width), opening=opening)) == warns


def test_the_widest_line_over_the_seam_counts_and_the_figures_are_told():
    wide = Vertical(name="wide", vinyl="v", width_mm=8.0, around=("back",))
    assert not told(edge(3.0), wide)
    (notice,) = told(edge(3.0))
    assert (notice.code, notice.line) == ("open-seam", "edge")
    assert notice.told == "the seam back is open by 2 mm and the stripe over it is 3 mm wide: it must be 5 mm wide or more"


def test_a_gap_over_the_seam_closes_nothing():
    (notice,) = told(edge(8.0, stripes=2))
    assert "between its stripes" in notice.told
    assert not told(edge(8.0, stripes=3))
    assert not told(edge(8.0, stripes=2, gap_mm=0.0))


def test_an_open_seam_without_a_line_is_told():
    other = Vertical(name="edge", vinyl="v", width_mm=9.0, around=("front",))
    (notice,) = told(other)
    assert notice.line is None
    assert "no vertical line lies over it" in notice.told
