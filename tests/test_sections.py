"""Walls of several straight sections against points in space, points that move straight ahead, and polylines."""

import math
from itertools import pairwise

import numpy as np
import pytest
from reference_walls import Turned, march, shortest
from turned_cups import RESINS, SECTIONS, built, random_profile, random_way, walls_of

from stripegen.errors import GeometryError
from stripegen.sections import SectionWall
from stripegen.surface import Frustum

LENGTH_MM = 1e-6
WAYS = {
    "150": ((0.3, 25.0), (2.9, 105.0)),
    "-126 up": ((0.3, 112.0), (-1.9, 30.0)),
    "100 level": ((0.3, 50.0), (2.05, 50.0)),
    "359.9": ((0.3, 22.0), (0.3 + math.radians(359.9), 118.0)),
    "430 up": ((0.3, 120.0), (0.3 + math.radians(430), 24.0)),
    "1e-5": ((1.0, 20.0), (1.0 + 1e-7, 120.0)),
    "0": ((1.0, 20.0), (1.0, 120.0)),
}


def agree(tool, true: Turned, start, end, within_mm: float) -> str:
    """Whether the tool's straight way is the shortest that a polyline finds, or rightly refused."""
    try:
        known = shortest(true, start, end)
    except ValueError:
        known = None  # it shrinks to the axis, off the wall
    try:
        heading, length = tool.straight_way(start, end)
    except GeometryError as error:
        assert "\n" not in str(error)
        assert known is None or known.follows_bend or known.off_mm(true) > 1e-3, str(error)
        return "refused"
    trace = []
    march(true, *start, heading, length, step_mm=2.0, trace=trace)
    _, around, down, _ = np.array(trace).T
    assert -1e-3 < down.min() and down.max() < true.length + 1e-3
    radius = float(true.radius(end[1]))
    assert ((around[-1] - end[0]) * radius, down[-1] - end[1]) == pytest.approx((0, 0), abs=10 * within_mm)
    assert tool.straight_way(end, start)[1] == pytest.approx(length, abs=1e-3 * within_mm + 1e-9)
    if known is not None and known.off_mm(true) > 1e-3:
        return "on the wall"  # straight, though a shorter one leaves the wall, if the wall ran on straight
    assert known is not None and not known.follows_bend
    assert length == pytest.approx(known.length, abs=within_mm)
    return "shortest"


@pytest.mark.parametrize("resin", RESINS)
@pytest.mark.parametrize("name", SECTIONS)
def test_measures_are_those_of_points_in_space(name, resin):
    tool, true = walls_of(name, resin)
    downs = np.linspace(0, true.length, 101)
    assert tool.wall_mm == pytest.approx(true.length, abs=1e-9)
    assert tool.bends_mm == pytest.approx(true.bends, abs=1e-9)
    assert tool.radius_mm(downs) == pytest.approx(true.radius(downs), abs=1e-9)
    assert tool.drop_mm(downs) == pytest.approx(true.place(0.0)[1] - true.place(downs)[1], abs=1e-6)
    assert tool.girth_mm(37.0) == pytest.approx(true.girth(37.0), abs=1e-8)
    assert tool.girth_mm(tool.wall_mm) == pytest.approx(true.girth(true.length), abs=1e-8)


def test_a_coat_on_a_ledge_fills_its_inner_corner():
    """Worked by hand: an upright wall, a ledge of 6 mm, an upright wall, under 1 mm."""
    tool = SectionWall.through([(40.0, 100.0), (40.0, 60.0), (34.0, 60.0), (34.0, 0.0)]).coated(1.0)
    assert tool.wall_mm == pytest.approx(41 + 6 + 59)
    assert tool.bends_mm == pytest.approx((41, 47))
    assert float(tool.radius_mm(20.0)) == pytest.approx(41)
    assert float(tool.radius_mm(44.0)) == pytest.approx(38)
    assert float(tool.radius_mm(60.0)) == pytest.approx(35)


def test_a_coat_that_swallows_a_section_is_refused():
    points = [(40.0, 100.0), (34.0, 60.0), (34.5, 59.0), (44.0, 0.0)]
    with pytest.raises(ValueError, match="swallows"):
        Turned(points, resin=20.0)
    with pytest.raises(GeometryError, match="resin"):
        SectionWall.through(points).coated(20.0)


@pytest.mark.parametrize("resin", RESINS)
@pytest.mark.parametrize("name", SECTIONS)
def test_reach_goes_straight_ahead_in_space(name, resin):
    tool, true = walls_of(name, resin)
    rng = np.random.default_rng(7)
    around, down = rng.uniform(-7, 7, 60), rng.uniform(2, true.length - 2, 60)
    heading, distance = rng.uniform(-7, 7, 60), rng.uniform(-90, 90, 60)
    known = march(true, around, down, heading, distance)
    found = tool.reach(around, down, heading, distance)
    inside = (known[1] > -20) & (known[1] < true.length + 20)
    assert inside.sum() > 40
    radius = true.radius(np.clip(known[1], 0, true.length))[inside]
    assert (found[0] - known[0])[inside] * radius == pytest.approx(np.zeros(inside.sum()), abs=LENGTH_MM)
    assert found[1][inside] == pytest.approx(known[1][inside], abs=LENGTH_MM)
    turned = np.remainder(found[2] - known[2] + math.pi, math.tau) - math.pi
    assert turned[inside] == pytest.approx(np.zeros(inside.sum()), abs=1e-7)


@pytest.mark.parametrize("name", SECTIONS)
def test_reach_comes_back_and_goes_in_parts(name):
    tool, _ = walls_of(name, 0.8)
    rng = np.random.default_rng(11)
    place = rng.uniform(-7, 7, 300), rng.uniform(2, tool.wall_mm - 2, 300), rng.uniform(-7, 7, 300)
    distance = rng.uniform(-60, 60, 300)
    there = tool.reach(*place, distance)
    # a way that grazes a bend comes back from a hair beside it as from a hair's breadth magnified
    grazes = np.zeros(300, bool)
    for share in np.linspace(0, 1, 400):
        _, down, heading = tool.reach(*place, share * distance)
        near = np.abs(down[:, None] - np.array(tool.bends_mm)).min(axis=1) < 0.2
        grazes |= near & (np.abs(np.cos(heading)) < 0.03)
    assert grazes.sum() < 30
    for found in (tool.reach(*there, -distance), tool.reach(*tool.reach(*there, -0.3 * distance), -0.7 * distance)):
        for value, first in zip(found, place, strict=True):
            assert value[~grazes] == pytest.approx(first[~grazes], abs=1e-8)
    for number in range(0, 300, 25):
        one = tool.reach(*(float(x[number]) for x in place), float(distance[number]))
        assert one == pytest.approx([float(x[number]) for x in there], abs=1e-10)


@pytest.mark.parametrize("resin", RESINS)
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", SECTIONS)
def test_straight_way_is_as_short_as_a_polyline_gets(name, way, resin):
    tool, true = walls_of(name, resin)
    agree(tool, true, *WAYS[way], LENGTH_MM)


def test_straight_ways_on_walls_and_between_places_at_random():
    told = []
    for seed in range(36):
        points = random_profile(seed, False)
        resin = (0.0, 0.8)[seed % 2]
        tool, true = built(points, False, resin), Turned(points, resin=resin)
        told.append(agree(tool, true, *random_way(seed, true.length), LENGTH_MM))
    assert told.count("shortest") > 21


@pytest.mark.parametrize("down", ["on the first bend", "just over it", "just under it"])
@pytest.mark.parametrize("name", SECTIONS)
def test_straight_ways_from_a_bend(name, down):
    tool, true = walls_of(name)
    bend = true.bends[0]
    start = (0.4, bend + {"on the first bend": 0.0, "just over it": -1e-3, "just under it": 1e-3}[down])
    for end in ((2.0, bend + 35.0), (-1.4, 15.0)):
        agree(tool, true, start, end, 1e-5)


def test_a_way_along_a_waist_is_refused():
    tool = SectionWall.through([(40.0, 100.0), (30.0, 60.0), (40.0, 20.0)])
    bend = tool.bends_mm[0]
    for start, end in (((0.0, bend - 4), (2.2, bend + 4)), ((0.0, bend - 4), (-2.2, bend - 4))):
        assert shortest(Turned([(40.0, 100.0), (30.0, 60.0), (40.0, 20.0)]), start, end).follows_bend
        with pytest.raises(GeometryError):
            tool.straight_way(start, end)


def test_points_in_a_line_are_one_straight_wall():
    points = [(44.0, 150.0), (41.0, 112.5), (38.0, 75.0), (32.0, 0.0)]
    for resin in RESINS:
        tool = SectionWall.through(points).coated(resin)
        one = Frustum.from_radii(44.0, 32.0, math.hypot(12, 150)).coated(resin)
        assert tool.wall_mm == pytest.approx(one.wall_mm)
        for way in ("150", "-126 up", "359.9"):
            assert tool.straight_way(*WAYS[way]) == pytest.approx(one.straight_way(*WAYS[way]), abs=1e-9)
        for place in ((0.3, 20.0, 1.1, 90.0), (0.3, 130.0, 2.8, 70.0)):
            assert [float(x) for x in tool.reach(*place)] == pytest.approx([float(x) for x in one.reach(*place)])


@pytest.mark.parametrize(
    "points", [[(40.0, 10.0)], [(40.0, 10.0), (40.0, 10.0)], [(40.0, 10.0), (-1.0, 0.0)], [(math.nan, 10.0), (3.0, 0.0)]]
)
def test_walls_that_can_not_be_are_refused(points):
    with pytest.raises(GeometryError):
        SectionWall.through(points)


@pytest.mark.parametrize("name", SECTIONS)
def test_the_mean_of_one_over_the_radius_is_its_sum_for_one_pair_of_places_as_for_many(name):
    tool, _ = walls_of(name, 0.8)
    rng = np.random.default_rng(5)
    lows, highs = rng.uniform(-5, tool.wall_mm + 5, (2, 40))
    lows[0], highs[1] = tool.bends_mm[0], tool.bends_mm[-1]
    for low, high, many in zip(lows, highs, tool.mean_inverse(lows, highs), strict=True):
        one = tool.mean_inverse(float(low), float(high))
        assert one == pytest.approx(many, rel=1e-13)
        stops = sorted({low, high, *(bend for bend in tool.bends_mm if min(low, high) < bend < max(low, high))})
        total = sum(
            np.mean(1 / tool.radius_mm(a + (b - a) * (np.arange(2000) + 0.5) / 2000)) * (b - a)
            for a, b in pairwise(stops)
        )
        assert one == pytest.approx(total / abs(high - low), rel=1e-6)
