"""Which corners are near which sides, beside distances by shapely, and kept true as bodies move."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.layout import Blank, Stock
from stripegen.nest_bodies import Bodies
from stripegen.nest_near import NEAR_MM, contacts, copied, listed, relist
from stripegen.nest_shapes import group
from stripegen.nest_skyline import Placed

WIDTH, LENGTH = 120.0, 90.0
ROLL = Stock(width_mm=WIDTH, length_mm=None, margin_mm=0, gap_mm=1.5)
_TURNS = np.linspace(-0.6, 0.6, 15)
_RING = np.array([(r * math.sin(t), -r * math.cos(t)) for r, turns in ((70, _TURNS), (66, _TURNS[::-1])) for t in turns])
KINDS = (
    ((0, 0), (60, 0), (60, 5), (0, 5)),
    tuple(map(tuple, (_RING - _RING.min(axis=0)).round(4).tolist())),
)

PLACES = st.lists(
    st.tuples(st.floats(10, WIDTH - 10), st.floats(10, LENGTH - 10), st.floats(0, 6.3)), min_size=2, max_size=9
)


def bodies_of(count: int) -> Bodies:
    shapes = group([Blank(key=str(k), outline=KINDS[k % 2]) for k in range(count)], ROLL)
    by_key = {key: shape for shape in shapes for key in shape.keys}
    return Bodies(shapes, [Placed(by_key[str(k)].pose("across", 0.0), 0.0, 0.0) for k in range(count)], "across")


def rings(bodies: Bodies, places: np.ndarray) -> list[np.ndarray]:
    """Every body's corners in the box."""
    laid = []
    for (x, y, turn), kind in zip(places.tolist(), bodies.kind.tolist(), strict=True):
        _, _, first, corners, _, _, _ = bodies.arrays
        c, s = math.cos(turn), math.sin(turn)
        laid.append(corners[first[kind] : first[kind + 1]] @ np.array([[c, s], [-s, c]]) + (x, y))
    return laid


def far_of(row, bodies: Bodies, laid: list[np.ndarray]) -> float:
    """From a contact's corner to its side."""
    i, k, j, e = row
    first = bodies.arrays[2]
    corner, other = laid[i][k - first[bodies.kind[i]]], laid[j]
    side = e - first[bodies.kind[j]]
    return shapely.LineString([other[side], other[(side + 1) % len(other)]]).distance(shapely.Point(corner))


@settings(max_examples=40, deadline=None)
@given(PLACES)
def test_every_corner_near_another_body_is_found_at_the_nearest_of_its_sides(places):
    bodies, places = bodies_of(len(places)), np.array(places)
    laid, (first, touches) = rings(bodies, places), (bodies.arrays[2], bodies.arrays[6])
    found = {tuple(row[:3]): row for row in contacts(places, np.zeros(len(places)), bodies.arrays, WIDTH, LENGTH).tolist()}
    for i, mine in enumerate(laid):
        for j, other in enumerate(laid):
            if i == j:
                continue
            solid = shapely.Polygon(other)
            for k, corner in enumerate(mine, first[bodies.kind[i]]):
                if not touches[k] or not (0 <= corner[0] < WIDTH and 0 <= corner[1] < LENGTH):
                    continue
                point = shapely.Point(corner)
                far = solid.exterior.distance(point)
                row = found.get((i, k, j))
                if far < NEAR_MM - 1e-9:
                    assert row is not None
                elif not solid.contains(point) and far > NEAR_MM + 1e-9:
                    assert row is None
                if row is not None:
                    assert abs(far_of(row, bodies, laid) - far) < 1e-6


@settings(max_examples=40, deadline=None)
@given(PLACES, st.randoms(use_true_random=False), st.integers(1, 60), st.floats(0, 3))
def test_what_is_kept_up_is_what_is_sought_anew(places, chance, times, widest):
    """However often some bodies move, one of them thin at times; what was copied before stays as it was."""
    bodies, places = bodies_of(len(places)), np.array(places)
    thin = np.zeros(len(places))
    begun = listed(places, thin, bodies.arrays, WIDTH, LENGTH)
    laid, grid, nearest, found, m, _ = copied(begun)
    for _ in range(times):
        has_moved = np.array([chance.random() < 0.3 for _ in places])
        thin[:] = 0.0
        thinner = chance.randrange(len(places))
        if has_moved[thinner]:
            thin[thinner] = widest * chance.random()
        for i in np.flatnonzero(has_moved):
            places[i] += (chance.uniform(-3, 3), chance.uniform(-3, 3), chance.uniform(-0.2, 0.2))
            places[i, :2] = np.clip(places[i, :2], 5, (WIDTH - 5, LENGTH - 5))
        found, m = relist(places, thin, bodies.arrays, has_moved, laid, grid, nearest, found, m)
        thin[:] = 0.0
        found, m = relist(places, thin, bodies.arrays, has_moved, laid, grid, nearest, found, m)
    anew = contacts(places, thin, bodies.arrays, WIDTH, LENGTH)
    lie = rings(bodies, places)
    kept, sought = ({tuple(row[:3]): row for row in rows.tolist()} for rows in (found[:m], anew))
    assert kept.keys() == sought.keys() and m == len(anew) == len(sought)
    for key, row in kept.items():
        assert abs(far_of(row, bodies, lie) - far_of(sought[key], bodies, lie)) < 1e-5
    _, _, _, was, m, since = begun
    again = contacts(since, thin, bodies.arrays, WIDTH, LENGTH)
    assert sorted(was[:m].tolist()) == sorted(again.tolist())
