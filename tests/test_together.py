"""Pieces that keep their places to each other, from the wall to the sheet."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from strategies import a_cup

from stripegen.decoration import decorate
from stripegen.errors import GeometryError, JobError
from stripegen.jobfile import parse_job
from stripegen.nest import nest
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.sheets import lay_out
from stripegen.spec import Chevron, Diagonal, Down, Pattern, ProfilePoint, Repeat, Ring, Vertical
from stripegen.together import line_units, pattern_units

CONE = a_cup(43.0, 31.0, 152.0, resin_mm=0.8)
BENT_POINTS = (ProfilePoint(42, 150), ProfilePoint(44, 90), ProfilePoint(30, 0))
LENGTH = sum(math.dist(*pair) for pair in pairwise(BENT_POINTS))
BENT = a_cup(42.0, 30.0, LENGTH, profile=BENT_POINTS)
COMMON = {"vinyl": "v", "width_mm": 4.0}


def share(value):
    return Down(value, is_share=True)


def whole(unit):
    """The pieces of a unit in its frame."""
    return [
        shapely.Polygon(*member.flat.outline.moved(*pose).points(0.002))
        for member, pose in zip(unit.members, unit.poses, strict=True)
    ]


def pair_units(cup, line):
    laid = decorate(cup, Pattern(name="p", lines=(line,))).lines[0]
    return laid, line_units(laid, [cut.strips for cut in laid.cuts])


@pytest.mark.parametrize("cup", [CONE, BENT], ids=["cone", "bent"])
@pytest.mark.parametrize("kind", ["vertical", "diagonal", "ring"])
def test_a_pair_keeps_its_gap(cup, kind):
    line = {
        "vertical": Vertical(name="l", stripes=2, gap_mm=2.5, around=(0.3, 2.0), **COMMON),
        "diagonal": Diagonal(
            name="l", stripes=2, gap_mm=2.5, start_around=0.0, start_down=share(0.1), end_around=1.4, end_down=share(0.9), **COMMON
        ),
        "ring": Ring(name="l", stripes=2, gap_mm=2.5, downs=(share(0.3), share(0.8)), ends="upright", **COMMON),
    }[kind]
    laid, units = pair_units(cup, line)
    assert len(units) == len(laid.cuts) == (1 if kind == "diagonal" else 2)
    for unit in units:
        first, second = whole(unit)
        assert first.distance(second) == pytest.approx(2.5, abs=0.01)
        # all along: grown by half the gap and a bit they touch everywhere, so that nothing is left between
        joined = shapely.union_all([first, second]).buffer(1.26, join_style="mitre")
        assert joined.geom_type == "Polygon"
        assert not [hole for hole in joined.interiors if shapely.Polygon(hole).area > 0.1]
        assert unit.border.buffer(0.01).covers(first)
        assert unit.border.buffer(0.01).covers(second)
        assert unit.border.area == pytest.approx(first.area + second.area + 2.5 * first.length / 2, rel=0.05)


def test_members_are_the_pieces_that_they_would_be_alone():
    line = Diagonal(
        name="l", stripes=3, start_around=0.0, start_down=share(0.1), end_around=1.4, end_down=share(0.9), **COMMON
    )
    laid = decorate(CONE, Pattern(name="p", lines=(line,)))
    (unit,) = line_units(laid.lines[0], [cut.strips for cut in laid.lines[0].cuts])
    for member, alone in zip(unit.members, laid.pieces[0], strict=True):
        assert np.allclose(member.flat.points, alone.points, atol=2e-4)
        assert (member.flat.true_mm, member.flat.start, member.flat.end) == (alone.true_mm, alone.start, alone.end)


def test_copies_of_a_pair_are_units_alike():
    line = Vertical(name="l", stripes=2, repeat=Repeat(count=6), **COMMON)
    _, units = pair_units(CONE, line)
    assert len(units) == 6
    starts = [member.flat.start[0] for unit in units for member in unit.members]
    assert starts == pytest.approx([flat.start[0] for flat in decorate(CONE, Pattern(name="p", lines=(line,))).pieces[0]])


def named(cup, *lines):
    laid = decorate(cup, Pattern(name="p", lines=lines))
    return [(one.line.name, strip) for one in laid.lines for strip in one.strips]


EDGE = Vertical(name="edge", around=("front", "back"), **COMMON)
HOOP = Ring(name="hoop", downs=(share(0.2), share(0.7)), joint=2.0, ends="upright", **COMMON)


def test_what_crosses_is_one_outline_and_its_lengths_are_the_sums():
    strips = named(CONE, EDGE, HOOP)
    ((unit,), bent) = pattern_units(strips, 2.0)
    assert bent == 0
    (member,) = unit.members
    assert member.lines == ("edge", "hoop")
    assert member.flat.cut_mm == pytest.approx(sum(strip.cut_mm for _, strip in strips))
    crossings = 4 * 4.0 * 4.0
    alone = sum(strip.cut_mm for _, strip in strips) * 4.0
    assert member.flat.area_mm2 == pytest.approx(alone - crossings, rel=2e-3)
    assert len(member.flat.holes) == 1  # between two hoops and two edges; the joint is open


def test_what_does_not_cross_keeps_its_distance_on_the_wall():
    dot = Vertical(name="dot", around=(1.0, 1.5), start=share(0.3), end=share(0.4), **COMMON)
    (unit,), _ = pattern_units(named(CONE, dot), 0.0)
    first, second = whole(unit)
    site = decorate(CONE, Pattern(name="p", lines=(dot,))).site
    # the nearest corners are the lower inner ones, each half a width beside its meridian
    (left, _), (right, _) = ((float(v) for v in site.wall.reach(a, site.down_mm(share(0.4)), side, 2.0)[:2])
                             for a, side in ((1.0, math.pi / 2), (1.5, -math.pi / 2)))
    _, straight = site.wall.straight_way((left, site.down_mm(share(0.4))), (right, site.down_mm(share(0.4))))
    assert first.distance(second) == pytest.approx(straight, abs=0.02)


def test_on_a_cup_of_several_sections_one_unit_a_section_and_bends_apart():
    edge = Vertical(name="edge", around=("front",), **COMMON)
    hoops = Ring(name="hoop", downs=(Down(20.0), Down(40.0), Down(100.0)), ends="upright", **COMMON)
    units, bent = pattern_units(named(BENT, edge, hoops), math.pi)
    assert bent == 1
    assert [[member.lines for member in unit.members] for unit in units] == [
        [("hoop",), ("hoop",)],
        [("hoop",)],
        [("edge",)],
    ]


def test_a_smooth_wall_has_no_development():
    points = (ProfilePoint(38, 150), ProfilePoint(44, 80), ProfilePoint(33, 0))
    from stripegen.smooth import SmoothWall

    cup = a_cup(38, 33, SmoothWall.through(points).wall_mm, profile=points, smooth=True)
    with pytest.raises(GeometryError, match="this one is smooth"):
        pattern_units(named(cup, EDGE), 0.0)
    pair = Vertical(name="l", stripes=2, around=(0.3,), **COMMON)
    _, (unit,) = pair_units(cup, pair)
    first, second = whole(unit)
    assert first.distance(second) == pytest.approx(2.0, abs=0.01)


def test_a_chevron_over_verticals_is_one_piece():
    zigzag = Chevron(name="zig", top=share(0.3), bottom=share(0.6), points=4, ends="upright", **COMMON)
    (unit,), _ = pattern_units(named(CONE, zigzag, EDGE), math.pi)
    assert unit.members[0].lines == ("zig", "edge")


JOB = """
[cup.crew]
rim = { diameter = 86 }
base = { circumference = 198 }
height = 152
[vinyl.brass]
colour = "#b8923a"
width = 305
[pattern.pair]
PATTERN
[[pattern.pair.line]]
name = "edge"
kind = "vertical"
around = ["front", "back"]
width = 4
stripes = 2
LINE
vinyl = "brass"
[[pattern.pair.line]]
name = "hoop"
kind = "ring"
down = "40%"
width = 5
vinyl = "brass"
[[order]]
id = "A"
cup = "crew"
pattern = "pair"
quantity = 2
"""


@pytest.mark.parametrize("grain", ["none", "cup", "strip"])
@pytest.mark.parametrize("where", ["PATTERN", "LINE"])
def test_on_the_sheet_units_lie_as_they_lie_on_the_wall(where, grain):
    text = JOB.replace(where, "together = true").replace("PATTERN", "").replace("LINE", "")
    production = produce(parse_job(text.replace("width = 305", f'width = 305\ngrain = "{grain}"'), "week.toml", lambda *name: None))
    for lay in (lambda blanks, stock: nest(blanks, stock, "quick"),):
        (sheet,) = lay_out(production, "sheet", lay, prove)
        found = {}
        for placed in sheet.placed:
            found.setdefault(placed.piece.unit and placed.piece.unit.id or placed.piece.id, []).append(placed)
        assert sum(map(len, found.values())) == len(production.pieces)
        polygons = {key: [p.outline.polygon(0.005) for p in group] for key, group in found.items()}
        for key, group in found.items():
            if group[0].piece.unit is None:
                continue
            unit = group[0].piece.unit.unit
            inside = whole(unit)
            for i, first in enumerate(polygons[key]):
                for j, second in enumerate(polygons[key][:i]):
                    assert first.distance(second) == pytest.approx(inside[i].distance(inside[j]), abs=0.01)
        wholes = [shapely.union_all(group) for group in polygons.values()]
        for i, first in enumerate(wholes):
            for second in wholes[:i]:
                assert first.distance(second) > 1.5 - 0.02
        assert 0 < sheet.tightness <= 1
        assert sheet.piece_area_mm2 == pytest.approx(sum(p.area for p in wholes), rel=1e-3)


def test_a_pattern_together_on_a_smooth_wall_is_a_fault_of_the_job():
    text = JOB.replace("PATTERN", "together = true").replace("LINE", "").replace(
        "rim = { diameter = 86 }\nbase = { circumference = 198 }\nheight = 152",
        "profile = [ { height = 150, diameter = 76 }, { height = 80, diameter = 88 }, { height = 0, diameter = 66 } ]\nsmooth = true",
    )
    with pytest.raises(JobError, match=r"week.toml:9:1: \[pattern.pair\] together: on cup crew, .*smooth"):
        produce(parse_job(text, "week.toml", lambda *name: None))
