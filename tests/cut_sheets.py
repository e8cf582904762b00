"""Cut sheets of outlines for tests of the writers."""

from __future__ import annotations

from collections.abc import Iterable

from stripegen.drawing import Drawing, cut_drawing
from stripegen.outline import Outline
from stripegen.writers.pdf import drawing_pdf
from stripegen.writers.svg import drawing_svg


def cut_sheet(width_mm: float, height_mm: float, pieces: Iterable[tuple[str, Outline]]) -> Drawing:
    return cut_drawing(width_mm, height_mm, ((name, shape.rings) for name, shape in pieces))


def cut_svg(width_mm: float, height_mm: float, pieces: Iterable[tuple[str, Outline]], **how) -> str:
    return drawing_svg(cut_sheet(width_mm, height_mm, pieces), **how)


def cut_pdf(width_mm: float, height_mm: float, pieces: Iterable[tuple[str, Outline]]) -> bytes:
    return drawing_pdf(cut_sheet(width_mm, height_mm, pieces))
