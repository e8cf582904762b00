"""What one shape less others leaves, against plain booleans of very fine polygons, and lines inside shapes."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from soundness import corners, wall_area
from strategies import WALL, box, disc, ribbon, shapes

from stripegen.curves import Beside, Round, Straight
from stripegen.errors import GeometryError
from stripegen.overlay import overlay, spans_inside
from stripegen.shapes import Edge, Shape
from stripegen.slants import SameSlant


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
    monkeypatch.setattr("stripegen.overlay._joined", lambda before, t, after, u: (t + 20.0, u))
    with pytest.raises(GeometryError, match="no sound shape is left"):
        overlay([strip], [disc(WALL, 0.5, 58.0, 8.0)])


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
