"""What is seen of a wall from a little above, against rays through its triangles."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from profiled import PROFILED, profiled, turned
from seen_from_above import hidden, projected
from strategies import a_cup

from stripegen.panels import PIXELS_PER_MM
from stripegen.pictures import CHORD_MM
from stripegen.site import Site
from stripegen.spec import Cup, Pattern
from stripegen.tilted import TILT_RAD, Sight, View, half_seen

CUPS = {
    "narrower": a_cup(43.0, 31.0, 152.0),
    "wider": a_cup(31.0, 45.0, 120.0),
    "plain": a_cup(40.0, 40.0, 110.0),
    "steep": a_cup(70.0, 30.0, 75.0),
    "flat": a_cup(30.0, 78.0, 49.0),
    "waist": profiled((42.0, 150.0), (28.0, 80.0), (43.0, 0.0)),
    "hollow": profiled((42.0, 150.0), (30.0, 95.0), (31.0, 55.0), (42.0, 0.0), smooth=True),
    "collar": profiled((30.0, 120.0), (30.0, 100.0), (42.0, 95.0), (42.0, 88.0), (31.0, 80.0), (35.0, 0.0)),
    "step": profiled((30.0, 120.0), (30.0, 70.0), (42.0, 70.0), (40.0, 0.0)),
    **PROFILED,
}
NEAR_RAD, NEAR_MM = 0.1, 1.2  # of the border of what is seen; the triangles are no finer
OVERHANGING = "ledge"  # alone hides what lies broadly in front


def wall_of(cup: Cup):
    return Site.of(cup, Pattern(name="p", lines=())).wall


def test_it_is_seen_from_a_little_above():
    assert math.radians(8) <= TILT_RAD <= math.radians(10)


@pytest.mark.parametrize("kind", CUPS)
def test_what_is_seen_is_what_no_ray_to_the_eye_meets(kind):
    cup = CUPS[kind]
    wall, space = wall_of(cup), turned(cup)
    rng = np.random.default_rng(7)
    downs = np.sort(rng.uniform(1.5, space.length - 1.5, 70))
    downs = np.array([down for down in downs if all(abs(down - bend) > NEAR_MM for bend in space.bends)])
    grid = np.linspace(0.0, wall.wall_mm, 700)
    halves = np.interp(downs, grid, half_seen(wall, grid, grid))
    around = np.concatenate([rng.uniform(-math.pi, math.pi, len(downs)) for _ in range(5)])
    down, half = np.tile(downs, 5), np.tile(halves, 5)
    beside = [np.interp(down + side, grid, half_seen(wall, grid, grid)) for side in (-NEAR_MM, NEAR_MM)]
    seen = np.abs(around) < half
    sure = np.abs(np.abs(around) - half) > NEAR_RAD
    for other in beside:
        sure &= (np.abs(around) < other) == seen
    blocked = hidden(space, around, down, TILT_RAD)
    assert sure.sum() > 0.8 * len(around)
    wrong = sure & (seen == blocked)
    assert not wrong.any(), list(zip(around[wrong], down[wrong], half[wrong], strict=True))[:5]
    assert (sure & blocked & (np.cos(around) > 0.5)).any() == (kind == OVERHANGING)
    assert (sure & ~blocked).any() and (sure & blocked).any()


@pytest.mark.parametrize("kind", CUPS)
def test_points_are_drawn_where_a_turn_in_space_puts_them(kind):
    cup = CUPS[kind]
    view = View(Sight(wall_of(cup), 0.6), math.radians(40), 100.0, 50.0)
    space = turned(cup)
    rng = np.random.default_rng(3)
    around, down = rng.uniform(-4, 4, 200), rng.uniform(0.0, space.length, 200)
    x, y = view.place(around, down)
    there = projected(space, around - math.radians(40), down, TILT_RAD)
    assert np.abs(np.stack([x, y], axis=-1) - (100.0, 50.0) - 0.6 * there).max() < (0.01 if cup.smooth else 1e-6)


@pytest.mark.parametrize("kind", CUPS)
def test_the_outline_holds_the_whole_wall_and_no_more(kind):
    cup = CUPS[kind]
    sight = Sight(wall_of(cup), 0.6)
    space = turned(cup)
    downs = np.unique(np.concatenate([np.linspace(0.0, space.length, 800), space.bends]))
    points = 0.6 * projected(space, np.linspace(-math.pi, math.pi, 361)[None, :], downs[:, None], TILT_RAD).reshape(-1, 2)
    assert sight.outline.geom_type == "Polygon" and not sight.outline.interiors
    assert shapely.distance(shapely.points(points), sight.outline).max() < CHORD_MM + 0.01
    # each part of the border has points of the wall close by
    border = shapely.points(sight.outline.exterior.segmentize(0.5).coords)
    tree = shapely.STRtree(shapely.points(points))
    _, apart = tree.query_nearest(border, return_distance=True, all_matches=False)
    assert apart.max() < 0.35
    if not cup.profile:
        hull = shapely.MultiPoint(points).convex_hull
        assert sight.outline.symmetric_difference(hull).area < 1e-3 * hull.area


@pytest.mark.parametrize("kind", CUPS)
def test_points_of_the_page_are_traced_to_the_places_that_they_show(kind):
    cup = CUPS[kind]
    wall = wall_of(cup)
    view = View(Sight(wall, 0.7), 2.0, 60.0, 40.0)
    rng = np.random.default_rng(5)
    down = rng.uniform(2.0, wall.wall_mm - 2.0, 400)
    turn = rng.uniform(-math.pi, math.pi, 400)
    half = np.interp(down, view.sight.downs_mm, view.sight.halves_rad)
    near = np.min([np.interp(down + side, view.sight.downs_mm, view.sight.halves_rad) for side in (-1, 0, 1)], axis=0)
    kept = (np.abs(turn) < near - 0.1) & (half > 0.2) & (np.abs(np.abs(turn) - math.pi / 2) > 0.05)
    assert kept.sum() > 60
    turn, down = turn[kept], down[kept]
    x, y = view.place(2.0 + turn, down)
    around, there = view.spots(x, y)
    again = np.stack(view.place(around, there), axis=-1)
    assert np.abs(again - np.stack([x, y], axis=-1)).max() < 0.5 / PIXELS_PER_MM
    assert np.abs(there - down).max() < 0.25
    assert np.abs(around - 2.0 - turn).max() < 0.05


@pytest.mark.parametrize("kind", CUPS)
def test_what_is_seen_fills_the_outline_below_the_opening(kind):
    sight = Sight(wall_of(CUPS[kind]), 0.6)
    view = View(sight, 1.0, 0.0, 0.0)
    rings = [view.rings(part) for part in view.belt(0.0, sight.wall.wall_mm)]
    areas = [
        shapely.make_valid(shapely.Polygon(ring[0].points(0.01), [hole.points(0.01) for hole in ring[1:]])) for ring in rings
    ]
    opening = shapely.Polygon(view.ellipse(sight.wall.rim_radius_mm, 0.0).points(0.001))
    body = sight.outline.difference(opening)
    assert shapely.union_all(areas).symmetric_difference(body).area < 0.004 * body.area
    # nothing is drawn twice
    assert sum(area.area for area in areas) == pytest.approx(body.area, rel=0.004)


def test_an_ellipse_is_a_circle_seen_from_above():
    view = View(Sight(wall_of(CUPS["plain"]), 0.5), 0.0, 30.0, 20.0)
    points = np.array(view.ellipse(40.0, 10.0).points(0.001)) - (30.0, 20.0 + 5.0 * math.cos(TILT_RAD))
    along = np.hypot(points[:, 0] / 20.0, points[:, 1] / (20.0 * math.sin(TILT_RAD)))
    assert np.abs(along - 1).max() < 3e-4
