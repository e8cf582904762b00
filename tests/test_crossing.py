"""Where two curves cross."""

from __future__ import annotations

import pytest
from strategies import WALL

from stripegen.crossing import meet
from stripegen.curves import Straight
from stripegen.slants import SameSlant


def test_meet_finds_the_crossing_or_says_there_is_none():
    first, second = Straight(WALL, 0.0, 40.0, 0.7), SameSlant(WALL, 0.6, 45.0, -1.1)
    t, u = meet(first, 20.0, second, 10.0, within_mm=60)
    assert first.at(t) == pytest.approx(second.at(u), abs=1e-11)
    assert meet(first, 20.0, first.parallel(0.3), 20.0) is None
    assert meet(first, 20.0, second, 10.0, within_mm=1e-3) is None
