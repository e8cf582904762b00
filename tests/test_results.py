"""Whole results, read back by parsers that share nothing with our writers, at true size."""

from __future__ import annotations

import csv
import io
import json
import math
from functools import partial
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
import svgpathtools
from manifests import placed_outline
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTCurve
from pypdf import PdfReader

from stripegen.costs import costs_of
from stripegen.jobfile import parse_job
from stripegen.nest import nest
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.results import CutOptions, sheets_result
from stripegen.sheets import lay_out

MM_PER_POINT = 25.4 / 72
SHAPE_MM = 0.01


@pytest.fixture(scope="module")
def results():
    from conftest import JOB

    production = produce(parse_job(JOB, "week.toml", lambda kind, name: None))
    made = {}
    for command, stem, lay in (("strips", "strips", lay_in_reading_order), ("nest", "sheet", partial(nest, effort="quick"))):
        sheets = lay_out(production, stem, lay, prove)
        costs = costs_of(sheets, ["R-31", "R-32"]) if command == "nest" else None
        result = sheets_result(command, production, sheets, None, costs=costs)
        assert result.missing is None
        made[command] = result.files, json.loads(result.files[result.manifest_name])
    return made


@pytest.mark.parametrize("command", ["strips", "nest"])
def test_svg_shapes_are_the_manifests_at_true_size(results, command):
    files, manifest = results[command]
    pieces = {piece["id"]: piece for piece in manifest["pieces"]}
    for sheet in manifest["sheets"]:
        text = files[f"{sheet['name']}.svg"].decode()
        root = ElementTree.fromstring(text)
        assert root.get("width") == f"{sheet['width']:g}mm"
        assert float(root.get("height").removesuffix("mm")) == pytest.approx(sheet["length"], abs=1e-4)
        assert [float(word) for word in root.get("viewBox").split()] == pytest.approx(
            [0, 0, sheet["width"], sheet["length"]], abs=1e-4
        )
        seen = []
        for element in root:
            assert element.tag == "{http://www.w3.org/2000/svg}path"
            assert element.get("transform") is None and element.get("style") is None
            assert element.get("fill") == "none" and element.get("stroke") == "#000000"
            path = svgpathtools.parse_path(element.get("d"))
            assert path.isclosed()
            points = np.array([segment.point(t) for segment in path for t in np.linspace(0, 1, 40)])
            drawn = shapely.LinearRing(np.stack([points.real, points.imag], axis=1))
            told = shapely.LinearRing(placed_outline(pieces[element.get("id")]))
            assert drawn.hausdorff_distance(told) < 0.05  # vertices far apart on a straight edge count little
            assert _apart(drawn, told) < SHAPE_MM
            seen.append(element.get("id"))
        assert seen == sheet["pieces"]


@pytest.mark.parametrize("command", ["strips", "nest"])
def test_pdf_pages_are_the_sheets_at_true_size(results, command):
    files, manifest = results[command]
    pieces = {piece["id"]: piece for piece in manifest["pieces"]}
    for sheet in manifest["sheets"]:
        data = files[f"{sheet['name']}.pdf"]
        page = PdfReader(io.BytesIO(data)).pages[0]
        width, height = float(page.mediabox.width), float(page.mediabox.height)
        assert width * MM_PER_POINT == pytest.approx(sheet["width"], abs=1e-3)
        assert height * MM_PER_POINT == pytest.approx(sheet["length"], abs=1e-3)
        curves = [item for item in next(iter(extract_pages(io.BytesIO(data)))) if isinstance(item, LTCurve)]
        assert len(curves) == len(sheet["pieces"])
        for curve, name in zip(curves, sheet["pieces"], strict=True):
            told = shapely.Polygon(placed_outline(pieces[name]))
            flat = [point for operator in curve.original_path for point in operator[1:]]
            ends = np.array([operator[-1] for operator in curve.original_path if len(operator) > 1])
            ends = np.stack([ends[:, 0] * MM_PER_POINT, sheet["length"] - ends[:, 1] * MM_PER_POINT], axis=1)
            assert flat
            assert shapely.distance(told.exterior, shapely.points(ends)).max() < SHAPE_MM


def _apart(first: shapely.LinearRing, second: shapely.LinearRing) -> float:
    """The greatest distance of either's vertices from the other."""
    return max(
        shapely.distance(second, shapely.points(shapely.get_coordinates(first))).max(),
        shapely.distance(first, shapely.points(shapely.get_coordinates(second))).max(),
    )


@pytest.mark.parametrize("command", ["strips", "nest"])
def test_the_manifest_keeps_its_form(results, command):
    _, manifest = results[command]
    assert list(manifest) == [
        "format", "version", "units", "command", "job", "selection", "files", "pieces", "sheets",
        *(["leftovers", "costs", "grouping"] if command == "nest" else []), "warnings",
    ]  # fmt: skip
    assert manifest["format"] == "stripegen-manifest" and manifest["version"] == 1 and manifest["units"] == "mm"
    assert manifest["command"] == command and manifest["job"] == "week.toml" and manifest["selection"] is None
    for piece in manifest["pieces"]:
        outline = np.array(piece["outline"])
        polygon = shapely.Polygon(outline, piece["holes"])
        assert polygon.is_valid
        assert outline.min(axis=0) == pytest.approx([0, 0])
        assert np.array_equal(outline, np.round(outline, 4))
        assert not np.array_equal(outline[0], outline[-1])
        assert polygon.area == pytest.approx(piece["area"], abs=0.01 * polygon.length)
        assert piece["cut_length"] >= piece["true_length"] - 1e-6
    for sheet in manifest["sheets"]:
        assert sheet["used_length"] <= sheet["length"] + 1e-6
        assert sheet["tightness"] == pytest.approx(sheet["bound"] / sheet["used_length"], abs=1e-5)


def test_bound_by_independent_arithmetic(results):
    _, manifest = results["nest"]
    pieces = {piece["id"]: piece for piece in manifest["pieces"]}
    for sheet in manifest["sheets"]:
        gap, margin = 1.5, 5.0
        grown = sum(
            shapely.Polygon(pieces[name]["outline"]).buffer(gap / 2, quad_segs=256).area for name in sheet["pieces"]
        )
        bound = grown / (sheet["width"] - 2 * margin + gap) - gap + 2 * margin
        assert sheet["bound"] == pytest.approx(bound, abs=0.01)
        area = sum(pieces[name]["area"] for name in sheet["pieces"])
        assert sheet["piece_area"] == pytest.approx(area, rel=1e-4)


def test_true_lengths_by_hand(results):
    """The edges run between the clearances; the coated wall is as long as the bare one."""
    _, manifest = results["nest"]
    wall = math.hypot(152, 43 - 198 / (2 * math.pi))
    edges = [piece for piece in manifest["pieces"] if piece["line"] == "edge"]
    assert len(edges) == 8
    for piece in edges:
        assert piece["true_length"] == pytest.approx(wall - 18, abs=1e-6)
        assert piece["start"]["down"] == pytest.approx(12) and piece["end"]["down"] == pytest.approx(wall - 6)
        assert piece["strain"] == 0.0


@pytest.mark.parametrize("command", ["strips", "nest"])
def test_the_table_has_a_row_a_piece(results, command):
    files, manifest = results[command]
    rows = list(csv.DictReader(io.StringIO(files[f"{command}.csv"].decode(), newline="")))
    assert [row["id"] for row in rows] == [piece["id"] for piece in manifest["pieces"]]
    for row, piece in zip(rows, manifest["pieces"], strict=True):
        assert row["cup"] == "crew" and row["sheet"] == piece["sheet"]
        assert float(row["true_length_mm"]) == pytest.approx(piece["true_length"], abs=5e-4)
        assert float(row["turn_deg"]) == pytest.approx(piece["placement"]["turn"], abs=5e-5)


def test_key_sheets_mark_every_piece_once(results):
    files, manifest = results["nest"]
    for sheet in manifest["sheets"]:
        root = ElementTree.fromstring(files[f"{sheet['name']}-key.svg"])
        marked = [element.get("id") for element in root if (element.get("id") or "").startswith("mark.")]
        assert sorted(marked) == sorted(f"mark.{name}" for name in sheet["pieces"])
        pages = PdfReader(io.BytesIO(files[f"{sheet['name']}-key.pdf"])).pages
        sizes = {(round(float(page.mediabox.width)), round(float(page.mediabox.height))) for page in pages}
        assert sizes == {(595, 842)}


@pytest.mark.parametrize("command", ["strips", "nest"])
def test_pieces_have_one_mark_where_they_are_cut_alike_of_one_vinyl(results, command):
    files, manifest = results[command]
    shapes = {}
    for piece in manifest["pieces"]:
        shapes.setdefault(piece["mark"], set()).add(json.dumps([piece["vinyl"], piece["outline"], piece["holes"]]))
    assert all(len(own) == 1 for own in shapes.values())
    assert len(set().union(*shapes.values())) == len(shapes)
    rows = [*csv.DictReader(io.StringIO(files[f"{command}.csv"].decode()))]
    assert [*rows[0]][-1] == "mark"
    assert [row["mark"] for row in rows] == [piece["mark"] for piece in manifest["pieces"]]


def test_pen_files_come_with_an_option_and_in_the_units_of_the_cut_files(results):
    from conftest import JOB

    assert not any("-pen." in name for name in results["nest"][0])
    production = produce(parse_job(JOB, "week.toml", lambda kind, name: None))
    sheets = lay_out(production, "sheet", lay_in_reading_order, prove)
    options = CutOptions(pen=True, paper="letter", numbers_per_inch=72)
    files = sheets_result("strips", production, sheets, None, options).files
    for sheet in sheets:
        assert {f"{sheet.name}-pen.svg", f"{sheet.name}-pen.pdf"} <= files.keys()
        pen, cut = (ElementTree.fromstring(files[f"{sheet.name}{end}.svg"]) for end in ("-pen", ""))
        assert [pen.get(side) for side in ("width", "height", "viewBox")] == [
            cut.get(side) for side in ("width", "height", "viewBox")
        ]
        page = PdfReader(io.BytesIO(files[f"{sheet.name}-key.pdf"])).pages[0]
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx((612, 792), abs=0.1)


@pytest.fixture(scope="module")
def mats():
    from test_sheets import MAT

    production = produce(parse_job(MAT, "week.toml", lambda kind, name: None))
    sheets = lay_out(production, "sheet", partial(nest, effort="quick"), prove)
    files = sheets_result("nest", production, sheets, None).files
    return files, json.loads(files["nest.json"])


def test_a_mat_is_cut_as_one_file_and_its_pieces_lie_in_their_offcuts_in_it(mats):
    files, manifest = mats
    pieces = {piece["id"]: piece for piece in manifest["pieces"]}
    many = [sheet for sheet in manifest["sheets"] if len(sheet["offcuts"]) > 1]
    assert many
    for sheet in many:
        root = ElementTree.fromstring(files[f"{sheet['name']}.svg"])
        assert (root.get("width"), root.get("height")) == ("300mm", "250mm")
        rooms = [
            shapely.box(o["x"], o["y"], o["x"] + o["width"], o["y"] + o["length"]) for o in sheet["offcuts"]
        ]
        for k, room in enumerate(rooms):
            assert shapely.box(0, 0, 300, 250).contains(room)
            assert all(room.distance(other) >= 2 - 1e-9 for other in rooms[:k])
        seen = []
        for element in root:
            path = svgpathtools.parse_path(element.get("d"))
            points = np.array([segment.point(t) for segment in path for t in np.linspace(0, 1, 40)])
            drawn = shapely.LinearRing(np.stack([points.real, points.imag], axis=1))
            assert sum(room.buffer(-5 + 1e-3).contains(drawn) for room in rooms) == 1
            assert _apart(drawn, shapely.LinearRing(placed_outline(pieces[element.get("id")]))) < SHAPE_MM
            seen.append(element.get("id"))
        assert seen == sheet["pieces"]


def test_the_key_of_a_mat_draws_each_offcut(mats):
    files, manifest = mats
    (sheet,) = [sheet for sheet in manifest["sheets"] if len(sheet["offcuts"]) > 1]
    root = ElementTree.fromstring(files[f"{sheet['name']}-key.svg"])
    drawn = {}
    for element in root.iter("{http://www.w3.org/2000/svg}path"):
        drawn.setdefault(element.get("class"), []).append(svgpathtools.parse_path(element.get("d")).bbox())  # x, x, y, y
    ((left, right, top, bottom),) = drawn["sheet"]
    assert (right - left, bottom - top) == pytest.approx((300, 250))
    boxes = [(x0 - left, x1 - left, y0 - top, y1 - top) for x0, x1, y0, y1 in drawn["offcut"]]
    told = [(o["x"], o["x"] + o["width"], o["y"], o["y"] + o["length"]) for o in sheet["offcuts"]]
    assert boxes == [pytest.approx(box) for box in told]


def test_a_cut_file_of_an_offcut_by_itself_is_as_large_as_the_offcut(mats):
    files, manifest = mats
    (sheet,) = [sheet for sheet in manifest["sheets"] if sheet["offcuts"] and sheet["width"] == 305]
    root = ElementTree.fromstring(files[f"{sheet['name']}.svg"])
    assert (root.get("width"), root.get("height")) == ("305mm", "30mm")
    assert [warning["code"] for warning in manifest["warnings"] if sheet["name"] in warning["message"]] == ["off-mat"]
    (offcut,) = sheet["offcuts"]
    assert (offcut["x"], offcut["y"], offcut["width"], offcut["length"]) == (0, 0, 305, 30)
