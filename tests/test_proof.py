"""The proof of a layout accepts what can be cut and catches each way that it could not."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from blanks import arc, blanks_of, frame, jobs, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.errors import NestError
from stripegen.layout import Blank, Layout, Lot, Placement, SheetLayout, Stock, Supply, placed_polygon
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order

SHEET = Stock(width_mm=100, length_mm=80, margin_mm=5, gap_mm=1.5)


def layout_of(*places: tuple[str, float, float, float]) -> Layout:
    laid = (Placement(key=key, turn_deg=turn, dx_mm=x, dy_mm=y) for key, turn, x, y in places)
    return Layout((SheetLayout(tuple(laid)),))


def refused(layout: Layout, blanks, stock: Stock = SHEET, match: str = "sheet") -> None:
    with pytest.raises(NestError, match=match):
        prove(layout, blanks, stock)


PAIR = blanks_of(strip(10, 40), count=2)


def test_pieces_exactly_a_gap_apart_and_at_the_margin_pass():
    prove(layout_of(("p0", 0, 5, 5), ("p1", 0, 16.5, 35)), PAIR, SHEET)
    prove(layout_of(("p0", 90, 45, 65), ("p1", 0, 85, 35)), PAIR, SHEET)


@pytest.mark.parametrize(("turn", "x", "y"), [(0, 16.4999, 35), (0, 12, 12), (0, 5, 5), (45, 44, 12)])
def test_pieces_nearer_than_the_gap_are_caught(turn, x, y):
    refused(layout_of(("p0", 0, 5, 5), ("p1", turn, x, y)), PAIR, match="p0 and p1")


@pytest.mark.parametrize(("x", "y"), [(4.9999, 5), (5, 4.9999), (85.0001, 5), (5, 35.0001), (500, 5), (-20, 5)])
def test_a_piece_past_a_margin_is_caught(x, y):
    refused(layout_of(("p0", 0, x, y)), PAIR[:1], match="margin")


def test_a_roll_has_no_far_edge_but_one_sheet():
    roll = replace(SHEET, length_mm=None)
    prove(layout_of(("p0", 0, 5, 9000)), PAIR[:1], roll)
    one, two = layout_of(("p0", 0, 5, 5)).sheets, layout_of(("p1", 0, 5, 5)).sheets
    prove(Layout(one + two), PAIR, SHEET)
    refused(Layout(one + two), PAIR, roll, match="roll")


def on_lots(*lots: int) -> Layout:
    """One piece of the pair on each sheet, in the same place, on these lots."""
    return Layout(tuple(replace(layout_of((f"p{k}", 0, 5, 5)).sheets[0], lot=lot) for k, lot in enumerate(lots)))


def test_each_sheet_is_one_of_the_supplys_and_none_is_used_too_often():
    tight = replace(SHEET, width_mm=20, length_mm=50)
    supply = Supply((Lot(stock=tight, quantity=1, is_offcut=True), Lot(stock=SHEET, quantity=2)))
    prove(on_lots(0, 1), PAIR, supply)
    prove(on_lots(1, 1), PAIR, supply)
    refused(on_lots(0, 0), PAIR, supply, match="2 sheets of 20 x 50 mm are used; there are 1")
    for wrong in (2, -1):
        refused(on_lots(0, wrong), PAIR, supply, match="sheet 2 is none of those")
    refused(on_lots(0, 1), PAIR, Supply((replace(supply.lots[0], stock=replace(tight, width_mm=19.9)), supply.lots[1])), match="margin")


def test_no_more_of_a_roll_is_used_than_is_left():
    """Two runs of a piece of 40 mm with both margins are 100 mm."""
    run = replace(SHEET, length_mm=60)
    prove(on_lots(0, 0), PAIR, Supply((Lot(stock=run, total_mm=100),)))
    refused(on_lots(0, 0), PAIR, Supply((Lot(stock=run, total_mm=99.999),)), match="100.000000 mm of the roll are used")
    bulging = [replace(blank, slack_mm=0.01) for blank in PAIR]
    moved = Layout(tuple(replace(s, placements=(replace(s.placements[0], dx_mm=5.01, dy_mm=5.01),)) for s in on_lots(0, 0).sheets))
    prove(moved, bulging, Supply((Lot(stock=run, total_mm=100.04),)))
    refused(moved, bulging, Supply((Lot(stock=run, total_mm=100.03),)), match="of the roll")


def test_each_piece_is_there_just_once():
    refused(layout_of(("p0", 0, 5, 5)), PAIR, match="p1 is on no sheet")
    refused(layout_of(("p0", 0, 5, 5), ("p1", 0, 30, 5), ("p0", 0, 60, 5)), PAIR, match="p0 is on the sheets 2")
    refused(layout_of(("p0", 0, 5, 5), ("p1", 0, 30, 5), ("p2", 0, 60, 5)), PAIR, match="p2 .* not asked")
    refused(Layout((*layout_of(("p0", 0, 5, 5), ("p1", 0, 30, 5)).sheets, SheetLayout(()))), PAIR, match="no piece")
    refused(layout_of(("p0", 0, 5, 5)), [PAIR[0], PAIR[0]], match="same name")


@pytest.mark.parametrize(
    ("turns", "lean", "good", "bad"),
    [
        ("any", 0, (0, 90, 12.345678), ()),
        ("upright", 0, (0,), (180, 90, 0.001)),
        ("upright-flip", 0, (0, 180), (90, 359.99)),
        ("along", 30, (30,), (210, 0, 30.001)),
        ("along-flip", -150, (210, 30), (0, 150)),
    ],
)
def test_only_allowed_turns_pass(turns, lean, good, bad):
    blank = Blank(key="p0", outline=strip(10, 20), turns=turns, lean_deg=lean)
    for turn in good:
        prove(layout_of(("p0", turn, 50, 40)), [blank], SHEET)
    for turn in bad:
        refused(layout_of(("p0", turn, 50, 40)), [blank], match="turned")


def test_a_piece_inside_a_hole_passes_while_it_keeps_the_gap():
    outline, holes = frame(40, 40, 5)
    ring, dot = Blank(key="ring", outline=outline, holes=holes), Blank(key="dot", outline=strip(27, 27))
    prove(layout_of(("ring", 0, 10, 10), ("dot", 0, 16.5, 16.5)), [ring, dot], SHEET)
    refused(layout_of(("ring", 0, 10, 10), ("dot", 0, 16.6, 16.5)), [ring, dot], match="ring and dot")
    full = replace(ring, holes=())
    refused(layout_of(("ring", 0, 10, 10), ("dot", 0, 16.5, 16.5)), [full, dot], match="ring and dot")


def test_without_a_gap_pieces_may_touch_but_not_overlap():
    stock = replace(SHEET, gap_mm=0)
    prove(layout_of(("p0", 0, 5, 5), ("p1", 0, 15, 5)), PAIR, stock)
    refused(layout_of(("p0", 0, 5, 5), ("p1", 0, 14.9999, 5)), PAIR, stock, match="p0 and p1")
    refused(layout_of(("p0", 0, 5, 5), ("p1", 0, 5, 5)), PAIR, stock, match="p0 and p1")


def test_what_curves_may_bulge_counts_between_pieces_and_at_the_margin():
    bulging = [replace(blank, slack_mm=0.01) for blank in PAIR]
    prove(layout_of(("p0", 0, 5.01, 5.01), ("p1", 0, 16.53, 34.99)), bulging, SHEET)
    refused(layout_of(("p0", 0, 5.01, 5.01), ("p1", 0, 16.5299, 34.99)), bulging, match="p0 and p1")
    refused(layout_of(("p0", 0, 5.0099, 5.01), ("p1", 0, 16.53, 34.99)), bulging, match="margin")


def test_curved_pieces_are_held_to_their_true_distance():
    blanks = blanks_of(arc(4, 60, 1.0), count=2)
    prove(layout_of(("p0", 0, 10, 10), ("p1", 0, 10, 17)), blanks, SHEET)
    refused(layout_of(("p0", 0, 10, 10), ("p1", 0, 10, 15.6)), blanks, match="p0 and p1")


@settings(max_examples=60, deadline=None)
@given(jobs(), st.data())
def test_a_proved_layout_fails_once_a_piece_is_moved_onto_another_or_off_the_sheet(job, data):
    blanks, stock = job
    layout = lay_in_reading_order(blanks, stock)
    prove(layout, blanks, stock)
    by_key = {blank.key: blank for blank in blanks}
    number = data.draw(st.integers(0, len(layout.sheets) - 1))
    places = list(layout.sheets[number].placements)
    k = data.draw(st.integers(0, len(places) - 1))
    left, top, _, _ = placed_polygon(by_key[places[k].key], places[k]).bounds

    def with_piece(dx: float, dy: float) -> Layout:
        moved = replace(places[k], dx_mm=places[k].dx_mm + dx, dy_mm=places[k].dy_mm + dy)
        sheet = SheetLayout((*places[:k], moved, *places[k + 1:]))
        return Layout((*layout.sheets[:number], sheet, *layout.sheets[number + 1:]))

    refused(with_piece(stock.margin_mm - left - 2e-4, 0), blanks, stock)
    refused(with_piece(0, stock.margin_mm - top - 2e-4), blanks, stock)
    for other in places[:k] + places[k + 1:]:
        if by_key[other.key].outline == by_key[places[k].key].outline and other.turn_deg == places[k].turn_deg:
            dx, dy = other.dx_mm - places[k].dx_mm, other.dy_mm - places[k].dy_mm
            refused(with_piece(dx + 1e-3, dy), blanks, stock)


def test_five_thousand_pieces_are_proved():
    blanks = blanks_of(strip(4, 100), arc(4, 300, 0.4), count=2500)
    stock = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)
    layout = lay_in_reading_order(blanks, stock)
    prove(layout, blanks, stock)
    (sheet,) = layout.sheets
    last = sheet.placements[-1]
    moved = replace(last, dx_mm=sheet.placements[-2].dx_mm)
    refused(Layout((SheetLayout((*sheet.placements[:-1], moved)),)), blanks, stock, match=last.key)


def test_the_turn_is_the_stated_one():
    """A quarter turn takes +x to +y: only then do both pieces stay clear of each other."""
    angle = math.radians(30)
    blank = Blank(key="p0", outline=strip(2, 60))
    other = Blank(key="p1", outline=strip(2, 2))
    # Turned by 30 degrees, (0, 60) lands at (-60 sin, 60 cos) from the move.
    tip = (60 - 60 * math.sin(angle), 10 + 60 * math.cos(angle))
    refused(layout_of(("p0", 30, 60, 10), ("p1", 0, tip[0], tip[1])), [blank, other], match="p0 and p1")
    prove(layout_of(("p0", 30, 60, 10), ("p1", 0, 120 - tip[0], tip[1])), [blank, other], SHEET)


def plank(*boxes: tuple[float, float, float, float], outline=None) -> Blank:
    """A blank of rectangles (x0, y0, x1, y1) that share cuts, 10 x 40 mm unless said otherwise."""
    solids = tuple((((x0, y0), (x1, y0), (x1, y1), (x0, y1)), ()) for x0, y0, x1, y1 in boxes)
    return Blank(key="p", outline=outline or strip(10, 40), solids=solids, shares_cuts=True)


AT_THE_MARGIN = layout_of(("p", 0, 5, 5))


def test_strips_that_fill_their_blank_side_by_side_may_share_cuts():
    prove(AT_THE_MARGIN, [plank((0, 0, 4, 40), (4, 0, 6, 40), (6, 0, 10, 40))], SHEET)


@pytest.mark.parametrize(
    ("boxes", "match"),
    [
        ([(0, 0, 10, 40)], "two or more"),
        ([(0, 0, 4, 40), (4, 0, 9.999, 40)], "do not fill"),
        ([(0, 0, 4, 40), (4.0001, 0, 10, 40)], "do not fill"),  # a gap
        ([(0, 0, 4.0001, 40), (4, 0, 10, 40)], "do not fill"),  # an overlap
        ([(0, 0, 4, 40), (4, 0, 10, 20), (4, 20, 10, 40)], "one whole side"),  # half of a side each
        ([(0, 0, 4, 40), (6, 0, 10, 40), (4, 0, 6, 40)], "one whole side"),  # not one beside the next
        ([(0, 0, 5, 20), (5, 0, 10, 20), (5, 20, 10, 40), (0, 20, 5, 40)], "elsewhere"),  # the last shares with the first
    ],
)
def test_what_does_not_share_its_cuts_rightly_is_caught(boxes, match):
    refused(AT_THE_MARGIN, [plank(*boxes)], match=match)
