"""Running text on paper: broken into lines that fit."""

from __future__ import annotations

from collections.abc import Iterable

from stripegen.drawing import TextItem
from stripegen.lettering import wrapped

STEP = 1.4  # from line to line, of the size
BETWEEN = 0.3  # more from one text to the next


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
