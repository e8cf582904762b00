from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.strokefont import in_lines, text_strokes, text_width

TEXTS = st.text(alphabet=[chr(code) for code in range(33, 127)], min_size=1, max_size=12)


def bounds(strokes):
    x0, y0, x1, y1 = zip(*(stroke.bounds() for stroke in strokes), strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def test_capitals_and_figures_are_as_high_as_told_and_stand_on_the_line():
    for letter in "ABCDEFGHJKLMNPRSTUVWXYZ0123456789":  # Q's tail hangs
        x0, y0, x1, y1 = bounds(text_strokes(letter, 3.0, 7.0, 2.0))
        assert (y0, y1) == pytest.approx((5.0, 7.0))
        assert 3.0 <= x0 < x1 <= 3.0 + text_width(letter, 2.0)


def test_no_two_letters_of_marks_and_figures_are_drawn_alike():
    drawn = {text_strokes(letter, 0, 0, 1) for letter in "ABCDEFGHJKLMNPQRSTUVWXYZ0123456789"}
    assert len(drawn) == 34


@given(TEXTS, TEXTS, st.floats(0.5, 10))
def test_widths_add_up_and_grow_with_the_height(first, second, height):
    assert text_width(first + second, height) == pytest.approx(text_width(first, height) + text_width(second, height))
    assert text_width(first, height) == pytest.approx(height * text_width(first, 1.0))


@given(TEXTS, st.floats(-180, 180))
def test_a_turned_text_is_the_text_turned(text, turn):
    turned = text_strokes(text, 0.0, 0.0, 3.0, "middle", turn)
    level = text_strokes(text, 0.0, 0.0, 3.0, "middle")
    for one, other in zip(turned, level, strict=True):
        moved = other.moved(turn * 3.141592653589793 / 180, 0.0, 0.0)
        assert one.points(0.01) == [pytest.approx(point, abs=1e-9) for point in moved.points(0.01)]


@pytest.mark.parametrize("anchor, share", [("start", 0.0), ("middle", 0.5), ("end", 1.0)])
def test_anchors(anchor, share):
    shift = bounds(text_strokes("H", 0, 0, 2, "start"))[0] - bounds(text_strokes("H", 0, 0, 2, anchor))[0]
    assert shift == pytest.approx(share * text_width("H", 2))


def test_what_the_font_lacks_is_a_question_mark():
    assert text_strokes("\u00e9", 0, 0, 2) == text_strokes("?", 0, 0, 2)
    assert text_strokes("", 0, 0, 2) == text_strokes(" ", 0, 0, 2) == ()


@given(st.lists(TEXTS, max_size=8), st.floats(4, 60))
def test_lines_fit_and_hold_every_word(parts, room):
    lines = in_lines(" ".join(parts), 2.0, room)
    assert "".join(lines).replace(" ", "") == "".join(parts)
    for line in lines:
        assert text_width(line, 2.0) <= room or len(line) == 1
    for line, following in pairwise(lines):
        assert text_width(f"{line} {following.split()[0]}", 2.0) > room or text_width(line + following[0], 2.0) > room
