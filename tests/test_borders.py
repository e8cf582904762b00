"""Nearest places of borders against dense points laid flat."""

from __future__ import annotations

import math

import numpy as np
import pytest
from dense import dense, nearest_mm
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import shapes

from stripegen.borders import Border, extremes_mm, farthest, least_apart, nearest
from stripegen.curves import Straight
from stripegen.shapes import Edge, Shape
from stripegen.surface import Frustum
from stripegen.ways import Ways

WALL = Frustum.from_radii(43.0, 31.0, 152.0)
WAYS = Ways(WALL)


def strip(around: float, lean: float, width: float = 4.0, start: float = 30.0, end: float = 110.0) -> Shape:
    """A straight strip cut square."""
    middle = Straight(WALL, around, start, lean)
    sides = [middle.parallel(distance) for distance in (-width / 2, width / 2)]
    cuts = [Straight(WALL, *(float(v) for v in middle.at(t)), float(middle.along(t)[2]) + math.pi / 2) for t in (0.0, end - start)]
    return Shape(
        (
            Edge(sides[0], 0.0, end - start),
            Edge(cuts[1], -width / 2, width / 2),
            Edge(sides[1], end - start, 0.0),
            Edge(cuts[0], width / 2, -width / 2),
        )
    )


@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(0.35, 1.5), st.floats(-0.3, 0.9))
@settings(deadline=None, max_examples=30)
def test_the_least_is_that_of_dense_points(lean, other_lean, apart, sideways):
    one, two = strip(0.0, lean), strip(apart, other_lean, start=30 + 40 * sideways)
    points, others = dense([one]), dense([two])
    brute = float(nearest_mm(points, others, WALL).min())
    found = least_apart(Border.of([one], WAYS), Border.of([two], WAYS), WAYS)
    if not one.polygon.intersects(two.polygon):
        assert found.mm == pytest.approx(brute, abs=0.05**2 / max(brute, 0.05) + 1e-9)
        assert found.mm <= brute + 1e-9
        assert found.mm == pytest.approx(WAYS.told_mm(found.first, found.second), abs=1e-9)
    back = least_apart(Border.of([two], WAYS), Border.of([one], WAYS), WAYS)
    assert back.mm == pytest.approx(found.mm, abs=1e-6)


@given(st.floats(-3.0, 3.0), st.floats(-0.4, 0.4))
@settings(deadline=None, max_examples=15)
def test_a_turned_border_is_that_of_the_turned_shape(turn, lean):
    first, second = strip(0.0, 0.1), strip(0.6, lean)
    turned = Border.of([second], WAYS).turned(turn)
    again = Border.of([second.turned(turn)], WAYS)
    assert np.allclose(turned.starts, again.starts, atol=1e-9)
    here = least_apart(Border.of([first], WAYS), Border.of([second], WAYS), WAYS)
    there = least_apart(Border.of([first], WAYS).turned(turn), turned, WAYS)
    assert there.mm == pytest.approx(here.mm, abs=1e-9)
    assert there.first == pytest.approx((here.first[0] + turn, here.first[1]), abs=1e-6)


@given(st.floats(-1.0, 1.0), st.floats(5.0, 140.0))
@settings(deadline=None, max_examples=40)
def test_of_each_place_the_nearest_of_a_border(around, down):
    shape = strip(0.4, 0.3)
    place = np.array([[around, down]])
    brute = float(nearest_mm(place, dense([shape], 0.02), WALL)[0])
    found = farthest(place, Border.of([shape], WAYS), WAYS)
    assert found.mm == pytest.approx(brute, abs=0.003)
    near = nearest(WAYS.spots(*place.T), Border.of([shape], WAYS), WAYS)
    assert math.sqrt(near.squared[0]) == pytest.approx(found.mm, abs=1e-12)


@given(shapes())
@settings(deadline=None, max_examples=40)
def test_the_uppermost_and_lowest_places_are_those_of_dense_points(shape):
    ways = Ways(shape.outer[0].curve.wall)
    upper, lower = extremes_mm(Border.of([shape], ways))
    downs = dense([shape])[:, 1]
    assert upper <= downs.min() + 1e-9 and upper == pytest.approx(downs.min(), abs=1e-3)
    assert lower >= downs.max() - 1e-9 and lower == pytest.approx(downs.max(), abs=1e-3)


def test_a_joint_is_no_end_of_what_goes_all_the_way_round():
    ring = strip(0.0, 0.0, 2.0)
    border = Border.of([ring], WAYS, goes_round=True)
    assert len(border) == 3 * len(Border.of([ring], WAYS))
    assert np.allclose(border.starts[:, border.own], Border.of([ring], WAYS).starts)
