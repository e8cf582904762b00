"""Lines finished for a vinyl: what is weeded, what is split, and where joints stand among other lines."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from soundness import corners, measures
from strategies import CUPS, cups, lines
from test_lengthwise import ring, sash, upright, walked, zigzag

from stripegen import finishing
from stripegen.cli import main
from stripegen.decoration import decorate
from stripegen.errors import GeometryError, JobError
from stripegen.finishing import Finished, finish, fits_in
from stripegen.shapes import images
from stripegen.spec import Cup, Line, Pattern, Repeat, Vinyl
from stripegen.stock import stock_of

WIDE = Vinyl(name="wide", colour="#b8923a", width_mm=610.0)
NARROW = replace(WIDE, name="narrow", width_mm=130.0, length_mm=110.0)


def finished(cup: Cup, *pattern: Line, vinyl: Vinyl = NARROW, number: int = 0) -> Finished:
    decoration = decorate(cup, Pattern(name="p", lines=pattern))
    return finish(decoration, number, vinyl, stock_of(vinyl))


def joints(done: Finished) -> list[tuple[float, float]]:
    """From where to where, in radians, each part overlaps the next."""
    return [(after.start[0], part.end[0]) for part, after in pairwise(done.pieces)]


def test_what_fits_and_can_be_weeded_is_what_was_laid():
    pattern = Pattern(name="p", lines=(ring(40.0, split=True), sash(1.0), zigzag(name="z", split=True)))
    decoration = decorate(CUPS["coated"], pattern)
    for number in range(3):
        done = finish(decoration, number, WIDE, stock_of(WIDE))
        assert done.notices == () and done.pieces == decoration.pieces[number]
        assert all(a is b for a, b in zip(done.pieces, decoration.pieces[number], strict=True))


def test_a_line_that_may_not_be_split_is_left_too_long():
    (piece,) = finished(CUPS["coated"], ring(40.0)).pieces
    assert piece.cut_mm > 250
    assert not fits_in(stock_of(NARROW), NARROW)(piece)


def test_rings_overlap_by_their_own_overlap_zigzags_by_theirs_if_any_else_all_by_3():
    for line, overlap in (
        (ring(40.0, split=True, overlap_mm=5.0), 5.0),
        (ring(40.0, split=True, overlap_mm=0.0), 0.0),
        (zigzag(split=True), 3.0),
        (zigzag(split=True, overlap_mm=1.0), 1.0),
        (upright(1.0, split=True), 3.0),
    ):
        decoration = decorate(CUPS["coated"], Pattern(name="p", lines=(line,)))
        ((whole,),) = decoration.pieces
        vinyl = replace(NARROW, width_mm=80.0, length_mm=90.0)
        done = finish(decoration, 0, vinyl, stock_of(vinyl))
        count = len(done.pieces)
        assert count > 1
        assert sum(piece.cut_mm for piece in done.pieces) == pytest.approx(whole.cut_mm + (count - 1) * overlap)
        assert sum(piece.true_mm for piece in done.pieces) == pytest.approx(whole.true_mm)
        (notice,) = done.notices
        how = f"overlap by {overlap:g} mm" if overlap else "meet end to end"
        assert notice.message == f"one strip is too long for narrow: cut in {count} parts that {how}"


def test_joints_keep_clear_of_what_a_ring_crosses_and_of_what_lies_under_it():
    """The first two lines are crossed, the third goes under the ring: a joint shows over all of them."""
    across = (
        upright(0.0, 20.0, name="broad"),
        upright(1.4, 12.0, name="other", resin_mm=1.5),
        upright(-1.2, 25.0, name="below", under=("ring",)),
    )
    cup = CUPS["coated"]
    done = finished(cup, ring(40.0, split=True, joint=3.0), *across)
    assert len(done.pieces) >= 2
    radius = float(done.pieces[0].strip.middle[0].curve.speed(0.0))
    # the one that goes under the ring is cut away beneath it but for the tuck, and has ends beside it
    for line, around in zip(across[:2], (0.0, 1.4), strict=True):
        half = line.width_mm / 2 / radius
        for start, end in joints(done):
            gap = min(abs(math.remainder(at - around, math.tau)) for at in np.linspace(start, end, 50))
            assert gap > half


def test_joints_lie_under_a_cover_that_hides_them():
    """Half way round is just beside the cover."""
    cover = upright(0.25, 30.0, name="cover")
    decoration = decorate(CUPS["cylinder"], Pattern(name="p", lines=(cover, ring(40.0, split=True, joint=3.0))))
    laid = decoration.lines[1]

    def hidden(under: tuple[str, ...]) -> bool:
        # what is under another is cut away there but for its tuck; here it is left whole
        ring_under = replace(laid, line=replace(laid.line, under=under))
        done = finish(replace(decoration, lines=(decoration.lines[0], ring_under)), 1, NARROW, stock_of(NARROW))
        ((start, end),) = joints(done)
        aside = [abs(math.remainder(at - 0.25, math.tau)) * 40.0 for at in (start, end)]
        assert max(aside) <= 15.0 or min(aside) >= 16.0
        return max(aside) <= 15.0

    assert hidden(("cover",)) and not hidden(())


def test_a_strip_along_which_another_lies_is_not_crossed_by_it():
    done = finished(CUPS["coated"], ring(40.0, split=True), ring(40.0, 2.0, name="upon"))
    assert len(done.pieces) == 2
    crossed = upright(0.0, 3.0, name="many", repeat=Repeat(count=60))
    with pytest.raises(GeometryError, match="no joint can be placed clear of the lines that it crosses"):
        finished(CUPS["coated"], ring(40.0, split=True), crossed)


def test_other_strips_of_the_line_are_crossed_too():
    line = sash(3.0, mirror=True, split=True)
    done = finished(CUPS["coated"], line, vinyl=replace(NARROW, width_mm=90.0, length_mm=100.0))
    assert len(done.pieces) > 2
    scale = done.pieces[0].strip.middle[0].curve.wall.mean_radius_mm
    ends = [
        np.array([scale * at[0], at[1]]) for piece in done.pieces for at in (piece.start, piece.end)
    ]
    # the two cross in the meridian half way
    crossing = np.array([scale * 1.5, 0.0])
    downs = [np.interp(1.5, *walked(piece.strip)[:2]) for piece in done.pieces if piece.start[0] < 1.5 < piece.end[0]]
    crossing[1] = downs[0]
    assert min(np.hypot(*(end - crossing)) for end in ends) > 1.5


def test_copies_are_split_alike_and_looked_at_once(monkeypatch):
    calls = []
    split = finishing.split
    monkeypatch.setattr(finishing, "split", lambda *args, **more: calls.append(1) or split(*args, **more))
    line = sash(2.0, split=True, repeat=Repeat(count=6))
    done = finished(CUPS["coated"], line, vinyl=replace(NARROW, width_mm=70.0, length_mm=70.0))
    count = len(done.pieces) // 6
    assert count > 1 and len(done.pieces) == 6 * count and len(calls) == 1
    for number in range(6):
        parts = done.pieces[number * count : (number + 1) * count]
        for part, first in zip(parts, done.pieces[:count], strict=True):
            assert part.points == first.points and part.true_mm == first.true_mm
            assert part.start[0] - first.start[0] == pytest.approx(number * math.tau / 6)
            around, down, _ = walked(part.strip)
            assert (around[0], down[0]) == pytest.approx(part.start)


def test_tips_are_cut_off_and_counted():
    line = sash(5.0, width_mm=6.0, repeat=Repeat(count=3))
    done = finished(CUPS["cylinder"], line, vinyl=replace(WIDE, min_width_mm=1.5))
    whole = decorate(CUPS["cylinder"], Pattern(name="p", lines=(line,))).pieces[0]
    assert all(len(piece.points) == 6 for piece in done.pieces)
    assert all(piece.area_mm2 < before.area_mm2 for piece, before in zip(done.pieces, whole, strict=True))
    angle = math.pi / 2 - math.atan2(200.0, 60.0)
    (notice,) = done.notices
    assert notice.code == "blunted" and notice.message == (
        "6 tips are narrower than 1.5 mm, the least that wide can be weeded at: cut off, by "
        f"{0.75 / math.sin(angle / 2) - 0.75:.1f} mm at most"
    )
    assert finished(CUPS["cylinder"], line, vinyl=replace(WIDE, min_width_mm=0.0)).pieces == whole


@settings(max_examples=12)
@given(
    cup=cups(keepouts=1),
    line=lines(split=True),
    other=lines(name="other"),
    size=st.tuples(st.floats(80.0, 200.0), st.floats(80.0, 200.0)),
    grain=st.sampled_from(("none", "cup", "strip")),
)
def test_whatever_is_laid_can_be_finished(cup, line, other, size, grain):
    """Every piece is sound and fits, and the parts show what the strips did, but for what was taken of tips."""
    try:
        decoration = decorate(cup, Pattern(name="p", lines=(line, other)))
    except JobError:
        assume(False)
    vinyl = replace(NARROW, width_mm=size[0], length_mm=size[1], grain=grain)
    fits = fits_in(stock_of(vinyl), vinyl)
    try:
        done = finish(decoration, 0, vinyl, stock_of(vinyl))
    except GeometryError as error:
        assert "no joint can be placed" in str(error) or "fit no sheet" in str(error)
        return
    for piece in done.pieces:
        assert fits(piece)
        assert not corners(piece.strip.shape) and not measures(piece)
    own = [strip.shape for strip in decoration.lines[0].strips]
    low = min(shape.around_range[0] for shape in own)
    high = max(shape.around_range[1] for shape in own)
    before = shapely.union_all([shape.polygon for shape in own])
    after = shapely.union_all([piece.strip.shape.polygon for piece in done.pieces])
    codes = {notice.code for notice in done.notices}
    assert after.difference(before).area < 0.1 * (1 + len(done.pieces))
    if not codes & {"blunted", "too-narrow"}:
        assert before.difference(after).area < 0.1 * (1 + len(done.pieces))
        shown = sum(strip.true_mm for strip in decoration.lines[0].strips)
        assert sum(piece.true_mm for piece in done.pieces) == pytest.approx(shown)
    if "split" in codes:
        near = [image for strip in decoration.lines[1].strips for image in images([strip.shape], (low, high))]
        for part, after in pairwise(done.pieces):
            over = part.strip.shape.polygon.intersection(after.strip.shape.polygon)
            if part.strip.hidden and over.area > 0.1 and not {"blunted", "too-narrow"} & codes:
                crossing = [shape for shape in near if shape.polygon.intersection(over).area > 0.01]
                # not what plainly crosses it: what lies along it for half its length, its images together, may
                along = [shape for shape in crossing if shape.polygon.intersection(before).length > 0.2 * before.length]
                assert crossing == along


JOB = """
[cup.bowl]
rim    = { diameter = 120 }
base   = { diameter = 90 }
height = 90

[vinyl.brass]
colour = "#b8923a"
width  = 100
length = 150

[vinyl.ink]
colour = "#20242c"
width  = 400

[cutter]
cut_width   = 120
longest_run = 250

[pattern.belt]
[[pattern.belt.line]]
name  = "belt"
kind  = "ring"
down  = 30
width = 6
vinyl = "brass"

[[pattern.belt.line]]
name  = "band"
kind  = "ring"
down  = 50
width = 4
vinyl = "ink"

[[order]]
id = "B-1"
cup = "bowl"
pattern = "belt"
quantity = 2
"""


@pytest.mark.parametrize("command", ["strips", "nest", "preview", "guide", "check"])
def test_a_large_ring_on_a_narrow_sheet_goes_through_every_command(tmp_path, command):
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    out = [] if command == "check" else ["-o", str(tmp_path / "out")]
    result = CliRunner().invoke(main, [command, str(path), *out], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    told = "one strip is too long for brass: cut in 3 parts that overlap by 3 mm"
    begin = 'job.toml:21:1: [[pattern.belt.line]] "belt"' if command == "check" else "warning: job.toml:21:1: B-1 belt"
    assert f"{begin}: {told}" in result.output
    if command in ("strips", "nest"):
        manifest = json.loads((tmp_path / "out" / f"{command}.json").read_text())
        stem = {"strips": "strips", "nest": "sheet"}[command]
        belts = [piece for piece in manifest["pieces"] if piece["line"] == "belt" and piece["cup_no"] == 2]
        assert [piece["id"] for piece in belts] == [f"B-1.2.belt.{number}" for number in (1, 2, 3)]
        girth = math.pi * (120.0 - 30.0 * 30.0 / math.hypot(90.0, 15.0))
        assert sum(piece["true_length"] for piece in belts) == pytest.approx(girth, abs=1e-5)
        assert sum(piece["cut_length"] for piece in belts) == pytest.approx(girth + 9.0, abs=1e-5)
        for sheet in manifest["sheets"]:
            assert sheet["name"].startswith(stem) and sheet["used_length"] <= sheet["length"]
            if sheet["vinyl"] == "ink":
                assert sheet["width"] == 400.0 and sheet["length"] == sheet["used_length"] <= 260.0
