"""Shapes on a wall: samples that follow their curves, turning, images."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import CUPS, WALL, box, disc, ribbon, shapes

from stripegen.curves import Beside, Parallel, Round, Straight
from stripegen.errors import GeometryError
from stripegen.overlay import overlay
from stripegen.shapes import CHORD_MM, FULL_TURN, Edge, images
from stripegen.slants import EvenDrop, SameSlant
from stripegen.surface import Frustum

laws = settings(deadline=None, max_examples=40)


@laws
@given(curve_t=st.tuples(st.sampled_from(range(6)), st.floats(-40, 40), st.floats(0.1, 90), st.floats(0, 1)))
def test_samples_follow_their_curve_and_are_the_curves_own(curve_t):
    kind, start, length, share = curve_t
    wall = Frustum.from_radii(*((43.0, 31.0, 150.0), (30.0, 42.0, 110.0))[kind % 2])
    curve, scale = (
        (Straight(wall, 0.3, 60.0, 1.2), 1.0),
        (SameSlant(wall, 0.3, 60.0, 1.4), 1.0),
        (EvenDrop(wall, 0.3, 50.0, 3.0, 20.0), 0.01),
        (Round(wall, 0.3, 60.0, 4.0), 0.05),
        (Beside(wall, SameSlant(wall, 0.3, 60.0, -1.2), 6.0), 1.0),
        (Parallel(wall, 60.0, 0.3), 0.1),
    )[kind]
    t0, t1 = start * scale, (start + length) * scale

    def places(t):
        return np.stack(curve.at(np.asarray(t)), axis=-1) * (wall.mean_radius_mm, 1.0)

    t = Edge(curve, t0, t1).samples()
    assert t[0] == t0 and t[-1] == t1 and np.all(np.diff(t) > 0)
    chain = shapely.LineString(places(t))
    fine = shapely.points(places(np.linspace(t0, t1, 2000)))
    assert shapely.distance(chain, fine).max() < CHORD_MM
    assert np.array_equal(Edge(curve, t1, t0).samples(), t[::-1])
    # another stretch of the same curve has the same samples where both are
    u0, u1 = t0 + share * (t1 - t0), t1 + (t1 - t0)
    other = Edge(curve, u0, u1).samples()
    if curve.flat != "arc" or isinstance(curve, Round):
        both = [set(x[(x > u0) & (x < t1)]) for x in (t[1:-1], other[1:-1])]
        assert both[0] == both[1]


def test_a_curve_past_the_point_of_the_wall_is_refused():
    wall = Frustum.from_radii(40.0, 10.0, 60.0)
    meridian = Straight(wall, 0.0, 0.0, 0.0)
    with pytest.raises(GeometryError, match="point to which the wall tapers"):
        _ = ribbon(meridian, 10.0, 90.0, -2.0, 2.0).traces


@laws
@given(shape=shapes(), low=st.floats(-20, 20), width=st.floats(0, 9))
def test_images_are_all_that_reach_into_a_range(shape, low, width):
    found = images([shape], (low, low + width))
    turns = [round((image.around_range[0] - shape.around_range[0]) / FULL_TURN) for image in found]
    assert turns == list(range(turns[0], turns[0] + len(turns))) if turns else True
    first, last = shape.around_range
    for turn in range(-6, 7):
        reaches = first + turn * FULL_TURN <= low + width and last + turn * FULL_TURN >= low
        assert reaches == (turn in turns)


def test_shapes_turn_and_are_carried_place_by_place():
    shape = overlay([box(WALL, 0.0, 1.0, 30.0, 70.0)], [disc(WALL, 0.5, 50.0, 8.0)])[0]
    coat = WALL.coated(2.0)
    moved, turned = shape.carried(coat), shape.turned(0.4)
    for loop, on_coat, further in zip(shape.loops, moved.loops, turned.loops, strict=True):
        for edge, other, third in zip(loop, on_coat, further, strict=True):
            t = np.linspace(edge.t0, edge.t1, 7)
            assert np.array(other.curve.at(t)) == pytest.approx(np.array(edge.curve.at(t)), abs=1e-12)
            assert np.array(third.curve.at(t)) == pytest.approx(
                np.array(edge.curve.at(t)) + [[0.4], [0]], abs=1e-12
            )
            assert other.curve.wall == coat
    assert shape.carried(WALL) is shape
    assert set(CUPS) > {"cylinder"}
