"""The bench's fixed instances are what they are said to be, and no library's layout counts that fails our proof."""

import sys
from collections import Counter
from pathlib import Path

import pytest

from stripegen.errors import NestError
from stripegen.layout import bound_mm

sys.path.append(str(Path(__file__).parent / "bench"))  # its scripts import each other as they do when run

from bench.bench_nest import TABLES
from bench.cases import WEEKS, in_hand, pieces_of
from bench.instances import STOCK, instance
from bench.one_nest import answer, given, on_roll, shapes

# Pieces and bounds worked out apart from this, from the outlines as first drawn; those were rounded to 1e-5 mm.
KNOWN = {"A": (120, 415.4881), "B": (160, 575.8934), "C": (120, 519.9551), "D": (2000, 7872.4855)}


@pytest.mark.parametrize("name", KNOWN)
def test_an_instance_has_its_pieces_and_bound(name):
    blanks = instance(name)
    assert len(blanks) == KNOWN[name][0]
    assert bound_mm(blanks, STOCK) == pytest.approx(KNOWN[name][1], abs=1e-3)


def test_c_has_35_distinct_pieces():
    """None is drawn twice, though some are alike but for their growth."""
    spirals = [blank for blank in instance("C") if len(blank.outline) > 4]
    assert len({blank.outline for blank in spirals}) == 35


def test_weeks_are_the_same_every_time_and_as_large_as_said():
    for name in ("straight", "mixed", "400"):
        (first, stock), (second, _) = pieces_of(name), pieces_of(name)
        assert first == second
        assert stock.length_mm is None
    assert len(pieces_of("400")[0]) == 400


def test_the_studio_week_comes_from_a_job_of_every_shipped_cup():
    blanks = WEEKS["studio"]()
    assert {blank.key.partition(".")[0] for blank in blanks} == {str(number) for number in range(1, 15)}


def in_a_column():
    """Pieces of A one below the other, as a library would tell it."""
    blanks, stock = pieces_of("A")
    laid, end = [], 0.0
    for number, shape in enumerate(shapes(blanks, stock)["shapes"]):
        height = max(y for _, y in shape["outline"])
        for _ in range(shape["count"]):
            laid.append((number, 0.0, 0.0, end))
            end += height + stock.gap_mm
    return laid, blanks, stock, end - stock.gap_mm


def test_a_library_layout_is_measured():
    laid, blanks, stock, end = in_a_column()
    found = on_roll(given(laid, blanks), blanks, stock)
    assert found["length"] == pytest.approx(end)
    assert found["tightness"] == pytest.approx(KNOWN["A"][1] / end, abs=1e-6)


def nearer(laid):
    number, turn, x, y = laid[-1]
    return [*laid[:-1], (number, turn, x, y - 0.001)]


def beyond(laid):
    return [(number, turn, x + 295, y) for number, turn, x, y in laid]


SPOILT = {"one too few": lambda laid: laid[:-1], "one twice": lambda laid: [*laid, laid[0]], "near": nearer, "off": beyond}


@pytest.mark.parametrize("fault", SPOILT)
def test_a_library_layout_that_can_not_be_cut_does_not_count(fault):
    laid, blanks, stock, _ = in_a_column()
    spoilt = SPOILT[fault](laid)
    with pytest.raises(NestError) as told:
        on_roll(given(spoilt, blanks), blanks, stock)
    assert answer({"case": "A", "do": "prove", "laid": spoilt}) == {"fault": str(told.value)}


def test_each_request_is_answered():
    rows = answer({"case": "straight", "do": "rows"})
    ours = answer({"case": "straight", "do": "nest", "effort": "quick"})
    assert ours["pieces"] == rows["pieces"] == 120
    assert ours["bound"] <= ours["length"] <= rows["length"]
    told = answer({"case": "straight", "do": "shapes"})["shapes"]
    assert Counter(blank.outline for blank in pieces_of("straight")[0]) == {
        shape["outline"]: shape["count"] for shape in told
    }


def test_every_case_of_every_table_is_there():
    assert set(TABLES["weeks"]) == set(WEEKS)
    assert set(TABLES["instances"]) == set(KNOWN)
    assert {case for case, _ in TABLES["offcuts"]} <= set(WEEKS)


def test_offcuts_stand_before_new_sheets():
    assert [lot.is_offcut for lot in in_hand(3).lots] == [True, True, True, False]
