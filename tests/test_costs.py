"""Costs: what a sheet costs, and that each order's shares add up to the last cent."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace

import pytest
from conftest import JOB
from hypothesis import given
from hypothesis import strategies as st

from stripegen.columns import plain_lines
from stripegen.costs import costs_of, costs_tables, money, shared, sheet_cents
from stripegen.jobfile import parse_job
from stripegen.placing import Placed
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.results import sheets_result
from stripegen.sheets import OffcutPlace, Sheet, lay_out
from stripegen.spec import Vinyl

ROLL = Vinyl(name="ink", colour="#20242c", width_mm=200.0)
SHEETS = Vinyl(name="brass", colour="#b8923a", width_mm=305.0, length_mm=400.0)


def priced(vinyl: Vinyl, **price) -> Vinyl:
    return replace(vinyl, **price)


def sheet_of(name: str, vinyl: Vinyl, used_mm: float, areas: list[tuple[str, float]]) -> Sheet:
    """A sheet on which pieces of these orders and areas lie, wherever they lie."""
    placed = [
        Placed(SimpleNamespace(order=order, flat=SimpleNamespace(area_mm2=area)), None) for order, area in areas
    ]
    total = sum(area for _, area in areas)
    return Sheet(
        name=name,
        vinyl=vinyl,
        width_mm=vinyl.width_mm,
        length_mm=used_mm if vinyl.length_mm is None else vinyl.length_mm,
        used_length_mm=used_mm,
        piece_area_mm2=total,
        bound_mm=total / vinyl.width_mm,
        tightness=total / vinyl.width_mm / used_mm,
        waste=1 - total / vinyl.width_mm / used_mm,
        placed=tuple(placed),
    )


@pytest.mark.parametrize(
    ("vinyl", "length_mm", "cents"),
    [
        (ROLL, 500.0, None),
        (priced(ROLL, price_square_metre=14.0), 500.0, 140),  # 0.1 square metre
        (priced(ROLL, price_roll=24.0, roll_length_mm=5000.0), 1250.0, 600),  # a quarter of the roll
        (priced(SHEETS, price_sheet=3.2), 400.0, 320),  # whatever is used of it
        (priced(SHEETS, price_square_metre=10.0), 400.0, 122),
        (priced(ROLL, price_roll=0.01, roll_length_mm=1000.0), 500.0, 1),  # half a cent goes up
        (priced(ROLL, price_square_metre=0.0), 500.0, 0),
    ],
)
def test_the_price_of_a_sheet_by_hand(vinyl, length_mm, cents):
    assert sheet_cents(vinyl, vinyl.width_mm, length_mm) == cents


def test_another_size_costs_in_proportion_and_an_offcut_nothing():
    vinyl = priced(SHEETS, price_sheet=3.2)
    assert sheet_cents(vinyl, 305.0, 200.0) == 160
    new = sheet_of("s", vinyl, 100.0, [("A", 3000.0), ("B", 1000.0)])
    offcut = replace(new, offcuts=(OffcutPlace(0.0, 0.0, 100.0, 80.0, 60.0),))
    costs = costs_of([offcut], ["A", "B"])
    assert [share.cents for share in costs.shares] == [0, 0]
    assert [share.vinyl_area_mm2 for share in costs.shares] == [6000.0, 2000.0]
    assert (costs.week.length_mm, costs.week.used_mm, costs.week.cents, costs.unpriced) == (80.0, 60.0, 0, ())
    assert costs.week.waste == pytest.approx(1 - 4000 / 6000)


@given(st.integers(0, 10**7), st.lists(st.integers(0, 10**15), min_size=1, max_size=30))
def test_shares_add_up_and_are_within_a_cent_of_the_exact_ones(cents, weights):
    parts = shared(cents, weights)
    assert sum(parts) == cents
    total = sum(weights)
    for part, weight in zip(parts, weights, strict=True):
        if total:
            assert abs(part - Fraction(cents * weight, total)) < 1
    for part, weight in zip(parts, weights, strict=True):  # who has more never pays less
        assert all(part >= other for other, less in zip(parts, weights, strict=True) if less < weight)


def test_what_is_left_goes_to_the_largest_remainders():
    assert shared(10, [1, 1, 1]) == [4, 3, 3]
    assert shared(100, [335, 332, 333]) == [34, 33, 33]
    assert shared(1, [1, 2]) == [0, 1]
    assert shared(5, [0, 0]) == [3, 2]


ORDERS = ("A", "B", "C", "D")
VINYLS = st.sampled_from(
    [
        ROLL,
        priced(ROLL, name="by-roll", price_roll=23.99, roll_length_mm=4570.0),
        priced(ROLL, name="by-area", price_square_metre=13.37),
        priced(SHEETS, name="by-sheet", price_sheet=3.33),
        SHEETS,
    ]
)
PIECES = st.lists(st.tuples(st.sampled_from(ORDERS), st.floats(1.0, 900.0)), min_size=1, max_size=12)


@given(st.lists(st.tuples(VINYLS, st.floats(15.0, 400.0), PIECES), min_size=1, max_size=6))
def test_orders_and_vinyls_add_up_to_the_week(rows):
    """By sheet, by order, by vinyl: the same total to the cent, and the same area and length of vinyl."""
    sheets = [sheet_of(f"s{n}", *row) for n, row in enumerate(rows)]
    costs = costs_of(sheets, ORDERS)
    for sheet in sheets:
        own = [share for share in costs.shares if share.sheet == sheet.name]
        cents = sheet_cents(sheet.vinyl, sheet.width_mm, sheet.length_mm)
        assert {share.cents is None for share in own} == {cents is None}
        assert cents is None or sum(share.cents for share in own) == cents
        assert sum(share.length_mm for share in own) == pytest.approx(sheet.length_mm)
        assert sum(share.piece_area_mm2 for share in own) == pytest.approx(sheet.piece_area_mm2)
        assert [share.order for share in own] == sorted({share.order for share in own})
    for bills in (costs.vinyls, costs.orders):
        assert sum(bill.cents or 0 for bill in bills) == (costs.week.cents or 0)
    assert (costs.week.cents is None) == all(share.cents is None for share in costs.shares)
    assert sum(bill.length_mm for bill in costs.vinyls) == pytest.approx(costs.week.length_mm)
    vinyl_mm2 = sum(sheet.vinyl.width_mm * sheet.length_mm for sheet in sheets)
    assert sum(bill.vinyl_area_mm2 for bill in costs.orders) == pytest.approx(vinyl_mm2)
    names = {sheet.vinyl.name for sheet in sheets}
    assert set(costs.unpriced) == names & {"ink", "brass"}


def test_tightness_and_waste_of_several_sheets_are_of_the_area_used():
    sheets = [sheet_of("a", ROLL, 100.0, [("A", 10_000.0)]), sheet_of("b", SHEETS, 200.0, [("A", 30_500.0)])]
    costs = costs_of(sheets, ["A"])
    used = 200 * 100 + 305 * 200
    assert costs.week.tightness == pytest.approx(40_500 / used)
    assert costs.week.waste == pytest.approx(1 - 40_500 / used)
    assert [bill.tightness for bill in costs.vinyls] == pytest.approx([0.5, 0.5])


def test_money():
    assert [money(cents) for cents in (None, 0, 5, 100, 123456)] == ["-", "0.00", "0.05", "1.00", "1234.56"]


def test_the_table_is_aligned_and_says_what_has_no_price():
    sheets = [
        sheet_of("s1", priced(SHEETS, price_sheet=3.2), 200.0, [("A", 3000.0), ("long-name", 1000.0)]),
        sheet_of("s2", ROLL, 100.0, [("B", 500.0)]),
    ]
    lines = plain_lines(costs_tables(costs_of(sheets, ["A", "long-name", "B"])))
    first, second = lines[:4], lines[5:9]
    assert lines[4] == "" and len(lines) == 10
    for table in (first, second):
        assert len({len(line) for line in table}) == 1
        assert {line.split()[-1] == "price" for line in table} == {True, False}
    assert [line.split()[-1] for line in first] == ["price", "3.20", "-", "3.20"]
    assert [line.split()[-1] for line in second] == ["price", "2.40", "0.80", "-"]
    assert lines[9] == "ink has no price: left out of the prices"
    assert plain_lines(costs_tables(costs_of(sheets, ["A", "long-name", "B"]), most_orders=1))[7] == "... and 2 orders more"


def test_files_of_costs_say_what_was_worked_out():
    text = JOB.replace("length = 400", "length = 400\nprice = { sheet = 3.20 }")
    job = parse_job(text, "week.toml", lambda kind, name: None)
    production = produce(job)
    sheets = lay_out(production, "sheet", lay_in_reading_order, prove)
    costs = costs_of(sheets, [order.id for order in job.orders])
    result = sheets_result("nest", production, sheets, None, costs=costs)
    rows = list(csv.DictReader(io.StringIO(result.files["costs.csv"].decode(), newline="")))
    told = json.loads(result.files["nest.json"])["costs"]
    assert len(rows) == len(told["shares"]) == len(costs.shares)
    for row, share, each in zip(rows, told["shares"], costs.shares, strict=True):
        assert (row["sheet"], row["order"]) == (share["sheet"], share["order"]) == (each.sheet, each.order)
        assert row["price"] == ("" if each.cents is None else money(each.cents))
        assert share["price"] == (None if each.cents is None else each.cents / 100)
    brass = sum(sheet.vinyl.name == "brass" for sheet in sheets)
    assert told["week"]["price"] == pytest.approx(3.2 * brass)
    assert told["unpriced"] == ["ink"]
    # every order's pieces, by the manifest itself
    manifest = json.loads(result.files["nest.json"])
    for bill in told["orders"]:
        area = sum(piece["area"] for piece in manifest["pieces"] if piece["order"] == bill["order"])
        assert bill["piece_area"] == pytest.approx(area)
