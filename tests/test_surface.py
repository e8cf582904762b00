"""The wall and its development against points in space, triangles laid flat and shortest polylines."""

import math

import numpy as np
import pytest
import reference
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from strategies import CUPS, cups

from stripegen.errors import GeometryError
from stripegen.surface import Frustum

laws = settings(deadline=None, max_examples=60)
SLOPES = (0.0, 1e-16, -1e-16, 1e-13, -1e-11, 1e-9, -1e-8, 1e-7, -1e-6)


def wall_of(cup) -> Frustum:
    return Frustum.from_radii(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm).coated(cup.resin_mm)


def frustum(slope: float) -> tuple[Frustum, reference.Wall]:
    wall = Frustum(rim_radius_mm=40.0, slope=slope, wall_mm=120.0)
    return wall, reference.Wall(40.0, 40.0 + slope * 120.0, 120.0)


@pytest.mark.parametrize("name", CUPS)
def test_resin_moves_the_wall_squarely_out(name):
    cup = CUPS[name]
    wall, true = wall_of(cup), reference.Wall.of(cup)
    assert wall.rim_radius_mm == pytest.approx(true.rim, abs=1e-12)
    assert wall.base_radius_mm == pytest.approx(true.base, abs=1e-12)
    assert wall.wall_mm == true.length
    assert wall.height_mm == pytest.approx(true.height, abs=1e-12)
    girth = reference.length(true, lambda a: (a, np.full_like(a, 33.0)), 0.0, math.tau)
    assert wall.girth_mm(33.0) == pytest.approx(girth, abs=1e-9)


def extrapolated_flat(wall: reference.Wall, arounds: np.ndarray, downs: np.ndarray) -> np.ndarray:
    """Places laid flat about (0, 0); the arounds are multiples of 0.02, so meridians of every fan."""
    found = []
    for step in (4e-3, 2e-3, 1e-3):
        flat = reference.Flat(wall, -8.0, 8.0, step)
        zero = flat(0.0, 0.0)
        z = (flat(arounds, downs) - zero) @ [1j, 1.0] * flat.way_down(0.0).conjugate()
        found.append(z)
    z = reference.extrapolated(found)
    return np.stack([z.imag, z.real], axis=1)


@pytest.mark.parametrize("wall", [*CUPS, *SLOPES], ids=str)
def test_development_keeps_what_triangles_keep(wall):
    tool, true = (
        (wall_of(CUPS[wall]), reference.Wall.of(CUPS[wall])) if isinstance(wall, str) else frustum(wall)
    )
    rng = np.random.default_rng(3)
    arounds = rng.integers(-400, 400, 200) / 50
    downs = rng.uniform(-5, tool.wall_mm + 5, 200)
    x, y = tool.develop(arounds, downs)
    assert np.abs(np.stack([x, y], axis=1) - extrapolated_flat(true, arounds, downs)).max() < 5e-9


@pytest.mark.parametrize("name", CUPS)
def test_a_strip_of_triangles_laid_one_by_one_lands_where_the_development_says(name):
    tool, true = wall_of(CUPS[name]), reference.Wall.of(CUPS[name])
    t = np.linspace(0, 1, 1501)
    around, down = 0.4 + 3.5 * t + 0.1 * np.sin(9 * t), 20 + 30 * t + 4 * np.cos(11 * t)
    rows = [(around, down), (around + 0.003, down + 0.1)]
    left, right = reference.lay_triangles(*(true.point(*row) for row in rows), true.out(around, down))
    first = np.array(tool.develop(*rows[0])).T
    last = np.array(tool.develop(*rows[1])).T
    # turned so that the first two points lie as the triangles' do; a mirror image could not
    unit = complex(*(last[0] - first[0])) / abs(complex(*(last[0] - first[0])))
    for row, found in ((first, left), (last, right)):
        z = (row - first[0]) @ [1, 1j] * unit.conjugate()
        assert np.abs(found @ [1, 1j] - z).max() < 2e-3


@laws
@given(st.data())
def test_reach_goes_as_far_as_it_says_and_back(data):
    wall = wall_of(data.draw(cups()))
    around, down = data.draw(st.floats(-7, 7)), data.draw(st.floats(0, 1)) * wall.wall_mm
    heading, distance = data.draw(st.floats(-7, 7)), data.draw(st.floats(-60, 60))
    to_point = wall.radius_mm(down) / abs(wall.slope) if wall.slope else math.inf
    assume(abs(distance) < 0.9 * to_point)
    a, v, f = (float(value) for value in wall.reach(around, down, heading, distance))
    back = [float(value) for value in wall.reach(a, v, f, -distance)]
    assert back == pytest.approx([around, down, heading], abs=1e-9)
    onward = wall.reach(around, down, heading, distance / 2)
    assert [float(x) for x in wall.reach(*onward, distance / 2)] == pytest.approx([a, v, f], abs=1e-9)


@pytest.mark.parametrize("name", CUPS)
@pytest.mark.parametrize("heading", [0.3, 1.2, 1.7, 2.9, -0.8, -2.0])
def test_reach_is_the_shortest_way(name, heading):
    tool, true = wall_of(CUPS[name]), reference.Wall.of(CUPS[name])
    start, distance = (0.7, 40.0), 35.0
    a, v, f = (float(value) for value in tool.reach(*start, heading, distance))
    length, arounds, downs = reference.shortest(true, start, (a, v))
    assert length == pytest.approx(distance, abs=1e-7)
    # the polyline's first and last chords point as the headings say
    points = true.point(arounds, downs)
    for (first, last), place, said in (((0, 1), start, heading), ((-2, -1), (a, v), f)):
        chord = points[last] - points[first]
        down_way = true.point(place[0], place[1] + 1) - true.point(*place)
        right_way = np.array([-math.sin(place[0]), math.cos(place[0]), 0.0])
        found = math.atan2(chord @ right_way, chord @ down_way)
        assert math.remainder(found - said, math.tau) == pytest.approx(0, abs=0.02)


WAYS = [
    ((0.3, 20.0), (2.9, 55.0)),
    ((0.3, 50.0), (-1.9, 25.0)),
    ((0.3, 20.0), (0.3 + math.radians(359.9), 60.0)),
    ((0.3, 15.0), (0.3 + math.radians(430), 62.0)),
    ((1.0, 30.0), (1.0 + 1e-7, 60.0)),
    ((1.0, 30.0), (2.2, 30.0)),
]


@pytest.mark.parametrize("name", CUPS)
@pytest.mark.parametrize("way", WAYS, ids=lambda way: f"{math.degrees(way[1][0] - way[0][0]):.0f}")
def test_straight_way_is_as_short_as_a_polyline_gets(name, way):
    tool, true = wall_of(CUPS[name]), reference.Wall.of(CUPS[name])
    if (
        name == "steep" and way[1][0] > 7
    ):  # past the point to which it tapers: no shortest polyline stands still
        with pytest.raises(GeometryError, match="no straight way"):
            tool.straight_way(*way)
        return
    length, _, downs = reference.shortest(true, *way, parts=12)
    if not 0 <= downs.min() <= downs.max() <= true.length:
        with pytest.raises(GeometryError, match="runs off the wall"):
            tool.straight_way(*way)
        return
    heading, found = tool.straight_way(*way)
    assert found == pytest.approx(length, abs=1e-6)
    a, v, _ = tool.reach(*way[0], heading, found)
    assert (float(a), float(v)) == pytest.approx(way[1], abs=1e-9)


def test_straight_way_tells_how_far_it_runs_off():
    true = reference.Wall(40.0, 60.0, 60.0)
    start, end = (0.0, 1.0), (1.6, 1.0)
    _, _, downs = reference.shortest(true, start, end, parts=16)
    with pytest.raises(GeometryError, match=rf"{-downs.min():.1f} mm over the rim"):
        Frustum.from_radii(40.0, 60.0, 60.0).straight_way(start, end)
    true = reference.Wall(60.0, 40.0, 60.0)
    start, end = (0.0, 59.0), (1.6, 59.0)
    _, _, downs = reference.shortest(true, start, end, parts=16)
    with pytest.raises(GeometryError, match=rf"{downs.max() - 60:.1f} mm below the base"):
        Frustum.from_radii(60.0, 40.0, 60.0).straight_way(start, end)


def test_no_straight_way_past_the_point():
    with pytest.raises(GeometryError, match="430.0 degrees.*under 360.0"):
        Frustum.from_radii(60.0, 30.0, 60.0).straight_way((0.0, 10.0), (math.radians(430), 20.0))


@pytest.mark.parametrize(
    "measures", [(0, 0, 10), (10, 0, 0), (10, 1.01, 5), (10, -1.01, 5), (math.nan, 0, 5), (10, -0.9, 50)]
)
def test_walls_that_can_not_be_are_refused(measures):
    rim, slope, length = measures
    with pytest.raises(GeometryError):
        Frustum(rim_radius_mm=rim, slope=slope, wall_mm=length)
