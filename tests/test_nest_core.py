"""Cores: how much room is beside bent pieces, and straight strips in stacks beside them."""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely
from blanks import arc, blanks_of, mitred, strip
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from stripegen.layout import Stock
from stripegen.nest import nest
from stripegen.nest_core import Core, core_of, within
from stripegen.nest_efforts import Annealing
from stripegen.nest_overlap import CROSS, LEFT, RIGHT, beside
from stripegen.nest_press import Pressing
from stripegen.nest_recipes import Recipe
from stripegen.nest_search import BESIDE_CORES, Search
from stripegen.nest_shapes import BAND_MM, group
from stripegen.nest_skyline import Placed
from stripegen.proof import prove

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)
COLUMN = Recipe("along", whole=1, depth=0.12, shift=0.4)
stacks = st.lists(st.tuples(st.integers(1, 30), st.integers(1, 6)), max_size=5)


def week(seed, pieces=60):
    """Strips and arcs of a few sizes, each some times."""
    chance = random.Random(seed)
    outlines = []
    while len(outlines) < pieces:
        width, length = chance.choice((3, 4, 6, 8)), chance.randint(80, 200)
        outline = chance.choice((
            strip(width, length),
            mitred(width, length, width / 2, -width / 3),
            arc(width, chance.randint(150, 600), chance.uniform(0.2, 0.5)),
        ))  # fmt: skip
        outlines += [outline] * chance.randint(1, 5)
    return blanks_of(*outlines[:pieces])


def search_of(blanks, effort="quick"):
    return Search(group(blanks, ROLL), ROLL, effort, lambda share: None)


def bent_of(search):
    length_mm = 3.0 * search.total / search.width_mm
    return length_mm, search.filler.bent_of(search.all, search.width_mm, length_mm, COLUMN)


def beside_cores(search, lanes):
    cores = [("along", between) for between in search._cores(search.all, lanes, COLUMN)]
    return search._in_stacks(search.all, lanes, cores, BESIDE_CORES, search.effort.beside, 1.0)


def ring_of(member):
    return Polygon(member.pose.ring + (member.u_mm, member.v_mm))


@pytest.mark.parametrize("seed", range(4))
def test_no_piece_reaches_past_the_sides_of_its_core(seed):
    search = search_of(week(seed))
    _, bent = bent_of(search)
    v_mm = search.width_mm
    found = core_of(bent, v_mm, 9.5)
    solid = shapely.unary_union([ring_of(member) for member in bent])
    for band in range(found.near.shape[1]):
        begin, end = band * BAND_MM, (band + 1) * BAND_MM
        if found.hangs:
            begin, end = v_mm - end, v_mm - begin
        there = solid.intersection(shapely.box(-10, begin + 1e-4, 9999, end - 1e-4))
        if not there.is_empty:
            assert found.near[1, band] <= there.bounds[0] + 1e-4
            assert found.far[1, band] >= there.bounds[2] - 1e-4
            around = solid.intersection(shapely.box(-10, begin - 2 * BAND_MM, 9999, end + 2 * BAND_MM)).bounds
            assert found.near[1, band] >= around[0] - 1e-4
            assert found.far[1, band] <= around[2] + 1e-4
    for m in (2, 7, 39):
        for band in (0, 100, found.near.shape[1] - 1):
            assert found.near[m, band] == found.near[1, band : band + m].min()
            assert found.far[m, band] == found.far[1, band : band + m].max()


def by_hand(left, right, cross, u, v, ends, shift):
    """The overlap of rows of whole numbers with a core, row by row."""
    total = 0
    for rows, is_left in ((left, True), (right, False)):
        depth = 0
        for length, thick in rows:
            beside_it = ends[depth : depth + thick]
            cross_mm = sum(t for reach, t in cross if v - reach < depth + thick)
            if depth + thick > v:
                room = 0
            elif is_left:
                room = min(near for near, _ in beside_it) + shift
            else:
                room = u - max(far for _, far in beside_it) - shift - cross_mm
            total += thick * max(0, length - room)
            depth += thick
    stands = 0
    for reach, thick in cross:
        stands += thick
        total += reach * max(0, stands + max(far for _, far in ends[max(0, v - reach) :]) + shift - u)
        total += thick * max(0, reach - v)
    out = max(max(far for _, far in ends) + shift - u, -min(near for near, _ in ends) - shift, 0)
    return total + v * out


@given(
    stacks, stacks, stacks, st.integers(40, 60), st.integers(-5, 5), st.floats(0, 500),
    st.lists(st.tuples(st.integers(8, 20), st.integers(0, 15)), min_size=12, max_size=12),
)  # fmt: skip
def test_the_overlap_with_a_core_is_that_of_its_rows(left, right, cross, u, shift, most, cells):
    left, right, cross = (sorted(rows, reverse=True) for rows in (left, right, cross))
    ends = [(near, near + wide) for near, wide in cells]
    v = len(ends)
    per_mm = round(1 / BAND_MM)
    near, far = (np.repeat(np.array(side, float), per_mm) for side in zip(*ends, strict=True))
    tables = [
        np.array([near if m == 0 else [edge(side[k : k + m]) for k in range(len(side))] for m in range(30)], float)
        for side, edge in ((near, min), (far, max))
    ]
    compiled = Core((), 6.0, True, *tables).compiled
    rows = [*left, *right, *cross]
    order, many = np.zeros((3, len(rows) + 1), np.int64), np.array([len(left), len(right), len(cross)])
    for side, first in ((LEFT, 0), (RIGHT, len(left)), (CROSS, len(left) + len(right))):
        order[side, : many[side]] = range(first, first + many[side])
    length, thick = (np.array([row[k] for row in rows] or [(0, 0)], float).reshape(-1) for k in (0, 1))
    expected = by_hand(left, right, cross, u, v, ends, shift)
    args = order, many, length, thick, float(u), float(v), 0.0
    assert beside(*args, np.inf, compiled, float(shift)) == pytest.approx(expected)
    found = beside(*args, most, compiled, float(shift))
    assert found == pytest.approx(expected) or found > most


@pytest.mark.parametrize("crosses", [0, 2])
@pytest.mark.parametrize("seed", range(4))
def test_strips_beside_a_core_are_all_laid_apart_in_the_box(seed, crosses):
    search = search_of(week(seed))
    length_mm, bent = bent_of(search)
    between = search.filler.core(search.all, search.width_mm, length_mm, bent)
    filled, _ = search.filler.in_sides(search.all, search.width_mm, length_mm, "along", crosses, 6_000_000, 0, between)
    assert filled.reach_mm < length_mm
    laid = Counter(placed.pose.index for placed in filled.placed)
    assert [laid[shape.index] for shape in search.shapes] == search.all
    rings = [ring_of(member) for member in filled.placed]
    for ring in rings:
        u0, v0, u1, v1 = ring.bounds
        assert min(u0, v0) > -1e-6 and u1 < filled.reach_mm + 1e-6 and v1 < search.width_mm + 1e-6
    a, b = shapely.STRtree(rings).query(rings, predicate="overlaps")
    shared = shapely.area(shapely.intersection(np.array(rings)[a], np.array(rings)[b]))
    assert shared.max(initial=0.0) < 1e-3


def test_what_lies_between_bent_pieces_stays_with_them():
    search = search_of(blanks_of(strip(4, 60), arc(6, 200, 0.5)))
    poses = [min(shape.poses("along"), key=lambda pose: pose.v_mm) for shape in search.shapes]
    arcs = [Placed(poses[1], 100.0, 20.0), Placed(poses[1], 400.0, 20.0)]
    lying = {"left": (10.0, 22.0), "between": (250.0, 22.0), "right": (600.0, 22.0), "above": (250.0, 90.0)}
    strips = {name: Placed(poses[0], u_mm, v_mm) for name, (u_mm, v_mm) in lying.items()}
    inner = within([*strips.values(), *arcs], arcs, search.width_mm)
    assert inner == [*arcs, strips["between"]]


@settings(max_examples=4, deadline=None)
@given(st.integers(0, 1000))
def test_with_cores_it_is_proved_and_never_longer_than_without(seed):
    blanks = week(seed, 40)
    search = search_of(blanks)
    lanes, _ = search._grown(search.all, 9999.0, COLUMN)
    assert beside_cores(search, lanes).reach_mm <= lanes.reach_mm
    prove(nest(blanks, ROLL, "quick"), blanks, ROLL)


@pytest.mark.parametrize("seed", [0, 3])
def test_strips_beside_a_core_gain(seed):
    search = search_of(week(seed, 120))
    lanes, _ = search._grown(search.all, 9999.0, COLUMN)
    assert beside_cores(search, lanes).reach_mm < 0.99 * lanes.reach_mm


def test_strips_that_no_longer_lie_beside_a_core_have_no_stacks():
    """In a box as long as they are they lie; in a shorter one they would stand, thicker than room was measured for."""
    search = search_of(blanks_of(strip(4, 250), arc(6, 200, 0.5), strip(4, 100)))
    bent = [Placed(search.shapes[1].poses("along")[0], 0.0, 0.0)]
    between = search.filler.core(search.all, search.width_mm, 300.0, bent)
    assert search.filler.sides(search.all, search.width_mm, 300.0, "along", between) is not None
    assert search.filler.sides(search.all, search.width_mm, 200.0, "along", between) is None


def test_an_effort_finds_nothing_longer_than_the_one_that_it_also_makes():
    """Whatever chance does: here it does nothing else."""
    blanks = week(1, 40)
    quick = search_of(blanks).shortest(search_of(blanks).all)
    search = search_of(blanks)
    idle = replace(search.effort, recipes=1, beside=Annealing(0, 0, 1), pressing=Pressing(1.0, 0, 0, 0, 0))
    search.effort = idle
    assert search.shortest(search.all).reach_mm > quick.reach_mm
    search.effort = replace(idle, also="quick")
    assert search.shortest(search.all).reach_mm == quick.reach_mm


def test_more_cores_are_drawn_and_all_differ():
    search = search_of(week(3, 60))
    lanes, _ = search._grown(search.all, math.inf, COLUMN)
    found = {}
    for drawn in (0, 40):
        search.effort = replace(search.effort, beside=replace(search.effort.beside, drawn=drawn))
        cores = [core.placed for core in search._cores(search.all, lanes, COLUMN)]
        first_mm = [min(member.u_mm for member in core) for core in cores]
        moved = [[(m.pose, round(m.u_mm - u, 3), m.v_mm) for m in core] for core, u in zip(cores, first_mm, strict=True)]
        found[drawn] = set(map(frozenset, moved))
        assert len(found[drawn]) == len(cores)
        bent = Counter(k for k, shape in enumerate(search.shapes) if shape.is_bent for _ in shape.keys)
        assert all(not bent - Counter(member.pose.index for member in core) for core in cores)
    assert found[0] < found[40]
