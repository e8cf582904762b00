"""Which of several ways to share cuts is used, by a stand-in for the nest, and by the nest itself."""

from __future__ import annotations

import pytest
from blanks import blanks_of, strip

from stripegen.errors import NestError
from stripegen.layout import Layout, Placement, SheetLayout, Stock, Supply
from stripegen.nest_shared import nest_sharing, share_to_check

ROLL = Supply.of(Stock(width_mm=100, length_mm=None, margin_mm=5, gap_mm=1.5))


def way_of(count: int):
    """So many blanks, told apart by their number."""
    return blanks_of(strip(4, 50), count=count)


def stand_in(lengths: dict[tuple[int, str], float | None], asked: list):
    """A nest whose layouts take so much of the roll, by the number of blanks and the effort; None: it finds no room."""

    def nest(blanks, supply, effort, progress):
        asked.append((len(blanks), effort))
        length = lengths[len(blanks), effort]
        if length is None:
            raise NestError(f"no room for {len(blanks)}")
        places = (Placement(key=blank.key, turn_deg=0, dx_mm=5, dy_mm=length - 55) for blank in blanks)
        return Layout((SheetLayout(tuple(places)),))

    return nest


def test_the_shortest_is_used_and_only_the_two_best_are_nested_with_more_effort():
    asked: list = []
    lengths = {(9, "normal"): 300, (2, "quick"): 280, (3, "quick"): 270, (4, "quick"): 290, (3, "normal"): 265, (2, "normal"): 260}
    number, layout = nest_sharing(
        [way_of(9), way_of(2), way_of(3), way_of(4)], ROLL, "normal", way_to_nest=stand_in(lengths, asked)
    )
    assert number == 1 and len(layout.sheets[0].placements) == 2
    assert asked == [(9, "normal"), (2, "quick"), (3, "quick"), (4, "quick"), (3, "normal"), (2, "normal")]


@pytest.mark.parametrize(("shared", "number"), [(299.9999, 1), (300, 1), (300.0001, 0)])
def test_sharing_nothing_wins_only_if_it_is_shorter(shared, number):
    lengths = {(9, "quick"): 300, (3, "quick"): shared}
    assert nest_sharing([way_of(9), way_of(3)], ROLL, "quick", way_to_nest=stand_in(lengths, []))[0] == number


def test_what_has_no_room_is_passed_over_and_the_first_ways_fault_is_told():
    lengths = {(9, "quick"): None, (3, "quick"): None, (2, "quick"): 400}
    nest = stand_in(lengths, [])
    assert nest_sharing([way_of(9), way_of(3), way_of(2)], ROLL, "quick", way_to_nest=nest)[0] == 2
    with pytest.raises(NestError, match="no room for 9"):
        nest_sharing([way_of(9), way_of(3)], ROLL, "quick", way_to_nest=nest)


def test_a_check_shares_only_where_it_must():
    short = Supply.of(Stock(width_mm=100, length_mm=60, margin_mm=5, gap_mm=1.5))
    wide = blanks_of(strip(95, 50))
    assert share_to_check([way_of(2), wide], short)[0] == 0
    assert share_to_check([wide, way_of(2)], short)[0] == 1
    with pytest.raises(NestError, match="p0"):
        share_to_check([wide, wide], short)
