"""Marks on sheets: each in its piece or beside it, none on another, arrows to the rim."""

from __future__ import annotations

import math
import time

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from keys import VINYL, pieces_of, sheet_of

from stripegen.keymarks import HEIGHTS_MM, labels_of
from stripegen.marks import marks_of

PATTERNS = ("seam-stripes", "sash", "lattice", "spiral", "chevrons", "feathered", "ringed-seams")
SETS = {pattern: pieces_of(pattern) for pattern in PATTERNS}
TURNS = st.lists(st.one_of(st.sampled_from([0.0, 90.0, 180.0, 270.0]), st.floats(-360, 360)), min_size=1, max_size=7)
least = HEIGHTS_MM[-1]


def labelled(pattern, turns, **more):
    sheet = sheet_of(SETS[pattern], turns)
    marks = marks_of(SETS[pattern])
    return sheet, labels_of(sheet.placed, marks, sheet.width_mm, sheet.length_mm, **more), marks


@given(st.sampled_from(PATTERNS), TURNS)
@settings(max_examples=40)
def test_each_piece_has_one_mark_in_it_or_a_line_from_it_and_no_two_overlap(pattern, turns):
    sheet, labels, marks = labelled(pattern, turns)
    assert sorted(label.piece for label in labels) == sorted(placed.piece.id for placed in sheet.placed)
    outlines = {placed.piece.id: placed.outline.polygon(0.005) for placed in sheet.placed}
    for label in labels:
        assert label.mark == marks[label.piece]
        assert label.height_mm >= least
        if label.points_at:
            assert outlines[label.piece].contains(shapely.Point(label.points_at))
        else:
            assert outlines[label.piece].buffer(0.01).contains(label.box)
        for stroke in (*label.letters, *label.arrow):
            assert label.box.contains(shapely.LineString(stroke.points(0.01)))
        assert not any(letter.crosses(arrow) for letter in lines(label.letters) for arrow in lines(label.arrow))
    assert_apart([label.box for label in labels])


def assert_apart(boxes):
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    for one, other in zip(first, second, strict=True):
        assert one == other or boxes[one].intersection(boxes[other]).area < 1e-6


def lines(strokes):
    return [shapely.LineString(stroke.points(0.01)) for stroke in strokes]


@given(st.sampled_from(PATTERNS), TURNS, st.sampled_from([0.0, -90.0]))
@settings(max_examples=30)
def test_arrows_point_to_the_rim_and_no_letters_stand_on_their_heads(pattern, turns, page):
    sheet, labels, _ = labelled(pattern, turns, turn_deg=page)
    placed = {each.piece.id: each for each in sheet.placed}
    for label in labels:
        shaft, head = label.arrow
        (x0, y0), (x1, y1) = shaft.points(0.01)
        turn = math.radians(placed[label.piece].placement.turn_deg)
        up = math.sin(turn), -math.cos(turn)  # -y of the piece's own frame
        assert ((x1 - x0) * up[0] + (y1 - y0) * up[1]) / math.hypot(x1 - x0, y1 - y0) == pytest.approx(1.0)
        assert head.points(0.01)[1] == pytest.approx((x1, y1))
        assert math.cos(math.radians(label.turn_deg + page)) > math.cos(math.radians(103))


def test_a_strip_that_is_wide_enough_has_large_letters_along_it():
    _, labels, _ = labelled("seam-stripes", [0.0])
    for label in labels:
        assert label.points_at is None and label.height_mm == HEIGHTS_MM[0]
        assert label.turn_deg == pytest.approx(-90.0)


def test_pieces_cut_alike_are_marked_at_the_same_place():
    pieces = pieces_of("seam-stripes", quantity=4)
    sheet = sheet_of(pieces, [0.0, 37.0, 90.0])
    labels = labels_of(sheet.placed, marks_of(pieces), sheet.width_mm, sheet.length_mm)
    at = set()
    for label, placed in zip(labels, sheet.placed, strict=True):
        turn = math.radians(placed.placement.turn_deg)
        x, y = label.x_mm - placed.placement.dx_mm, label.y_mm - placed.placement.dy_mm
        at.add((round(x * math.cos(turn) + y * math.sin(turn), 4), round(y * math.cos(turn) - x * math.sin(turn), 4)))
    assert len(at) == 1


def test_beside_narrow_pieces_marks_lie_on_waste_where_there_is_some():
    pieces = [piece for piece in pieces_of("double-seams", quantity=1) if piece.flat.width_mm == 2.0]
    sheet = sheet_of(pieces, [90.0])
    labels = labels_of(sheet.placed, marks_of(pieces), sheet.width_mm, sheet.length_mm)
    assert labels and all(label.points_at for label in labels)
    outlines = [placed.outline.polygon(0.01) for placed in sheet.placed]
    assert not any(outline.intersects(label.box) for label in labels for outline in outlines)


def test_a_crowd_of_narrow_pieces_still_has_every_mark_and_none_on_another():
    """So dense that marks must go farther off, at last below the sheet."""
    pieces = pieces_of("double-seams", cup="small-tumbler", quantity=60)
    fine = [piece for piece in pieces if piece.flat.width_mm == 2.0]
    sheet = sheet_of(fine, [0.0], width_mm=60.0)
    placed = [each.moved(0.0, 0.0) for each in sheet.placed]
    # what is kept free leaves hardly any room on the sheet
    kept = [[(-9, -9), (69, -9), (69, sheet.length_mm + 9), (-9, sheet.length_mm + 9)]]
    labels = labels_of(placed, marks_of(fine), sheet.width_mm, sheet.length_mm, kept)
    boxes = [label.box for label in labels]
    assert len(boxes) == len(fine)
    assert_apart(boxes)
    assert min(box.bounds[1] for box in boxes) > sheet.length_mm


@pytest.mark.parametrize("pattern", ["seam-stripes", "double-seams"])
def test_two_thousand_marks_are_placed_in_little_time(pattern):
    pieces = pieces_of(pattern, quantity=1000 if pattern == "seam-stripes" else 334)
    sheet = sheet_of(pieces, [0.0, 90.0], VINYL, 600.0)
    marks = marks_of(pieces)
    begun = time.process_time()
    labels = labels_of(sheet.placed, marks, sheet.width_mm, sheet.length_mm)
    assert time.process_time() - begun < 3.0
    assert len(labels) == len(pieces) >= 2000
