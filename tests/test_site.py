"""A cup's limits, seams and places against points in space and shapes laid flat by triangles."""

import math

import numpy as np
import pytest
import reference
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import CUPS, a_cup, box, cups

from stripegen.crossing import level_t
from stripegen.curves import Parallel, Straight
from stripegen.errors import GeometryError
from stripegen.shapes import Edge
from stripegen.site import Site
from stripegen.spec import Along, Down, Keepout, Pattern, Seam

laws = settings(deadline=None, max_examples=60)
PLAIN = Pattern(name="p", lines=())


def site_of(cup, pattern=PLAIN, resin=None) -> Site:
    return Site.of(cup, pattern, resin)


@pytest.mark.parametrize(
    ("cup_mm", "pattern_mm", "held"),
    [(None, None, (12, 6)), (4.0, None, (4, 4)), (None, 0.0, (0, 0)), (3.0, 9.0, (9, 9)), (9.0, 3.0, (9, 9))],
)
def test_the_larger_of_the_clearances_given_holds(cup_mm, pattern_mm, held):
    cup = a_cup(40, 35, 120, rim_clearance_mm=cup_mm, base_clearance_mm=cup_mm)
    site = site_of(
        cup, Pattern(name="p", lines=(), rim_clearance_mm=pattern_mm, base_clearance_mm=pattern_mm)
    )
    assert (site.top_mm, 120 - site.bottom_mm) == pytest.approx(held)


def test_clearances_that_leave_nothing_are_refused():
    with pytest.raises(GeometryError, match="60 and 60 mm"):
        site_of(a_cup(40, 35, 120, rim_clearance_mm=60, base_clearance_mm=60))


@laws
@given(cup=cups(), value=st.floats(0, 1), from_base=st.booleans())
def test_places_down_are_read_from_either_end(cup, value, from_base):
    site = site_of(cup)
    length, top, bottom = cup.wall_mm, site.top_mm, site.bottom_mm
    mm = site.down_mm(Down(value * length, from_base=from_base))
    assert mm == pytest.approx(length * (1 - value) if from_base else length * value)
    share = site.down_mm(Down(value, is_share=True, from_base=from_base))
    assert share == pytest.approx(top + (bottom - top) * (1 - value if from_base else value))


def test_a_place_off_the_wall_is_refused():
    with pytest.raises(GeometryError, match="121.00 mm down misses the wall, which is 120.00"):
        site_of(CUPS["cylinder"]).down_mm(Down(121.0))
    with pytest.raises(GeometryError, match="misses the wall"):
        site_of(CUPS["cylinder"]).around_rad(Along(10.0, 130.0), 0.0)


def test_a_length_along_a_girth_is_a_place():
    cup = a_cup(
        43,
        31,
        152,
        resin_mm=0.8,
        seams={"side": Seam(name="side", rim=Along(20.0, 0.0), base=Along(20.0, 0.0))},
    )
    site, bare, coated = site_of(cup), reference.Wall.of(cup, 0.0), reference.Wall.of(cup)
    # the pattern's places are read on the coated wall, a cup's own measures on the bare one
    for wall, place in ((coated, site.around_rad(Along(77.0, 30.0), 0.0)), (bare, None)):
        down, along = (30.0, 77.0) if place is not None else (0.0, 20.0)
        place = site.seams["side"][0] if place is None else place
        found = reference.length(wall, lambda a, down=down: (a, np.full_like(a, down)), 0.0, place)
        assert found == pytest.approx(along, abs=1e-9)


def test_a_line_on_a_further_coat_keeps_the_places_of_the_cups_own():
    """Places are carried over along the normals: the same around, not the same length on the thicker coat."""
    leaning = Seam(name="side", rim=0.3, base=0.9)
    cup = a_cup(43, 31, 152, resin_mm=0.8, seams={"side": leaning})
    own, further = site_of(cup), site_of(cup, resin=2.8)
    assert further.wall.rim_radius_mm > own.wall.rim_radius_mm + 1.9
    found = reference.length(
        reference.Wall.of(cup), lambda a: (a, np.full_like(a, 12.0)), 0.0, further.around_rad(Along(132.5, 12.0), 60.0)
    )
    assert found == pytest.approx(132.5, abs=1e-9)
    assert further.around_rad("side", 60.0) == own.around_rad("side", 60.0)


@pytest.mark.parametrize("name", CUPS)
def test_a_leaning_seam_is_the_straight_way_between_its_ends(name):
    cup = CUPS[name]
    seam = Seam(name="side", rim=0.3, base=0.3 + math.tau - 0.25)  # the short way back, not nearly once round
    site = site_of(a_cup(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm, seams={"side": seam}))
    wall = reference.Wall.of(a_cup(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm))
    length, arounds, downs = reference.shortest(wall, (0.3, 0.0), (0.05, wall.length), parts=16)
    for around, down in list(zip(arounds, downs, strict=True))[8::20]:
        assert site.around_rad("side", down) == pytest.approx(around, abs=1e-5)
    curve = site.seam("side")
    assert level_t(curve, wall.length) == pytest.approx(length, abs=1e-6)
    assert site.around_rad("front", 50.0) == 0.0
    assert site.seam("back").heading_rad == 0.0


@laws
@given(
    cup=cups(),
    down0=st.floats(0, 1),
    heading=st.floats(-3.1, 3.1),
    t=st.floats(-40, 40),
    offset=st.floats(-0.4, 0.4),
)
def test_level_t_finds_where_a_straight_way_is_level(cup, down0, heading, t, offset):
    wall = site_of(cup).wall
    curve = Straight(wall, 0.5, down0 * wall.wall_mm, heading)
    down = float(curve.at(t)[1])
    if math.isnan(down):
        return
    found = level_t(curve, down, t + offset)
    assert float(curve.at(found)[1]) == pytest.approx(down, abs=1e-7)
    assert abs(found - t - offset) <= abs(offset) + 1e-4  # none is nearer than the one it was taken from


def test_level_t_is_nan_where_a_way_never_comes():
    wall = site_of(CUPS["steep"]).wall
    level = Straight(wall, 0.0, 30.0, math.pi / 2)
    lowest = max(float(level.at(t)[1]) for t in np.linspace(-60, 60, 1201))
    assert lowest == pytest.approx(30.0)
    assert math.isnan(level_t(level, 31.0))
    assert float(level.at(level_t(level, 25.0, 10.0))[1]) == pytest.approx(25.0)


@pytest.mark.parametrize("name", CUPS)
def test_a_keepout_is_as_wide_as_it_says_on_the_coated_wall(name):
    cup = CUPS[name]
    keepout = Keepout(around=1.2, width_mm=21.0, from_mm=15.0, to_mm=55.0)
    cup = a_cup(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm, resin_mm=1.1, keepouts=(keepout,))
    site = site_of(cup)
    flat = reference.Flat(reference.Wall.of(cup), 0.0, 2.5)
    (shape,) = site.keepouts
    found = shapely.Polygon(
        np.concatenate([flat(*e.curve.at(np.linspace(e.t0, e.t1, 500)))[:-1] for e in shape.outer])
    )
    meridian = shapely.LineString(flat(1.2, np.array([-100.0, 200.0 if cup.base_radius_mm > 30 else 100.0])))
    true = meridian.buffer(10.5, cap_style="flat").intersection(flat.belt(15.0, 55.0))
    assert reference.apart(found, true) < 1e-3
    # the limit is found wherever the keepout lies over a shape, however often that has gone round
    for turn in (-2, 0, 3):
        over = box(site.wall, 1.1 + turn * math.tau, 1.3 + turn * math.tau, 30.0, 40.0)
        assert [limit.polygon.intersects(over.polygon) for limit in site.limits(over)] == [True]
    assert site.limits(box(site.wall, 2.2, 2.6, 30.0, 40.0)) == []


def test_a_keepout_wider_than_the_cup_is_refused():
    keepout = Keepout(around=0.0, width_mm=130.0, from_mm=10.0, to_mm=20.0)
    with pytest.raises(GeometryError, match="130 mm is wider than the cup"):
        site_of(a_cup(40, 40, 120, keepouts=(keepout,)))


def test_a_keepout_on_a_seam_stands_where_the_seam_is_at_its_middle():
    seam = Seam(name="side", rim=0.0, base=0.6)
    keepout = Keepout(around="side", width_mm=10.0, from_mm=40.0, to_mm=80.0)
    site = site_of(a_cup(40, 40, 120, seams={"side": seam}, keepouts=(keepout,)))
    low, high = site.keepouts[0].around_range
    assert (low + high) / 2 == pytest.approx(0.3)


@pytest.mark.parametrize("name", CUPS)
def test_limits_and_edges_along_them(name):
    cup = CUPS[name]
    keepout = Keepout(around=1.0, width_mm=8.0, from_mm=20.0, to_mm=40.0)
    cup = a_cup(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm, keepouts=(keepout,))
    site = site_of(cup)
    wall = site.wall
    inside = box(wall, 2.0, 3.0, site.top_mm, site.bottom_mm)
    assert site.limits(inside) == []
    over = box(wall, 2.0, 3.0, site.top_mm - 0.01, site.bottom_mm + 5)
    assert len(site.limits(over)) == 2
    left = over.polygon.difference(shapely.union_all([limit.polygon for limit in site.limits(over)]))
    assert left.bounds[1::2] == pytest.approx((site.top_mm, site.bottom_mm))
    assert site.on_limit(Edge(Parallel(wall, site.top_mm), 1.0, 5.0))
    assert site.on_limit(Edge(Parallel(wall, site.bottom_mm), 1.0, 5.0))
    assert not site.on_limit(Edge(Parallel(wall, site.top_mm + 0.01), 1.0, 5.0))
    for edge in site.keepouts[0].outer:
        assert site.on_limit(edge)
        assert site.on_limit(edge.turned(2 * math.tau))
    assert not site.on_limit(Edge(Straight(wall, 1.0, 0.0, 0.0), 25.0, 30.0))
