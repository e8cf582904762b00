import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.cutorder import Cut, in_cutting_order, travel_of
from stripegen.outline import ArcEdge, LineEdge, Outline, Ring, Stroke


def box(x, y, w, h) -> Outline:
    return Outline(Ring.through([(x, y), (x + w, y), (x + w, y + h), (x, y + h)]))


boxes = st.lists(
    st.tuples(st.floats(0, 300), st.floats(0, 900), st.floats(1, 60), st.floats(1, 200)), min_size=1, max_size=25
).map(lambda sizes: [(f"p.{number}", box(*size)) for number, size in enumerate(sizes)])


def corners(shape) -> set:
    return {tuple(np.round(begin, 9)) for begin, _ in shape.walk()}


@given(boxes, st.sampled_from([0.5, 20.0, 100.0, 1e4]))
def test_every_piece_is_cut_once_as_it_is_and_none_is_begun_a_band_behind(pieces, band):
    cuts = in_cutting_order(pieces, band)
    assert sorted(cut.id for cut in cuts) == sorted(name for name, _ in pieces)
    shapes = dict(pieces)
    reached = -math.inf
    for cut in cuts:
        (ring,) = cut.shapes
        own = shapes[cut.id].outer
        assert corners(ring) == corners(own)
        assert ring.signed_area_mm2() == pytest.approx(own.signed_area_mm2())
        begins = ring.bounds()[1]
        assert begins >= reached - band - 1e-9
        reached = max(reached, begins)


@given(boxes)
def test_the_knife_never_travels_farther_than_from_piece_to_nearest_piece(pieces):
    """The search starts at that way, from the same starts, and only ever shortens it."""
    cuts = in_cutting_order(pieces, 1e4)
    at, waiting, greedy = np.zeros(2), dict(pieces), 0.0
    while waiting:
        far, name, corner = min(
            (float(np.hypot(*(np.array(begin) - at))), name, begin) for name, shape in waiting.items() for begin, _ in shape.outer.walk()
        )
        greedy, at = greedy + far, np.array(corner)
        del waiting[name]
    assert travel_of(cuts).up_mm <= greedy + 1e-6


@given(boxes.filter(lambda pieces: len(pieces) <= 4))
def test_the_starts_are_the_best_of_all(pieces):
    cuts = in_cutting_order(pieces, 50.0)
    shapes = dict(pieces)
    choices = itertools.product(*([begin for begin, _ in shapes[cut.id].outer.walk()] for cut in cuts))
    shortest = min(sum(math.dist(a, b) for a, b in itertools.pairwise(((0.0, 0.0), *way))) for way in choices)
    assert travel_of(cuts).up_mm == pytest.approx(shortest, abs=1e-6)


def test_travel_is_summed_down_up_and_back():
    cuts = [Cut("a", (Ring.through([(0, 10), (30, 10), (30, 50), (0, 50)]),)), Cut("b", (Stroke.through([(0, 20), (0, 5)]),))]
    travel = travel_of(cuts)
    assert travel.up_mm == pytest.approx(10 + 10)
    assert travel.down_mm == pytest.approx(140 + 15)
    assert travel.back_mm == pytest.approx(40 + 15)


def test_an_arc_counts_by_its_own_length():
    ring = Ring((10, 0), (ArcEdge((-10, 0), (0, 0), True), LineEdge((10, 0))))
    assert travel_of([Cut("a", (ring,))]).down_mm == pytest.approx(10 * math.pi + 20, rel=2e-3)


def test_holes_are_cut_before_what_holds_them():
    hole = Ring.through([(4, 4), (6, 4), (5, 6)])
    (cut,) = in_cutting_order([("a", Outline(box(0, 0, 10, 10).outer, (hole,)))], 100)
    assert cut.shapes[0] == hole and len(cut.shapes) == 2


def test_an_open_cut_may_be_made_from_either_end():
    far = Stroke.through([(100, 0), (50, 0), (3, 0)])
    (cut,) = in_cutting_order([("a", far)], 100)
    assert cut.shapes[0].start == (3, 0) and cut.shapes[0].edges[-1].end == (100, 0)


def test_no_pieces_need_no_order():
    assert in_cutting_order([], 100) == []
