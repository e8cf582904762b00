"""The four sides against points of the cup projected one by one."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from profiled import LINES, PROFILED, turned
from strategies import a_cup

from stripegen.decoration import decorate
from stripegen.drawing import Drawing, GroupItem, TextItem
from stripegen.lettering import text_box
from stripegen.pictures import CHORD_MM
from stripegen.previewing import preview_pictures
from stripegen.sideview import side_views
from stripegen.spec import Cup, Diagonal, Down, Keepout, Line, Pattern, Ring, Seam, Vertical
from stripegen.writers.svg import drawing_svg

CUPS = {
    "narrower": a_cup(43.0, 31.0, 152.0),
    "wider": a_cup(31.0, 45.0, 120.0),
    "plain": a_cup(40.0, 40.0, 110.0),
    "steep": a_cup(70.0, 30.0, 75.0),
}
ALL = CUPS | PROFILED
VIEWS = (0, 90, 180, 270)


def pictured(cup: Cup, *lines: Line) -> Drawing:
    return side_views("R-31", decorate(cup, Pattern(name="p", lines=lines)), lambda role: (role, "#b8923a"))


def group(drawing: Drawing, view: int) -> GroupItem:
    (found,) = [item for item in drawing.walk() if item.id == f"view-{view}"]
    return found


def areas(drawing: Drawing, view: int, role: str) -> list[shapely.Polygon]:
    return [
        shapely.make_valid(
            shapely.Polygon(item.shapes[0].points(0.01), [ring.points(0.01) for ring in item.shapes[1:]])
        )
        for item in group(drawing, view).items
        if item.role == role
    ]


class Eye:
    """Projects points of a cup into a view, by the silhouette's own place and size on the page."""

    def __init__(self, cup: Cup, drawing: Drawing, view: int):
        (outline,) = areas(drawing, view, "outline")
        x0, y0, x1, y1 = outline.bounds
        self.space, self.view = turned(cup), math.radians(view)
        self.middle, self.top = (x0 + x1) / 2, y0
        radius, height = self.space.place(np.linspace(0.0, self.space.length, 20001))
        for bend in self.space.bends:
            radius = np.append(radius, self.space.radius(bend))
        self.scale = (x1 - x0) / 2 / radius.max()
        self.height = height[0]
        assert (y1 - y0) / self.scale == pytest.approx(height[0] - height[-1], rel=1e-3 if cup.smooth else 1e-6)

    def see(self, around, down) -> np.ndarray:
        radius, height = self.space.place(down)
        x = self.middle + self.scale * radius * np.sin(np.asarray(around) - self.view)
        return np.stack(np.broadcast_arrays(x, self.top + self.scale * (self.height - height)), axis=-1)


def bar(degrees: float, width: float = 4.0, **more) -> Vertical:
    return Vertical(name="bar", vinyl="v", width_mm=width, around=(math.radians(degrees),), **more)


@pytest.mark.parametrize("kind", CUPS)
def test_a_strip_in_front_is_in_the_middle_and_one_at_90_degrees_at_the_right_edge(kind):
    cup = CUPS[kind]
    drawing = pictured(cup, bar(90.0))
    (edge_on,), (in_front,) = areas(drawing, 0, "strip"), areas(drawing, 90, "strip")
    (outline,) = areas(drawing, 0, "outline")
    eye = Eye(cup, drawing, 0)
    assert edge_on.distance(shapely.LineString(outline.exterior.coords)) < 1e-3
    assert edge_on.bounds[0] > eye.middle
    assert in_front.centroid.x == pytest.approx(Eye(cup, drawing, 90).middle, abs=1e-3)
    assert in_front.bounds[2] - in_front.bounds[0] == pytest.approx(4.0 * eye.scale, rel=0.02)
    (behind,) = areas(drawing, 180, "strip")  # it is seen edge on from there too, on the left
    assert behind.bounds[2] < Eye(cup, drawing, 180).middle
    assert not areas(drawing, 270, "strip")


@pytest.mark.parametrize("kind", ALL)
@pytest.mark.parametrize("degrees", [-60.0, 20.0, 33.0, 150.0, 200.0, 300.0])
def test_a_strip_is_seen_where_its_middle_is_projected(kind, degrees):
    cup = ALL[kind]
    drawing = pictured(cup, bar(degrees, 3.0))
    downs = np.linspace(12.5, turned(cup).length - 6.5, 9)
    for view in VIEWS:
        facing = math.cos(math.radians(degrees - view))
        strips = areas(drawing, view, "strip")
        assert len(strips) == (facing > 0.05) if abs(facing) > 0.05 else True
        for strip in strips if facing > 0.05 else ():
            points = Eye(cup, drawing, view).see(math.radians(degrees), downs)
            # a ledge is seen edge on, and so is what lies on it
            assert all(strip.buffer(1e-3).contains(shapely.Point(point)) for point in points)


def test_a_ring_is_level_and_as_wide_as_the_cup():
    cup = CUPS["narrower"]
    drawing = pictured(cup, Ring(name="hoop", vinyl="v", width_mm=6.0, downs=(Down(50.0),), overlap_mm=0.0))
    for view in (0, 90, 270):
        eye = Eye(cup, drawing, view)
        x0, y0, x1, y1 = shapely.unary_union(areas(drawing, view, "strip")).bounds
        upper, lower = eye.see(eye.view + math.pi / 2, np.array([47.0, 53.0]))
        assert (x0 + x1) / 2 == pytest.approx(eye.middle, abs=1e-6)
        assert x1 == pytest.approx(upper[0], abs=1e-6)
        assert (y0, y1) == (pytest.approx(upper[1], abs=1e-6), pytest.approx(lower[1], abs=1e-6))


@pytest.mark.parametrize("kind", ALL)
def test_a_spiral_keeps_to_its_projected_edge(kind):
    """On the page no point of the strip's true edge is further from what is drawn than the chords may be."""
    cup = ALL[kind]
    coil = Diagonal(
        name="coil",
        vinyl="v",
        width_mm=3.0,
        start_around=0.3,
        start_down=Down(0.2, is_share=True),
        end_around=9.0,
        end_down=Down(0.8, is_share=True),
        path="even-drop",
        ends="square",
    )
    decoration = decorate(cup, Pattern(name="p", lines=(coil,)))
    drawing = side_views("R-31", decoration, lambda role: (role, "#b8923a"))
    (strip,) = decoration.lines[0].strips
    for view in VIEWS:
        eye = Eye(cup, drawing, view)
        rings = [item.shapes[0] for item in group(drawing, view).items if item.role == "strip"]
        lines = shapely.MultiLineString([[*points, points[0]] for points in (ring.points(0.01) for ring in rings)])
        for edge in strip.shape.outer:
            around, down = edge.curve.at(np.linspace(edge.t0, edge.t1, 2000))
            seen = np.cos(around - eye.view) > 1e-6
            apart = shapely.distance(shapely.points(eye.see(around, down)[seen]), lines)
            assert apart.max(initial=0.0) <= CHORD_MM + 0.01


def test_nothing_is_drawn_beside_the_cup():
    cup = CUPS["steep"]
    lines = [bar(degrees, 5.0) for degrees in range(0, 360, 40)]
    named = [
        Vertical(name=f"b{n}", vinyl="v", width_mm=5.0, around=line.around) for n, line in enumerate(lines)
    ]
    drawing = pictured(cup, *named)
    for view in VIEWS:
        (outline,) = areas(drawing, view, "outline")
        assert all(outline.buffer(0.02).covers(strip) for strip in areas(drawing, view, "strip"))


@pytest.mark.parametrize("kind", PROFILED)
def test_the_silhouette_is_the_profile_on_both_sides(kind):
    cup = PROFILED[kind]
    drawing = pictured(cup, *LINES)
    space = turned(cup)
    downs = np.linspace(0.0, space.length, 3001)
    for view in (0, 90):
        (outline,) = areas(drawing, view, "outline")
        eye = Eye(cup, drawing, view)
        left, right = (eye.see(eye.view + side * math.pi / 2, downs) for side in (-1, 1))
        profile = shapely.Polygon([*left.tolist(), *right[::-1].tolist()])
        assert outline.symmetric_difference(profile).area < 1e-3 * profile.area
        assert shapely.distance(shapely.points(right), outline.boundary).max() < CHORD_MM + 0.01
        for strip in areas(drawing, view, "strip"):
            assert outline.buffer(0.05).covers(strip)


def test_a_ledge_is_a_step_and_its_edges_are_shown():
    cup = PROFILED["ledge"]
    drawing = pictured(cup, bar(0.0))
    eye = Eye(cup, drawing, 0)
    (outline,) = areas(drawing, 0, "outline")
    at = eye.top + 70.0 * eye.scale
    corners = {(round(x - eye.middle, 6), round(y - at, 6)) for x, y in outline.exterior.coords}
    for radius in (42.0, 34.0):
        assert {(round(side * radius * eye.scale, 6), 0.0) for side in (-1, 1)} <= corners
    bends = [item.shapes[0].bounds() for item in group(drawing, 0).items if item.role == "bend"]
    assert [(x1 - x0, y0) for x0, y0, x1, _ in bends] == [
        (pytest.approx(84 * eye.scale), pytest.approx(at)),
        (pytest.approx(68 * eye.scale), pytest.approx(at)),
    ]
    straight = pictured(CUPS["narrower"], bar(0.0))
    assert not [item for item in group(straight, 0).items if item.role == "bend"]


def test_views_stand_side_by_side_at_one_scale():
    cup = CUPS["wider"]
    drawing = pictured(cup, bar(0.0))
    eyes = [Eye(cup, drawing, view) for view in VIEWS]
    assert len({round(eye.scale, 9) for eye in eyes}) == len({round(eye.top, 9) for eye in eyes}) == 1
    steps = np.diff([eye.middle for eye in eyes])
    assert steps.min() > 2 * 45 * eyes[0].scale and np.ptp(steps) < 1e-9
    page = shapely.box(0, 0, drawing.width_mm, drawing.height_mm)
    for view in VIEWS:
        assert page.covers(shapely.unary_union(areas(drawing, view, "outline")))


def test_what_is_lower_on_the_list_lies_over_what_is_higher_unless_it_goes_under():
    cup = CUPS["plain"]
    hoop = Ring(name="hoop", vinyl="hoop", width_mm=6.0, downs=(Down(50.0),))
    under = Ring(name="under", vinyl="under", width_mm=6.0, downs=(Down(70.0),), under=("bar",))
    decoration = decorate(cup, Pattern(name="p", lines=(bar(0.0), hoop, under)))
    colours = {"v": "#111111", "hoop": "#222222", "under": "#333333"}
    drawing = side_views("R-31", decoration, lambda role: (role, colours[role]))
    strips = [item for item in group(drawing, 0).items if item.role == "strip"]
    tops = [item.shapes[0].bounds()[1] for item in strips]
    eye = Eye(cup, drawing, 0)
    lower, first, upper = (eye.see(0.0, down)[1] for down in (67.0, 12.0, 47.0))
    assert tops == pytest.approx([lower, lower, first, upper], abs=1e-6)  # the bar parts the ring under it


def test_light_falls_from_the_left_and_dark_vinyl_stays_dark():
    drawing = pictured(CUPS["plain"], bar(0.0))
    body = [item.fill for item in group(drawing, 0).items if item.role == "body"]
    light = [sum(int(fill[start : start + 2], 16) for start in (1, 3, 5)) for fill in body]
    assert light.index(max(light)) < len(light) / 2
    assert light[-1] == min(light)
    assert max(abs(a - b) for a, b in itertools.pairwise(light)) < 18  # no step to be seen


def test_views_are_named_with_the_seams_that_they_show():
    seams = {"side": Seam(name="side", rim=math.radians(90.2), base=math.radians(90.2))}
    drawing = pictured(a_cup(40.0, 35.0, 100.0, seams=seams), bar(0.0))
    texts = [item.text for item in drawing.walk() if isinstance(item, TextItem)]
    names = ["0\u00b0", "front seam", "90\u00b0", "side seam", "180\u00b0", "back seam", "270\u00b0"]
    assert texts == ["R-31", "cup cup, pattern p", "v", *names]


def test_texts_are_on_the_page_and_apart():
    drawing = pictured(CUPS["narrower"], bar(0.0))
    boxes = [text_box(item) for item in drawing.walk() if isinstance(item, TextItem)]
    page = shapely.box(0, 0, drawing.width_mm, drawing.height_mm)
    assert all(page.covers(box) for box in boxes)
    assert not any(boxes[a].intersects(boxes[b]) for a in range(len(boxes)) for b in range(a))


def test_a_keepout_is_outlined_where_it_is():
    keepout = Keepout(around=math.radians(90), width_mm=20.0, from_mm=30.0, to_mm=80.0)
    cup = a_cup(40.0, 40.0, 110.0, keepouts=(keepout,))
    drawing = pictured(cup, bar(0.0))
    (area,) = areas(drawing, 90, "keepout")
    eye = Eye(cup, drawing, 90)
    half = 10 / 40
    upper, lower = eye.see(math.pi / 2 + half, np.array([30.0, 80.0]))
    assert area.bounds == pytest.approx((2 * eye.middle - upper[0], upper[1], upper[0], lower[1]), abs=1e-6)


def test_both_pictures_of_an_order_can_be_written():
    decoration = decorate(CUPS["plain"], Pattern(name="p", lines=(bar(0.0),)))
    pictures = preview_pictures("R-31", decoration, lambda role: ("brass", "#b8923a"))
    assert list(pictures) == ["flat", "sides"]
    again = preview_pictures("R-31", decoration, lambda role: ("brass", "#b8923a"))
    for name, drawing in pictures.items():
        text = drawing_svg(drawing)
        assert "R-31" in text and text == drawing_svg(again[name])
