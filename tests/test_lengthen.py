"""Strips made longer: grown by what was asked at each end, their sides on the same lines, their ends the same shape."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity

from stripegen.errors import GeometryError
from stripegen.lengthen import lengthened

NEAR_MM = 1e-3


def strip(length, top, bottom, slants=(0.0, 0.0), turn_deg=0.0):
    """A strip down y about x = 0, so wide at its ends, its ends slanted by so much across its width."""
    (a, b), half = slants, length / 2
    across = [(-top / 2, -half - a / 2), (top / 2, -half + a / 2), (bottom / 2, half + b / 2), (-bottom / 2, half - b / 2)]
    turned = affinity.rotate(shapely.Polygon(across), turn_deg, origin=(0, 0))
    points = np.array(turned.exterior.coords)[:-1]
    return points - points.min(axis=0)


def laid_over(before, after, turn_deg):
    """Both with their length along y, about a common middle."""
    found = []
    for points in (before, after):
        polygon = affinity.rotate(shapely.Polygon(points), -turn_deg, origin=(0, 0))
        x0, y0, x1, y1 = polygon.bounds
        found.append(affinity.translate(polygon, -(x0 + x1) / 2, -(y0 + y1) / 2))
    return found


widths = st.floats(1.0, 12.0)


@given(
    st.floats(30.0, 300.0), widths, st.floats(-8.0, 8.0), st.floats(-8.0, 8.0), st.floats(-180.0, 180.0), st.floats(0.1, 20.0)
)
def test_an_even_strip_grows_at_both_ends_and_nowhere_else(length, width, a, b, turn_deg, by_mm):
    before = strip(length, width, width, (a, b), turn_deg)
    after = np.array(lengthened(before, by_mm))
    assert after.min(axis=0) == pytest.approx([0.0, 0.0])
    area = shapely.Polygon(after).area - shapely.Polygon(before).area
    assert area == pytest.approx(2 * by_mm * width, abs=1e-3 * length)
    old, new = laid_over(before, after, turn_deg)
    ends = [affinity.translate(old, 0.0, by) for by in (-by_mm, by_mm)]
    # an even strip that is shifted sweeps over just what it grows to
    assert shapely.hausdorff_distance(shapely.union_all([*ends, old]).convex_hull, new.convex_hull) < NEAR_MM


@given(st.floats(60.0, 300.0), widths, st.floats(-0.4, 0.4), st.floats(0.1, 10.0), st.floats(-180.0, 180.0))
def test_a_narrowing_strip_keeps_the_lines_of_its_sides(length, width, share, by_mm, turn_deg):
    bottom = width * (1 + share)
    before = strip(length, width, bottom, turn_deg=turn_deg)
    _, new = laid_over(before, lengthened(before, by_mm), turn_deg)
    top, base = new.bounds[1::2]
    assert base - top == pytest.approx(length + 2 * by_mm, abs=NEAR_MM)
    slope = (bottom - width) / length
    inside = by_mm / 2  # half way into what has grown
    ends = [new.intersection(shapely.LineString([(-50, y), (50, y)])).length for y in (top + inside, base - inside)]
    assert ends == pytest.approx([width - slope * inside, bottom + slope * inside], abs=NEAR_MM)



def test_round_corners_stay_as_they_are():
    plain = shapely.Polygon(strip(120.0, 5.0, 5.0, turn_deg=31.0))
    rounded = plain.buffer(-0.4).buffer(0.4, quad_segs=16)
    points = np.array(rounded.exterior.coords)[:-1]
    after = shapely.Polygon(lengthened(points, 1.5))
    assert after.area - rounded.area == pytest.approx(2 * 1.5 * 5.0, abs=0.01)
    corners = [polygon.minimum_rotated_rectangle.area - polygon.area for polygon in (rounded, after)]
    assert corners[1] == pytest.approx(corners[0], abs=0.01)


def test_an_outline_begun_on_a_side_is_no_other_strip():
    points = [(5.0, 40.0), (5.0, 100.0), (0.0, 100.0), (0.0, 0.0), (5.0, 0.0)]
    assert shapely.Polygon(lengthened(points, 1.0)).equals(shapely.box(0, 0, 5, 102))


def bent(kind):
    turn = np.linspace(0.0, math.pi / 2, 60)
    arc = [np.stack([r * np.cos(turn), r * np.sin(turn)], axis=1) for r in (80.0, 84.0)]
    return {
        "arc": np.concatenate([arc[0], arc[1][::-1]]),
        "zigzag": [(0, 0), (4, 0), (54, 60), (104, 0), (108, 0), (54, 65)],
        "cross": shapely.union(shapely.box(0, 48, 60, 52), shapely.box(28, 0, 32, 100)).exterior.coords[:-1],
        "triangle": [(0, 0), (40, 0), (0, 3)],
    }[kind]


@pytest.mark.parametrize("kind", ["arc", "zigzag", "cross", "triangle"])
def test_what_is_no_straight_strip_is_refused(kind):
    with pytest.raises(GeometryError, match=r"^[^\n]*strip[^\n]*$"):
        lengthened(bent(kind), 1.0)
