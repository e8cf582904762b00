"""Two stacks that face each other: what is laid is all of it, apart, in the box, and the same again."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from blanks import blanks_of, mitred, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.layout import Stock
from stripegen.nest import nest
from stripegen.nest_efforts import Annealing
from stripegen.nest_overlap import CROSS, LEFT, RIGHT, overlap
from stripegen.nest_recipes import Recipe
from stripegen.nest_search import Search
from stripegen.nest_shapes import group
from stripegen.proof import prove

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)
WORK = 8_000_000
stacks = st.lists(st.tuples(st.integers(1, 30), st.integers(1, 6)), max_size=6)


def many(seed, slanted=False, pieces=120):
    """Strips of a few widths and lengths, each some times."""
    chance = random.Random(seed)
    outlines = []
    while len(outlines) < pieces:
        width, length = chance.choice((3, 4, 6, 8)), chance.randint(90, 230)
        outline = mitred(width, length, width / 2, -width / 3) if slanted and chance.random() < 0.5 else strip(width, length)
        outlines += [outline] * chance.randint(1, 5)
    return blanks_of(*outlines[:pieces])


def search_of(blanks, stock=ROLL, effort="quick"):
    return Search(group(blanks, stock), stock, effort, lambda share: None)


def in_sides(blanks, mode, trial=0, crosses=3):
    search = search_of(blanks)
    roomy_mm = (1.15 if mode == "along" else 2.2) * search.total / search.width_mm
    filled, _ = search.filler.in_sides(search.all, search.width_mm, roomy_mm, mode, crosses, WORK, trial)
    return search, roomy_mm, filled


def by_hand(left, right, cross, u, v):
    """The overlap of stacks of whole numbers, square by square, far beyond the box."""
    cells = Counter()
    for k, (length, thick) in enumerate(left):
        at = sum(thick for _, thick in left[:k])
        for level in range(at, at + thick):
            cells[level] += length
    beside = {}  # the level that tells how many cross rows a level ends at
    top = v
    for length, thick in reversed(right):
        for level in range(top - thick, top):
            cells[level] += length
            beside[level] = top - 1
        top -= thick
    lowest = min([0, top, *(v - length for length, _ in cross)])
    for level in range(lowest, v):
        cells[level] += sum(thick for length, thick in cross if beside.get(level, level) >= v - length)
    return sum(max(0, length - (u if 0 <= level < v else 0)) for level, length in cells.items())


@given(stacks, stacks, stacks, st.integers(5, 40), st.integers(1, 20), st.floats(0, 500))
def test_the_overlap_is_that_of_the_squares(left, right, cross, u, v, most):
    left, right, cross = sorted(left, reverse=True), sorted(right), sorted(cross, reverse=True)
    rows = [*left, *right, *cross]
    order = np.zeros((3, len(rows) + 1), np.int64)
    order[LEFT, : len(left)] = range(len(left))
    order[RIGHT, : len(right)] = range(len(left), len(left) + len(right))
    order[CROSS, : len(cross)] = range(len(left) + len(right), len(rows))
    many = np.array([len(left), len(right), len(cross)])
    length, thick = (np.array([row[k] for row in rows] or [(0, 0)], float).reshape(-1) for k in (0, 1))
    expected = by_hand(left, right, cross, u, v)
    assert overlap(order, many, length, thick, float(u), float(v), 0.0, np.inf) == pytest.approx(expected)
    found = overlap(order, many, length, thick, float(u), float(v), 0.0, most)
    assert found == pytest.approx(expected) or found > most


@pytest.mark.parametrize("mode", ["along", "across"])
@pytest.mark.parametrize("slanted", [False, True])
@pytest.mark.parametrize("crosses", [0, 2, 8])
def test_all_is_laid_in_a_shorter_box_where_no_boxes_of_strips_meet(crosses, slanted, mode):
    search, roomy_mm, filled = in_sides(many(crosses, slanted), mode, crosses=crosses)
    laid = Counter(placed.pose.index for placed in filled.placed)
    assert [laid[shape.index] for shape in search.shapes] == search.all
    assert not any(filled.left)
    u_mm, v_mm = (search.width_mm, filled.reach_mm) if mode == "across" else (filled.reach_mm, search.width_mm)
    assert filled.reach_mm < roomy_mm
    for placed in filled.placed:
        assert -1e-9 <= placed.u_mm and placed.u_mm + placed.pose.u_mm <= u_mm + 1e-6
        assert -1e-9 <= placed.v_mm and placed.v_mm + placed.pose.v_mm <= v_mm + 1e-6
    if not slanted:
        standing = sum(placed.pose.u_mm < placed.pose.v_mm for placed in filled.placed)
        assert standing >= crosses if crosses else not standing
        boxes = [(p.u_mm, p.v_mm, p.u_mm + p.pose.u_mm, p.v_mm + p.pose.v_mm) for p in filled.placed]
        for k, (u0, v0, u1, v1) in enumerate(boxes):
            assert not any(
                min(u1, b[2]) - max(u0, b[0]) > 1e-6 and min(v1, b[3]) - max(v0, b[1]) > 1e-6 for b in boxes[k + 1 :]
            )


def test_a_trial_gives_the_same_again_and_another_trial_another():
    first, same, other = (in_sides(many(5), "along", trial)[2] for trial in (0, 0, 1))
    first, same, other = (
        [(p.pose.index, p.pose.turn_deg, p.u_mm, p.v_mm) for p in filled.placed] for filled in (first, same, other)
    )
    assert first == same
    assert first != other


def test_bent_pieces_and_strips_too_long_have_no_sides():
    search = search_of(blanks_of(strip(4, 400), strip(4, 100)))
    assert search.filler.sides(search.all, search.width_mm, 300.0, "along") is None
    assert search.filler.sides(search.all, search.width_mm, 402.0, "along") is not None
    corner = blanks_of(strip(4, 100), ((0, 0), (60, 0), (60, 4), (4, 4), (4, 60), (0, 60)))
    search = search_of(corner)
    assert search.filler.sides(search.all, search.width_mm, 500.0, "along") is None


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 1000), st.booleans())
def test_with_sides_it_is_proved_and_never_longer_than_without(seed, slanted):
    blanks = many(seed, slanted, 30)
    search = search_of(blanks)
    search.effort = replace(search.effort, straight=Annealing(0, 0, 1))
    without = search.shortest(search.all)
    with_sides = search_of(blanks).shortest(search.all)
    assert with_sides.reach_mm <= without.reach_mm + 1e-6
    layout = nest(blanks, ROLL, "quick")
    prove(layout, blanks, ROLL)


@pytest.mark.parametrize("seed", [2, 3])
def test_at_normal_effort_sides_gain_what_lanes_do_not_find(seed):
    search = search_of(many(seed), effort="normal")
    recipe = Recipe("along", long_first=0.02)
    grown, _ = search._grown(search.all, 9999.0, recipe)
    lanes, _ = search._improved(search.all, grown, recipe, search._trials(search.all))
    assert search.shortest(search.all).reach_mm < 0.995 * lanes.reach_mm


@pytest.mark.parametrize("seed", [2, 3])
def test_rows_across_the_stacks_gain(seed):
    search = search_of(many(seed), effort="normal")
    roomy_mm = 1.15 * search.total / search.width_mm
    reached = [
        search.filler.in_sides(search.all, search.width_mm, roomy_mm, "along", crosses, 60_000_000, 0)[0].reach_mm
        for crosses in (0, 8)
    ]
    assert reached[1] < 0.997 * reached[0]


def test_what_may_not_be_turned_a_quarter_has_no_rows_across():
    blanks = [replace(blank, turns="upright-flip") for blank in many(4)]
    search, _, filled = in_sides(blanks, "along")
    assert filled.placed
    assert {placed.pose.turn_deg for placed in filled.placed} <= {0.0, 180.0}
    assert not search.filler.sides(search.all, search.width_mm, 500.0, "along").may_cross
    prove(nest(blanks, ROLL, "quick"), blanks, ROLL)
