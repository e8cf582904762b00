import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity

from stripegen.hatches import HATCHES, TINTS, fillings_of, hatch_lines
from stripegen.pictures import luminance


def strip(turn_deg, wide=2.0, long=60.0):
    return affinity.rotate(shapely.box(-long / 2, -wide / 2, long / 2, wide / 2), turn_deg, origin=(0, 0))


@given(st.sampled_from(HATCHES), st.floats(0, 180), st.floats(1.5, 12), st.floats(20, 120))
def test_lines_lie_in_the_shape_the_told_way_and_a_narrow_strip_shows_some(hatch, turn, wide, long):
    shape = strip(turn, wide, long)
    (lines,) = hatch_lines([shape], [(0.0, 0.0)], hatch)
    assert bool(lines) == bool(hatch.angles_deg)
    for first, last in lines:
        assert shape.buffer(1e-6).contains(shapely.LineString([first, last]))
        way = math.degrees(math.atan2(last[1] - first[1], last[0] - first[0]))
        assert min(abs(math.remainder(way - angle, 180.0)) for angle in hatch.angles_deg) < 1e-3


@given(st.sampled_from([hatch for hatch in HATCHES if hatch.angles_deg]))
def test_lines_are_as_far_apart_as_told(hatch):
    (lines,) = hatch_lines([shapely.box(-20, -20, 20, 20)], [(0.0, 0.0)], hatch)
    for angle in hatch.angles_deg:
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        off = sorted({
            round(-x * s + y * c, 6)
            for (x, y), (ex, ey) in lines
            if abs((ex - x) * s - (ey - y) * c) < 1e-6
        })  # fmt: skip
        middles = [(a + b) / 2 for a, b in zip(off[::2], off[1::2], strict=False)] if hatch.between_mm else off
        inner = [at for at in middles if abs(at) < 15]
        assert np.diff(inner) == pytest.approx(hatch.apart_mm)
        assert min(map(abs, inner)) < 1e-6


def test_there_are_many_hatches_none_alike_and_tints_stay_pale():
    assert len(set(HATCHES)) == len(HATCHES) >= 8
    assert len(set(TINTS)) == len(TINTS)
    # ink on a tint keeps a contrast of 10 : 1 and more
    assert all((luminance(tint) + 0.05) / (luminance("#1c1c1c") + 0.05) > 10 for tint in TINTS)


ORDERS = st.integers(1, 60).flatmap(
    lambda count: st.tuples(st.just(count), st.lists(st.sets(st.integers(0, count - 1), min_size=1), max_size=6))
)


@given(ORDERS)
def test_orders_on_a_sheet_never_look_alike(case):
    count, sheets = case
    fillings = fillings_of([f"K-{n}" for n in range(count)], [[f"K-{n}" for n in sheet] for sheet in sheets])
    assert len(fillings) == count
    for sheet in sheets:
        own = [fillings[f"K-{n}"] for n in sheet]
        assert len(set(own)) == len(own)


@given(st.sets(st.integers(0, 40), min_size=1, max_size=len(HATCHES)))
def test_as_many_orders_as_there_are_hatches_have_one_each(sheet):
    fillings = fillings_of([f"K-{n}" for n in range(41)], [[f"K-{n}" for n in sheet]])
    assert len({fillings[f"K-{n}"].hatch for n in sheet}) == len(sheet)
