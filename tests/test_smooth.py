"""Smooth walls against points in space, points that move straight ahead, and polylines."""

import math

import numpy as np
import pytest
from reference_walls import Turned, march
from test_sections import WAYS, agree
from turned_cups import RESINS, SMOOTH, built, random_profile, random_way, walls_of

from stripegen.errors import GeometryError
from stripegen.smooth import SmoothWall
from stripegen.surface import Frustum

LENGTH_MM = 1e-4


@pytest.mark.parametrize("resin", RESINS)
@pytest.mark.parametrize("name", SMOOTH)
def test_measures_are_those_of_points_in_space(name, resin):
    tool, true = walls_of(name, resin)
    downs = np.linspace(0, true.length, 101)
    assert tool.wall_mm == pytest.approx(true.length, abs=1e-7)
    assert tool.bends_mm == ()
    assert np.asarray(tool.radius_mm(downs)) == pytest.approx(true.radius(downs), abs=1e-6)
    assert np.asarray(tool.drop_mm(downs)) == pytest.approx(true.place(0.0)[1] - true.place(downs)[1], abs=1e-6)
    assert float(tool.girth_mm(37.0)) == pytest.approx(true.girth(37.0), abs=1e-5)
    slopes = (true.radius(downs[1:-1] + 1e-4) - true.radius(downs[1:-1] - 1e-4)) / 2e-4
    assert np.asarray(tool.slope_at(downs[1:-1])) == pytest.approx(slopes, abs=1e-6)


@pytest.mark.parametrize("resin", RESINS)
@pytest.mark.parametrize("name", SMOOTH)
def test_reach_goes_straight_ahead_in_space(name, resin):
    tool, true = walls_of(name, resin)
    rng = np.random.default_rng(7)
    around, down = rng.uniform(-7, 7, 60), rng.uniform(2, true.length - 2, 60)
    heading, distance = rng.uniform(-7, 7, 60), rng.uniform(-90, 90, 60)
    known = march(true, around, down, heading, distance)
    found = tool.reach(around, down, heading, distance)
    inside = (known[1] > -20) & (known[1] < true.length + 20)
    assert inside.sum() > 40
    radius = true.radius(known[1][inside])
    assert (found[0] - known[0])[inside] * radius == pytest.approx(np.zeros(inside.sum()), abs=LENGTH_MM / 10)
    assert found[1][inside] == pytest.approx(known[1][inside], abs=LENGTH_MM / 10)
    turned = np.remainder(found[2] - known[2] + math.pi, math.tau) - math.pi
    assert turned[inside] == pytest.approx(np.zeros(inside.sum()), abs=1e-6)
    back = tool.reach(*found, -distance)
    for value, first in zip(back, (around, down, heading), strict=True):
        assert value[inside] == pytest.approx(first[inside], abs=1e-6)
    for number in np.flatnonzero(inside)[::8]:
        one = tool.reach(*(float(x[number]) for x in (around, down, heading, distance)))
        assert [float(x) for x in one] == pytest.approx([float(x[number]) for x in found], abs=1e-6)


@pytest.mark.parametrize("resin", RESINS)
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", SMOOTH)
def test_straight_way_is_as_short_as_a_polyline_gets(name, way, resin):
    tool, true = walls_of(name, resin)
    agree(tool, true, *WAYS[way], LENGTH_MM)


def test_straight_ways_on_walls_and_between_places_at_random():
    told = []
    for seed in range(24):
        points = random_profile(seed, True)
        resin = (0.0, 0.8)[seed % 2]
        tool, true = built(points, True, resin), Turned(points, True, resin)
        told.append(agree(tool, true, *random_way(seed, true.length), LENGTH_MM))
    assert told.count("shortest") > 12


def test_points_in_a_line_are_one_straight_wall():
    tool = SmoothWall.through([(44.0, 150.0), (41.0, 112.5), (38.0, 75.0), (32.0, 0.0)]).coated(0.8)
    one = Frustum.from_radii(44.0, 32.0, math.hypot(12, 150)).coated(0.8)
    assert tool.wall_mm == pytest.approx(one.wall_mm, abs=1e-9)
    for way in ("150", "-126 up", "359.9"):
        assert tool.straight_way(*WAYS[way]) == pytest.approx(one.straight_way(*WAYS[way]), abs=1e-7)


def test_a_coat_that_fills_a_tight_hollow_is_refused():
    points = [(44.0, 100.0), (38.0, 70.0), (36.0, 60.0), (38.0, 50.0), (44.0, 0.0)]
    tool = SmoothWall.through(points)
    downs = np.linspace(1, tool.wall_mm - 1, 400)
    # the hollow's radius, by three points in space: the coat may not be thicker
    true = Turned(points, smooth=True)
    back, here, fore = (true.place(downs + step).T for step in (-0.5, 0.0, 0.5))
    sides = [np.sqrt((way**2).sum(axis=1)) for way in (here - back, fore - here, fore - back)]
    area = np.abs(np.cross(np.c_[here - back, 0 * downs], np.c_[fore - here, 0 * downs])[:, 2]) / 2
    hollow = here[:, 0] < (back[:, 0] + fore[:, 0]) / 2
    tightest = float((sides[0] * sides[1] * sides[2] / 4 / area)[hollow].min())
    tool.coated(0.9 * tightest)
    with pytest.raises(GeometryError, match="resin"):
        tool.coated(1.1 * tightest)


@pytest.mark.parametrize(
    "points",
    [
        [(40.0, 10.0), (40.0, 0.0)],
        [(40.0, 20.0), (40.0, 10.0), (40.0, 10.0)],
        [(40.0, 20.0), (40.0, 30.0), (40.0, 10.0)],
        [(40.0, 100.0), (1.0, 98.0), (30.0, 0.0)],
    ],
)
def test_walls_that_can_not_be_are_refused(points):
    with pytest.raises(GeometryError):
        SmoothWall.through(points)
