"""Neighbours and the distances between them, against trigonometry, dense points and polylines in space."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from dense import dense, nearest_mm
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from profiled import PROFILED, turned
from reference_walls import shortest
from strategies import a_cup, lines

from stripegen.decoration import decorate
from stripegen.errors import JobError
from stripegen.lineparts import parts_of
from stripegen.neighbours import lyings_of
from stripegen.shapes import FULL_TURN
from stripegen.spacing import spacing_of
from stripegen.spec import Chevron, Cup, Diagonal, Down, Keepout, Line, Pattern, Repeat, Ring, Vertical

TAPERED, PLAIN = a_cup(43.0, 31.0, 152.0), a_cup(40.0, 40.0, 110.0)


def decorated(cup: Cup, *laid: Line):
    return decorate(cup, Pattern(name="p", lines=laid))


def pairs_on(cup: Cup, *laid: Line):
    return spacing_of(decorated(cup, *laid), []).pairs


def vertical(name: str, around: float, width: float = 3.0, **more) -> Vertical:
    return Vertical(name=name, vinyl="v", width_mm=width, around=(around,), **more)


def ring(name: str, *downs: float, width: float = 3.0, **more) -> Ring:
    return Ring(name=name, vinyl="v", width_mm=width, downs=tuple(map(Down, downs)), **more)


def diagonal(name: str, start: tuple[float, float], end: tuple[float, float], width: float = 3.0, **more) -> Diagonal:
    return Diagonal(
        name=name,
        vinyl="v",
        width_mm=width,
        start_around=start[0],
        start_down=Down(start[1]),
        end_around=end[0],
        end_down=Down(end[1]),
        **({"path": "even-drop"} | more),
    )


def test_verticals_on_a_cylinder_are_as_far_apart_as_their_girth_says():
    pins = Vertical(name="pin", vinyl="v", width_mm=3.0, repeat=Repeat(count=5))
    pairs = pairs_on(PLAIN, pins)
    assert [(pair.first, pair.second) for pair in pairs] == [(f"pin {n}", f"pin {n % 5 + 1}") for n in range(1, 6)]
    clear = FULL_TURN * 40 / 5 - 3
    for pair in pairs:
        assert pair.is_round and pair.rim_mm == pytest.approx(clear, abs=1e-6)
        assert pair.least_mm == pytest.approx(clear, abs=1e-6) and pair.greatest_mm == pytest.approx(clear, abs=1e-6)


def test_verticals_on_a_cone_are_nearest_where_it_is_narrow():
    """Flat, they are straight strips about rays from the apex: the nearest are the corners at the base."""
    first, second = 0.0, 0.7
    k = 12 / 152
    arm = (43 - k * 146) / k
    half = 1.5
    # a corner lies on the base's arc; its strip's edge runs beside the ray
    off = math.asin(half / arm)
    expected = 2 * arm * math.sin((k * (second - first) - 2 * off) / 2)
    (pair, other) = pairs_on(TAPERED, vertical("a", first), vertical("b", second))
    assert (pair.first, pair.second, other.first, other.second) == ("a", "b", "b", "a")
    assert pair.least_mm == pytest.approx(expected, abs=1e-6)
    assert pair.least_at == pytest.approx((0.35, 146.0), abs=1e-4)
    # the farthest of the nearest is square from the corner at the rim to the other's edge
    arm, corner = (43 - k * 12) / k, math.asin(half / ((43 - k * 12) / k))
    square = arm * math.sin(k * (second - first) - corner) - half
    assert pair.greatest_mm == pytest.approx(square, abs=0.002)


def test_rings_are_as_far_apart_as_they_lie_down_the_wall():
    pairs = pairs_on(TAPERED, ring("hoop", 30.0, 47.0, 90.0), ring("low", 120.0, width=2.0, stripes=2, gap_mm=1.5))
    assert [(pair.first, pair.second) for pair in pairs] == [
        ("hoop 1", "hoop 2"),
        ("hoop 2", "hoop 3"),
        ("hoop 3", "low"),
    ]
    for pair, clear in zip(pairs, (14.0, 40.0, 120 - 90 - 1.5 - 2.75), strict=True):
        assert not pair.is_round
        assert pair.least_mm == pytest.approx(clear, abs=1e-6) and pair.greatest_mm == pytest.approx(clear, abs=1e-3)


def test_parallel_diagonals_on_a_cylinder():
    lines = diagonal("d", (0.0, 20.0), (1.5, 95.0), repeat=Repeat(count=4))
    slant = math.atan2(1.5 * 40, 75)
    square = FULL_TURN * 10 * math.cos(slant) - 3
    for pair in pairs_on(PLAIN, lines):
        assert pair.least_mm == pytest.approx(square, abs=1e-4)
        assert square <= pair.greatest_mm + 1e-4


def test_the_opposite_sides_of_a_lattices_openings_are_neighbours():
    lines = diagonal("x", (0.0, 20.0), (1.5, 95.0), repeat=Repeat(count=6), mirror=True)
    spacing = spacing_of(decorated(PLAIN, lines), [])
    crossing = {frozenset((cross.first, cross.second)) for cross in spacing.crossings}
    assert len(crossing) == len(spacing.crossings) == 18
    labels = {(pair.first, pair.second) for pair in spacing.pairs}
    assert {(f"x {n}", f"x {n % 6 + 1}") for n in range(1, 7)} <= labels
    assert not {frozenset(pair) for pair in labels} & crossing


def test_lines_that_are_joined_are_no_neighbours_and_those_kept_clear_are():
    edge = vertical("edge", 0.0, 6.0)
    under = diagonal("sash", (0.0, 30.0), (1.5, 90.0), under=("edge",))
    clear = diagonal("free", (0.0, 30.0), (1.5, 90.0), clear_of=("edge",), by_mm=2.5)
    assert not pairs_on(TAPERED, edge, under)
    pairs = pairs_on(TAPERED, edge, clear)
    assert all(pair.kept_clear for pair in pairs)
    assert min(pair.least_mm for pair in pairs) == pytest.approx(2.5, abs=1e-4)


def test_what_lies_under_another_line_is_not_seen():
    """Two sashes that meet under a stripe keep the stripe's width apart."""
    edge = vertical("edge", 0.0, 6.0)
    sashes = [diagonal(name, (0.0, 60.0), (turn, 60.0), path="straight", ends="upright", under=("edge",))
              for name, turn in (("left", -1.0), ("right", 1.0))]  # fmt: skip
    decoration = decorated(PLAIN, edge, *sashes)
    seen = {lying.label: lying for lying in lyings_of(decoration, parts_of(decoration))}
    assert seen["right"].seen[0].around_range[0] == pytest.approx(3.0 / 40, abs=1e-6)
    (pair,) = spacing_of(decoration, []).pairs  # round the back of the cup
    assert pair.least_mm == pytest.approx(FULL_TURN * 40 - 80, abs=1e-6)


def test_a_line_between_the_stripes_of_another_is_measured_from_them():
    pair = vertical("pair", 0.0, 4.0, stripes=2, gap_mm=5.0)
    between, *_ = [found for found in pairs_on(PLAIN, pair, vertical("fine", 0.0, 2.0)) if "fine" in found.lines]
    assert between.least_mm == pytest.approx(1.5, abs=1e-6) and between.greatest_mm == pytest.approx(1.5, abs=0.01)
    assert not between.touches and between.rim_mm is None


def test_windings_of_a_coil_are_neighbours_of_each_other():
    coil = diagonal("coil", (0.0, 20.0), (3 * FULL_TURN, 95.0))
    (pair,) = pairs_on(PLAIN, coil)
    slant = math.atan2(25, FULL_TURN * 40)
    assert (pair.first, pair.second) == ("coil", "coil")
    assert pair.least_mm == pytest.approx(25 * math.cos(slant) - 3, abs=1e-4)
    assert pair.greatest_mm == pytest.approx(25 * math.cos(slant) - 3, abs=0.01)


def test_what_touches_without_crossing_says_so_and_what_lies_wholly_on_another_does_not():
    (pair,) = [each for each in pairs_on(PLAIN, ring("hoop", 50.0), vertical("dash", 0.0, start=Down(51.0))) if each.touches]
    assert pair.least_mm == 0 and pair.greatest_mm is None
    assert pair.least_at == pytest.approx((0.0, 51.25), abs=0.3) or pair.least_at[0] == pytest.approx(FULL_TURN, abs=0.1)
    wide, thin = vertical("wide", 0.0, 8.0), vertical("thin", 0.0, 2.0)
    assert not [each for each in pairs_on(PLAIN, wide, thin) if each.touches]


@given(lines("a", repeat=None), lines("b", repeat=None), st.floats(-3.0, 3.0))
@settings(deadline=None, max_examples=15)
def test_turning_the_pattern_changes_no_least_distance(one, other, turn):
    def further(line):
        if isinstance(line, Vertical):
            return replace(line, around=tuple(place + turn for place in line.around))
        if isinstance(line, Ring):
            ends = {} if line.start is None else {"start": line.start + turn, "end": line.end + turn}
            return replace(line, joint=line.joint + turn, **ends)
        if isinstance(line, Diagonal):
            return replace(line, start_around=line.start_around + turn, end_around=line.end_around + turn)
        return replace(line, start=line.start + turn, joint=line.joint + turn)

    def least(*laid):
        found = {}
        for pair in pairs_on(TAPERED, *laid):
            key = tuple(sorted((pair.first, pair.second)))
            found[key] = min(pair.least_mm, found.get(key, math.inf))
        return found

    try:
        here, there = least(one, other), least(further(one), further(other))
    except JobError:
        reject()
    for key in {*here, *there}:
        if key in here and key in there:
            assert here[key] == pytest.approx(there[key], abs=2e-3)
        else:  # few ways lead from one to the other: only some of those that are tried may meet both squarely enough
            assert here.get(key, there.get(key)) > 10.0


@given(lines("a", kinds=("vertical", "diagonal", "chevron")), lines("b", kinds=("vertical", "ring", "diagonal")))
@settings(deadline=None, max_examples=25)
def test_distances_on_a_cone_are_those_of_dense_points(one, other):
    try:
        decoration = decorated(TAPERED, one, other)
    except JobError:
        reject()
    wall = decoration.site.wall
    lyings = {lying.label: lying for lying in lyings_of(decoration, parts_of(decoration))}
    for pair in spacing_of(decoration, []).pairs:
        if pair.touches or pair.first == pair.second:
            continue
        near, far = (dense(lyings[label].seen, 0.1) for label in (pair.first, pair.second))
        # on whichever side they face: the second turned to where it is nearest to the place that is told
        images = [far + (turn * FULL_TURN, 0.0) for turn in (-3, -2, -1, 0, 1, 2, 3)]
        brute = [float(nearest_mm(near, image, wall).min()) for image in images if _in_reach(near, image, wall)]
        assert min(abs(value - pair.least_mm) for value in brute) < 0.1**2 / max(pair.least_mm, 0.1) + 1e-4
        assert pair.least_mm <= pair.greatest_mm + 1e-3


def _in_reach(points: np.ndarray, others: np.ndarray, wall) -> bool:
    """Whether two borders unroll onto the sector without it overlapping itself."""
    both = np.concatenate([points, others])[:, 0]
    return float(np.ptp(both)) * abs(wall.slope) < 0.9 * math.pi


@pytest.mark.parametrize("name", ["bent-out", "shoulder", "bulge", "ledge"])
def test_on_other_walls_no_sampled_way_is_shorter_by_more_than_is_said(name):
    cup = PROFILED[name]
    decoration = decorated(cup, vertical("a", 0.0), diagonal("b", (0.25, 30.0), (0.7, 120.0)))
    space = turned(cup)
    pair = next(pair for pair in spacing_of(decoration, []).pairs if (pair.first, pair.second) == ("a", "b"))
    lyings = {lying.label: lying for lying in lyings_of(decoration, parts_of(decoration))}
    ours, theirs = (dense(lyings[label].seen, 0.5) for label in ("a", "b"))
    flat = [points * (decoration.site.wall.mean_radius_mm, 1.0) for points in (ours, theirs)]
    off = np.hypot(*(flat[0][:, None] - flat[1][None, :]).transpose(2, 0, 1))
    order = np.argsort(off, axis=None)[:: max(1, off.size // 400)][:3]
    lengths = []
    for index in [int(np.argmin(off)), *map(int, order)]:
        n, m = np.unravel_index(index, off.shape)
        lengths.append(shortest(space, tuple(ours[n]), tuple(theirs[m])).length)
    assert pair.least_mm <= min(lengths) + 0.05
    assert pair.least_mm > 0.9 * min(lengths)


def test_a_keepout_between_lines_is_no_line():
    keepout = Keepout(around=0.5, width_mm=10.0, from_mm=30.0, to_mm=80.0)
    cup = a_cup(40.0, 40.0, 110.0, keepouts=(keepout,))
    pair, _ = pairs_on(cup, vertical("a", 0.0), vertical("b", 1.0))
    assert pair.least_mm == pytest.approx(37.0, abs=1e-6)


def test_chevrons_nest_by_the_same_distance_all_round():
    waves = [
        Chevron(name=name, vinyl="v", width_mm=2.0, top=Down(top), bottom=Down(top + 15), points=5, path="even-drop", joint=0.3)
        for name, top in (("upper", 25.0), ("lower", 45.0))
    ]
    (pair,) = pairs_on(PLAIN, *waves)
    slant = math.atan2(15, math.pi * 40 / 5)
    assert (pair.first, pair.second, pair.is_round) == ("upper", "lower", False)
    assert pair.least_mm == pytest.approx(20 * math.cos(slant) - 2, abs=1e-4)
    # a pointed corner is farther from the legs over it than they are from each other
    assert pair.greatest_mm > pair.least_mm
