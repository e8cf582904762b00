"""Distances between lines against plain trigonometry on the cone and the cylinder."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from profiled import PROFILED, turned
from strategies import a_cup, cups, lines

from stripegen.decoration import decorate
from stripegen.errors import JobError
from stripegen.shapes import FULL_TURN
from stripegen.spacing import spacing_lines, spacing_of, spacing_rows
from stripegen.spec import Chevron, Cup, Diagonal, Down, Keepout, Line, Pattern, Repeat, Ring, Seam, Vertical

CUPS = {
    "narrower": a_cup(43.0, 31.0, 152.0),
    "wider": a_cup(31.0, 45.0, 120.0),
    "plain": a_cup(40.0, 40.0, 110.0),
}
TAPERS = st.sampled_from(sorted(CUPS))


def spaced(cup: Cup, *laid: Line, meridians=None):
    return spacing_of(decorate(cup, Pattern(name="p", lines=laid)), meridians)


def slope(cup: Cup) -> float:
    return (cup.base_radius_mm - cup.rim_radius_mm) / cup.wall_mm


def radius(cup: Cup, down_mm: float) -> float:
    return cup.rim_radius_mm + slope(cup) * down_mm


def turn_of_strip(cup: Cup, down_mm: float, width_mm: float) -> float:
    """How far round a straight strip about a meridian reaches at a level.

    Laid flat, the level is a circle about the apex and each edge a line at half the width from it: the sine
    of the flat angle is half the width over the distance from the apex.
    """
    k, r = abs(slope(cup)), radius(cup, down_mm)
    return width_mm / r if k == 0 else 2 * math.asin(width_mm / 2 * k / r) / k


def pins(count: int, width_mm: float = 3.0, **more) -> Vertical:
    return Vertical(name="pin", vinyl="v", width_mm=width_mm, repeat=Repeat(count=count), **more)


@given(TAPERS, st.integers(1, 24), st.floats(0.5, 5.0), st.integers(1, 2), st.floats(0.5, 2.0))
@settings(deadline=None, max_examples=40)
def test_even_verticals_leave_the_rest_of_the_girth(kind, count, width, stripes, gap):
    cup = CUPS[kind]
    full = stripes * width + (stripes - 1) * gap
    if count * full > 0.9 * FULL_TURN * min(cup.rim_radius_mm, cup.base_radius_mm):
        count = 1
    spacing = spaced(cup, pins(count, width, stripes=stripes, gap_mm=gap))
    for level, down in zip(spacing.levels, (12.0, (12 + cup.wall_mm - 6) / 2, cup.wall_mm - 6), strict=True):
        r = radius(cup, down)
        clear = r * (FULL_TURN / count - turn_of_strip(cup, down, full))
        assert level.down_mm == pytest.approx(down, abs=1e-9)
        assert level.girth_mm == pytest.approx(FULL_TURN * r, abs=1e-9)
        assert len(level.gaps) == len(level.crossings) == count
        assert [found.clear_mm for found in level.gaps] == pytest.approx([clear] * count, abs=1e-6)
        for number, found in enumerate(level.gaps):
            start = number * FULL_TURN / count + turn_of_strip(cup, down, full) / 2
            assert found.from_rad == pytest.approx(start, abs=1e-7)
            assert (found.to_rad - found.from_rad) * r == pytest.approx(clear, abs=1e-6)


@given(TAPERS, st.integers(2, 20), st.floats(0.5, 4.0))
@settings(deadline=None, max_examples=15)
def test_narrowing_verticals_keep_their_share_of_the_girth(kind, count, width):
    cup = CUPS[kind]
    spacing = spaced(cup, pins(count, width, narrows=True))
    for level in spacing.levels:
        clear = radius(cup, level.down_mm) * (FULL_TURN / count - width / cup.rim_radius_mm)
        assert [gap.clear_mm for gap in level.gaps] == pytest.approx([clear] * count, abs=1e-6)


@pytest.mark.parametrize("name", PROFILED)
def test_narrowing_verticals_keep_their_share_of_the_girth_of_any_wall(name):
    cup, space = PROFILED[name], turned(PROFILED[name])
    spacing = spaced(cup, pins(7, 4.0, narrows=True), Ring(name="r", vinyl="v", width_mm=3.0, downs=(Down(90.0),)))
    downs = (12.0, (12.0 + space.length - 6.0) / 2, space.length - 6.0)
    for level, down in zip(spacing.levels, downs, strict=True):
        girth = space.girth(down)
        assert level.down_mm == pytest.approx(down, abs=1e-6)
        assert level.girth_mm == pytest.approx(girth, abs=1e-4)
        clear = girth / 7 - 4.0 * girth / space.girth(0.0)
        assert [gap.clear_mm for gap in level.gaps] == pytest.approx([clear] * 7, abs=1e-4)
    for meridian in spacing.meridians:
        assert [drop.clear_mm for drop in meridian.drops] == pytest.approx([88.5, space.length - 91.5], abs=1e-6)


def test_gaps_and_lines_make_up_the_girth_and_neighbours_follow_each_other_to_the_right():
    cup = CUPS["narrower"]
    places = tuple(map(math.radians, (350.0, 8.0, 40.0, 200.0)))
    line = Vertical(name="bar", vinyl="v", width_mm=4.0, around=places)
    spacing = spaced(cup, line)
    assert [(gap.left, gap.right) for gap in spacing.levels[1].gaps] == [
        ("bar 2", "bar 3"),
        ("bar 3", "bar 4"),
        ("bar 4", "bar 1"),
        ("bar 1", "bar 2"),
    ]
    for level in spacing.levels:
        lines = sum(crossing.to_rad - crossing.from_rad for crossing in level.crossings)
        assert lines * level.girth_mm / FULL_TURN + sum(gap.clear_mm for gap in level.gaps) == pytest.approx(
            level.girth_mm, abs=1e-6
        )
        last = level.gaps[-1]
        half = turn_of_strip(cup, level.down_mm, 4.0) / 2
        assert math.degrees(last.from_rad) == pytest.approx(350 + math.degrees(half), abs=1e-5)
        assert math.degrees(last.to_rad) == pytest.approx(368 - math.degrees(half), abs=1e-5)


def test_lines_that_overlap_say_by_how_much():
    cup = CUPS["plain"]
    turn = 3.0 / 40.0
    lines = [
        Vertical(name=name, vinyl="v", width_mm=5.0, around=(around,))
        for name, around in (("a", 0.0), ("b", turn))
    ]
    first, second = spaced(cup, *lines).levels[0].gaps
    assert (first.left, first.right, second.left, second.right) == ("a", "b", "b", "a")
    assert first.clear_mm == pytest.approx(-2.0, abs=1e-6)
    assert second.clear_mm == pytest.approx(FULL_TURN * 40 - 8.0, abs=1e-6)


def test_a_line_that_lies_within_another_is_not_what_the_next_gap_starts_at():
    cup = CUPS["plain"]
    wide = Vertical(name="wide", vinyl="v", width_mm=20.0, around=(0.0,))
    thin = Vertical(name="thin", vinyl="v", width_mm=2.0, around=(0.0,))
    gaps = spaced(cup, wide, thin).levels[1].gaps
    assert {(gap.left, gap.right): round(gap.clear_mm, 5) for gap in gaps} == {
        ("wide", "wide"): round(FULL_TURN * 40 - 20, 5),
        ("wide", "thin"): -11.0,
    }


def test_openings_are_the_rim_gap_less_the_base_gap():
    cup = CUPS["narrower"]
    spacing = spaced(cup, pins(12))
    taper = FULL_TURN / 12 * (radius(cup, 12.0) - radius(cup, 146.0))
    strips = [radius(cup, down) * turn_of_strip(cup, down, 3.0) for down in (12.0, 146.0)]
    assert len(spacing.openings) == 12
    for opening in spacing.openings:
        assert opening.opens_mm == pytest.approx(taper - strips[0] + strips[1], abs=1e-6)
    assert not spaced(cup, Ring(name="r", vinyl="v", width_mm=3.0, downs=(Down(60.0),))).openings


def test_what_a_keepout_parts_is_still_one_copy():
    keepout = Keepout(around=math.pi / 2, width_mm=20.0, from_mm=40.0, to_mm=110.0)
    cup = a_cup(40.0, 40.0, 152.0, keepouts=(keepout,))
    spacing = spaced(cup, pins(4))
    assert [len(level.crossings) for level in spacing.levels] == [4, 3, 4]
    assert [gap.left for gap in spacing.levels[1].gaps] == ["pin 1", "pin 3", "pin 4"]
    assert [gap.left for gap in spacing.levels[2].gaps] == ["pin 1", "pin 2", "pin 3", "pin 4"]


def test_a_line_without_copies_goes_by_its_name():
    (gap,) = spaced(CUPS["plain"], Vertical(name="bar", vinyl="v", width_mm=4.0)).levels[0].gaps
    assert (gap.left, gap.right) == ("bar", "bar")
    assert gap.clear_mm == pytest.approx(FULL_TURN * 40 - 4, abs=1e-6)


def test_copies_are_told_apart_where_they_cross():
    cup = CUPS["plain"]
    cross = Diagonal(
        name="x",
        vinyl="v",
        width_mm=2.0,
        start_around=0.0,
        start_down=Down(0.0, is_share=True),
        end_around=1.0,
        end_down=Down(1.0, is_share=True),
        mirror=True,
    )
    rim, _, base = spaced(cup, cross).levels
    # the first begins at 0, its cut to either side of it
    assert [crossing.label for crossing in rim.crossings] == ["x 2", "x 1"]
    assert {gap.left for gap in base.gaps} == {"x 1", "x 2"}
    middles = {c.label: (c.from_rad + c.to_rad) / 2 for c in base.crossings}
    assert math.remainder(middles["x 1"] - 1.0, FULL_TURN) == pytest.approx(0, abs=1e-6)
    assert math.remainder(middles["x 2"], FULL_TURN) == pytest.approx(0, abs=1e-6)


def test_the_legs_of_a_chevron_on_a_cylinder():
    cup = CUPS["plain"]
    middle = (12 + 110 - 6) / 2
    wave = Chevron(
        name="wave",
        vinyl="v",
        width_mm=3.0,
        top=Down(middle - 15),
        bottom=Down(middle + 15),
        points=5,
        joint=0.0,
    )
    gaps = spaced(cup, wave).levels[1].gaps
    half_wave = math.pi * 40 / 5
    level_width = 3.0 * math.hypot(half_wave, 30) / 30  # of a leg: its width over the cosine of its heading
    assert len(gaps) == 10
    assert [gap.clear_mm for gap in gaps] == pytest.approx([half_wave - level_width] * 10, abs=1e-6)


def test_a_point_at_the_joint_is_one_crossing():
    """The level runs between the outer and the inner edge of the upper points."""
    cup = CUPS["plain"]
    middle = (12 + 110 - 6) / 2
    for joint in (0.0, math.pi):
        wave = Chevron(
            name="wave",
            vinyl="v",
            width_mm=3.0,
            top=Down(middle),
            bottom=Down(middle + 30),
            points=4,
            joint=joint,
        )
        level = spaced(cup, wave).levels[1]
        half_wave = math.pi * 40 / 4
        tip = 3.0 / 2 * math.hypot(half_wave, 30) / half_wave  # the outer edge's point over the centre's
        across = 2 * tip * half_wave / 30
        assert len(level.crossings) == 4
        assert [gap.clear_mm for gap in level.gaps] == pytest.approx([2 * half_wave - across] * 4, abs=1e-6)


def test_rings_lie_their_places_apart():
    cup = CUPS["narrower"]
    rings = Ring(name="hoop", vinyl="v", width_mm=4.0, downs=(Down(30.0), Down(47.0), Down(90.0)))
    stripes = Ring(name="pair", vinyl="v", width_mm=2.0, stripes=2, gap_mm=1.5, downs=(Down(120.0),))
    spacing = spaced(cup, rings, stripes, pins(8))
    (meridian,) = spacing.meridians
    assert [(drop.upper, drop.lower) for drop in meridian.drops] == [
        ("rim", "hoop 1"),
        ("hoop 1", "hoop 2"),
        ("hoop 2", "hoop 3"),
        ("hoop 3", "pair"),
        ("pair", "base"),
    ]
    clear = [30 - 2, 17 - 4, 43 - 4, 30 - 2 - 2.75, 152 - 120 - 2.75]
    assert [drop.clear_mm for drop in meridian.drops] == pytest.approx(clear, abs=1e-6)
    assert all(len(level.gaps) == 8 for level in spacing.levels)


def test_rings_under_lines_are_measured_where_they_are():
    cup = CUPS["plain"]
    edge = Vertical(name="edge", vinyl="v", width_mm=6.0, around=("front", "back"))
    ring = Ring(name="hoop", vinyl="v", width_mm=4.0, downs=(Down(30.0), Down(60.0)), under=("edge",))
    (meridian,) = spaced(cup, edge, ring).meridians
    assert meridian.around_rad == pytest.approx(math.pi / 2)  # at 0 the edge covers them
    assert [drop.clear_mm for drop in meridian.drops] == pytest.approx([28, 26, 48], abs=1e-6)


def test_chevrons_are_measured_at_their_upper_and_lower_points():
    cup = CUPS["plain"]
    wave = Chevron(
        name="wave", vinyl="v", width_mm=3.0, top=Down(45.0), bottom=Down(70.0), points=6, start=0.3
    )
    rings = Ring(name="hoop", vinyl="v", width_mm=4.0, downs=(Down(20.0), Down(95.0)))
    spacing = spaced(cup, wave, rings)
    half_wave = math.pi * 40 / 6
    tip = 1.5 * math.hypot(half_wave, 25) / half_wave
    upper, lower = spacing.meridians
    assert upper.around_rad == pytest.approx(0.3)
    assert lower.around_rad == pytest.approx(0.3 + math.pi / 6)
    assert [drop.clear_mm for drop in upper.drops][1] == pytest.approx(45 - tip - 22, abs=1e-6)
    assert [drop.clear_mm for drop in lower.drops][2] == pytest.approx(93 - 70 - tip, abs=1e-6)


def test_the_windings_of_a_spiral_on_a_cylinder():
    cup = CUPS["plain"]
    coil = Diagonal(
        name="coil",
        vinyl="v",
        width_mm=3.0,
        start_around=0.0,
        start_down=Down(20.0),
        end_around=3 * FULL_TURN,
        end_down=Down(95.0),
        path="even-drop",
    )
    (meridian,) = spaced(cup, coil, meridians=[1.0]).meridians
    girth = FULL_TURN * 40
    down_width = 3.0 * math.hypot(girth, 25) / girth
    assert [drop.clear_mm for drop in meridian.drops[1:-1]] == pytest.approx([25 - down_width] * 2, abs=1e-6)
    first = 20 + 25 / FULL_TURN - down_width / 2
    assert meridian.drops[0].clear_mm == pytest.approx(first, abs=1e-6)
    assert [stretch.label for stretch in meridian.stretches] == ["coil"] * 3


def test_a_line_on_a_further_coat_is_measured_on_the_cups_own_wall():
    cup = CUPS["narrower"]
    spacing = spaced(cup, pins(6, resin_mm=2.0))
    k = abs(slope(cup))
    for level in spacing.levels:
        coated = radius(cup, level.down_mm) + 2.0 * math.sqrt(1 - k * k)
        turn = 2 * math.asin(1.5 * k / coated) / k
        clear = radius(cup, level.down_mm) * (FULL_TURN / 6 - turn)
        assert [gap.clear_mm for gap in level.gaps] == pytest.approx([clear] * 6, abs=1e-6)


def test_leaning_seams_open_towards_the_base():
    seam = Seam(name="side", rim=1.0, base=1.2)
    cup = a_cup(40.0, 40.0, 110.0, seams={"side": seam})
    line = Vertical(name="lean", vinyl="v", width_mm=2.0, around=("front", "side"))
    spacing = spaced(cup, line)
    drift = 40 * 0.2 / 110 * (104 - 12)
    (opening,) = [opening for opening in spacing.openings if opening.left == "lean 1"]
    assert opening.opens_mm == pytest.approx(-drift, abs=1e-6)


@given(cups(keepouts=1), lines(kinds=("vertical", "diagonal", "chevron")))
@settings(deadline=None, max_examples=30)
def test_crossings_are_where_points_of_the_level_lie_in_the_line(cup, line):
    try:
        decoration = decorate(cup, Pattern(name="p", lines=(line,)))
    except JobError:
        reject()
    level = spacing_of(decoration, []).levels[1]
    scale = decoration.site.wall.mean_radius_mm
    turns = (np.arange(4000) + 0.5) / 4000 * FULL_TURN
    inside = np.zeros(len(turns), dtype=bool)
    for shape in decoration.lines[0].region:
        low, high = shape.around_range
        for turn in range(math.floor((low - 7) / FULL_TURN), math.ceil((high + 7) / FULL_TURN)):
            points = shapely.points(scale * (turns + turn * FULL_TURN), level.down_mm)
            inside |= shapely.contains(shape.polygon, points)
    told = np.zeros(len(turns), dtype=bool)
    for crossing in level.crossings:
        for turn in (0.0, FULL_TURN):
            told |= (crossing.from_rad < turns + turn) & (turns + turn < crossing.to_rad)
    if not level.crossings and inside.any():
        assert inside.all()  # what covers the level all round crosses it nowhere
        return
    # the polygon may leave the true edges by 0.002 mm, and a point may lie in between
    assert np.count_nonzero(inside != told) <= 4 * len(level.crossings)


@pytest.fixture
def mixed_spacing():
    cup = CUPS["narrower"]
    ring = Ring(name="hoop", vinyl="v", width_mm=4.0, downs=(Down(30.0), Down(60.0)))
    edge = Vertical(name="edge", vinyl="v", width_mm=6.0, around=(0.1, 0.1 + math.pi))
    return spaced(cup, edge, ring)


def test_the_table_is_plain_and_names_every_figure(mixed_spacing):
    lines = spacing_lines(mixed_spacing)
    text = "\n".join(lines)
    assert text.isascii() and not any(line != line.rstrip() for line in lines)
    first_table = lines[: lines.index("")]
    for level in mixed_spacing.levels:
        for gap in level.gaps:
            (row,) = [line for line in first_table if f"{gap.left} to {gap.right}" in line]
            assert f"{gap.clear_mm:.2f}" in row.split()
    for drop in mixed_spacing.meridians[0].drops:
        row = next(line for line in lines if f"{drop.upper} to {drop.lower}" in line)
        assert row.endswith(f" {drop.clear_mm:.2f}")


def test_the_table_tells_many_equal_gaps_once():
    lines = spacing_lines(spaced(CUPS["narrower"], pins(24)))
    row, pairs, *_ = [line for line in lines if "pin" in line]
    assert row.split("  ")[1] == pairs.split("  ")[1] == "pin 1 to pin 2 and on to pin 1, 24 gaps"


def test_where_lines_have_no_neighbours_only_their_clearances_are_told():
    cup = CUPS["plain"]
    dash = Vertical(name="dash", vinyl="v", width_mm=3.0, start=Down(20.0), end=Down(30.0))
    head, _, row = spacing_lines(spaced(cup, dash, meridians=[]))
    assert head.startswith("From each line to the rim")
    assert row.split() == ["dash", "20.00", "8.00", "80.00", "74.00"]


def test_rows_hold_the_same_figures_for_other_programs(mixed_spacing):
    rows = json.loads(json.dumps(spacing_rows(mixed_spacing)))
    for level, row in zip(mixed_spacing.levels, rows["levels"], strict=True):
        assert (row["name"], row["down"]) == (level.name, pytest.approx(level.down_mm, abs=1e-6))
        for gap, found in zip(level.gaps, row["gaps"], strict=True):
            assert (found["left"], found["right"]) == (gap.left, gap.right)
            assert found["clear"] == pytest.approx(gap.clear_mm, abs=1e-6)
            assert found["from"] == pytest.approx(math.degrees(gap.from_rad), abs=1e-6)
        assert [(line["line"], line["copy"]) for line in row["lines"]] == [("edge", 1), ("edge", 2)]
    assert rows["meridians"][0]["gaps"][0] == {
        "upper": "rim",
        "lower": "hoop 1",
        "from": 0.0,
        "to": 28.0,
        "clear": 28.0,
    }
    assert len(rows["openings"]) == 2
