"""Rows of boxes in reading order."""

from __future__ import annotations

from itertools import pairwise

import pytest
from blanks import blanks_of, jobs, mitred, strip, turned
from hypothesis import given, settings

from stripegen.errors import NestError
from stripegen.layout import Blank, Stock, placed_polygon
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order


def boxes(layout, blanks):
    by_key = {blank.key: blank for blank in blanks}
    return [[placed_polygon(by_key[p.key], p).bounds for p in sheet.placements] for sheet in layout.sheets]


def test_rows_go_left_to_right_and_top_to_bottom():
    blanks = blanks_of(strip(30, 10), strip(40, 20), strip(50, 5), strip(20, 5))
    stock = Stock(width_mm=100, length_mm=None, margin_mm=5, gap_mm=2)
    (row,) = boxes(lay_in_reading_order(blanks, stock), blanks)
    assert row == [(5, 5, 35, 15), (37, 5, 77, 25), (5, 27, 55, 32), (57, 27, 77, 32)]


def test_a_full_sheet_is_followed_by_another():
    blanks = blanks_of(strip(80, 30), count=5)
    stock = Stock(width_mm=90, length_mm=75, margin_mm=5, gap_mm=5)
    layout = lay_in_reading_order(blanks, stock)
    prove(layout, blanks, stock)
    assert [[p.key for p in sheet.placements] for sheet in layout.sheets] == [["p0", "p1"], ["p2", "p3"], ["p4"]]


def test_what_does_not_fit_upright_is_turned_if_it_may_be():
    stock = Stock(width_mm=100, length_mm=60, margin_mm=5, gap_mm=2)
    long, askew = Blank(key="long", outline=strip(4, 80)), Blank(key="askew", outline=strip(4, 95))
    layout = lay_in_reading_order([long, askew], stock)
    prove(layout, [long, askew], stock)
    turns = {p.key: p.turn_deg for sheet in layout.sheets for p in sheet.placements}
    assert turns["long"] == 90
    assert turns["askew"] % 90 != 0


def test_pieces_that_fit_no_sheet_are_all_named_before_anything_is_laid():
    stock = Stock(width_mm=306, length_mm=300, margin_mm=5, gap_mm=2)
    blanks = [
        Blank(key="R-31.1.edge.1", outline=strip(5, 412.6)),
        Blank(key="fine", outline=strip(5, 20)),
        Blank(key="R-31.2.edge.1", outline=strip(5, 412.6)),
        Blank(key="R-31.1.edge.2", outline=strip(5, 295), turns="upright"),
    ]
    with pytest.raises(NestError) as caught:
        lay_in_reading_order(blanks, stock)
    first, second = str(caught.value).splitlines()
    assert first == (
        "piece R-31.1.edge.1 (with 1 more like it) is 5.0 x 412.6 mm; the sheet takes 296.0 x 290.0 mm whichever "
        "way it is turned: use a larger sheet or a roll, or split = true on its line, which cuts it in parts that "
        "overlap"
    )
    assert second.startswith("piece R-31.1.edge.2 is 5.0 x 295.0 mm")
    assert "grain" in second


def test_two_pieces_of_one_name_are_refused():
    twins = blanks_of(strip(5, 20)) * 2
    with pytest.raises(NestError, match="p0 is there twice"):
        lay_in_reading_order(twins, Stock(width_mm=100, length_mm=None, margin_mm=5, gap_mm=2))


def test_nothing_takes_no_sheet():
    assert lay_in_reading_order([], Stock(width_mm=100, length_mm=None, margin_mm=5, gap_mm=2)).sheets == ()


@settings(max_examples=60, deadline=None)
@given(jobs())
def test_every_layout_is_proved_and_keeps_the_order(job):
    blanks, stock = job
    layout = lay_in_reading_order(blanks, stock)
    prove(layout, blanks, stock)
    assert [p.key for sheet in layout.sheets for p in sheet.placements] == [blank.key for blank in blanks]
    for row in boxes(layout, blanks):
        for (_, top, right, _), (left, next_top, _, _) in pairwise(row):
            assert left >= right - 1e-6 or next_top > top


def test_boxes_keep_the_gap_even_where_the_shapes_alone_would_not_need_it():
    blanks = blanks_of(turned(strip(4, 40), 45), mitred(4, 40, 3, -3))
    stock = Stock(width_mm=100, length_mm=None, margin_mm=0, gap_mm=3)
    ((first, second),) = boxes(lay_in_reading_order(blanks, stock), blanks)
    assert second[0] - first[2] == pytest.approx(3, abs=1e-3)
