"""What cells say: what can be read one way only is read, and all else refused."""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.csvcells import DATES, read_due, read_id, read_quantity, read_word
from stripegen.tables import is_name

days = st.dates(datetime.date(1000, 1, 1), datetime.date(9999, 12, 31))


@given(days, st.sampled_from(sorted(DATES)), st.sampled_from("./-"), st.booleans())
def test_a_day_is_read_in_the_order_that_is_told(day, form, mark, padded):
    width = "02" if padded else ""
    parts = {"year": f"{day.year}", "month": f"{day.month:{width}}", "day": f"{day.day:{width}}"}
    cell = mark.join(parts[part] for part in DATES[form])
    assert read_due(cell, form) == day


@given(days, st.sampled_from(sorted(DATES)), st.sampled_from(sorted(DATES)))
def test_no_order_of_day_and_month_is_guessed(day, written, told):
    parts = {"year": f"{day.year}", "month": f"{day.month}", "day": f"{day.day}"}
    cell = "/".join(parts[part] for part in DATES[written])
    try:
        read = read_due(cell, told)
    except ValueError as error:
        assert written != told and f'"{written}"' in str(error)
    else:
        assert read == day or {written, told} == {"day-month-year", "month-day-year"}


@pytest.mark.parametrize("cell", ["3/4/27", "27-04-03", "2027-04", "30.7.", "2027-04-31", "2027-04/03", "2027-04-03 00:00", "soon"])
def test_what_is_no_day_is_refused(cell):
    for form in DATES:
        with pytest.raises(ValueError, match="a day that there is"):
            read_due(cell, form)


def test_the_orders_in_which_a_day_can_be_read_are_told():
    with pytest.raises(ValueError, match='dates in \\[orders\\] must be "day-month-year"$'):
        read_due("30.07.2027", "year-month-day")
    with pytest.raises(ValueError, match='must be "day-month-year" or "month-day-year"$'):
        read_due("3/4/2027", "year-month-day")


@given(st.integers(1, 100_000), st.sampled_from(["", ".0", ",0", ".00", ",00"]))
def test_counts_are_read_with_either_mark(count, tail):
    assert read_quantity(f"{count}{tail}") == count


@pytest.mark.parametrize("cell", ["0", "-1", "1.000", "1,000", "8.5", "1e3", "100001", "9" * 5000, "four", "4 pcs", "٣", "=2+2"])
def test_what_may_be_another_count_or_none_is_refused(cell):
    with pytest.raises(ValueError, match="whole number from 1 to 100000"):
        read_quantity(cell)


@given(st.text(max_size=80), st.booleans())
def test_an_id_is_a_name_or_refused(cell, is_plain):
    try:
        found = read_id(cell, is_plain)
    except ValueError as error:
        assert not is_name(cell) and "must be a name" in str(error)
        return
    assert is_name(found)
    # letters and figures stay as they are, in their order
    assert found == cell or (is_plain and not is_name(cell))
    assert "".join(filter(str.isalnum, found)) == "".join(c for c in cell if c.isascii() and c.isalnum())


def test_an_order_number_is_made_plain_only_where_that_is_asked_for():
    assert read_id("#1024/7", is_plain=True) == "1024-7"
    with pytest.raises(ValueError, match="plain_ids = true"):
        read_id("#1024/7", is_plain=False)


@given(st.text(max_size=30))
def test_a_word_is_what_the_job_says_or_a_name(cell):
    try:
        assert is_name(read_word(cell, {"gold, shiny": "brass"}))
    except ValueError as error:
        assert not is_name(cell) and "names = {" in str(error)
        assert str(error).isprintable()


def test_words_are_looked_up_whatever_their_case():
    assert read_word(" GOLD,  shiny", {"gold, shiny": "brass"}) == "brass"
    assert read_word("brass", {"brass": "tin"}) == "tin"
