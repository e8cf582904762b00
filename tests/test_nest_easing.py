"""Pieces laid elsewhere, and in each other's stead; the tests of pressing look at what comes of it."""

import numpy as np
import pytest
from test_nest_bodies import bodies_of
from test_nest_press import strip

from stripegen import nest_easing
from stripegen.nest_easing import Easing
from stripegen.nest_press import Press


@pytest.mark.parametrize(("swaps", "are_laid"), [(20, True), (0, False)])
def test_two_long_ones_in_a_row_change_places_with_short_ones(swaps, are_laid, monkeypatch):
    """Two rows of two, one too long for the box and the other too short: no piece finds room elsewhere."""
    monkeypatch.setattr(nest_easing, "_SWAPS", swaps)
    bodies = bodies_of(strip(40, 8), strip(40.1, 8), strip(38.6, 8), strip(38.7, 8))
    wide = [bodies.arrays[3][bodies.arrays[2][k] : bodies.arrays[2][k + 1], 0].max() for k in range(4)]
    high = bodies.arrays[3][:, 1].max()
    width, length = float(2 * (wide[0] + wide[2])) + 0.5, float(4 * high) + 0.2
    rows = [(wide[0], high), (width - wide[1], high), (wide[2], 3 * high), (width - wide[3], 3 * high)]
    places = np.array([(x, y, 0.0) for x, y in rows])
    push = Press(bodies, width)
    push.pushes = 40_000
    found, found_mm = Easing(push, 1).eased(places, length / 0.996)
    assert (found_mm < length / 0.996) is are_laid
    if are_laid:
        assert bodies.are_clear(found)
        assert bodies.reach_mm(found) <= found_mm + 1e-6
        first, second = sorted(np.argsort(found[:, 1]).reshape(2, 2).tolist(), key=min)
        assert {0, 1} not in (set(first), set(second))
