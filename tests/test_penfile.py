"""Pen files read back: strokes alone, each in its own piece as it is cut."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
import svgpathtools
from hypothesis import given, settings
from hypothesis import strategies as st
from keys import VINYL, pieces_of, sheet_of

from stripegen.cutfile import cut_file
from stripegen.keymarks import labels_of
from stripegen.marks import marks_of
from stripegen.penfile import pen_file, pen_notices
from stripegen.spec import Cutter
from stripegen.strokefont import text_strokes
from stripegen.writers.svg import drawing_svg

SVG = "{http://www.w3.org/2000/svg}"
PIECES = {pattern: pieces_of(pattern, quantity=1) for pattern in ("seam-stripes", "sash", "lattice", "spiral", "double-seams")}


def read(text):
    """Each path's id and its points, one array a subpath."""
    root = ElementTree.fromstring(text)
    assert {element.tag for element in root} <= {f"{SVG}path"}
    found = {}
    for element in root:
        assert element.get("fill") == "none" and not len(element) and element.get("transform") is None
        subpaths = svgpathtools.parse_path(element.get("d")).continuous_subpaths()
        points = [np.array([segment.point(t) for segment in path for t in np.linspace(0, 1, 12)]) for path in subpaths]
        found[element.get("id")] = [np.stack([each.real, each.imag], axis=1) for each in points]
    return root, found


@given(
    st.sampled_from([*PIECES]),
    st.lists(st.floats(-180, 180), min_size=1, max_size=4),
    st.booleans(),
    st.tuples(st.floats(0.98, 1.02), st.floats(0.98, 1.02)),
)
@settings(max_examples=25)
def test_marks_lie_in_their_pieces_as_the_cutter_cuts_them(pattern, turns, from_back, scale):
    vinyl, cutter = replace(VINYL, cut_from_back=from_back), Cutter(scale=scale)
    sheet = sheet_of(PIECES[pattern], turns, vinyl)
    pen = pen_file(sheet, marks_of(PIECES[pattern]), cutter)
    text = drawing_svg(pen.numbered())
    root, drawn = read(text)
    cut_root, cut = read(drawing_svg(cut_file(sheet, cutter).drawing))
    assert [root.get(side) for side in ("width", "height", "viewBox")] == [
        cut_root.get(side) for side in ("width", "height", "viewBox")
    ]
    assert sorted([*drawn, *pen.unmarked]) == sorted(piece.id for piece in PIECES[pattern])
    for name, strokes in drawn.items():
        piece = shapely.Polygon(np.concatenate(cut[name])).buffer(0.02)
        assert all(piece.contains(shapely.LineString(points)) for points in strokes)


def test_a_pen_file_has_the_marks_of_the_key():
    sheet = sheet_of(PIECES["seam-stripes"], [0.0])
    marks = marks_of(PIECES["seam-stripes"])
    pen = pen_file(sheet, marks, Cutter())
    assert list(pen.labels) == labels_of(sheet.placed, marks, sheet.width_mm, sheet.length_mm)
    assert not pen.unmarked and not pen_notices([pen])


def test_letters_are_to_be_read_on_the_back_and_arrows_point_to_the_rim_there():
    pieces = PIECES["seam-stripes"]
    sheet = sheet_of(pieces, [90.0])
    back = replace(sheet, vinyl=replace(VINYL, cut_from_back=True))
    marks = marks_of(pieces)
    fronts, backs = (pen_file(each, marks, Cutter()).labels for each in (sheet, back))
    for front, behind in zip(fronts, backs, strict=True):
        assert (behind.x_mm, behind.y_mm) == pytest.approx((sheet.width_mm - front.x_mm, front.y_mm))
        # the strokes are the letter's own, not its image in a mirror
        x, y = behind.letters[0].start
        first = text_strokes(behind.mark, 0.0, 0.0, behind.height_mm)[0].start
        for stroke, own in zip(behind.letters, text_strokes(behind.mark, 0.0, 0.0, behind.height_mm), strict=True):
            moved = own.moved(0.0, x - first[0], y - first[1])
            assert stroke.points(0.01) == [pytest.approx(point, abs=1e-9) for point in moved.points(0.01)]
        for one, other in zip(front.arrow[0].points(0.01), behind.arrow[0].points(0.01), strict=True):
            assert other[1] - behind.y_mm == pytest.approx(one[1] - front.y_mm)
        (fx, _), (tx, _) = front.arrow[0].points(0.01)
        (bx, _), (ux, _) = behind.arrow[0].points(0.01)
        assert tx - fx == pytest.approx(-(ux - bx)) and abs(tx - fx) > 1


def test_what_is_too_narrow_is_told():
    pieces = pieces_of("rim-and-base", quantity=2)
    sheet = sheet_of(pieces, [0.0])
    pen = pen_file(sheet, marks_of(pieces), Cutter())
    assert set(pen.unmarked) == {piece.id for piece in pieces if piece.flat.width_mm < 1.7} != set()
    assert {label.piece for label in pen.labels} == {piece.id for piece in pieces} - set(pen.unmarked)
    (notice,) = pen_notices([pen])
    assert notice.code == "no-pen-mark" and f"{len(pen.unmarked)} pieces" in notice.message


def test_other_units_scale_the_numbers_alone():
    sheet = sheet_of(PIECES["seam-stripes"], [0.0])
    pen = pen_file(sheet, marks_of(PIECES["seam-stripes"]), Cutter())
    _, mm = read(drawing_svg(pen.numbered()))
    _, inch = read(drawing_svg(pen.numbered(72 / 25.4)))
    for name, strokes in mm.items():
        for one, other in zip(strokes, inch[name], strict=True):
            assert other * 25.4 / 72 == pytest.approx(one, abs=1e-3)
