"""How walls come onto the page, against points in space and sums of their girths."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from profiled import PROFILED, turned
from shapely import affinity

from stripegen.errors import GeometryError
from stripegen.flatbands import (
    APART_MM,
    MOST_BANDS,
    band_name,
    bands_of,
    footprint,
    stacked,
)
from stripegen.lettering import text_box
from stripegen.sections import SectionWall
from stripegen.smooth import SmoothWall
from stripegen.surface import Frustum
from stripegen.walls import bare_wall

SECTIONED = [name for name, cup in PROFILED.items() if not cup.smooth]


def walls(name: str):
    cup = PROFILED[name]
    return bare_wall(cup).coated(cup.resin_mm), turned(cup)


@st.composite
def smooth_walls(draw):
    """Any smooth wall, saucers among them."""
    heights = np.cumsum([0.0, *draw(st.lists(st.floats(4.0, 60.0), min_size=2, max_size=5))])[::-1]
    points = [(draw(st.floats(12.0, 70.0)), float(height)) for height in heights]
    try:
        return SmoothWall.through(points)
    except GeometryError:
        return SmoothWall.through([(40.0, 100.0), (44.0, 60.0), (30.0, 0.0)])


@pytest.mark.parametrize("name", SECTIONED)
def test_small_steps_keep_their_length_on_sections(name):
    wall, space = walls(name)
    bands = bands_of(wall)
    assert len(bands) == len(wall.parts)
    assert [band.low_mm for band in bands] == pytest.approx([0.0, *space.bends])
    assert bands[-1].high_mm == pytest.approx(space.length)
    for band, turn, share, way in itertools.product(bands, (-3.0, -0.4, 2.0), (0.05, 0.5, 0.9), range(8)):
        down = band.low_mm + share * (band.high_mm - band.low_mm)
        step = 1e-3 * np.array([math.cos(way), math.sin(way)])
        turns, downs = turn + np.array([0.0, step[0] / 40]), down + np.array([0.0, step[1]])
        drawn = np.stack(band.laid(turns, downs), axis=-1)
        real = space.point(turns, downs)
        assert np.linalg.norm(drawn[1] - drawn[0]) == pytest.approx(np.linalg.norm(real[1] - real[0]), rel=1e-5)


BOWL = SmoothWall.through([(70.0, 24.0), (68.0, 10.0), (58.0, 4.0), (8.0, 0.0)])
DOME = SmoothWall.through([(8.0, 24.0), (58.0, 20.0), (68.0, 14.0), (70.0, 0.0)])


@given(smooth_walls())
@example(BOWL)
@example(DOME)
@settings(max_examples=40)
def test_a_smooth_wall_keeps_girths_drops_and_areas(wall):
    (band,) = bands_of(wall)
    long_mm = wall.wall_mm
    for down in np.linspace(0.0, long_mm, 7)[1:-1]:
        turns = np.linspace(-math.pi, math.pi, 4001)
        x, y = band.laid(turns, np.full_like(turns, down))
        girth = np.sum(np.hypot(np.diff(x), np.diff(y)))
        assert girth == pytest.approx(2 * math.pi * float(wall.radius_mm(down)), rel=1e-5)
        # a step down the page, square to the girth, ends on the girth that is so far down
        lean = band.lean_rad(2.5, down)
        below = np.array(band.laid(2.5, down)) + 1e-3 * np.array([math.sin(lean), math.cos(lean)])
        near = np.stack(band.laid(np.linspace(2.4, 2.6, 2001), np.full(2001, down + 1e-3)), axis=-1)
        assert shapely.LineString(near).distance(shapely.Point(below)) < 1e-5
    assert np.array(band.laid(0.0, long_mm / 3)) == pytest.approx([0.0, long_mm / 3], abs=1e-9)
    downs = (np.arange(4000) + 0.5) * long_mm / 4000
    whole = float(np.sum(2 * math.pi * wall.radius_mm(downs))) * long_mm / 4000
    area = band.area(1.0)
    assert area.geom_type == "Polygon"  # nowhere over itself
    assert area.area == pytest.approx(whole, rel=2e-3)


@given(smooth_walls())
@example(BOWL)
@example(DOME)
@settings(max_examples=40)
def test_no_girth_takes_a_full_turn_of_the_page(wall):
    (band,) = bands_of(wall)
    for down in np.linspace(0.0, wall.wall_mm, 60).tolist():
        assert abs(band.lean_rad(math.pi, down)) < math.pi


@pytest.mark.parametrize("base", [31.0, 43.0, 52.0])
def test_a_smooth_wall_that_is_straight_is_unrolled(base):
    straight = Frustum.from_radii(43.0, base, math.hypot(150.0, 43.0 - base))
    points = [(43.0 + (base - 43.0) * share, 150.0 * (1 - share)) for share in (0.0, 0.3, 1.0)]
    (band,) = bands_of(SmoothWall.through(points))
    for turn, down in itertools.product((-3.0, 0.0, 1.7), (0.0, 40.0, 140.0)):
        assert np.array(band.laid(turn, down)) == pytest.approx(np.array(straight.develop(turn, down)), abs=1e-6)
        assert band.lean_rad(turn, down) == pytest.approx(straight.slope * turn, abs=1e-6)
    (own,) = bands_of(straight)
    assert own.is_exact and not own.name and own.laid(2.0, 30.0) == straight.develop(2.0, 30.0)


@pytest.mark.parametrize("name", SECTIONED)
@pytest.mark.parametrize("scale", [0.3, 0.9])
def test_bands_stand_under_each_other_apart_and_no_further_than_need_be(name, scale):
    wall, _ = walls(name)
    bands = stacked(bands_of(wall), scale)
    areas = [
        shapely.union_all(shapely.get_parts(affinity.translate(footprint(band, scale), 0.0, band.shift_mm)))
        for band in bands
    ]
    for number, (over, under) in enumerate(itertools.pairwise(bands), 1):
        ends = over.shift_mm + scale * (over.high_mm - over.low_mm)
        apart = shapely.union_all(areas[:number]).distance(areas[number])
        assert apart >= APART_MM - 1e-9
        assert apart <= APART_MM + 0.02
        assert under.shift_mm > ends
    for band in bands:
        name = text_box(band_name(band, scale))
        assert not band.area(scale).intersects(name) and not band.fringe(scale).intersects(name)
        assert f"{band.low_mm:.1f} to {band.high_mm:.1f} mm" in band.name


def test_a_wall_of_very_many_sections_is_one_band():
    points = [(42.0 - 6 * math.sin(n / 3), 150.0 - 12 * n) for n in range(MOST_BANDS + 2)]
    wall = SectionWall.through(points)
    (band,) = bands_of(wall)
    assert not band.is_exact and band.part is wall
    assert len(bands_of(SectionWall.through(points[:-1]))) == MOST_BANDS
    downs = (np.arange(4000) + 0.5) * wall.wall_mm / 4000
    whole = float(np.sum(2 * math.pi * wall.radius_mm(downs))) * wall.wall_mm / 4000
    assert band.area(1.0).area == pytest.approx(whole, rel=2e-3)
