"""The page to turn the cup, in a real browser: it turns, names, lights, filters, and asks for nothing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from browser import DRAWN, Watched, browser, until

from stripegen.jobfile import parse_job
from stripegen.presets import find_preset
from stripegen.previewing import preview_job
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.sheets import lay_out
from stripegen.shownsheets import shown_sheets

JOB = """
title = "Pier cups <week 3>"
[[order]]
id = "P-1"
cup = "steep-tapered"
pattern = "lattice"
quantity = 2
vinyl = "matt-black"
[[order]]
id = "P-2"
cup = "shouldered"
pattern = "ringed-seams"
vinyl = "navy-blue"
[[order]]
id = "P-3"
cup = "bellied-mug"
pattern = "seam-stripes"
quantity = 3
vinyl = "deep-red"
"""


@pytest.fixture(scope="module")
def production():
    return produce(parse_job(JOB, "pier.toml", find_preset))


@pytest.fixture(scope="module")
def drawn(production):
    sheets = shown_sheets(lay_out(production, "strips", lay_in_reading_order, prove))
    return preview_job(production, None, sheets=sheets, laid="In reading order.")


@pytest.fixture(scope="module")
def address(drawn, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "preview.html"
    path.write_bytes(drawn.result.files["preview.html"])
    return path.as_uri()


@pytest.fixture(scope="module")
def running():
    with browser() as found:
        yield found


@pytest.fixture
def watched(running, address):
    found = Watched(running, address)
    yield found
    assert found.errors == []
    assert set(found.requests) == {address}
    found.page.close()


def seen(point: np.ndarray, turn_deg: float, tilt_deg: float) -> np.ndarray:
    """A point of space (right, up, near) turned to the left and then tipped towards the eye."""
    turn, tilt = math.radians(turn_deg), math.radians(tilt_deg)
    about_axis = np.array([[math.cos(turn), 0, -math.sin(turn)], [0, 1, 0], [math.sin(turn), 0, math.cos(turn)]])
    about_level = np.array([[1, 0, 0], [0, math.cos(tilt), -math.sin(tilt)], [0, math.sin(tilt), math.cos(tilt)]])
    return about_level @ about_axis @ point


def on_canvas(wall, around: float, down: float, turn_deg: float, tilt_deg: float, size: tuple[float, float]):
    """Where a place of the wall is drawn, and how squarely it faces the eye, from the wall alone."""
    def point(around: float, down: float) -> np.ndarray:
        radius, drop = float(wall.radius_mm(down)), float(wall.drop_mm(down))
        return np.array([radius * math.sin(around), wall.height_mm / 2 - drop, radius * math.cos(around)])

    here = seen(point(around, down), turn_deg, tilt_deg)
    round_it = seen(point(around + 1e-5, down), turn_deg, tilt_deg) - here
    along = here - seen(point(around, down + 1e-4), turn_deg, tilt_deg)
    normal = np.cross(round_it, along)
    tilt = math.radians(tilt_deg)
    broad = wall.greatest_radius_mm
    high = wall.height_mm * math.cos(tilt) + 2 * broad * abs(math.sin(tilt))
    fit = 0.94 * min(size[0] / (2 * broad), size[1] / high)
    return size[0] / 2 + fit * here[0], size[1] / 2 - fit * here[1], normal[2] / np.linalg.norm(normal)


@pytest.mark.parametrize(("look", "turn", "tilt"), [(0, 0, 14), (0, 217, -20), (1, 90, 5), (2, 301, 30)])
def test_what_lies_under_a_point_of_the_cup_is_what_a_projection_puts_there(watched, production, look, turn, tilt):
    order = ("P-1", "P-2", "P-3")[look]
    wall = production.decorations[order].site.wall
    size = watched.page.evaluate(
        f"(state.look = {look}, showLook(), state.turn = {turn}, state.tilt = {tilt}, redraw(),"
        " [byId('view').clientWidth, byId('view').clientHeight])"
    )
    tried = 0
    for around in np.radians(np.arange(turn - 60, turn + 61, 20)):
        for share in (0.15, 0.5, 0.85):
            down = share * wall.wall_mm
            x, y, faces = on_canvas(wall, around, down, turn, tilt, size)
            if faces < 0.4:
                continue
            tried += 1
            degrees, found = watched.page.evaluate(f"cup.at({x}, {y})")
            # a pixel of the canvas is some 0.3 mm of the cup, more where the wall leans away
            aside = math.radians(math.remainder(degrees - math.degrees(around), 360)) * float(wall.radius_mm(down))
            assert abs(aside) < 1.2 and abs(found - down) < 1.5
    assert tried >= 8


def test_pointing_at_a_strip_on_the_cup_names_it_and_lights_it_everywhere(watched, production):
    page = watched.page
    wall = production.decorations["P-1"].site.wall
    strips = page.evaluate("look().strips.map((strip) => [strip.name, strip.middle])")
    box = page.locator("#view").bounding_box()
    turn, tilt = page.evaluate("[state.turn, state.tilt]")
    named = 0
    for name, (degrees, down) in strips:
        x, y, faces = on_canvas(wall, math.radians(degrees), down, turn, tilt, (box["width"], box["height"]))
        if faces < 0.5:
            continue
        page.mouse.move(box["x"] + x, box["y"] + y)
        text = page.locator("#lit").inner_text()
        lit = page.evaluate("look().strips[state.lit.strip].name")
        assert text.startswith(f"{lit} (") and " mm x " in text
        # the middle of a lattice's strip may lie under another strip that crosses it there
        named += lit == name
        assert page.evaluate(
            "[...byId('flat').querySelectorAll('g[id^=strip-]:not(.faded)')].map((group) => group.id)"
        ) == page.evaluate("[look().strips[state.lit.strip].id]")
        assert page.evaluate("[...byId('list').tBodies[0].querySelectorAll('tr.lit')].map((row) => row.own.strip.name)") == [lit]
        on_sheet = "[...byId('sheet-view').querySelectorAll('path:not(.faded)')].filter((path) => path.own)"
        pieces = page.evaluate(f"{on_sheet}.map((path) => [path.own.order, path.own.strip])")
        assert pieces == [["P-1", page.evaluate("state.lit.strip")]] * 2
    assert named >= 2
    page.mouse.move(5, 5)
    assert page.evaluate("state.lit") is None
    assert page.locator(".faded").count() == 0


def test_the_cup_is_turned_by_dragging_by_keys_and_by_the_slider(watched):
    page = watched.page
    box = page.locator("#view").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    before = page.evaluate("byId('view').toDataURL()")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - box["width"] / 4, y, steps=4)
    page.mouse.up()
    assert page.evaluate("state.turn") == pytest.approx(45, abs=0.5)
    assert page.evaluate("byId('view').toDataURL()") != before
    page.locator("#view").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    assert page.evaluate("state.turn") == pytest.approx(50, abs=0.5)
    assert page.evaluate("state.tilt") == 19
    page.keyboard.press("Home")
    assert page.evaluate("[state.turn, state.tilt]") == [0, 14]
    page.locator("#turn").fill("180")
    assert page.evaluate("state.turn") == 180
    assert page.locator("#turn-is").inner_text() == "180\N{DEGREE SIGN}"


def test_a_turned_cup_is_seen_from_its_other_side(watched):
    """A colour on one side of the skin is seen there and nowhere else: no mirror image, no half turn."""
    page = watched.page
    page.evaluate("""() => {
        showLook.kept = look().strips; look().strips.length = 0;
        look().panels = [{ rows: [[0, 20, 70], [cup.long, 20, 70]], colour: '#00ff00' }];
        state.tilt = 0; cup.show(look());
    }""")

    def greens(turn: int) -> list[float]:
        return page.evaluate("""(turn) => {
            state.turn = turn; cup.redraw();
            const { gl } = cup, { width, height } = cup.canvas, row = new Uint8Array(4 * width);
            gl.readPixels(0, height >> 1, width, 1, gl.RGBA, gl.UNSIGNED_BYTE, row);
            const found = [];
            for (let x = 0; x < width; x++) if (row[4 * x + 1] > 2 * row[4 * x] + 40) found.push((x + 0.5) / width);
            return found;
        }""", turn)

    front, middle, back = greens(0), greens(45), greens(225)
    assert front and min(front) > 0.55
    assert abs((min(middle) + max(middle)) / 2 - 0.5) < 0.01
    assert back == []


def test_the_list_filters_by_order_line_and_vinyl(watched):
    page = watched.page

    def shown() -> list[list[str]]:
        return page.evaluate("[...byId('list').tBodies[0].rows].map((row) => [row.own.order.id, row.own.strip.line, row.own.strip.vinyl])")

    everything = shown()
    assert {row[0] for row in everything} == {"P-1", "P-2", "P-3"}
    page.select_option("#by-order", "P-2")
    assert shown() == [row for row in everything if row[0] == "P-2"]
    line = shown()[0][1]
    page.select_option("#by-line", line)
    assert shown() == [row for row in everything if row[:2] == ["P-2", line]]
    page.select_option("#by-order", "")
    page.select_option("#by-line", "")
    page.select_option("#by-vinyl", "deep-red")
    assert shown() == [row for row in everything if row[2] == "deep-red"]
    assert page.locator("#count").inner_text() == f"{len(shown())} of {len(everything)} strips"


def test_lengths_are_shown_in_inches_at_a_switch(watched):
    page = watched.page
    widths = page.evaluate("rows.map((row) => row.strip.width)")
    page.check("input[value=in]")
    cells = page.evaluate("[...byId('list').tBodies[0].rows].map((row) => row.cells[4].textContent)")
    for width, cell in zip(widths, cells, strict=True):
        number, unit = cell.rsplit(" ", 1)
        value = sum((int(a) / int(b or 1)) for a, _, b in (part.partition("/") for part in number.split()))
        assert unit == "in" and abs(value - width / 25.4) <= 1 / 32 + 1e-9
    assert " in" in page.locator("#tables").inner_text() and " mm" not in page.locator("#tables").inner_text()
    page.check("input[value=mm]")
    assert " mm" in page.locator("#tables").inner_text()


def test_by_keyboard_alone_a_strip_is_found_and_brought_to_the_front(watched):
    page = watched.page
    page.locator("#list tbody tr").nth(3).focus()
    page.keyboard.press("ArrowDown")
    row = page.evaluate("document.activeElement.own")
    assert page.evaluate("[state.look, state.lit.strip]") == [row["look"], row["index"]]
    page.keyboard.press("Enter")
    middle = row["strip"]["middle"][0] % 360
    assert page.evaluate("state.turn") == pytest.approx(middle, abs=1e-6)
    assert page.locator("#lit").inner_text().startswith(row["strip"]["name"])


def test_a_row_of_another_order_shows_its_cup(watched):
    page = watched.page
    page.locator("#list tbody tr", has_text="deep-red").first.hover()
    assert page.evaluate("look().cup") == "bellied-mug"
    assert page.locator("#look").input_value() == "2"
    assert page.locator("#flat svg").count() == 1


def test_names_from_a_job_are_text(watched):
    assert watched.page.locator("h1").inner_text() == "Pier cups <week 3>"
    assert watched.page.title() == "Pier cups <week 3>"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_shows_it_without_scrolling_aside(running, address, scheme):
    watched = Watched(running, address, viewport={"width": 390, "height": 844}, color_scheme=scheme)
    assert watched.page.evaluate("document.documentElement.scrollWidth") <= 390
    ground, ink = watched.page.evaluate("(({ backgroundColor, color }) => [backgroundColor, color])(getComputedStyle(document.body))")
    brightness = [sum(map(int, text[4:-1].split(","))) for text in (ground, ink)]
    assert (brightness[0] > brightness[1]) == (scheme == "light")
    assert watched.errors == []
    watched.page.close()


def test_it_prints_without_its_controls_and_with_the_cup(watched):
    watched.page.emulate_media(media="print")
    for hidden in (".controls", ".turning", "#keys"):
        assert not watched.page.locator(hidden).first.is_visible()
    for kept in ("#view", "#flat svg", "#list"):
        assert watched.page.locator(kept).is_visible()


def test_what_was_chosen_is_still_chosen_when_the_page_is_loaded_anew(watched):
    page = watched.page
    page.select_option("#look", "1")
    page.check("input[value=in]")
    page.locator("#turn").fill("77")
    page.reload()
    until(page, DRAWN)
    assert page.evaluate("[state.look, state.units, state.turn]") == [1, "in", 77]
    assert page.locator("input[value=in]").is_checked()
