"""PDF read back by pypdf and pdfminer, PNG by Pillow."""

import io
import os
import signal
import subprocess
import sys
import time
from math import cos, pi, sin

import pytest
from cut_sheets import cut_pdf
from hypothesis import given, settings
from hypothesis import strategies as st
from pdfminer.high_level import extract_pages, extract_text
from pdfminer.layout import LTCurve
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import ContentStream
from shapely import LinearRing, Polygon, distance
from shapely import points as points_of

from stripegen.drawing import Drawing, Gradient, GroupItem, PathItem, Stop, TextItem
from stripegen.errors import StripegenError
from stripegen.outline import ArcEdge, LineEdge, Outline, Ring
from stripegen.writers import pdf
from stripegen.writers.pdf import CairoMissing, drawing_pdf, drawing_png, drawings_pdf

MM = 25.4 / 72  # of a point
laws = settings(deadline=None, max_examples=40)


def bent_strip(radius, width, length):
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
    edges = (
        ArcEdge(corners[1], (0.0, radius), True),
        LineEdge(corners[2]),
        ArcEdge(corners[3], (0.0, radius), False),
        LineEdge(corners[0]),
    )
    return Outline(Ring(corners[0], edges))


def circle(x, y, radius):
    """A ring of two arcs."""
    right, left = (x + radius, y), (x - radius, y)
    return Ring(right, (ArcEdge(left, (x, y), True), ArcEdge(right, (x, y), True)))


def read_paths(data):
    """Each path of a one-page PDF: (points in mm with y down, fine along its curves; its curve object)."""
    (page,) = extract_pages(io.BytesIO(data))
    height = page.bbox[3]
    found = []
    for item in page:
        assert isinstance(item, LTCurve)
        points, at = [], None
        for op, *ends in item.original_path:
            if op == "c":
                a, b, c, d = at, *ends
                for k in range(1, 25):
                    t, u = k / 24, 1 - k / 24
                    weights = (u**3, 3 * u * u * t, 3 * u * t * t, t**3)
                    points.append(tuple(sum(w * p[i] for w, p in zip(weights, (a, b, c, d))) for i in (0, 1)))
            elif op != "h":
                points.append(ends[0])
            at = points[-1]
        found.append(([(x * MM, (height - y) * MM) for x, y in points], item))
    return found


@pytest.mark.parametrize(("width", "height"), [(305, 200), (304.8, 1000 / 3), (20, 4999.5)])
def test_the_page_is_the_sheet_at_true_size(width, height):
    strip = bent_strip(100, 5, 10).moved(0, 10, 3)
    (page,) = PdfReader(io.BytesIO(cut_pdf(width, height, [("a", strip)]))).pages
    # cairo writes 1e-6 point, this project 1e-4 mm
    assert float(page.mediabox.width) * MM == pytest.approx(width, abs=1e-4)
    assert float(page.mediabox.height) * MM == pytest.approx(height, abs=1e-4)
    assert page.get("/UserUnit", 1) == 1 and page.rotation == 0
    assert page.mediabox == page.cropbox


def test_305_mm_are_so_many_points():
    (page,) = PdfReader(io.BytesIO(cut_pdf(305, 200, [("a", bent_strip(100, 5, 10).moved(0, 9, 9))]))).pages
    assert float(page.mediabox.width) == pytest.approx(864.567, abs=1e-3)


@laws
@given(
    st.one_of(st.floats(5, 500), st.floats(2, 7).map(lambda power: 10**power)),
    st.floats(0.5, 9),
    st.floats(0.02, 1),
    st.floats(-7, 7),
)
def test_a_piece_read_back_is_the_piece(radius, width, share, turn):
    outline = bent_strip(radius, width, share * min(300, 6 * radius)).moved(turn, 400, 450)
    ((points, _),) = read_paths(cut_pdf(1000, 900, [("a", outline)]))
    truth = LinearRing(outline.points(5e-5)[0])
    # 1/512 point each way, and what the SVG writer and this test's chords leave
    assert distance(truth, points_of(points)).max() < 1.3e-3
    length = outline.polygon(1e-3).length
    assert LinearRing(points).length == pytest.approx(length, rel=1e-3, abs=0.02)
    assert Polygon(points).area == pytest.approx(outline.area(), rel=1e-3, abs=1.5e-3 * length)


def test_a_cut_file_holds_its_pieces_and_nothing_else():
    pieces = [(f"R-31.{n}.edge.1", bent_strip(50 * n, 5, 60).moved(n, 80 * n, 100)) for n in range(1, 5)]
    data = cut_pdf(500, 200, pieces)
    paths = read_paths(data)
    assert len(paths) == 4
    for (points, item), (_, outline) in zip(paths, pieces):
        assert Polygon(points).hausdorff_distance(outline.polygon(1e-3)) < 0.3  # in the same order
        assert item.stroke and not item.fill
        assert set(item.stroking_color) == {0}
        assert item.linewidth * MM == pytest.approx(0.1, abs=1e-5)
        assert [op for op, *_ in item.original_path].count("m") == 1
        assert item.original_path[-1] == ("h",)
    reader = PdfReader(io.BytesIO(data))
    operators = {op for _, op in ContentStream(reader.pages[0].get_contents(), reader).operations}
    # set the pen, draw lines and curves, stroke: no clip, fill, text or picture
    assert operators <= set(b"q Q cm RG gs w J j d M m l c h S".split())


def test_holes_stay():
    outer = Ring.through([(10, 10), (40, 10), (40, 30), (10, 30)])
    outline = Outline(outer, [circle(20, 20, 4)])
    areas = sorted(Polygon(points).area for points, _ in read_paths(cut_pdf(50, 40, [("a", outline)])))
    assert areas == pytest.approx([16 * pi, 600], abs=0.1)


PICTURE = """
import sys
from stripegen.drawing import Drawing, Gradient, GroupItem, PathItem, Stop, TextItem
from stripegen.outline import Ring
from stripegen.writers.pdf import drawing_pdf, drawing_png
ring = Ring.through([(5, 5), (40, 5), (40, 20)])
fade = Gradient((5, 5), (40, 5), (Stop(0, "#aa0000"), Stop(1, "#0000aa", 0.5)))
drawing = Drawing(60, 40, [
    PathItem(shapes=[ring], fill=fade, stroke="#000000"),
    GroupItem(items=[TextItem(text="Crew 7", x_mm=10, y_mm=30, size_mm=5)], opacity=0.5),
])
sys.stdout.buffer.write(drawing_pdf(drawing) + drawing_png(drawing))
"""


def run(code, **environment):
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        check=True,
        env=os.environ | environment,
        timeout=60,
    ).stdout


def test_the_same_drawing_gives_the_same_bytes_at_any_time_and_place():
    first = run(PICTURE, TZ="Pacific/Auckland", PYTHONHASHSEED="1")
    time.sleep(1.1)
    second = run(PICTURE, TZ="America/Lima", PYTHONHASHSEED="2", LC_ALL="C", SOURCE_DATE_EPOCH="0")
    assert first == second
    assert first.startswith(b"%PDF-") and b"\x89PNG" in first
    metadata = PdfReader(io.BytesIO(first[: first.index(b"\x89PNG")])).metadata
    assert metadata.creation_date is None and metadata.modification_date is None


def test_text_can_be_read_and_searched():
    drawing = Drawing(100, 40, [TextItem(text="R-31.1 <&>", x_mm=50, y_mm=20, size_mm=5, anchor="middle")])
    data = drawing_pdf(drawing)
    assert extract_text(io.BytesIO(data)).strip() == "R-31.1 <&>"
    (page,) = extract_pages(io.BytesIO(data))
    (box,) = page
    assert (box.x0 + box.x1) / 2 * MM == pytest.approx(50, abs=1)


def test_a_picture_shows_its_colours_clips_and_gradients():
    square = Ring.through([(0, 0), (40, 0), (40, 40), (0, 40)])
    fade = Gradient((60, 0), (100, 0), (Stop(0, "#ff0000"), Stop(1, "#0000ff")))
    drawing = Drawing(
        100,
        40,
        [
            GroupItem(
                items=[PathItem(shapes=[square], fill="#00ff00")], clip=circle(20, 20, 10), opacity=0.5
            ),
            PathItem(shapes=[circle(50, 20, 8), circle(50, 20, 4)], fill="#b8923a"),
            PathItem(shapes=[square.moved(0, 60, 0)], fill=fade),
        ],
    )
    picture = Image.open(io.BytesIO(drawing_png(drawing, 5))).convert("RGB")
    assert picture.size == (500, 200)

    def at(x, y):
        return picture.getpixel((5 * x, 5 * y))

    assert at(20, 20) == pytest.approx((127, 255, 127), abs=2)
    assert at(20 + 12 * cos(1), 20 + 12 * sin(1)) == (255, 255, 255)
    assert at(50, 20) == (255, 255, 255) and at(50, 26) == (0xB8, 0x92, 0x3A)
    assert at(61, 20) == pytest.approx((249, 0, 6), abs=6)
    assert at(80, 20) == pytest.approx((127, 0, 127), abs=6)
    assert at(99, 20) == pytest.approx((6, 0, 249), abs=6)


def test_a_huge_picture_is_kept_within_what_cairo_draws():
    square = Ring.through([(0, 0), (10, 0), (10, 10), (0, 10)])
    data = drawing_png(Drawing(5, 8000, [PathItem(shapes=[square], fill="#000000")]), 4)
    assert Image.open(io.BytesIO(data)).size == (10, 16000)


MISSING = """
import sys
{break_it}
from stripegen.drawing import Drawing
from stripegen.errors import StripegenError
from stripegen.writers import pdf
from stripegen.writers.pdf import CairoMissing, drawing_pdf, drawing_png
from stripegen.writers.svg import drawing_svg
drawing = Drawing(10, 10, ())
drawing_svg(drawing)
for platform in ("linux", "darwin", "win32"):
    sys.platform = platform
    for write in (lambda: drawing_pdf(drawing), lambda: drawing_png(drawing)):
        try:
            write()
        except CairoMissing as error:
            assert isinstance(error, StripegenError)
            line = str(error)
        else:
            line = "written"
    print(line)
"""
NO_LIBRARY = """
import cffi
real = cffi.FFI.dlopen
def dlopen(self, name, flags=0):
    if name and "cairo" in str(name):
        raise OSError(f"cannot load library {name!r}: no such file\\nsecond line")
    return real(self, name, flags)
cffi.FFI.dlopen = dlopen
import ctypes.util
ctypes.util.find_library = lambda name: None  # which looks in ways of the platform that is played
"""
NO_PACKAGE = "sys.modules['cairosvg'] = None"
OLD_LIBRARY = "import cairosvg.surface\ncairosvg.surface.cairo.cairo_version = lambda: 11510"


@pytest.mark.parametrize("break_it", [NO_LIBRARY, NO_PACKAGE, OLD_LIBRARY])
def test_without_cairo_one_line_says_what_to_install(break_it):
    lines = run(MISSING.format(break_it=break_it)).decode().splitlines()
    assert len(lines) == 3
    assert all("cairo" in line for line in lines)
    assert "libcairo2" in lines[0] and "package manager" in lines[1] and "GTK" in lines[2]


def test_cairo_is_loaded_only_when_a_page_is_written():
    code = "import sys, stripegen.writers.pdf\nprint([m for m in sys.modules if 'cairo' in m])"
    assert run(code).decode().strip() == "[]"
    assert issubclass(CairoMissing, StripegenError)


def test_several_drawings_are_pages_each_of_its_own_size():
    sizes = [(210.0, 297.0), (123.4, 56.7), (297.0, 210.0)]
    data = drawings_pdf(
        [
            Drawing(width, height, (TextItem(text=f"page {number}", x_mm=20, y_mm=20, size_mm=5),))
            for number, (width, height) in enumerate(sizes, 1)
        ]
    )
    pages = PdfReader(io.BytesIO(data)).pages
    for page, (width, height) in zip(pages, sizes, strict=True):
        assert float(page.mediabox.width) / 72 * 25.4 == pytest.approx(width, abs=1e-3)
        assert float(page.mediabox.height) / 72 * 25.4 == pytest.approx(height, abs=1e-3)
    assert [page.extract_text().strip() for page in pages] == ["page 1", "page 2", "page 3"]


def test_an_interrupt_while_cairo_writes_comes_when_it_is_done(monkeypatch):
    """cairo can't hand on what its caller raises while it takes the bytes."""
    presses = [signal.SIGINT]

    class Interrupted(io.BytesIO):
        def write(self, data):
            while presses:
                signal.raise_signal(presses.pop())
            return super().write(data)

    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        monkeypatch.setattr(pdf.io, "BytesIO", Interrupted)
        with pytest.raises(KeyboardInterrupt):
            drawing_pdf(Drawing(width_mm=10.0, height_mm=10.0, items=()))
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
