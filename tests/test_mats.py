"""Offcuts on carrier mats."""

from __future__ import annotations

import pytest
from blanks import sizes
from hypothesis import given
from hypothesis import strategies as st

from stripegen.errors import NestError
from stripegen.mats import APART_MM, fits_mat, pack
from stripegen.proof import prove_mat

MAT = (300.0, 200.0)


def boxes(sizes_mm, places):
    return [(x, y, *sizes_mm[index]) for index, x, y in places]


@given(st.lists(st.tuples(sizes(11, 300), sizes(11, 200)), min_size=1, max_size=25))
def test_each_offcut_lies_on_one_mat_apart_from_the_others(offcuts):
    mats = pack(offcuts, MAT)
    assert sorted(index for places in mats for index, _, _ in places) == list(range(len(offcuts)))
    for places in mats:
        prove_mat(MAT, boxes(offcuts, places))
        # cell by cell: what is nearer than 2 mm to one offcut is no part of another
        for k, (x, y, width, length) in enumerate(boxes(offcuts, places)):
            assert 0 <= x and x + width <= MAT[0] and 0 <= y and y + length <= MAT[1]
            assert round(x, 1) == x and round(y, 1) == y
            for other_x, other_y, other_width, other_length in boxes(offcuts, places)[:k]:
                beside = other_x >= x + width + APART_MM - 1e-9 or x >= other_x + other_width + APART_MM - 1e-9
                below = other_y >= y + length + APART_MM - 1e-9 or y >= other_y + other_length + APART_MM - 1e-9
                assert beside or below
    assert all(mats)


def test_a_mat_that_is_just_filled():
    quarters = [(149.0, 99.0)] * 4
    (places,) = pack(quarters, MAT)
    assert {(x, y) for _, x, y in places} == {(0, 0), (151, 0), (0, 101), (151, 101)}
    assert len(pack([(149.1, 99.0)] * 4, MAT)) == 2
    assert pack([MAT], MAT) == [[(0, 0.0, 0.0)]]


def test_short_ones_lie_below_each_other_beside_a_long_one():
    (places,) = pack([(100.0, 150.0), (148.5, 21.0), (148.5, 21.0)], MAT)
    assert places == [(0, 0.0, 0.0), (1, 102.0, 0.0), (2, 102.0, 23.0)]


def test_only_what_is_no_larger_fits():
    assert fits_mat((300, 200), MAT)
    assert not fits_mat((300.1, 20), MAT) and not fits_mat((200, 300), MAT)


@pytest.mark.parametrize(
    ("offcuts", "told"),
    [
        ([(0, 0, 301, 20)], "past its edge"),
        ([(-1, 0, 20, 20)], "past its edge"),
        ([(0, 181, 20, 20)], "past its edge"),
        ([(0, 0, 20, 20), (21.9, 0, 20, 20)], "too near"),
        ([(0, 0, 20, 20), (10, 21.9, 20, 20)], "too near"),
        ([(0, 0, 20, 20), (5, 5, 5, 5)], "too near"),
    ],
)
def test_the_proof_catches_what_cannot_lie_so(offcuts, told):
    with pytest.raises(NestError, match=told):
        prove_mat(MAT, offcuts)


def test_the_proof_takes_what_lies_just_apart():
    prove_mat(MAT, [(0, 0, 20, 20), (22, 0, 20, 20), (0, 22, 20, 20)])
