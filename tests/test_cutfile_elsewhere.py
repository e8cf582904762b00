"""Cut files as two more readers see them: the SVG in a browser, the PDF by its operators."""

from __future__ import annotations

import io

import numpy as np
import pytest
import shapely
from browser import browser
from pypdf import PdfReader
from pypdf.generic import ContentStream
from test_cutfile import MM_PER_POINT, SHAPE_MM, outlines, week

POINTS = """(count) => [...document.querySelectorAll('path')].map((path) => {
    const long = path.getTotalLength(), found = [];
    for (let k = 0; k < count; k++) { const p = path.getPointAtLength(long * k / count); found.push([p.x, p.y]); }
    return [path.id, long, found];
})"""


def test_a_browser_draws_every_piece_where_the_manifest_says_and_as_large(tmp_path):
    files, manifest = week()
    wanted = outlines(manifest)
    with browser() as running:
        page = running.new_page()
        for sheet in manifest["sheets"]:
            path = tmp_path / f"{sheet['name']}.svg"
            path.write_bytes(files[path.name])
            page.goto(path.as_uri())
            # a browser's pixel is a 96th of an inch
            size = page.evaluate("[document.documentElement.width.baseVal.value, document.documentElement.height.baseVal.value]")
            assert np.array(size) * 25.4 / 96 == pytest.approx([sheet["width"], sheet["length"]], abs=0.01)
            shown = {name: (long, points) for name, long, points in page.evaluate(POINTS, 150)}
            for name in sheet["pieces"]:
                long, points = shown[name]
                ring = wanted[name].exterior
                assert long == pytest.approx(ring.length, rel=2e-4, abs=0.02)
                assert shapely.distance(ring, shapely.points(points)).max() < SHAPE_MM


def test_the_operators_of_a_pdf_lead_along_the_pieces():
    files, manifest = week()
    wanted = outlines(manifest)
    for sheet in manifest["sheets"]:
        reader = PdfReader(io.BytesIO(files[f"{sheet['name']}.pdf"]))
        rings = shapely.MultiLineString(
            [wanted[name].exterior for name in sheet["pieces"]]
            + [shapely.box(t["x"], t["y"], t["x"] + t["across"], t["y"] + t["along"]).exterior for t in sheet["to_measure"].values()]
        )
        matrix, kept, ends = np.eye(3), [], []
        for operands, operator in ContentStream(reader.pages[0].get_contents(), reader).operations:
            numbers = [float(value) for value in operands] if operator in (b"cm", b"m", b"l", b"c") else []
            if operator == b"q":
                kept.append(matrix)
            elif operator == b"Q":
                matrix = kept.pop()
            elif operator == b"cm":
                a, b, c, d, e, f = numbers
                matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
            elif operator in (b"m", b"l", b"c"):
                ends.append((np.array([*numbers[-2:], 1.0]) @ matrix)[:2] * MM_PER_POINT)
        points = np.array(ends) * (1, -1) + (0, sheet["length"])
        assert len(points) >= 4 * len(sheet["pieces"])
        assert shapely.distance(rings, shapely.points(points)).max() < SHAPE_MM
