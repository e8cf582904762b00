"""Lying order, cutting to a turn, dividing for the page, and colours."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from profiled import PROFILED, turned
from strategies import a_cup

from stripegen.curves import Parallel, Straight
from stripegen.decoration import decorate
from stripegen.flatbands import bands_of
from stripegen.pictures import (
    Onto,
    chains_seen,
    contrast,
    divided,
    edge_colour,
    in_painting_order,
    ink_on,
    luminance,
    mixed,
    painted_strips,
    parts_seen,
    profile_bend,
    vinyls_of,
)
from stripegen.shapes import FULL_TURN, Edge
from stripegen.smooth import SmoothWall
from stripegen.spec import Diagonal, Down, Line, Pattern, Ring, Vertical
from stripegen.surface import Frustum, Wall
from stripegen.tilted import TILT_RAD, Sight, View
from stripegen.walls import bare_wall

CUP = a_cup(43.0, 31.0, 152.0)
COLOURS = st.tuples(*[st.integers(0, 255)] * 3).map(lambda c: "#" + "".join(f"{part:02x}" for part in c))


def bar(name: str, around: float = 0.0, **more) -> Vertical:
    return Vertical(name=name, vinyl=more.pop("vinyl", "v"), width_mm=4.0, around=(around,), **more)


def coil(turns: float) -> Diagonal:
    return Diagonal(
        name="coil",
        vinyl="v",
        width_mm=3.0,
        start_around=0.2,
        start_down=Down(20.0),
        end_around=0.2 + turns * FULL_TURN,
        end_down=Down(140.0),
        path="even-drop",
    )


def test_a_covered_line_is_painted_before_what_covers_it():
    order = in_painting_order([bar("a"), bar("b", under=("c",)), bar("c", under=("a",)), bar("d")])
    assert [line.name for line in order] == ["b", "c", "a", "d"]


def test_a_line_over_what_covers_another_stays_over_it():
    order = in_painting_order([bar("edge"), bar("hoop"), bar("sash", under=("edge",))])
    assert [line.name for line in order] == ["sash", "edge", "hoop"]


def test_lines_that_nothing_ties_are_painted_as_listed():
    assert [line.name for line in in_painting_order([bar("b"), bar("a"), bar("c")])] == ["b", "a", "c"]


def test_a_circle_of_covers_is_told():
    with pytest.raises(ValueError, match="circle"):
        in_painting_order([bar("a", under=("b",)), bar("b", under=("a",))])


@given(st.permutations(range(6)), st.sets(st.tuples(st.integers(0, 5), st.integers(0, 5))))
def test_painting_order_keeps_every_pair(listed, pairs):
    under = {number: tuple(f"l{over}" for low, over in pairs if low == number < over) for number in range(6)}
    lines: list[Line] = [bar(f"l{number}", under=under[number]) for number in listed]
    order = [line.name for line in in_painting_order(lines)]
    assert sorted(order) == sorted(line.name for line in lines)
    for line in lines:
        assert all(order.index(line.name) < order.index(over) for over in line.under)


def test_strips_have_the_colour_of_their_role():
    lines = (
        bar("edge", vinyl="main"),
        Ring(name="hoop", vinyl="trim", width_mm=3.0, downs=(Down(40.0), Down(60.0))),
    )
    decoration = decorate(CUP, Pattern(name="p", lines=lines))
    bound = {"main": ("brass", "#b8923a"), "trim": ("ink", "#20242c")}
    painted = painted_strips(decoration, bound.__getitem__)
    assert [(strip.line, strip.colour) for strip in painted] == [
        ("edge", "#b8923a"),
        ("hoop", "#20242c"),
        ("hoop", "#20242c"),
    ]
    assert vinyls_of(decoration, bound.__getitem__) == [("brass", "#b8923a"), ("ink", "#20242c")]
    assert vinyls_of(decoration, lambda role: ("brass", "#b8923a")) == [("brass", "#b8923a")]


@given(st.floats(-8.0, 8.0))
@settings(deadline=None, max_examples=25)
def test_a_turn_shows_all_of_a_winding_strip_once(low):
    (laid,) = decorate(CUP, Pattern(name="p", lines=(coil(3.3),))).lines
    (strip,) = laid.strips
    parts = parts_seen(strip.shape, low, low + FULL_TURN)
    scale = strip.shape.outer[0].curve.wall.mean_radius_mm
    assert sum(part.area for part in parts) * scale == pytest.approx(strip.shape.polygon.area, rel=1e-9)
    for part in parts:
        x0, _, x1, _ = part.bounds
        assert low - 1e-9 <= x0 < x1 <= low + FULL_TURN + 1e-9


def test_a_part_of_a_turn_shows_what_lies_in_it():
    (laid,) = decorate(CUP, Pattern(name="p", lines=(bar("a", math.radians(350)),))).lines
    (strip,) = laid.strips
    assert not parts_seen(strip.shape, 0.1, 3.0)
    (part,) = parts_seen(strip.shape, -1.0, 1.0)
    assert part.centroid.x == pytest.approx(math.radians(-10), abs=1e-6)


def test_a_seam_is_seen_in_any_turn():
    wall = Frustum.from_radii(40.0, 40.0, 100.0)
    edge = Edge(Straight(wall, 7.0, 0.0, 0.0), 0.0, 100.0)
    (chain,) = chains_seen(edge, 0.0, FULL_TURN)
    assert chain[:, 0] == pytest.approx(7.0 - FULL_TURN)
    assert chain[[0, -1], 1].tolist() == [0.0, 100.0]
    chains = list(chains_seen(Edge(Parallel(wall, 50.0), 1.0, 1.0 + FULL_TURN), 0.0, FULL_TURN))
    lengths = [np.ptp(chain[:, 0]) for chain in chains]
    assert sum(lengths) == pytest.approx(FULL_TURN)


def develop(wall: Frustum, points: np.ndarray) -> np.ndarray:
    """Polar coordinates about the apex, or the plane where there is none."""
    around, down = points.T
    if wall.slope == 0:
        return np.stack([wall.rim_radius_mm * around, down], axis=-1)
    apart = (wall.rim_radius_mm + wall.slope * down) / wall.slope
    return np.stack([apart * np.sin(wall.slope * around), apart * np.cos(wall.slope * around)], axis=-1)


def side(wall: Wall, points: np.ndarray) -> np.ndarray:
    around, down = points.T
    radius, tilt = wall.radius_mm(down), TILT_RAD
    y = math.cos(tilt) * wall.drop_mm(down) + math.sin(tilt) * radius * np.cos(around)
    return np.stack([radius * np.sin(around), y], axis=-1)


def seen_from_the_side(wall: Wall) -> Onto:
    return View(Sight(wall, 1.0), 0.0, 0.0, 0.0).onto


WALLS = [Frustum.from_radii(*m) for m in ((43, 31, 152), (30, 46, 100), (40, 40, 90), (80, 20, 70))]
WALLS += [bare_wall(cup).coated(cup.resin_mm) for cup in PROFILED.values()]


@given(
    st.sampled_from(WALLS),
    st.lists(st.tuples(st.integers(-150, 150), st.integers(0, 100)), min_size=2, max_size=4, unique=True),
    st.floats(0.01, 0.2),
)
@settings(deadline=None, max_examples=80)
def test_a_divided_chain_stays_near_its_picture(wall, places, within):
    chain = np.array([(around / 100, share / 100 * wall.wall_mm) for around, share in places])
    fine = np.concatenate([np.linspace(a, b, 400) for a, b in itertools.pairwise(chain)])
    pictures = [(seen_from_the_side(wall), lambda points: side(wall, points))]
    if isinstance(wall, Frustum):
        (band,) = bands_of(wall)
        pictures.append((Onto(band.laid, band.bending), lambda points: develop(wall, points)))
    if isinstance(wall, SmoothWall):
        (band,) = bands_of(wall)
        pictures.append((Onto(band.laid, band.bending), lambda points: np.stack(band.laid(*points.T), axis=-1)))
    for onto, mapped in pictures:
        points = divided(chain, onto, within)
        assert points[0] == pytest.approx(chain[0]) and points[-1] == pytest.approx(chain[-1])
        apart = shapely.distance(shapely.points(mapped(fine)), shapely.LineString(mapped(points)))
        assert apart.max() <= within * 1.0001 + 1e-9


def test_a_chain_along_a_meridian_is_not_divided_but_at_bends():
    meridian = np.array([(1.0, 0.0), (1.0, 152.0)])
    assert len(divided(meridian, seen_from_the_side(Frustum.from_radii(43.0, 31.0, 152.0)), 0.01)) == 2
    ledge = bare_wall(PROFILED["ledge"])
    there = divided(np.array([(1.0, 10.0), (1.0, 150.0)]), seen_from_the_side(ledge), 0.01)
    assert there.tolist() == [[1.0, 10.0], [1.0, 70.0], [1.0, 78.0], [1.0, 150.0]]
    assert divided(there[::-1], seen_from_the_side(ledge), 0.01).tolist() == there[::-1].tolist()


def test_parts_between_two_parallels_are_what_lies_there():
    (laid,) = decorate(CUP, Pattern(name="p", lines=(coil(2.4),))).lines
    (strip,) = laid.strips
    whole = sum(part.area for part in parts_seen(strip.shape, 0.0, FULL_TURN))
    found = 0.0
    for low, high in itertools.pairwise((-math.inf, 55.0, 90.0, math.inf)):
        parts = parts_seen(strip.shape, 0.0, FULL_TURN, low, high)
        found += sum(part.area for part in parts)
        assert all(low - 1e-9 <= part.bounds[1] < part.bounds[3] <= high + 1e-9 for part in parts)
    assert found == pytest.approx(whole, rel=1e-9)
    edge = Edge(Straight(Frustum.from_radii(40.0, 40.0, 100.0), 0.5, 0.0, 0.3), 0.0, 90.0)
    (chain,) = chains_seen(edge, 0.0, FULL_TURN, 20.0, 60.0)
    assert chain[[0, -1], 1] == pytest.approx([20.0, 60.0])


@pytest.mark.parametrize("name", PROFILED)
def test_the_steepest_place_and_the_sharpest_turn_are_found(name):
    cup, space = PROFILED[name], turned(PROFILED[name])
    steepest, sharpest, _ = profile_bend(bare_wall(cup).coated(cup.resin_mm))
    downs = np.linspace(0.0, space.length, 20001)[1:-1]
    radius, height = space.place(downs)
    step = downs[1] - downs[0]
    assert steepest == pytest.approx(np.abs(np.diff(radius)).max() / step, rel=0.01)
    if cup.smooth:
        turns = np.abs(np.diff(np.arctan2(np.diff(radius), -np.diff(height))))
        assert sharpest == pytest.approx(turns.max() / step, rel=0.02)
    else:
        assert sharpest == 0.0


def test_luminance_and_contrast_of_known_colours():
    assert luminance("#ffffff") == pytest.approx(1.0)
    assert luminance("#000000") == 0.0
    assert luminance("#808080") == pytest.approx(0.2158605, abs=1e-6)
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


def test_mixing_goes_all_the_way():
    assert mixed("#102030", "#f0e0d0", 0.0) == "#102030"
    assert mixed("#102030", "#f0e0d0", 1.0) == "#f0e0d0"
    assert mixed("#000000", "#ffffff", 0.5) == "#808080"


@given(COLOURS)
def test_ink_is_always_read(ground):
    assert contrast(ink_on(ground), ground) >= 4.0


@given(COLOURS, COLOURS)
def test_an_edge_differs_from_its_strip(colour, ground):
    assert contrast(edge_colour(colour, ground), colour) >= 1.3
    alike = edge_colour(colour, colour)
    assert contrast(alike, colour) >= 1.7
