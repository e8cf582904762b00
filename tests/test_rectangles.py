"""Rectangles on sheets: none overlaps another, none leaves its sheet, and easy ones lie as well as they can."""

from __future__ import annotations

import shapely
from hypothesis import given
from hypothesis import strategies as st

from stripegen.rectangles import pack

WIDTH, LENGTH = 100, 80


def alternatives(most_along: int):
    size = st.tuples(st.integers(1, WIDTH), st.integers(1, most_along))
    return st.lists(st.lists(size, min_size=1, max_size=2).map(tuple), min_size=1, max_size=3)


def boxes(items, packing):
    """Each rectangle where it lies, by sheet, with its item."""
    sheets: dict[int, list] = {}
    for item, (own, choice, spots) in enumerate(zip(items, packing.choices, packing.spots, strict=True)):
        assert len(own[choice]) == len(spots)
        assert len({spot.sheet for spot in spots}) == len(spots)  # no two of an item on one sheet
        for (across, along), spot in zip(own[choice], spots, strict=True):
            sheets.setdefault(spot.sheet, []).append((item, shapely.box(spot.x, spot.y, spot.x + across, spot.y + along)))
    return sheets


@given(st.lists(alternatives(LENGTH), max_size=8))
def test_on_sheets_nothing_overlaps_and_nothing_sticks_out(items):
    packing = pack(items, WIDTH, LENGTH, 30)
    sheets = boxes(items, packing)
    assert set(sheets) == set(range(packing.cost[0]))
    sheet = shapely.box(0, 0, WIDTH, LENGTH)
    for own in sheets.values():
        shapes = [box for _, box in own]
        assert all(sheet.contains(box) for box in shapes)
        assert shapely.unary_union(shapes).area == sum(box.area for box in shapes)
    if items:
        assert packing.cost[1] == max(box.bounds[3] for _, box in sheets[packing.cost[0] - 1])
    assert pack(items, WIDTH, LENGTH, 30) == packing


@given(st.lists(alternatives(500).map(lambda each: [own[:1] for own in each]), min_size=1, max_size=8))
def test_on_a_roll_it_is_no_longer_than_one_after_the_other(items):
    packing = pack(items, WIDTH, None, 30)
    assert packing.cost[0] == 1
    ((_, own),) = boxes(items, packing).items()
    shapes = [box for _, box in own]
    assert shapely.unary_union(shapes).area == sum(box.area for box in shapes)
    assert packing.cost[1] <= sum(own[0][0][1] for own in items)
    assert packing.cost[1] >= max(min(each[0][1] for each in own) for own in items)


def test_what_tiles_a_roll_is_tiled():
    """Two halves beside each other, a whole over them: though one must be turned to its narrower alternative."""
    items = [[((100, 30),), ((50, 60),)], [((50, 60),)], [((100, 20),)]]
    assert pack(items, WIDTH, None, 200).cost == (1, 80)
    assert pack(items, WIDTH, 80, 200).cost == (1, 80)
    assert pack(items, WIDTH, 60, 200).cost == (2, 20)


def test_nothing_needs_no_sheet():
    assert pack([], WIDTH, None, 10).cost == (0, 0)
