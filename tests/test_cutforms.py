import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from stripegen.cutforms import begun_at, cut_past, mirrored, scaled, turned_round, without_specks
from stripegen.errors import GeometryError
from stripegen.outline import ArcEdge, CubicEdge, LineEdge, Ring, Stroke

# a D with a wave on its back
SHAPE = Ring(
    (0.0, 0.0),
    (
        LineEdge((30.0, 0.0)),
        ArcEdge((30.0, 20.0), (30.0, 10.0), True),
        LineEdge((0.0, 20.0)),
        CubicEdge((-4.0, 14.0), (5.0, 6.0), (0.0, 0.0)),
    ),
)
OPEN = Stroke(SHAPE.start, SHAPE.edges[:3])


def chain(shape) -> np.ndarray:
    points = shape.points(0.001)
    return np.array([*points, points[0]] if isinstance(shape, Ring) else points)


@given(st.integers(0, 3))
def test_a_ring_begun_elsewhere_is_the_same_ring(number):
    turned = begun_at(SHAPE, number)
    assert turned.start == [begin for begin, _ in SHAPE.walk()][number]
    assert turned.signed_area_mm2() == pytest.approx(SHAPE.signed_area_mm2())
    assert shapely.hausdorff_distance(shapely.LinearRing(chain(turned)), shapely.LinearRing(chain(SHAPE))) < 1e-9


def test_a_stroke_turned_round_runs_back_the_same_way():
    back = turned_round(OPEN)
    assert chain(back) == pytest.approx(chain(OPEN)[::-1], abs=1e-9)
    assert turned_round(back) == OPEN


@given(st.floats(0.01, 90.0))
def test_cut_past_follows_the_ring_once_more_for_that_length(past):
    way = chain(cut_past(SHAPE, past))
    ring = shapely.LineString(chain(SHAPE))
    assert shapely.LineString(way).length == pytest.approx(ring.length + past, abs=0.02 + 0.02 * past * (past > 70))
    assert shapely.distance(ring, shapely.points(way)).max() < 0.002
    assert way[: len(chain(SHAPE))] == pytest.approx(chain(SHAPE), abs=1e-9)


def test_cut_past_nothing_leaves_it_closed_and_too_much_is_an_error():
    assert cut_past(SHAPE, 0.0) is SHAPE
    with pytest.raises(GeometryError, match="round"):
        cut_past(SHAPE, 1000.0)


def test_mirrored_is_seen_from_behind_and_twice_is_as_before():
    seen = mirrored(SHAPE, 100.0)
    assert chain(seen) == pytest.approx(chain(SHAPE) * (-1, 1) + (100, 0), abs=1e-9)
    assert seen.signed_area_mm2() == pytest.approx(-SHAPE.signed_area_mm2())
    assert chain(mirrored(seen, 100.0)) == pytest.approx(chain(SHAPE))


@given(st.floats(0.95, 1.05), st.floats(0.95, 1.05))
def test_stretched_shapes_lie_where_their_points_are_stretched_to(across, along):
    found = shapely.LinearRing(chain(scaled(SHAPE, across, along)))
    wanted = shapely.LinearRing(chain(SHAPE) * (across, along))
    assert shapely.hausdorff_distance(found, wanted, densify=0.01) < 0.005


def test_stretched_alike_both_ways_arcs_stay_arcs():
    found = scaled(SHAPE, 1.02, 1.02)
    assert isinstance(found.edges[1], ArcEdge) and found.edges[1].radius_mm((30 * 1.02, 0.0)) == pytest.approx(10.2)
    assert scaled(SHAPE, 1.0, 1.0) is SHAPE
    assert not any(isinstance(edge, ArcEdge) for edge in scaled(SHAPE, 1.02, 1.0).edges)
    assert math.isclose(scaled(SHAPE, 2.0, 2.0).signed_area_mm2(), 4 * SHAPE.signed_area_mm2())


@given(st.sampled_from([0, 3, 4]), st.floats(0.0, 0.019), st.floats(-math.pi, math.pi))
def test_specks_are_drawn_together_and_nothing_moves_by_more_than_they_are_long(place, long, way):
    """A speck is put in at one of the corners."""
    edges = [*SHAPE.edges]
    corner = edges[place - 1].end if place else SHAPE.start
    speck = LineEdge((corner[0] + long * math.cos(way), corner[1] + long * math.sin(way)))
    edges.insert(place, speck)
    if place == 0:
        # the ring then begins at the speck's start, and its last edge ends there
        ring = Ring(SHAPE.start, (speck, *SHAPE.edges))
    else:
        ring = Ring(SHAPE.start, tuple(edges)) if place < 4 else Ring(speck.end, (*SHAPE.edges, speck))
    found = without_specks(ring, 0.02)
    assert min(math.dist(begin, edge.end) for begin, edge in found.walk()) >= 0.02
    apart = shapely.hausdorff_distance(shapely.LinearRing(chain(found)), shapely.LinearRing(chain(SHAPE)), densify=0.01)
    assert apart < 0.02 + 0.003


def test_without_specks_a_shape_is_left_as_it_is():
    assert without_specks(SHAPE, 0.02) is SHAPE
    assert without_specks(OPEN, 0.02) is OPEN
