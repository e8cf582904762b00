from itertools import islice, product

from hypothesis import given
from hypothesis import strategies as st

from stripegen.jobfile import one_order_job
from stripegen.marks import LETTERS, marked, marks_of, nth_mark
from stripegen.presets import find_preset
from stripegen.production import produce


def test_marks_are_all_words_of_the_letters_the_short_ones_first():
    words = ("".join(word) for length in (1, 2, 3) for word in product(LETTERS, repeat=length))
    assert [nth_mark(number) for number in range(2000)] == list(islice(words, 2000))


@given(st.integers(0, 10**9), st.integers(0, 10**9))
def test_no_two_numbers_have_one_mark(first, second):
    assert (nth_mark(first) == nth_mark(second)) == (first == second)


def test_pieces_cut_alike_share_a_mark_and_others_do_not():
    job = one_order_job(
        cup="tall-tapered", pattern="ringed-seams", vinyl="navy-blue", quantity=3, find_preset=find_preset
    )
    pieces = produce(job).pieces
    marks = marks_of(pieces)
    for piece in pieces:
        for other in pieces:
            assert (marks[piece.id] == marks[other.id]) == ((piece.vinyl, piece.flat.cut_points) == (other.vinyl, other.flat.cut_points))
    assert len(set(marks.values())) > 1
    assert marks[pieces[0].id] == "A"


def test_whose_pieces_are_is_told_in_few_words():
    job = one_order_job(cup="tall-tapered", pattern="sash", vinyl="navy-blue", quantity=5, find_preset=find_preset)
    pieces = [piece for piece in produce(job).pieces if not (piece.line == "sash" and piece.cup_no == 3)]
    told = [(each.mark, each.count, each.owners) for each in marked(pieces, marks_of(pieces))]
    order = job.orders[0].id
    seams = [row for row in told if "seam" in row[2][0]]
    assert seams == [(seams[0][0], 10, (f"{order} seam.1-2 cups 1-5",))]
    assert all(owners[0].endswith(" cups 1-2, 4-5") for _, _, owners in told if "sash" in owners[0])
    assert [mark for mark, _, _ in told] == sorted((mark for mark, _, _ in told), key=lambda mark: (len(mark), mark))
