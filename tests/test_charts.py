"""Strips over bends laid flat: the outer stripes of verticals against each section's own straight line."""

import math

import numpy as np
import pytest
from anywall_lines import tool_pieces
from turned_cups import SECTIONS, cup_through

from stripegen.charts import Followed
from stripegen.errors import GeometryError
from stripegen.flat import half_way
from stripegen.planecurves import plane_curve
from stripegen.sections import SectionWall
from stripegen.slants import EvenDrop
from stripegen.spec import Down, Vertical


@pytest.mark.parametrize("resin", [0.0, 0.8])
@pytest.mark.parametrize("name", ["bent out", "bent in", "waist", "bulge", "wider"])
def test_a_stripe_beside_a_meridian_is_straight_on_each_section_and_turns_at_the_bend(name, resin):
    """At a distance d it meets a bend of radius r at heading -asin(d k / r), k being each section's slope."""
    cup = cup_through(SECTIONS[name], False, resin)
    line = Vertical(name="l", vinyl="v", width_mm=4.0, stripes=2, around=(0.2,), start=Down(20.0), end=Down(120.0))
    for piece, distance in zip(tool_pieces(cup, line), (3.0, -3.0), strict=True):
        (edge,) = piece.strip.middle
        wall = edge.curve.wall
        (bend,) = wall.bends_mm
        slopes = [float(wall.slope_at(bend + side)) for side in (-1e-3, 1e-3)]
        radius = float(wall.radius_mm(bend))
        above, below = (math.asin(slope * distance / radius) for slope in slopes)
        _, ways = Followed(piece.strip.middle, *half_way(piece.strip.middle)).flats[0].at(np.array([edge.t0, edge.t1]))
        # +around is to the left of a way that runs up: the stripe at distance d lies d towards heading + 90 degrees
        assert abs(ways[1] - ways[0]) == pytest.approx(abs(above - below), abs=5e-6)
        # each part, laid flat with its section: the chord between its ends there
        parts = [(20.0, bend, slopes[0]), (bend, 120.0, slopes[1])]
        length = 0.0
        for top, bottom, slope in parts:
            # from the apex r / |k|: where a line d from the meridian meets two circles about it
            if abs(slope) < 1e-12:
                length += bottom - top
                continue
            apex = [float(wall.radius_mm(down + side)) / abs(slope) for down, side in ((top, 0.0), (bottom, 0.0))]
            along = [math.sqrt(far**2 - distance**2) for far in apex]
            length += abs(along[1] - along[0])
        assert piece.cut_mm == pytest.approx(length, abs=3e-5)


def test_a_curve_laid_flat_is_not_told_far_past_its_ends():
    curve = EvenDrop(SectionWall.through([(36, 140), (30, 90), (25, 0)]), 0.0, 20.0, 2.0, 60.0)
    flat = plane_curve(curve, 0.0, 1.0)
    assert np.isfinite(flat.beside(np.array([-0.2, 1.2]), 3.0)).all()
    with pytest.raises(GeometryError, match="too wide for so bent a way"):
        flat.beside(np.array([0.5, 3.0]), 3.0)
