"""Distances along walls against shortest polylines in space, and against flat geometry where a wall unrolls."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference import Wall as SpaceWall
from reference import shortest as shortest_in_space
from reference_walls import shortest
from strategies import CUPS
from turned_cups import PROFILES, SECTIONS, walls_of

from stripegen.walls import bare_wall
from stripegen.ways import Ways

PLACES = [((0.0, 40.0), (0.35, 43.0)), ((0.2, 60.0), (-0.5, 95.0)), ((0.0, 30.0), (0.05, 70.0))]


def wall_of(name: str):
    return bare_wall(CUPS[name]).coated(CUPS[name].resin_mm)


@pytest.mark.parametrize("name", ["cylinder", "coated", "wider"])
@pytest.mark.parametrize("start, end", PLACES)
def test_on_a_straight_wall_it_is_the_shortest_polyline(name, start, end):
    length, *_ = shortest_in_space(SpaceWall.of(CUPS[name]), start, end)
    assert Ways(wall_of(name)).told_mm(start, end) == pytest.approx(length, abs=1e-5)


@given(st.sampled_from(sorted(CUPS)), st.floats(-1.5, 1.5), st.floats(5.0, 60.0), st.floats(5.0, 60.0))
@settings(deadline=None)
def test_on_a_straight_wall_it_is_a_side_of_a_flat_triangle(name, turn, down, other):
    wall = wall_of(name)
    if abs(wall.slope) < 1e-4:
        expected = math.hypot(turn * wall.radius_mm((down + other) / 2), other - down)
        tolerance = 1e-2 if wall.slope else 1e-9
    else:
        arms = [wall.radius_mm(place) / abs(wall.slope) for place in (down, other)]
        corner = abs(wall.slope * turn)
        expected = math.sqrt(arms[0] ** 2 + arms[1] ** 2 - 2 * arms[0] * arms[1] * math.cos(corner))
        tolerance = 1e-6
    assert Ways(wall).told_mm((0.3, down), (0.3 + turn, other)) == pytest.approx(expected, abs=tolerance)


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_on_any_wall_it_is_the_shortest_polyline_and_never_less(name):
    wall, space = walls_of(name)
    ways = Ways(wall)
    for start, end in PLACES:
        true = shortest(space, start, end).length
        told = ways.told_mm(start, end)
        assert -1e-4 < told - true < 0.01
        # what places are looked for by: sound but on steep shoulders
        assert abs(ways.near_mm(start, end) - true) < (0.05 if name not in ("shoulder", "ledge") else 2.0)


@given(st.sampled_from(sorted(PROFILES)), st.floats(-1.0, 1.0), st.floats(10.0, 130.0), st.floats(10.0, 130.0))
@settings(deadline=None, max_examples=40)
def test_it_is_the_same_there_and_back_and_wherever_round_the_cup(name, turn, down, other):
    ways = Ways(walls_of(name)[0])
    there = ways.told_mm((0.0, down), (turn, other))
    # on a ledge a pull may stop at another of two nearly equal ways
    near = 0.02 if name in SECTIONS else 1e-4
    assert ways.told_mm((turn, other), (0.0, down)) == pytest.approx(there, abs=near)
    assert ways.told_mm((2.0, down), (2.0 + turn, other)) == pytest.approx(there, abs=near)
    assert there >= abs(other - down) - 1e-9


def test_many_places_at_once_are_each_by_itself():
    ways = Ways(walls_of("bowed")[0])
    rng = np.random.default_rng(1)
    one, two = (np.array([rng.uniform(-1, 1, 20), rng.uniform(20, 120, 20)]) for _ in range(2))
    squared = ways.squared(ways.spots(*one)[:, :, None], ways.spots(*two)[:, None, :])
    for n, m in ((0, 0), (3, 17), (19, 2)):
        assert math.sqrt(squared[n, m]) == pytest.approx(ways.near_mm(tuple(one[:, n]), tuple(two[:, m])), abs=1e-9)
