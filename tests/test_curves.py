"""Curves on a wall against chords in space, triangles laid flat and shortest polylines."""

import math
from functools import cache

import numpy as np
import pytest
import reference
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import CUPS

from stripegen.carrying import carried
from stripegen.curves import Beside, Parallel, Round, Straight
from stripegen.errors import GeometryError
from stripegen.sections import SectionWall
from stripegen.slants import EvenDrop, SameSlant
from stripegen.surface import Frustum

WALLS = ("cylinder", "hair", "nearly", "shallow", "coated", "steep", "wider")
KINDS = (
    "meridian",
    "straight",
    "steep straight",
    "parallel",
    "round",
    "slant",
    "slant up",
    "drop",
    "winding drop",
    "beside slant",
    "beside drop",
)


@cache
def wall_of(name: str) -> Frustum:
    cup = CUPS[name]
    return Frustum.from_radii(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm).coated(cup.resin_mm)


def curve_on(wall: Frustum, kind: str):
    """A curve and a range of its t."""
    match kind:
        case "meridian":
            return Straight(wall, 1.0, 0.0, 0.0), 12.0, 60.0
        case "straight":
            return Straight(wall, 0.5, 15.0, 1.1), -5.0, 70.0
        case "steep straight":
            return Straight(wall, 0.5, 55.0, 2.9), 0.0, 40.0
        case "parallel":
            return Parallel(wall, 33.0, 2.0), 0.0, math.radians(359.9)
        case "round":
            return Round(wall, 2.0, 30.0, 9.0), -1.0, 2.5
        case "slant":
            return SameSlant(wall, 0.2, 12.0, 1.3), 0.0, 150.0
        case "slant up":
            return SameSlant(wall, 0.2, 55.0, -2.0), -10.0, 70.0
        case "drop":
            return EvenDrop(wall, 0.2, 12.0, -2.0, 45.0), 0.0, 1.0
        case "winding drop":
            return EvenDrop(wall, 0.2, 60.0, 7.5, -45.0), -0.1, 1.05
        case "beside slant":
            return Beside(wall, SameSlant(wall, 0.2, 15.0, 1.0), -4.0), 0.0, 60.0
        case "beside drop":
            return Beside(wall, EvenDrop(wall, 0.2, 14.0, 3.0, 40.0), 5.0), 0.0, 1.0
    raise ValueError(kind)


@cache
def flat_of(name: str) -> reference.Flat:
    return reference.Flat(reference.Wall.of(CUPS[name]), -4.0, 12.0)


def heading_in_space(wall: reference.Wall, curve, t: float, step: float) -> tuple[float, float]:
    """Heading and speed at t, from points in space a small step apart."""
    fore, back = (wall.point(*curve.at(np.array(t + s))) for s in (step, -step))
    around, down = (float(x) for x in curve.at(t))
    way = (fore - back) / (2 * step)
    down_way = wall.point(around, down + 1) - wall.point(around, down)
    right_way = np.array([-math.sin(around), math.cos(around), 0.0])
    return math.atan2(way @ right_way, way @ down_way), float(np.sqrt(way @ way))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", WALLS)
def test_headings_speeds_and_lengths_are_those_in_space(name, kind):
    wall, true = wall_of(name), reference.Wall.of(CUPS[name])
    curve, t0, t1 = curve_on(wall, kind)
    for t in np.linspace(t0, t1, 7):
        heading, speed = heading_in_space(true, curve, t, 1e-5 * (t1 - t0))
        assert math.remainder(float(curve.along(t)[2]) - heading, math.tau) == pytest.approx(0, abs=1e-7)
        assert float(curve.speed(t)) == pytest.approx(speed, rel=1e-7)
    # continuous: no turn of the heading but the curve's own
    steps = np.diff(curve.along(np.linspace(t0, t1, 400))[2])
    assert np.abs(steps).max() < 0.1
    assert curve.length_mm(t0, t1) == pytest.approx(reference.length(true, curve.at, t0, t1), abs=1e-7)
    assert curve.length_mm(t1, t0) == pytest.approx(-curve.length_mm(t0, t1), abs=1e-9)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", WALLS)
def test_bending_is_that_of_the_curve_laid_flat(name, kind):
    curve, t0, t1 = curve_on(wall_of(name), kind)
    t = np.linspace(t0, t1, 2001)
    points = flat_of(name)(*curve.at(t))
    ways = np.gradient(points, t, axis=0, edge_order=2)
    turns = np.unwrap(np.arctan2(ways[:, 0], ways[:, 1]))
    (a0, _, f0), (a1, _, f1) = curve.along(t0), curve.along(t1)
    assert f1 - f0 + curve.wall.slope * (a1 - a0) == pytest.approx(turns[-1] - turns[0], abs=2e-4)
    middle = slice(200, 1800)
    bends = np.gradient(turns, t)[middle] / np.hypot(*ways.T)[middle]
    assert np.abs(curve.curvature(t[middle]) - bends).mean() < 2e-5
    if curve.flat == "line":
        assert np.abs(np.diff(turns)).max() < 1e-4
    if curve.flat == "arc":
        assert np.ptp(curve.curvature(t)) < 1e-15


@pytest.mark.parametrize("distance", [2.5, -4.0])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", WALLS)
def test_parallel_curves_keep_their_distance_on_their_side(name, kind, distance):
    curve, t0, t1 = curve_on(wall_of(name), kind)
    flat, moved = flat_of(name), curve.parallel(distance)
    inner = np.linspace(t0 + 0.2 * (t1 - t0), t1 - 0.2 * (t1 - t0), 25)
    dense = np.linspace(t0, t1, 6001)
    points = flat(*moved.at(inner))
    chain = shapely.LineString(flat(*curve.at(dense)))
    assert np.abs(shapely.distance(chain, shapely.points(points)) - abs(distance)).max() < 1e-4
    # the same t stands squarely beside, a quarter turn further than the heading
    here = flat(*curve.at(inner))
    away = flat(*curve.at(inner + 1e-6 * (t1 - t0))) - here
    beside = points - here
    side = away[:, 1] * beside[:, 0] - away[:, 0] * beside[:, 1]
    assert np.all(np.sign(side) == math.copysign(1, distance))
    assert np.hypot(*beside.T) == pytest.approx(abs(distance), abs=1e-4)
    assert moved.length_mm(t0, t1) == pytest.approx(
        reference.length(reference.Wall.of(CUPS[name]), moved.at, t0, t1), abs=1e-6
    )
    back = np.array(moved.parallel(-distance).at(inner))
    assert back == pytest.approx(np.array(curve.at(inner)), abs=1e-12)


@pytest.mark.parametrize("name", WALLS)
def test_a_round_is_everything_at_one_distance(name):
    wall, true = wall_of(name), reference.Wall.of(CUPS[name])
    centre = (2.0, 30.0)
    curve = Round(wall, *centre, 9.0)
    for t in np.linspace(0.3, 6.0, 9):
        length, _, _ = reference.shortest(true, centre, tuple(float(x) for x in curve.at(t)))
        assert length == pytest.approx(9.0, abs=1e-6)
    with pytest.raises(GeometryError, match="past its centre"):
        curve.parallel(9.0)


WAYS = [
    ((0.3, 20.0), (2.9, 55.0)),
    ((0.3, 60.0), (-4.0, 15.0)),
    ((0.3, 20.0), (0.3, 60.0)),
    ((0.3, 20.0), (0.3 + math.radians(359.9), 60.0)),
    ((0.3, 15.0), (0.3 + math.radians(800), 62.0)),
    ((0.3, 30.0), (2.3, 30.001)),
]


@pytest.mark.parametrize("way", WAYS, ids=lambda way: f"{math.degrees(way[1][0] - way[0][0]):.0f}")
@pytest.mark.parametrize("name", WALLS)
def test_same_slant_is_one_heading_between_two_places(name, way):
    wall, true = wall_of(name), reference.Wall.of(CUPS[name])
    curve, length = SameSlant.between(wall, *way)
    start, end = curve.at(0.0), curve.at(length)
    assert (float(start[0]), float(start[1])) == pytest.approx(way[0], abs=1e-12)
    assert (float(end[0]), float(end[1])) == pytest.approx(way[1], abs=1e-9)
    summed = reference.same_slant(true, *way)
    downs = np.linspace(way[0][1], way[1][1], 50)
    arounds, found = curve.at(np.linspace(0, length, 50))
    assert found == pytest.approx(downs, abs=1e-10)
    assert arounds == pytest.approx(summed(downs)[0], abs=1e-10)
    exact = reference.length(true, summed, way[0][1], way[1][1], parts=1024)
    assert length == pytest.approx(exact, abs=1e-6)
    headings = [heading_in_space(true, curve, t, 1e-4)[0] for t in np.linspace(0.1, length - 0.1, 5)]
    assert np.ptp(headings) < 1e-6


@given(t=st.floats(-1, 2), turn=st.floats(-20, 20), drop=st.floats(-60, 60).filter(lambda x: abs(x) > 0.1))
@settings(deadline=None, max_examples=30)
def test_even_drop_drops_the_same_for_every_degree(t, turn, drop):
    curve = EvenDrop(wall_of("shallow"), 1.0, 60.0, turn, drop)
    around, down = curve.at(t)
    assert float(around) == pytest.approx(1.0 + t * turn)
    assert float(down) == pytest.approx(60.0 + t * drop)


@pytest.mark.parametrize("kind", KINDS)
def test_a_turned_curve_is_the_same_further_round(kind):
    curve, t0, t1 = curve_on(wall_of("coated"), kind)
    t = np.linspace(t0, t1, 9)
    (a, v, f), (b, w, g) = curve.along(t), curve.turned(0.75).along(t)
    assert b == pytest.approx(a + 0.75, abs=1e-13)
    assert w == pytest.approx(v, abs=1e-13) and g == pytest.approx(f, abs=1e-13)


@pytest.mark.parametrize("kind", [*KINDS, "almost straight up"])
@pytest.mark.parametrize("name", WALLS)
def test_a_carried_curve_is_at_the_same_places_on_another_coat(name, kind):
    wall = wall_of(name)
    if kind == "almost straight up":  # its heading passes half a turn on the way
        curve, t0, t1 = Straight(wall, 0.5, 60.0, math.pi - 1e-3).parallel(5.0), 0.0, 50.0
    else:
        curve, t0, t1 = curve_on(wall, kind)
    coat = wall.coated(1.4)
    cup = CUPS[name]
    true = reference.Wall.of(cup, cup.resin_mm + 1.4)
    moved = carried(curve, coat)
    t = np.linspace(t0, t1, 101)
    assert np.array(moved.at(t)) == pytest.approx(np.array(curve.at(t)), abs=1e-12)
    for at in t[5:-5:10]:
        heading, speed = heading_in_space(true, moved, at, 1e-5 * (t1 - t0))
        assert math.remainder(float(moved.along(at)[2]) - heading, math.tau) == pytest.approx(0, abs=1e-7)
        assert float(moved.speed(at)) == pytest.approx(speed, rel=1e-7)
    assert np.abs(np.diff(moved.along(t)[2])).max() < 0.1
    assert moved.length_mm(t0, t1) == pytest.approx(reference.length(true, moved.at, t0, t1), abs=1e-6)
    flat = reference.Flat(true, -4.0, 12.0, 2e-3)
    fine = np.linspace(t0, t1, 2001)
    ways = np.gradient(flat(*moved.at(fine)), fine, axis=0, edge_order=2)
    turns = np.unwrap(np.arctan2(ways[:, 0], ways[:, 1]))
    bends = np.gradient(turns, fine)[200:1800] / np.hypot(*ways.T)[200:1800]
    assert np.abs(moved.curvature(fine[200:1800]) - bends).mean() < 5e-5
    # what is carried and then moved aside keeps its distance on the new coat
    aside = moved.parallel(1.5)
    chain = shapely.LineString(flat(*moved.at(np.linspace(t0, t1, 6001))))
    points = shapely.points(flat(*aside.at(t[20:80:4])))
    assert np.abs(shapely.distance(chain, points) - 1.5).max() < 1e-4


def test_bends_are_crossed_only_where_a_curve_is():
    """Up over the rim this wall runs to a point, past which a way straight up is nowhere."""
    wall = SectionWall.through([(59, 91), (74, 67), (58, 36), (70, 16), (71, 0)])
    way = Straight(wall, 0.0, 50.0, math.pi)
    for curve in (way, carried(way, wall.coated(2.0))):
        found = curve.bends_t(-640.0, 640.0)
        assert found == sorted(found)
        downs = curve.at(np.array(found))[1]
        assert downs == pytest.approx(curve.wall.bends_mm[::-1], abs=1e-9)
