"""Widths of strips and heights of rings on the flat picture."""

from __future__ import annotations

import re

import numpy as np
import pytest
import shapely
from profiled import PROFILED, turned
from test_sidefigures import CUPS, EDGE, HOOP, LINES

from stripegen.decoration import decorate
from stripegen.drawing import Drawing, GroupItem, TextItem
from stripegen.flatview import flat_view
from stripegen.lettering import text_box
from stripegen.spec import Cup, Line, Pattern, Vertical


def pictured(cup: Cup, *lines: Line, units: str | None = "mm") -> Drawing:
    decoration = decorate(cup, Pattern(name="p", lines=lines))
    return flat_view("R-31", decoration, lambda role: (role, "#b8923a"), dimensions_in=units)


def names(drawing: Drawing) -> list[str]:
    return [item.text for item in drawing.walk() if item.role == "width"]


def missing(drawing: Drawing) -> int:
    (note,) = [item.text for item in drawing.walk() if item.role == "wall-note" and "width" in item.text]
    found = re.search(r"(\d+) names? finds? no room", note)
    return int(found[1]) if found else 0


@pytest.mark.parametrize("kind", CUPS)
def test_each_line_and_each_ring_is_named_once_or_counted(kind):
    drawing = pictured(CUPS[kind], *LINES)
    found = names(drawing)
    assert len(found) + missing(drawing) == 5
    assert len(set(found)) == len(found) >= 3


def test_widths_are_those_of_the_lines_and_heights_those_of_the_rings():
    cup = CUPS["narrower"]
    space = turned(cup)
    low, high = 12.0, 152.0 - 6.0
    heights = space.place(np.array([30.0, low + 0.8 * (high - low), space.length]))[1]
    found = names(pictured(cup, EDGE, HOOP))
    assert found[0] == "edge 5"
    ups = [float(re.fullmatch(r"hoop 3 \u00d7 1\.5, 2 apart, ([0-9.]+) up", text)[1]) for text in found[1:]]
    assert ups == pytest.approx(heights[:2] - heights[2], abs=0.051)
    inches = names(pictured(cup, EDGE, HOOP, units="in"))
    assert inches[0] == "edge 0.20" and f"{(heights[0] - heights[2]) / 25.4:.2f} up" in inches[1]


@pytest.mark.parametrize("kind", CUPS)
def test_no_two_texts_overlap_and_names_lie_on_no_strip(kind):
    crowd = [Vertical(name=f"s{n}", vinyl="v", width_mm=3.0, around=(0.25 * n,)) for n in range(1, 20)]
    for lines in (LINES, crowd):
        drawing = pictured(CUPS[kind], *lines)
        boxes = [text_box(item) for item in drawing.walk() if isinstance(item, TextItem)]
        page = shapely.box(0, 0, drawing.width_mm, drawing.height_mm)
        assert all(page.covers(box) for box in boxes)
        assert not any(boxes[a].intersects(boxes[b]) for a in range(len(boxes)) for b in range(a))
        flat = [inner for item in drawing.items for inner in (item.items if isinstance(item, GroupItem) else (item,))]
        strips = shapely.unary_union(
            [
                shapely.make_valid(shapely.Polygon(item.shapes[0].points(0.01), [hole.points(0.01) for hole in item.shapes[1:]]))
                for item in flat
                if item.role == "strip"
            ]
        )
        assert not any(strips.intersects(text_box(item)) for item in flat if item.role == "width")
        bars = shapely.union_all(
            [shapely.box(*shapely.Polygon(item.shapes[0].points(0.01)).bounds) for item in flat if item.role == "bar"]
        )
        assert not any(bars.intersects(text_box(item)) for item in flat if item.role == "width")


def test_the_picture_is_the_same_without_them_but_for_their_note():
    for cup in (CUPS["narrower"], PROFILED["shoulder"]):
        plain, named = pictured(cup, *LINES, units=None), pictured(cup, *LINES)
        assert not names(plain)
        figures = [
            [item.text for item in drawing.walk() if isinstance(item, TextItem) and (item.role or "").startswith("figure")]
            for drawing in (plain, named)
        ]
        assert figures[0] == figures[1]
        assert plain.width_mm == named.width_mm
