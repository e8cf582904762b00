"""Lengths, shares and angles: against independent exact arithmetic, and what is refused."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.units import (
    is_share,
    parse_degrees,
    parse_length,
    parse_share,
    parse_written_length,
    show_length,
)

MM = {"mm": Decimal(1), "cm": Decimal(10), "in": Decimal("25.4")}


@pytest.mark.parametrize(
    ("written", "unit", "mm"),
    [
        (4, "mm", 4.0),
        (4, "cm", 40.0),
        (4, "in", 101.6),
        (0.1, "in", 2.54),
        (3.3, "in", 83.82),
        (86.0, "mm", 86.0),
        ("4 mm", "in", 4.0),
        ("4mm", "in", 4.0),
        ("2.5cm", "in", 25.0),
        ("0.5 in", "mm", 12.7),
        (".5 in", "mm", 12.7),
        ("3 1/8 in", "mm", 79.375),
        ("1/16in", "mm", 1.5875),
        ("1 / 16 in", "mm", 1.5875),
        ("-1 1/2 in", "mm", -38.1),
        ("+2 mm", "mm", 2.0),
        ("  7 mm ", "mm", 7.0),
        (0, "in", 0.0),
        (10_000, "mm", 10_000.0),
        ("1000 cm", "mm", 10_000.0),
    ],
)
def test_length_is_exact(written, unit, mm):
    assert parse_length(written, unit) == mm


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("", "a number, or a text with its unit"),
        (" ", "a number, or a text with its unit"),
        ("mm", "a number, or a text with its unit"),
        ("4", "has no unit"),
        ("1/2", "has no unit"),
        ("4 feet", 'the unit "mm", "cm" or "in"'),
        ("4 MM", 'the unit "mm", "cm" or "in"'),
        ('3"', 'the unit "mm", "cm" or "in"'),
        ("1/0 in", "divided by 0"),
        ("3 0/0 in", "divided by 0"),
        ("0,5 in", "decimal point, not a comma"),
        ("1e2 mm", "a number, or a text with its unit"),
        ("3 -1/8 in", "a number, or a text with its unit"),
        ("1/2/3 in", "a number, or a text with its unit"),
        ("4 mm 5", "a number, or a text with its unit"),
        ("4\nmm", "unit"),
        ("٤ mm", "a number, or a text with its unit"),
        ("20%", "share of the wall has no meaning here"),
        ("9" * 100 + " mm", "a number, or a text with its unit"),
        (math.nan, "a number, or"),
        (math.inf, "a number, or"),
        (-math.inf, "a number, or"),
        (True, "a number, or"),
        (None, "a number, or"),
        ([4], "a number, or"),
        ({"mm": 4}, "a number, or"),
        (10**400, "a number, or"),
        (10_000.001, "above 10 m"),
        (-10_001, "above 10 m"),
        ("394 in", "above 10 m"),
        ("1001 cm", "above 10 m"),
    ],
)
def test_length_is_refused(written, told):
    with pytest.raises(ValueError, match=told):
        parse_length(written, "mm")


decimals = st.decimals(min_value=0, max_value=390, places=3)


@given(decimals, st.sampled_from(sorted(MM)), st.sampled_from(["", " ", "  "]))
@settings(deadline=None)
def test_a_decimal_means_the_same_bare_and_in_quotes(figure, unit, space):
    expected = float(figure * MM[unit])
    assert parse_length(f"{figure}{space}{unit}", "mm") == expected
    assert parse_length(float(figure), unit) == expected


@given(st.integers(0, 300), st.integers(0, 999), st.integers(1, 999), st.sampled_from(sorted(MM)))
@settings(deadline=None)
def test_a_fraction_goes_there_and_back(whole, over, under, unit):
    figure = whole + Fraction(over, under)
    if figure * Fraction(MM[unit]) > 10_000:
        with pytest.raises(ValueError, match="10 m"):
            parse_length(f"{whole} {over}/{under} {unit}", "mm")
        return
    mm = parse_length(f"{whole} {over}/{under} {unit}", "mm")
    assert (Fraction(mm) / Fraction(MM[unit])).limit_denominator(999) == figure
    assert mm == float(figure * Fraction(MM[unit]))
    assert parse_length(f"-{whole} {over}/{under} {unit}", "mm") == -mm


@given(st.one_of(st.text(), st.from_regex(r"[-+]?[0-9./ ]{1,12}(mm|cm|in|%|)"), st.floats(), st.integers()))
@settings(deadline=None, max_examples=300)
def test_anything_is_a_length_or_a_plain_refusal(written):
    try:
        mm = parse_length(written, "in")
    except ValueError as error:
        assert "must" in str(error) or "unit" in str(error) or "divided" in str(error)
    else:
        assert math.isfinite(mm)
        assert abs(mm) <= 10_000


@pytest.mark.parametrize(
    ("written", "share"),
    [
        ("20%", 0.2),
        ("0%", 0.0),
        ("100 %", 1.0),
        ("-100%", -1.0),
        ("200%", 2.0),
        ("12.5%", 0.125),
        (".5%", 0.005),
    ],
)
def test_share(written, share):
    assert is_share(written)
    assert parse_share(written) == share


@pytest.mark.parametrize(
    "written", ["%", "a%", "1e3%", "nan%", "20", "", 20, None, "2 0%", "1/2%", "9" * 99 + "%"]
)
def test_share_is_refused(written):
    with pytest.raises(ValueError, match="a share such as"):
        parse_share(written)


@pytest.mark.parametrize("written", ["-100.1%", "201%"])
def test_share_far_off_the_wall_is_refused(written):
    with pytest.raises(ValueError, match='from "-100%" to "200%"'):
        parse_share(written)


@given(st.floats(-36_000, 36_000))
def test_degrees(degrees):
    assert parse_degrees(degrees) == pytest.approx(degrees * math.pi / 180, rel=1e-15)


@pytest.mark.parametrize("written", [math.nan, math.inf, True, "90", None, [0], 10**400])
def test_degrees_are_refused(written):
    with pytest.raises(ValueError, match="must be a number of degrees, without quotes"):
        parse_degrees(written)


@pytest.mark.parametrize("written", [36_000.1, -36_001])
def test_too_many_turns_are_refused(written):
    with pytest.raises(ValueError, match="100 turns"):
        parse_degrees(written)


@given(st.floats(-10_000, 10_000), st.sampled_from(sorted(MM)), st.integers(0, 2))
@settings(deadline=None)
def test_a_length_is_shown_as_finely_as_a_tape_is_read(mm, unit, finer):
    shown = show_length(mm, unit, finer)
    places = {"mm": 1, "cm": 2, "in": 2}[unit] + finer
    assert len(shown.partition(".")[2]) == places
    assert abs(Decimal(shown) * MM[unit] - Decimal(mm)) <= MM[unit] * Decimal(10) ** -places / 2 + Decimal("1e-9")
    assert Decimal(shown) or not shown.startswith("-")


@pytest.mark.parametrize(
    "text, unit, length_mm",
    [("3", "mm", 3.0), ("3 mm", "in", 3.0), ("1/8in", "mm", 3.175), ("1/8", "in", 3.175), ("0.3", "cm", 3.0), ("0", "mm", 0.0)],
)
def test_a_length_on_the_command_line_may_leave_out_its_unit(text, unit, length_mm):
    assert parse_written_length(text, unit) == length_mm


@pytest.mark.parametrize("text", ["-1", "wide", "3 feet", "", "11 m", "nan", "20%", "20000"])
def test_what_is_no_length_on_the_command_line_is_refused(text):
    with pytest.raises(ValueError):
        parse_written_length(text, "mm")
