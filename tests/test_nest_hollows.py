"""Hollows: rows laid under bent pieces overlap nothing, lie under them, are counted, and waste no more than allowed."""

from __future__ import annotations

from collections import Counter

import pytest
from blanks import arc, at_origin, blanks_of, mitred, strip
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from stripegen.layout import Stock
from stripegen.nest_fill import Filler
from stripegen.nest_holes import Holes
from stripegen.nest_lanes import LaneFiller, Strip
from stripegen.nest_recipes import Recipe
from stripegen.nest_shapes import CELL_MM, group
from stripegen.nest_skyline import Placed

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)
BENT = [arc(4, 90, 1.2), arc(6, 140, 0.9), arc(3, 70, 2.0)]
STRAIGHT = [strip(4, 20), strip(4, 33), strip(8, 25), mitred(5, 40, 5, -3), mitred(5, 30, 4, 4)]
shapes = group(blanks_of(*BENT, *STRAIGHT), ROLL)
bent, straight = shapes[: len(BENT)], shapes[len(BENT) :]


def solid(placed):
    return Polygon(placed.pose.ring + [placed.u_mm, placed.v_mm])


def lying(shape):
    return tuple(pose for pose in shape.poses("across") if pose.u_mm >= pose.v_mm)


def below(placed):
    """All that lies below its top, whole cells of it."""
    end_mm = placed.u_mm + placed.pose.profile.cells * CELL_MM
    return box(placed.u_mm, 0.0, end_mm, placed.v_mm + placed.pose.v_mm).buffer(1e-3)


def rows(there, counts, least, u_mm=260.0, v_mm=200.0):
    """What is laid under pieces that lie there, and what is left of the strips."""
    left = [0] * len(bent) + list(counts)
    filler = LaneFiller([Strip(lying(shape)) for shape in straight])
    return filler.fill_hollows(Holes(u_mm, v_mm, there), left, least), left[len(bent) :]


# Bent pieces over one another, each at one of its turns and a cell of its own, so far apart that none overlap.
piles = st.lists(st.tuples(st.integers(0, len(BENT) - 1), st.integers(0, 1), st.integers(0, 100), st.floats(0, 25)), max_size=3)
numbers = st.lists(st.integers(0, 6), min_size=len(STRAIGHT), max_size=len(STRAIGHT))


def stacked(pile):
    there, v_mm = [], 0.0
    for k, turn, cell, room_mm in pile:
        poses = lying(bent[k])
        pose = poses[turn % len(poses)]
        there.append(Placed(pose, cell * CELL_MM, round(v_mm + room_mm, 4)))
        v_mm = there[-1].v_mm + pose.v_mm
    return there


@settings(max_examples=60, deadline=None)
@given(piles, numbers, st.sampled_from((0.01, 0.3, 0.6)))
def test_rows_overlap_nothing_lie_under_a_piece_and_are_counted(pile, counts, least):
    there = stacked(pile)
    laid, left = rows(there, counts, least)
    for k, member in enumerate(laid):
        for other in [*there, *laid[:k]]:
            assert solid(member).intersection(solid(other)).area < 1e-3
        assert any(below(piece).contains(solid(member)) for piece in there)
        assert member.v_mm == pytest.approx(round(member.v_mm, 4), abs=1e-9)
    taken = Counter(member.pose.index - len(bent) for member in laid)
    assert [count - taken[k] for k, count in enumerate(counts)] == left


@pytest.mark.parametrize("turn", [0, 1])
def test_an_arch_is_filled_whichever_way_it_is_turned(turn):
    """Strips lie between its legs, or to both sides of where it touches the floor."""
    laid, _ = rows([Placed(lying(bent[2])[turn], 0.0, 0.0)], [6] * len(STRAIGHT), 0.3)
    assert sum(member.pose.area for member in laid) > 250
    middles = [member.u_mm + member.pose.u_mm / 2 for member in laid]
    middle = lying(bent[2])[0].u_mm / 2
    is_arch = all(abs(at - middle) < 15 for at in middles)
    assert is_arch or (min(middles) < middle - 10 and max(middles) > middle + 10)


def test_rows_that_would_waste_more_than_allowed_are_not_laid():
    there = [Placed(lying(bent[1])[turn], 0.0, 60.0 * turn) for turn in (0, 1)]
    areas = [sum(m.pose.area for m in rows(there, [9] * len(STRAIGHT), least)[0]) for least in (0.01, 0.9, 1.01)]
    assert areas[0] >= areas[1] and areas[0] > 0 and areas[2] == 0


def test_nothing_is_laid_where_nothing_lies():
    assert rows([], [3] * len(STRAIGHT), 0.3) == ([], [3] * len(STRAIGHT))


def test_a_box_is_filled_that_lanes_alone_don_t_fill():
    """An arc that stands on its ends and reaches over the whole box, and no more strips than find room between them."""
    standing = at_origin((-x, -y) for x, y in arc(3, 70, 2.0))
    fixed = group(blanks_of(standing, strip(20, 4), strip(14, 4), turns="upright"), ROLL)
    (pose,) = fixed[0].poses("across")
    size = pose.u_mm + 1e-6, pose.v_mm + 1e-6
    filler = Filler(fixed)
    left = {under: filler.fill((1, 4, 4), *size, Recipe("across", under=under), tries=4).left for under in (0.0, 0.3)}
    assert sum(left[0.3]) == 0 < sum(left[0.0])
