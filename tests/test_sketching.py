"""Sketches of parts are the parts laid flat, as nearly as it takes to tell what fits."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from strategies import CUPS, cups, lines, random_case
from test_lengthwise import LINES, ring, strips

from stripegen.decoration import decorate
from stripegen.errors import GeometryError, JobError
from stripegen.flat import lay_flat
from stripegen.lengthwise import Way, part_of, stretch_of
from stripegen.sketching import Sketch


def apart(strip, from_mm: float, to_mm: float, upright: bool) -> float:
    """How far a part's sketch leaves the part laid flat, and its lean the part's, in mm and per radian 10."""
    way = Way(strip.middle)
    sketch = Sketch(lay_flat(strip), way, upright).part(from_mm, to_mm)
    true = lay_flat(stretch_of(strip, way, part_of(strip, way, from_mm, to_mm, upright), from_mm, to_mm))
    assert sketch.cut_mm == pytest.approx(true.cut_mm)
    assert min(x for x, _ in sketch.points) == 0.0 == min(y for _, y in sketch.points)
    first, second = (shapely.Polygon(flat.points) for flat in (sketch, true))
    return max(
        shapely.hausdorff_distance(first.exterior, second.exterior, densify=0.2),
        10 * abs(sketch.lean_rad - true.lean_rad),
    )


@pytest.mark.parametrize("name", LINES)
@pytest.mark.parametrize("cup", ["cylinder", "coated"])
def test_a_sketch_is_the_part(cup, name):
    (strip,) = strips(CUPS[cup], LINES[name])
    length = strip.cut_mm
    for span in ((0.0, 0.31), (0.23, 0.77), (0.6, 1.0)):
        assert apart(strip, *(share * length for share in span), name == "zigzag") < 0.02


@settings(max_examples=15)
@given(cup=cups(keepouts=1), line=lines(stripes=1), start=st.floats(0.0, 0.6), length=st.floats(0.15, 0.4))
def test_sketches_of_any_straight_wall(cup, line, start, length):
    try:
        strip = max(strips(cup, line), key=lambda strip: strip.cut_mm)
    except GeometryError:
        assume(False)
    assume(length * strip.cut_mm > 5)
    whole, upright = strip.cut_mm, len(strip.middle) > 1
    assert apart(strip, start * whole, (start + length) * whole, upright) < 0.05


@pytest.mark.parametrize("seed", [7, 21, 38, 72, 90, 117])
def test_sketches_on_bent_and_smooth_walls(seed):
    """The sums along the line are coarser where its bending jumps, at a bend of the wall."""
    cup, pattern = random_case(seed, most_lines=1)
    try:
        decoration = decorate(cup, pattern)
    except JobError:
        pytest.skip("nothing can be laid")
    strip = max(decoration.lines[0].strips, key=lambda strip: strip.cut_mm)
    whole, upright = strip.cut_mm, len(strip.middle) > 1
    assert apart(strip, 0.2 * whole, 0.7 * whole, upright) < 0.2


def test_a_strip_cut_at_neither_end_is_itself():
    (strip,) = strips(CUPS["coated"], ring(40.0))
    flat = lay_flat(strip)
    sketch = Sketch(flat, Way(strip.middle), False).part(0.0, strip.cut_mm)
    assert np.allclose(sorted(sketch.points), sorted(flat.points), atol=2e-4)
