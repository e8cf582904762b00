"""Parts of strips by lengths along them, and where strips lie in other shapes, against sums and samples."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from strategies import CUPS, cups, lines

from stripegen.cutting import lay_line
from stripegen.errors import GeometryError
from stripegen.laid import Covers, Strip
from stripegen.lengthwise import Sections, Way, part_of, stretch_of
from stripegen.shapes import images
from stripegen.site import Site
from stripegen.spec import Chevron, Cup, Diagonal, Down, Keepout, Line, Pattern, Ring, Vertical


def strips(cup: Cup, *pattern: Line) -> list[Strip]:
    """The strips of each line as if the others were not there."""
    site = Site.of(cup, Pattern(name="p", lines=pattern))
    return [strip for line in pattern for strip in lay_line(line, site, Covers()).strips]


def ring(down: float, width: float = 4.0, **more) -> Ring:
    common = {"name": "ring", "vinyl": "v", "width_mm": width, "downs": (Down(down),), "ends": "upright"}
    return Ring(**(common | more))


def upright(around: float, width: float = 5.0, **more) -> Vertical:
    return Vertical(**({"name": "upright", "vinyl": "v", "width_mm": width, "around": (around,)} | more))


def zigzag(**more) -> Chevron:
    places = {"top": Down(30.0), "bottom": Down(60.0), "points": 5}
    return Chevron(**({"name": "zigzag", "vinyl": "v", "width_mm": 3.0} | places | more))


def sash(end: float = 2.0, **more) -> Diagonal:
    places = {"start_around": 0.0, "start_down": Down(30.0), "end_around": end, "end_down": Down(90.0)}
    return Diagonal(**({"name": "sash", "vinyl": "v", "width_mm": 3.0} | places | more))


def walked(strip: Strip, count: int = 4000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(around, down) all along a strip's centre line and how far along, as sums of short chords."""
    around, down = np.concatenate(
        [np.array(edge.curve.at(np.linspace(edge.t0, edge.t1, count))) for edge in strip.middle], axis=1
    )
    wall = strip.middle[0].curve.wall
    radius = wall.radius_mm((down[1:] + down[:-1]) / 2)
    steps = np.hypot(radius * np.diff(around), np.diff(down))
    return around, down, np.concatenate([[0.0], np.cumsum(steps)])


LINES = {
    "ring": ring(40.0),
    "part": ring(40.0, start=0.0, end=2.0),
    "upright": upright(1.0),
    "narrows": upright(1.0, narrows=True),
    "zigzag": zigzag(),
    "sash": sash(),
    "spiral": sash(4.0, path="even-drop"),
    "slant": sash(1.0, path="same-slant"),
}


@pytest.mark.parametrize("name", LINES)
@pytest.mark.parametrize("cup", ["cylinder", "coated", "steep"])
def test_places_are_lengths_along_the_line(name, cup):
    if cup == "steep" and name in ("sash", "spiral", "slant", "zigzag"):
        pytest.skip("the wall is too short for it")
    (strip,) = strips(CUPS[cup], LINES[name])
    way = Way(strip.middle)
    arounds, downs, along = walked(strip)
    assert way.length_mm == pytest.approx(strip.cut_mm) and strip.cut_mm == pytest.approx(along[-1], abs=1e-3)
    for share in (0.001, 0.1, 0.37, 0.5, 0.93):
        index, t = way.place(share * way.length_mm)
        place = way.edges[index].curve.at(t)
        want = [np.interp(share * along[-1], along, values) for values in (arounds, downs)]
        assert [float(value) for value in place] == pytest.approx(want, abs=1e-3)
    ends = way.between(0.0, way.length_mm)
    assert ends == strip.middle
    inner = way.between(0.2 * way.length_mm, 0.7 * way.length_mm)
    assert sum(e.curve.length_mm(e.t0, e.t1) for e in inner) == pytest.approx(0.5 * way.length_mm, abs=1e-7)


@pytest.mark.parametrize("name", LINES)
def test_two_parts_that_meet_make_the_strip(name):
    (strip,) = strips(CUPS["coated"], LINES[name])
    way, at = Way(strip.middle), 0.43 * strip.cut_mm
    upright = len(strip.middle) > 1
    first, second = (part_of(strip, way, *span, upright) for span in ((0.0, at), (at, way.length_mm)))
    area = shapely.intersection(first.polygon, second.polygon).area
    assert area < 1e-3
    whole = shapely.union(first.polygon, second.polygon)
    assert shapely.symmetric_difference(whole, strip.shape.polygon).area < 0.02  # samples near a cut are others
    # the cut is one edge of both, square to the line or a meridian, through the place on it
    index, t = way.place(at)
    around, down, heading = (float(value) for value in way.edges[index].curve.along(t))
    cuts = [edge for edge in first.outer if goes_through(edge, around, down)]
    assert len(cuts) == 1
    (cut,) = cuts
    ahead = float(cut.curve.along((cut.t0 + cut.t1) / 2)[2])
    off = math.remainder(ahead - (0.0 if upright else heading), math.pi)
    assert abs(off) == pytest.approx(0.0 if upright else math.pi / 2, abs=0.02)


def goes_through(edge, around: float, down: float) -> bool:
    points = np.array(edge.curve.at(np.linspace(edge.t0, edge.t1, 2001)))
    gaps = np.hypot(40 * (points[0] - around), points[1] - down)
    return bool(gaps.min() < 0.01)


def test_a_knife_is_as_wide_as_it_must_be_for_a_strip_that_widens():
    (strip,) = strips(CUPS["wider"], upright(1.0, 20.0, narrows=True))
    way = Way(strip.middle)
    part = part_of(strip, way, 0.0, 0.9 * way.length_mm)
    assert part.polygon.bounds[3] == pytest.approx(strip.middle[0].t0 + 0.9 * way.length_mm, abs=0.3)


def test_hidden_stretches_are_carried_over_to_parts():
    (strip,) = strips(CUPS["coated"], ring(40.0, overlap_mm=10.0))
    strip = Strip(strip.shape, strip.middle, ((20.0, 30.0), *strip.hidden), strip.width_mm)
    assert strip.hidden[-1] == pytest.approx((strip.cut_mm - 10.0, strip.cut_mm), abs=1e-9)
    way = Way(strip.middle)
    assert stretch_of(strip, way, strip.shape, 0.0, 25.0).hidden == ((20.0, 25.0),)
    assert stretch_of(strip, way, strip.shape, 25.0, 60.0, 55.0).hidden == ((0.0, 5.0), (30.0, 35.0))
    assert stretch_of(strip, way, strip.shape, 40.0, 60.0).hidden == ()
    last = stretch_of(strip, way, strip.shape, 50.0, way.length_mm)
    assert last.true_mm == pytest.approx(strip.cut_mm - 60.0)


def test_a_ring_is_crossed_where_an_upright_is():
    cup = CUPS["cylinder"]
    band, line = strips(cup, ring(40.0, joint=0.0), upright(1.0, 6.0))
    sections = Sections(band, Way(band.middle))
    ((low, high),) = sections.crossed([line.shape])
    assert 37.0 - 0.6 < low <= 37.0 and 43.0 <= high < 43.0 + 0.6
    ((low, high),) = sections.covered([line.shape])
    assert 37.0 <= low < 37.6 and 42.4 < high <= 43.0


def test_a_slanted_crossing_counts_from_its_first_corner_to_its_last_and_covers_only_what_all_of_it_hides():
    band, line = strips(CUPS["cylinder"], upright(1.0, 6.0), sash(width_mm=20.0, start_around=0.5, end_around=1.5))
    sections = Sections(band, Way(band.middle))
    ((first, last),), ((inner, outer),) = sections.crossed([line.shape]), sections.covered([line.shape])
    slant = math.atan2(40.0 * 1.0, 60.0)
    thick, lean = 20.0 / math.sin(slant), 6.0 / math.tan(slant)
    assert last - first == pytest.approx(thick + lean, abs=0.6)
    assert outer - inner == pytest.approx(thick - lean, abs=0.6)


def test_zigzags_are_crossed_as_meridians_see_it():
    cup = CUPS["cylinder"]
    band, line = strips(cup, zigzag(points=2, joint=0.0), upright(0.4, 6.0))
    way = Way(band.middle)
    ((low, high),) = Sections(band, way, upright=True).crossed([line.shape])
    arounds, _, along = walked(band)
    assert low <= np.interp(0.4 - 3 / 40, arounds, along) < low + 1.0
    assert high >= np.interp(0.4 + 3 / 40, arounds, along) > high - 1.0


@settings(max_examples=15)
@given(cup=cups(), line=lines(kinds=("ring", "vertical", "diagonal"), stripes=1), other=lines(name="other"))
def test_crossed_and_covered_stretches_hold_for_every_point_across(cup, line, other):
    try:
        own = strips(cup, line)
        shapes = [strip.shape for strip in strips(cup, other)]
    except GeometryError:
        assume(False)
    strip = own[0]
    sections = Sections(strip, Way(strip.middle))
    crossed, covered = sections.crossed(shapes), sections.covered(shapes)
    near = shapely.union_all([image.polygon for image in images(shapes, strip.shape.around_range)])
    (edge,) = strip.middle
    scale = edge.curve.wall.mean_radius_mm
    for aside in (-0.45, -0.2, 0.0, 0.3):
        t = np.linspace(edge.t0, edge.t1, 301)
        around, down = edge.curve.parallel(aside * strip.width_mm).at(t)
        inside = shapely.contains_xy(near, scale * around, down)
        own = shapely.contains_xy(strip.shape.polygon, scale * around, down)
        for at, hit in zip((edge.curve.length_mm(edge.t0, float(u)) for u in t), inside & own, strict=True):
            if hit:
                # a corner may poke in between two of the points that are looked at
                assert any(low - 0.3 <= at <= high + 0.3 for low, high in crossed) or grazes(near, strip)
        for at, hit, mine in zip((edge.curve.length_mm(edge.t0, float(u)) for u in t), inside, own, strict=True):
            if any(low + 0.3 < at < high - 0.3 for low, high in covered):
                assert hit or not mine


def grazes(near: shapely.Geometry, strip: Strip) -> bool:
    """Whether the shapes overlap by less than the points looked at could tell."""
    parts = shapely.get_parts(near.intersection(strip.shape.polygon))
    return any(part.area < strip.width_mm / 8 for part in parts)


def test_a_joint_is_rough_at_slanted_ends_and_where_a_keepout_takes_some_of_the_width():
    keepout = Keepout(around=0.9, width_mm=10.0, from_mm=30.0, to_mm=41.0)
    cup = Cup(**{field: getattr(CUPS["cylinder"], field) for field in ("name", "rim_radius_mm", "base_radius_mm", "wall_mm", "seams")},
              keepouts=(keepout,))  # fmt: skip
    (strip,) = strips(cup, ring(40.0, 6.0, joint=0.0, overlap_mm=0.0))
    sections = Sections(strip, Way(strip.middle))
    at = np.array([10.0, 31.0, 36.0, 41.0, 60.0])
    assert sections.rough(at - 1.0, at + 1.0).tolist() == [False, True, True, True, False]
    (strip,) = strips(CUPS["cylinder"], sash(width_mm=6.0))
    way = Way(strip.middle)
    ends = np.array([2.0, way.length_mm / 2, way.length_mm - 2.0])
    assert Sections(strip, way).rough(ends - 1.0, ends + 1.0).tolist() == [True, False, True]
