"""What is left of lines that limits and other lines cut, against shapely on shapes laid flat by triangles."""

import math
from functools import cache

import numpy as np
import pytest
import reference
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from soundness import corners, reach, wall_area
from strategies import CUPS, PATHS, a_cup, cups, lines

from stripegen.cutting import lay_line
from stripegen.errors import GeometryError
from stripegen.laid import LaidLine, covers_of
from stripegen.shapes import Shape
from stripegen.site import Site
from stripegen.spec import Chevron, Cup, Diagonal, Down, Keepout, Line, Pattern, Repeat, Ring, Vertical

WALLS = ("cylinder", "coated", "steep", "wider")
SHAPE_MM = 0.01
ROUND = {"quad_segs": 100}


def lay(cup: Cup, *pattern: Line) -> dict[str, LaidLine]:
    """Lines laid one after another."""
    laid: list[LaidLine] = []
    for line in pattern:
        site = Site.of(cup, Pattern(name="p", lines=pattern), line.resin_mm)
        laid.append(lay_line(line, site, covers_of(line, site, laid)))
    return {line.line.name: line for line in laid}


def vertical(name="edge", around=("front", "back"), **more) -> Vertical:
    return Vertical(**({"name": name, "vinyl": "v", "width_mm": 5.0, "around": around} | more))


def ring(name="ring", down=40.0, **more) -> Ring:
    return Ring(
        **({"name": name, "vinyl": "v", "width_mm": 4.0, "downs": (Down(down),), "ends": "upright"} | more)
    )


def diagonal(start, end, name="sash", **more) -> Diagonal:
    return Diagonal(
        **(
            {
                "name": name,
                "vinyl": "v",
                "width_mm": 3.0,
                "start_around": start[0],
                "start_down": Down(start[1]),
                "end_around": end[0],
                "end_down": Down(end[1]),
            }
            | more
        )
    )


@cache
def flat_of(name: str, low: float = -1.5, high: float = 8.0) -> reference.Flat:
    return reference.Flat(reference.Wall.of(CUPS[name]), low, high)


def outline(flat: reference.Flat, shape: Shape) -> shapely.Polygon:
    rings = [
        np.concatenate([flat(*edge.curve.at(np.linspace(edge.t0, edge.t1, 300)))[:-1] for edge in loop])
        for loop in shape.loops
    ]
    return shapely.Polygon(rings[0], rings[1:])


def meridian(flat: reference.Flat, around: float, aside: float = 0.0) -> np.ndarray:
    """A line beside a meridian, to the right for positive distances, past rim and base."""
    low, high = -20.0, min(0.9 * flat._bottom, flat.wall.length + 20.0)
    return reference.beside(flat(around, np.linspace(low, high, 50)), aside)


def between(flat: reference.Flat, first: tuple[float, float], second: tuple[float, float]) -> shapely.Polygon:
    """All of the wall between two lines beside meridians (around, aside), the second to the right."""
    left, right = meridian(flat, *first), meridian(flat, *second)
    places = [[flat.place_of(*line[end]) for line in (left, right)] for end in (0, -1)]
    arcs = [
        flat(*np.linspace(start, end, max(3, math.ceil(abs(end[0] - start[0]) / 2e-3)))[1:-1].T)
        for start, end in np.array(places)
    ]
    return shapely.Polygon(np.concatenate([left, arcs[1], right[::-1], arcs[0][::-1]]))


def strip_about(flat: reference.Flat, around: float, half: float) -> shapely.Polygon:
    return between(flat, (around, -half), (around, half))


def same(flat: reference.Flat, laid: LaidLine, true: list[shapely.Geometry]) -> None:
    """Assert that the strips are those shapes, in their order."""
    assert len(laid.strips) == len(true)
    for strip, shape in zip(laid.strips, true, strict=True):
        assert not corners(strip.shape)
        found = outline(flat, strip.shape)
        assert found.is_valid
        assert reference.apart(found, shape) < SHAPE_MM
        assert found.area == pytest.approx(shape.area, abs=0.003 * shape.length)


def run(flat, line: Diagonal, beyond=25.0) -> reference.Run:
    names = {"front": 0.0, "back": math.pi}
    places = [
        (names.get(around, around), down.value)
        for around, down in ((line.start_around, line.start_down), (line.end_around, line.end_down))
    ]
    return reference.run_of(flat, line.path, *places, beyond)


def length_in(chain: np.ndarray, shape: shapely.Geometry) -> float:
    return shapely.LineString(chain).intersection(shape).length


# ---- tied ends


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("name", WALLS)
def test_tied_ends_run_under_the_near_edge_by_the_tuck(name, path):
    line = diagonal(
        ("front", 20.0), (1.2, 50.0), path=path, under=("edge",), stripes=2, gap_mm=2.5, ends="square"
    )
    laid = lay(CUPS[name], vertical(around=("front", 1.2)), line)["sash"]
    flat = flat_of(name)
    whole = run(flat, line)
    glued = between(flat, (0.0, 1.0), (1.2, -1.0))
    seen = between(flat, (0.0, 2.5), (1.2, -2.5))
    true = [reference.ribbon(whole.chain, low, low + 3.0).intersection(glued) for low in (-4.25, 1.25)]
    same(flat, laid, true)
    assert laid.dropped == 0
    for strip, middle in zip(laid.strips, (-2.75, 2.75), strict=True):
        chain = reference.beside(whole.chain, middle)
        assert strip.cut_mm == pytest.approx(
            length_in(chain, glued), abs=1e-3 if path != "straight" else 2e-5
        )
        assert strip.true_mm == pytest.approx(
            length_in(chain, seen), abs=1e-3 if path != "straight" else 2e-5
        )


@pytest.mark.parametrize("name", WALLS)
def test_an_end_tied_to_what_it_keeps_clear_of_stops_short_of_it(name):
    line = diagonal((0.05, 20.0), (1.0, 50.0), clear_of=("edge",), by_mm=2.0)
    laid = lay(CUPS[name], vertical(around=(0.0,)), line)["sash"]
    flat = flat_of(name)
    whole = run(flat, line)
    right = between(flat, (0.0, 4.5), (2.9, 0.0))
    same(
        flat,
        laid,
        [reference.ribbon(whole.chain, -1.5, 1.5).intersection(right).difference(flat.below(50.0))],
    )
    (strip,) = laid.strips
    assert strip.true_mm == strip.cut_mm


@pytest.mark.parametrize("name", WALLS)
def test_one_end_tied_and_one_free(name):
    """Its free end is cut as the line says, its tied one by the other line alone."""
    line = diagonal((1.0, 20.0), (1.9, 50.0), under=("edge",), ends="upright", tuck_mm=0.5)
    laid = lay(CUPS[name], vertical(around=(1.9,)), line)["sash"]
    flat = flat_of(name)
    whole = run(flat, line)
    glued = between(flat, (1.0, 0.0), (1.9, -2.0))
    same(flat, laid, [reference.ribbon(whole.chain, -1.5, 1.5).intersection(glued)])


@pytest.mark.parametrize("name", WALLS)
def test_a_line_that_ends_under_another_shows_nothing_of_itself_beyond(name):
    """However far past the other its end lies."""
    for end in (0.04, 0.0, -0.04):
        line = diagonal((end, 25.0), (1.5, 45.0), under=("edge",), ends="square")
        laid = lay(CUPS[name], vertical(around=(0.0,)), line)["sash"]
        (strip,) = laid.strips
        assert laid.dropped == 0
        flat = flat_of(name)
        found = outline(flat, strip.shape)
        glued = between(flat, (0.0, 1.0), (3.0, 0.0))
        assert found.difference(glued.buffer(SHAPE_MM)).area < 1e-6
        touched = shapely.LineString(meridian(flat, 0.0, 1.0))
        assert found.boundary.intersection(touched.buffer(SHAPE_MM)).length > 2.9


@pytest.mark.parametrize("name", WALLS)
def test_beyond_what_ties_it_a_line_is_dropped_where_no_tuck_parts_it(name):
    """Under the very end of the other line, nearer to that end than the tuck, both sides hang together."""
    other = vertical(around=(0.0,), start=Down(12.0), end=Down(40.0))
    line = ring(down=37.0, width_mm=5.0, start=0.0, end=1.0, under=("edge",))
    laid = lay(CUPS[name], other, line)["ring"]
    flat = flat_of(name)
    belt = flat.region(-1.0, 1.0, 34.5, 39.5).intersection(between(flat, (0.0, -2.5), (2.0, 0.0)))
    true = belt.difference(strip_about(flat, 0.0, 1.0).intersection(flat.belt(0.0, 38.5)))
    same(flat, laid, [true])


@pytest.mark.parametrize("name", WALLS)
def test_a_line_that_narrows_is_tied_as_any_other(name):
    wall, flat = reference.Wall.of(CUPS[name]), flat_of(name)
    half = 2.5 / wall.rim
    for more, first, last in (
        ({"start": Down(40.0)}, 40.5, wall.length - 6.0),
        ({"end": Down(40.0)}, 12.0, 39.5),
    ):
        line = vertical("bar", around=(1.0,), narrows=True, under=("ring",), **more)
        laid = lay(CUPS[name], ring(), line)["bar"]
        same(flat, laid, [flat.region(1.0 - half, 1.0 + half, first, last)])
        (strip,) = laid.strips
        assert strip.cut_mm == pytest.approx(last - first, abs=1e-9)
        assert strip.true_mm == pytest.approx(last - first - 1.5, abs=1e-9)


# ---- untied crossings


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("name", WALLS)
def test_a_crossing_cuts_a_line_in_two_that_both_tuck_under(name, path):
    line = diagonal((-0.8, 18.0), (0.9, 52.0), path=path, under=("edge",), ends="square")
    laid = lay(CUPS[name], vertical(around=(0.05,), width_mm=6.0), line)["sash"]
    flat = flat_of(name)
    whole = run(flat, line)
    ribbon = reference.cut_ribbon(flat, whole, -1.5, 1.5, "square")
    parts = shapely.get_parts(ribbon.difference(strip_about(flat, 0.05, 1.5)))
    same(flat, laid, sorted(parts, key=lambda part: part.bounds))
    hidden = length_in(whole.chain, ribbon.intersection(strip_about(flat, 0.05, 3.0)))
    tucked = hidden - length_in(whole.chain, ribbon.intersection(strip_about(flat, 0.05, 1.5)))
    assert sum(strip.cut_mm - strip.true_mm for strip in laid.strips) == pytest.approx(tucked, abs=2e-3)


@pytest.mark.parametrize("name", WALLS)
def test_what_keeps_clear_does_so_round_corners_too(name):
    other = vertical(around=(0.6,), start=Down(15.0), end=Down(38.0))
    line = diagonal((0.0, 32.0), (1.3, 44.0), width_mm=6.0, clear_of=("edge",), by_mm=3.0, ends="square")
    laid = lay(CUPS[name], other, line)["sash"]
    flat = flat_of(name)
    region = strip_about(flat, 0.6, 2.5).intersection(flat.belt(15.0, 38.0))
    ribbon = reference.cut_ribbon(flat, run(flat, line), -3.0, 3.0, "square")
    true = ribbon.difference(region.buffer(3.0, **ROUND))
    same(flat, laid, sorted(shapely.get_parts(true), key=lambda part: part.bounds))


@pytest.mark.parametrize("name", WALLS)
def test_the_region_of_stripes_is_all_between_them(name):
    other = vertical(around=(0.5,), width_mm=2.0, stripes=2, gap_mm=6.0)
    laid = lay(CUPS[name], other, ring(under=("edge",), tuck_mm=1.0, start=0.0, end=1.2, overlap_mm=0.0))[
        "ring"
    ]
    flat = flat_of(name)
    belt = flat.region(0.0, 1.2, 38.0, 42.0)
    parts = shapely.get_parts(belt.difference(strip_about(flat, 0.5, 4.0)))
    same(flat, laid, sorted(parts, key=lambda part: part.bounds))


@pytest.mark.parametrize("name", WALLS)
def test_a_winding_line_is_cut_on_every_turn(name):
    line = diagonal((0.5, 20.0), (0.5 + math.radians(760), 55.0), path="even-drop", under=("edge",))
    laid = lay(CUPS[name], vertical(around=("front",)), line)["sash"]
    assert len(laid.strips) == 3
    if name == "steep":  # laid flat it would lie over itself there
        return
    flat = flat_of(name, -2.0, 16.5)
    ribbon = reference.cut_ribbon(flat, run(flat, line, 40.0), -1.5, 1.5, "level")
    for turn in (0, 1, 2):
        ribbon = ribbon.difference(strip_about(flat, turn * math.tau, 1.0))
    # a tip of its level end reaches past the vertical where it starts, and holds none of its centre line
    middle = shapely.LineString(run(flat, line, 0.0).chain)
    parts = [part for part in shapely.get_parts(ribbon) if part.intersects(middle)]
    same(flat, laid, sorted(parts, key=lambda part: middle.project(part.intersection(middle).centroid)))
    assert laid.dropped == len(shapely.get_parts(ribbon)) - 3


# ---- limits


def with_keepouts(name: str, *keepouts: Keepout) -> Cup:
    cup = CUPS[name]
    return a_cup(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm, resin_mm=cup.resin_mm, keepouts=keepouts)


HANDLE = Keepout(around=1.0, width_mm=10.0, from_mm=25.0, to_mm=45.0)


@pytest.mark.parametrize("name", WALLS)
def test_keepouts_and_clearances_cut_what_reaches_into_them(name):
    cup = with_keepouts(name, HANDLE)
    flat, length = flat_of(name), CUPS[name].wall_mm
    handle = strip_about(flat, 1.0, 5.0).intersection(flat.belt(25.0, 45.0))
    laid = lay(cup, vertical(around=(1.0,)))["edge"]
    bar = strip_about(flat, 1.0, 2.5)
    same(
        flat, laid, [bar.intersection(flat.belt(12.0, 25.0)), bar.intersection(flat.belt(45.0, length - 6.0))]
    )
    assert [strip.cut_mm for strip in laid.strips] == pytest.approx([13.0, length - 51.0], abs=1e-9)
    assert laid.cut_off == 1
    # a corner bitten off
    line = diagonal((0.2, 18.0), (1.8, 30.0), width_mm=8.0, ends="square")
    laid = lay(cup, line)["sash"]
    bitten = reference.cut_ribbon(flat, run(flat, line), -4.0, 4.0, "square").difference(handle)
    true = shapely.get_parts(bitten.intersection(flat.belt(12.0, length - 6.0)))
    held = [part for part in true if length_in(run(flat, line).chain, part) > 0.01]
    same(flat, laid, sorted(held, key=lambda part: part.bounds))
    # a line that runs into the clearance stops there
    line = diagonal((2.0, 12.0), (3.0, 50.0), width_mm=4.0, ends="square")
    laid = lay(cup, line)["sash"]
    ribbon = reference.cut_ribbon(flat, run(flat, line), -2.0, 2.0, "square")
    same(flat, laid, [ribbon.difference(flat.above(12.0))])
    assert laid.cut_off == 1


@pytest.mark.parametrize("name", WALLS)
def test_a_region_is_not_inset_along_limits(name):
    """Nothing else is stuck past a clearance or a keepout, so there is nothing to tuck under there."""
    cup, flat = with_keepouts(name, HANDLE), flat_of(name)
    # a ring half cut off by the rim's clearance, and verticals that start under it
    laid = lay(cup, ring(down=12.0), vertical(around=(2.5,), under=("ring",), tuck_mm=0.5))
    length = cup.wall_mm
    same(flat, laid["edge"], [strip_about(flat, 2.5, 2.5).intersection(flat.belt(13.5, length - 6.0))])
    assert laid["edge"].strips[0].true_mm == pytest.approx(length - 20.0, abs=1e-9)
    # a vertical that ends at the handle, and a line that crosses it there
    line = diagonal((0.4, 18.0), (1.6, 24.0), under=("edge",), tuck_mm=1.0, ends="square", width_mm=4.0)
    laid = lay(cup, vertical(around=(1.0,)), line)
    handle = strip_about(flat, 1.0, 5.0).intersection(flat.belt(25.0, 45.0))
    ribbon = reference.cut_ribbon(flat, run(flat, line), -2.0, 2.0, "square")
    true = ribbon.difference(strip_about(flat, 1.0, 1.5).intersection(flat.belt(12.0, 25.0))).difference(
        handle
    )
    true = true.intersection(flat.belt(12.0, length - 6.0))
    # less the slivers between the chords of the handle and of the vertical that ends at it
    clean = true.buffer(-1e-3, join_style="mitre").buffer(1e-3, join_style="mitre")
    parts = [part for part in shapely.get_parts(clean) if part.area > 0.1]
    same(flat, laid["sash"], sorted(parts, key=lambda part: part.bounds))


@pytest.mark.parametrize("name", WALLS)
def test_what_holds_none_of_the_centre_line_is_dropped_and_counted(name):
    flat = flat_of(name, -4.0, 8.0)
    # a level end's long tip, cut from the rest by an upright
    line = diagonal((0.0, 25.0), (2.0, 40.0), path="even-drop", width_mm=8.0, clear_of=("edge",), by_mm=0.0)
    whole = run(flat, line, 60.0)
    ribbon = reference.cut_ribbon(flat, whole, -4.0, 4.0, "level")
    other = vertical(around=(2.2,), width_mm=1.0)
    parts = shapely.get_parts(ribbon.difference(strip_about(flat, 2.2, 0.5)))
    held = [part for part in parts if length_in(whole.chain, part) > 0.01]
    assert len(held) == 1 < len(parts)
    laid = lay(CUPS[name], other, line)["sash"]
    same(flat, laid, held)
    assert laid.dropped == len(parts) - 1


def test_a_line_nothing_is_left_of_is_an_error():
    cup = CUPS["coated"]
    with pytest.raises(GeometryError, match="nothing is left of it"):
        lay(cup, ring(down=8.0))
    with pytest.raises(GeometryError, match="nothing is left of it"):
        lay(cup, vertical(width_mm=20.0, around=(0.0,)), vertical("line", around=(0.0,), under=("edge",)))
    handle = Keepout(around=2.0, width_mm=20.0, from_mm=5.0, to_mm=150.0)
    with pytest.raises(GeometryError, match="nothing is left of it"):
        lay(with_keepouts("coated", handle), vertical(around=(2.0,)))


# ---- closed lines


@pytest.mark.parametrize("stripes", [1, 2])
@pytest.mark.parametrize("name", WALLS)
def test_a_ring_that_nothing_opens_overlaps_at_its_joint(name, stripes):
    laid = lay(CUPS[name], ring(joint=1.0, stripes=stripes, gap_mm=2.0, overlap_mm=3.5))["ring"]
    radius = reference.Wall.of(CUPS[name]).radius
    flat, offsets = flat_of(name), [0.0] if stripes == 1 else [-3.0, 3.0]
    true = []
    for strip, aside in zip(laid.strips, offsets, strict=True):
        down = 40.0 - aside
        girth = math.tau * float(radius(down))
        assert strip.true_mm == pytest.approx(girth, abs=1e-6)
        assert strip.cut_mm == pytest.approx(girth + 3.5, abs=1e-6)
        true.append(flat.region(1.0, 1.0 + (girth + 3.5) / float(radius(down)), down - 2.0, down + 2.0))
    same(flat, laid, true)
    assert laid.joints_rad == (1.0,)
    half = 2.0 if stripes == 1 else 5.0
    (region,) = laid.region
    assert (
        reference.apart(outline(flat, region), flat.region(1.0, 1.0 + math.tau, 40 - half, 40 + half))
        < SHAPE_MM
    )


@pytest.mark.parametrize("name", WALLS)
def test_a_ring_that_is_cut_open_has_no_joint(name):
    arounds = (0.0, 1.0, 4.0)
    laid = lay(CUPS[name], vertical(around=arounds), ring(under=("edge",), joint=1.0))["ring"]
    flat, radius = flat_of(name, -3.0, 9.0), float(reference.Wall.of(CUPS[name]).radius(40.0))
    belt = flat.region(-2.5, 8.5, 38.0, 42.0)
    # counted on from the joint; between each two verticals, tucked 1.5 under both
    places = [(1.0, 4.0), (4.0, math.tau), (math.tau, math.tau + 1.0)]
    true = [between(flat, (a, 1.0), (b, -1.0)).intersection(belt) for a, b in places]
    same(flat, laid, true)
    assert laid.joints_rad == ()

    def aside(distance):  # the angle at which a parallel is so far from a meridian, seen in the flat
        chain = flat(np.linspace(0, 0.2, 20001), 40.0)
        gaps = shapely.distance(shapely.LineString(meridian(flat, 0.0)), shapely.points(chain))
        return float(np.interp(distance, gaps, np.linspace(0, 0.2, 20001)))

    for strip, (a, b) in zip(laid.strips, places, strict=True):
        assert strip.cut_mm == pytest.approx(radius * (b - a - 2 * aside(1.0)), abs=2e-4)
        assert strip.true_mm == pytest.approx(radius * (b - a - 2 * aside(2.5)), abs=2e-4)


@pytest.mark.parametrize("name", WALLS)
def test_a_ring_opened_once_is_one_piece_less_than_round(name):
    cup = with_keepouts(name, HANDLE)
    laid = lay(cup, ring(down=35.0, joint=0.5))["ring"]
    flat = flat_of(name)
    true = between(flat, (1.0, 5.0), (1.0 + math.tau, -5.0)).intersection(flat.region(0.5, 7.8, 33.0, 37.0))
    same(flat, laid, [true])
    (strip,) = laid.strips
    assert strip.true_mm == strip.cut_mm < math.tau * float(reference.Wall.of(CUPS[name]).radius(35.0)) - 9.9


@pytest.mark.parametrize("joint", [1.0, 3.0])
@pytest.mark.parametrize("name", WALLS)
def test_a_ring_that_is_only_bitten_keeps_joint_and_overlap(name, joint):
    cup = with_keepouts(name, HANDLE)
    laid = lay(cup, ring(down=25.0, width_mm=6.0, joint=joint, overlap_mm=3.0))["ring"]
    flat = flat_of(name, -1.5, 10.0)
    radius = float(reference.Wall.of(CUPS[name]).radius(25.0))
    end = joint + math.tau + 3.0 / radius
    belt = flat.region(joint, end, 22.0, 28.0)
    for turn in (0, 1):
        handle = strip_about(flat, 1.0 + turn * math.tau, 5.0).intersection(flat.belt(25.0, 45.0))
        belt = belt.difference(handle)
    same(flat, laid, [belt])
    (strip,) = laid.strips
    assert laid.joints_rad == (joint,)
    assert strip.true_mm <= strip.cut_mm
    # its centre line runs along the handle's upper edge
    assert strip.cut_mm == pytest.approx(math.tau * radius + 3.0, abs=10.1)
    assert laid.cut_off == 1


@pytest.mark.parametrize("name", WALLS)
def test_a_ring_half_in_a_clearance_is_still_closed(name):
    laid = lay(CUPS[name], ring(down=13.0, joint=1.0))["ring"]
    flat, radius = flat_of(name), float(reference.Wall.of(CUPS[name]).radius(13.0))
    same(flat, laid, [flat.region(1.0, 1.0 + math.tau + 3.0 / radius, 12.0, 15.0)])
    (strip,) = laid.strips
    assert strip.cut_mm == pytest.approx(math.tau * radius + 3.0, abs=1e-6)
    assert strip.true_mm == pytest.approx(math.tau * radius, abs=1e-6)
    assert laid.cut_off == 1


@pytest.mark.parametrize("key", ["under", "clear_of"])
@pytest.mark.parametrize("name", WALLS)
def test_a_joint_is_no_border(name, key):
    """What crosses a closed line at its joint is cut there as anywhere else."""
    cup, flat, length = CUPS[name], flat_of(name), CUPS[name].wall_mm
    other = ring(joint=2.0)
    more = {"under": ("ring",), "tuck_mm": 1.5} if key == "under" else {"clear_of": ("ring",), "by_mm": 1.5}
    far = 0.5 if key == "under" else 3.5
    for around in (2.0, 1.0):
        bar = strip_about(flat, around, 2.5)
        laid = lay(cup, other, vertical(around=(around,), **more))["edge"]
        same(
            flat,
            laid,
            [
                bar.intersection(flat.belt(12.0, 40.0 - far)),
                bar.intersection(flat.belt(40.0 + far, length - 6)),
            ],
        )


@pytest.mark.parametrize("key", ["under", "clear_of"])
@pytest.mark.parametrize("path", PATHS)
def test_a_chevrons_joint_is_no_border_either(path, key):
    """At every upper point the same, that at the joint too."""
    zigzag = Chevron(
        name="zigzag",
        vinyl="v",
        width_mm=4.0,
        top=Down(40.0),
        bottom=Down(70.0),
        points=4,
        joint=0.0,
        path=path,
    )
    more = {"under": ("zigzag",)} if key == "under" else {"clear_of": ("zigzag",)}
    areas = []
    for around in (0.0, math.pi / 2, math.pi, 3 * math.pi / 2):
        laid = lay(CUPS["coated"], zigzag, vertical(around=(around,), **more))["edge"]
        areas.append([flat_area(strip.shape) for strip in laid.strips])
    assert len(areas[0]) == 2
    for found in areas[1:]:
        assert found == pytest.approx(areas[0], abs=1e-3)


def flat_area(shape: Shape) -> float:
    low, high = shape.around_range
    return outline(reference.Flat(reference.Wall.of(CUPS["coated"]), low - 0.1, high + 0.1), shape).area


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("name", WALLS)
def test_a_chevron_is_cut_open(name, path):
    line = Chevron(
        name="zigzag",
        vinyl="v",
        width_mm=3.0,
        top=Down(22.0),
        bottom=Down(48.0),
        points=4,
        start=0.4,
        joint=0.4,
        path=path,
        under=("edge",),
        tuck_mm=1.0,
    )
    laid = lay(CUPS[name], vertical(), line)["zigzag"]
    flat = flat_of(name, -1.5, 8.5)
    legs = []
    for number in range(-2, 12):
        a, b = 0.4 + number * math.pi / 4, 0.4 + (number + 1) * math.pi / 4
        if a < 2.0 or b > 7.5:
            continue
        places = [(a, 22.0), (b, 48.0)] if number % 2 == 0 else [(a, 48.0), (b, 22.0)]
        ribbon = reference.ribbon(reference.run_of(flat, path, *places, 30.0).chain, -1.5, 1.5)
        legs.append(ribbon.intersection(flat.sector(a, b)).buffer(1e-6))
    whole = shapely.union_all(legs)
    true = between(flat, (math.pi, 1.5), (math.tau, -1.5)).intersection(whole)
    assert len(laid.strips) == 2 and laid.joints_rad == ()
    found = [strip for strip in laid.strips if abs(strip.shape.around_range[0] - math.pi) < 0.2]
    assert len(found) == 1
    assert reference.apart(outline(flat, found[0].shape), true) < SHAPE_MM
    # the other half is the same half a turn on
    first, second = laid.strips
    assert first.cut_mm == pytest.approx(second.cut_mm, abs=1e-9)
    assert first.true_mm == pytest.approx(second.true_mm, abs=1e-9)
    assert wall_area(first.shape) == pytest.approx(wall_area(second.shape), abs=1e-6)


def test_what_a_cut_leaves_loose_in_a_ring_is_not_lost():
    """A wide ring with a narrow line laid over its middle is closed, with a hole."""
    cup = CUPS["coated"]
    cover = diagonal((0.0, 40.0), (3.0, 40.0), name="cover", path="straight", width_mm=2.0)
    laid = lay(cup, cover, ring(width_mm=26.0, down=44.0, joint=4.0, under=("cover",), tuck_mm=0.5))["ring"]
    radius = float(reference.Wall.of(cup).radius(44.0))
    (strip,) = laid.strips
    assert strip.cut_mm == pytest.approx(math.tau * radius + 3.0, abs=1e-6)
    assert strip.true_mm < math.tau * radius
    assert len(strip.shape.holes) == 1


# ---- copies


def test_copies_are_laid_once_each():
    cup = CUPS["coated"]
    line = diagonal((0.2, 30.0), (1.2, 90.0), mirror=True, repeat=Repeat(count=5))
    assert len(lay(cup, line)["sash"].strips) == 10
    line = diagonal((0.2, 30.0), (0.2, 90.0), mirror=True, stripes=2)
    assert len(lay(cup, line)["sash"].strips) == 2
    assert (
        len(lay(cup, vertical(around=(), repeat=Repeat(count=3, between=("front", "back"))))["edge"].strips)
        == 3
    )
    laid = lay(cup, vertical(around=(0.5,), mirror=0.0, stripes=3, gap_mm=1.0, width_mm=2.0))["edge"]
    assert len(laid.strips) == 6 and len(laid.region) == 2


# ---- coats


@pytest.mark.parametrize("name", WALLS)
def test_a_line_on_another_coat_is_cut_at_the_same_places(name):
    cup, coat = CUPS[name], 3.0
    under = vertical(around=(0.0, 1.6), width_mm=8.0)
    line = ring(under=("edge",), tuck_mm=1.0, resin_mm=coat, start=0.3, end=1.3)
    long = ring(under=("edge",), tuck_mm=1.0, resin_mm=coat, start=0.0, end=1.6)
    laid = lay(cup, under, line)["ring"]
    wall, bare = reference.Wall.of(cup, coat), reference.Wall.of(cup)
    (strip,) = laid.strips
    assert strip.cut_mm == pytest.approx(1.0 * float(wall.radius(40.0)), abs=1e-9)
    # the verticals' edges, found on their own coat and carried place by place to the ring's
    (strip,) = lay(cup, under, long)["ring"].strips
    flat, own = reference.Flat(wall, -0.5, 2.2), reference.Flat(bare, -0.5, 2.2)
    edges = []
    for around, aside in ((0.0, 4.0), (1.6, -4.0)):
        places = np.array([own.place_of(*point) for point in meridian(own, around, aside)[::2]])
        chain = flat(*places.T)
        edges.append((chain, reference.beside(chain, -math.copysign(1.0, aside))))
    belt = flat.region(0.0, 1.6, 38.0, 42.0)

    def inside(number):
        return shapely.Polygon(np.concatenate([edges[0][number], edges[1][number][::-1]]))

    true = inside(1).intersection(belt)
    assert reference.apart(outline(flat, strip.shape), true) < SHAPE_MM
    middle = flat(np.linspace(0.0, 1.6, 4000), 40.0)
    assert strip.true_mm == pytest.approx(length_in(middle, inside(0)), abs=2e-3)
    assert strip.cut_mm == pytest.approx(length_in(middle, inside(1)), abs=2e-3)


# ---- laws


@settings(deadline=None, max_examples=40)
@given(cup=cups(keepouts=2), under=st.sampled_from(("under", "clear_of")), data=st.data())
def test_no_strip_reaches_into_a_limit_or_what_cuts_it(cup, under, data):
    first = data.draw(lines("first", kinds=("vertical", "ring", "diagonal")))
    more = {under: ("first",)} | ({"tuck_mm": 0.0} if under == "under" else {"by_mm": 1.0})
    second = data.draw(lines("second", **more))
    try:
        laid = lay(cup, first, second)
    except GeometryError as error:
        assert "\n" not in str(error)
        return
    for line in laid.values():
        for strip in line.strips:
            assert not corners(strip.shape)
            assert not reach(strip.shape, line.site, cup)
            assert 0 < strip.true_mm <= strip.cut_mm + 1e-6
    for strip in laid["second"].strips:
        for turn in range(-3, 4):
            for region in laid["first"].region:
                other = region.turned(turn * math.tau).polygon
                over = strip.shape.polygon.intersection(other).area
                assert over < 0.003 * (1 + strip.shape.polygon.length)
