"""The dimensions about the first view against the cup's own measures."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from profiled import PROFILED, turned
from strategies import a_cup

from stripegen.decoration import decorate
from stripegen.drawing import Drawing, TextItem
from stripegen.lettering import text_box
from stripegen.sideview import side_views
from stripegen.spec import Cup, Diagonal, Down, Line, Pattern, Ring, Vertical

CUPS = {
    "narrower": a_cup(43.0, 31.0, 152.0),
    "wider": a_cup(31.0, 45.0, 120.0),
    "low": a_cup(45.0, 40.0, 44.0, resin_mm=0.8),
    **PROFILED,
}
EDGE = Vertical(name="edge", vinyl="v", width_mm=5.0, around=("front",))
BEHIND = Vertical(name="behind", vinyl="v", width_mm=2.5, around=("back",))
HOOP = Ring(name="hoop", vinyl="v", width_mm=1.5, downs=(Down(30.0), Down(0.8, is_share=True)), stripes=3, gap_mm=2.0)
SASH = Diagonal(
    name="sash", vinyl="v", width_mm=3.0, start_around=0.3, start_down=Down(0.2, is_share=True),
    end_around=1.6, end_down=Down(0.7, is_share=True), path="even-drop",
)  # fmt: skip
LINES = (EDGE, BEHIND, HOOP, SASH)


def pictured(cup: Cup, *lines: Line, units: str | None = "mm") -> Drawing:
    decoration = decorate(cup, Pattern(name="p", lines=lines))
    return side_views("R-31", decoration, lambda role: (role, "#b8923a"), dimensions_in=units)


def texts(drawing: Drawing, role: str) -> list[str]:
    return [item.text for item in drawing.walk() if isinstance(item, TextItem) and item.role == role]


def figure(drawing: Drawing, name: str) -> float:
    found = [re.fullmatch(rf"{name} (?:\u00d8 )?([0-9.]+)", text) for text in texts(drawing, "measure")]
    (match,) = filter(None, found)
    return float(match[1])


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("kind", CUPS)
def test_dimensions_are_the_cups_own(kind, units):
    cup = CUPS[kind]
    space = turned(cup)
    radius, height = space.place(np.array([0.0, space.length]))
    unit, within = (1.0, 0.051) if units == "mm" else (25.4, 0.0051)
    drawing = pictured(cup, *LINES, units=units)
    expected = {
        "height": height[0] - height[1],
        "rim": 2 * radius[0],
        "base": 2 * radius[1],
        "rim clearance": 12.0,
        "base clearance": 6.0,
        "edge": 5.0,
        "sash": 3.0,
    }
    for name, value in expected.items():
        assert figure(drawing, name) == pytest.approx(value / unit, abs=within), name
    (note,) = texts(drawing, "note")
    assert ("inches" if units == "in" else "in mm") in note
    assert ("resin" in note) == bool(cup.resin_mm)


def test_strips_side_by_side_are_told_with_their_gap():
    assert "hoop 3 \u00d7 1.5, 2 apart" in texts(pictured(CUPS["narrower"], *LINES), "measure")


def test_a_wall_broader_than_its_ends_tells_how_broad():
    named = {kind: [text for text in texts(pictured(cup, EDGE), "measure") if "broadest" in text] for kind, cup in CUPS.items()}
    assert named.pop("bent-out") == ["broadest \u00d8 90"]
    assert named.pop("shoulder") and named.pop("bulge")
    assert not any(named.values())


@pytest.mark.parametrize("kind", CUPS)
def test_texts_are_on_the_page_and_apart(kind):
    drawing = pictured(CUPS[kind], *LINES)
    boxes = [text_box(item) for item in drawing.walk() if isinstance(item, TextItem)]
    page = shapely.box(0, 0, drawing.width_mm, drawing.height_mm)
    assert all(page.covers(box) for box in boxes)
    assert not any(boxes[a].intersects(boxes[b]) for a in range(len(boxes)) for b in range(a))
    cups = [
        shapely.Polygon(item.shapes[0].points(0.01))
        for item in drawing.walk()
        if item.role == "outline"
    ]
    measures = [text_box(item) for item in drawing.walk() if item.role == "measure"]
    assert not any(box.intersects(cup) for box in measures for cup in cups)


def test_what_lies_on_another_side_is_pale_and_has_no_leader():
    drawing = pictured(CUPS["narrower"], EDGE, BEHIND)
    fills = {item.text: item.fill for item in drawing.walk() if item.role == "measure"}
    assert fills["behind 2.5"] != fills["edge 5"] and "other side" in texts(drawing, "note")[0]
    assert "other side" not in texts(pictured(CUPS["narrower"], EDGE), "note")[0]


def test_leaders_start_on_what_they_name():
    drawing = pictured(CUPS["narrower"], EDGE, HOOP, SASH)
    (view,) = [item for item in drawing.walk() if item.id == "view-0"]
    strips = [shapely.Polygon(item.shapes[0].points(0.01)) for item in view.items if item.role == "strip"]
    dots = [item for item in drawing.items if item.role == "dot"]
    assert len(dots) == 6  # one and its halo each
    for dot in dots:
        middle = shapely.Polygon(dot.shapes[0].points(0.01)).centroid
        assert any(strip.buffer(-0.05).contains(middle) for strip in strips)


def test_what_finds_no_room_is_counted():
    lines = [
        Vertical(name=f"stripe-{n}", vinyl="v", width_mm=2.0, around=(math.radians(8 * n),)) for n in range(40)
    ]
    drawing = pictured(CUPS["low"], *lines)
    shown = sum(text.startswith("stripe") for text in texts(drawing, "measure"))
    assert 3 < shown < 40
    assert f"{40 - shown} more lines find no room" in texts(drawing, "note")[0]
    boxes = [text_box(item) for item in drawing.walk() if isinstance(item, TextItem)]
    assert not any(boxes[a].intersects(boxes[b]) for a in range(len(boxes)) for b in range(a))


def test_without_being_asked_for_there_are_none():
    drawing = pictured(CUPS["narrower"], *LINES, units=None)
    assert not texts(drawing, "measure") and not texts(drawing, "note")
    assert not [item for item in drawing.walk() if item.role in ("dimension", "leader", "dot")]
