"""How different colours look, beside the published pairs and white and red of sRGB."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.check_colours import difference, lab

# from Sharma, Wu and Dalal, 2005, table 1
PUBLISHED = [
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, -1.3802, -84.2814), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
    ((50.0, 2.49, -0.001), (50.0, -2.49, 0.0009), 7.1792),
    ((50.0, 2.5, 0.0), (50.0, 0.0, -2.5), 4.3065),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]
COLOURS = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")


@pytest.mark.parametrize(("first", "second", "apart"), PUBLISHED)
def test_published_pairs(first, second, apart):
    assert difference(first, second) == pytest.approx(apart, abs=1e-4)


@pytest.mark.parametrize(
    ("colour", "expected"),
    [("#ffffff", (100, 0, 0)), ("#000000", (0, 0, 0)), ("#ff0000", (53.24, 80.09, 67.20)), ("#0000ff", (32.30, 79.19, -107.86))],
)
def test_lab_of_srgb(colour, expected):
    assert lab(colour) == pytest.approx(expected, abs=0.03)


@given(COLOURS, COLOURS)
def test_it_is_as_far_there_as_back(first, second):
    apart = difference(lab(first), lab(second))
    assert apart == pytest.approx(difference(lab(second), lab(first)), abs=1e-9)
    assert (apart < 1e-9) == (first == second)
