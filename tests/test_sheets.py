"""Pieces on sheets: what the layout is told of a piece, and where it lies then."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from conftest import JOB

from stripegen.errors import NestError
from stripegen.jobfile import parse_job
from stripegen.layout import Layout, Placement, SheetLayout
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.sheets import Placed, blank_of, lay_out, sheet_notices


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
    assert blank_of(made.pieces[0], vinyl).turns == turns


def test_the_strips_grain_lays_its_middle_along_the_feed():
    """The centre line's direction at its middle, measured on the flat piece, ends up along y."""
    made = production()
    for piece in made.pieces:
        blank = blank_of(piece, replace(made.job.vinyls["brass"], grain="strip"))
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
    with pytest.raises(NestError, match=r"week.toml: \[vinyl.brass\]: piece R-31.1.edge.1 "):
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
