import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from stripegen.outline import Outline, Ring, Stroke
from stripegen.testcuts import LONGEST_MM, SHORTEST_MM, pieces_to_measure
from stripegen.weedlines import EVERY_MM, weed_lines

ROOM = (5.0, 5.0, 300.0, 500.0)
GAP = 1.5


def box(x, y, w, h) -> Outline:
    return Outline(Ring.through([(x, y), (x + w, y), (x + w, y + h), (x, y + h)]))


boxes = st.lists(
    st.tuples(st.floats(6.5, 230), st.floats(6.5, 290), st.floats(1, 60), st.floats(1, 200)), min_size=1, max_size=20
).map(lambda sizes: [box(*size) for size in sizes])


def lines(found):
    return [shapely.LineString(stroke.points(0.1)) for stroke in found if isinstance(stroke, Stroke)]


@given(boxes)
def test_no_line_comes_near_a_piece_and_none_leaves_the_room(pieces):
    frame, *strokes = weed_lines(pieces, GAP, ROOM)
    solids = shapely.union_all([piece.polygon(0.01) for piece in pieces])
    ring = shapely.LinearRing(frame.outer.points(0.1))
    assert shapely.box(*ROOM).buffer(1e-9).covers(ring)
    assert ring.distance(solids) >= GAP - 1e-9
    assert shapely.Polygon(ring).covers(solids)
    for line in lines(strokes):
        assert line.distance(solids) >= GAP - 1e-9
        assert shapely.Polygon(ring).buffer(1e-6).covers(line)


def test_large_waste_is_parted_and_narrow_waste_is_not():
    one = box(6.5, 6.5, 20, 400)
    _, *strokes = weed_lines([one, box(270, 6.5, 20, 400)], GAP, ROOM)
    across = [line for line in lines(strokes) if line.bounds[1] == line.bounds[3]]
    assert len(across) >= 400 // EVERY_MM - 1
    assert all(line.length == pytest.approx(270 - 26.5 - 2 * GAP, abs=0.2) for line in across)
    _, *strokes = weed_lines([one, box(26.5 + 10, 6.5, 20, 400)], GAP, ROOM)
    assert strokes == []


def test_nothing_to_cut_needs_no_frame():
    assert weed_lines([], GAP, ROOM) == []


@given(boxes)
def test_test_pieces_lie_in_the_waste_and_measure_whole_millimetres(pieces):
    found = pieces_to_measure(pieces, GAP, ROOM)
    solids = [piece.polygon(0.01) for piece in pieces]
    for name, piece in found.items():
        x0, y0, x1, y1 = piece.bounds()
        long = x1 - x0 if name == "test.across" else y1 - y0
        assert SHORTEST_MM - 1e-6 <= long <= LONGEST_MM + 1e-6 and abs(long - round(long)) < 1e-6
        assert shapely.box(*ROOM).buffer(1e-9).covers(piece.polygon(0.01))
        assert all(solid.distance(piece.polygon(0.01)) >= GAP - 1e-9 for solid in solids)
        solids.append(piece.polygon(0.01))
    # beside what ends 10 mm or more before the room does, a piece of full length fits
    if max(piece.bounds()[2] for piece in pieces) < ROOM[2] - 10:
        x0, y0, x1, y1 = found["test.along"].bounds()
        assert y1 - y0 == pytest.approx(LONGEST_MM)


def test_where_there_is_no_room_there_is_no_test_piece():
    full = [box(6.5, 6.5 + 20 * n, 292, 18) for n in range(24)]
    assert pieces_to_measure(full, GAP, (5.0, 5.0, 300.0, 486.0)) == {}
