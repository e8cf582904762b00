"""Tiles of paper: all of a drawing is on some, no more than hold something, and what is drawn is cut at each."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from stripegen.drawing import GroupItem, PathItem, TextItem
from stripegen.errors import GeometryError
from stripegen.paper import MARGIN_MM, OVERLAP_MM, PAPERS, Canvas, Ink, field_items, join_marks, on_grid

A4 = PAPERS["a4"]


@st.composite
def blobs(draw):
    sector = shapely.Point(0, 0).buffer(draw(st.floats(60, 400))) - shapely.Point(0, 0).buffer(draw(st.floats(5, 50)))
    box = shapely.box(-500, draw(st.floats(-30, 20)), draw(st.floats(10, 500)), 500)
    return affinity.rotate(sector.intersection(box), draw(st.floats(0, 180)), origin=(0, 0))


def turned(shape, grid):
    return affinity.rotate(shape, grid.turn_rad, origin=(0, 0), use_radians=True)


@settings(max_examples=30)
@given(blobs(), st.sampled_from(sorted(PAPERS)))
def test_all_is_on_some_tile_and_every_tile_holds_something(shape, paper):
    grid = on_grid(shape, PAPERS[paper])
    fields = [grid.box(tile) for tile in grid.tiles]
    lying = turned(shape, grid)
    assert lying.difference(shapely.union_all(fields).buffer(1e-6)).area < 1e-6
    assert all(field.intersects(lying) for field in fields)
    width, height = PAPERS[paper].field_mm
    assert len(fields) >= shape.area / (width * height)
    for first, second in grid.neighbours():
        x0, y0, x1, y1 = grid.box(first).intersection(grid.box(second)).bounds
        assert sorted((x1 - x0, y1 - y0)) == pytest.approx([OVERLAP_MM, width if x1 - x0 > y1 - y0 else height])


def test_what_fits_one_page_turned_takes_one():
    width, height = A4.field_mm
    assert len(on_grid(shapely.box(0, 0, width, height), A4).tiles) == 1
    assert len(on_grid(shapely.box(0, 0, height, width), A4).tiles) == 1
    askew = affinity.rotate(shapely.box(0, 0, height - 30, 40), 33)
    assert len(on_grid(askew, A4).tiles) == 1
    slender = affinity.rotate(shapely.box(0, 0, math.hypot(width, height) - 25, 4), 90)
    assert len(on_grid(slender, A4).tiles) == 1
    assert len(on_grid(shapely.box(0, 0, width + 1, height + 1), A4).tiles) > 1


def test_empty_tiles_are_left_out():
    ring = shapely.Point(0, 0).buffer(420) - shapely.Point(0, 0).buffer(410)
    grid = on_grid(ring, A4)
    rows, columns = (max(getattr(tile, name) for tile in grid.tiles) for name in ("row", "column"))
    assert len(grid.tiles) < rows * columns


def test_too_many_pages_are_refused():
    with pytest.raises(GeometryError, match="more than 200 pages"):
        on_grid(shapely.box(0, 0, 5000, 3000), A4)
    with pytest.raises(GeometryError, match="more than 200 pages"):
        on_grid(shapely.box(0, 0, 80_000, 1), A4)


@settings(max_examples=20)
@given(st.lists(st.tuples(st.floats(0, 500), st.floats(0, 400)), min_size=2, max_size=6, unique=True))
def test_lines_are_cut_at_the_field_and_whole_together(spots):
    line = shapely.LineString(spots)
    grid = on_grid(shapely.box(0, 0, 500, 400), A4)
    canvas = Canvas((Ink(np.array(spots)),), ()).turned(grid.turn_rad)
    found = []
    for tile in grid.tiles:
        left, top = A4.corner_mm
        field = shapely.box(left, top, A4.width_mm - MARGIN_MM, A4.height_mm - MARGIN_MM)
        for item in field_items(canvas, grid, tile):
            for stroke in item.shapes:
                part = shapely.LineString([stroke.start, *(edge.end for edge in stroke.edges)])
                assert field.buffer(1e-6).contains(part)
                found.append(affinity.translate(part, tile.left_mm - left, tile.top_mm - top))
    lying = turned(line, grid)
    whole = shapely.union_all(found)
    spots_on = shapely.points(shapely.get_coordinates(shapely.segmentize(lying, 5.0)))
    assert shapely.distance(whole, spots_on).max() < 1e-6
    assert all(lying.buffer(1e-6).contains(part) for part in found)


def test_a_text_is_whole_on_one_tile_or_cut_on_those_that_it_reaches():
    grid = on_grid(shapely.box(0, 0, 370, 200), A4)
    first, second = grid.tiles
    edge = second.left_mm + OVERLAP_MM / 2
    long = TextItem(text="m" * 20, x_mm=edge, y_mm=100, size_mm=4, anchor="middle")
    short = TextItem(text="i", x_mm=edge + 20, y_mm=100, size_mm=4)
    shown = {}
    for tile in (first, second):
        items = field_items(Canvas((Ink(np.array([(0.0, 0.0), (1.0, 1.0)])),), (long, short)), grid, tile)
        texts = [item for item in items if isinstance(item, TextItem)]
        cut = [text for item in items if isinstance(item, GroupItem) for text in item.items]
        shown[tile.column] = [text.text for text in texts], [text.text for text in cut]
    assert shown == {1: ([], ["m" * 20]), 2: (["i"], ["m" * 20])}


def test_marks_lie_where_tiles_share_and_off_what_is_drawn():
    grid = on_grid(shapely.box(0, 0, 350, 500), A4)
    assert len(grid.tiles) == 4
    busy = [Ink(np.array([(x, 0.0), (x, 40.0)])) for x in np.arange(0.0, 350.0, 2.0)]
    marks = join_marks(Canvas(tuple(busy), ()), grid)
    assert [int(text.text) for text in marks.texts] == list(range(1, 9))
    shared = [grid.box(first).intersection(grid.box(second)) for first, second in grid.neighbours()]
    for ink in marks.inks:
        line = shapely.LineString(ink.points)
        assert sum(field.contains(line) for field in shared) == 1
    lines = shapely.union_all([shapely.LineString(ink.points) for ink in busy])
    assert not any(lines.intersects(shapely.LineString(ink.points)) for ink in marks.inks)


def test_lines_drawn_alike_are_one_path():
    inks = [Ink(np.array([(x, 0.0), (x, 9.0)]), 0.2 if x < 5 else 0.3) for x in range(10)]
    grid = on_grid(shapely.box(-1, -1, 20, 20), A4)
    items = field_items(Canvas(tuple(inks), ()), grid, grid.tiles[0])
    assert [type(item) for item in items] == [PathItem, PathItem]
    assert [len(item.shapes) for item in items] == [5, 5]
