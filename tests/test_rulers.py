"""The upright rulers: where their labels go, and that they are true to the sheet's scale."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiled import PROFILED
from scipy.optimize import minimize
from strategies import a_cup

from stripegen.decoration import decorate
from stripegen.drawing import PathItem, TextItem
from stripegen.lettering import text_box
from stripegen.rulers import Upright, meridian_ruler, spread, wall_ruler
from stripegen.spacing import spacing_of
from stripegen.spec import Down, Pattern, Ring

PLACES = st.lists(st.integers(0, 1000), min_size=1, max_size=12).map(
    lambda places: [p / 10 for p in sorted(places)]
)


@given(PLACES, st.floats(0.5, 8.0))
def test_spread_labels_are_apart_in_order_and_in_bounds(places, pitch):
    moved = spread(places, pitch, 0.0, 100.0)
    assert all(second - first >= pitch - 1e-9 for first, second in itertools.pairwise(moved))
    assert moved[0] >= -1e-9 and moved[-1] <= 100 + 1e-9
    if all(second - first >= pitch for first, second in itertools.pairwise(places)):
        assert moved == pytest.approx(places)


@given(st.lists(st.integers(300, 600), min_size=2, max_size=4).map(sorted), st.floats(4.0, 9.0))
def test_spread_labels_move_as_little_as_can_be(tenths, pitch):
    places = [tenth / 10 for tenth in tenths]
    moved = spread(places, pitch, 0.0, 100.0)

    def cost(found):
        return sum((a - b) ** 2 for a, b in zip(found, places, strict=True))

    apart = [
        {"type": "ineq", "fun": lambda found, n=n: found[n + 1] - found[n] - pitch}
        for n in range(len(places) - 1)
    ]
    best = minimize(cost, [30 + 10 * n for n in range(len(places))], constraints=apart, method="SLSQP")
    assert cost(moved) <= best.fun + 1e-4


@pytest.fixture
def decoration():
    rings = Ring(name="hoop", vinyl="v", width_mm=4.0, downs=(Down(30.0), Down(36.5), Down(90.0)))
    return decorate(a_cup(43.0, 31.0, 152.0), Pattern(name="p", lines=(rings,)))


def one_bar(scale: float) -> Upright:
    return Upright(scale, ((0.0, 152.0, 40.0),))


def test_a_ruler_in_bars_stands_where_they_do():
    upright = Upright(0.5, ((0.0, 70.0, 40.0), (70.0, 78.0, 90.0), (78.0, 158.0, 130.0)))
    assert [upright.y_mm(down) for down in (0.0, 69.0, 70.0, 78.0, 158.0)] == [40.0, 74.5, 90.0, 130.0, 170.0]
    assert list(upright.spans(60.0, 88.0)) == [(70.0, 75.0), (90.0, 94.0), (130.0, 135.0)]
    assert list(upright.spans(78.0, 80.0)) == [(130.0, 131.0)]
    rings = Ring(name="hoop", vinyl="v", width_mm=6.0, downs=(Down(70.0),), ends="upright", start=-2.0, end=3.0)
    decoration = decorate(PROFILED["ledge"], Pattern(name="p", lines=(rings,)))
    meridian = spacing_of(decoration).meridians[0]
    ruler = meridian_ruler(meridian, decoration.site, "#ffffff", lambda line: "#112233", upright, 100.0)
    blocks = [item.shapes[0].bounds() for item in ruler.items if item.role == "block"]
    assert [(y0, y1) for _, y0, _, y1 in blocks] == [
        (pytest.approx(40 + 33.5), pytest.approx(75.0)),
        (pytest.approx(90.0), pytest.approx(91.5)),
    ]
    texts = [text.text for text in texts_of(wall_ruler(decoration.site, "#ffffff", upright, 0.0))]
    assert "bend, 70.0 down, 263.9 round" in texts and "bend, 78.0 down, 213.6 round" in texts
    assert texts[-1] == "base, 158.0 down, 201.1 round"


def texts_of(ruler) -> list[TextItem]:
    return [item for item in ruler.items if isinstance(item, TextItem)]


def test_a_meridian_ruler_draws_each_line_where_it_lies(decoration):
    (meridian,) = spacing_of(decoration).meridians
    ruler = meridian_ruler(meridian, decoration.site, "#ffffff", lambda line: "#112233", one_bar(0.5), 100.0)
    blocks = [
        item.shapes[0].bounds() for item in ruler.items if isinstance(item, PathItem) and item.role == "block"
    ]
    for (_, y0, _, y1), middle in zip(blocks, (30.0, 36.5, 90.0), strict=True):
        assert (y0, y1) == (pytest.approx(40 + 0.5 * (middle - 2)), pytest.approx(40 + 0.5 * (middle + 2)))
    texts = [text.text for text in texts_of(ruler)]
    assert texts[0] == "at 0\u00b0"
    assert texts[1:] == ["28.0", "hoop 1", "2.5", "hoop 2", "49.5", "hoop 3", "60.0"]


def test_labels_never_lie_over_each_other_and_end_where_the_ruler_says(decoration):
    (meridian,) = spacing_of(decoration).meridians
    for ruler in (
        wall_ruler(decoration.site, "#ffffff", one_bar(0.3), 10.0),
        meridian_ruler(meridian, decoration.site, "#000000", lambda line: "#112233", one_bar(0.3), 10.0),
    ):
        boxes = [text_box(text) for text in texts_of(ruler)]
        for number, box in enumerate(boxes):
            assert not any(box.intersects(other) for other in boxes[:number])
            assert box.bounds[2] <= ruler.right_mm + 1e-9


def test_the_wall_ruler_names_limits_and_girths(decoration):
    texts = [text.text for text in texts_of(wall_ruler(decoration.site, "#ffffff", one_bar(1.0), 0.0))]
    assert texts == [
        "wall",
        "rim, 270.2 round",
        "rim clearance 12.0",
        "12.0 down, 264.2 round",
        "79.0 down, 231.0 round",
        "146.0 down, 197.8 round",
        "base clearance 6.0",
        "base, 152.0 down, 194.8 round",
    ]
