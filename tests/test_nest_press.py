"""Boxes made shorter: everything is looked at again with shapely alone, by outlines."""

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from stripegen.layout import Blank, Stock
from stripegen.nest_bodies import Bodies
from stripegen.nest_contacts import come_apart
from stripegen.nest_easing import Easing
from stripegen.nest_fill import Filled
from stripegen.nest_near import listed
from stripegen.nest_press import Press, Pressing, press
from stripegen.nest_search import Search
from stripegen.nest_shapes import group
from stripegen.nest_skyline import Placed

ROLL = Stock(width_mm=130, length_mm=None, margin_mm=0, gap_mm=1.5)
LIGHT = Pressing(0.001, 3_000, 1, 100_000, 4)
AS_THEY_LIE = Pressing(0.0002, 10_000, 0, 0, 10)


def at_origin(points):
    x0, y0 = (min(point[axis] for point in points) for axis in (0, 1))
    return tuple((x - x0, y - y0) for x, y in points)


def arc(width, radius, half_rad, count=12):
    turns = [half_rad * (2 * k / count - 1) for k in range(count + 1)]
    outer, inner = ([(r * math.sin(t), -r * math.cos(t)) for t in turns] for r in (radius, radius - width))
    return at_origin(outer + inner[::-1])


def strip(length, width):
    return ((0, 0), (length, 0), (length, width), (0, width))


def shapes_of(outlines_and_counts, turns="any"):
    blanks = [
        Blank(key=f"{number}.{k}", outline=outline, turns=turns, slack_mm=0.007)
        for number, (outline, count) in enumerate(outlines_and_counts)
        for k in range(count)
    ]
    return group(blanks, ROLL)


def outlines(filled, shapes):
    """Where each outline lies in the box, as Layout would have it: turned about (0, 0), then moved."""
    laid = []
    for member in filled.placed:
        pose = member.pose
        x, y = (member.u_mm, member.v_mm) if filled.mode == "across" else (member.v_mm, member.u_mm)
        turned = affinity.rotate(Polygon(shapes[pose.index].blank.outline), pose.turn_deg, origin=(0, 0))
        laid.append(affinity.translate(turned, x - pose.corner[0], y - pose.corner[1]))
    return laid


def least_apart(laid):
    return min((a.distance(b) for k, a in enumerate(laid) for b in laid[:k]), default=math.inf)


def stacked(shapes, mode="across", more_mm=0.0):
    """Copies of the first shape above one another, farther apart than they need be."""
    pose = shapes[0].poses(mode)[0]
    placed = [Placed(pose, 0.0, k * (pose.v_mm + more_mm)) for k in range(len(shapes[0].keys))]
    return Filled(mode, tuple(placed), placed[-1].v_mm + pose.v_mm, (0,) * len(shapes))


PIECES = st.lists(
    st.tuples(
        st.one_of(
            st.builds(arc, st.sampled_from((3.0, 5.0)), st.floats(60, 200), st.floats(0.15, 0.4)),
            st.builds(strip, st.integers(15, 60), st.sampled_from((3, 5))),
        ),
        st.integers(1, 4),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=6, deadline=None)
@given(PIECES)
def test_the_same_pieces_lie_apart_within_a_box_no_longer_than_before(pieces):
    shapes = shapes_of([(arc(4.0, 90.0, 0.5), 3), *pieces])
    search = Search(shapes, ROLL, "quick", lambda share: None)
    search.effort = replace(search.effort, pressing=Pressing(1.0, 0, 0, 0, 0))
    filled = search.shortest(search.all)
    pressed = press(filled, shapes, ROLL, search.width_mm, LIGHT)
    assert pressed.reach_mm <= filled.reach_mm
    assert Counter(m.pose.index for m in pressed.placed) == Counter(m.pose.index for m in filled.placed)
    laid = outlines(pressed, shapes)
    assert least_apart(laid) >= 1.5 + 2 * 0.007 - 1e-6
    left, low, right, high = shapely.bounds(np.array(laid)).T
    rim = 0.75 + 0.007  # the box is larger than the stock by half the gap all round
    assert min(left.min(), low.min()) >= rim - 1e-6 and right.max() <= search.width_mm - rim + 1e-6
    assert high.max() <= pressed.reach_mm - rim + 1e-6
    again = press(filled, shapes, ROLL, search.width_mm, LIGHT)
    assert [(m.pose.turn_deg, m.u_mm, m.v_mm) for m in again.placed] == [
        (m.pose.turn_deg, m.u_mm, m.v_mm) for m in pressed.placed
    ]


def test_what_may_not_turn_is_pressed_until_it_touches_and_not_turned():
    shapes = shapes_of([(arc(4.0, 80.0, 0.5), 5)], turns="upright")
    loose = stacked(shapes, more_mm=0.3)
    pressed = press(loose, shapes, ROLL, 131.5, AS_THEY_LIE)
    assert {member.pose.turn_deg for member in pressed.placed} == {0.0}
    # The least pitch of copies straight above one another, by halving.
    one = Polygon(shapes[0].blank.outline)
    near, far = 0.0, one.bounds[3] + 2
    while far - near > 1e-6:
        middle = (near + far) / 2
        near, far = (
            (near, middle) if one.distance(affinity.translate(one, 0, middle)) >= 1.514 else (middle, far)
        )
    pose = shapes[0].poses("across")[0]
    assert pressed.reach_mm <= (pose.v_mm + 4 * far) * 1.005
    assert pressed.reach_mm < loose.reach_mm - 20


def test_free_pieces_are_turned_where_that_helps():
    """Of arcs on their flat sides, of the same centre, those that may turn slide along one another."""
    free, fixed = (
        press(stacked(shapes), shapes, ROLL, 75.0, AS_THEY_LIE).reach_mm
        for shapes in (shapes_of([(arc(4.0, 80.0, 0.45), 5)], turns) for turns in ("any", "upright"))
    )
    assert free <= fixed * 1.01


def test_boxes_without_bent_pieces_stay_as_they_are():
    shapes = shapes_of([(strip(40, 4), 3)])
    loose = stacked(shapes, more_mm=2.0)
    assert press(loose, shapes, ROLL, 131.5, LIGHT) is loose


def bodies_at(outline, *places, turns="any"):
    shapes = shapes_of([(outline, len(places))], turns)
    pose = shapes[0].poses("across")[0]
    bodies = Bodies(shapes, [Placed(pose, 0.0, 0.0)] * len(places), "across")
    return bodies, np.array([(x, y, math.radians(turn)) for x, y, turn in places])


def apart(bodies, places, width=100.0, length=100.0, most=2000):
    thin = np.zeros(len(places))
    near = listed(places, thin, bodies.arrays, width, length)
    return come_apart(places, thin, 0.0, bodies.arrays, width, length, near, 1e-3, most, 0.0, 0.0)[:2]


@pytest.mark.parametrize("turns", ["any", "upright"])
def test_two_that_overlap_come_apart_both_as_far(turns):
    bodies, places = bodies_at(strip(40, 6), (50, 50, 0), (53, 55, 0), turns=turns)
    done, _ = apart(bodies, places)
    assert done and bodies.are_clear(places)
    assert np.allclose(places[:, 2], 0, atol=0.05 if turns == "any" else 0)
    assert 7.5 < places[1, 1] - places[0, 1] < 9.5
    assert places[:, 1].mean() == pytest.approx(52.5, abs=1e-2)


def test_no_more_than_the_box_holds():
    bodies, places = bodies_at(strip(40, 6), (50, 4, 0), (51, 10, 0))
    assert not apart(bodies, places, length=14.5)[0]
    bodies, places = bodies_at(strip(40, 6), (50, 4, 0), (51, 10, 0))
    assert apart(bodies, places, length=15.2)[0]
    assert bodies.reach_mm(places) <= 15.2


def test_what_lies_across_another_is_seen():
    bodies, places = bodies_at(strip(60, 3), (50, 50, 0), (50, 50, 90))
    assert not bodies.are_clear(places)
    places[1, 0] = 90
    assert bodies.are_clear(places)


def test_a_piece_is_laid_where_there_is_room():
    """Behind a stack that leaves a side of the box free lies one more."""
    shapes = shapes_of([(arc(4.0, 300.0, 0.1), 6)])
    pose = shapes[0].poses("across")[0]
    pitch = pose.v_mm
    placed = [Placed(pose, 0.0, k * pitch) for k in range(5)] + [Placed(pose, 0.0, 5 * pitch)]
    filled = Filled("across", tuple(placed), 6 * pitch, (0,))
    as_they_lie = press(filled, shapes, ROLL, 131.5, AS_THEY_LIE)
    moved = press(filled, shapes, ROLL, 131.5, Pressing(0.0002, 10_000, 20, 2_000_000, 10))
    assert moved.reach_mm < as_they_lie.reach_mm - 4
    assert least_apart(outlines(moved, shapes)) >= 1.514 - 1e-6


def test_as_many_pushes_as_there_are():
    bodies, places = bodies_at(arc(4.0, 80.0, 0.5), (50, 20, 0), (50, 28, 0))
    push = Press(bodies, 100.0)
    push.pushes = 0
    assert Easing(push, 1).eased(places, 60.0)[1] == 60.0


def test_what_is_squeezed_tells_its_strain():
    """Two strips that overlap in a box too short for them come to rest, each within the other and the wall as far."""
    bodies, places = bodies_at(strip(40, 6), (50, 4, 0), (50, 10, 0))
    deep = {}
    for length in (14.8, 14.5):
        laid = places.copy()
        near = listed(laid, np.zeros(2), bodies.arrays, 100.0, length)
        done, _, strain = come_apart(
            laid, np.zeros(2), 0.0, bodies.arrays, 100.0, length, near, 1e-3, 2000, 0.99, 1e18
        )
        assert not done and strain.min() > 0 and bodies.are_shallow(laid)
        deep[length] = strain.sum()
    assert deep[14.8] < deep[14.5] / 2
    places[1] = places[0]
    assert not bodies.are_shallow(places)


def test_threads_change_nothing(monkeypatch):
    shapes = shapes_of([(arc(4.0, 90.0, 0.5), 3), (arc(3.0, 150.0, 0.3), 4)])
    search = Search(shapes, ROLL, "quick", lambda share: None)
    search.effort = replace(search.effort, pressing=Pressing(1.0, 0, 0, 0, 0))
    filled = search.shortest(search.all)
    side_by_side = press(filled, shapes, ROLL, search.width_mm, LIGHT)
    monkeypatch.setattr("stripegen.nest_press.in_threads", lambda work, items: [work(item) for item in items])
    in_turn = press(filled, shapes, ROLL, search.width_mm, LIGHT)
    assert [(m.pose.turn_deg, m.u_mm, m.v_mm) for m in side_by_side.placed] == [
        (m.pose.turn_deg, m.u_mm, m.v_mm) for m in in_turn.placed
    ]
    assert side_by_side.reach_mm < filled.reach_mm
