"""Small pictures: strips of the right size at the right place, from sides from which they are seen."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from profiled import LINES, PROFILED, turned
from strategies import a_cup

from stripegen.decoration import decorate
from stripegen.spec import Cup, Pattern, Vertical
from stripegen.worklook import MOST_HEIGHT_MM, WIDTH_MM, Seen, SmallCup, lit_items, pale_items

CUPS = {"narrower": a_cup(43.0, 31.0, 152.0), "wider": a_cup(31.0, 45.0, 120.0), "plain": a_cup(40.0, 40.0, 110.0)} | PROFILED


def look_of(cup: Cup, *lines) -> tuple[SmallCup, list]:
    decoration = decorate(cup, Pattern(name="p", lines=lines))
    flats = [flat for own in decoration.pieces for flat in own]
    return SmallCup(decoration.site.wall, tuple(flat.strip.shape for flat in flats)), flats


def polygon(rings) -> shapely.Polygon:
    return shapely.make_valid(shapely.Polygon(rings[0].points(0.01), [ring.points(0.01) for ring in rings[1:]]))


def areas(seen: Seen) -> list[float]:
    return [sum(polygon(part).area for part in parts) for parts in seen.strips]


@pytest.mark.parametrize("kind", CUPS)
def test_an_opened_wall_shows_all_of_every_strip_at_one_scale_of_areas(kind):
    look, flats = look_of(CUPS[kind], *LINES)
    seen = look.seen(None)
    space = turned(CUPS[kind])
    downs = np.linspace(0.0, space.length, 20001)
    wall_area = math.tau * np.trapezoid(space.place(downs)[0], downs)
    scale = polygon((seen.body,)).area / wall_area
    for flat, area in zip(flats, areas(seen), strict=True):
        assert area == pytest.approx(scale * flat.area_mm2, rel=0.12)


@pytest.mark.parametrize("kind", CUPS)
@pytest.mark.parametrize("side", [None, 0, 45, 180, 315])
def test_all_is_drawn_on_the_cup_and_the_cup_on_the_picture(kind, side):
    look, _ = look_of(CUPS[kind], *LINES)
    seen = look.seen(side)
    assert seen.height_mm <= MOST_HEIGHT_MM + 1e-6
    body = polygon((seen.body,))
    page = shapely.box(0, 0, WIDTH_MM, seen.height_mm)
    assert page.contains(body)
    assert seen.pointer is None or page.contains(polygon((seen.pointer,)))
    for parts in seen.strips:
        for part in parts:
            assert body.buffer(0.15).contains(polygon(part))


@pytest.mark.parametrize("side", [0, 45, 90, 135, 180, 225, 270, 315])
def test_the_zero_mark_is_shown_where_it_is(side):
    look, _ = look_of(CUPS["narrower"], *LINES)
    seen = look.seen(side)
    if math.cos(math.radians(side)) < -1e-9:
        assert seen.pointer is None
        return
    x0, _, x1, _ = polygon((seen.pointer,)).bounds
    scale = (seen.body.bounds()[2] - seen.body.bounds()[0]) / 2 / 43.0
    assert (x0 + x1) / 2 == pytest.approx(WIDTH_MM / 2 + scale * 43.0 * math.sin(math.radians(-side)), abs=1e-6)


@pytest.mark.parametrize("degrees", range(0, 360, 17))
def test_a_strip_is_shown_whole_from_its_side(degrees):
    line = Vertical(name="bar", vinyl="v", width_mm=4.0, around=(math.radians(degrees),))
    look, flats = look_of(CUPS["plain"], line)
    side = look.side_of([0])
    off = math.remainder(math.radians(side - degrees), math.tau)
    assert abs(off) <= math.radians(22.5) + 1e-9
    seen = look.seen(side)
    scale = (seen.body.bounds()[2] - seen.body.bounds()[0]) / 80.0
    (area,) = areas(seen)
    across = 40.0 * (math.sin(-off + 0.05) - math.sin(-off - 0.05))  # of 4 mm of its girth
    assert area == pytest.approx(scale**2 * across * flats[0].cut_mm, rel=0.02)


def test_what_goes_far_round_takes_the_opened_wall():
    look, flats = look_of(CUPS["narrower"], *LINES)
    for number, flat in enumerate(flats):
        low, high = flat.strip.shape.around_range
        assert (look.side_of([number]) is None) == (high - low > math.radians(120))
    assert look.side_of([0, 1]) is None  # the two seams


def test_what_is_lit_is_drawn_over_what_is_pale():
    look, _ = look_of(CUPS["narrower"], *LINES)
    seen = look.seen(None)
    (lit,) = lit_items(seen, [0], ["#b8923a"])
    assert lit.fill == "#b8923a" and lit.shapes in [item.shapes for item in pale_items(seen)]
    assert len(pale_items(seen)) == 2 + sum(len(parts) for parts in seen.strips)
    assert look.seen(None) is seen
