"""Measures as they are read at the bench: to what a tape or ruler shows, each with its unit."""

from __future__ import annotations

import math
from fractions import Fraction

from stripegen.units import MM_PER_UNIT, show_length

SIXTEENTH = 16
_INCH_MM = float(MM_PER_UNIT["in"])


def length_text(length_mm: float, units: str) -> str:
    """A length to 0.1 mm, 0.01 cm or a sixteenth of an inch."""
    return inches_text(length_mm) if units == "in" else f"{show_length(length_mm, units)} {units}"


def inches_text(length_mm: float) -> str:
    """A length to the nearest sixteenth of an inch: ``5 3/16 in``, ``1/2 in``, ``0 in``."""
    count = round(abs(length_mm) / _INCH_MM * SIXTEENTH)
    whole, over = divmod(count, SIXTEENTH)
    words = [str(whole)] if whole or not over else []
    if over:
        words.append(str(Fraction(over, SIXTEENTH)))
    return ("-" if length_mm < 0 and count else "") + " ".join(words) + " in"


def size_text(width_mm: float, length_mm: float, units: str) -> str:
    """A width and a length; the unit stands once."""
    return f"{length_text(width_mm, units).removesuffix(f' {units}')} x {length_text(length_mm, units)}"


def thickness_text(thickness_mm: float, units: str) -> str:
    """A coat's thickness, finer than a ruler is read."""
    if units == "in":
        return f"{thickness_mm / _INCH_MM:.3f} in"
    return f"{show_length(thickness_mm, units, finer=1)} {units}"


def degrees_text(around_rad: float) -> str:
    """A place round the cup, from 0.0 to below 360 degrees."""
    return f"{round(math.degrees(around_rad), 1) % 360.0:.1f}\u00b0"


def total_text(length_mm: float, units: str) -> str:
    """A sum of lengths, for buying: in metres or feet."""
    return f"{length_mm / _INCH_MM / 12:.1f} ft" if units == "in" else f"{length_mm / 1000:.2f} m"


def area_text(area_mm2: float, units: str) -> str:
    """An area in square inches or cm2."""
    return f"{area_mm2 / _INCH_MM**2:.1f} sq in" if units == "in" else f"{area_mm2 / 100:.1f} cm\u00b2"
