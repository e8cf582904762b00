"""Sliding by linear programmes: laws, and a solver that shares nothing with ours."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from scipy.optimize import linprog

from stripegen.layout import Blank, Stock
from stripegen.nest_bodies import Bodies
from stripegen.nest_shapes import group
from stripegen.nest_skyline import Placed
from stripegen.nest_slide import Slide, _solved

STOCK = Stock(width_mm=120, length_mm=None, margin_mm=0, gap_mm=1.5)


def strip(key: str, length: float, width: float = 4.0, lean: float = 0.0) -> Blank:
    """As wide across the roll as `width`, along the feed as `length`."""
    low = max(0.0, -lean)
    outline = ((0.0, low), (width, low + lean), (width, low + lean + length), (0.0, low + length))
    return Blank(key=key, outline=outline)


def arc(key: str, radius: float = 100.0, width: float = 4.0, half: float = 0.4) -> Blank:
    turns = [half * (k / 12 - 1) for k in range(25)]
    ring = [(r * math.sin(t), -r * math.cos(t)) for r, row in ((radius, turns), (radius - width, turns[::-1])) for t in row]
    x0, y0 = min(x for x, _ in ring), min(y for _, y in ring)
    return Blank(key=key, outline=tuple((round(x - x0, 4), round(y - y0, 4)) for x, y in ring))


def boxed(blanks: list[Blank], corners: list[tuple[float, float]]) -> Bodies:
    """As they are, their grown boxes' corners there (x, y)."""
    shapes = group(blanks, STOCK)
    by_key = {key: shape for shape in shapes for key in shape.keys}
    poses = [by_key[blank.key].pose("along", 0.0) for blank in blanks]
    return Bodies(shapes, [Placed(pose, y, x) for pose, (x, y) in zip(poses, corners, strict=True)], "along")


def slid(bodies: Bodies, rounds: int = 60) -> np.ndarray:
    places = bodies.places()
    return Slide(bodies, places, STOCK.usable_width_mm + STOCK.gap_mm).shortened(places, rounds)


def test_a_row_closes_its_gaps():
    bodies = boxed([strip("a", 40), strip("b", 30)], [(0.0, 3.0), (0.0, 52.0)])
    assert bodies.reach_mm(slid(bodies)) == pytest.approx(40 + 30 + 2 * 1.5, abs=0.01)


def test_leaning_ends_slide_into_one_another():
    bodies = boxed([strip("a", 40, lean=6), strip("b", 30, lean=6)], [(0.0, 0.0), (0.0, 60.0)])
    apart = 1.5 * math.hypot(4, 6) / 4  # along the feed, between two ends that lean so
    assert bodies.reach_mm(slid(bodies)) == pytest.approx(40 + apart + 30 + 6 + 1.5, abs=0.1)


def test_lanes_that_fill_the_width_to_the_last_keep_it():
    """121.5 mm, and 27 strips that grow to 4.5 mm."""
    blanks = [strip(f"{k}", 40 + k % 5, width=3.0) for k in range(27)]
    bodies = boxed(blanks, [(4.5 * k, 2.0 + k % 3) for k in range(27)])
    places = slid(bodies)
    assert places[:, 0] == pytest.approx(bodies.places()[:, 0], abs=0)
    assert (places[:, 2] == bodies.places()[:, 2]).all()
    assert bodies.reach_mm(places) == pytest.approx(44 + 1.5, abs=0.01)


@pytest.mark.parametrize("seed", range(6))
def test_it_never_reaches_farther_nothing_overlaps_and_all_stays_inside(seed):
    chance = random.Random(seed)
    blanks = [arc(f"{k}", chance.uniform(80, 160), half=chance.uniform(0.2, 0.35)) for k in range(8)]
    tops = np.cumsum([0.0] + [max(y for _, y in blank.outline) + chance.uniform(2, 6) for blank in blanks])
    bodies = boxed(blanks, [(chance.uniform(0, 10), top) for top in tops[:-1]])
    before = bodies.reach_mm(bodies.places())
    places = slid(bodies, 30)
    assert bodies.reach_mm(places) < 0.9 * before, "they nest into one another"
    shared = bodies._shared(places)
    assert all(part.area < 0.02 for part in shared)
    for member in bodies.laid(places):
        assert min(member.u_mm, member.v_mm) > -1e-3
        assert member.v_mm + member.pose.v_mm < STOCK.usable_width_mm + STOCK.gap_mm + 1e-3


def test_the_same_again():
    bodies = boxed([arc("a"), arc("b", 120), strip("c", 50)], [(0.0, 0.0), (3.0, 30.0), (90.0, 5.0)])
    assert (slid(bodies) == slid(bodies)).all()


@pytest.mark.parametrize("seed", range(10))
def test_programmes_are_solved_as_another_solver_does(seed):
    chance = np.random.default_rng(seed)
    columns = chance.integers(0, 8, (12, 3))
    factors, room = chance.normal(size=(12, 3)), chance.uniform(-0.2 * (seed % 2), 2, 12)
    cost, least, most = chance.normal(size=8), np.full(8, -1.0), np.full(8, 1.5)
    dense = np.zeros((12, 8))
    for row in range(12):
        columns[row] = chance.permutation(8)[:3]
        dense[row, columns[row]] = factors[row]
    ours = _solved(cost, least, most, [(columns, factors)], room)
    theirs = linprog(cost, A_ub=dense, b_ub=room, bounds=list(zip(least, most, strict=True)), method="highs-ipm")
    assert (ours is None) == (theirs.x is None)
    if ours is not None:
        assert cost @ ours == pytest.approx(theirs.fun, abs=1e-6)
        assert (dense @ ours <= room + 1e-6).all()


def test_a_programme_that_asks_too_much_has_no_answer():
    rows = [(np.array([[0, 1]]), np.array([[1.0, 1.0]]))]
    assert _solved(np.ones(2), np.zeros(2), np.ones(2), rows, np.array([-1.0])) is None


def test_nothing_is_written_to_stdout(capfd):
    _solved(np.ones(1), np.zeros(1), np.ones(1), [(np.array([[0]]), np.array([[1.0]]))], np.array([1.0]))
    assert capfd.readouterr() == ("", "")
