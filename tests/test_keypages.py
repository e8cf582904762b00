"""Keys as drawings and as pages: sizes, every mark whole on a page, whose pieces they are, fillings of orders."""

from __future__ import annotations

import io
import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
import svgpathtools
from hypothesis import given, settings
from hypothesis import strategies as st
from keys import orders_of, sheet_of
from pypdf import PdfReader

from stripegen.drawing import GroupItem, PathItem
from stripegen.hatches import fillings_of
from stripegen.keypages import MARGIN_MM, MOST_TILES, key_drawing, key_pages, laid_on_pages
from stripegen.keysheet import key_of
from stripegen.marks import marks_of
from stripegen.paper import PAPERS
from stripegen.writers.pdf import drawings_pdf
from stripegen.writers.svg import drawing_svg

WEEK = orders_of(("small-tumbler", "seam-stripes", 2), ("tall-tapered", "sash", 1), ("small-tumbler", "double-seams", 2))
BIG = orders_of(("tall-tapered", "seam-stripes", 200), ("small-tumbler", "seam-stripes", 4))
THIN = orders_of(("tall-tapered", "double-seams", 40), ("small-tumbler", "lattice", 4))


def key(production, turns=(90.0,), **more):
    sheet = sheet_of(production.pieces, turns, **more)
    orders = [order.id for order in production.job.orders]
    return key_of(sheet, marks_of(production.pieces), fillings_of(orders, [orders]))


def marks_on(drawing):
    """Each mark's box and what of its page shows it."""
    found = {}
    for item in drawing.items:
        inner = item.items if isinstance(item, GroupItem) else [item]
        clip = shapely.Polygon(item.clip.points(0.01)) if isinstance(item, GroupItem) else None
        for each in inner:
            if each.role == "mark":
                lines = shapely.MultiLineString([stroke.points(0.01) for stroke in each.shapes])
                found[each.id.removeprefix("mark.")] = clip is None or clip.contains(lines)
    return found


@pytest.mark.parametrize("production", [WEEK, BIG, THIN])
def test_the_drawing_has_each_mark_once_at_true_size(production):
    shown = key(production)
    drawing = key_drawing(shown)
    pieces = {piece.id: piece for piece in production.pieces}
    marks = [item for item in drawing.items if item.role == "mark"]
    assert sorted(item.id for item in marks) == sorted(f"mark.{name}" for name in pieces)
    drawn = {item.id: item for item in drawing.items if isinstance(item, PathItem) and item.id in pieces}
    assert drawn.keys() == pieces.keys()
    for name, item in drawn.items():
        area = abs(item.shapes[0].signed_area_mm2())
        assert area == pytest.approx(pieces[name].flat.cut_outline.area(), rel=1e-9)


@pytest.mark.parametrize("production", [WEEK, BIG, THIN])
def test_nothing_runs_off_the_drawing_or_a_page(production):
    """A long name of the vinyl and a narrow sheet make the title longest."""
    shown = key(production)
    vinyl = replace(shown.sheet.vinyl, name="a-vinyl-of-a-very-long-name-" * 2 + "end", cut_from_back=True)
    long = replace(shown, sheet=replace(shown.sheet, name=f"sheet-{vinyl.name}-12", vinyl=vinyl))
    for drawing in (key_drawing(long), *key_pages(long, "a4"), *key_pages(long, "letter")):
        for item in drawing.items:
            if item.role == "page":
                continue
            shapes = [item.clip] if isinstance(item, GroupItem) else item.shapes
            for shape in shapes:
                x0, y0, x1, y1 = shape.bounds()
                assert x0 > MARGIN_MM - 1 and y0 > MARGIN_MM - 1
                assert x1 < drawing.width_mm - MARGIN_MM + 1 and y1 < drawing.height_mm - MARGIN_MM + 1


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("production", [WEEK, BIG, THIN])
def test_pages_are_of_the_paper_and_show_each_mark_whole(production, paper):
    pages = key_pages(key(production), paper)
    reader = PdfReader(io.BytesIO(drawings_pdf(pages)))
    assert len(reader.pages) == len(pages)
    for page in reader.pages:
        size = float(page.mediabox.width) * 25.4 / 72, float(page.mediabox.height) * 25.4 / 72
        assert size == pytest.approx((PAPERS[paper].width_mm, PAPERS[paper].height_mm), abs=0.01)
    seen = [marks_on(page) for page in pages]
    for piece in production.pieces:
        assert any(page.get(piece.id) for page in seen), piece.id


def test_marks_on_pages_are_large_enough_to_read():
    for production in (WEEK, BIG, THIN):
        for page in key_pages(key(production)):
            for item in (inner for group in page.items if isinstance(group, GroupItem) for inner in group.items):
                if item.role == "mark":
                    lines = shapely.MultiLineString([stroke.points(0.01) for stroke in item.shapes])
                    # letters are as high as told, so their hull is no smaller across in any direction
                    hull = shapely.minimum_rotated_rectangle(lines)
                    corners = shapely.get_coordinates(hull)
                    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
                    assert max(sides) > 1.8 - 1e-6


def test_a_small_sheet_is_on_true_size_tiles_and_a_large_one_is_scaled_or_shown_whole_first():
    small, laid = laid_on_pages(key(WEEK), "a4")
    assert len(laid.tiles) <= MOST_TILES and laid.scale == 1.0
    assert not any(label.points_at is None and label.height_mm < 1.8 for label in small.labels)
    large = key(BIG)
    _, laid = laid_on_pages(large, "a4")
    assert len(laid.tiles) > MOST_TILES
    assert len(key_pages(large)) < len(laid.tiles)
    pages = key_pages(key(THIN))
    tiles = [page for page in pages if any(item.role == "tile" for item in page.items)]
    assert len(tiles) > MOST_TILES
    assert not marks_on(pages[0]) and pages[0] is not tiles[0]
    assert {item.id for item in pages[0].items} >= {piece.id for piece in THIN.pieces}


def test_tiles_are_true_to_size_and_a_bar_proves_it():
    pages = key_pages(key(WEEK))
    for page in pages:
        tiles = [item for item in page.items if item.role == "tile"]
        bars = [item for item in page.items if item.role == "scale"]
        assert bool(tiles) == bool(bars)
        for bar in bars:
            x0, _, x1, _ = bar.shapes[0].bounds()
            assert x1 - x0 == pytest.approx(50.0)
    areas = {piece.id: piece.flat.cut_outline.area() for piece in WEEK.pieces}
    groups = [item for page in pages for item in page.items if isinstance(item, GroupItem)]
    shown = [item for group in groups for item in group.items if item.id in areas]
    assert {item.id for item in shown} == set(areas)
    for item in shown:
        assert abs(item.shapes[0].signed_area_mm2()) == pytest.approx(areas[item.id], rel=1e-9)


def expanded(owner):
    """The pieces that a line of the list tells of, read by its own rules."""

    def numbers(text):
        return [n for part in text.split(", ") for first, _, last in [part.partition("-")] for n in range(int(first), int(last or first) + 1)]

    order, _, rest = owner.partition(" ")
    for part in rest.split("; "):
        names, cups = re.fullmatch(r"(.*) cups? ([\d, -]+)", part).groups()
        for line, told in re.findall(r"([^\s,]*[^\s,\d-][^\s,]*)\.([\d, -]*\d)", names):
            yield from (f"{order}.{cup}.{line}.{number}" for cup in numbers(cups) for number in numbers(told))


@pytest.mark.parametrize("production", [WEEK, BIG, THIN])
def test_the_list_tells_of_every_piece_once_under_its_mark(production):
    marks = marks_of(production.pieces)
    told = [(each, name) for each in key(production).marked for owner in each.owners for name in expanded(owner)]
    assert sorted(name for _, name in told) == sorted(marks)
    pieces = {piece.id: piece for piece in production.pieces}
    for each, name in told:
        assert each.mark == marks[name] and each.vinyl == pieces[name].vinyl
        assert (each.width_mm, each.length_mm) == pytest.approx((pieces[name].flat.width_mm, pieces[name].flat.cut_mm))
    for each in key(production).marked:
        assert each.count == sum(mark == each.mark for mark in marks.values())
        assert len(each.owners) <= len(production.job.orders)


@given(st.lists(st.sampled_from([0.0, 30.0, 90.0, 200.0]), min_size=1, max_size=3))
@settings(max_examples=3)
def test_orders_side_by_side_are_hatched_differently_and_pieces_of_one_alike(turns):
    shown = key(WEEK, tuple(turns))
    assert len({filling.hatch for filling in shown.fillings.values()}) == len(shown.fillings) == 3
    assert len({filling.tint for filling in shown.fillings.values()}) == 3


def test_the_svg_is_read_as_large_as_it_is_drawn():
    drawing = key_drawing(key(WEEK))
    text = drawing_svg(drawing)
    assert f'width="{drawing.width_mm:.4f}'.rstrip("0").rstrip(".") in text
    assert "<text" not in text
    first = WEEK.pieces[0]
    (outline,) = (each for each in ElementTree.fromstring(text) if each.get("id") == first.id)
    area = abs(svgpathtools.parse_path(outline.get("d")).area())
    assert math.isclose(area, first.flat.cut_outline.area(), rel_tol=1e-3)
