"""Shapes shrunk and grown along the wall, against shapely's buffers of the shapes laid flat."""

from functools import cache

import numpy as np
import pytest
import reference
import shapely
from soundness import corners
from strategies import CUPS, box, disc, ribbon

from stripegen.curves import Parallel, Straight
from stripegen.errors import GeometryError
from stripegen.margins import grown, shrunk
from stripegen.overlay import overlay
from stripegen.shapes import Shape
from stripegen.slants import EvenDrop, SameSlant
from stripegen.surface import Frustum

ROUND = {"quad_segs": 60}
WALLS = ("cylinder", "coated", "steep", "wider")


@cache
def wall_of(name: str) -> Frustum:
    cup = CUPS[name]
    return Frustum.from_radii(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm).coated(cup.resin_mm)


@cache
def flat_of(name: str) -> reference.Flat:
    return reference.Flat(reference.Wall.of(CUPS[name]), -2.0, 4.0)


def laid(name: str, shape: Shape) -> shapely.Polygon:
    rings = [
        np.concatenate(
            [flat_of(name)(*edge.curve.at(np.linspace(edge.t0, edge.t1, 400)))[:-1] for edge in loop]
        )
        for loop in shape.loops
    ]
    return shapely.Polygon(rings[0], rings[1:])


def shape_on(wall: Frustum, kind: str) -> Shape:
    match kind:
        case "vertical":
            return ribbon(Straight(wall, 0.5, 0.0, 0.0), 12.0, 60.0, -3.0, 3.0)
        case "box":
            return box(wall, 0.1, 0.9, 20.0, 50.0)
        case "slant":
            return ribbon(SameSlant(wall, 0.2, 15.0, 1.2), 0.0, 70.0, -4.0, 4.0)
        case "drop":
            return ribbon(EvenDrop(wall, 0.2, 20.0, 1.5, 30.0), 0.0, 1.0, -3.5, 3.5)
        case "bitten":  # reflex corners between curves of every kind
            (shape,) = overlay(
                [box(wall, 0.1, 1.2, 15.0, 55.0)], [disc(wall, 0.5, 15.0, 9.0), disc(wall, 1.2, 55.0, 7)]
            )
            return shape
        case "holed":
            (shape,) = overlay([box(wall, 0.1, 1.2, 15.0, 60.0)], [disc(wall, 0.6, 37.0, 6.0)])
            return shape
        case "elbow":
            first = ribbon(Straight(wall, 0.3, 20.0, 0.8), -3.0, 45.0, -3.0, 3.0)
            second = ribbon(Straight(wall, 0.3, 20.0, 2.0), -3.0, 20.0, -3.0, 3.0)
            (shape,) = overlay([first, second])
            return shape
    raise ValueError(kind)


KINDS = ("vertical", "box", "slant", "drop", "bitten", "holed", "elbow")


def differ(name: str, found: list[Shape], true: shapely.Geometry) -> float:
    """The area in which they differ, by the length of the border: how far apart they are on average, mm."""
    assert not [fault for shape in found for fault in corners(shape)]
    union = shapely.union_all([laid(name, shape) for shape in found])
    return shapely.symmetric_difference(union, true).area / max(true.length, 1.0)


@pytest.mark.parametrize("by", [0.4, 1.5])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", WALLS)
def test_shrunk_is_what_lies_so_far_from_the_border(name, kind, by):
    shape = shape_on(wall_of(name), kind)
    true = laid(name, shape).buffer(-by, **ROUND)
    assert differ(name, shrunk(shape, by, lambda edge: False), true) < 5e-4
    assert not true.is_empty


@pytest.mark.parametrize("by", [0.4, 5.0])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", WALLS)
def test_grown_is_all_that_lies_so_near(name, kind, by):
    shape = shape_on(wall_of(name), kind)
    true = laid(name, shape).buffer(by, **ROUND)
    assert differ(name, grown(shape, by), true) < 5e-4


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", WALLS)
def test_edges_that_stay_are_no_border(name, kind):
    shape = shape_on(wall_of(name), kind)

    def stays(edge):
        return isinstance(edge.curve, Parallel) or edge is shape.outer[-1]

    flat = flat_of(name)
    border = [
        shapely.LineString(flat(*edge.curve.at(np.linspace(edge.t0, edge.t1, 300))))
        for loop in shape.loops
        for edge in loop
        if not stays(edge)
    ]
    true = laid(name, shape).difference(shapely.union_all(border).buffer(1.2, **ROUND))
    assert differ(name, shrunk(shape, 1.2, stays), true) < 5e-4


def test_nothing_is_left_of_what_is_narrower():
    wall = wall_of("coated")
    strip = ribbon(SameSlant(wall, 0.2, 15.0, 1.2), 0.0, 70.0, -1.0, 1.0)
    assert shrunk(strip, 1.01, lambda edge: False) == []
    assert shrunk(strip, 0.0, lambda edge: False) == [strip]
    assert grown(strip, 0.0) == [strip]


def test_an_edge_too_tight_to_move_is_refused():
    wall = Frustum.from_radii(40.0, 6.0, 50.0)
    tight = ribbon(SameSlant(wall, 0.2, 10.0, 1.2), 0.0, 100.0, -1.0, 1.0)
    with pytest.raises(GeometryError, match="too tight to be moved by 14.00 mm"):
        grown(tight, 14.0)
