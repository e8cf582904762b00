"""The numbers that walls and lines are tested against, tested themselves: where the answer is known otherwise."""

import math

import numpy as np
import pytest
import reference
from reference_strips import Flat, flat_strip, line_between, meridian, ring, straight
from reference_walls import Turned, length, march, shoot, shortest
from scipy.optimize import minimize_scalar
from strategies import CUPS
from turned_cups import PROFILES, SMOOTH, walls_of

WAYS = [
    ((0.3, 20.0), (2.9, 55.0)),
    ((0.3, 50.0), (-1.9, 25.0)),
    ((0.3, 20.0), (0.3 + math.radians(359.9), 60.0)),
    ((1.0, 30.0), (1.0 + 1e-7, 60.0)),
    ((1.0, 30.0), (2.2, 30.0)),
]


def one_section(name: str) -> tuple[Turned, reference.Wall]:
    cup = CUPS[name]
    height = math.sqrt(cup.wall_mm**2 - (cup.base_radius_mm - cup.rim_radius_mm) ** 2)
    return Turned([(cup.rim_radius_mm, height), (cup.base_radius_mm, 0.0)], resin=cup.resin_mm), reference.Wall.of(cup)


@pytest.mark.parametrize("name", ["cylinder", "coated", "steep", "wider"])
def test_one_section_is_the_straight_wall(name):
    wall, known = one_section(name)
    downs = np.linspace(0, known.length, 7)
    assert wall.length == pytest.approx(known.length, abs=1e-12)
    assert wall.radius(downs) == pytest.approx(known.radius(downs), abs=1e-12)
    for start, end in WAYS[:2] + WAYS[3:] if name == "steep" else WAYS:
        found = shortest(wall, start, end)
        assert found.length == pytest.approx(reference.shortest(known, start, end)[0], abs=1e-7)
        assert shoot(wall, start, end, found)[1] == pytest.approx(found.length, abs=1e-8)


@pytest.mark.parametrize("ends", ["level", "upright", "square"])
@pytest.mark.parametrize("path", ["straight", "same-slant", "even-drop"])
def test_strips_on_one_section_are_those_of_triangles_rim_to_base(path, ends):
    wall, known = one_section("coated")
    places = (0.3, 17.0), (2.9, 58.0)
    flat = reference.Flat(known, -3.0, 7.0, 2e-3)
    run = reference.run_of(flat, path, *places, 60.0 if ends != "square" else 5.0)
    for low, high in ((-2.0, 2.0), (1.0, 5.0)):
        true = reference.cut_ribbon(flat, run, low, high, ends)
        middle = reference.middle_of(reference.beside(run.chain, (low + high) / 2), true)
        found = flat_strip(line_between(wall, path, *places), low, high, ends)
        assert reference.apart(found.polygon, reference.framed(flat, true, middle)) < 5e-4


def test_a_spline_through_a_circle_makes_a_ball():
    """Radii of a ball's zone: straight ways are great circles, and what is laid flat turns as on a ball."""
    ball = 50.0
    heights = ball * np.sin(np.linspace(1.15, -1.15, 110))
    wall = Turned(list(zip(np.sqrt(ball**2 - heights**2), heights, strict=True)), smooth=True)
    assert wall.length == pytest.approx(2.3 * ball, abs=1e-3)
    top = wall.length / 2
    for start, end in (((0.0, 30.0), (2.0, 80.0)), ((0.5, 60.0), (-1.5, 40.0)), ((0.0, 35.0), (1.2, 35.0))):
        chord = math.dist(wall.point(*start), wall.point(*end))
        known = 2 * ball * math.asin(chord / 2 / ball)
        assert shortest(wall, start, end).length == pytest.approx(known, abs=2e-6)
        assert shoot(wall, start, end)[1] == pytest.approx(known, abs=2e-6)
    # beside the equator at d a small circle; a quarter of a parallel laid flat turns by the sine of its latitude
    line = ring(wall, top, 0.0, 2.0)
    assert line.moved(8.0).length() == pytest.approx(2 * ball * math.cos(8 / ball), abs=1e-5)
    flat = Flat(ring(wall, top - 20, 0.0, math.pi / 2), 0.0, math.pi / 2)
    assert float(flat.way(math.pi / 2) - flat.way(0.0)) == pytest.approx(math.pi / 2 * math.sin(20 / ball), abs=1e-6)


def test_a_coat_on_a_ball_is_a_larger_ball():
    ball = 50.0
    heights = ball * np.sin(np.linspace(1.1, -1.1, 160))
    points = list(zip(np.sqrt(ball**2 - heights**2), heights, strict=True))
    wall = Turned(points, smooth=True, resin=2.0)
    spots = wall.point(0.3, np.linspace(15.0, wall.length - 15, 9))
    assert np.sqrt((spots**2).sum(axis=1)) == pytest.approx(np.full(9, 52.0), abs=1e-5)
    # longer than the bare wall by its thickness times the turn of the way out, from rim to base
    turn = math.acos(float(wall.out(0.0, 0.0) @ wall.out(0.0, wall.length)))
    assert wall.length == pytest.approx(Turned(points, smooth=True).length + 2 * turn, abs=1e-9)


@pytest.mark.parametrize("name", ["bent out", "waist", "bulge"])
def test_over_one_bend_the_shortest_way_is_two_straight_lines_of_the_cones_unrolled(name):
    points = PROFILES[name]
    wall = Turned(points)
    start, end = (0.3, 30.0), (2.1, 115.0)

    def part(upper, lower, radius0, radius1, turn):
        sine = (upper[0] - lower[0]) / math.dist(upper, lower)
        first, last = radius0 / abs(sine), radius1 / abs(sine)
        return math.sqrt(first**2 + last**2 - 2 * first * last * math.cos(turn * sine))

    def both(around):
        radii = [float(radius) for radius in wall.radius(np.array([start[1], wall.bends[0], end[1]]))]
        return part(*points[:2], *radii[:2], around - start[0]) + part(*points[1:], *radii[1:], end[0] - around)

    known = minimize_scalar(both, bounds=(start[0], end[0]), method="bounded", options={"xatol": 1e-10})
    found = shortest(wall, start, end)
    assert found.length == pytest.approx(known.fun, abs=1e-9)
    heading, size = shoot(wall, start, end, found)
    assert size == pytest.approx(known.fun, abs=1e-8)
    around, down, _ = march(wall, *start, heading, size / 3)
    back = march(wall, *start, heading, size)
    there = march(wall, *back, size / 3 - size)
    assert (float(there[0]), float(there[1])) == pytest.approx((float(around), float(down)), abs=1e-9)


def test_the_shortest_way_may_follow_a_waist():
    """From where a tangent to the waist, on the cone unrolled, comes in: no straight way turns further and crosses it."""
    wall = Turned([(40.0, 100.0), (30.0, 60.0), (40.0, 20.0)])
    bend, sine = wall.bends[0], 10 / math.hypot(10, 40)
    start = (0.0, bend - 4.0)
    reach = 2 * math.acos(30.0 / float(wall.radius(start[1]))) / sine
    for turn in (0.95 * reach, 1.05 * reach):
        for down in (bend + 4.0, bend - 4.0):
            found = shortest(wall, start, (turn, down))
            assert found.follows_bend == (turn > reach)
            if not found.follows_bend:
                assert found.doubt_mm < 1e-7


@pytest.mark.parametrize("name", PROFILES)
def test_moving_straight_ahead_is_as_short_as_a_polyline_gets(name):
    wall = walls_of(name, 0.8)[1]
    for start, end in (((0.3, 25.0), (2.9, 105.0)), ((0.3, 110.0), (-3.1, 35.0))):
        found = shortest(wall, start, end)
        assert found.doubt_mm < (1e-6 if name in SMOOTH else 1e-7)
        if not found.follows_bend:
            assert shoot(wall, start, end, found)[1] == pytest.approx(found.length, abs=1e-7)


@pytest.mark.parametrize("name", ["bulge", "upright", "s-shape"])
def test_strips_laid_flat_keep_lengths_and_lie_straight_where_they_are(name):
    wall = walls_of(name, 0.8)[1]
    for line in (straight(wall, (0.3, 30.0), (1.9, 112.0)), meridian(wall, 1.0, 20.0, 118.0)):
        flat = Flat(line, line.t0, line.t1)
        t = np.linspace(line.t0, line.t1, 50)
        assert np.ptp(flat.way(t)) < 2e-6
        assert float(np.hypot(*(flat(line.t1) - flat(line.t0)))) == pytest.approx(line.length(), abs=1e-7)
    line = line_between(wall, "even-drop", (0.3, 30.0), (3.9, 112.0))
    flat = Flat(line, 0.0, 1.0)
    chain = flat(np.linspace(0, 1, 20001))
    assert reference.chords(chain) == pytest.approx(line.length(), abs=1e-6)
    assert line.length() == pytest.approx(length(wall, line.way, 0.0, 1.0, parts=400), abs=1e-8)


def test_a_strip_of_wide_triangles_lies_nearly_as_narrow_ones_do():
    """A wide strip's own triangles, laid one by one from space: the angles they leave sum to the line's bending."""
    for name in ("bent in", "bowed"):
        wall = walls_of(name)[1]
        line = line_between(wall, "same-slant", (0.3, 25.0), (2.3, 120.0))
        t = np.linspace(line.t0, line.t1, 3001)
        sides = [wall.point(*line.beside(t, aside)) for aside in (-0.4, 0.4)]
        out = wall.out(*line.way(t))
        low, high = reference.lay_triangles(*sides, out)
        found = (low + high) / 2
        flat = Flat(line, line.t0, line.t1)(t)
        for ends in ((0, -1), (0, 1500), (700, 2200)):
            assert math.dist(*found[list(ends)]) == pytest.approx(math.dist(*flat[list(ends)]), abs=5e-3)
