"""Pieces on sheets: what the layout is told of a piece, and where it lies then."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from conftest import JOB

from stripegen.errors import NestError
from stripegen.jobfile import parse_job
from stripegen.layout import Layout, Placement, SheetLayout
from stripegen.nest import nest
from stripegen.placing import Placed
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.sheets import lay_out, sheet_notices
from stripegen.spec import Cutter, Offcut, SheetSize, Vinyl
from stripegen.stock import blank_of, stock_of, supply_of


def production(text: str = JOB):
    return produce(parse_job(text, "week.toml", lambda kind, name: None))


@pytest.mark.parametrize(
    ("grain", "flip", "turns"),
    [
        ("none", True, "any"),
        ("cup", True, "upright-flip"),
        ("cup", False, "upright"),
        ("strip", True, "along-flip"),
        ("strip", False, "along"),
    ],
)
def test_the_grain_is_told(grain, flip, turns):
    made = production()
    vinyl = replace(made.job.vinyls["brass"], grain=grain, flip=flip)
    assert blank_of("p", made.pieces[0].flat, vinyl).turns == turns


def test_the_strips_grain_lays_its_middle_along_the_feed():
    """The centre line's direction at its middle, measured on the flat piece, ends up along y."""
    made = production()
    for piece in made.pieces:
        blank = blank_of(piece.id, piece.flat, replace(made.job.vinyls["brass"], grain="strip"))
        # the direction of a straight strip is that of its longer edges; of the swirl, near its middle
        outline = np.array(blank.outline)
        steps = np.roll(outline, -1, axis=0) - outline
        near = np.argmin(np.hypot(*(outline + steps / 2 - np.array(piece.flat.middle)).T) - 0.5 * np.hypot(*steps.T))
        turn = math.radians(blank.lean_deg)
        x, y = steps[near]
        across = x * math.cos(turn) - y * math.sin(turn)
        assert abs(across) < 0.05 * math.hypot(x, y)


def test_a_placed_outline_is_turned_then_moved():
    piece = production().pieces[0]
    placed = Placed(piece, Placement(key=piece.id, turn_deg=90.0, dx_mm=100.0, dy_mm=20.0))
    x0, y0, x1, y1 = piece.flat.outline.bounds()
    assert placed.outline.bounds() == pytest.approx((100 - y1, 20 + x0, 100 - y0, 20 + x1))


def test_a_misfit_names_the_vinyls_table():
    text = JOB.replace("width  = 305\nlength = 400", "width  = 60\nlength = 60")
    with pytest.raises(NestError, match=r"week.toml[:0-9]*: \[vinyl.brass\]: piece R-31.1.edge.1 "):
        lay_out(production(text), "sheet", lay_in_reading_order, prove)


def test_a_layout_that_fails_its_proof_is_not_used():
    def lose_one(blanks, stock):
        whole = lay_in_reading_order(blanks, stock)
        return Layout((SheetLayout(whole.sheets[0].placements[1:]), *whole.sheets[1:]))

    with pytest.raises(NestError, match="R-31.1.edge.1"):
        lay_out(production(), "sheet", lose_one, prove)


def test_a_very_long_roll_is_told():
    made = production(JOB.replace("quantity = 3", "quantity = 400"))
    sheets = lay_out(made, "strips", lay_in_reading_order, prove)
    long = [sheet.name for sheet in sheets if sheet.length_mm > 5080]
    assert long and [notice.code for notice in sheet_notices(sheets)] == ["long-page"] * len(long)


ROLL = Vinyl(name="ink", colour="#20242c", width_mm=610.0)
SHEET = replace(ROLL, length_mm=400.0, margin_mm=4.0)


@pytest.mark.parametrize(
    ("vinyl", "cutter", "width", "length", "by_cutter"),
    [
        (ROLL, Cutter(), 610.0, None, False),
        (ROLL, Cutter(cut_width_mm=300.0), 310.0, None, True),
        (ROLL, Cutter(cut_width_mm=600.0), 610.0, None, False),
        (ROLL, Cutter(longest_run_mm=900.0), 610.0, 910.0, True),
        (SHEET, Cutter(cut_width_mm=300.0, longest_run_mm=200.0), 308.0, 208.0, True),
        (SHEET, Cutter(longest_run_mm=1000.0), 610.0, 400.0, False),
    ],
)
def test_the_cutter_limits_what_is_cut_of_a_vinyl(vinyl, cutter, width, length, by_cutter):
    stock = stock_of(vinyl, cutter)
    assert (stock.width_mm, stock.length_mm, stock.by_cutter) == (width, length, by_cutter)
    assert (stock.margin_mm, stock.gap_mm) == (vinyl.margin_mm, vinyl.piece_gap_mm)


LAYS = {"rows": lay_in_reading_order, "nest": partial(nest, effort="quick")}


@pytest.mark.parametrize("lay", LAYS.values(), ids=LAYS)
def test_a_roll_is_cut_in_runs_no_longer_than_the_cutter_takes(lay):
    text = JOB.replace("quantity = 3", "quantity = 20").replace("length = 400\n", "")
    whole = lay_out(production(text), "sheet", lay, prove)
    made = production(text + "[cutter]\ncut_width = 150\nlongest_run = 260\n")
    sheets = lay_out(made, "sheet", lay, prove)
    assert [sheet.name for sheet in whole] == ["sheet-brass-1", "sheet-ink-1"]
    brass = [sheet for sheet in sheets if sheet.vinyl.name == "brass"]
    assert [sheet.name for sheet in brass] == [f"sheet-brass-{number}" for number in range(1, len(brass) + 1)]
    assert len(brass) > 1
    for sheet in sheets:
        assert sheet.length_mm == sheet.used_length_mm <= 260 + 10
        bounds = np.array([placed.outline.bounds() for placed in sheet.placed])
        assert bounds[:, :2].min() > 5 - 1e-6 and bounds[:, 2].max() < 155 + 1e-6
        assert sheet.used_length_mm == pytest.approx(bounds[:, 3].max() + 5, abs=0.01)
        # the least length of the width that is cut, and what is thrown away of all of it
        areas = [placed.piece.flat.area_mm2 for placed in sheet.placed]
        assert sheet.bound_mm > sum(areas) / (150 + 1.5) - 1.5 + 10
        assert sheet.tightness == pytest.approx(sheet.bound_mm / sheet.used_length_mm)
        assert sheet.waste == pytest.approx(1 - sum(areas) / (sheet.vinyl.width_mm * sheet.length_mm), abs=1e-3)
        assert 0 < sheet.tightness <= 1
    assert sum(len(sheet.placed) for sheet in sheets) == len(made.pieces)


def test_a_layout_past_the_cutters_run_fails_its_proof():
    made = production(JOB + "[cutter]\nlongest_run = 260\n")
    long = production(JOB)
    roll = {"ink": stock_of(long.job.vinyls["ink"])}

    def on_a_whole_roll(blanks, stock):
        return lay_in_reading_order(blanks, roll["ink"])

    with pytest.raises(NestError, match="reaches past the sheet's margin"):
        lay_out(replace_vinyls(made, "ink"), "sheet", on_a_whole_roll, prove)


def replace_vinyls(made, name: str):
    """Only the pieces of one vinyl, each many times."""
    pieces = [replace(piece, id=f"{piece.id}-{n}") for n in range(40) for piece in made.of_vinyl(name)]
    return replace(made, pieces=tuple(pieces))


def test_a_misfit_of_the_cutter_is_told_as_such():
    text = JOB + "[cutter]\ncut_width = 100\nlongest_run = 100\n"
    with pytest.raises(NestError) as caught:
        lay_out(production(text), "sheet", lay_in_reading_order, prove)
    assert "the cutter takes 100.0 x 100.0 mm whichever way it is turned: use a larger cutter, or split = true" in str(
        caught.value
    )


MAT = JOB + """
[[offcut]]
vinyl = "brass"
width = 148.53
length = 21
quantity = 2

[[offcut]]
vinyl = "brass"
width = 305
length = 30

[[offcut]]
vinyl = "ink"
width = 100
length = 60

[cutter]
mat = { width = 300, length = 250 }
"""


def on_mats():
    made = production(MAT)
    return made, lay_out(made, "sheet", partial(nest, effort="quick"), prove)


def test_offcuts_of_one_vinyl_lie_on_one_mat_and_each_piece_within_its_offcuts_margins():
    made, sheets = on_mats()
    mats = [sheet for sheet in sheets if sheet.is_on_mat]
    assert (mats[0].vinyl.name, len(mats[0].offcuts)) == ("brass", 2)
    assert {sheet.vinyl.name for sheet in sheets if len(sheet.offcuts) > 1} == {"brass"}
    for sheet in mats:
        assert (sheet.width_mm, sheet.length_mm) == (300, 250)
        for placed in sheet.placed:
            x0, y0, x1, y1 = placed.outline.bounds()
            within = [
                offcut.x_mm + 5 - 1e-3 <= x0
                and x1 <= offcut.x_mm + offcut.width_mm - 5 + 1e-3
                and offcut.y_mm + 5 - 1e-3 <= y0
                and y1 <= offcut.y_mm + offcut.used_length_mm - 5 + 1e-3
                for offcut in sheet.offcuts
            ]
            assert sum(within) == 1
        own = sum(placed.piece.flat.area_mm2 for placed in sheet.placed)
        spent = sum(offcut.width_mm * offcut.used_length_mm for offcut in sheet.offcuts)
        assert sheet.waste == pytest.approx(1 - own / spent, abs=1e-3)
        assert sheet.bound_mm <= sheet.used_length_mm <= sheet.length_mm
    assert sorted(placed.piece.id for sheet in sheets for placed in sheet.placed) == sorted(p.id for p in made.pieces)


def test_an_offcut_larger_than_the_mat_is_cut_by_itself_and_that_is_told():
    _, sheets = on_mats()
    (alone,) = [sheet for sheet in sheets if sheet.offcuts and not sheet.is_on_mat]
    assert (alone.width_mm, alone.length_mm) == (305, 30)
    (notice,) = sheet_notices(sheets, (300.0, 250.0))
    assert notice.code == "off-mat" and alone.name in notice.message and "300 x 250 mm" in notice.message
    assert sheet_notices(sheets) == ()


def test_sheets_are_numbered_through_offcuts_first():
    _, sheets = on_mats()
    for vinyl in ("brass", "ink"):
        own = [sheet for sheet in sheets if sheet.vinyl.name == vinyl]
        assert [sheet.name for sheet in own] == [f"sheet-{vinyl}-{n}" for n in range(1, len(own) + 1)]
        assert [bool(sheet.offcuts) for sheet in own] == sorted((bool(sheet.offcuts) for sheet in own), reverse=True)


@pytest.mark.parametrize(
    ("vinyl", "cutter", "total", "lengths"),
    [
        (replace(ROLL, length_left_mm=700.0), Cutter(), 700.0, [700.0]),
        (replace(ROLL, length_left_mm=700.0), Cutter(longest_run_mm=300.0), 700.0, [310.0]),
        (replace(ROLL, length_left_mm=200.0), Cutter(longest_run_mm=300.0), 200.0, [200.0]),
        (replace(SHEET, sizes=(SheetSize(90.0, 500.0, 2),)), Cutter(longest_run_mm=450.0), None, [400.0, 458.0]),
    ],
)
def test_what_there_is_of_a_vinyl(vinyl, cutter, total, lengths):
    offcuts = [Offcut(vinyl="ink", width_mm=50.0, length_mm=60.0, quantity=3), Offcut(vinyl="brass", width_mm=50.0, length_mm=60.0)]
    first, *new = supply_of(vinyl, cutter, offcuts).lots
    assert (first.stock.width_mm, first.stock.length_mm, first.quantity, first.is_offcut) == (50, 60, 3, True)
    assert [lot.stock.length_mm for lot in new] == lengths
    assert new[0].total_mm == total and not any(lot.is_offcut for lot in new)
    assert new[0].stock == stock_of(vinyl, cutter)
    assert new[-1].stock.by_cutter == (cutter.longest_run_mm is not None and lengths[-1] in (310.0, 458.0))


def test_a_ring_that_is_longer_than_what_is_left_of_the_roll_is_split_for_it():
    ring = JOB.replace('kind  = "diagonal"\nstart = { around = 30, down = "10%" }\nend   = { around = 300, down = "90%" }\npath  = "even-drop"', 'kind  = "ring"\ndown  = 70')  # fmt: skip
    assert ring != JOB
    whole = [piece for piece in production(ring).pieces if piece.line == "swirl"]
    split = [piece for piece in production(ring.replace("width  = 200", "width  = 90\nlength_left = 180")).pieces if piece.line == "swirl"]
    assert len(split) > len(whole)
