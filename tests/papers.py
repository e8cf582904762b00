"""Pages of a PDF read back by pdfminer: lines in millimetres, y down, and texts."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from pdfminer.high_level import extract_pages
from pdfminer.layout import LAParams, LTCurve, LTTextLine

MM = 25.4 / 72  # of a point


@dataclass(frozen=True)
class Line:
    points: np.ndarray
    width_mm: float
    dashed: bool


@dataclass(frozen=True)
class Page:
    width_mm: float
    height_mm: float
    lines: list[Line]
    texts: list[tuple[str, np.ndarray]]

    def of_width(self, width_mm: float) -> list[Line]:
        return [line for line in self.lines if abs(line.width_mm - width_mm) < 1e-3]


def read_pages(data: bytes) -> list[Page]:
    return [_page(page) for page in extract_pages(io.BytesIO(data), laparams=LAParams(all_texts=True))]


def _page(page) -> Page:
    lines, texts = [], []
    waiting = list(page)
    while waiting:
        item = waiting.pop(0)
        if isinstance(item, LTCurve) and item.stroke:
            assert all(op in "mlh" for op, *_ in item.original_path)  # everything is straight from point to point
            points = [ends[0] for _, *ends in item.original_path if ends]
            if item.original_path[-1][0] == "h":
                points.append(points[0])
            lines.append(Line(_placed(points, page), item.linewidth * MM, bool(item.dashing_style and item.dashing_style[0])))
        elif isinstance(item, LTTextLine):
            middle = (item.x0 + item.x1) / 2, (item.y0 + item.y1) / 2
            texts.append((item.get_text().strip(), _placed([middle], page)[0]))
        elif hasattr(item, "__iter__"):
            waiting += list(item)
    return Page(page.width * MM, page.height * MM, lines, texts)


def _placed(points, page) -> np.ndarray:
    return np.array([(x, page.height - y) for x, y in points], dtype=float) * MM
