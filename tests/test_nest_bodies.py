"""How bodies lie most like each other, by brute force."""

import cmath
import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from test_nest_press import ROLL, arc, stacked, strip

from stripegen.layout import Blank
from stripegen.nest_bodies import Bodies
from stripegen.nest_shapes import group

OUTLINES = st.one_of(
    st.builds(arc, st.sampled_from((3.0, 5.0)), st.floats(60, 200), st.floats(0.15, 0.4)),
    st.builds(strip, st.integers(20, 60), st.sampled_from((3, 5))),
)


def bodies_of(*outlines):
    shapes = group([Blank(key=str(k), outline=outline, turns="any") for k, outline in enumerate(outlines)], ROLL)
    placed = [stacked([shape]).placed[0] for shape in shapes]
    return Bodies(shapes, placed, "across")


def lain(points, place):
    """A middle line's points as complex numbers, where a body at a place has them."""
    x, y, turn = place
    return (points @ (1.0, 1j)) * cmath.exp(1j * turn) + complex(x, y)


def off_mm(points, others):
    """Root of mean squares, either end first."""
    return min(math.sqrt(np.mean(np.abs(points - way) ** 2)) for way in (others, others[::-1]))


@settings(max_examples=40, deadline=None)
@given(OUTLINES, OUTLINES, st.tuples(st.floats(0, 90), st.floats(0, 90), st.floats(-4, 4)), st.integers(0, 9999))
def test_nowhere_does_it_lie_more_like_the_other(outline, other, place, seed):
    bodies = bodies_of(outline, other)
    if len(bodies.kind) < 2:  # both were the same
        return
    places = np.array([place, (0.0, 0.0, 0.0)])
    x, y, turn = bodies.in_stead(places, 0, 1)
    there = lain(bodies.middles[0], place)
    least = off_mm(there, lain(bodies.middles[1], (x, y, turn)))
    told = bodies.likeness(0)[0]
    assert math.isclose(told[1], least, abs_tol=1e-9) and told[0] < 1e-9
    chance = np.random.default_rng(seed)
    tried = (np.array((x, y, turn)) + chance.normal(size=(200, 3)) * (1, 1, 0.05) * chance.random((200, 1)) ** 3).tolist()
    tried += [(x, y, turn + math.pi * k / 12) for k in range(24)]
    assert min(off_mm(there, lain(bodies.middles[1], each)) for each in tried) >= least - 1e-9
