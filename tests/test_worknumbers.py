"""What is written of a length is read back as nearly as it is written."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.units import MM_PER_UNIT, parse_length
from stripegen.worknumbers import (
    area_text,
    degrees_text,
    inches_text,
    length_text,
    size_text,
    thickness_text,
    total_text,
)

LENGTHS = st.floats(-2000.0, 2000.0)
INCH_MM = 25.4


@given(LENGTHS)
def test_inches_are_read_back_within_a_thirty_second(length):
    assert abs(parse_length(inches_text(length), "mm") - length) <= INCH_MM / 32 + 1e-9


@given(st.integers(-2000, 2000))
def test_every_sixteenth_is_read_back_as_it_is(count):
    assert parse_length(inches_text(INCH_MM * count / 16), "mm") == pytest.approx(INCH_MM * count / 16, abs=1e-9)


@given(LENGTHS)
def test_a_fraction_is_in_lowest_terms_below_one_and_of_a_ruler(length):
    found = re.fullmatch(r"-?(?:(\d+) )?(?:(\d+)/(\d+) )?in", inches_text(length))
    assert found and (found[1] or found[2])
    if found[2]:
        share = Fraction(int(found[2]), int(found[3]))
        assert share.denominator == int(found[3]) and share < 1 and 16 % share.denominator == 0
        assert found[1] != "0"


def test_inches_as_a_ruler_says_them():
    assert [inches_text(INCH_MM * x) for x in (0, 5.1875, 0.5, 3, 1 / 64, -0.25)] == [
        "0 in", "5 3/16 in", "1/2 in", "3 in", "0 in", "-1/4 in",
    ]  # fmt: skip


@given(LENGTHS, st.sampled_from(["mm", "cm", "in"]))
def test_lengths_are_read_back_within_half_of_what_is_shown(length, units):
    within = {"mm": 0.05, "cm": 0.05, "in": INCH_MM / 32}[units]
    assert abs(parse_length(length_text(length, units), "mm") - length) <= within + 1e-9


@given(st.floats(0.0, 500.0), st.floats(0.0, 500.0), st.sampled_from(["mm", "cm", "in"]))
def test_a_size_has_both_lengths_and_its_unit_once(width, length, units):
    first, second = size_text(width, length, units).split(" x ")
    assert f"{first} {units}" == length_text(width, units) and second == length_text(length, units)


@given(st.floats(-20.0, 20.0))
def test_degrees_are_within_a_turn(around):
    shown = float(degrees_text(around).removesuffix("\u00b0"))
    assert 0 <= shown < 360
    assert abs(math.remainder(math.radians(shown) - around, math.tau)) <= math.radians(0.0501)


@given(st.floats(0.01, 5.0), st.sampled_from(["mm", "cm", "in"]))
def test_coats_are_told_finer_than_lengths(thickness, units):
    number, unit = thickness_text(thickness, units).split()
    assert unit == units and abs(float(number) * float(MM_PER_UNIT[units]) - thickness) <= 0.0128


@given(st.floats(0.0, 1e6))
def test_sums_in_both_systems_are_the_same(value):
    metres, feet = (float(total_text(value, units).split()[0]) for units in ("mm", "in"))
    assert abs(metres - 0.3048 * feet) <= 0.005 + 0.05 * 0.3048 + 1e-9
    metric, inches = (float(area_text(value, units).split()[0]) for units in ("cm", "in"))
    assert abs(metric - 6.4516 * inches) <= 0.05 + 0.05 * 6.4516 + 1e-9
