"""What is free of a box, beside distances by shapely."""

import numpy as np
import pytest
import shapely
from blanks import arc, blanks_of, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.layout import Blank, Stock
from stripegen.nest_press import Bodies
from stripegen.nest_shapes import group
from stripegen.nest_skyline import Placed
from stripegen.nest_voids import roomiest, voids

ROLL = Stock(width_mm=60, length_mm=None, margin_mm=0, gap_mm=0)
BLOCK = ((0, 0), (20, 0), (20, 8), (0, 8))


def blocks(count):
    shapes = group([Blank(key=str(k), outline=BLOCK) for k in range(count)], ROLL)
    pose = shapes[0].poses("across")[0]
    return Bodies(shapes, [Placed(pose, 0.0, 0.0)] * count, "across")


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 60), st.floats(0, 80), st.floats(0, 6)), min_size=2, max_size=4))
def test_each_square_knows_how_far_it_is_from_what_lies_there(places):
    bodies, places = blocks(len(places)), np.array(places)
    free = voids(places, bodies.arrays, 60.0, 80.0, 0)
    rings = [
        shapely.affinity.translate(
            shapely.affinity.rotate(shapely.box(-10, -4, 10, 4), turn, origin=(0, 0), use_radians=True), x, y
        )
        for x, y, turn in places.tolist()
    ]
    solid = shapely.union_all([*rings[1:], shapely.box(0, 0, 60, 80).exterior])
    x, y = np.meshgrid(np.arange(60) + 0.5, np.arange(80) + 0.5, indexing="ij")
    far = shapely.distance(shapely.points(x, y), solid)
    own = shapely.distance(shapely.points(x, y), rings[0])
    # From square to square it goes straight or slanting, and ends at a square's middle: a corner may hold none.
    assert (free[own > 0.1] <= 1.09 * far[own > 0.1] + 2.0).all()
    assert (free >= np.where(own > 0.1, far - 1.0, 0.0) - 1e-9).all()
    assert (free[shapely.distance(shapely.points(x, y), shapely.union_all(rings)) == 0] == 0).all()


@pytest.mark.parametrize("turnable", [True, False])
def test_the_only_slot_is_found(turnable):
    """Blocks leave a slot as wide as one of them, across; one that may not turn finds none."""
    bodies = blocks(9)
    places = np.array([(10.0 + 20 * (k % 3), 4.0 + (0, 8, 24)[k // 3], 0.0) for k in range(9)])
    free = voids(places, bodies.arrays, 60.0, 32.0, 0)
    found = np.empty((3, 4))
    turn = 0.0 if turnable else np.pi / 2
    state = np.array([12345], np.uint64)
    roomiest(free, bodies.middles[0], bodies.half[0], turn, turnable, 500, state, found)
    best = found[found[:, 0].argmax()]
    if turnable:
        assert best[0] > 0.6 and best[2] == pytest.approx(20, abs=1.5)
        assert abs(np.sin(best[3])) < 0.2
    else:
        assert best[0] < 0.6


@pytest.mark.parametrize("outline", [strip(4, 80), strip(8, 200), arc(6, 150, 1.2), arc(3, 600, 0.4)])
def test_a_middle_line_runs_half_a_width_from_both_sides_and_both_ends(outline):
    shapes = group(blanks_of(outline), ROLL)
    pose = shapes[0].poses("across")[0]
    bodies = Bodies(shapes, [Placed(pose, 0.0, 0.0)], "across")
    first, last = bodies.arrays[2][:2]
    ring = shapely.linearrings(bodies.arrays[3][first:last])
    far = shapely.distance(shapely.points(bodies.middles[0]), ring)
    width = 2 * far[len(far) // 2]
    assert far == pytest.approx(np.full(len(far), width / 2), rel=0.1)
