"""Shapes on a wall and what cutting leaves of them, against dense polygons of the same borders."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from soundness import corners, wall_area
from strategies import CUPS, box, disc, ribbon

import stripegen.shapes
from stripegen.curves import Beside, EvenDrop, Parallel, Round, SameSlant, Straight
from stripegen.errors import GeometryError
from stripegen.shapes import CHORD_MM, FULL_TURN, Edge, Shape, images, meet, overlay, spans_inside
from stripegen.surface import Frustum

laws = settings(deadline=None, max_examples=40)
WALL = Frustum.from_radii(43.0, 31.0, 150.0)


@st.composite
def shapes(draw) -> Shape:
    around, down = draw(st.floats(-1, 1)), draw(st.floats(40, 100))
    kind = draw(st.sampled_from(("box", "disc", "straight", "slant", "drop")))
    if kind == "box":
        size, tall = draw(st.floats(0.05, 1.5)), draw(st.floats(2, 50))
        return box(WALL, around, around + size, down - tall / 2, down + tall / 2)
    if kind == "disc":
        return disc(WALL, around, down, draw(st.floats(1, 25)))
    half = draw(st.floats(0.5, 6))
    heading, length = draw(st.floats(-3, 3)), draw(st.floats(10, 60))
    if kind == "straight":
        return ribbon(Straight(WALL, around, down, heading), -length / 2, length / 2, -half, half)
    if kind == "slant":
        return ribbon(SameSlant(WALL, around, down, heading), -length / 2, length / 2, -half, half)
    turn = draw(st.floats(0.3, 2.0))
    return ribbon(EvenDrop(WALL, around, down - 20, turn, draw(st.floats(5, 40))), 0.0, 1.0, -half, half)


def dense(shape: Shape, count: int = 1500) -> shapely.Geometry:
    """The shape by very many points, in (mean radius x around, down)."""
    rings = []
    for loop in shape.loops:
        points = [
            np.stack(edge.curve.at(np.linspace(edge.t0, edge.t1, count)[:-1]), axis=1)
            * (WALL.mean_radius_mm, 1.0)
            for edge in loop
        ]
        rings.append(np.concatenate(points))
    return shapely.Polygon(rings[0], rings[1:])


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


@settings(deadline=None, max_examples=25)
@given(keep=st.lists(shapes(), min_size=1, max_size=2), cut=st.lists(shapes(), max_size=3))
def test_overlay_is_union_less_union(keep, cut):
    found = overlay(keep, cut)
    true = shapely.union_all([dense(shape) for shape in keep])
    if cut:
        true = shapely.difference(true, shapely.union_all([dense(shape) for shape in cut]))
    parts = [part for part in shapely.get_parts(true) if part.area > 0.05]
    assert sum(part.area for part in parts) == pytest.approx(
        sum(shape.polygon.area for shape in found), abs=0.003 * (1 + true.length)
    )
    for shape in found:
        assert not corners(shape)
        assert shape.polygon.is_valid
        # its edges are true: on the borders of what made it, nearer than any sampling
        borders = shapely.union_all([dense(s).boundary for s in (*keep, *cut)])
        for loop in shape.loops:
            for edge in loop:
                t = np.linspace(edge.t0, edge.t1, 9)[1:-1]
                points = np.stack(edge.curve.at(t), axis=1) * (WALL.mean_radius_mm, 1.0)
                assert shapely.distance(borders, shapely.points(points)).max() < 2e-4
    if found:
        whole = shapely.union_all([dense(shape) for shape in found])
        assert shapely.symmetric_difference(whole, shapely.union_all(parts)).area < 0.003 * (1 + true.length)


def test_corners_are_solved_for_on_the_curves():
    strip = ribbon(Straight(WALL, 0.0, 40.0, 1.0), 0.0, 60.0, -2.5, 2.5)
    hole = disc(WALL, 0.5, 58.0, 8.0)
    for part in overlay([strip], [hole]):
        for edge in part.outer:
            if isinstance(edge.curve, Round):
                for t, other in ((edge.t0, 2.5), (edge.t1, 2.5)):
                    place = edge.curve.at(t)
                    chain = Straight(WALL, 0.0, 40.0, 1.0)
                    sides = [chain.parallel(d).at(np.linspace(0, 60, 60001)) for d in (-other, other)]
                    gap = min(np.hypot(40 * (a - place[0]), v - place[1]).min() for a, v in sides)
                    assert gap < 6e-4  # the sides are only sampled here, each 0.001 mm
    assert len(overlay([strip], [hole])) == 2


def test_a_hole_stays_a_hole():
    (found,) = overlay([box(WALL, 0.0, 1.0, 30.0, 70.0)], [disc(WALL, 0.5, 50.0, 8.0)])
    assert len(found.holes) == 1
    assert wall_area(found) == pytest.approx(
        wall_area(box(WALL, 0.0, 1.0, 30.0, 70.0)) - math.pi * 64, abs=1e-6
    )
    assert overlay([found]) == [found]


def test_two_stretches_of_one_curve_leave_no_slivers():
    """Bands end to end along one border, cut from a band on its other side."""
    curve = Beside(WALL, SameSlant(WALL, 0.0, 30.0, 1.25), 3.0)
    row = [ribbon(curve, t, t + 7.3, 0.0, 2.0) for t in np.arange(5.0, 60.0, 7.3)]
    (joined,) = overlay(row)
    assert len(joined.outer) == 4
    assert overlay([ribbon(curve, 3.3, 50.1, -2.0, 0.0)], row)[0].outer[0].curve is not None
    left = overlay([ribbon(curve, 11.1, 41.7, -2.0, 2.0)], row)
    assert len(left) == 1 and len(left[0].outer) == 4
    assert overlay([ribbon(curve, 11.1, 41.7, 0.0, 2.0)], row) == []


def test_there_and_back_again_is_nothing():
    """What is left between two cuts that share a border is not a thread along it."""
    strip = ribbon(Straight(WALL, 0.0, 40.0, 1.2), 0.0, 60.0, -3.0, 3.0)
    middle = Straight(WALL, 0.0, 40.0, 1.2)
    left = overlay([strip], [ribbon(middle, 10.0, 33.3, 0.0, 9.0), ribbon(middle, 27.7, 50.0, -9.0, 0.0)])
    assert len(left) == 2
    assert [len(part.outer) for part in left] == [6, 6]


def test_a_shape_that_would_be_folded_is_refused(monkeypatch):
    strip = ribbon(Straight(WALL, 0.0, 40.0, 1.0), 0.0, 60.0, -2.5, 2.5)
    monkeypatch.setattr(stripegen.shapes, "_joined", lambda before, t, after, u: (t + 20.0, u))
    with pytest.raises(GeometryError, match="no sound shape is left"):
        overlay([strip], [disc(WALL, 0.5, 58.0, 8.0)])


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


def test_spans_inside_are_exact():
    edge = Edge(Straight(WALL, 0.0, 20.0, 0.0), 0.0, 100.0)
    shapes_ = [
        box(WALL, -0.2, 0.3, 30.0, 45.5),
        box(WALL, -0.1, 0.1, 45.5, 50.25),
        disc(WALL, 0.0, 90.0, 6.0),
        box(WALL, 1, 2, 20, 80),
    ]
    assert spans_inside(edge, shapes_) == [
        pytest.approx((10.0, 30.25), abs=1e-9),
        pytest.approx((64.0, 76.0), abs=1e-9),
    ]
    back = spans_inside(Edge(edge.curve, 100.0, 0.0), shapes_)
    assert back == [pytest.approx((76.0, 64.0), abs=1e-9), pytest.approx((30.25, 10.0), abs=1e-9)]
    assert spans_inside(edge, [box(WALL, 1, 2, 20, 80)]) == []


def test_meet_finds_the_crossing_or_says_there_is_none():
    first, second = Straight(WALL, 0.0, 40.0, 0.7), SameSlant(WALL, 0.6, 45.0, -1.1)
    t, u = meet(first, 20.0, second, 10.0, within_mm=60)
    assert first.at(t) == pytest.approx(second.at(u), abs=1e-11)
    assert meet(first, 20.0, first.parallel(0.3), 20.0) is None
    assert meet(first, 20.0, second, 10.0, within_mm=1e-3) is None


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
