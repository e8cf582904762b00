"""Lines beside one that runs steeply over bends: each section's own line, joined without a gap."""

import math

import numpy as np
import pytest

from stripegen.curves import Straight
from stripegen.sections import SectionWall
from stripegen.slants import EvenDrop, SameSlant
from stripegen.steep import is_steep

WALLS = {
    "out": SectionWall.through([(34, 140), (34, 70), (25, 0)]),
    "in": SectionWall.through([(36, 140), (22, 90), (25, 0)]),
    "waist": SectionWall.through([(36, 140), (20, 100), (24, 60), (22, 0)]),
    "ledge": SectionWall.through([(60, 90), (60, 60), (69, 60), (69, 0)]),
}
LINES = {
    "meridian": lambda wall: Straight(wall, 0.3, 5.0, 0.0),
    "straight": lambda wall: Straight(wall, 0.3, 5.0, 0.01),
    "upwards": lambda wall: Straight(wall, 0.3, 85.0, math.pi - 0.01),
    "same-slant": lambda wall: SameSlant(wall, 0.3, 5.0, 0.01),
    "even-drop": lambda wall: EvenDrop(wall, 0.3, 5.0, 0.02, 60.0),
}


def beside(wall: str, line: str, distance: float):
    curve = LINES[line](WALLS[wall]).parallel(distance)
    return curve, [mend for mend in curve.mends if not mend.is_torn]


@pytest.mark.parametrize("distance", [2.0, -6.0, 15.0])
@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("wall", WALLS)
def test_it_goes_on_without_a_gap_at_the_speed_that_it_tells(wall, line, distance):
    curve, mends = beside(wall, line, distance)
    assert mends
    for mend in mends:
        for stop in mend.stops:
            near = 1e-9 * max(1.0, abs(stop))
            (a, b), (v, w), (f, g) = curve.along(np.array([stop - near, stop + near]))
            assert math.hypot((b - a) * WALLS[wall].radius_mm(float(v)), w - v) < 1e-5
            assert f == pytest.approx(g, abs=1e-6)
        stops = [t for t in np.linspace(mend.stops[0], mend.stops[-1], 60) if min(abs(t - s) for s in mend.stops) > 1e-4]
        step = 1e-5 / float(curve.base.speed(0.0))
        for t in stops:
            a, v, _ = curve.along(np.array([t - step, t, t + step]))
            r = WALLS[wall].radius_mm(v[1])
            if any(abs(v[1] - bend) < 1e-3 for bend in WALLS[wall].bends_mm):
                continue
            run = math.hypot((a[2] - a[0]) * r, v[2] - v[0]) / (2 * step)
            assert run == pytest.approx(float(curve.speed(np.array([t]))[0]), rel=2e-4)
            # and a single place is what many at once are
            assert curve.along(float(t))[:2] == pytest.approx((a[1], v[1]), abs=1e-10)


@pytest.mark.parametrize("distance", [2.0, -9.0, 20.0])
@pytest.mark.parametrize("wall", ["out", "in"])
def test_beside_a_meridian_it_is_each_sections_own_straight_line_up_to_the_bend(wall, distance):
    """Laid flat with its section, a place (r, around) lies r sin(k around) / k off the meridian."""
    curve, (mend,) = beside(wall, "meridian", distance)
    (bend,) = WALLS[wall].bends_mm
    _, v, _ = curve.along(np.linspace(mend.stops[0], mend.stops[-1], 500))
    assert v.min() < bend < v.max()
    off = bend_gap = 0.0
    for t in np.linspace(mend.stops[0], mend.stops[-1], 500):
        a, v = (float(value) for value in curve.at(float(t)))
        k, r = float(WALLS[wall].slope_at(v)), float(WALLS[wall].radius_mm(v))
        aside = r * np.sinc(k * (a - 0.3) / math.pi) * (a - 0.3)
        off = max(off, abs(aside - distance))
        bend_gap = max(bend_gap, abs(k) ** 2 * abs(distance) ** 3 / (3 * r**2))
    # the sections' lines miss each other round the bend by a term of third order
    assert off < 1e-9 + bend_gap


@pytest.mark.parametrize("wall", ["waist", "ledge"])
def test_where_bends_are_too_near_for_it_there_is_none(wall):
    curve = LINES["meridian"](WALLS[wall]).parallel(55.0)
    assert any(mend.is_torn for mend in curve.mends)
    assert curve.is_torn(0.0, 90.0)
    torn = next(mend for mend in curve.mends if mend.is_torn)
    assert np.isnan(curve.at(np.array([(torn.stops[0] + torn.stops[-1]) / 2]))[0]).all()
    assert not LINES["meridian"](WALLS[wall]).parallel(1.0).is_torn(0.0, 90.0)


def test_only_lines_that_run_nearly_straight_down_are_steep():
    wall = WALLS["out"]
    (bend,) = wall.bends_mm
    assert is_steep(wall, bend, 0.0, 1.0)
    assert is_steep(wall, bend, math.pi - 0.01, 5.0)
    assert not is_steep(wall, bend, 0.3, 5.0)
    assert not is_steep(wall, bend, 0.1, 1.0)
