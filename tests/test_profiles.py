"""Profiles to walls: lengths against brute numerics, laws, and every refusal."""

import itertools
import math
import time
import tomllib

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline

from stripegen.errors import Where
from stripegen.measures import read_cup
from stripegen.profiles import MeasuredWall
from stripegen.spec import Cup, ProfilePoint
from stripegen.tables import Table

VASE = [(0, 60), (40, 78), (90, 70), (150, 84)]


def profile(*points, rest=""):
    """A cup table of points (height, diameter)."""
    listed = ", ".join(f"{{ height = {height!r}, diameter = {width!r} }}" for height, width in points)
    return f"profile = [ {listed} ]\n{rest}"


def read(text, unit="mm"):
    table = Table(tomllib.loads(text), Where("cups.toml", "[cup.vase]"), [], unit)
    return read_cup("vase", table), table.faults


def cup_of(text, unit="mm"):
    cup, faults = read(text, unit)
    assert faults == []
    assert isinstance(cup, Cup)
    return cup


def told(text):
    cup, faults = read(text)
    assert cup is None
    assert all(str(fault).startswith("cups.toml: [cup.vase] ") for fault in faults)
    return "\n".join(str(fault) for fault in faults)


def spline_length(points):
    """Length of the natural cubic spline through points (height, diameter), by ever finer chords."""
    heights, widths = np.array(sorted(points), dtype=float).T
    spline = CubicSpline(heights, widths / 2, bc_type="natural")

    def chords(count):
        at = np.concatenate([np.linspace(a, b, count) for a, b in itertools.pairwise(heights)])
        return math.fsum(np.hypot(np.diff(at), np.diff(spline(at))))

    coarse, fine = chords(2001), chords(4001)
    return fine + (fine - coarse) / 3  # what is missing shrinks with the square of the step


class TestStraightBetween:
    def test_a_vase(self):
        cup = cup_of(profile(*VASE))
        assert cup.profile == ((42, 150), (35, 90), (39, 40), (30, 0))
        assert (cup.rim_radius_mm, cup.base_radius_mm, cup.smooth) == (42, 30, False)
        # 60 up and 7 out, 50 and 4, 40 and 9
        assert cup.wall_mm == pytest.approx(math.sqrt(3649) + math.sqrt(2516) + math.sqrt(1681), abs=1e-12)

    def test_circumferences_and_units(self):
        cup = cup_of(
            'profile = [ { height = 6, circumference = 10 }, { height = "2 cm", diameter = 2 },'
            ' { height = "-1/2 in", diameter = "30 mm" } ]',
            "in",
        )
        assert cup.profile[0] == (pytest.approx(254 / math.tau), pytest.approx(152.4))
        assert cup.profile[1:] == ((25.4, 20), (15, -12.7))

    def test_ledges(self):
        # a lip of 3 mm, a shoulder of 5 mm in two steps, a foot of 2 mm
        cup = cup_of(profile((90, 86), (90, 80), (60, 80), (60, 76), (60, 70), (0, 70), (0, 66)))
        assert cup.wall_mm == pytest.approx(90 + 3 + 5 + 2)
        assert cup.profile[0] == (43, 90)
        assert cup.profile[-1] == (33, 0)

    @pytest.mark.parametrize("points", [VASE, [(0, 60), (0, 66), (50, 66), (50, 70), (90, 62)]])
    @pytest.mark.parametrize("up", [-1000, -12.5, 300])
    def test_only_what_lies_between_the_points_counts(self, points, up):
        cup = cup_of(profile(*points))
        lifted = cup_of(profile(*((height + up, width) for height, width in reversed(points))))
        assert lifted.wall_mm == pytest.approx(cup.wall_mm, abs=1e-9)
        assert [point.radius_mm for point in lifted.profile] == [point.radius_mm for point in cup.profile]

    def test_a_wall_beside_it_must_agree(self):
        cup = cup_of(profile(*VASE))
        assert cup_of(profile(*VASE, rest=f"wall = {cup.wall_mm + 0.49}")) == cup
        text = told(profile(*VASE, rest=f"wall = {cup.wall_mm + 0.51}"))
        assert f" wall: read {cup.wall_mm + 0.51}; must agree within 0.5 mm with the profile" in text
        assert f"{cup.wall_mm:.2f} mm long where wall says {cup.wall_mm + 0.51:.2f} mm" in text

    def test_points_on_one_line_are_a_straight_cup(self):
        straight = cup_of("rim = { diameter = 90 }\nbase = { diameter = 60 }\nheight = 120")
        for points in ([(0, 60), (120, 90)], [(120, 90), (30, 67.5), (0, 60)]):
            assert cup_of(profile(*points)) == straight
        assert cup_of(profile((0, 60), (30, 67.5), (120, 90), rest="smooth = true")) == straight
        assert cup_of(profile((0, 60), (30, 67.50001), (120, 90))).profile


class TestSmooth:
    @given(
        st.lists(st.tuples(st.floats(5, 60), st.floats(60, 100)), min_size=3, max_size=8),
        st.booleans(),
    )
    @settings(deadline=None, max_examples=30)
    def test_its_length_is_that_of_the_spline(self, steps, down):
        heights = np.cumsum([rise for rise, _ in steps]).tolist()
        points = [(height, width) for height, (_, width) in zip(heights, steps, strict=True)]
        cup, faults = read(profile(*(points[::-1] if down else points), rest="smooth = true"))
        assume(not faults)  # a wild one may reach the axis
        assert cup.wall_mm == pytest.approx(spline_length(points), abs=1e-6)
        assert (2 * cup.base_radius_mm, 2 * cup.rim_radius_mm) == (points[0][1], points[-1][1])

    def test_a_wall_beside_it_must_agree(self):
        length = spline_length(VASE)
        assert cup_of(profile(*VASE, rest=f"smooth = true\nwall = {length + 0.4}")).wall_mm == pytest.approx(
            length
        )
        assert " wall: read " in told(profile(*VASE, rest=f"smooth = true\nwall = {length - 0.6}"))

    def test_a_wall_that_reaches_the_axis(self):
        # natural splines overshoot where widths jump
        text = told(profile((0, 200), (1, 200), (2, 2), (100, 2), (190, 2), rest="smooth = true"))
        assert " profile: read [{ height = 0, diameter = 200 }" in text
        assert text.count("\n") == 0

    def test_a_wall_that_swings_out_and_back_for_miles(self):
        points = (0.06, 68), (40.01, 980), (40.04, 2180), (40.053, 9900), (109, 84)
        text = told(profile(*points, rest="smooth = true"))
        assert "the smooth line through the points makes a wall of more than 10 m" in text
        assert text.count("\n") == 0

    def test_many_points_are_read_at_once(self):
        points = [(n, 80 + 8 * math.sin(n / 20)) for n in range(200)]
        start = time.perf_counter()
        cup = cup_of(profile(*points, rest="smooth = true"))
        assert time.perf_counter() - start < 2  # not the 400 misreads too
        assert len(cup.misreads) == 400
        assert cup.misreads[7].of(cup).wall_mm != cup.wall_mm


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("profile = 3", " profile: read 3; must be a list of tables such as [ { height = 0, diameter"),
        (profile(), " profile: read 0 points; must be two points or more, such as [ { height"),
        (profile((0, 60)), " profile: read 1 point; must be two points or more, such as [ { height"),
        (
            profile(*((n, 60 + n % 2) for n in range(201))),
            " profile: read 201 points; must hold at most 200 points",
        ),
        (profile(*[(0, 60)] * 1001), " profile: read 1001 tables; must hold at most 1000"),
        (
            "profile = [ { diameter = 3 }, { height = 3, diameter = 4 } ]",
            " profile number 1, height: is missing",
        ),
        (
            "profile = [ { height = 0 }, { height = 3, diameter = 4 } ]",
            " profile number 1: read { height = 0 }; must have one of the two: { diameter",
        ),
        (
            "profile = [ { height = 0, diameter = 3, circumference = 9 }, { height = 3, diameter = 4 } ]",
            "; must have one of the two: { diameter",
        ),
        (
            "profile = [ { height = 0, hight = 0, diameter = 3 }, { height = 3, diameter = 4 } ]",
            ' profile number 1, hight: is not a key of this table; did you mean "height"?',
        ),
        (
            "profile = [ { height = '5%', diameter = 3 }, { height = 3, diameter = 4 } ]",
            ' profile number 1, height: read "5%"; a share of the wall has no meaning',
        ),
        (profile((0, 60), (9, 0)), " profile number 2, diameter: read 0; must be a length above 0"),
        (profile((0, 60), (9, -1)), " profile number 2, diameter: read -1; must be a length above 0"),
        (
            profile((0, 60), (40, 70), (30, 75), (90, 80)),
            " profile number 3: read 75.00 mm wide at a height of 30.00 mm; folds the wall over: the heights rose",
        ),
        (profile((90, 60), (40, 70), (50, 75)), "heights fell up to the point before it and here one rises"),
        (profile((0, 60), (40, 70), (40, 66), (40, 68), (90, 80)), " profile number 4: read 68.00 mm wide"),
        (profile((0, 60), (40, 70), (40, 66), (40, 68), (90, 80)), "; folds the ledge over: along it"),
        (profile((5, 60), (5, 70)), " profile: read [{ height = 5, diameter = 60 }, { height = 5"),
        (profile((5, 60), (5, 70), (5.001, 74)), "; has no wall: its points lie at one height"),
        (
            profile((0, 60), (40, 70), (40, 70), (90, 80)),
            " profile number 3: read 70.00 mm wide at a height of 40.00 mm; is at the place of the point",
        ),
        (
            profile((-9_000, 60), (0, 61), (9_000, 70)),
            "...; makes a wall of more than 10 m",
        ),
        (profile((0, 60), (90, 70), rest="smooth = true"), " smooth: read true; needs three points or more"),
        (
            profile((0, 60), (40, 70), (40, 66), (90, 80), rest="smooth = true"),
            " smooth: read true; needs points at heights that differ, and number 3 of the profile",
        ),
        (profile(*VASE, rest="smooth = 1"), " smooth: read 1; must be true or false"),
        (profile(*VASE, rest="height = 150"), " height: read 150; can't stand beside profile"),
        (profile(*VASE, rest="rim = { diameter = 84 }"), " rim: read { diameter = 84 }; can't stand beside"),
        (
            profile(*VASE, rest="base = { diameter = 60 }"),
            " base: read { diameter = 60 }; can't stand beside",
        ),
        (profile(*VASE, rest="girths = []"), " girths: read []; can't stand beside profile"),
        (profile(*VASE, rest="wall = -1"), " wall: read -1; must be a length above 0"),
        (profile(*VASE, rest="profil = 3"), ' profil: is not a key of this table; did you mean "profile"?'),
        (
            profile(*VASE, rest="keepout = [ { around = 0, width = 223, from = 0, to = 90 } ]"),
            " keepout number 1, width: read 223; must be less than once round",
        ),
        (
            profile(*VASE, rest="seams = { front = { along = 3, at = 151.6 } }"),
            "at must lie on the wall, which ends 151.57 mm down",
        ),
    ],
)
def test_refusals(text, right):
    text = told(text)
    assert right in text
    assert text.count("\n") == 0


class TestLeastRadius:
    VASE = MeasuredWall(
        42,
        30,
        10 + 8 + 41,
        (ProfilePoint(42, 18), ProfilePoint(36, 10), ProfilePoint(44, 10), ProfilePoint(35, -30)),
    )

    def test_straight(self):
        wall = MeasuredWall(45, 30, 150)
        assert wall.least_radius_mm(0, 150) == 30
        assert wall.least_radius_mm(50, 60) == pytest.approx(39)
        assert wall.least_radius_mm(140, 500) == 30
        assert MeasuredWall(30, 45, 150).least_radius_mm(50, 150) == pytest.approx(35)

    def test_a_waist_counts_only_where_it_lies_between(self):
        wall = self.VASE
        assert wall.least_radius_mm(0, 5) == pytest.approx(39)
        assert wall.least_radius_mm(5, 14) == pytest.approx(36)
        assert wall.least_radius_mm(14, 18) == pytest.approx(40)
        assert wall.least_radius_mm(18, 59) == pytest.approx(35)

    @given(st.floats(0, 59), st.floats(0, 59))
    def test_no_place_between_is_narrower(self, one, other):
        low, high = sorted((one, other))
        least = self.VASE.least_radius_mm(low, high)
        radii = [self.VASE.least_radius_mm(down, down) for down in np.linspace(low, high, 23)]
        assert least <= min(radii) + 1e-9
