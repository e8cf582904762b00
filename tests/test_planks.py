"""Straight strips side by side: what counts as straight, and that neighbours' sides are the same numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from stripegen.errors import GeometryError
from stripegen.layout import Placement, bound_mm
from stripegen.outline import ArcEdge, LineEdge, Outline, Ring
from stripegen.planks import Bar, Plank, planks_of
from stripegen.proof import _prove_shared
from stripegen.spec import Vinyl
from stripegen.stock import plank_blank, stock_of

VINYL = Vinyl(name="tin", colour="#a8adb3", width_mm=305.0)


@dataclass(frozen=True)
class Flat:
    """As much of a flat piece as a bar is made of."""

    outline: Outline
    lean_rad: float = 0.0
    slack_mm: float = 0.0


def drawn(width, length, rim=math.inf, base=math.inf, clockwise=False, lean=0.0) -> Flat:
    """A strip on a cone laid flat: ends are arcs about one centre below, of these radii; straight where infinite."""

    def end(y, radius, left_to_right):
        x1 = width if left_to_right else 0.0
        if math.isinf(radius):
            return LineEdge((x1, y))
        return ArcEdge((x1, y), (width / 2, y + math.sqrt(radius**2 - width**2 / 4)), left_to_right)

    if clockwise:
        ring = Ring((0.0, 0.0), (end(0.0, rim, True), LineEdge((width, length)), end(length, base, False), LineEdge((0.0, 0.0))))
    else:
        ring = Ring((0.0, 0.0), (LineEdge((0.0, length)), end(length, base, True), LineEdge((width, 0.0)), end(0.0, rim, False)))
    outline = Outline(ring.moved(-lean, 0.0, 0.0))
    left, top, _, _ = outline.bounds()
    return Flat(outline.moved(0.0, -left, -top), lean, 0.0 if math.isinf(rim) else 0.005)




WIDTHS = st.one_of(st.sampled_from([4.0, 5.0, 25.4 / 32, 25.4 * 5 / 32]), st.floats(1, 12))
LEANS = st.sampled_from([0.0, 0.0, math.pi / 2, -0.4, 0.7741615122])


@given(
    widths=st.lists(WIDTHS, min_size=1, max_size=6),
    length=st.floats(10, 180),
    rims=st.lists(st.sampled_from([math.inf, 130.0, 333.054, 2e5]), min_size=6, max_size=6),
    lean=LEANS,
    clockwise=st.booleans(),
)
def test_neighbours_share_a_side_and_nothing_else(widths, length, rims, lean, clockwise):
    bars = [Bar.of(drawn(w, length, rim, rim * 0.7, clockwise, lean)) for w, rim in zip(widths, rims, strict=False)]
    assert None not in bars
    # where a strip's own ends are rounded the other way it is not as long: such are never joined
    kept = [number for number, bar in enumerate(bars) if bar.length_mm == bars[0].length_mm]
    bars, widths, rims = ([values[number] for number in kept] for values in (bars, widths, rims))
    plank = Plank(tuple(bars))
    assert plank.width_mm == pytest.approx(sum(widths), abs=1e-4 * len(widths))
    for before, after in zip(plank.rings, plank.rings[1:], strict=False):
        # the left side of the one is the right side of the other, to the last digit
        side = {after.start, after.edges[-2].end}
        assert side <= {before.start, *(edge.end for edge in before.edges)}
        assert len({x for x, _ in side}) == 1
        assert {y for _, y in side} == {0.0, bars[0].length_mm}
    # each ring is the strip as it was, moved, but for rounding to 1e-4 mm
    for bar, ring, width, rim in zip(bars, plank.rings, widths, rims, strict=False):
        assert Outline(ring).area() == pytest.approx(Outline(bar.ring).area(), abs=2e-4 * (length + width))
        drawn_area = drawn(width, length, rim, rim * 0.7).outline.area()
        assert Outline(ring).area() == pytest.approx(drawn_area, abs=2e-4 * (length + width))
    if len(bars) > 1:
        blank, (_, down) = plank_blank("p", plank, VINYL)
        _prove_shared(blank)
        whole = shapely.union_all([shapely.Polygon(ring) for ring, _ in blank.solids])
        assert whole.geom_type == "Polygon" and not whole.interiors
        # the outline is their union, found by shapely here
        assert whole.symmetric_difference(blank.polygon).area < 1e-6
        assert down == -min(y for points in plank.polygons for _, y in points)


def test_strips_of_different_lengths_make_no_plank():
    with pytest.raises(GeometryError, match="equally long"):
        Plank((Bar.of(drawn(4, 100)), Bar.of(drawn(4, 100.001))))


def test_a_plank_of_rectangles_is_a_rectangle_and_its_bound_counts_no_gap():
    """Ten of 4 x 100 mm: 40 x 100 mm, grown by 0.75 mm all round, over the 296.5 mm that are left of the width."""
    plank = Plank((Bar.of(drawn(4, 100)),) * 10)
    blank, shift = plank_blank("p", plank, VINYL)
    assert blank.outline == ((0, 0), (40, 0), (40, 100), (0, 100)) and shift == (0, 0)
    grown = 40 * 100 + 2 * (40 + 100) * 0.75 + math.pi * 0.75**2
    assert bound_mm([blank], stock_of(VINYL)) == pytest.approx(grown / 296.5 - 1.5 + 10, abs=1e-5)


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (5, 0), (5.001, 90), (0, 90)],  # wider below
        [(0, 0), (5, 0.02), (5, 90), (0, 90)],  # sides not equally long
        [(0, 0), (5, 0.02), (5, 90.02), (0, 90)],  # not level
        [(0, 0), (5, 0), (5, 90), (2, 95), (-0.1, 90)],
        [(0, 0), (5, 0), (5, 90), (6, 91), (0, 91)],  # an end past a side
        [(0, 0), (5, 0), (5, 40), (4, 41), (5, 42), (5, 90), (0, 90)],  # a notch
    ],
)
def test_what_is_not_straight(points):
    assert Bar.of(Flat(Outline(Ring.through(points)))) is None


def test_a_hole_or_a_bent_side_is_not_straight():
    strip = drawn(5, 90).outline
    hole = Ring.through([(2, 40), (3, 40), (3, 41)])
    assert Bar.of(Flat(Outline(strip.outer, (hole,)))) is None
    bent = Ring((0, 0), (LineEdge((5, 0)), ArcEdge((5, 90), (-3000, 45), True), LineEdge((0, 90)), LineEdge((0, 0))))
    assert Bar.of(Flat(Outline(bent))) is None
    assert Bar.of(Flat(strip)) is not None


@pytest.mark.parametrize(("grain", "turns", "turn"), [("none", "any", 0), ("strip", "along-flip", 0), ("cup", "along-flip", 330)])
def test_the_grain_turns_a_plank_as_it_turns_its_strips(grain, turns, turn):
    vinyl = Vinyl(name="tin", colour="#a8adb3", width_mm=305.0, grain=grain)
    plank = Plank((Bar.of(drawn(4, 100, lean=math.radians(30))),) * 2)
    blank, _ = plank_blank("p", plank, vinyl)
    assert blank.turns == turns and (grain == "none" or blank.fixed_turns_deg[0] == pytest.approx(turn))
    # a strip of it lies at the plank's turn and its own: 0 for the grain "cup", as the cup is seen
    own = Placement(key="p", turn_deg=turn + math.degrees(plank.poses[0][0]), dx_mm=0, dy_mm=0)
    assert grain != "cup" or own.turn_deg == 0


@given(widths=st.lists(st.floats(1, 20), min_size=1, max_size=20), count=st.integers(1, 20), most=st.floats(5, 200))
def test_planks_hold_each_bar_once_and_none_is_too_wide(widths, count, most):
    bars = [Bar.of(drawn(width, 100)) for width in widths]
    found = planks_of(bars, min(count, len(bars)), most)
    assert sorted(number for own in found for number in own) == list(range(len(bars)))
    for own in found:
        assert len(own) == 1 or Plank(tuple(bars[n] for n in own)).width_mm <= most + 1e-9
    assert max(map(len, found)) - min(map(len, found)) <= 1
