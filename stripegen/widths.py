"""What is said of a line's width in pictures with dimensions."""

from __future__ import annotations

from stripegen.spec import Line, Vertical
from stripegen.units import show_length


def measure(value_mm: float, units: str) -> str:
    """A length in mm or inches ("mm", "in"), without its unit."""
    return show_length(value_mm, units).removesuffix(".0")


def width_text(line: Line, units: str) -> str:
    """A line's name and how wide its strips are."""
    text = f"{line.name} {measure(line.width_mm, units)}"
    if line.stripes > 1:
        width, gap = measure(line.width_mm, units), measure(line.gap_mm, units)
        text = f"{line.name} {line.stripes} \u00d7 {width}, {gap} apart"
    return f"{text}, narrowing" if isinstance(line, Vertical) and line.narrows else text


def unit_name(units: str) -> str:
    return "inches" if units == "in" else "mm"
