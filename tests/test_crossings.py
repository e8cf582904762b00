"""Where lines cross and at what angle, against numerical tangents in space."""

from __future__ import annotations

import math

import numpy as np
import pytest
from profiled import PROFILED, turned
from strategies import a_cup
from test_neighbours import PLAIN, TAPERED, decorated, diagonal, ring, vertical

from stripegen.courses import courses_of
from stripegen.crossings import alike_crosses
from stripegen.shapes import FULL_TURN
from stripegen.spacing import spacing_of
from stripegen.spec import Down, Keepout, Repeat, Vertical


def crossings_on(cup, *laid):
    return spacing_of(decorated(cup, *laid), []).crossings


def test_a_lattice_on_a_cylinder():
    crosses = crossings_on(PLAIN, diagonal("x", (0.0, 20.0), (1.5, 95.0), repeat=Repeat(count=6), mirror=True))
    slant = math.atan2(60, 75)
    assert len(crosses) == 18  # each with that of its number and the next to either side
    for cross in crosses:
        assert cross.angle_rad == pytest.approx(min(2 * slant, math.pi - 2 * slant), abs=1e-6)
    alike = alike_crosses(crosses)
    assert [(each.lines, each.number) for each in alike] == [(("x", "x"), 6)] * 3
    step = FULL_TURN / 6 / 1.5 / 2 * 75
    assert [each.down_mm for each in alike] == pytest.approx([57.5 - step, 57.5, 57.5 + step])


@pytest.mark.parametrize("name", ["straight", *PROFILED])
def test_angles_are_those_of_tangents_in_space(name):
    cup = TAPERED if name == "straight" else PROFILED[name]
    lines = [
        diagonal("one", (0.0, 30.0), (1.8, 110.0)),
        diagonal("two", (1.9, 35.0), (-0.2, 100.0), path="same-slant"),
        ring("hoop", 68.0),
    ]
    decoration = decorated(cup, *lines)
    space = turned(cup)
    crosses = spacing_of(decoration, []).crossings
    assert len(crosses) == 3
    courses = {line.name: courses_of(line, decoration.site)[0] for line in lines}
    for cross in crosses:
        ways = []
        for label in (cross.first, cross.second):
            (leg,) = courses[label].legs
            t = np.linspace(leg.t0, leg.t1, 20001)
            around, down = np.broadcast_arrays(*leg.curve.at(t))
            off = np.hypot(np.remainder(around - cross.around_rad + math.pi, FULL_TURN) - math.pi, (down - cross.down_mm) / 40)
            at = int(np.argmin(off[5:-5])) + 5
            assert off[at] < 2e-3
            points = space.point(around[[at - 4, at + 4]], down[[at - 4, at + 4]])
            ways.append((points[1] - points[0]) / np.linalg.norm(points[1] - points[0]))
        angle = math.acos(min(1.0, abs(float(ways[0] @ ways[1]))))
        assert cross.angle_rad == pytest.approx(angle, abs=2e-3)


def test_a_ring_crosses_every_vertical_squarely_under_it_or_not():
    pins = Vertical(name="pin", vinyl="v", width_mm=4.0, repeat=Repeat(count=7))
    for under in ((), ("pin",)):
        crosses = crossings_on(TAPERED, pins, ring("hoop", 60.0, under=under, joint=0.2))
        assert sorted(cross.first for cross in crosses) == sorted(f"pin {n}" for n in range(1, 8))
        assert {cross.second for cross in crosses} == {"hoop"}
        for cross in crosses:
            assert cross.angle_rad == pytest.approx(math.pi / 2, abs=1e-9) and cross.down_mm == pytest.approx(60.0)


def test_lines_that_end_on_another_or_keep_clear_of_it_do_not_cross_it():
    edge = vertical("edge", 0.0, 6.0)
    assert not crossings_on(TAPERED, edge, diagonal("sash", (0.0, 30.0), (1.5, 90.0), under=("edge",)))
    assert not crossings_on(TAPERED, edge, ring("hoop", 60.0, clear_of=("edge",)))
    assert crossings_on(TAPERED, edge, diagonal("sash", (-0.2, 30.0), (1.5, 90.0)))


def test_where_both_are_cut_away_nothing_crosses():
    cup = a_cup(40.0, 40.0, 110.0, keepouts=(Keepout(around=0.0, width_mm=20.0, from_mm=40.0, to_mm=70.0),))
    assert not crossings_on(cup, vertical("pin", 0.0), ring("hoop", 55.0))
    assert len(crossings_on(cup, vertical("pin", 0.0), ring("hoop", 80.0))) == 1


def test_a_coil_crosses_a_vertical_once_a_turn():
    crosses = crossings_on(PLAIN, vertical("pin", 1.0), diagonal("coil", (0.0, 20.0), (3 * FULL_TURN, 95.0)))
    assert len(crosses) == 3
    assert np.diff(sorted(cross.down_mm for cross in crosses)) == pytest.approx([25.0, 25.0], abs=1e-6)
    assert len(alike_crosses(crosses)) == 3


def test_lines_side_by_side_do_not_cross():
    assert not crossings_on(PLAIN, ring("pair", 50.0, stripes=2), ring("fine", 50.0, width=1.0))
    assert not crossings_on(PLAIN, vertical("a", 1.0, start=Down(20.0)), vertical("b", 1.0, 1.0))
