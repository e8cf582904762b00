"""Cut files read back from every format, at true size, and what is done to them for the cutter's sake."""

from __future__ import annotations

import io
import json
import math
import re
from functools import lru_cache
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
import shapely
import svgpathtools
from manifests import placed_outline
from pdfminer.high_level import extract_pages
from pdfminer.layout import LTCurve
from pypdf import PdfReader

from stripegen.jobfile import parse_job
from stripegen.nest import lay_to_check
from stripegen.outline import CubicEdge, LineEdge
from stripegen.presets import find_preset, shipped_folder
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.results import CutOptions, sheets_result
from stripegen.sheets import lay_out
from stripegen.writers.dxf import arcs_of

MM_PER_POINT = 25.4 / 72
SHAPE_MM = 0.01
SVG = "{http://www.w3.org/2000/svg}"
EVERYTHING = CutOptions(one_pdf=True, dxf=True, test_cut=True)

WEEK = """
[vinyl.tin]
colour = "#a8adb3"
width = 305
length = 610
corner_radius = 0.5
{vinyl}
[cutter]
{cutter}
[[order]]
id = "T-1"
cup = "tall-tapered"
pattern = "sash"
quantity = 2
vinyl = "tin"
[[order]]
id = "T-2"
cup = "steep-tapered"
pattern = "lattice"
vinyl = {{ accent = "tin", first = "tin", second = "navy-blue" }}
[[order]]
id = "T-3"
cup = "bellied-mug"
pattern = "spiral"
vinyl = "navy-blue"
[[order]]
id = "T-4"
cup = "shouldered"
pattern = "ringed-seams"
vinyl = "tin"
"""


@lru_cache
def week(vinyl: str = "", cutter: str = "", options: CutOptions = EVERYTHING):
    text = WEEK.format(vinyl=vinyl, cutter=cutter)
    production = produce(parse_job(text, "week.toml", find_preset))
    result = sheets_result("strips", production, lay_out(production, "strips", lay_in_reading_order, prove), None, options)
    return result.files, json.loads(result.files["strips.json"])


def outlines(manifest) -> dict[str, shapely.Polygon]:
    return {piece["id"]: shapely.Polygon(placed_outline(piece)) for piece in manifest["pieces"]}


def svg_shapes(data: bytes) -> dict[str, shapely.LineString]:
    """Every path of an SVG by its id, in mm, from the physical size and the viewBox."""
    root = ElementTree.fromstring(data)
    size = [float(re.fullmatch(r"([\d.]+)mm", root.get(side)).group(1)) for side in ("width", "height")]
    _, _, wide, high = map(float, root.get("viewBox").split())
    found = {}
    for element in root.iter(f"{SVG}path"):
        path = svgpathtools.parse_path(element.get("d"))
        points = np.array([segment.point(t) for segment in path for t in np.linspace(0, 1, steps(segment, size[0] / wide))])
        found[element.get("id")] = shapely.LineString(np.stack([points.real * size[0] / wide, points.imag * size[1] / high], axis=1))
    return found


def steps(segment, mm_a_number: float) -> int:
    return 2 if isinstance(segment, svgpathtools.Line) else max(8, math.ceil(2 * mm_a_number * segment.length(error=1e-3)))


def dxf_shape(polyline, length_mm: float) -> shapely.LineString:
    """A polyline in the sheet's frame, its arcs as arcs."""
    points = []
    for entity in polyline.virtual_entities():
        if entity.dxftype() == "LINE":
            own = [(entity.dxf.start.x, entity.dxf.start.y), (entity.dxf.end.x, entity.dxf.end.y)]
        else:
            own = [(point.x, point.y) for point in entity.flattening(0.001)]
        if points and math.dist(points[-1], own[0]) > math.dist(points[-1], own[-1]):
            own.reverse()
        points += own
    return shapely.LineString(np.array(points) * (1, -1) + (0, length_mm))


def apart(line: shapely.LineString, polygon: shapely.Polygon) -> float:
    """The greatest distance of either's vertices from the other."""
    ring = polygon.exterior
    return max(
        shapely.distance(ring, shapely.points(shapely.get_coordinates(line))).max(),
        shapely.distance(line, shapely.points(shapely.get_coordinates(ring))).max(),
    )


def test_every_svg_is_plain_and_its_shapes_are_the_manifests():
    files, manifest = week()
    wanted = outlines(manifest)
    seen = set()
    for sheet in manifest["sheets"]:
        data = files[f"{sheet['name']}.svg"]
        root = ElementTree.fromstring(data)
        assert {element.tag for element in root} == {f"{SVG}path"}
        for element in root:
            assert set(element.attrib) == {"d", "fill", "id", "stroke", "stroke-width"}
            assert (element.get("fill"), element.get("stroke"), element.get("stroke-width")) == ("none", "#000000", "0.1")
            assert re.fullmatch(r"[MLACZ\d .eE+-]+", element.get("d"))
        shapes = svg_shapes(data)
        assert [name for name in shapes if name in wanted] == sheet["pieces"]
        for name in sheet["pieces"]:
            assert apart(shapes[name], wanted[name]) < SHAPE_MM
            seen.add(name)
    assert seen == set(wanted)


def test_no_two_nodes_of_a_cut_file_are_closer_than_the_blade_likes():
    files, manifest = week()
    for sheet in manifest["sheets"]:
        for text in re.findall(r' d="([^"]+)"', files[f"{sheet['name']}.svg"].decode()):
            path = svgpathtools.parse_path(text)
            assert min(abs(segment.end - segment.start) for segment in path) >= 0.0199


def test_dxf_read_back_has_millimetres_a_layer_and_the_manifests_shapes():
    files, manifest = week()
    wanted = outlines(manifest)
    for sheet in manifest["sheets"]:
        drawing = ezdxf.read(io.StringIO(files[f"{sheet['name']}.dxf"].decode()))
        assert drawing.units == ezdxf.units.MM and drawing.audit().errors == []
        entities = list(drawing.modelspace())
        assert {entity.dxftype() for entity in entities} == {"LWPOLYLINE"}
        assert {entity.dxf.layer for entity in entities} == {sheet["vinyl"]}
        assert all(entity.closed for entity in entities)
        for name, entity in zip(sheet["pieces"], entities, strict=False):
            assert apart(dxf_shape(entity, sheet["length"]), wanted[name]) < SHAPE_MM


def test_the_same_job_gives_the_same_dxf_and_pdf_bytes():
    files, _ = week()
    week.cache_clear()
    again, _ = week()
    assert files == again


def test_one_pdf_holds_every_sheet_as_a_page_at_true_size():
    files, manifest = week()
    pages = PdfReader(io.BytesIO(files["strips-all.pdf"])).pages
    assert len(pages) == len(manifest["sheets"])
    for page, sheet in zip(pages, manifest["sheets"], strict=True):
        assert float(page.mediabox.width) * MM_PER_POINT == pytest.approx(sheet["width"], abs=1e-3)
        assert float(page.mediabox.height) * MM_PER_POINT == pytest.approx(sheet["length"], abs=1e-3)


@pytest.mark.parametrize("per_inch", [1.0, 72.0, 96.0, 1016.0])
def test_numbers_per_inch_changes_the_numbers_and_not_the_size(per_inch):
    files, manifest = week(options=CutOptions(numbers_per_inch=per_inch))
    wanted = outlines(manifest)
    for sheet in manifest["sheets"]:
        data = files[f"{sheet['name']}.svg"]
        root = ElementTree.fromstring(data)
        assert float(root.get("viewBox").split()[2]) == pytest.approx(sheet["width"] / 25.4 * per_inch, abs=1e-3)
        shapes = svg_shapes(data)
        for name in sheet["pieces"]:
            assert apart(shapes[name], wanted[name]) < SHAPE_MM


def test_all_vinyls_in_one_file_are_groups_of_paths():
    files, manifest = week(options=CutOptions(one_file=True))
    wanted = outlines(manifest)
    assert not any(f"{sheet['name']}.svg" in files for sheet in manifest["sheets"])
    names, seen = sorted(name for name in files if re.fullmatch(r"strips-all-\d+\.svg", name)), set()
    assert names
    for name in names:
        root = ElementTree.fromstring(files[name])
        assert {element.tag for element in root} == {f"{SVG}g"}
        vinyls = [element.get("id") for element in root]
        assert len(set(vinyls)) == len(vinyls) and {key for element in root for key in element.attrib} == {"id"}
        shapes = svg_shapes(files[name])
        for group in root:
            for path in group:
                piece = path.get("id")
                seen.add(piece)
                assert apart(shapes[piece], wanted[piece]) < SHAPE_MM
                assert group.get("id") == next(each["vinyl"] for each in manifest["pieces"] if each["id"] == piece)
    assert seen == set(wanted)


def test_test_pieces_are_drawn_where_the_manifest_says():
    files, manifest = week()
    vinyls = set()
    for sheet in manifest["sheets"]:
        shapes = svg_shapes(files[f"{sheet['name']}.svg"])
        for name, place in sheet["to_measure"].items():
            vinyls.add(sheet["vinyl"])
            box = place["x"], place["y"], place["x"] + place["across"], place["y"] + place["along"]
            assert shapes[name].bounds == pytest.approx(box, abs=1e-3)
            assert max(place["across"], place["along"]) >= 40
    assert vinyls == {"tin", "navy-blue"}


def test_weeding_lines_follow_the_pieces_and_keep_off_them():
    files, manifest = week("weed = true")
    wanted = outlines(manifest)
    for sheet in manifest["sheets"]:
        shapes = svg_shapes(files[f"{sheet['name']}.svg"])
        weed = [name for name in shapes if name.startswith("weed.")]
        assert bool(weed) == (sheet["vinyl"] == "tin")
        assert [*shapes][-len(weed) or len(shapes) :] == weed
        tests = [shapely.Polygon(shapes[name]) for name in sheet["to_measure"]]
        solids = shapely.union_all([*(wanted[name] for name in sheet["pieces"]), *tests])
        for name in weed:
            assert shapes[name].distance(solids) >= 1.5 - 0.01
            room = shapely.box(5, 5, sheet["width"] - 5, sheet["length"] - 5)
            assert room.buffer(1e-3).covers(shapes[name])


def test_a_vinyl_cut_from_its_back_is_mirrored_across_the_sheet():
    files, manifest = week("cut_from_back = true")
    wanted = outlines(manifest)
    for sheet in manifest["sheets"]:
        for name, shape in svg_shapes(files[f"{sheet['name']}.svg"]).items():
            if name in wanted and sheet["vinyl"] == "tin":
                seen = shapely.transform(wanted[name], lambda points, wide=sheet["width"]: points * (-1, 1) + (wide, 0))
                assert apart(shape, seen) < SHAPE_MM


def test_a_cutter_that_is_off_gets_what_makes_it_true():
    files, manifest = week(cutter='scale = { across = { drawn = 200, read = 198 }, along = { drawn = 200, read = 200.5 } }')
    wanted = outlines(manifest)
    for sheet in manifest["sheets"]:
        for name, shape in svg_shapes(files[f"{sheet['name']}.svg"]).items():
            if name in wanted:
                cut = shapely.transform(shape, lambda points: points * (198 / 200, 200.5 / 200))
                assert apart(cut, wanted[name]) < SHAPE_MM


def test_cut_past_closes_each_piece_and_goes_on():
    files, manifest = week(cutter="cut_past = 1.5")
    wanted = outlines(manifest)
    for sheet in manifest["sheets"]:
        for name, shape in svg_shapes(files[f"{sheet['name']}.svg"]).items():
            if name in wanted:
                assert apart(shape, wanted[name]) < SHAPE_MM
                assert shape.length == pytest.approx(wanted[name].exterior.length + 1.5, abs=0.05)


def test_the_way_of_the_knife_is_told():
    files, manifest = week()
    for sheet in manifest["sheets"]:
        shapes = svg_shapes(files[f"{sheet['name']}.svg"])
        at, up, down = (0.0, 0.0), 0.0, 0.0
        for shape in shapes.values():
            up += math.dist(at, shape.coords[0])
            down += shape.length
            at = shape.coords[-1]
        assert sheet["knife"]["up"] == pytest.approx(up, abs=0.5)
        assert sheet["knife"]["down"] == pytest.approx(down, rel=1e-3)


@pytest.mark.parametrize(("first", "cup"), [*enumerate(["tall-tapered", "shouldered", "bellied-mug", "steep-tapered"])])
def test_every_preset_pattern_reads_back_from_every_format(first, cup):
    patterns = sorted(path.stem for path in (shipped_folder() / "patterns").glob("*.toml"))[first::4]
    orders = []
    for number, pattern in enumerate(patterns):
        order = f'[[order]]\nid = "O-{number}"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "matt-black"\n'
        try:
            produce(parse_job(order, "week.toml", find_preset))
        except ValueError:
            continue
        orders.append(order)
    production = produce(parse_job("".join(orders), "week.toml", find_preset))
    result = sheets_result("strips", production, lay_out(production, "strips", lay_to_check, prove), None, CutOptions(dxf=True))
    manifest = json.loads(result.files["strips.json"])
    wanted = outlines(manifest)
    for sheet in manifest["sheets"]:
        shapes = svg_shapes(result.files[f"{sheet['name']}.svg"])
        page = next(iter(extract_pages(io.BytesIO(result.files[f"{sheet['name']}.pdf"]))))
        curves = [item for item in page if isinstance(item, LTCurve)]
        polylines = list(ezdxf.read(io.StringIO(result.files[f"{sheet['name']}.dxf"].decode())).modelspace())
        assert len(curves) == len(polylines) == len(shapes) == len(sheet["pieces"])
        for name, curve, polyline in zip(sheet["pieces"], curves, polylines, strict=True):
            assert apart(shapes[name], wanted[name]) < SHAPE_MM
            ends = np.array([operator[-1] for operator in curve.original_path if len(operator) > 1]) * MM_PER_POINT
            ends[:, 1] = sheet["length"] - ends[:, 1]
            assert shapely.distance(wanted[name].exterior, shapely.points(ends)).max() < SHAPE_MM
            assert apart(dxf_shape(polyline, sheet["length"]), wanted[name]) < SHAPE_MM


def test_a_curve_as_arcs_keeps_within_what_is_promised():
    curve = CubicEdge((10.0, 30.0), (40.0, -20.0), (60.0, 10.0))
    arcs = arcs_of((0.0, 0.0), curve)
    points, at = [], (0.0, 0.0)
    for edge in arcs:
        points += [at, *edge._points(at, 0.001)]
        at = edge.end
    line = shapely.LineString(points)
    true = shapely.LineString([curve.point_at((0.0, 0.0), t) for t in np.linspace(0, 1, 4001)])
    assert shapely.hausdorff_distance(line, true) < 0.0075
    assert len(arcs) < 40
    assert arcs_of((0.0, 0.0), CubicEdge((10.0, 0.0), (20.0, 0.0), (30.0, 0.0))) == [LineEdge((30.0, 0.0))]
