"""Flat shapes against shapely, quadrature and shapes whose measures are known."""

from itertools import pairwise
from math import cos, hypot, inf, isclose, nan, pi, sin, tau

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from shapely import LineString, MultiPoint, Polygon

from stripegen.errors import GeometryError
from stripegen.outline import ArcEdge, CubicEdge, LineEdge, Outline, Ring, Stroke

laws = settings(deadline=None, max_examples=60)
near = st.integers(-200_000, 200_000).map(lambda thousandths: thousandths / 1000)
turns = st.floats(-7, 7)


def circle_point(centre, radius, angle):
    return centre[0] + radius * cos(angle), centre[1] + radius * sin(angle)


@st.composite
def arc_rings(draw):
    """A random arc, closed by its chord, with its radius, first angle and signed sweep."""
    centre = draw(st.tuples(near, near))
    radius = draw(st.floats(0.05, 2000))
    first = draw(st.floats(-pi, pi))
    sweep = draw(st.floats(0.01, tau - 0.01)) * draw(st.sampled_from((1, -1)))
    start, end = circle_point(centre, radius, first), circle_point(centre, radius, first + sweep)
    return Ring(start, (ArcEdge(end, centre, sweep > 0), LineEdge(start))), radius, first, sweep


@st.composite
def cubic_rings(draw):
    a, b, c, d = (draw(st.tuples(near, near)) for _ in range(4))
    return Ring(a, (CubicEdge(b, c, d), LineEdge(a)))


def annular_sector(radius, width, length, around=0.0):
    """A strip bent to a radius, `length` along its middle; its area is width x length whatever the radius."""
    half, inner, outer = length / radius / 2, radius - width / 2, radius + width / 2
    corners = [
        # about a centre at (0, radius): the same points without the radius's rounding
        (r * sin(t), radius - r + 2 * r * sin(t / 2) ** 2)
        for r, t in ((outer, -half), (outer, half), (inner, half), (inner, -half))
    ]
    centre = (0.0, radius)
    ring = Ring(
        corners[0],
        (
            ArcEdge(corners[1], centre, True),
            LineEdge(corners[2]),
            ArcEdge(corners[3], centre, False),
            LineEdge(corners[0]),
        ),
    )
    return Outline(ring).moved(around, 0, 0)


@pytest.mark.parametrize("radius", [60, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e10])
@pytest.mark.parametrize("around", [0.0, 0.4, pi / 2, 3.0])
def test_a_bent_strip_keeps_its_measures_at_any_radius(radius, around):
    strip = annular_sector(radius, 5, 300, around)
    rounding = 1e-9 + 4e-16 * radius  # of the corners and the centre, as floats hold them
    assert isclose(strip.area(), 1500, abs_tol=300 * 4 * rounding)
    polygon = strip.polygon(1e-4)
    assert polygon.is_valid
    assert isclose(polygon.area, 1500, abs_tol=0.07 + 300 * 4 * rounding)
    x0, y0, x1, y1 = polygon.bounds
    assert strip.bounds() == pytest.approx((x0, y0, x1, y1), abs=1.1e-4 + 8 * rounding)
    back = strip.moved(-around, 0, 0).bounds()
    half = 150 / radius
    high = (radius - 2.5) * 2 * sin(half / 2) ** 2 + 2.5 if half < pi / 2 else None
    assert back[1] == pytest.approx(-2.5, abs=8 * rounding)
    if high is not None:
        assert back[3] == pytest.approx(high, abs=8 * rounding)
        assert back[2] - back[0] == pytest.approx(2 * (radius + 2.5) * sin(half), abs=8 * rounding)


@laws
@given(arc_rings())
def test_an_arcs_area_is_its_line_integral(case):
    ring, radius, first, sweep = case
    cx, cy = ring.edges[0].centre
    sx, sy = ring.start

    def green(t):
        x, y = cx + radius * cos(t) - sx, cy + radius * sin(t) - sy
        return (x * radius * cos(t) + y * radius * sin(t)) / 2

    truth, error = quad(green, first, first + sweep, epsabs=1e-9, epsrel=1e-12)
    assert ring.signed_area_mm2() == pytest.approx(truth, rel=1e-9, abs=1e-9 * radius + 10 * error)


@laws
@given(cubic_rings())
def test_a_cubics_area_is_its_line_integral(ring):
    edge = ring.edges[0]
    points = [np.array(p) for p in (ring.start, edge.control1, edge.control2, edge.end)]
    curve = [np.polynomial.Polynomial(_bezier(points)[axis]) for axis in (0, 1)]
    green = (curve[0] * curve[1].deriv() - curve[1] * curve[0].deriv()).integ()
    start, end = points[0], points[-1]
    back = end[0] * start[1] - end[1] * start[0]  # the closing line's own share
    truth = (green(1) - green(0) + back) / 2
    assert ring.signed_area_mm2() == pytest.approx(truth, rel=1e-9, abs=1e-6)


def _bezier(points):
    a, b, c, d = points
    return np.array([a, 3 * (b - a), 3 * (a - 2 * b + c), d - 3 * c + 3 * b - a]).T


@laws
@given(arc_rings(), st.floats(1e-4, 1))
def test_arcs_lie_within_the_chord_tolerance_and_are_sampled_evenly(case, chord):
    ring, radius, first, sweep = case
    points = ring.points(chord)
    assert points[0] == ring.start and points[-1] == ring.edges[0].end
    along = LineString(points)
    truth = [circle_point(ring.edges[0].centre, radius, first + sweep * k / 400) for k in range(401)]
    assert max(along.distance(p) for p in MultiPoint(truth).geoms) <= chord + 1e-9
    steps = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)]
    assert max(steps) - min(steps) <= 1e-9


def test_no_more_points_than_the_tolerance_asks_for():
    ring = Ring((100, 0), (ArcEdge((-100, 0), (0, 0), True), ArcEdge((100, 0), (0, 0), True)))
    # 100 (1 - cos(t / 2)) = 0.01 gives 222.1 parts a turn, so 112 for each half
    assert len(ring.points(0.01)) == 224


@laws
@given(cubic_rings(), st.floats(1e-3, 1))
def test_cubics_lie_within_the_chord_tolerance(ring, chord):
    along = LineString(ring.points(chord))
    edge = ring.edges[0]
    a, b, c, d = (np.array(p) for p in (ring.start, edge.control1, edge.control2, edge.end))
    t = np.linspace(0, 1, 300)[:, None]
    truth = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d
    assert max(along.distance(p) for p in MultiPoint(truth).geoms) <= chord + 1e-9


@laws
@given(arc_rings() | cubic_rings().map(lambda ring: (ring, 1.0, 0, 0)))
def test_bounds_are_those_of_the_curve(case):
    ring, radius = case[:2]
    fine = np.array(ring.points(min(1e-4, radius / 100)))
    low, high = fine.min(axis=0), fine.max(axis=0)
    x0, y0, x1, y1 = ring.bounds()
    assert x0 <= low[0] + 1e-9 and y0 <= low[1] + 1e-9 and x1 >= high[0] - 1e-9 and y1 >= high[1] - 1e-9
    assert (x0, y0, x1, y1) == pytest.approx((*low, *high), abs=1.01e-4)


def test_bounds_of_a_circle_are_exact():
    for clockwise in (True, False):
        ring = Ring((3, 0), (ArcEdge((0, 3), (0, 0), clockwise), ArcEdge((3, 0), (0, 0), clockwise)))
        assert ring.bounds() == (-3, -3, 3, 3)
        assert isclose(ring.signed_area_mm2(), 9 * pi if clockwise else -9 * pi)


@laws
@given(arc_rings(), turns, near, near)
def test_moving_is_a_turn_and_a_shift_and_never_mirrors(case, turn, dx, dy):
    ring, radius = case[:2]
    moved = ring.moved(turn, dx, dy)
    assert moved.signed_area_mm2() == pytest.approx(ring.signed_area_mm2(), rel=1e-9, abs=1e-9 * radius)
    truth = [
        (x * cos(turn) - y * sin(turn) + dx, x * sin(turn) + y * cos(turn) + dy) for x, y in ring.points(0.01)
    ]
    assert np.allclose(moved.points(0.01), truth, rtol=0, atol=1e-9)


def test_quarter_turns_are_exact():
    square = Outline(Ring.through([(0, 0), (5, 0), (5, 134.43), (0, 134.43)]))
    assert square.moved(pi / 2, 0, 0).outer.points(1) == [(0, 0), (0, 5), (-134.43, 5), (-134.43, 0)]
    assert square.moved(pi, 0, 0).bounds() == (-5, -134.43, 0, 0)
    assert square.moved(-pi / 2, 0, 0).bounds() == (0, -5, 134.43, 0)


@laws
@given(arc_rings(), st.floats(0.05, 2))
def test_parts_of_an_arc_are_the_arc(case, most):
    ring, radius, _, sweep = case
    arc = ring.edges[0]
    begin, total = ring.start, 0.0
    for part in arc.parts(begin, most):
        assert 0 < part.sweep_rad(begin) <= most + 1e-9
        assert isclose(part.radius_mm(begin), radius, abs_tol=1e-9)
        total += part.sweep_rad(begin)
        begin = part.end
    assert begin == arc.end
    assert isclose(total, abs(sweep), abs_tol=1e-7 / min(radius, 1))


@laws
@given(arc_rings(), st.sampled_from([1e-1, 1e-2, 1e-4, 1e-6]))
def test_an_arc_as_cubics_stays_within_what_was_asked(case, within):
    ring, radius, _, sweep = case
    arc = ring.edges[0]
    begin, length = ring.start, 0.0
    curves = arc.cubics(begin, within)
    for curve in curves:
        samples = [curve.point_at(begin, k / 24) for k in range(25)]
        off = [hypot(x - arc.centre[0], y - arc.centre[1]) - radius for x, y in samples]
        assert max(map(abs, off)) <= within + 1e-9
        length += sum(hypot(q[0] - p[0], q[1] - p[1]) for p, q in pairwise(samples))
        begin = curve.end
    assert begin == arc.end
    assert isclose(length, radius * abs(sweep), rel_tol=2e-3, abs_tol=2 * within)
    assert len(curves) <= 1 + abs(sweep) * max(2 / pi, (radius / within) ** (1 / 6) / 2)


def test_a_flat_arc_becomes_one_cubic_without_losing_its_sagitta():
    strip = annular_sector(1e7, 5, 300)
    arc, begin = strip.outer.edges[0], strip.outer.start
    (curve,) = arc.cubics(begin, 1e-4)
    middle = curve.point_at(begin, 0.5)
    assert arc.sagitta_mm(begin) == pytest.approx(300**2 / 8 / 1e7, rel=1e-5)
    assert begin[1] - middle[1] == pytest.approx(arc.sagitta_mm(begin), abs=1e-8)


def test_holes_are_taken_off_whichever_way_they_run():
    outer = Ring.through([(0, 0), (20, 0), (20, 10), (0, 10)])
    for clockwise in (True, False):
        hole = Ring((7, 5), (ArcEdge((3, 5), (5, 5), clockwise), ArcEdge((7, 5), (5, 5), clockwise)))
        shape = Outline(outer, [hole])
        assert isclose(shape.area(), 200 - 4 * pi)
        assert shape.polygon(1e-4).area == pytest.approx(shape.area(), abs=2e-3)
        assert len(shape.points(0.1)[1]) == 1 and shape.points(0.1)[0] == [(0, 0), (20, 0), (20, 10), (0, 10)]
        assert not shape.is_straight
    assert Outline(outer).is_straight
    assert Outline(outer).polygon(1).equals(Polygon([(0, 0), (20, 0), (20, 10), (0, 10)]))


def test_an_arc_with_ends_that_meet_turns_by_nothing():
    arc = ArcEdge((1, 1e-12), (0, 0), False)
    assert arc.sweep_rad((1.0, 0.0)) == 0
    ring = Ring((1, 0), (arc, LineEdge((0.5, 0)), LineEdge((1, 0))))
    assert ring.bounds() == (0.5, 0, 1, 1e-12)
    assert abs(ring.signed_area_mm2()) < 1e-12


@laws
@given(st.floats(2, 8), st.floats(-6, -3), turns, st.booleans())
def test_a_short_arc_turns_by_its_chord_over_its_radius(power, short, turn, clockwise):
    radius, length = 10**power, 10**short
    arc = ArcEdge((length if clockwise else -length, 0), (0, radius), clockwise)
    moved = Stroke((0, 0), (arc,)).moved(turn, 1, 2)
    assert moved.edges[0].sweep_rad(moved.start) * radius == pytest.approx(length, rel=1e-8)


@pytest.mark.parametrize("radius", [1, 1e4, 1e7, 1e8])
@pytest.mark.parametrize("clockwise", [True, False])
def test_an_arc_that_runs_backwards_by_rounding_does_not_go_once_round(radius, clockwise):
    back = -1e-15 * radius if clockwise else 1e-15 * radius
    assert ArcEdge((back, 0), (0, radius), clockwise).sweep_rad((0, 0)) == 0


@laws
@given(st.floats(8, 10), turns, near, near)
def test_rounding_of_far_centres_is_no_fault(power, turn, dx, dy):
    radius = 10**power
    arc = ArcEdge((150, 0), (75, radius), True)
    Stroke((0, 0), (arc,)).moved(turn, dx, dy).moved(-2 * turn, dy, dx)


def test_a_stroke_is_open():
    stroke = Stroke((0, 0), (LineEdge((10, 0)), ArcEdge((20, 10), (10, 10), True)))
    points = stroke.moved(pi / 2, 1, 2).points(0.01)
    assert points[0] == (1, 2) and points[-1] == (-9, 22)
    assert stroke.bounds() == (0, 0, 20, 10)
    assert Stroke.through([(0, 0), (3, 4)]).points(1) == [(0, 0), (3, 4)]


def test_what_is_no_shape_is_refused():
    with pytest.raises(GeometryError, match="end where it starts"):
        Ring((0, 0), (LineEdge((1, 0)), LineEdge((1, 1)), LineEdge((0, 1e-5))))
    with pytest.raises(GeometryError, match="keep its radius"):
        Ring((1, 0), (ArcEdge((0, 1.001), (0, 0), True), LineEdge((1, 0))))
    with pytest.raises(GeometryError, match="at least one edge"):
        Stroke((0, 0), ())
    for bad in (nan, inf):
        with pytest.raises(GeometryError, match="finite"):
            LineEdge((0, bad))
        with pytest.raises(GeometryError, match="finite"):
            ArcEdge((0, 1), (bad, 0), True)
        with pytest.raises(GeometryError, match="chord_mm"):
            Ring.through([(0, 0), (1, 0), (0, 1)]).points(bad)
    with pytest.raises(GeometryError, match="chord_mm"):
        Outline(Ring.through([(0, 0), (1, 0), (0, 1)])).points(0)
