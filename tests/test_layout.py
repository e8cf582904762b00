"""Types and measures of flat layouts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from blanks import arc, blanks_of, frame, mitred, strip
from hypothesis import given
from hypothesis import strategies as st

from stripegen.errors import NestError
from stripegen.layout import (
    Blank,
    Placement,
    SheetLayout,
    Stock,
    bound_mm,
    piece_area_mm2,
    placed_polygon,
    rounded_turn,
    snug_move,
    tightness,
    turn_matrix,
    used_length_mm,
    waste_share,
)

ROLL = Stock(width_mm=100, length_mm=None, margin_mm=5, gap_mm=2)


@pytest.mark.parametrize(
    "wrong",
    [
        {"outline": ((0, 0), (1, 0))},
        {"outline": ((0, 0), (1, 0), (1, math.nan))},
        {"outline": ((0, 0), (4, 0), (4, 4), (0, 0))},
        {"outline": ((1, 0), (4, 0), (4, 4))},
        {"outline": ((0, 0), (4, 4), (4, 0), (0, 4))},
        {"turns": "sideways"},
        {"slack_mm": -0.1},
        {"lean_deg": math.inf},
    ],
)
def test_a_blank_that_cannot_be_is_refused_by_name(wrong):
    with pytest.raises(NestError, match="piece odd"):
        Blank(**{"key": "odd", "outline": strip(4, 20), **wrong})


@pytest.mark.parametrize("wrong", [{"width_mm": 10}, {"width_mm": math.nan}, {"length_mm": 9}, {"gap_mm": -1}])
def test_a_stock_that_cannot_be_is_refused(wrong):
    with pytest.raises(NestError):
        Stock(**{"width_mm": 100, "length_mm": None, "margin_mm": 5, "gap_mm": 1.5, **wrong})


def test_a_placement_must_be_finite_and_is_rounded():
    with pytest.raises(NestError, match="dx_mm"):
        Placement(key="a", turn_deg=0, dx_mm=math.nan, dy_mm=0)
    place = Placement(key="a", turn_deg=-90.00000004, dx_mm=1.00004999, dy_mm=-0.00001)
    assert (place.turn_deg, place.dx_mm, place.dy_mm) == (270.0, 1.0, 0.0)
    assert math.copysign(1, place.dy_mm) == 1


@given(st.floats(-1e4, 1e4))
def test_turns_are_kept_below_a_full_turn(turn):
    kept = rounded_turn(turn)
    assert 0 <= kept < 360
    assert abs((kept - turn + 180) % 360 - 180) < 1e-6
    cos, sin = turn_matrix(kept)
    assert math.hypot(cos - math.cos(math.radians(turn)), sin - math.sin(math.radians(turn))) < 1e-7


def test_plus_x_turns_towards_plus_y():
    blank = Blank(key="a", outline=strip(4, 20))
    laid = placed_polygon(blank, Placement(key="a", turn_deg=90, dx_mm=30, dy_mm=7))
    assert laid.bounds == (10, 7, 30, 11)


@given(st.floats(-100, 100), st.floats(-100, 100), st.floats(0, 50))
def test_a_snug_move_is_the_nearest_within_its_limits(wanted, least, span):
    move = snug_move(wanted, least, least + span)
    if move is None:
        assert span < 1e-4
    else:
        assert least - 1e-6 <= move <= least + span + 1e-6
        assert abs(move - wanted) <= abs(np.clip(wanted, least, least + span) - wanted) + 1.1e-4
        assert round(move, 4) == move


def test_allowed_turns():
    turns = {
        "any": None,
        "upright": (0.0,),
        "upright-flip": (0.0, 180.0),
        "along": (350.0,),
        "along-flip": (350.0, 170.0),
    }
    for name, expected in turns.items():
        blank = Blank(key="a", outline=strip(4, 20), turns=name, lean_deg=-10)
        assert blank.fixed_turns_deg == expected


def test_measures_of_a_sheet_worked_by_hand():
    blanks = {blank.key: blank for blank in blanks_of(strip(10, 50), count=2)}
    places = (Placement(key="p0", turn_deg=0, dx_mm=5, dy_mm=5), Placement(key="p1", turn_deg=0, dx_mm=17, dy_mm=8))
    sheet = SheetLayout(places)
    assert used_length_mm(sheet, blanks, ROLL) == 63
    grown = 2 * (10 * 50 + 2 * (10 + 50) * 1 + math.pi)
    bound = grown / (90 + 2) - 2 + 10
    assert bound_mm(blanks.values(), ROLL) == pytest.approx(bound, abs=1e-4)
    assert tightness(sheet, blanks, ROLL) == pytest.approx(bound / 63, abs=1e-6)
    assert waste_share(sheet, blanks, ROLL) == pytest.approx(1 - 1000 / (100 * 63))


@given(st.integers(-90, 90), st.floats(0, 359.9), st.floats(-50, 50))
def test_a_sheet_is_used_as_far_as_its_farthest_piece_lies(slant, turn_deg, dy_mm):
    blank = Blank(key="a", outline=mitred(8, 120, slant / 10, 3), slack_mm=0.2)
    placement = Placement(key="a", turn_deg=turn_deg, dx_mm=0, dy_mm=dy_mm)
    _, _, _, far_mm = placed_polygon(blank, placement).bounds
    assert used_length_mm(SheetLayout((placement,)), {"a": blank}, ROLL) == pytest.approx(far_mm + 0.2 + ROLL.margin_mm)


def test_an_empty_sheet_uses_nothing():
    empty = SheetLayout(())
    measures = [used_length_mm(empty, {}, ROLL), tightness(empty, {}, ROLL), waste_share(empty, {}, ROLL)]
    assert [*measures, bound_mm([], ROLL)] == [0, 0, 0, 0]


def test_holes_are_no_area_of_the_piece_and_slack_counts_as_used():
    outline, holes = frame(30, 20, 5)
    blank = Blank(key="a", outline=outline, holes=holes, slack_mm=0.5)
    assert piece_area_mm2([blank]) == 30 * 20 - 20 * 10
    sheet = SheetLayout((Placement(key="a", turn_deg=0, dx_mm=6, dy_mm=6),))
    assert used_length_mm(sheet, {"a": blank}, ROLL) == 6 + 20 + 0.5 + 5


def test_the_grown_area_of_an_arc_follows_the_formula_for_offset_curves():
    blank = Blank(key="a", outline=arc(4, 200, 1.0, steps=400))
    area, rim = 4 * 198 * 1.0, 2 * 198 * 1.0 + 2 * 4
    grown = bound_mm([blank], Stock(width_mm=300, length_mm=None, margin_mm=0, gap_mm=2)) + 2
    assert grown * 302 == pytest.approx(area + rim + math.pi, rel=1e-4)
