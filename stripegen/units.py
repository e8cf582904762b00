"""Lengths, shares and angles as people write them: exact conversion to millimetres and radians.

Every function that reads raises ValueError whose text says what would be right, to stand after "read ...;".
"""

from __future__ import annotations

import math
import re
from fractions import Fraction

UNITS = ("mm", "cm", "in")
MM_PER_UNIT = {"mm": Fraction(1), "cm": Fraction(10), "in": Fraction(254, 10)}
SHOWN_PLACES = {"mm": 1, "cm": 2, "in": 2}
LENGTH_LIMIT_MM = 10_000.0
ROLL_LIMIT_MM = 1_000_000.0  # of a roll as it is bought
DEGREE_LIMIT = 36_000.0
SHARE_LEAST, SHARE_MOST = -1.0, 2.0

_DECIMAL = r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+"
_LENGTH = re.compile(
    rf"(?P<sign>[+-]?)(?:(?:(?P<whole>[0-9]+) +)?(?P<over>[0-9]+) ?/ ?(?P<under>[0-9]+)"
    rf"|(?P<decimal>{_DECIMAL}))"
    r" *(?P<unit>[^0-9\s.,/+-]*)"
)
_SHARE = re.compile(rf"[+-]?(?:{_DECIMAL}) *%")
_LONGEST_TEXT = 64

_LENGTH_FORMS = 'a number, or a text with its unit such as "4 mm", "2.5 cm" or "3 1/8 in"'


def parse_length(value: object, default_unit: str, most_mm: float = LENGTH_LIMIT_MM) -> float:
    """Convert a length to millimetres: a bare number in `default_unit`, or a text with its own unit.

    The figure is read as the decimal or fraction that is written, converted exactly and rounded once.
    """
    if isinstance(value, str):
        exact = _length_of_text(value)
    elif _is_number(value):
        # The shortest decimal of the float is what stands in the file.
        exact = Fraction(str(value) if isinstance(value, float) else value) * MM_PER_UNIT[default_unit]
    else:
        raise ValueError(f"must be {_LENGTH_FORMS}")
    if abs(exact) > most_mm:
        raise ValueError(f"no length may be above {most_mm / 1000:g} m; check its unit")
    return float(exact)


def parse_written_length(text: str, default_unit: str) -> float:
    """Convert a length as it is written on a command line to millimetres: with its own unit, or in `default_unit`."""
    exact = _length_of_text(text, default_unit)
    if not 0 <= exact <= LENGTH_LIMIT_MM:
        raise ValueError(f"must be from 0 to {LENGTH_LIMIT_MM / 1000:g} m")
    return float(exact)


def parse_share(value: object) -> float:
    """Convert a share such as "20%" to a fraction (0.2)."""
    text = value.strip() if isinstance(value, str) else ""
    if len(text) > _LONGEST_TEXT or not _SHARE.fullmatch(text):
        raise ValueError('must be a share such as "20%"')
    share = float(Fraction(text[:-1].strip()) / 100)
    if not SHARE_LEAST <= share <= SHARE_MOST:
        raise ValueError('must be a share from "-100%" to "200%"')
    return share


def is_share(value: object) -> bool:
    """Tell whether a value is meant as a share: a text that ends in a percent sign."""
    return isinstance(value, str) and value.rstrip().endswith("%")


def parse_degrees(value: object) -> float:
    """Convert a bare number of degrees to radians, any turn counted (nothing is wrapped)."""
    if not _is_number(value):
        raise ValueError("must be a number of degrees, without quotes")
    if abs(value) > DEGREE_LIMIT:
        raise ValueError("must be degrees from -36000 to 36000, which is 100 turns")
    return math.radians(value)


def show_length(value_mm: float, unit: str, finer: int = 0) -> str:
    """A length as a tape is read, without its unit: to 0.1 mm, 0.01 cm or 0.01 in; `finer` adds decimals."""
    places = SHOWN_PLACES[unit] + finer
    shown = round(value_mm / float(MM_PER_UNIT[unit]), places) + 0.0  # without -0
    return f"{shown:.{places}f}"


def _is_number(value: object) -> bool:
    # The bounds also keep out NaN, and integers that no float can hold.
    return isinstance(value, (int, float)) and not isinstance(value, bool) and -1e300 < value < 1e300


def _length_of_text(text: str, default_unit: str | None = None) -> Fraction:
    if is_share(text):
        raise ValueError(f"a share of the wall has no meaning here: must be {_LENGTH_FORMS}")
    found = _LENGTH.fullmatch(text.strip()) if len(text) <= _LONGEST_TEXT else None
    if found is None:
        comma = " (with a decimal point, not a comma)" if "," in text else ""
        raise ValueError(f"must be {_LENGTH_FORMS}{comma}")
    unit = found["unit"] or default_unit
    if not unit:
        raise ValueError('has no unit: write "mm", "cm" or "in" after it, or leave the quotes out')
    if unit not in MM_PER_UNIT:
        near = [known for known in MM_PER_UNIT if known[0] == unit[0].lower() and unit != "m"]  # metres are not meant as mm
        hint = f'; did you mean "{text.strip().removesuffix(unit)}{near[0]}"?' if near else ""
        raise ValueError(f'must have the unit "mm", "cm" or "in"{hint}')
    if found["decimal"]:
        figure = Fraction(found["decimal"])
    elif int(found["under"]) == 0:
        raise ValueError("can't be divided by 0: must be a fraction such as 1/16")
    else:
        figure = int(found["whole"] or 0) + Fraction(int(found["over"]), int(found["under"]))
    return (-figure if found["sign"] == "-" else figure) * MM_PER_UNIT[unit]
