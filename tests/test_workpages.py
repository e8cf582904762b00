"""The work list's pages: of the paper's size, with all on them, nothing over the edge or over anything else."""

from __future__ import annotations

import io
from dataclasses import replace

import pypdf
import pytest
import shapely
from worklists import made, sheet_names

from stripegen.drawing import Drawing, PathItem, TextItem
from stripegen.jobfile import parse_job
from stripegen.lettering import text_box
from stripegen.paper import PAPERS
from stripegen.pictures import RULE
from stripegen.presets import find_preset
from stripegen.production import produce
from stripegen.workhtml import work_list_html
from stripegen.worklist import WorkList, work_list
from stripegen.workpages import MARGIN_MM, MARK_MM, work_list_pages
from stripegen.worksteps import MOST_IN_ROW
from stripegen.workwords import COLUMNS
from stripegen.writers.pdf import drawings_pdf

LONG = "x" * 64


def longest(work: WorkList) -> WorkList:
    """The same with names as long as they may be, and more sheets than are told."""
    sheets = tuple((f"sheet-{LONG}-{number}", 1) for number in range(30))

    def row_of(row):
        if len(row.strips) > 1:  # as many as there may be, each ending elsewhere
            row = replace(row, strips=(row.strips * MOST_IN_ROW)[:MOST_IN_ROW], lit=(row.lit * MOST_IN_ROW)[:MOST_IN_ROW])
        strips = tuple(
            replace(strip, name=f"{LONG}.{number}", vinyl=LONG, end=replace(strip.end, down_mm=100.0 + number))
            for number, strip in enumerate(row.strips)
        )
        return replace(row, strips=strips, sheets=sheets)

    orders = tuple(
        replace(
            order,
            id=LONG,
            cup=LONG,
            vinyls=tuple((LONG, colour) for _, colour in order.vinyls) * 3,
            steps=tuple(replace(step, rows=tuple(map(row_of, step.rows))) for step in order.steps),
        )
        for order in work.orders
    )
    materials = tuple(replace(each, vinyl=LONG, sheets=(LONG,) * 9) for each in work.materials)
    return replace(work, title="title " * 60, orders=orders, materials=materials, cups=((LONG, 3),) * 9)


WORKS = {
    "hard": lambda: made("hard")[1],
    "some presets": lambda: made("some presets")[1],
    "long": lambda: longest(made("hard")[1]),
}


@pytest.fixture(scope="module", params=[(name, paper) for name in WORKS for paper in PAPERS], ids="-".join)
def pages(request):
    name, paper = request.param
    work = WORKS[name]()
    return work, work_list_pages(work, "mm", PAPERS[paper]), paper


def texts(drawing: Drawing) -> list[TextItem]:
    return [item for item in drawing.walk() if isinstance(item, TextItem)]


def test_pages_have_the_papers_size(pages):
    _, drawings, paper = pages
    assert {(drawing.width_mm, drawing.height_mm) for drawing in drawings} == {(PAPERS[paper].width_mm, PAPERS[paper].height_mm)}


def test_everything_is_between_the_margins(pages):
    _, drawings, _ = pages
    for drawing in drawings:
        inner = shapely.box(MARGIN_MM - 1, MARGIN_MM - 1, drawing.width_mm - MARGIN_MM + 1, drawing.height_mm - MARGIN_MM + 1)
        for item in drawing.items[1:]:  # the first is the page
            if isinstance(item, PathItem):
                for shape in item.shapes:
                    assert inner.contains(shapely.box(*shape.bounds()))
            elif isinstance(item, TextItem):
                assert inner.contains(text_box(item)), item.text


def test_no_text_lies_on_another(pages):
    _, drawings, _ = pages
    for drawing in drawings:
        boxes = [text_box(item) for item in texts(drawing)]
        tree = shapely.STRtree(boxes)
        for first, second in zip(*tree.query(boxes, predicate="intersects"), strict=True):
            if first < second:
                overlap = boxes[first].intersection(boxes[second]).area
                assert overlap < 0.1, (texts(drawing)[first].text, texts(drawing)[second].text)


def test_pages_are_numbered(pages):
    _, drawings, _ = pages
    for number, drawing in enumerate(drawings, 1):
        assert f"page {number} of {len(drawings)}" in [item.text for item in texts(drawing)]


def test_a_row_is_on_one_page_with_its_heading_above(pages):
    """Its mark stands at its top, what its picture shows at its foot, and a line runs below it."""
    work, drawings, _ = pages
    found = 0
    for drawing in drawings:
        tops = [item.y_mm for item in texts(drawing) if item.size_mm == MARK_MM and item.bold]
        feet = [item.y_mm for item in texts(drawing) if item.text == "wall laid open" or item.text.startswith("from ")]
        heads = [item.y_mm for item in texts(drawing) if item.text == COLUMNS[0]]
        rules = [item.shapes[0].start[1] for item in drawing.walk() if isinstance(item, PathItem) and item.stroke == RULE]
        assert len(tops) == len(feet)
        for top, foot in zip(sorted(tops), sorted(feet), strict=True):
            assert min(heads) < top < foot
            assert not any(top < rule < foot for rule in rules) and any(rule > foot for rule in rules)
        found += len(tops)
    assert found == sum(len(step.rows) for order in work.orders for step in order.steps)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_pdf_has_every_mark_and_name_as_text(paper, units):
    work = made("hard")[1]
    read = pypdf.PdfReader(io.BytesIO(drawings_pdf(work_list_pages(work, units, PAPERS[paper]))))
    for page in read.pages:
        size = [float(side) * 25.4 / 72 for side in page.mediabox[2:]]
        assert size == pytest.approx((PAPERS[paper].width_mm, PAPERS[paper].height_mm), abs=0.01)
    words = " ".join(page.extract_text() for page in read.pages).split()
    for order in work.orders:
        assert order.id in words
        for strip in order.strips:
            assert strip.mark in words
            assert {strip.name, f"{strip.name}:"} & set(words)
    assert "<script>alert(1)</script>" in words
    assert ("mm" in words) == (units == "mm")


def test_an_order_that_fits_on_a_page_is_not_parted():
    work = made("some presets")[1]
    small = [order for order in work.orders if order.pattern == "seam-stripes"]
    drawings = work_list_pages(replace(work, orders=tuple(small)), "mm", PAPERS["a4"])
    for drawing in drawings:
        own = [item.text for item in texts(drawing)]
        assert sum(text.startswith("Order ") for text in own) == sum("Seal under" in text for text in own)


def test_the_demo_week_makes_both_files(tmp_path):
    text, _ = find_preset("job", "demo-week")
    production = produce(parse_job(text, "demo-week.toml", find_preset))
    work = work_list(production, sheet_names(production))
    (tmp_path / "work.html").write_text(work_list_html(work, "mm"), encoding="utf-8")
    (tmp_path / "work.pdf").write_bytes(drawings_pdf(work_list_pages(work, "mm", PAPERS["a4"])))
    page = (tmp_path / "work.html").read_text(encoding="utf-8")
    words = " ".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "work.pdf").pages).split()
    for order in production.job.orders:
        assert f"Order {order.id}</h2>" in page and order.id in words
    assert {strip.mark for order in work.orders for strip in order.strips} <= set(words)
