"""SVG read back by parsers that did not write it."""

from math import ceil, cos, hypot, pi, sin
from xml.etree import ElementTree

import numpy as np
import pytest
from cut_sheets import cut_svg
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LinearRing, Polygon, distance
from shapely import points as points_of
from svgpathtools import Arc, CubicBezier, Line, parse_path

from stripegen.drawing import Drawing, Gradient, GroupItem, PathItem, Stop, TextItem
from stripegen.outline import ArcEdge, CubicEdge, LineEdge, Outline, Ring, Stroke
from stripegen.writers.svg import FAR_MM, drawing_svg, path_data

SVG = "{http://www.w3.org/2000/svg}"
laws = settings(deadline=None, max_examples=150)


def bent_strip(radius, width, length):
    """A strip bent to a radius about (0, radius), `length` along its middle."""
    half = length / radius / 2
    corners = [
        (r * sin(t), radius - r + 2 * r * sin(t / 2) ** 2)
        for r, t in (
            (radius + width / 2, -half),
            (radius + width / 2, half),
            (radius - width / 2, half),
            (radius - width / 2, -half),
        )
    ]
    centre = (0.0, radius)
    edges = (
        ArcEdge(corners[1], centre, True),
        LineEdge(corners[2]),
        ArcEdge(corners[3], centre, False),
        LineEdge(corners[0]),
    )
    return Outline(Ring(corners[0], edges))


@st.composite
def outlines(draw):
    """Bent strips of any radius up to nearly straight, turned and moved anywhere."""
    radius = draw(st.one_of(st.floats(5, 500), st.floats(2, 7).map(lambda power: 10**power)))
    length = draw(st.floats(2, min(300, 6 * radius)))
    width = draw(st.floats(0.5, 9))
    shift = draw(st.tuples(st.floats(0, 2000), st.floats(0, 2000)))
    return bent_strip(radius, width, length).moved(draw(st.floats(-7, 7)), *shift)


def perimeter(outline):
    """Of a bent strip, from its two arcs and its width."""
    start, edges = outline.outer.start, outline.outer.edges
    sweep = edges[0].sweep_rad(start)
    outer, inner = edges[0].radius_mm(start), edges[2].radius_mm(edges[1].end)
    return sweep * (outer + inner) + 2 * (outer - inner)


def read_points(segments, each=48):
    return [(z.real, z.imag) for s in segments for z in (s.point(k / each) for k in range(each))]


@laws
@given(outlines(), st.booleans())
def test_a_piece_read_back_is_the_piece(outline, as_cubics):
    root = ElementTree.fromstring(cut_svg(305, 200, [("A.1", outline)], arcs_as_cubics=as_cubics))
    segments = parse_path(root.find(f"{SVG}path").get("d"))
    assert segments.isclosed()
    truth = LinearRing(outline.points(2e-5)[0])
    # rounding 0.7e-4, an arc as cubics or as a line 1e-4, the chords of the truth 0.2e-4
    assert distance(truth, points_of(read_points(segments, 12))).max() < 2e-4
    assert segments.length(error=1e-6) == pytest.approx(perimeter(outline), abs=3e-3)
    for corner in (outline.outer.start, *(edge.end for edge in outline.outer.edges)):
        assert min(abs(s.start - complex(*corner)) for s in segments) < 1e-4
    arcs = [s for s in segments if isinstance(s, Arc)]
    assert not (as_cubics and arcs)
    assert all(abs(arc.delta) < 90.1 and arc.radius.real <= FAR_MM for arc in arcs)


def test_what_each_edge_becomes():
    def kinds(*edges, start=(0, 0)):
        return [type(s) for s in parse_path(path_data([Stroke(start, edges)]))]

    assert kinds(LineEdge((5, 0))) == [Line]
    assert kinds(CubicEdge((1, 1), (2, 1), (3, 0))) == [CubicBezier]
    assert kinds(ArcEdge((0, 2), (0, 0), True), start=(2, 0)) == [Arc]
    assert kinds(ArcEdge((0, -2), (0, 0), True), start=(2, 0)) == [Arc] * 3
    # of a larger circle a quarter turn is more than one cubic curve follows to 0.005 mm
    assert kinds(ArcEdge((0, 100), (0, 0), True), start=(100, 0)) == [Arc] * 2
    # 0.1 mm of a circle of 100 mm radius leaves its chord by 1.25e-5 mm
    flat = ArcEdge((100 * cos(1e-3), 100 * sin(1e-3)), (0, 0), True)
    assert kinds(flat, start=(100, 0)) == [Line]
    far = ArcEdge((2e4 * cos(0.01), 2e4 * sin(0.01)), (0, 0), True)
    assert kinds(far, start=(2e4, 0)) == [CubicBezier]


def test_the_way_an_arc_bends():
    # from the right point of a circle, clockwise as drawn with y down: over the lower point
    (arc,) = parse_path(path_data([Stroke((2, 0), (ArcEdge((0, 2), (0, 0), True),))]))
    assert abs(arc.point(0.5) - complex(2 * cos(pi / 4), 2 * sin(pi / 4))) < 1e-6
    three = parse_path(path_data([Stroke((2, 0), (ArcEdge((0, 2), (0, 0), False),))]))
    assert abs(three.point(0.5) - complex(2 * cos(5 * pi / 4), 2 * sin(5 * pi / 4))) < 1e-3


@laws
@given(outlines())
def test_a_reader_in_single_precision_is_right_to_a_hundredth(outline):
    """Where each arc's middle lies for a reader that works out its centre in 32-bit floats."""
    f = np.float32
    for arc in parse_path(path_data(outline.rings)):
        if not isinstance(arc, Arc):
            continue
        ax, ay, bx, by = f(arc.start.real), f(arc.start.imag), f(arc.end.real), f(arc.end.imag)
        r = f(arc.radius.real)
        dx, dy = bx - ax, by - ay
        chord = np.sqrt(dx * dx + dy * dy)
        high = np.sqrt(max(f(0), r * r - chord * chord / f(4)))
        side = f(1) if arc.sweep else f(-1)
        nx, ny = -dy / chord * side, dx / chord * side
        cx, cy = (ax + bx) / f(2) + nx * high, (ay + by) / f(2) + ny * high
        x, y = cx - nx * r, cy - ny * r
        assert hypot(float(x) - arc.point(0.5).real, float(y) - arc.point(0.5).imag) < 0.01


@laws
@given(st.lists(outlines(), min_size=1, max_size=5))
def test_a_cut_file_holds_its_pieces_and_nothing_else(shapes):
    pieces = [(f"R-31.{n}.edge.1", shape) for n, shape in enumerate(shapes, 1)]
    text = cut_svg(304.8, 1000 / 3, pieces)
    assert text == cut_svg(304.8, 1000 / 3, pieces)
    root = ElementTree.fromstring(text)
    assert (root.get("width"), root.get("height")) == ("304.8mm", "333.3333mm")
    assert root.get("viewBox") == "0 0 304.8 333.3333"
    assert {e.tag for e in root} == {f"{SVG}path"}
    assert [e.get("id") for e in root] == [name for name, _ in pieces]
    for element in root:
        assert set(element.attrib) == {"id", "d", "fill", "stroke", "stroke-width"}
        assert (element.get("fill"), element.get("stroke-width")) == ("none", "0.1")
        assert element.get("stroke") == "#000000"
        assert element.get("d").count("M") == 1 and element.get("d").endswith("Z")
        assert set(element.get("d")) <= set("MLACZ -.0123456789")
        assert all(len(word.partition(".")[2]) <= 4 for word in element.get("d").split())


def test_holes_are_closed_subpaths_of_the_same_path():
    outer = Ring.through([(0, 0), (20, 0), (20, 10), (0, 10)])
    hole = Ring((7, 5), (ArcEdge((3, 5), (5, 5), False), ArcEdge((7, 5), (5, 5), False)))
    root = ElementTree.fromstring(cut_svg(30, 20, [("a", Outline(outer, [hole]))]))
    (element,) = root
    first, second = parse_path(element.get("d")).continuous_subpaths()
    assert first.isclosed() and second.isclosed()
    assert abs(first.area()) == pytest.approx(200)
    assert Polygon(read_points(second)).area == pytest.approx(4 * pi, abs=0.01)


def test_rounding_leaves_no_empty_edges_and_closes_every_ring():
    tiny = Ring.through([(0, 0), (10, 0), (10.00001, 0.00001), (10, 5), (0.00001, 5), (0, 5.00002)])
    assert path_data([tiny]) == "M0 0 L10 0 L10 5 L0 5 Z"
    # the start and the end differ in the fourth decimal, but not in the file
    start, end = (10.00005 - 1e-9, 0.0), (10.00005 + 1e-9, 0.0)
    ring = Ring(start, (LineEdge((0, 0)), CubicEdge((0, 5), (10, 5), end)))
    data = path_data([ring])
    assert data.startswith("M10 0 ") and data.endswith(" 10 0 Z")


def test_a_straight_piece_is_written_as_people_would():
    outline = Outline(Ring.through([(0, 0), (5, 0), (5, 134.43), (0, 134.43)])).moved(pi / 2, 212.5, 33)
    assert cut_svg(305, 214.3, [("R-31.1.edge.1", outline)]) == (
        '<?xml version="1.0" encoding="utf-8"?>\n'
        '<svg baseProfile="full" height="214.3mm" version="1.1" viewBox="0 0 305 214.3" width="305mm" '
        'xmlns="http://www.w3.org/2000/svg">\n'
        '<path d="M212.5 33 L212.5 38 L78.07 38 L78.07 33 Z" fill="none" id="R-31.1.edge.1" '
        'stroke="#000000" stroke-width="0.1" />\n'
        "</svg>\n"
    )


def test_text_is_escaped_and_freed_of_what_xml_forbids():
    raw = 'Bridge <&> "Cup" \x00\x08\x1b\x7f\x9f\ud800\uffff tab\tline\r\nend \u0153 \U0001f6a3'
    drawing = Drawing(50, 50, [TextItem(text=raw, x_mm=1.25, y_mm=-2, size_mm=3, turn_deg=-90, anchor="end")])
    root = ElementTree.fromstring(drawing_svg(drawing).encode("utf-8"))
    (element,) = root
    assert element.text == 'Bridge <&> "Cup"  tab line end \u0153 \U0001f6a3'
    assert element.get("transform") == "rotate(-90 1.25 -2)"
    assert (element.get("x"), element.get("y"), element.get("font-size")) == ("1.25", "-2", "3")
    assert element.get("text-anchor") == "end"


@given(st.text())
def test_any_text_gives_well_formed_xml(raw):
    drawing = Drawing(50, 50, [TextItem(text=raw, x_mm=1, y_mm=2, size_mm=3)])
    (element,) = ElementTree.fromstring(drawing_svg(drawing).encode("utf-8"))
    kept = [c for c in raw if c.isprintable() and c != " "]
    assert [c for c in element.text or "" if c.isprintable() and c != " "] == kept


def test_pictures_have_fills_gradients_dashes_and_clips():
    square = Ring.through([(0, 0), (10, 0), (10, 10), (0, 10)])
    fade = Gradient((0, 0), (10, 0), (Stop(0, "#ff0000"), Stop(1, "#0000ff", 0.5)))
    drawing = Drawing(
        50,
        50,
        [
            PathItem(shapes=[square], fill=fade, id="gradient-1"),
            PathItem(
                shapes=[square, square.moved(0, 2, 2)],
                fill=fade,
                stroke="#112233",
                dash_mm=(1, 0.5),
                opacity=0.3,
            ),
            GroupItem(
                items=[PathItem(shapes=[square], fill="#00ff00", role="CUT")], clip=square, opacity=0.25
            ),
        ],
    )
    root = ElementTree.fromstring(drawing_svg(drawing))
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    first, second = root.findall(f"{SVG}path")
    fill = first.get("fill")
    assert fill == second.get("fill") and fill.startswith("url(#")
    definition = root.find(f"{SVG}defs/{SVG}linearGradient[@id='{fill[5:-1]}']")
    assert definition.get("gradientUnits") == "userSpaceOnUse"
    assert [(s.get("offset"), s.get("stop-color"), s.get("stop-opacity")) for s in definition] == [
        ("0", "#ff0000", None),
        ("1", "#0000ff", "0.5"),
    ]
    assert (second.get("fill-rule"), second.get("stroke-dasharray")) == ("evenodd", "1 0.5")
    assert (first.get("opacity"), second.get("opacity")) == (None, "0.3")
    group = root.find(f"{SVG}g")
    assert group.get("opacity") == "0.25"
    clip = root.find(f"{SVG}defs/{SVG}clipPath[@id='{group.get('clip-path')[5:-1]}']")
    assert clip[0].get("d") == path_data([square])
    assert group[0].get("class") == "CUT"


def test_ten_thousand_pieces_are_written_in_seconds():
    strip = bent_strip(400, 5, 120)
    text = cut_svg(305, 5000, [(f"p.{n}", strip.moved(0, n % 300, n // 10)) for n in range(10_000)])
    assert text.count("<path ") == 10_000 and ceil(len(text) / 10_000) < 300
