from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from stripegen.lettering import text_width_mm, wrapped
from stripegen.textlines import text_lines

WORDS = st.lists(st.text("abcm. ", min_size=1, max_size=9).map(str.split).filter(bool).map(" ".join), min_size=1, max_size=30)


@given(WORDS, st.floats(20, 120))
def test_every_word_is_there_in_order_and_lines_fit(words, room):
    text = " ".join(words)
    lines = wrapped(text, 3.0, room)
    assert " ".join(lines) == text
    for line in lines:
        assert text_width_mm(line, 3.0) <= room or " " not in line
    for line, after in pairwise(lines):
        assert text_width_mm(f"{line} {after.split()[0]}", 3.0) > room


def test_lines_stand_under_each_other():
    items, below = text_lines(["one two three four", "five"], 10, 20, 3, 20, role="note")
    assert [item.x_mm for item in items] == [10] * len(items)
    ys = [item.y_mm for item in items]
    assert ys == sorted(ys) and ys[0] == 23 and ys[-1] < below
    assert all(later - former >= 1.3 * 3 for former, later in pairwise(ys))
