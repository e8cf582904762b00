"""Numbers as files hold them: so many decimals, no exponent, no -0, nothing that is not a number."""

from __future__ import annotations

from math import isfinite

from stripegen.errors import GeometryError

COORDINATE_DECIMALS = 4
"""Flat coordinates are written to 1e-4 mm."""


def rounded(value: float, decimals: int = COORDINATE_DECIMALS) -> float:
    """The value rounded to so many decimals, never -0.0.

    Raises
    ------
    GeometryError    if the value is infinite or not a number
    """
    if not isfinite(value):
        raise GeometryError(f"a number in a file must be finite: got {value}")
    return round(float(value), decimals) + 0.0  # -0.0 + 0.0 is 0.0


def number_text(value: float, decimals: int = COORDINATE_DECIMALS) -> str:
    """The value as text, rounded to so many decimals, without needless zeros: ``"12.5"``, ``"-3"``, ``"0"``.

    Raises
    ------
    GeometryError    if the value is infinite or not a number
    """
    text = f"{rounded(value, decimals):.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
