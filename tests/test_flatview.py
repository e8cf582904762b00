"""The flat picture against the cone's own sector, and that every figure on it is right and can be read."""

from __future__ import annotations

import cmath
import dataclasses
import itertools
import math
import re

import numpy as np
import pytest
import shapely
from profiled import LINES, PROFILED, area_on, turned
from strategies import a_cup

from stripegen.decoration import Decoration, decorate
from stripegen.drawing import Drawing, PathItem, TextItem
from stripegen.flatsheet import Sheet, fitted_sheet, start_of
from stripegen.flatview import flat_view
from stripegen.lettering import text_box
from stripegen.spacing import spacing_of
from stripegen.spec import Chevron, Cup, Diagonal, Down, Keepout, Line, Pattern, Repeat, Ring, Vertical
from stripegen.surface import Frustum

COLOURS = {"main": ("brass", "#b8923a"), "trim": ("ink", "#20242c")}
CUPS = {
    "narrower": a_cup(43.0, 31.0, 152.0),
    "wider": a_cup(31.0, 45.0, 120.0),
    "plain": a_cup(40.0, 40.0, 110.0),
    "steep": a_cup(70.0, 30.0, 75.0),
}


def share(percent: float) -> Down:
    return Down(percent / 100, is_share=True)


EDGE = Vertical(name="edge", vinyl="main", width_mm=5.0, around=("front", "back"))
PINS = Vertical(name="pin", vinyl="trim", width_mm=3.0, repeat=Repeat(count=24))
HAIRS = Vertical(name="hair", vinyl="trim", width_mm=0.8, repeat=Repeat(count=110))
HOOPS = Ring(name="hoop", vinyl="main", width_mm=4.0, downs=(share(10), share(90)))
WAVE = Chevron(name="wave", vinyl="trim", width_mm=3.0, stripes=2, top=share(35), bottom=share(60), points=6)
SASH = Diagonal(
    name="sash",
    vinyl="trim",
    width_mm=3.0,
    stripes=2,
    start_around="front",
    start_down=share(20),
    end_around="back",
    end_down=share(80),
    under=("edge",),
    mirror=True,
)
COIL = Diagonal(
    name="coil",
    vinyl="trim",
    width_mm=3.0,
    start_around=0.0,
    start_down=share(0),
    end_around=6 * math.pi,
    end_down=share(100),
    path="even-drop",
)
PATTERNS = {
    "seams": (EDGE, SASH),
    "pins": (PINS,),
    "hairs": (HAIRS,),
    "hoops": (HOOPS, WAVE),
    "coil": (COIL,),
}


def decorated(cup: Cup, *lines: Line) -> Decoration:
    return decorate(cup, Pattern(name="p", lines=lines))


def pictured(decoration: Decoration) -> Drawing:
    return flat_view("R-31", decoration, COLOURS.__getitem__)


def of_role(drawing: Drawing, role: str) -> list:
    return [item for item in drawing.walk() if item.role == role]


def areas_of(drawing: Drawing, role: str) -> list[shapely.Polygon]:
    return [
        shapely.Polygon(item.shapes[0].points(0.01), [ring.points(0.01) for ring in item.shapes[1:]])
        for item in of_role(drawing, role)
    ]


def figures_of(drawing: Drawing, level: str) -> list[TextItem]:
    return of_role(drawing, f"figure-{level}")


CASES = [(cup, pattern) for cup in CUPS for pattern in PATTERNS if pattern != "hairs" or cup == "narrower"]


@pytest.fixture(scope="module", params=[*CASES, *((name, "all") for name in PROFILED)], ids="-".join)
def case(request):
    cup, pattern = request.param
    decoration = decorated((CUPS | PROFILED)[cup], *(PATTERNS | {"all": LINES})[pattern])
    return decoration, pictured(decoration)


def scale_of(drawing: Drawing) -> float:
    """Page mm for 1 mm, as the scale bar says."""
    (bar,) = [item for item in of_role(drawing, "scale") if isinstance(item, PathItem)]
    (name,) = [item for item in of_role(drawing, "scale") if isinstance(item, TextItem)]
    x0, _, x1, _ = bar.shapes[0].bounds()
    return (x1 - x0) / float(name.text.removesuffix(" mm"))


def test_the_wall_and_its_strips_are_drawn_at_true_size(case):
    decoration, drawing = case
    square = scale_of(drawing) ** 2
    space = turned(decoration.cup)
    ends = (0.0, *space.bends, space.length)
    bands = areas_of(drawing, "wall")
    strips = areas_of(drawing, "strip")
    assert len(bands) == len(ends) - 1
    assert all(any(band.buffer(0.05).covers(strip) for band in bands) for strip in strips)
    laid = [strip.shape for line in decoration.lines for strip in line.strips]
    for band, low, high in zip(bands, ends, ends[1:], strict=False):
        downs = low + (np.arange(500) + 0.5) * (high - low) / 500
        round_mm2 = float(np.sum(math.tau * space.radius(downs))) * (high - low) / 500
        assert band.area / square == pytest.approx(round_mm2, rel=2e-3)
        here = sum(strip.area for strip in strips if band.buffer(0.05).covers(strip))
        there = sum(area_on(space, shape, low, high) for shape in laid)
        assert here / square == pytest.approx(there, rel=2e-3)


@pytest.mark.parametrize("name", ["narrower", "wider", "plain", "steep"])
def test_strips_are_as_large_as_the_pieces_that_are_cut(name):
    decoration = decorated(CUPS[name], *PATTERNS["seams"], *PATTERNS["hoops"])
    drawing = pictured(decoration)
    pieces = sum(piece.area_mm2 for pieces in decoration.pieces for piece in pieces)
    drawn = sum(area.area for area in areas_of(drawing, "strip"))
    assert drawn / scale_of(drawing) ** 2 == pytest.approx(pieces, rel=2e-3)


def test_every_text_is_on_the_page_and_none_over_another(case):
    _, drawing = case
    page = shapely.box(0, 0, drawing.width_mm, drawing.height_mm)
    texts = [item for item in drawing.walk() if isinstance(item, TextItem)]
    boxes = [text_box(text) for text in texts]
    for number, box in enumerate(boxes):
        assert page.covers(box), texts[number].text
        for other in shapely.STRtree(boxes[:number]).query(box, predicate="intersects") if number else ():
            raise AssertionError(f"{texts[number].text!r} lies over {texts[other].text!r}")


def test_every_gap_is_named_with_its_own_figure(case):
    decoration, drawing = case
    (note,) = of_role(drawing, "note")
    told = re.search(r"(one|\d+) gaps? (is|are) too narrow", note.text)
    nameless = 0 if told is None else 1 if told[1] == "one" else int(told[1])
    counted = 0
    for level in spacing_of(decoration).levels:
        clear = [f"{gap.clear_mm:.1f}" for gap in level.gaps if gap.clear_mm >= 0.05]
        named: dict[str, int] = {}
        for figure in figures_of(drawing, level.name):
            count, _, value = figure.text.rpartition("\u00d7 ")
            named[value] = named.get(value, 0) + int(count or 1)
        for value in set(clear):
            # a gap that the sheet's edge parts may be named on both sides
            assert clear.count(value) <= named.get(value, 0) + nameless
            assert named.get(value, 0) <= clear.count(value) + 1
        assert set(named) <= set(clear)
        counted += len(clear)
    assert nameless <= 0.1 * counted


def test_figures_in_a_gap_stand_clear_of_the_strips():
    drawing = pictured(decorated(CUPS["narrower"], PINS))
    strips = shapely.unary_union(areas_of(drawing, "strip"))
    for level in ("rim", "middle", "base"):
        assert len(figures_of(drawing, level)) == 25  # one is seen at both ends of the sheet
        assert not any(strips.intersects(text_box(text)) for text in figures_of(drawing, level))


def test_figures_stand_at_their_gaps():
    """The figure of the gap from the front to the back seam stands on the meridian half way between them."""
    decoration = decorated(CUPS["narrower"], EDGE)
    sheet = fitted_sheet(decoration, 238.0, 165.0)
    drawing = pictured(decoration)
    (wall,) = areas_of(drawing, "wall")
    middle = (wall.bounds[0] + wall.bounds[2]) / 2
    assert math.degrees(sheet.start_rad) == pytest.approx(-90)
    for level in ("rim", "middle", "base"):
        left, centre, right = sorted(figures_of(drawing, level), key=lambda text: text.x_mm)
        assert centre.x_mm == pytest.approx(middle, abs=0.01)
        assert left.x_mm - middle == pytest.approx(middle - right.x_mm, abs=0.01)
        assert left.text == right.text


def sector_point(wall: Frustum, sheet: Sheet, around: float, down: float) -> complex:
    """From the middle of the rim, by the sector of the cone: the apex is radius / slope over the rim."""
    turn = around - sheet.start_rad - math.pi
    if wall.slope == 0:
        return complex(wall.rim_radius_mm * turn, down)
    apex = wall.rim_radius_mm / wall.slope  # below 0, and so under the rim, where the cup narrows
    return -1j * apex + cmath.rect(apex + down, math.pi / 2 - wall.slope * turn)


@pytest.mark.parametrize("kind", CUPS)
def test_points_lie_where_the_sector_has_them(kind):
    decoration = decorated(CUPS[kind], EDGE)
    sheet = fitted_sheet(decoration, 238.0, 165.0)
    wall = decoration.site.wall
    for around in np.linspace(sheet.start_rad, sheet.end_rad, 7).tolist():
        for down in (0.0, 20.0, wall.wall_mm):
            x, y = sheet.place(around, down)
            expected = sheet.scale * sector_point(wall, sheet, around, down)
            assert complex(x, y) == pytest.approx(expected, abs=1e-6)
            # a step down the page of the meridian, and one to the right, keep their lengths
            step = complex(*sheet.beside(around, down, 3.0, 4.0)) - complex(x, y)
            further = sheet.scale * (
                sector_point(wall, sheet, around, down + 1e-4) - sector_point(wall, sheet, around, down)
            )
            assert abs(step) == pytest.approx(5.0)
            assert cmath.phase(step / further) == pytest.approx(-math.atan2(3.0, 4.0), abs=1e-4)


@pytest.mark.parametrize("name", PROFILED)
def test_on_any_wall_girths_are_as_long_as_they_are_and_stand_as_far_down_as_they_do(name):
    decoration = decorated(PROFILED[name], LINES[0])
    sheet = fitted_sheet(decoration, 238.0, 165.0, 250.0)
    space = turned(decoration.cup)
    for down in (3.0, 20.0, 74.0, 120.0, space.length - 1.0):
        points = np.array([sheet.place(around, down) for around in np.linspace(0.3, 1.5, 201) + sheet.start_rad])
        along = float(np.sum(np.hypot(*np.diff(points, axis=0).T)))
        assert along / sheet.scale == pytest.approx(1.2 * float(space.radius(down)), rel=1e-4)
        middle = np.array([sheet.place(sheet.middle_rad, there) for there in (down, down + 0.5)])
        assert (middle[1] - middle[0]) / sheet.scale == pytest.approx([0.0, 0.5], abs=1e-9)
        x, y = sheet.place(sheet.middle_rad + 1.0, down)
        ahead = np.array(sheet.place(sheet.middle_rad + 1.001, down)) - (x, y)
        right = np.array(sheet.beside(sheet.middle_rad + 1.0, down, 1.0, 0.0)) - (x, y)
        below = np.array(sheet.beside(sheet.middle_rad + 1.0, down, 0.0, 1.0)) - (x, y)
        assert ahead @ right / np.hypot(*ahead) == pytest.approx(1.0, abs=1e-5)
        assert ahead @ below / np.hypot(*ahead) == pytest.approx(0.0, abs=2e-3)


@pytest.mark.parametrize("name", PROFILED)
def test_a_picture_says_what_it_is_of(name):
    drawing = pictured(decorated(PROFILED[name], LINES[0]))
    (note,) = [item.text for item in of_role(drawing, "wall-note")]
    names = [item.text for item in of_role(drawing, "band")]
    if name == "bulge":
        assert "not to measure" in note and not names
        return
    assert note.startswith("Each section is laid flat by itself")
    ends = [0.0, *turned(PROFILED[name]).bends, turned(PROFILED[name]).length]
    assert names == [
        f"section {number} of {len(ends) - 1}, {low:.1f} to {high:.1f} mm down"
        for number, (low, high) in enumerate(itertools.pairwise(ends), 1)
    ]
    assert not of_role(pictured(decorated(CUPS["plain"], EDGE)), "wall-note")


def test_a_keepout_and_a_clearance_over_a_bend_are_parted_there():
    keepout = Keepout(around=math.radians(250), width_mm=20.0, from_mm=40.0, to_mm=110.0)
    cup = dataclasses.replace(PROFILED["bent-out"], keepouts=(keepout,), rim_clearance_mm=60.0)
    drawing = pictured(decorated(cup, LINES[0]))
    bands, space = areas_of(drawing, "wall"), turned(cup)
    square = scale_of(drawing) ** 2
    (bend,) = space.bends
    rims, base = areas_of(drawing, "clearance")[:2], areas_of(drawing, "clearance")[2]
    for band, rim, (low, high) in zip(bands, rims, ((0.0, bend), (bend, 60.0)), strict=True):
        assert band.buffer(0.05).covers(rim)
        middle = float(space.radius((low + high) / 2))
        assert rim.area / square == pytest.approx(math.tau * middle * (high - low), rel=1e-3)
    assert bands[1].buffer(0.05).covers(base)
    upper, lower = areas_of(drawing, "keepout")
    assert bands[0].buffer(0.05).covers(upper) and bands[1].buffer(0.05).covers(lower)
    assert (upper.area + lower.area) / square == pytest.approx(20.0 * 70.0, rel=0.02)
    assert [item.text for item in of_role(drawing, "name")].count("keepout") >= 1


def test_around_runs_to_the_right_and_down_downwards():
    drawing = pictured(
        decorated(
            CUPS["narrower"],
            *(
                Vertical(name=name, vinyl="main", width_mm=width, around=(math.radians(around),))
                for name, width, around in (("a", 2.0, 40.0), ("b", 4.0, 120.0), ("c", 6.0, 300.0))
            ),
        )
    )
    areas = [area.area for area in sorted(areas_of(drawing, "strip"), key=lambda area: area.centroid.x)]
    assert areas == sorted(areas)
    (title,) = of_role(drawing, "title")
    assert title.text == "R-31"


def test_a_line_goes_under_what_covers_it():
    drawing = pictured(decorated(CUPS["plain"], EDGE, SASH))
    fills = [item.fill for item in of_role(drawing, "strip")]
    assert fills == ["#20242c"] * 4 + ["#b8923a"] * 2


def test_what_winds_past_the_edge_is_shown_where_it_lies():
    decoration = decorated(CUPS["plain"], COIL)
    drawing = pictured(decoration)
    scale = scale_of(drawing)
    (wall,) = areas_of(drawing, "wall")
    x0, y0, _, _ = wall.bounds
    strips = shapely.unary_union(areas_of(drawing, "strip"))
    drop = (110 - 18) / 3
    for winding in (0, 1, 2):
        for turn in (0.25, 0.5, 0.75):
            spot = shapely.Point(
                x0 + scale * 2 * math.pi * 40 * turn, y0 + scale * (12 + drop * (winding + turn))
            )
            assert strips.contains(spot)
            assert not strips.contains(shapely.Point(spot.x, spot.y + scale * drop / 2))


@pytest.mark.parametrize(
    ("places", "start"),
    [
        ((60.0, 200.0), 0.0),
        ((0.0, 180.0), -90.0),
        ((0.0, 100.0, 200.0, 300.0), -30.0),
        ((1.0, 357.0, 180.0), -90.0),
        ((-3.0, 90.0), -135.0),
    ],
)
def test_the_edge_parts_no_vertical(places, start):
    line = Vertical(name="bar", vinyl="main", width_mm=4.0, around=tuple(map(math.radians, places)))
    assert math.degrees(start_of(decorated(CUPS["plain"], line))) == pytest.approx(start, abs=1.5)


@pytest.mark.parametrize("count", [1, 7, 24, 90])
def test_the_edge_finds_a_gap_among_many(count):
    decoration = decorated(
        CUPS["plain"], Vertical(name="bar", vinyl="main", width_mm=1.0, repeat=Repeat(count=count))
    )
    start = start_of(decoration)
    assert -2 * math.pi < start < 0
    for shape in decoration.lines[0].region:
        low, high = shape.around_range
        assert (start - low) % (2 * math.pi) > high - low


def test_clearances_keepouts_and_seams_are_shown_and_named():
    keepout = Keepout(around=math.radians(270), width_mm=30.0, from_mm=30.0, to_mm=110.0)
    cup = a_cup(43.0, 31.0, 152.0, keepouts=(keepout,))
    drawing = pictured(decorated(cup, EDGE, PINS))
    scale = scale_of(drawing)
    (area,) = areas_of(drawing, "keepout")
    assert area.area / scale**2 == pytest.approx(30.0 * 80.0, rel=0.01)
    names = {item.text: text_box(item) for item in of_role(drawing, "name")}
    assert area.covers(names["keepout"])
    rim, base = areas_of(drawing, "clearance")
    assert rim.covers(names["rim clearance 12"]) and base.covers(names["base clearance 6"])
    assert rim.area / scale**2 == pytest.approx(math.pi * (43 + 43 - 12 * 12 / 152) * 12, rel=1e-3)
    over = [item.text for item in of_role(drawing, "rim")]
    assert "front seam" in over and "back seam" in over and "90\u00b0" in over
    assert len(of_role(drawing, "seam")) == 2
    assert not any(strip.intersects(area.buffer(-0.1)) for strip in areas_of(drawing, "strip"))


def test_a_dark_cup_has_light_figures():
    cup = a_cup(43.0, 31.0, 152.0, colour="#101418")
    drawing = pictured(decorated(cup, EDGE))
    assert {text.fill for text in figures_of(drawing, "middle")} == {"#ffffff"}
    pale = pictured(decorated(a_cup(43.0, 31.0, 152.0, colour="#ffffff"), EDGE))
    assert {text.fill for text in figures_of(pale, "middle")} == {"#1c1c1c"}


def test_vinyls_are_named_with_chips():
    drawing = pictured(decorated(CUPS["plain"], EDGE, SASH))
    assert [item.text for item in of_role(drawing, "vinyl")] == ["brass", "ink"]
    assert [item.fill for item in of_role(drawing, "chip")] == ["#b8923a", "#20242c"]
