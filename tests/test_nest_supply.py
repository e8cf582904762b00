"""Nesting onto what there is of a vinyl: offcuts, sheets of several sizes, so many of them, the rest of a roll."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from blanks import arc, blanks_of, jobs, sizes, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.errors import NestError
from stripegen.layout import Blank, Lot, Stock, Supply, piece_area_mm2, used_length_mm
from stripegen.nest import lay_to_check, nest
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order

SHEET = Stock(width_mm=110, length_mm=110, margin_mm=5, gap_mm=2)


def sheet(width: float, length: float, quantity: int | None = None) -> Lot:
    return Lot(stock=replace(SHEET, width_mm=width, length_mm=length), quantity=quantity)


def offcut(width: float, length: float, quantity: int = 1) -> Lot:
    return replace(sheet(width, length, quantity), is_offcut=True)


def rest_of_roll(width: float, left: float, run: float | None = None) -> Lot:
    stock = replace(SHEET, width_mm=width, length_mm=left if run is None else min(left, run))
    return Lot(stock=stock, total_mm=left)


def nested(blanks, *lots: Lot, effort="quick"):
    """A proved nest: by sheet, the lot's number, and the length used."""
    supply = Supply(lots)
    layout = nest(blanks, supply, effort)
    prove(layout, blanks, supply)
    return used(layout, blanks, supply)


def used(layout, blanks, supply: Supply) -> list[tuple[int, float]]:
    by_key = {blank.key: blank for blank in blanks}
    return [(each.lot, used_length_mm(each, by_key, supply.lots[each.lot].stock)) for each in layout.sheets]


@st.composite
def supplied_jobs(draw) -> tuple[list[Blank], Supply]:
    """A job that fits its new stock, with offcuts of any size, and further sizes of sheets."""
    blanks, stock = draw(jobs())

    def lot(width, length, **more):
        return Lot(stock=replace(stock, width_mm=width, length_mm=length), **more)

    counts = st.integers(1, 3)
    offcuts = st.builds(lot, sizes(11, 220), sizes(11, 150), quantity=counts, is_offcut=st.just(True))
    further = st.builds(lot, sizes(60, 220), sizes(60, 300), quantity=st.one_of(st.none(), counts))
    new = [Lot(stock=stock)]
    if stock.length_mm is not None:
        new += draw(st.lists(further, max_size=2))
    return blanks, Supply((*draw(st.lists(offcuts, max_size=3)), *new))


@settings(max_examples=30, deadline=None)
@given(supplied_jobs())
def test_every_nest_is_proved_uses_what_is_in_hand_and_no_more_new_stock_than_without_offcuts(job):
    blanks, supply = job
    layout = nest(blanks, supply, "quick")
    prove(layout, blanks, supply)
    for number, times in Counter(each.lot for each in layout.sheets).items():
        quantity = supply.lots[number].quantity
        assert quantity is None or times <= quantity
    first_new = len(supply.offcuts)
    new = Supply(supply.lots[first_new:])
    without = used(nest(blanks, new, "quick"), blanks, new)
    taken = [(lot, length) for lot, length in used(layout, blanks, supply) if lot >= first_new]
    assert len(taken) <= len(without)
    if len(new.lots) == 1 and len(taken) == len(without):
        assert taken[-1][1] <= without[-1][1] + 1e-9
    assert [each.lot >= first_new for each in layout.sheets] == sorted(each.lot >= first_new for each in layout.sheets)
    assert nest(blanks, supply, "quick") == layout


@settings(max_examples=40, deadline=None)
@given(jobs(), st.floats(0.3, 1.5), st.one_of(st.none(), sizes(125, 200)))
def test_the_rest_of_a_roll_suffices_or_it_is_said_by_how_much_it_does_not(job, share, run):
    """No nest of a roll that is shorter than what is left is refused, and none longer is given."""
    blanks, stock = job
    roll = replace(stock, length_mm=None)
    ((_, length),) = used(nest(blanks, roll, "quick"), blanks, Supply.of(roll))
    left = max(round(share * length, 3), 125.0)
    stock = replace(roll, length_mm=left if run is None else min(left, run))
    supply = Supply((Lot(stock=stock, total_mm=left),))
    try:
        layout = nest(blanks, supply, "quick")
    except NestError as error:
        assert run is not None or length > left
        assert "too little" in str(error) and "mm more" in str(error)
        return
    prove(layout, blanks, supply)
    lengths = [length for _, length in used(layout, blanks, supply)]
    assert sum(lengths) <= left + 1e-6 * len(lengths)
    assert run is None or max(lengths) <= run + 1e-6


def test_the_smallest_offcut_that_holds_everything_is_used_alone():
    blanks = blanks_of(strip(8, 60), count=4)
    lots = [offcut(200, 100), offcut(80, 60), offcut(70, 100), offcut(30, 30), sheet(110, 110)]
    assert [lot for lot, _ in nested(blanks, *lots)] == [1]


def test_offcuts_take_what_would_begin_a_new_sheet():
    """Ten strips fill a sheet; twelve take a sheet and an offcut."""
    blanks = blanks_of(strip(8.2, 100), count=12)
    assert [lot for lot, _ in nested(blanks, offcut(110, 30), sheet(110, 110))] == [0, 1]
    assert [lot for lot, _ in nested(blanks, sheet(110, 110))] == [0, 0]


def test_an_offcut_that_holds_nothing_is_not_used():
    blanks = blanks_of(strip(8, 60), count=4)
    assert [lot for lot, _ in nested(blanks, offcut(40, 40, 3), sheet(110, 110))] == [1]


def test_a_piece_that_only_an_offcut_holds_goes_there_though_others_would_fill_it_better():
    blanks = [*blanks_of(strip(30, 100), count=8), Blank(key="long", outline=strip(5, 180))]
    supply = Supply((offcut(45, 190), sheet(110, 110)))
    layout = nest(blanks, supply, "quick")
    prove(layout, blanks, supply)
    assert "long" in [place.key for each in layout.sheets for place in each.placements if each.lot == 0]


def test_pieces_that_only_a_scarce_size_holds_go_there():
    blanks = [*blanks_of(strip(30, 100), count=8), Blank(key="long", outline=strip(5, 180))]
    supply = Supply((sheet(110, 110), sheet(110, 190, 1)))
    layout = nest(blanks, supply, "quick")
    prove(layout, blanks, supply)
    assert "long" in [place.key for each in layout.sheets for place in each.placements if each.lot == 1]


def test_of_several_sizes_the_fewest_sheets_then_the_one_that_wastes_least():
    """Twenty strips fill the large sheet; of two more the small sheet is used up, of the large one much is kept."""
    small, large = sheet(110, 40), sheet(110, 212)
    assert [lot for lot, _ in nested(blanks_of(strip(8.2, 100), count=20), small, large)] == [1]
    ends = nested(blanks_of(strip(8.2, 100), count=22), small, large)
    assert [lot for lot, _ in ends] == [1, 1] and ends[1][1] == pytest.approx(5 + 2 * 8.2 + 2 + 5, abs=0.01)
    assert [lot for lot, _ in nested(blanks_of(strip(8.2, 100), count=22), small, sheet(110, 212, 1))] == [1, 0]
    # where too little would be left to keep, the small one
    assert [lot for lot, _ in nested(blanks_of(strip(8.2, 100), count=2), small, sheet(110, 55))] == [0]


def test_too_few_sheets_are_told_with_what_is_left_over_and_what_it_needs_at_least():
    blanks = blanks_of(strip(8.2, 100), count=22)
    with pytest.raises(NestError) as caught:
        nest(blanks, Supply((offcut(30, 30), sheet(110, 110, 2))), "quick")
    text = str(caught.value)
    assert "no room for 2 of the pieces (p20, p21), which need at least" in text and "110 mm width" in text
    # two grown strips side by side, less the gap at the end
    least = float(text.split("at least ")[1].split(" mm")[0])
    grown = 2 * (8.2 * 100 + 2 * 108.2 + 3.1416)
    assert least == pytest.approx(grown / 102 - 2, abs=0.06)
    assert "--effort thorough" in text
    with pytest.raises(NestError, match="no room for 12 of the pieces .* and 7 more"):
        nest(blanks, Supply((sheet(110, 110, 1),)), "thorough")


def test_a_roll_that_is_nearly_used_up_is_cut_in_runs():
    blanks = blanks_of(strip(8.2, 100), count=25)
    runs = nested(blanks, rest_of_roll(110, 300, run=110))
    assert [lot for lot, _ in runs] == [0, 0, 0]
    assert sum(length for _, length in runs) <= 300
    with pytest.raises(NestError, match="too little"):
        nest(blanks, Supply((rest_of_roll(110, 260, run=110),)), "quick")


def test_what_fits_nothing_is_told_with_the_first_size():
    blanks = blanks_of(strip(8, 400))
    supply = Supply((offcut(200, 100), sheet(110, 110), sheet(200, 200)))
    with pytest.raises(NestError, match=r"takes 100\.0 x 100\.0 mm .* nothing else there is holds it"):
        nest(blanks, supply)
    with pytest.raises(NestError, match="the roll takes .*: use a new roll"):
        nest(blanks, Supply((rest_of_roll(110, 120),)))


def test_offcuts_are_nested_tightly_too():
    """Thirty strips lie on an offcut that they fill to the last."""
    blanks = blanks_of(strip(8.2, 100), count=30)
    assert [lot for lot, _ in nested(blanks, offcut(110, 110, 3), sheet(110, 110))] == [0, 0, 0]


def test_plain_rows_take_new_stock_alone_size_by_size_and_tell_when_it_is_too_little():
    blanks = [*blanks_of(strip(8, 60), arc(4, 60, 1.0), count=9), Blank(key="long", outline=strip(5, 180))]
    supply = Supply((offcut(200, 200), sheet(110, 110), sheet(110, 190)))
    layout = lay_in_reading_order(blanks, supply)
    prove(layout, blanks, supply)
    assert {each.lot for each in layout.sheets} == {1, 2}
    assert [place.key for each in layout.sheets if each.lot == 2 for place in each.placements] == ["long"]
    many = blanks_of(strip(8, 90), count=40)
    with pytest.raises(NestError, match="4 sheets of 110 x 110 mm, and there are 2"):
        lay_in_reading_order(many, Supply((sheet(110, 110, 2),)))
    with pytest.raises(NestError, match="300 mm are left of the roll"):
        lay_in_reading_order(many, Supply((rest_of_roll(110, 300),)))


def test_a_check_nests_what_may_not_suffice_in_plain_rows():
    blanks = blanks_of(arc(4, 60, 2.0), count=6)
    supply = Supply((sheet(110, 140, 1),))
    with pytest.raises(NestError, match="nest it"):
        lay_in_reading_order(blanks, supply)
    prove(lay_to_check(blanks, supply), blanks, supply)
    plain = Supply.of(SHEET)
    assert lay_to_check(blanks, plain) == lay_in_reading_order(blanks, SHEET)


def test_progress_rises_from_0_to_1_with_offcuts_too():
    shares = []
    blanks = blanks_of(strip(5, 100), arc(4, 100, 0.5), count=30)
    supply = Supply((offcut(130, 60, 2), offcut(60, 130), sheet(160, 200)))
    prove(nest(blanks, supply, "quick", shares.append), blanks, supply)
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] == 1


@pytest.mark.parametrize(
    "lots",
    [
        (),
        (offcut(50, 50),),
        (sheet(110, 110), offcut(50, 50)),
        (sheet(110, 110), Lot(stock=replace(SHEET, gap_mm=3))),
        (sheet(110, 110), rest_of_roll(110, 300)),
        (sheet(110, 110), Lot(stock=replace(SHEET, length_mm=None))),
    ],
)
def test_a_supply_that_cannot_be_is_refused(lots):
    with pytest.raises(NestError):
        Supply(lots)


@pytest.mark.parametrize(
    "wrong", [{"quantity": -1}, {"is_offcut": True}, {"total_mm": float("nan")}, {"stock": replace(SHEET, length_mm=None), "total_mm": 9.0}]
)
def test_a_lot_that_cannot_be_is_refused(wrong):
    with pytest.raises(NestError):
        Lot(**{"stock": SHEET, **wrong})


def test_areas_add_up():
    """What lies on offcuts and new sheets together is all there is."""
    blanks = blanks_of(strip(8.2, 100), count=12)
    supply = Supply((offcut(110, 30), sheet(110, 110)))
    by_key = {blank.key: blank for blank in blanks}
    laid = [piece_area_mm2(by_key[p.key] for p in each.placements) for each in nest(blanks, supply, "quick").sheets]
    assert sum(laid) == pytest.approx(12 * 820)


@settings(max_examples=12, deadline=None)
@given(supplied_jobs(), st.booleans())
def test_where_nothing_new_is_in_hand_offcuts_hold_all_or_it_is_told(job, is_roll):
    blanks, supply = job
    new = supply.lots[supply.new[0]]
    none = Lot(stock=replace(new.stock, length_mm=None) if is_roll else new.stock, quantity=0)
    spent = Supply((*(supply.lots[number] for number in supply.offcuts), none))
    try:
        layout = nest(blanks, spent, "quick")
    except NestError as error:
        assert "there is too little of it" in str(error)
        return
    prove(layout, blanks, spent)
    assert all(spent.lots[each.lot].is_offcut for each in layout.sheets)


def test_one_offcut_that_holds_all_serves_where_nothing_new_is_in_hand():
    blanks = blanks_of(strip(5, 90), count=4)
    for none in (sheet(110, 110, 0), Lot(stock=replace(SHEET, length_mm=None), quantity=0)):
        assert [lot for lot, _ in nested(blanks, offcut(60, 104), none)] == [0]
        with pytest.raises(NestError, match="^no new vinyl of it is in hand$"):
            lay_in_reading_order(blanks, Supply((none,)))
    with pytest.raises(NestError, match="quantity must be 1 or more: got 0"):
        offcut(60, 104, 0)
