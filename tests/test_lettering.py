"""The room that texts take, and the head of a picture."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from stripegen.drawing import PathItem, TextItem
from stripegen.lettering import (
    MARGIN_MM,
    centred,
    elided,
    fitted_mm,
    picture_head,
    text_box,
    text_width_mm,
    wrapped,
)

WORDS = st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=40)


@given(WORDS, st.floats(1.0, 8.0), st.floats(1.0, 80.0))
def test_a_fitted_text_fits_and_never_grows(text, size, room):
    fitted = fitted_mm(text, size, room)
    assert fitted <= size
    assert text_width_mm(text, fitted) <= room * 1.000001
    if text_width_mm(text, size) <= room:
        assert fitted == size


@given(WORDS, st.floats(5.0, 60.0))
def test_an_elided_text_is_the_beginning_of_it(text, room):
    short = elided(text, 2.0, room)
    assert text_width_mm(short, 2.0) <= room
    assert short == text or text.startswith(short.removesuffix("\u2026"))


@given(st.floats(-720, 720), st.floats(-50, 50), st.floats(-50, 50))
def test_a_centred_text_has_its_middle_at_the_point_and_is_never_head_over(turn, x, y):
    text = centred("12.5", x, y, 3.0, turn)
    assert text_box(text).centroid.distance(shapely.Point(x, y)) < 0.15
    assert -110 <= text.turn_deg <= 92
    assert abs((text.turn_deg - turn + 90) % 180 - 90) < 1e-6


def test_the_box_of_a_text_follows_its_anchor_and_turn():
    start = TextItem(text="1234", x_mm=10.0, y_mm=20.0, size_mm=5.0)
    x0, y0, x1, y1 = text_box(start).bounds
    assert (x0, x1) == (10.0, pytest.approx(10 + text_width_mm("1234", 5.0)))
    assert y0 < 20 - 0.7 * 5 and y1 >= 20
    end = TextItem(text="1234", x_mm=10.0, y_mm=20.0, size_mm=5.0, anchor="end")
    assert text_box(end).bounds[2] == pytest.approx(10.0)
    down = TextItem(text="1234", x_mm=10.0, y_mm=20.0, size_mm=5.0, turn_deg=90.0)  # +x turns towards +y
    assert text_box(down).bounds[3] == pytest.approx(20 + text_width_mm("1234", 5.0))


def test_chips_wrap_and_stay_on_the_page():
    vinyls = [(f"a-vinyl-with-a-name-{number}", "#123456") for number in range(12)]
    head = picture_head("R-31", "cup tall", vinyls, 210.0)
    page = shapely.box(MARGIN_MM - 1, 0, 210 - MARGIN_MM + 1, head.bottom_mm + 1)
    texts = [item for item in head.items if isinstance(item, TextItem)]
    assert [text.text for text in texts] == ["R-31", "cup tall", *(name for name, _ in vinyls)]
    assert all(page.covers(text_box(text)) for text in texts)
    assert sum(isinstance(item, PathItem) and item.fill == "#123456" for item in head.items) == 12
    for number, text in enumerate(texts):
        assert not any(text_box(text).intersects(text_box(other)) for other in texts[:number])


def test_a_long_title_is_made_to_fit():
    head = picture_head("W" * 90, "w" * 200, [("m" * 64, "#ffffff")], 210.0)
    page = shapely.box(0, 0, 210, head.bottom_mm + 1)
    assert all(page.covers(text_box(item)) for item in head.items if isinstance(item, TextItem))


TEXTS = st.text(st.sampled_from("ab-MW. 10"), max_size=60)


@given(TEXTS, st.floats(6.0, 60.0))
def test_a_wrapped_text_is_all_there_in_lines_that_fit(text, room):
    lines = wrapped(text, 2.0, room)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(text_width_mm(line, 2.0) <= room and line == line.strip() for line in lines)
    if text_width_mm(" ".join(text.split()), 2.0) <= room:
        assert lines == [" ".join(text.split())]


def test_a_wrapped_text_breaks_at_spaces_and_after_hyphens():
    room = text_width_mm("sheet-navy-", 3.0)
    assert wrapped("3 on sheet-navy-blue-1", 3.0, room) == ["3 on sheet-", "navy-blue-1"]
    assert wrapped("joint at the back", 3.0, text_width_mm("the back", 3.0)) == ["joint at", "the back"]
