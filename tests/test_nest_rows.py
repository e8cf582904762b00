"""Rows of strips: the sums that their lengths make, against every set; rows, against what they are made of."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from blanks import blanks_of, mitred, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.layout import Stock
from stripegen.nest_fit import rounded_up
from stripegen.nest_lanes import LaneFiller, Strip, kinds, spacing
from stripegen.nest_row import up_to_unit
from stripegen.nest_rows import next_chance
from stripegen.nest_shapes import group
from stripegen.nest_skyline import Skyline
from stripegen.nest_sums import add_shifted, depths_left, highest_sum, make_sums, set_of

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)
lengths = st.lists(st.tuples(st.integers(3, 90), st.integers(1, 3)), min_size=1, max_size=4)


def sums_of(lengths, words=5):
    """The bits of the sums, the steps and how many there are, for one kind of these lengths and counts."""
    pitch = np.array([length for length, _ in lengths])
    count = np.array([number for _, number in lengths])
    most = int(count.sum())
    sums = np.zeros((1, most + 1, words), np.uint64)
    steps = np.zeros((1, most), np.int64)
    return sums, steps, make_sums(0, np.arange(len(lengths)), count, pitch, sums, steps), pitch


def every_sum(lengths):
    copies = [length for length, number in lengths for _ in range(number)]
    return {sum(some) for size in range(len(copies) + 1) for some in itertools.combinations(copies, size)}


@given(st.integers(0, 2**200 - 1), st.integers(0, 250))
def test_bits_are_shifted_as_whole_numbers_are(number, shift):
    words = np.array([number >> 64 * w & (1 << 64) - 1 for w in range(4)], np.uint64)
    out = np.zeros(4, np.uint64)
    add_shifted(words, shift, out)
    whole = sum(int(word) << 64 * w for w, word in enumerate(out))
    assert whole == (number | number << shift) & (1 << 256) - 1


@given(lengths, st.integers(0, 319))
def test_the_highest_sum_is_that_of_the_best_of_all_sets(lengths, limit):
    sums, steps, n, pitch = sums_of(lengths)
    best = max(total for total in every_sum(lengths) if total <= limit)
    assert highest_sum(sums[0, n], limit) == best
    chosen = np.zeros(64, np.int64)
    m = set_of(0, best, n, sums, steps, pitch, chosen)
    assert sum(pitch[chosen[:m]]) == best
    for s, (_, number) in enumerate(lengths):
        assert list(chosen[:m]).count(s) <= number


@given(st.lists(st.integers(20, 120), min_size=1, max_size=4, unique=True))
def test_what_whole_lanes_leave_of_a_depth_is_the_least_that_any_number_of_them_leaves(lanes):
    out = np.zeros(301)
    depths_left(np.array(lanes), len(lanes), out)
    made = {0}
    for depth in range(1, 301):
        if any(depth - lane in made for lane in lanes):
            made.add(depth)
    for depth in range(301):
        least = min(depth - filled for filled in made if filled <= depth)
        assert math.isclose(out[depth], least / 10, abs_tol=1e-9)


@given(st.floats(0, 1e5))
def test_lengths_are_rounded_up_as_elsewhere(length_mm):
    assert up_to_unit(length_mm) == rounded_up(length_mm)


def test_chance_is_even_and_the_same_again():
    def row(seed):
        state = np.array([seed], np.uint64)
        return np.array([next_chance(state) for _ in range(20_000)])

    numbers = row(7)
    assert numbers.min() >= 0 and numbers.max() < 1
    assert np.abs(np.histogram(numbers, 10, (0, 1))[0] / 2_000 - 1).max() < 0.1
    assert (row(7) == numbers).all() and (row(8) != numbers).any()


pieces = st.lists(
    st.tuples(st.sampled_from([3, 4, 5]), st.integers(30, 120), st.integers(-4, 4), st.integers(-4, 4)),
    min_size=1,
    max_size=6,
)


@settings(max_examples=60, deadline=None)
@given(pieces, st.integers(1, 6), st.integers(0, 2**32), st.integers(0, 12))
def test_lanes_lie_in_the_box_apart_and_count_what_they_take(pieces, copies, seed, tries):
    blanks = blanks_of(*[mitred(w, long, a, b) if a or b else strip(w, long) for w, long, a, b in pieces], count=copies)
    shapes = group(blanks, ROLL)
    straight = [
        Strip(tuple(p for p in shape.poses("across") if p.u_mm >= p.v_mm and p.is_straight)) for shape in shapes
    ]
    straight = [each for each in straight if each.poses]
    if not straight:
        return
    sky = Skyline(150.0, 40.0)
    left = [len(shape.keys) for shape in shapes]
    had = list(left)
    placed = LaneFiller(straight).fill(sky, left, 0.02, seed, tries)
    for shape in shapes:
        assert left[shape.index] == had[shape.index] - sum(p.pose.index == shape.index for p in placed) >= 0
    for p in placed:
        assert -1e-9 <= p.u_mm <= 150 - p.pose.u_mm + 1e-6 and -1e-9 <= p.v_mm <= 40 - p.pose.v_mm + 1e-6
    for a, b in itertools.combinations(placed, 2):
        if abs(a.v_mm - b.v_mm) < 1e-9:
            first, second = sorted((a, b), key=lambda p: p.u_mm)
            assert second.u_mm - first.u_mm >= spacing(first.pose, second.pose) - 1e-6
        else:
            aside = a.u_mm + a.pose.u_mm <= b.u_mm + 1e-6 or b.u_mm + b.pose.u_mm <= a.u_mm + 1e-6
            low, high = sorted((a, b), key=lambda p: p.v_mm)
            assert aside or low.v_mm + low.pose.v_mm <= high.v_mm + 1e-6


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(30, 140), min_size=3, max_size=8), st.integers(1, 99))
def test_tries_never_leave_more_than_none(long, seed):
    shapes = group(blanks_of(*[strip(4, length) for length in long], count=5), ROLL)
    filler = LaneFiller([Strip(tuple(p for p in s.poses("across") if p.u_mm > p.v_mm)) for s in shapes])

    def left_mm2(tries, *most_left):
        left = [len(shape.keys) for shape in shapes]
        filler.fill(Skyline(150.0, 44.0), left, 0.02, seed, tries, *most_left)
        return sum(count * shape.area for count, shape in zip(left, shapes, strict=True))

    first, some, many = (left_mm2(tries) for tries in (0, 5, 50))
    assert max(some, many) <= first + 1e-9
    # Where the first leaves more than is worth a try, none is made.
    assert left_mm2(50, first - 1.0) == pytest.approx(first)
    assert left_mm2(50, first + 1.0) == pytest.approx(many)


def test_kinds_are_of_about_one_thickness_and_in_order_of_length():
    shapes = group(blanks_of(strip(4, 90), strip(4.2, 50), strip(8, 60), strip(8.1, 30)), ROLL)
    strips = [Strip(tuple(p for p in s.poses("across") if p.u_mm > p.v_mm)) for s in shapes]
    assert [[each.index for each in group] for group in kinds(strips)] == [[1, 0], [3, 2]]


def test_where_no_strip_fits_all_are_left_however_often_it_is_tried():
    (shape,) = group(blanks_of(strip(4, 90), count=2), ROLL)
    filler = LaneFiller([Strip(tuple(p for p in shape.poses("across") if p.u_mm > p.v_mm))])
    for box_mm in ((150.0, 4.0), (60.0, 40.0)):
        left = [2]
        assert filler.fill(Skyline(*box_mm), left, 0.02, 1, 20) == [] and left == [2]
