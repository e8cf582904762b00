"""Drawings check themselves, and know every item in them."""

import math

import pytest

from stripegen.drawing import (
    BLACK,
    HAIRLINE_MM,
    Drawing,
    Gradient,
    GroupItem,
    PathItem,
    Stop,
    TextItem,
    cut_drawing,
)
from stripegen.errors import GeometryError
from stripegen.outline import Ring

SQUARE = Ring.through([(0, 0), (10, 0), (10, 10), (0, 10)])
HOLE = Ring.through([(2, 2), (4, 2), (4, 4)])


def path(**style):
    return PathItem(shapes=[SQUARE], **style)


def text(**style):
    return TextItem(**{"text": "a", "x_mm": 1, "y_mm": 2, "size_mm": 3} | style)


def test_walk_meets_every_item_in_drawing_order():
    first, inner, last = path(id="first"), text(id="inner"), path(id="last")
    deep = GroupItem(items=[inner], id="deep")
    group = GroupItem(items=[deep, last], id="group")
    drawing = Drawing(10, 20, [first, group, text()])
    assert [item.id for item in drawing.walk()] == ["first", "group", "deep", "inner", "last", None]


def test_ids_are_unique_through_every_group():
    with pytest.raises(GeometryError, match="'same'"):
        Drawing(10, 10, [path(id="same"), GroupItem(items=[GroupItem(items=[text(id="same")])])])
    Drawing(10, 10, [path(), path()])


def test_a_cut_drawing_holds_each_piece_as_one_bare_path():
    drawing = cut_drawing(305, 200, [("R-31.1.edge.1", [SQUARE, HOLE]), ("31.2", [HOLE])])
    assert (drawing.width_mm, drawing.height_mm) == (305, 200)
    assert [item.id for item in drawing.items] == ["R-31.1.edge.1", "31.2"]
    assert drawing.items[0].shapes == (SQUARE, HOLE)
    for item in drawing.items:
        assert (item.stroke, item.stroke_width_mm, item.fill) == (BLACK, HAIRLINE_MM, None)
        assert (item.dash_mm, item.opacity, item.role) == ((), 1, None)
    with pytest.raises(GeometryError, match="R-31"):
        cut_drawing(305, 200, [("R-31", [SQUARE]), ("R-31", [HOLE])])


@pytest.mark.parametrize("value", [0, -1, math.nan, math.inf])
def test_sizes_must_be_positive(value):
    for build in (
        lambda: Drawing(value, 10, ()),
        lambda: Drawing(10, value, ()),
        lambda: path(stroke_width_mm=value),
        lambda: path(dash_mm=(1, value)),
        lambda: text(size_mm=value),
    ):
        with pytest.raises(GeometryError, match="finite and > 0"):
            build()


@pytest.mark.parametrize("value", [-0.1, 1.1, math.nan])
def test_opacities_are_shares(value):
    for build in (
        lambda: path(opacity=value),
        lambda: GroupItem(items=(), opacity=value),
        lambda: Stop(value, BLACK),
        lambda: Stop(0, BLACK, value),
    ):
        with pytest.raises(GeometryError, match="from 0 to 1"):
            build()


@pytest.mark.parametrize("colour", ["red", "#fff", "#12345g", "#1234567", "url(#x)", ""])
def test_colours_are_written_out(colour):
    for build in (lambda: path(stroke=colour), lambda: path(fill=colour), lambda: text(fill=colour)):
        with pytest.raises(GeometryError, match="#rrggbb"):
            build()
    assert path(fill="#b8923a").fill == "#b8923a"


@pytest.mark.parametrize("name", ["", "a b", "a\n", "é", 'a"', "a/b", "<"])
def test_ids_and_roles_are_plain(name):
    for build in (lambda: path(id=name), lambda: path(role=name), lambda: text(id=name)):
        with pytest.raises(GeometryError, match="id or role"):
            build()


def test_other_faults():
    with pytest.raises(GeometryError, match="at least one ring"):
        PathItem(shapes=())
    with pytest.raises(GeometryError, match="anchor"):
        text(anchor="left")
    with pytest.raises(GeometryError, match="finite"):
        text(x_mm=math.nan)
    with pytest.raises(GeometryError, match="two stops"):
        Gradient((0, 0), (1, 0), (Stop(0, BLACK),))
    with pytest.raises(GeometryError, match="in order"):
        Gradient((0, 0), (1, 0), (Stop(1, BLACK), Stop(0, BLACK)))
