"""Nesting by order: every layout is proved, and no order's box on a sheet meets another's."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from blanks import arc, blanks_of, jobs, mitred, strip, turned
from conftest import JOB
from hypothesis import given, settings
from hypothesis import strategies as st
from manifests import placed_outline

from stripegen.costs import costs_of
from stripegen.errors import NestError
from stripegen.jobfile import parse_job
from stripegen.layout import Blank, Lot, Stock, Supply, used_length_mm
from stripegen.nest import nest
from stripegen.nest_groups import nest_by_order, nest_ungrouped, order_of
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.results import sheets_result
from stripegen.sheets import lay_out

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)


def named(order: str, blanks: list[Blank]) -> list[Blank]:
    return [replace(blank, key=f"{order}.1.{blank.key}") for blank in blanks]


def box_of(blank: Blank, placement) -> np.ndarray:
    """Left, top, right, bottom where a blank lies, by its corners alone."""
    turn = np.radians(placement.turn_deg)
    points = np.array(blank.outline) @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    points += (placement.dx_mm, placement.dy_mm)
    return np.array([*(points.min(axis=0) - blank.slack_mm), *(points.max(axis=0) + blank.slack_mm)])


def assert_apart(boxes: dict[str, list[np.ndarray]], gap_mm: float) -> None:
    """The boxes about each order's pieces are a gap apart, across or along."""
    whole = {order: np.array([*np.min(own, axis=0)[:2], *np.max(own, axis=0)[2:]]) for order, own in boxes.items()}
    names = list(whole)
    for k, first in enumerate(names):
        for second in names[:k]:
            a, b = whole[first], whole[second]
            apart = max(b[0] - a[2], a[0] - b[2], b[1] - a[3], a[1] - b[3])
            assert apart >= gap_mm - 1e-6, (first, second, apart)


def grouped(blanks, stock=ROLL, effort="quick"):
    """A proved layout whose orders lie apart: used lengths, and the layout."""
    layout = nest_by_order(blanks, stock, effort)
    prove(layout, blanks, stock)
    by_key = {blank.key: blank for blank in blanks}
    for sheet in layout.sheets:
        boxes: dict[str, list[np.ndarray]] = {}
        for placement in sheet.placements:
            boxes.setdefault(placement.key.split(".")[0], []).append(box_of(by_key[placement.key], placement))
        assert_apart(boxes, stock.gap_mm)
    return [used_length_mm(sheet, by_key, stock) for sheet in layout.sheets], layout


@settings(max_examples=12, deadline=None)
@given(st.lists(jobs(), min_size=1, max_size=4))
def test_every_layout_is_proved_with_its_orders_apart_and_the_same_again(several):
    stock = max((stock for _, stock in several), key=lambda stock: (stock.width_mm, stock.length_mm is None))
    length = None if stock.length_mm is None else max(own.length_mm or 0 for _, own in several)
    stock = replace(stock, length_mm=length)  # in which the pieces of each fit
    blanks = [blank for n, (own, _) in enumerate(several) for blank in named(f"O-{n}", own)]
    lengths, layout = grouped(blanks, stock)
    assert nest_by_order(blanks, stock, "quick") == layout
    whole = [nest(named(f"O-{n}", own), stock, "quick") for n, (own, _) in enumerate(several)]
    by_key = {blank.key: blank for blank in blanks}
    if stock.length_mm is None:
        # never longer than one order after the other
        ends = [used_length_mm(each.sheets[0], by_key, stock) - 2 * stock.margin_mm for each in whole]
        after = sum(ends) + (len(ends) - 1) * stock.gap_mm + 2 * stock.margin_mm
        assert lengths[0] <= after + 1e-3 * len(ends)
    else:
        # an order that fits a sheet is on one
        for n, own in enumerate(whole):
            on = {k for k, sheet in enumerate(layout.sheets) for p in sheet.placements if order_of(p.key) == f"O-{n}"}
            assert len(on) <= len(own.sheets)


def test_small_orders_lie_side_by_side():
    """Six orders of four strips: standing beside each other they take one strip's length; whole widths would take six."""
    blanks = [blank for n in range(6) for blank in named(f"O-{n}", blanks_of(strip(8, 150), count=4))]
    lengths, _ = grouped(blanks)
    assert lengths == [pytest.approx(5 + 150 + 5, abs=0.01)]


def test_orders_that_fill_halves_of_a_roll_share_it():
    half = 295 / 2 - 0.75
    blanks = [blank for n in range(4) for blank in named(f"O-{n}", blanks_of(strip(half, 60)))]
    lengths, _ = grouped(blanks)
    assert lengths == [pytest.approx(10 + 2 * 60 + 1.5, abs=0.01)]


def test_an_order_longer_than_a_sheet_has_sheets_of_its_own_and_its_rest_shares():
    stock = Stock(width_mm=110, length_mm=110, margin_mm=5, gap_mm=2)
    long = named("A", blanks_of(strip(8.2, 100), count=22))  # ten to a sheet, and two more
    short = named("B", blanks_of(strip(8.2, 100), count=5))
    _, layout = grouped([*long, *short], stock)
    on = [{order_of(place.key) for place in sheet.placements} for sheet in layout.sheets]
    assert sorted(map(sorted, on)) == [["A"], ["A"], ["A", "B"]]


def test_alike_orders_lie_alike():
    own = [*blanks_of(arc(4, 120, 0.9), mitred(5, 80, 5, 3), count=3)]
    own = [replace(blank, key=f"p{k}") for k, blank in enumerate(own)]
    _, layout = grouped([*named("A", own), *named("B", own)])
    places = {place.key: place for place in layout.sheets[0].placements}

    def relative(order: str):
        found = [places[f"{order}.1.{blank.key}"] for blank in own]
        return [(p.turn_deg, round(p.dx_mm - found[0].dx_mm, 4), round(p.dy_mm - found[0].dy_mm, 4)) for p in found]

    assert relative("A") == relative("B")


def test_what_just_fits_the_width_and_the_length_is_laid():
    stock = Stock(width_mm=200, length_mm=200, margin_mm=3.96875 / 10, gap_mm=1.5)
    room = 199.2062  # 200 less two margins, in whole units of moves
    for outline in (strip(5, 260), turned(strip(5, 265), 20), strip(room, 40), strip(40, room), strip(room, room)):
        blanks = [blank for n in range(3) for blank in named(f"O-{n}", blanks_of(outline))]
        grouped(blanks, stock)


@pytest.mark.parametrize("margin", [5.0, 0.396875])
def test_what_just_fits_askew_is_laid(margin):
    """A box of whole units about it reaches a part of a unit past the margins, yet it fits."""
    stock = Stock(width_mm=200, length_mm=200, margin_mm=margin, gap_mm=1.5)

    def fits(length: float) -> bool:
        try:
            lay_in_reading_order(blanks_of(strip(5, length)), stock)
        except NestError:
            return False
        return True

    least, most = 250.0, 300.0
    for _ in range(20):
        middle = round((least + most) / 2, 4)
        least, most = (middle, most) if fits(middle) else (least, middle)
    for length in (least, least - 1e-4, least - 2e-4):
        blanks = [blank for n in range(2) for blank in named(f"O-{n}", blanks_of(strip(5, length)))]
        grouped(blanks, stock)


def test_one_order_is_nested_as_ever():
    blanks = named("A", blanks_of(strip(5, 140), arc(4, 200, 0.7), count=9))
    assert nest_by_order(blanks, ROLL, "quick") == nest(blanks, ROLL, "quick")
    assert nest_by_order([], ROLL).sheets == ()


def test_of_a_supply_the_first_new_size_that_holds_all_is_used():
    small, large = (Stock(width_mm=size, length_mm=size, margin_mm=5, gap_mm=2) for size in (80, 110))
    blanks = [*named("A", blanks_of(strip(8, 95), count=12)), *named("B", blanks_of(strip(8, 40), count=5))]
    offcut = Lot(stock=large, quantity=3, is_offcut=True)
    supply = Supply((offcut, Lot(stock=small), Lot(stock=large, quantity=2)))
    layout = nest_by_order(blanks, supply, "quick")
    prove(layout, blanks, supply)
    assert {sheet.lot for sheet in layout.sheets} == {2}
    with pytest.raises(NestError, match="by order it takes 2 sheets of 110 x 110 mm, and there are 1"):
        nest_by_order(blanks, Supply((Lot(stock=small), Lot(stock=large, quantity=1))), "quick")
    roll = Supply((Lot(stock=Stock(width_mm=110, length_mm=80, margin_mm=5, gap_mm=2), total_mm=80.0),))
    with pytest.raises(NestError, match="by order it takes"):
        nest_by_order(blanks, roll, "quick")


def test_what_is_asked_wrongly_is_refused():
    blanks = [*named("A", blanks_of(strip(5, 50))), *named("B", blanks_of(strip(5, 50)))]
    with pytest.raises(NestError, match="effort must be one of quick, normal, thorough: got 'utmost'"):
        nest_by_order(blanks, ROLL, "utmost")
    with pytest.raises(NestError, match="twice"):
        nest_by_order([*blanks, *blanks], ROLL, "quick")
    small = Stock(width_mm=60, length_mm=60, margin_mm=5, gap_mm=1.5)
    long = [*named("C", blanks_of(strip(5, 90))), *named("D", blanks_of(strip(6, 95)))]
    with pytest.raises(NestError) as caught:
        nest_by_order([*blanks, *long], small, "quick")
    assert [line.split(" is ")[0] for line in str(caught.value).splitlines()] == ["piece C.1.p0", "piece D.1.p0"]


def test_progress_goes_from_0_to_1():
    shares: list[float] = []
    blanks = [blank for n in range(5) for blank in named(f"O-{n}", blanks_of(strip(5, 100 + n), count=3))]
    nest_by_order(blanks, ROLL, "quick", shares.append)
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert len(set(shares)) >= 10


def test_the_layout_does_not_hang_on_the_hash_seed():
    program = (
        "from blanks import *; from dataclasses import replace; from stripegen.layout import Stock\n"
        "from stripegen.nest_groups import nest_by_order\n"
        "own = blanks_of(strip(4, 90), mitred(5, 80, 5, 3), arc(4, 120, 0.9), turned(strip(3, 70), 20), count=3)\n"
        "blanks = [replace(blank, key=f'{n}.{blank.key}') for n in 'ABCD' for blank in own[: 3 * (1 + ord(n) % 4)]]\n"
        "print(nest_by_order(blanks, Stock(width_mm=160, length_mm=250, margin_mm=5, gap_mm=1.5), 'quick'))"
    )
    here = Path(__file__).parent
    runs = []
    for seed in ("1", "2"):
        env = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": f"{here}{os.pathsep}{here.parent}"}
        done = subprocess.run([sys.executable, "-c", program], env=env, capture_output=True, text=True, check=True)
        runs.append(done.stdout)
    assert runs[0] == runs[1]
    assert "Placement" in runs[0]


TOGETHER = JOB.replace("quantity = 3", "quantity = 4").replace('name    = "sash"', 'name    = "sash"\ntogether = true')


def test_a_jobs_files_by_order():
    """A whole job, with pieces that keep their places: what is written is grouped, and what that costs is told."""
    text = TOGETHER.replace("width  = 200", "width  = 200\nprice  = 14.0")
    job = parse_job(text, "week.toml", lambda kind, name: None)
    production = produce(job)
    orders = [order.id for order in job.orders]
    sheets = lay_out(production, "sheet", nest_by_order, prove)
    costs, ungrouped = costs_of(sheets, orders), costs_of(lay_out(production, "sheet", nest, prove), orders)
    result = sheets_result("nest", production, sheets, None, costs=costs, ungrouped=ungrouped)
    manifest = json.loads(result.files["nest.json"])
    pieces = {piece["id"]: piece for piece in manifest["pieces"]}
    for sheet in manifest["sheets"]:
        boxes: dict[str, list[np.ndarray]] = {}
        for name in sheet["pieces"]:
            points = np.array(placed_outline(pieces[name]))
            boxes.setdefault(pieces[name]["order"], []).append(np.array([*points.min(axis=0), *points.max(axis=0)]))
        assert_apart(boxes, 1.5 - 1e-3)
        key = result.files[f"{sheet['name']}-key.svg"].decode()
        assert {f'id="order-{order}"' in key for order in boxes} == {True}
    told = manifest["grouping"]
    assert told["by"] == "order"
    assert [row["vinyl"] for row in told["vinyls"]] == ["brass", "ink"]
    for row in told["vinyls"]:
        own = [sheet for sheet in manifest["sheets"] if sheet["vinyl"] == row["vinyl"]]
        assert row["sheets"] == len(own)
        assert row["used_length"] == pytest.approx(sum(sheet["used_length"] for sheet in own))
    ink = told["vinyls"][1]
    assert ink["price"] == pytest.approx(14.0 * 0.2 * ink["used_length"] / 1000, abs=0.0051)
    assert ink["ungrouped"]["price"] == pytest.approx(14.0 * 0.2 * ink["ungrouped"]["used_length"] / 1000, abs=0.0051)
    plain = sheets_result("nest", production, sheets, None, costs=costs)
    assert json.loads(plain.files["nest.json"])["grouping"] is None
    assert b'id="order-' not in plain.files[f"{sheets[0].name}-key.svg"]


def test_what_it_is_compared_with_lies_on_the_same_vinyl():
    """No offcut holds any of it, though one would."""
    blanks = [replace(blank, key=f"{'AB'[k % 2]}.{k}") for k, blank in enumerate(blanks_of(strip(5, 80), count=8))]
    offcut = Lot(stock=Stock(width_mm=200, length_mm=200, margin_mm=5, gap_mm=1.5), quantity=1, is_offcut=True)
    new = Lot(stock=Stock(width_mm=300, length_mm=400, margin_mm=5, gap_mm=1.5))
    supply = Supply((offcut, new))
    for way in (nest_ungrouped, nest_by_order):
        layout = way(blanks, supply, "quick")
        prove(layout, blanks, supply)
        assert {sheet.lot for sheet in layout.sheets} == {1}
    assert {sheet.lot for sheet in nest(blanks, supply, "quick").sheets} == {0}
