"""The four sides against points of the cup projected one by one."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from profiled import LINES, PROFILED, turned
from seen_from_above import projected
from strategies import a_cup

from stripegen.decoration import decorate
from stripegen.drawing import Drawing, GroupItem, Item, TextItem
from stripegen.lettering import text_box
from stripegen.panels import laid_panels
from stripegen.panelspec import Panel
from stripegen.pictures import CHORD_MM
from stripegen.sideview import side_views
from stripegen.spec import Cup, Diagonal, Down, Keepout, Line, Pattern, Ring, Seam, Vertical
from stripegen.tilted import TILT_RAD, half_seen
from stripegen.writers.svg import drawing_svg

CUPS = {
    "narrower": a_cup(43.0, 31.0, 152.0),
    "wider": a_cup(31.0, 45.0, 120.0),
    "plain": a_cup(40.0, 40.0, 110.0),
    "steep": a_cup(70.0, 30.0, 75.0),
}
ALL = CUPS | PROFILED
VIEWS = (0, 90, 180, 270)
SINE, COSINE = math.sin(TILT_RAD), math.cos(TILT_RAD)


def pictured(cup: Cup, *lines: Line, **more) -> Drawing:
    return side_views("R-31", decorate(cup, Pattern(name="p", lines=lines)), lambda role: (role, "#b8923a"), **more)


def group(drawing: Drawing, view: int) -> GroupItem:
    (found,) = [item for item in drawing.walk() if item.id == f"view-{view}"]
    return found


def items(drawing: Drawing, view: int, role: str) -> list[Item]:
    return [item for item in group(drawing, view).items if item.role == role]


def areas(drawing: Drawing, view: int, role: str) -> list[shapely.Polygon]:
    return [
        shapely.make_valid(
            shapely.Polygon(item.shapes[0].points(0.001), [ring.points(0.001) for ring in item.shapes[1:]])
        )
        for item in items(drawing, view, role)
    ]


class Eye:
    """Projects points of a cup into a view, by the place and the breadth of its opening on the page."""

    def __init__(self, cup: Cup, drawing: Drawing, view: int):
        (opening,) = areas(drawing, view, "inside")
        x0, y0, x1, y1 = opening.bounds
        self.space, self.view = turned(cup), math.radians(view)
        (self.rim, _), self.height = self.space.place(np.array([0.0, self.space.length]))
        self.middle, self.top, self.scale = (x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2 / self.rim
        self.opening = (x1 - x0, y1 - y0)
        wall = decorate(cup, Pattern(name="p", lines=())).site.wall
        self.downs = np.linspace(0.0, wall.wall_mm, 900)
        self.halves = half_seen(wall, self.downs, self.downs)

    def see(self, around, down) -> np.ndarray:
        there = projected(self.space, np.asarray(around) - self.view, down, TILT_RAD)
        return there * self.scale + (self.middle, self.top)

    def is_seen(self, around, down, sure_rad: float = 0.0) -> np.ndarray:
        """Whether points are seen; rays through triangles have proved that (test_tilted.py)."""
        turn = np.abs(np.mod(np.asarray(around) - self.view + math.pi, 2 * math.pi) - math.pi)
        return turn < np.interp(down, self.downs, self.halves) - sure_rad


def bar(degrees: float, width: float = 4.0, **more) -> Vertical:
    return Vertical(name="bar", vinyl="v", width_mm=width, around=(math.radians(degrees),), **more)


@pytest.mark.parametrize("kind", ALL)
def test_the_rim_is_an_ellipse_and_the_base_the_lower_half_of_one(kind):
    cup = ALL[kind]
    drawing = pictured(cup, bar(0.0))
    space = turned(cup)
    base = space.place(np.array([space.length]))[0][0]
    for view in VIEWS:
        eye = Eye(cup, drawing, view)
        wide, high = eye.opening
        assert wide == pytest.approx(2 * eye.rim * eye.scale)
        assert high == pytest.approx(2 * eye.rim * eye.scale * SINE, rel=1e-3)
        (outline,) = areas(drawing, view, "outline")
        turns = np.linspace(-1.2, 1.2, 60)
        edge = eye.see(eye.view + turns, space.length)
        assert shapely.distance(shapely.points(edge), outline.exterior).max() < 0.02
        foot = eye.top + eye.scale * ((eye.height[0] - eye.height[1]) * COSINE + base * SINE)
        assert outline.bounds[3] == pytest.approx(foot, abs=0.01)


@pytest.mark.parametrize("kind", ALL)
@pytest.mark.parametrize("degrees", [-60.0, 20.0, 33.0, 150.0, 200.0, 300.0])
def test_a_strip_is_drawn_where_its_middle_is_projected_and_nowhere_else(kind, degrees):
    cup = ALL[kind]
    drawing = pictured(cup, bar(degrees, 3.0))
    around, downs = math.radians(degrees), np.linspace(12.5, turned(cup).length - 6.5, 200)
    for view in VIEWS:
        eye = Eye(cup, drawing, view)
        drawn = shapely.unary_union(areas(drawing, view, "strip"))
        seen, hidden = eye.is_seen(around, downs, 0.06), ~eye.is_seen(around, downs, -0.06)
        points = shapely.points(eye.see(around, downs))
        assert shapely.distance(points[seen], drawn).max(initial=0.0) < 2e-3
        if hidden.all():
            assert drawn.is_empty


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
    many = 0
    for view in VIEWS:
        eye = Eye(cup, drawing, view)
        rings = [item.shapes[0] for item in items(drawing, view, "strip")]
        lines = shapely.MultiLineString([[*points, points[0]] for points in (ring.points(0.01) for ring in rings)])
        for edge in strip.shape.outer:
            around, down = edge.curve.at(np.linspace(edge.t0, edge.t1, 2000))
            seen = eye.is_seen(around, down, 0.01)
            for side in (-1.0, 1.0):
                seen &= eye.is_seen(around, down + side, 0.01)
            apart = shapely.distance(shapely.points(eye.see(around, down)[seen]), lines)
            assert apart.max(initial=0.0) <= CHORD_MM + 0.01
            many += seen.sum()
    assert many > 4000


def test_a_ring_is_the_lower_part_of_an_ellipse():
    cup = CUPS["narrower"]
    drawing = pictured(cup, Ring(name="hoop", vinyl="v", width_mm=6.0, downs=(Down(50.0),), overlap_mm=0.0))
    for view in (0, 90, 270):
        eye = Eye(cup, drawing, view)
        strip = shapely.unary_union(areas(drawing, view, "strip"))
        x0, y0, x1, y1 = strip.bounds
        end = math.acos(12.0 / math.sqrt(152.0**2 - 12.0**2) * math.tan(TILT_RAD))  # narrowing, it turns away sooner
        upper, _ = eye.see(eye.view + end, np.array([47.0, 53.0]))
        front = eye.see(eye.view, np.array([53.0]))[0]
        assert (x0 + x1) / 2 == pytest.approx(eye.middle, abs=1e-6)
        assert (x1, y0) == (pytest.approx(upper[0], abs=1e-3), pytest.approx(upper[1], abs=1e-3))
        assert y1 == pytest.approx(front[1], abs=CHORD_MM)


def test_nothing_is_drawn_beside_the_cup():
    for kind in ("steep", *PROFILED):
        cup = ALL[kind]
        lines = [
            Vertical(name=f"b{n}", vinyl="v", width_mm=5.0, around=(math.radians(40 * n),)) for n in range(9)
        ]
        drawing = pictured(cup, *lines)
        for view in VIEWS:
            (outline,) = areas(drawing, view, "outline")
            assert all(outline.buffer(0.05).covers(strip) for strip in areas(drawing, view, "strip"))


def test_under_a_ledge_what_it_hides_is_not_drawn():
    cup = PROFILED["ledge"]
    drawing = pictured(cup, bar(0.0))
    eye = Eye(cup, drawing, 0)
    strips = sorted(areas(drawing, 0, "strip"), key=lambda strip: strip.bounds[1])
    assert len(strips) == 2
    edge = eye.see(0.0, np.array([70.0 - 1e-6]))[0][1]  # the ledge's outer edge, in front
    assert strips[0].bounds[3] == pytest.approx(edge, abs=0.01)
    assert strips[1].bounds[1] == pytest.approx(edge, abs=0.02)
    # so much of the wall below it is lost to sight
    lost = (42.0 - 34.0) * math.tan(TILT_RAD)
    assert eye.see(0.0, np.array([78.0 + lost]))[0][1] == pytest.approx(edge, abs=0.02)
    bends = [item.shapes[0].bounds() for item in items(drawing, 0, "bend")]
    assert [(x1 - x0, y1) for x0, _, x1, y1 in bends] == [(pytest.approx(84 * eye.scale), pytest.approx(edge, abs=0.01))]
    straight = pictured(CUPS["narrower"], bar(0.0))
    assert not items(straight, 0, "bend")


def test_a_shoulder_is_seen_from_behind_as_far_as_the_neck_lets_it():
    cup = PROFILED["shoulder"]
    lines = [Vertical(name=f"b{n}", vinyl="v", width_mm=2.0, around=(math.radians(n),)) for n in (100, 180)]
    drawing = pictured(cup, *lines)
    eye = Eye(cup, drawing, 0)
    shown = areas(drawing, 0, "strip")
    assert shown and all(eye.see(math.radians(100), np.array([15.0]))[0][0] - 3 < strip.bounds[0] for strip in shown)


def test_a_wall_of_several_slopes_is_lighter_where_it_faces_up():
    tones = items(pictured(PROFILED["shoulder"], bar(0.0)), 0, "tone")
    assert "#ffffff" in {tone.fill for tone in tones} and len({tone.fill for tone in tones}) == 2
    assert not items(pictured(CUPS["steep"], bar(0.0)), 0, "tone")


def test_views_stand_side_by_side_at_one_scale():
    cup = CUPS["wider"]
    for more in ({}, {"dimensions_in": "mm"}):
        drawing = pictured(cup, bar(0.0), **more)
        eyes = [Eye(cup, drawing, view) for view in VIEWS]
        assert len({round(eye.scale, 9) for eye in eyes}) == len({round(eye.top, 9) for eye in eyes}) == 1
        steps = np.diff([eye.middle for eye in eyes])
        assert steps.min() > 2 * 45 * eyes[0].scale and np.ptp(steps[1:]) < 1e-9
        page = shapely.box(0, 0, drawing.width_mm, drawing.height_mm)
        for view in VIEWS:
            assert page.covers(shapely.unary_union(areas(drawing, view, "outline")))


@pytest.mark.parametrize("kind", ALL)
def test_the_scale_bar_is_as_long_as_it_says(kind):
    for units, unit_mm in (("mm", 1.0), ("in", 25.4)):
        drawing = pictured(ALL[kind], bar(0.0), dimensions_in=units)
        bar_item, name = [item for item in drawing.items if item.role == "scale"]
        x0, _, x1, _ = bar_item.shapes[0].bounds()
        figure, unit = name.text.split()
        assert unit == units
        assert x1 - x0 == pytest.approx(float(figure) * unit_mm * Eye(ALL[kind], drawing, 0).scale)


def test_what_is_lower_on_the_list_lies_over_what_is_higher_unless_it_goes_under():
    cup = CUPS["plain"]
    hoop = Ring(name="hoop", vinyl="hoop", width_mm=6.0, downs=(Down(50.0),))
    under = Ring(name="under", vinyl="under", width_mm=6.0, downs=(Down(70.0),), under=("bar",))
    decoration = decorate(cup, Pattern(name="p", lines=(bar(0.0), hoop, under)))
    colours = {"v": "#111111", "hoop": "#222222", "under": "#333333"}
    drawing = side_views("R-31", decoration, lambda role: (role, colours[role]))
    eye = Eye(cup, drawing, 0)
    lowest = [eye.see(0.0, np.array([down]))[0][1] for down in (110.0 - 6.0, 53.0)]
    found = [strip.shapes[0].bounds()[3] for strip in items(drawing, 0, "strip")]
    assert found[2:] == pytest.approx(lowest, abs=CHORD_MM)  # after the ring under the bar, which parts it
    assert len(found) == 4


def test_light_falls_from_the_left_and_dark_vinyl_stays_dark():
    drawing = pictured(CUPS["plain"], bar(0.0))
    body = [item.fill for item in items(drawing, 0, "body")]
    light = [sum(int(fill[start : start + 2], 16) for start in (1, 3, 5)) for fill in body]
    assert light.index(max(light)) < len(light) / 2
    assert light[-1] == min(light)
    assert max(abs(a - b) for a, b in itertools.pairwise(light)) < 18  # no step to be seen


def test_a_panel_is_drawn_on_the_wall():
    for kind in ("narrower", "shoulder", "ledge"):
        cup = ALL[kind]
        decoration = decorate(cup, Pattern(name="p", lines=(bar(0.0),)))
        first, last, low, high = 0.3, 1.4, 20.0, 110.0
        panel = Panel(from_around=first, to_around=last, top_mm=low, bottom_mm=high, colour="#446688")
        panels = laid_panels([panel], decoration.site, {})
        drawing = side_views("R-31", decoration, lambda role: (role, "#b8923a"), panels=panels)
        drawn = shapely.unary_union(areas(drawing, 0, "panel")).buffer(0.01)
        eye = Eye(cup, drawing, 0)
        rng = np.random.default_rng(1)
        around, down = rng.uniform(-1.5, 1.5, 900), rng.uniform(5.0, 125.0, 900)
        on = (first < around) & (around < last) & (low < down) & (down < high)
        near = np.min(np.abs([around - first, around - last, (down - low) / 40, (down - high) / 40]), axis=0) < 0.02
        seen = eye.is_seen(around, down, 0.02)
        points = shapely.points(eye.see(around, down))
        assert (shapely.contains(drawn, points) == on)[seen & ~near].all() and (on & seen).sum() > 100


def test_views_are_named_with_the_seams_that_they_show():
    seams = {"side": Seam(name="side", rim=math.radians(90.2), base=math.radians(90.2))}
    drawing = pictured(a_cup(40.0, 35.0, 100.0, seams=seams), bar(0.0))
    texts = [item.text for item in drawing.walk() if isinstance(item, TextItem)]
    names = ["0\u00b0", "front seam", "90\u00b0", "side seam", "180\u00b0", "back seam", "270\u00b0"]
    assert texts == ["R-31", "cup cup, pattern p", "v", *names, "50 mm"]


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
    upper, _ = eye.see(math.pi / 2 + half, np.array([30.0, 80.0]))
    front = eye.see(math.pi / 2, np.array([80.0]))[0][1]
    assert area.bounds == pytest.approx((2 * eye.middle - upper[0], upper[1], upper[0], front), abs=CHORD_MM)
    assert area.bounds[::2] == pytest.approx((2 * eye.middle - upper[0], upper[0]), abs=1e-6)


@pytest.mark.parametrize("kind", ALL)
def test_files_are_small_and_equal_drawings_are_equal(kind):
    text = drawing_svg(pictured(ALL[kind], *(LINES if kind in PROFILED else [bar(0.0), bar_ring()])))
    assert len(text) < (260_000 if kind in PROFILED else 110_000)
    assert text == drawing_svg(pictured(ALL[kind], *(LINES if kind in PROFILED else [bar(0.0), bar_ring()])))


def bar_ring() -> Ring:
    return Ring(name="hoop", vinyl="v", width_mm=6.0, downs=(Down(40.0),))
