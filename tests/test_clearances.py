"""What is clear about lines, by plain arithmetic and dense points."""

from __future__ import annotations

import math

import pytest
from dense import dense, nearest_mm
from hypothesis import given, reject, settings
from strategies import a_cup, lines
from test_neighbours import decorated, diagonal, ring, vertical

from stripegen.errors import JobError
from stripegen.shapes import FULL_TURN
from stripegen.spacing import spacing_of
from stripegen.spec import Down, Keepout, Repeat

KEEPOUTS = (
    Keepout(around=math.pi, width_mm=20.0, from_mm=30.0, to_mm=80.0),
    Keepout(around=-math.pi / 2, width_mm=10.0, from_mm=40.0, to_mm=60.0),
)
CUP = a_cup(40.0, 40.0, 110.0, keepouts=KEEPOUTS)


def clearances_on(cup, *laid):
    return spacing_of(decorated(cup, *laid), []).clearances


def test_from_rim_base_and_keepouts_by_hand():
    hoop, pin = clearances_on(CUP, ring("hoop", 90.0, width=4.0), vertical("pin", math.pi / 2, start=Down(20.0)))
    assert (hoop.rim_mm, hoop.rim_limit_mm) == pytest.approx((88.0, 76.0))
    assert (hoop.base_mm, hoop.base_limit_mm) == pytest.approx((18.0, 12.0))
    assert hoop.keepouts_mm == pytest.approx((8.0, 28.0))
    assert (pin.rim_mm, pin.rim_limit_mm, pin.base_mm, pin.base_limit_mm) == pytest.approx((20.0, 8.0, 6.0, 0.0))
    half_turn = math.pi * 40
    assert pin.keepouts_mm == pytest.approx((half_turn / 2 - 11.5, half_turn - 6.5))


def test_what_is_cut_off_at_a_keepout_ends_at_it():
    (hoop,) = clearances_on(CUP, ring("hoop", 50.0))
    assert hoop.keepouts_mm == pytest.approx((0.0, 0.0), abs=1e-6)


def test_copies_have_their_own():
    found = clearances_on(CUP, diagonal("d", (0.0, 20.0), (0.4, 95.0), repeat=Repeat(count=4)))
    assert [each.label for each in found] == ["d 1", "d 2", "d 3", "d 4"]
    assert len({round(each.rim_mm, 6) for each in found}) == 1
    assert len({round(each.keepouts_mm[0], 3) for each in found}) > 1


@given(lines(kinds=("vertical", "ring", "diagonal", "chevron")))
@settings(deadline=None, max_examples=25)
def test_no_point_of_a_line_is_nearer(line):
    cup = a_cup(43.0, 31.0, 152.0, keepouts=KEEPOUTS[:1])
    try:
        decoration = decorated(cup, line)
    except JobError:
        reject()
    (clear,) = spacing_of(decoration, []).clearances
    points = dense(decoration.lines[0].region, 0.2)
    assert clear.rim_mm == pytest.approx(points[:, 1].min(), abs=1e-3) and clear.rim_mm >= 12.0 - 1e-6
    assert clear.base_mm == pytest.approx(152 - points[:, 1].max(), abs=1e-3) and clear.base_limit_mm >= -1e-6
    keepout = dense(decoration.site.keepouts, 0.05)
    brute = []
    for turn in range(-3, 4):
        image = keepout + (turn * FULL_TURN, 0.0)
        near = points[abs(points[:, 0] - image[:, 0].mean()) < math.pi + 0.3]
        if len(near):
            brute.append(float(nearest_mm(near, image, decoration.site.wall).min()))
    assert clear.keepouts_mm[0] == pytest.approx(min(brute), abs=0.1**2 / max(min(brute), 0.1))
