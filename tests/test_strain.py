"""Edge strain against what the edges of a strip really measure on the wall."""

import math

import numpy as np
import pytest

from stripegen.curves import Beside, Parallel, Straight
from stripegen.sections import SectionWall
from stripegen.shapes import Edge
from stripegen.slants import EvenDrop, SameSlant
from stripegen.smooth import SmoothWall
from stripegen.strain import edge_strain, widest_mm
from stripegen.surface import Frustum

ANGLES = np.linspace(0.9, 2.2, 60)
BALL = SmoothWall.through([(50 * math.sin(angle), 50 * math.cos(angle)) for angle in ANGLES])
BENT = {
    "out": SectionWall.through([(42, 150), (45, 100), (30, 0)]),
    "in": SectionWall.through([(42, 150), (34, 80), (40, 0)]),
}


def chord_length(curve, t0, t1, count=4000):
    wall, sums = curve.wall, []
    for parts in (count, 2 * count):
        a, v = curve.at(np.linspace(t0, t1, parts + 1))
        r, z = wall.radius_mm(v), wall.drop_mm(v)
        sums.append(np.linalg.norm(np.diff([r * np.cos(a), r * np.sin(a), z], axis=1), axis=0).sum())
    return sums[1] + (sums[1] - sums[0]) / 3


@pytest.mark.parametrize("half", [1.0, 3.0, 6.0])
@pytest.mark.parametrize("heading", [0.0, 0.6, 1.4])
def test_on_a_ball_edges_are_as_much_too_long_as_is_told(heading, half):
    """The edge of a straight strip measures cos(h / R) of what it measures laid flat."""
    curve = Straight(BALL, 0.3, 20.0, heading)
    edge = Edge(curve, 0.0, 20.0)
    measured = chord_length(Beside(BALL, curve, half), 0.0, 20.0) / 20.0
    assert measured == pytest.approx(math.cos(half / 50), abs=2e-4)
    assert edge_strain([edge], 2 * half) == pytest.approx(1 - measured, rel=0.05, abs=1e-4)


@pytest.mark.parametrize(("half", "between"), [(1.0, 0.1), (2.0, 0.2), (3.0, 0.3)])
def test_on_a_ball_a_zigzags_legs_lie_as_much_too_near_where_their_inner_edges_meet_as_is_told(half, between):
    """So far from the point great circles are R sin(L / R) / L of what straight lines are apart; shared by two widths."""
    there = Straight(BALL, 0.3, 20.0, 0.7 + between)
    a, v, f = (float(value) for value in there.along(-40.0))
    centre = [Edge(Straight(BALL, a, v, f), 0.0, 40.0), Edge(Straight(BALL, 0.3, 20.0, 0.7 + math.pi), 0.0, 40.0)]
    far = half / math.tan(between / 2)
    places = [centre[0].curve.at(40.0 - far), centre[1].curve.at(far)]
    r, z = (np.array([float(part(down)) for _, down in places]) for part in (BALL.radius_mm, BALL.drop_mm))
    around = np.array([float(place[0]) for place in places])
    chord = float(np.linalg.norm(np.diff([r * np.cos(around), r * np.sin(around), z], axis=1)))
    short = 1 - chord / (2 * far * math.sin(between / 2))
    told = edge_strain(centre, 2 * half)
    assert told == pytest.approx(max(short / 2, edge_strain(centre[:1], 2 * half)), rel=0.05, abs=1e-4)


@pytest.mark.parametrize("half", [1.0, 3.0, 6.0])
@pytest.mark.parametrize("heading", [0.4, 0.8, 1.1])
@pytest.mark.parametrize("name", BENT)
def test_over_a_bend_edges_are_as_much_too_long_as_the_strain_spread_over_the_width(name, heading, half):
    wall = BENT[name]
    (bend,) = wall.bends_mm
    there = Straight(wall, 0.0, bend, heading)
    a, v, f = (float(value) for value in there.along(-40.0))
    curve = Straight(wall, a, v, f)
    long = chord_length(Beside(wall, curve, half), 0.0, 80.0) - 80.0
    strain = edge_strain([Edge(curve, 0.0, 80.0)], 2 * half)
    assert np.sign(long) == (-1 if name == "out" else 1)  # laid flat it is too long where the wall is convex
    assert strain * 2 * half == pytest.approx(abs(long), rel=0.08)


@pytest.mark.parametrize("name", BENT)
def test_a_ring_beside_a_bend_is_strained_where_it_reaches_over_it(name):
    wall = BENT[name]
    (bend,) = wall.bends_mm
    for clear in (0.0, 1.0, 2.5, 3.0, 5.0):
        ring = Parallel(wall, bend - clear - 1e-6, 0.2)
        # once round, the lower edge of a strip 6 mm wide against what that edge measures laid flat
        slope, radius = float(wall.slope_at(bend - 0.5)), float(wall.radius_mm(bend))
        edge_radius = float(wall.radius_mm(bend - clear + 3.0))
        flat_radius = float(wall.radius_mm(bend - clear)) + 3.0 * slope
        expected = abs(edge_radius - flat_radius) / radius
        found = edge_strain([Edge(ring, 0.0, 2.0)], 6.0)
        assert found == pytest.approx(expected, rel=1e-3, abs=1e-6)
        assert (found > 0) == (clear < 3.0)


def test_a_straight_section_strains_nothing():
    for wall in (Frustum.from_radii(43, 31, 150), BENT["out"]):
        for curve, t1 in (
            (Straight(wall, 0.0, 5.0, 0.5), 30.0),
            (Parallel(wall, 30.0), 6.0),
            (SameSlant(wall, 0.0, 5.0, 0.7), 30.0),
            (EvenDrop(wall, 0.0, 5.0, 2.0, 30.0), 1.0),
        ):
            assert edge_strain([Edge(curve, 0.0, t1)], 8.0) == 0.0


@pytest.mark.parametrize("strain", [0.001, 0.005, 0.02])
def test_the_widest_strip_is_as_strained_as_the_film_takes(strain):
    for curve in (Straight(BALL, 0.3, 20.0, 0.7), Straight(BENT["in"], 0.0, 40.0, 0.7)):
        edge = Edge(curve, 0.0, 50.0)
        width = widest_mm([edge], 100.0, strain)
        assert 0 < width < 100
        assert edge_strain([edge], width) == pytest.approx(strain, rel=1e-6)
        assert widest_mm([edge], width / 2, strain) == width / 2
