"""Nesting: what every nest must keep, and how tight it comes out on shapes whose best is known."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from blanks import arc, at_origin, blanks_of, ell, frame, jobs, mitred, strip, turned
from hypothesis import given, settings
from shapely.geometry import LineString, Polygon

from stripegen.errors import NestError
from stripegen.layout import Blank, Stock, bound_mm, tightness, used_length_mm
from stripegen.nest import nest
from stripegen.nest_shapes import CELL_MM, group, grow_mm, profile
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)


def nested(blanks, stock=ROLL, effort="quick"):
    """A proved nest: the sheets' used lengths and the layout."""
    layout = nest(blanks, stock, effort)
    prove(layout, blanks, stock)
    by_key = {blank.key: blank for blank in blanks}
    return [used_length_mm(sheet, by_key, stock) for sheet in layout.sheets], layout


def tight(blanks, stock=ROLL, effort="normal"):
    _, layout = nested(blanks, stock, effort)
    return tightness(layout.sheets[0], {blank.key: blank for blank in blanks}, stock)


@settings(max_examples=50, deadline=None)
@given(jobs())
def test_every_nest_is_proved_bounded_no_worse_than_rows_and_the_same_again(job):
    blanks, stock = job
    lengths, layout = nested(blanks, stock)
    by_key = {blank.key: blank for blank in blanks}
    for length, sheet in zip(lengths, layout.sheets, strict=True):
        assert length >= bound_mm((by_key[p.key] for p in sheet.placements), stock) - 1e-6
    rows = lay_in_reading_order(blanks, stock)
    rows_last = used_length_mm(rows.sheets[-1], by_key, stock)
    assert (len(lengths), lengths[-1]) <= (len(rows.sheets), rows_last)
    assert nest(blanks, stock, "quick") == layout


def test_strips_that_tile_the_width_tile_it():
    """Thirty lanes of three: the gaps between come to the same as at the lanes' ends."""
    blanks = blanks_of(strip(8.5, 97.3333), count=90)
    (length,), _ = nested(blanks)
    assert length == pytest.approx(10 + 30 * 10 - 1.5, abs=0.1)


def test_strips_of_different_lengths_are_matched_to_fill_lanes():
    pairs = [strip(5, long) for long in range(150, 280, 5)]
    pairs += [strip(5, 295 - 1.5 - long) for long in range(150, 280, 5)]
    assert tight(blanks_of(*pairs)) > 0.93


def test_alike_arcs_nest_into_each_other():
    blanks = blanks_of(arc(4, 250, 0.9), count=40)
    (length,), _ = nested(blanks)
    (rows,) = lay_in_reading_order(blanks, ROLL).sheets
    assert length < 0.3 * used_length_mm(rows, {blank.key: blank for blank in blanks}, ROLL)


def test_slanted_ends_interlock():
    """Ends at 45 degrees: boxes end to end would take 8 mm more a strip than they need."""
    blanks = blanks_of(mitred(8, 92, 8, 8), count=90)
    boxes = tight(blanks_of(strip(8, 100), count=90))
    assert tight(blanks) > 0.88
    assert nested(blanks)[0][0] < nested(blanks_of(strip(8, 100), count=90))[0][0]
    assert boxes > 0.85


def test_strips_drawn_askew_are_laid_straight_if_they_are_free_to_turn():
    assert tight(blanks_of(turned(strip(5, 140), 33), count=60)) > 0.9


def test_a_mixed_week_is_tight():
    outlines = [strip(w, l) for w, l in [(3, 151), (4, 120), (5, 93), (8, 178), (4, 88), (3, 210)]]
    outlines += [mitred(5, 110, 5, -4), mitred(4, 130, 4, 4), arc(4, 400, 0.4), arc(5, 350, 0.5)]
    assert tight(blanks_of(*outlines, count=9)) > 0.82


@pytest.mark.parametrize(("turns", "lean", "allowed"), [("upright", 0, {0}), ("along-flip", 57, {57, 237})])
def test_grain_keeps_its_turns(turns, lean, allowed):
    blanks = blanks_of(turned(strip(4, 100), -57), arc(4, 100, 1.0), count=8, turns=turns, lean_deg=lean)
    _, layout = nested(blanks)
    assert {p.turn_deg for sheet in layout.sheets for p in sheet.placements} <= allowed


def test_the_fewest_sheets():
    """Ten strips fill a sheet to the last; thirty take three sheets."""
    stock = Stock(width_mm=110, length_mm=110, margin_mm=5, gap_mm=2)
    blanks = blanks_of(strip(8.2, 100), count=30)
    lengths, _ = nested(blanks, stock)
    assert len(lengths) == 3


def test_the_last_sheet_is_as_short_as_can_be():
    stock = Stock(width_mm=110, length_mm=110, margin_mm=5, gap_mm=2)
    lengths, _ = nested(blanks_of(strip(8.2, 100), count=12), stock)
    assert len(lengths) == 2
    assert min(lengths) == pytest.approx(5 + 2 * 8.2 + 2 + 5, abs=0.01)


def test_a_piece_that_just_fits_is_laid_and_one_a_hair_larger_is_not():
    stock = Stock(width_mm=100, length_mm=80, margin_mm=5, gap_mm=1.5)
    for outline in (strip(90, 70), strip(70, 90)):
        nested(blanks_of(outline), stock)
    nested(blanks_of(strip(89.98, 69.98), slack_mm=0.01), stock)
    for outline, slack in ((strip(90.0001, 70), 0), (strip(89.99, 69.99), 0.01)):
        with pytest.raises(NestError):
            nest(blanks_of(outline, slack_mm=slack), stock)


def test_a_piece_that_fits_only_askew_is_laid_askew():
    stock = Stock(width_mm=200, length_mm=200, margin_mm=5, gap_mm=1.5)
    for outline in (strip(5, 260), arc(5, 380, 0.68), turned(strip(5, 262), 20)):
        lengths, _ = nested(blanks_of(outline, count=2), stock)
        assert len(lengths) <= 2


def test_pieces_longer_than_the_roll_is_wide_lie_along_it():
    (length,), _ = nested(blanks_of(strip(5, 900), arc(5, 900, 0.8), count=6))
    assert length < 1100


def test_misfits_are_told_by_shape_before_the_search():
    stock = Stock(width_mm=306, length_mm=300, margin_mm=5, gap_mm=2)
    blanks = [Blank(key=key, outline=strip(5, 430)) for key in ("R-31.1.edge.1", "R-31.2.edge.1")]
    blanks.append(Blank(key="R-31.1.belt.1", outline=strip(6, 430)))
    calls = []
    with pytest.raises(NestError) as caught:
        nest([*blanks, *blanks_of(strip(5, 50), count=3)], stock, progress=calls.append)
    lines = str(caught.value).splitlines()
    assert [line.split(";")[0] for line in lines] == [
        "piece R-31.1.edge.1 (with 1 more like it) is 5.0 x 430.0 mm",
        "piece R-31.1.belt.1 is 6.0 x 430.0 mm",
    ]
    assert calls == []
    with pytest.raises(NestError, match="the roll takes 295.0 mm across as its grain|lying as its grain asks"):
        nest(blanks_of(strip(300, 20), turns="upright"), ROLL)


def test_what_is_asked_wrongly_is_refused():
    with pytest.raises(NestError, match="effort"):
        nest(blanks_of(strip(5, 50)), ROLL, "utmost")
    with pytest.raises(NestError, match="twice"):
        nest(blanks_of(strip(5, 50)) * 2, ROLL)
    assert nest([], ROLL).sheets == ()


def test_progress_goes_from_0_to_1():
    shares = []
    blanks = blanks_of(strip(5, 100), arc(4, 300, 0.5), count=40)
    nest(blanks, Stock(width_mm=160, length_mm=200, margin_mm=5, gap_mm=1.5), "quick", shares.append)
    assert shares == sorted(shares)
    assert shares[0] == 0
    assert shares[-1] == 1


@pytest.mark.parametrize("outlines", [[strip(5, 100), strip(4, 73)], [arc(4, 150, 0.9), arc(5, 90, 1.2)]])
def test_progress_goes_on_while_the_last_box_is_searched(outlines):
    shares = []
    nest(blanks_of(*outlines, count=30), Stock(width_mm=160, length_mm=None, margin_mm=5, gap_mm=1.5), "quick", shares.append)
    assert shares == sorted(shares)
    assert any(0.4 < share < 1 for share in shares)


def test_the_layout_does_not_hang_on_the_hash_seed():
    program = (
        "from blanks import *; from stripegen.nest import nest; from stripegen.layout import Stock\n"
        "blanks = blanks_of(strip(4, 90), mitred(5, 80, 5, 3), arc(4, 120, 0.9), turned(strip(3, 70), 20), count=7)\n"
        "print(nest(blanks, Stock(width_mm=160, length_mm=250, margin_mm=5, gap_mm=1.5)))"
    )
    here = Path(__file__).parent
    runs = []
    for seed in ("1", "2"):
        env = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": f"{here}{os.pathsep}{here.parent}"}
        done = subprocess.run([sys.executable, "-c", program], env=env, capture_output=True, text=True, check=True)
        runs.append(done.stdout)
    assert runs[0] == runs[1]
    assert "Placement" in runs[0]


def test_holes_stay_empty_and_their_rims_clear():
    outline, holes = frame(60, 40, 8)
    blanks = blanks_of(outline, count=4, holes=holes)
    nested(blanks)


@pytest.mark.parametrize(
    "outline",
    [arc(4, 60, 2.8), arc(3, 300, 0.5), mitred(6, 40, 5, -3), ell(5, 50, 30), turned(strip(4, 80), 73.3)],
)
def test_a_profile_holds_its_shape_and_little_more(outline):
    """Against the shape itself, cut into slices finer than a cell."""
    ring = np.array(outline)
    low, high = profile(ring, CELL_MM)
    shape = Polygon(outline)
    wasted = []
    for u in np.arange(0.01, ring[:, 0].max(), 0.037):
        cut = shape.intersection(LineString([(u, -1), (u, 1000)]))
        cell = min(int(u / CELL_MM), len(low) - 1)
        share = u / CELL_MM - cell
        floor, top = ((edge[cell] * (1 - share, share)).sum() for edge in (low, high))
        _, bottom, _, over = cut.bounds
        assert floor <= bottom + 1e-9
        assert top >= over - 1e-9
        wasted += [bottom - floor, top - over]
    assert np.median(wasted) < 0.01


def turned_about_box(outline, pose) -> Polygon:
    """The bare outline where it lies in its grown pose."""
    cos, sin = math.cos(math.radians(pose.turn_deg)), math.sin(math.radians(pose.turn_deg))
    return Polygon(np.array(outline) @ [[cos, sin], [-sin, cos]] - pose.corner)


def test_shapes_are_grown_by_half_the_gap_at_least_and_alike_ones_are_one():
    blanks = blanks_of(arc(4, 60, 1.5), mitred(6, 40, 5, -3), count=3, slack_mm=0.01)
    shapes = group(blanks, ROLL)
    assert [shape.keys for shape in shapes] == [["p0", "p1", "p2"], ["p3", "p4", "p5"]]
    for shape in shapes:
        for pose in shape.poses("across"):
            bare = turned_about_box(shape.blank.outline, pose)
            apart = Polygon(pose.ring).exterior.distance(bare)
            assert apart == pytest.approx(grow_mm(ROLL, 0.01, pose.turn_deg), abs=1e-6)
            assert apart >= 0.76 - 1e-7
            assert pose.area == pytest.approx(bare.buffer(apart, quad_segs=64).area, rel=2e-3)


def test_an_odd_shape_may_be_anything_simple():
    star = at_origin(
        [((9 if k % 2 else 20) * math.cos(k * math.pi / 5), (9 if k % 2 else 20) * math.sin(k * math.pi / 5)) for k in range(10)]
    )
    nested(blanks_of(star, at_origin([(0, 0), (30, 2), (3, 18)]), count=9))
