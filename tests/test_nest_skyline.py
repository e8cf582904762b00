"""Skylines: where profiles come to rest, by brute force."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from stripegen.nest_shapes import CELL_MM, Profile
from stripegen.nest_skyline import Skyline

heights = st.lists(st.integers(0, 400), min_size=8, max_size=160)
lows = st.lists(st.integers(0, 60), min_size=2, max_size=120)


@given(heights, lows, st.integers(0, 30), st.integers(1, 5), st.data())
def test_a_profile_rests_on_the_highest_it_meets_or_finds_no_room(heights, low, high, stride, data):
    """All at tenths of a millimetre, so that nothing hangs on rounding."""
    cells = min(len(low), len(heights)) // 2
    low = np.array(low[: 2 * cells]) / 10
    v_mm = float(low.max()) + high / 10
    sky = Skyline(len(heights) // 2 * CELL_MM, data.draw(st.integers(0, 500)) / 10 + 0.05)
    sky.height[:] = np.array(heights[: 2 * sky.cells]) / 10
    last = sky.cells - cells
    rest, waste = sky.resting(Profile(low.reshape(-1, 2), low.reshape(-1, 2)), v_mm, 0, last, stride)
    assert len(rest) == len(waste) == last // stride + 1
    for k, first in enumerate(range(0, last + 1, stride)):
        under = sky.height[2 * first : 2 * (first + cells)]
        resting_mm = (under - low).max()
        if resting_mm + v_mm > sky.v_mm:
            assert rest[k] > 1e6
        else:
            assert np.isclose(rest[k], resting_mm)
            assert np.isclose(waste[k], (resting_mm + low - under).sum() * CELL_MM / 2)
