"""Who faces whom, with plain shapes."""

from __future__ import annotations

import math

from strategies import box

from stripegen.curves import Straight
from stripegen.facing import facing
from stripegen.shapes import FULL_TURN, Edge, Shape
from stripegen.slants import EvenDrop
from stripegen.surface import Frustum

WALL = Frustum.from_radii(40.0, 40.0, 120.0)
SCALE = WALL.mean_radius_mm


def keys_of(*lines, closed=()):
    found, touching = facing([[line] if not isinstance(line, list) else line for line in lines], SCALE, closed)
    return found, touching


def test_lines_side_by_side_face_the_next_on_both_sides_round_the_cup():
    lines = [box(WALL, at, at + 0.1, 20, 100) for at in (0.0, 2.0, 4.0)]
    found, touching = keys_of(*lines)
    assert not touching
    assert set(found) == {(0, 1, 0), (1, 2, 0), (0, 2, -1)}
    assert found[0, 1, 0].beside > 40 and found[0, 2, -1].beside < 0
    for first, second in zip(found[0, 2, -1].first, found[0, 2, -1].second, strict=True):
        assert abs(first[0]) < 1e-9 and abs(second[0] - (4.1 - FULL_TURN)) < 1e-9 and first[1] == second[1]


def test_what_lies_between_parts_them():
    found, _ = keys_of(*(box(WALL, 0.0, 0.5, down, down + 10) for down in (10, 50, 90)))
    assert set(found) == {(0, 1, 0), (1, 2, 0)}
    assert found[0, 1, 0].below > 0 and not found[0, 1, 0].beside
    # a narrow one between leaves the outer ones facing past it
    found, _ = keys_of(box(WALL, 0.0, 0.5, 10, 20), box(WALL, 0.1, 0.2, 50, 60), box(WALL, 0.0, 0.5, 90, 100))
    assert (0, 2, 0) in found
    assert all(not 0.1 < place[0] < 0.2 for place in found[0, 2, 0].first)


def test_corner_to_corner_they_are_neighbours_only_where_near():
    for apart, count in ((3.0, 1), (30.0, 0)):
        found, _ = keys_of(box(WALL, 0.0, 0.3, 10, 40), box(WALL, 0.3 + apart / 40, 1.0, 40 + apart, 80))
        assert len([key for key in found if key == (0, 1, 0)]) == count


def test_the_ends_of_a_stretch_are_met():
    found, _ = keys_of(box(WALL, 0.0, 0.1, 20.0, 100.0), box(WALL, 1.0, 1.1, 33.33, 61.7))
    downs = [place[1] for place in found[0, 1, 0].first]
    assert abs(min(downs) - 33.33) < 0.02 and abs(max(downs) - 61.7) < 0.02


def test_touching_lines_are_told_however_they_are_turned():
    _, touching = keys_of(box(WALL, 0.0, 0.5, 10, 40), box(WALL, 0.5 + FULL_TURN, 1.0 + FULL_TURN, 30, 80))
    assert touching == {(0, 1, -1)}


def test_windings_face_the_next_and_parts_of_one_line_do_not():
    slope = 30 / FULL_TURN / 40
    turn = 2.5 * FULL_TURN
    upper, lower = EvenDrop(WALL, 0.0, 20.0, turn, turn * slope * 40), EvenDrop(WALL, 0.0, 24.0, turn, turn * slope * 40)
    end = turn * slope * 40
    coil = Shape(
        (
            Edge(upper, 1.0, 0.0),
            Edge(Straight(WALL, 0.0, 0.0, 0.0), 20.0, 24.0),
            Edge(lower, 0.0, 1.0),
            Edge(Straight(WALL, turn, 0.0, 0.0), 24.0 + end, 20.0 + end),
        )
    )
    found, _ = keys_of(coil)
    assert set(found) == {(0, 0, 1)}
    assert all(math.isclose(b[1] - a[1], -26.0, abs_tol=0.01) or math.isclose(b[1] - a[1], 26.0, abs_tol=0.01)
               for a, b in zip(found[0, 0, 1].first, found[0, 0, 1].second, strict=True))
    assert not keys_of([box(WALL, 0.0, 0.5, 10, 20), box(WALL, 0.0, 0.5, 50, 60)])[0]
