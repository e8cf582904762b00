"""Running text on paper: broken into lines that fit."""

from __future__ import annotations

from collections.abc import Iterable

from stripegen.drawing import TextItem
from stripegen.lettering import text_width_mm

STEP = 1.4  # from line to line, of the size
BETWEEN = 0.3  # more from one text to the next


def wrapped(text: str, size_mm: float, room_mm: float) -> list[str]:
    """A text in lines that have so much room; a word that is longer has a line of its own."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_mm(longer, size_mm) <= room_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def text_lines(
    texts: Iterable[str], x_mm: float, top_mm: float, size_mm: float, room_mm: float, **style
) -> tuple[list[TextItem], float]:
    """Texts under each other, and how far down they reach."""
    items: list[TextItem] = []
    y = top_mm
    for text in texts:
        for line in wrapped(text, size_mm, room_mm):
            items.append(TextItem(text=line, x_mm=x_mm, y_mm=y + size_mm, size_mm=size_mm, **style))
            y += STEP * size_mm
        y += BETWEEN * size_mm
    return items, y
