"""Bands along lines: parallel edges, ends cut along one curve, mitres, overlaps, and what is refused."""

import math
from functools import cache

import numpy as np
import pytest
import reference
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from soundness import corners
from strategies import CUPS, PATHS, a_cup, cups, lines

from stripegen.bands import band, middle, side
from stripegen.courses import courses_of
from stripegen.curves import Parallel, Straight
from stripegen.errors import GeometryError
from stripegen.site import Site
from stripegen.spec import Chevron, Diagonal, Down, Pattern, Ring, Vertical

laws = settings(deadline=None, max_examples=40)
COMMON = {"name": "line", "vinyl": "v", "width_mm": 2.0}


@cache
def site_of(name: str) -> Site:
    return Site.of(CUPS[name], Pattern(name="p", lines=()))


def diagonal(start, end, **more) -> Diagonal:
    return Diagonal(
        **COMMON,
        start_around=start[0],
        start_down=Down(start[1]),
        end_around=end[0],
        end_down=Down(end[1]),
        **more,
    )


def chevron(**more) -> Chevron:
    return Chevron(**COMMON, **({"top": Down(25.0), "bottom": Down(50.0), "points": 4, "joint": 0.0} | more))


@laws
@given(cup=cups(), line=lines(kinds=("vertical", "diagonal", "chevron", "ring")), share=st.floats(-1, 1))
def test_what_runs_beside_a_line_keeps_its_distance(cup, line, share):
    distance = share * line.full_width_mm / 2
    site = Site.of(cup, Pattern(name="p", lines=()))
    try:
        (course,) = courses_of(line, site)
        edges = side(course, distance)
    except GeometryError:
        assume(False)
    if course.narrows:
        return  # its sides are meridians: see below
    wall = reference.Wall(site.wall.rim_radius_mm, site.wall.base_radius_mm, site.wall.wall_mm)
    for leg, edge in list(zip(course.legs, edges, strict=True))[:3]:
        t0, t1 = max(leg.t0, edge.t0), min(leg.t1, edge.t1)
        if t1 <= t0:
            continue
        t = np.linspace(t0, t1, 15)
        around, down = edge.curve.at(t)
        dense = np.linspace(leg.t0, leg.t1, 4001)
        chain = leg.curve.at(dense)
        flat = reference.Flat(
            wall, min(around.min(), chain[0].min()) - 0.02, max(around.max(), chain[0].max()) + 0.02, 2e-3
        )
        gaps = shapely.distance(shapely.LineString(flat(*chain)), shapely.points(flat(around, down)))
        assert np.abs(gaps - abs(distance)).max() < 1e-3


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("name", CUPS)
def test_ends_are_cut_along_one_curve_for_all_stripes(name, path):
    site = site_of(name)
    start, end = (0.5, 17.0), (1.5, 52.0)
    flat = reference.Flat(
        reference.Wall(site.wall.rim_radius_mm, site.wall.base_radius_mm, site.wall.wall_mm), -1.0, 4.0
    )
    for ends in ("level", "upright", "square"):
        (course,) = courses_of(diagonal(start, end, path=path, ends=ends), site)
        for low, high in ((-4.0, -1.5), (-1.0, 1.0), (1.5, 4.0), (-4.0, 4.0)):
            shape = band(course, low, high)
            assert not corners(shape)
            for edge, place in ((shape.outer[-1], start), (shape.outer[1], end)):
                around, down = edge.curve.at(np.linspace(edge.t0, edge.t1, 9))
                if ends == "level":
                    assert isinstance(edge.curve, Parallel)
                    assert down == pytest.approx(place[1], abs=1e-9)
                elif ends == "upright":
                    assert around == pytest.approx(place[0], abs=1e-9)
                    assert isinstance(edge.curve, Straight)
                else:
                    way = flat(
                        *course.legs[0].curve.at(
                            np.array([-1e-4, 1e-4]) * (1 if path != "even-drop" else 1e-2)
                            + (course.legs[0].t0 if place is start else course.legs[0].t1)
                        )
                    )
                    points = flat(around, down)
                    across = points - flat(*place)
                    along = (way[1] - way[0]) / np.hypot(*(way[1] - way[0]))
                    assert np.abs(across @ along).max() < 1e-4
                    assert sorted(np.hypot(*across.T)[[0, -1]]) == pytest.approx(
                        sorted((abs(low), abs(high))), abs=1e-5
                    )


def test_a_straight_line_that_dips_past_its_end_is_not_cut_there():
    site = site_of("coated")
    turn = math.radians(300)
    (course,) = courses_of(diagonal((0.0, 60.0), (turn, 60.0)), site)
    shape = band(course, -2.0, 2.0)
    _, downs = course.legs[0].curve.at(np.linspace(0, course.legs[0].t1, 50))
    assert downs.max() > 70.0  # it sinks well below both of its ends
    assert shape.polygon.bounds[3] > 72.0
    for end in (shape.outer[1], shape.outer[-1]):
        assert isinstance(end.curve, Parallel) and end.curve.down_mm == pytest.approx(60.0)
        assert abs(end.t1 - end.t0) * site.wall.radius_mm(60.0) < 25.0
    wall = reference.Wall(site.wall.rim_radius_mm, site.wall.base_radius_mm, site.wall.wall_mm)
    flat = reference.Flat(wall, -1.0, turn + 1.0)
    run = reference.run_of(flat, "straight", (0.0, 60.0), (turn, 60.0), 20.0)
    true = reference.cut_ribbon(flat, run, -2.0, 2.0, "level")
    found = shapely.Polygon(
        np.concatenate([flat(*e.curve.at(np.linspace(e.t0, e.t1, 3000)))[:-1] for e in shape.outer])
    )
    assert reference.apart(found, true) < 0.01
    # straight it is: four edges, all but the ends of no curvature
    flat_sides = [flat(*e.curve.at(np.linspace(e.t0, e.t1, 100))) for e in (shape.outer[0], shape.outer[2])]
    for points in flat_sides:
        line = shapely.LineString(points[[0, -1]])
        assert shapely.distance(line, shapely.points(points)).max() < 1e-4


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("name", CUPS)
def test_mitres_lie_on_their_points_meridians(name, path):
    site = site_of(name)
    (course,) = courses_of(chevron(path=path, start=0.3), site)
    points = [0.3 + math.pi * n / 4 for n in range(9)]
    for distance in (-5.0, 0.0, 3.0):
        edges = side(course, distance)
        for number, edge in enumerate(edges):
            assert float(edge.curve.at(edge.t0)[0]) == pytest.approx(points[number], abs=1e-10)
            assert float(edge.curve.at(edge.t1)[0]) == pytest.approx(points[number + 1], abs=1e-10)
        # legs are mirror images of each other: the stripes' upper points are all level, and so the lower
        downs = [float(edge.curve.at(edge.t0)[1]) for edge in edges]
        assert downs[::2] == pytest.approx([downs[0]] * 4, abs=1e-9)
        assert downs[1::2] == pytest.approx([downs[1]] * 4, abs=1e-9)


@pytest.mark.parametrize("name", CUPS)
def test_a_line_that_narrows_has_meridians_for_edges_and_its_width_at_the_rim(name):
    site = site_of(name)
    (course,) = courses_of(Vertical(**COMMON, around=(1.0,), narrows=True), site)
    shape = band(course, -3.0, 7.0)
    wall = reference.Wall.of(CUPS[name])
    arounds = []
    for edge in (shape.outer[0], shape.outer[2]):
        around, down = edge.curve.at(np.linspace(edge.t0, edge.t1, 9))
        assert np.ptp(around) == 0
        assert sorted(down[[0, -1]]) == pytest.approx([12.0, wall.length - 6.0])
        arounds.append(around[0])
    at_rim = reference.length(wall, lambda a: (a, np.zeros_like(a)), *arounds)
    assert at_rim == pytest.approx(10.0, abs=1e-9)
    assert reference.length(wall, lambda a: (a, np.zeros_like(a)), 1.0, arounds[1]) == pytest.approx(
        7.0, abs=1e-9
    )


@pytest.mark.parametrize("distance", [-4.0, 0.0, 2.5])
@pytest.mark.parametrize("kind", ["ring", *PATHS])
@pytest.mark.parametrize("name", CUPS)
def test_an_overlap_goes_on_so_far_along_its_own_middle(name, kind, distance):
    site = site_of(name)
    line = (
        Ring(**COMMON, downs=(Down(40.0),), joint=1.0, ends="upright")
        if kind == "ring"
        else chevron(path=kind)
    )
    (course,) = courses_of(line, site)
    wall = reference.Wall.of(CUPS[name])

    def size(edges):
        return sum(reference.length(wall, edge.curve.at, edge.t0, edge.t1) for edge in edges)

    once, more = middle(course, distance), middle(course, distance, 4.25)
    assert size(more) - size(once) == pytest.approx(4.25, abs=1e-6)
    shape = band(course, distance - 1.0, distance + 1.0, 4.25)
    end = more[-1].curve.at(more[-1].t1)
    cut = next(
        edge
        for edge in shape.outer
        if isinstance(edge.curve, Straight)
        and edge.curve.heading_rad == 0.0
        and abs(edge.curve.around_rad - float(end[0])) < 1e-9
    )
    assert min(cut.t0, cut.t1) < float(end[1]) < max(cut.t0, cut.t1)


def test_what_can_not_be_cut_is_refused():
    site = site_of("coated")
    (course,) = courses_of(diagonal((0.0, 40.0), (2.0, 40.5), path="even-drop"), site)
    with pytest.raises(GeometryError, match='so nearly along the rim that ends = "level".*over 120 mm'):
        band(course, -2.0, 2.0)
    (course,) = courses_of(diagonal((0.0, 20.0), (0.01, 90.0), ends="upright"), site)
    with pytest.raises(GeometryError, match='so nearly along the meridian that ends = "upright"'):
        band(course, -2.0, 2.0)
    (course,) = courses_of(chevron(points=900), site)
    with pytest.raises(GeometryError, match="points are so sharp.*tips over 60 mm long: give it fewer"):
        band(course, -1.0, 1.0)
    (course,) = courses_of(chevron(points=40, overlap_mm=1.0), site)
    with pytest.raises(GeometryError, match="an overlap of 40 mm is longer than a leg"):
        band(course, -0.2, 0.2, 40.0)
    (course,) = courses_of(Vertical(**COMMON, around=(0.0,), narrows=True, ends="square"), site)
    with pytest.raises(GeometryError, match="narrows = true can't be cut square"):
        band(course, -1.0, 1.0)
    steep = Site.of(a_cup(60, 9, 60, rim_clearance_mm=0, base_clearance_mm=0), Pattern(name="p", lines=()))
    (course,) = courses_of(diagonal((0.0, 20.0), (1.0, 59.0), path="same-slant"), steep)
    with pytest.raises(GeometryError, match="inner edge would fold over itself|past the point"):
        _ = band(course, -40.0, 40.0).traces


@pytest.mark.parametrize("stripes", [1, 2, 3])
@pytest.mark.parametrize(("points", "sharp"), [(4, False), (14, True), (20, True)])
def test_the_tips_of_sharp_points_are_cut_level(points, sharp, stripes):
    """A tip may lie four half widths past the middle of its own stripe, and is cut along a parallel there."""
    site = site_of("shallow")
    line = Chevron(
        name="c", vinyl="v", width_mm=3.0, stripes=stripes, top=Down(35.0), bottom=Down(95.0), points=points, joint=0.0
    )
    (course,) = courses_of(line, site)
    places = [5.0 * (number - (stripes - 1) / 2) for number in range(stripes)]
    for place in places:
        shape = band(course, place - 1.5, place + 1.5)
        _, top, _, bottom = shape.polygon.bounds
        downs = [float(edge.curve.at(edge.t0)[1]) for edge in middle(course, place)]
        reach = max(min(downs) - top, bottom - max(downs))
        level = [edge for edge in shape.outer if isinstance(edge.curve, Parallel)]
        if sharp:
            assert reach == pytest.approx(6.0, abs=1e-6)
            assert len(level) == 2 * points + 1  # the joint's own tip is in two halves
        else:
            assert reach < 6.0
            assert not level
    whole = band(course, places[0] - 1.5, places[-1] + 1.5)
    for place in places:
        stripe = band(course, place - 1.5, place + 1.5)
        assert stripe.polygon.difference(whole.polygon.buffer(0.01)).area < 1e-6
