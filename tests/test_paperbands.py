"""Bands of paper: true parts of straight sections, and cones close to what can't be laid flat."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from stripegen.errors import GeometryError
from stripegen.paperbands import CLOSE_MM, LEAST_BAND_MM, MOST_SECTIONS, paper_bands
from stripegen.sections import SectionWall
from stripegen.smooth import SmoothWall
from stripegen.surface import Frustum


@st.composite
def points(draw, count):
    heights = np.cumsum([draw(st.floats(8, 40)) for _ in range(draw(count))])
    return [(draw(st.floats(25, 50)), float(heights[-1] - height)) for height in [0.0, *heights]]


def covers(wall, bands):
    assert bands[0].low_mm == 0 and bands[-1].high_mm == pytest.approx(wall.wall_mm)
    assert [band.low_mm for band in bands[1:]] == [band.high_mm for band in bands[:-1]]
    assert [band.number for band in bands] == list(range(1, len(bands) + 1))
    assert {band.count for band in bands} == {len(bands)}


@given(points(st.integers(1, 6)))
def test_sections_are_bands_and_exact(corners):
    wall = SectionWall.through(corners)
    bands = paper_bands(wall)
    covers(wall, bands)
    assert [band.low_mm for band in bands[1:]] == list(wall.bends_mm)
    for band in bands:
        assert band.off_mm == 0
        downs = np.linspace(band.low_mm, band.high_mm, 9)[1:-1]
        assert band.cone.radius_mm(downs - band.low_mm) == pytest.approx(wall.radius_mm(downs))


@given(points(st.integers(2, 5)))
def test_bands_of_a_smooth_wall_are_off_by_no_more_than_they_say(corners):
    try:
        wall = SmoothWall.through(corners)
    except GeometryError:
        assume(False)
    assume(np.max(np.abs(wall.slope_at(np.linspace(0, wall.wall_mm, 400)))) < 0.9)
    bands = paper_bands(wall)
    covers(wall, bands)
    worst = max(band.off_mm for band in bands)
    if len(bands) > 1:
        assert min(band.high_mm - band.low_mm for band in bands) >= LEAST_BAND_MM - 1e-6
        assert all(band.low_mm == round(band.low_mm) for band in bands)
    if worst > CLOSE_MM and len(bands) < wall.wall_mm // LEAST_BAND_MM:
        # more bands of equal width would not be nearer
        count = int(wall.wall_mm // LEAST_BAND_MM)
        ends = np.linspace(0, wall.wall_mm, count + 1)
        assert max(chord_off(wall, low, high) for low, high in pairwise(ends)) > CLOSE_MM
    for band in bands:
        downs = np.linspace(band.low_mm, band.high_mm, 301)
        apart = math.tau * (wall.radius_mm(downs) - band.cone.radius_mm(downs - band.low_mm))
        assert np.abs(apart).max() == pytest.approx(band.off_mm, abs=0.01)
        assert apart.max() == pytest.approx(-apart.min(), abs=0.01)  # no cone of that slope is nearer


def chord_off(wall, low, high):
    downs = np.linspace(low, high, 101)
    radii = wall.radius_mm(downs)
    return math.pi * float(np.ptp(radii - np.interp(downs, downs[[0, -1]], radii[[0, -1]])))


def test_few_bands_where_few_are_near_enough():
    slight = SmoothWall.through([(40.0, 100.0), (40.05, 50.0), (40.0, 0.0)])
    assert len(paper_bands(slight)) == 1
    bowed = SmoothWall.through([(40.0, 100.0), (40.5, 50.0), (40.0, 0.0)])
    bands = paper_bands(bowed)
    assert 1 < len(bands) <= 6 and max(band.off_mm for band in bands) <= CLOSE_MM


def test_very_many_sections_are_laid_like_a_smooth_wall():
    heights = np.linspace(0, 100, 40)
    wall = SectionWall.through([(40 + math.sin(h / 30), 100 - h) for h in heights])
    assert len(wall.bends_mm) > MOST_SECTIONS
    bands = paper_bands(wall)
    covers(wall, bands)
    assert len(bands) <= 100 // LEAST_BAND_MM


@given(st.floats(25, 50), st.floats(25, 50), st.floats(40, 150), st.floats(-3, 3), st.floats(-3, 3))
def test_first_and_last_edge_of_a_band_meet_wherever_it_is_laid(rim, base, wall_mm, a, b):
    assume(abs(base - rim) < 0.9 * wall_mm)
    (band,) = paper_bands(Frustum.from_radii(rim, base, wall_mm))
    downs = np.linspace(0, wall_mm, 7)

    def edge(turn):
        return np.stack(band.laid(np.full(7, turn), downs), axis=-1)

    apart = [np.linalg.norm(np.diff(edge(turn), axis=0), axis=1) for turn in (-math.pi, math.pi)]
    assert apart[0] == pytest.approx(apart[1])
    # distances from a place near one edge are those from the same place a whole turn on
    slope = band.cone.slope
    one, other = edge(a) - edge(a)[0], edge(b) - edge(b)[0]
    c, s = math.cos(slope * (b - a)), math.sin(slope * (b - a))
    assert one @ np.array([[c, -s], [s, c]]) == pytest.approx(other, abs=1e-9)
