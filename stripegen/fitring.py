"""A narrow ring of paper, to lay round a cup before its vinyl is cut: it reads the girth where it closes on itself."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stripegen.drawing import Drawing, Item, TextItem
from stripegen.errors import GeometryError
from stripegen.fitspec import ring_down_mm, section_end_mm
from stripegen.lettering import fitted_mm, page_ground, text_width_mm
from stripegen.paper import BLACK, GREY, MARGIN_MM, Ink, Paper, drawn, measure_square, text_on
from stripegen.surface import Frustum, Wall
from stripegen.textlines import text_lines

HEIGHTS_MM = (10.0, 8.0, 6.0, 5.0, 4.0)
SNUG_MM = 0.1  # the paper's girths are as near as that to the wall's, where its height allows
LONGER_MM = 12.0
TAB_MM = 10.0
FIGURE_MM = 2.2
TICKS_MM = {1: 1.4, 5: 2.2, 10: 3.0}
APART_MM = 9.0  # lengths, one under the other; over each there is room for a name
WITHIN_MM = 0.005
MOST_LENGTHS = 60
TITLE_MM, TEXT_MM = 5.6, 3.2


@dataclass(frozen=True, slots=True)
class FitRing:
    """A ring of paper whose upper edge lies `down_mm` down a wall, where that is `girth_mm` round by the measures."""

    cone: Frustum
    down_mm: float
    girth_mm: float

    @property
    def long_mm(self) -> float:
        return self.girth_mm + LONGER_MM

    def at(self, along_mm: float, below_mm: float) -> tuple[float, float]:
        """So far along the upper edge and below it, laid flat about its beginning, which is upright."""
        turn = along_mm / self.cone.rim_radius_mm
        x, y = self.cone.develop(turn, below_mm)
        return float(x), float(y)


def fit_ring(wall: Wall) -> FitRing:
    """The ring of a wall with its resin: a part of the wall's own section, or of a cone close to a smooth wall."""
    down_mm = ring_down_mm(wall)
    room_mm = section_end_mm(wall, down_mm) - down_mm
    for height_mm in (min(height, room_mm) for height in HEIGHTS_MM):
        downs = np.linspace(down_mm, down_mm + height_mm, 65)
        radii = wall.radius_mm(downs)
        cone = Frustum.from_radii(float(radii[0]), float(radii[-1]), height_mm)
        if math.tau * float(np.max(np.abs(radii - cone.radius_mm(downs - down_mm)))) <= SNUG_MM:
            break
    return FitRing(cone, down_mm, float(wall.girth_mm(down_mm)))


def ring_pages(ring: FitRing, cup: str, paper: Paper) -> list[Drawing]:
    """The ring at true size in lengths that fit a page, with what to do. Raises GeometryError where they are too many."""
    width, bottom = paper.width_mm - 2 * MARGIN_MM, paper.height_mm - MARGIN_MM
    head, y = _head(ring, cup, paper)
    lengths = _lengths(ring, width, bottom - MARGIN_MM - 2 * APART_MM)
    pages: list[list[Item]] = [head]
    for number, (first, last) in enumerate(lengths, 1):
        inks, texts, (x0, y0, x1, y1) = _length(ring, first, last, number, len(lengths))
        if y + APART_MM + y1 - y0 > bottom:
            pages.append([page_ground(paper.width_mm, paper.height_mm)])
            y = MARGIN_MM
        dx, dy = MARGIN_MM + (width - (x1 - x0)) / 2 - x0, y + APART_MM - y0
        pages[-1] += _moved(inks, texts, dx, dy)
        y += APART_MM + y1 - y0
    return [Drawing(paper.width_mm, paper.height_mm, tuple(items)) for items in pages]


def _head(ring: FitRing, cup: str, paper: Paper) -> tuple[list[Item], float]:
    width = paper.width_mm - 2 * MARGIN_MM
    title, y = f"Fit ring: cup {cup}", MARGIN_MM + TITLE_MM
    right = MARGIN_MM + width - 50.0
    items: list[Item] = [page_ground(paper.width_mm, paper.height_mm)]
    size = fitted_mm(title, TITLE_MM, width, bold=True)
    items.append(TextItem(text=title, x_mm=MARGIN_MM, y_mm=y, size_mm=size, bold=True, role="title"))
    y += 5.0
    items += measure_square(right, y)
    texts, below = text_lines(_what_to_do(ring), MARGIN_MM, y, TEXT_MM, right - MARGIN_MM - 6.0, role="what-to-do")
    items += texts
    y = max(below, y + 52.0)
    paste = f'fit = {{ down = "{ring.down_mm:g} mm", circumference = "231.5 mm" }}'
    first = f"Then put a line like this into the job, in the table [cup.{cup}], with your reading in place of 231.5:"
    last = (
        "It shifts every radius alike, so that the cup is so far round there; slopes stay as measured. If what you read is "
        f"{ring.girth_mm:.1f}, the measures need no line. A preset's table is first copied into the job."
    )
    for words, bold in ((first, False), (paste, True), (last, False)):
        texts, y = text_lines([words], MARGIN_MM, y, TEXT_MM, width, bold=bold, role="paste")
        items += texts
    return items, y


def _what_to_do(ring: FitRing) -> Iterator[str]:
    yield "1. Print at 100 %, then measure the square."
    yield (
        "2. Cut out the lengths, each tab with its length. Glue each length's left edge to the line before the tab of the one "
        "before it."
    )
    yield (
        f"3. Lay the ring round the cup with its resin on, cured as its data sheet says, the upper edge {ring.down_mm:g} mm "
        "down from the rim all round (through the handle, if it has one)."
    )
    yield (
        "4. Lay the end marked 0 over the other end, snug, not stretched, and read the millimetres at the edge of the 0 end, "
        "to half a millimetre."
    )
    yield (
        f"By the measures it closes at {ring.girth_mm:.1f} mm, where the long mark is. Paper of 0.1 mm reads 0.3 mm more than "
        "the wall, as film does that closes round it."
    )


def _lengths(ring: FitRing, width_mm: float, height_mm: float) -> list[tuple[float, float]]:
    """The fewest equal lengths that fit a page, each from whole millimetres on."""
    for count in range(1, MOST_LENGTHS + 1):
        step = math.ceil(ring.long_mm / count)
        starts = [float(step * n) for n in range(count) if step * n < ring.long_mm]
        ends = [*starts[1:], ring.long_mm]
        boxes = [_length(ring, first, last, 1, 2)[2] for first, last in zip(starts, ends, strict=True)]
        if all(x1 - x0 <= width_mm and y1 - y0 <= height_mm for x0, y0, x1, y1 in boxes):
            return list(zip(starts, ends, strict=True))
    raise GeometryError(f"its fit ring would take more than {MOST_LENGTHS} lengths of paper")


def _length(
    ring: FitRing, first_mm: float, last_mm: float, number: int, count: int
) -> tuple[list[Ink], list[TextItem], tuple[float, float, float, float]]:
    """One length laid flat, its middle upright: its lines, texts and bounds."""
    middle, high = (first_mm + last_mm) / 2, ring.cone.wall_mm
    is_last = number == count
    far_mm = last_mm + (0.0 if is_last else TAB_MM)
    lean = ring.cone.slope / ring.cone.rim_radius_mm  # of the paper, for each mm along it

    def at(along: float, below: float) -> tuple[float, float]:
        return ring.at(along - middle, below)

    def way(along: float, *belows: float) -> np.ndarray:
        return np.array([at(along, below) for below in belows])

    def edge(below: float) -> np.ndarray:
        bend = abs(ring.cone.slope) / ring.cone.rim_radius_mm
        steps = max(1, math.ceil((far_mm - first_mm) * math.sqrt(max(bend, 1e-12) / (8 * WITHIN_MM))))
        return np.array([at(along, below) for along in np.linspace(first_mm, far_mm, steps + 1)])

    outline = [edge(0.0), edge(high), way(first_mm, 0.0, high), way(far_mm, 0.0, high)]
    inks = [Ink(line, 0.25, role="edge") for line in outline]
    if not is_last:
        inks.append(Ink(way(last_mm, 0.0, high), 0.18, dash_mm=(1.2, 0.8), role="join"))
    texts: list[TextItem] = []

    def text(words: str, along: float, below: float, size: float, **style) -> None:
        turn = -math.degrees(lean * (along - middle)) + style.pop("turn_deg", 0.0)
        texts.append(text_on(words, *at(along, below), size, turn, **style))

    for mm in range(math.ceil(first_mm), math.floor(last_mm + 1e-9) + 1):
        step = next(step for step in (10, 5, 1) if mm % step == 0)
        inks.append(Ink(way(mm, 0.0, min(TICKS_MM[step], 0.6 * high)), 0.12, role="tape"))
        if step == 10:
            half = text_width_mm(f"{mm}", FIGURE_MM) / 2 + 0.3
            aside = max(0.0, half - (mm - first_mm)) - max(0.0, half - (last_mm - mm))
            text(f"{mm}", mm + aside, min(TICKS_MM[10] + 1.4, 0.75 * high), FIGURE_MM, role="tape")
    if first_mm <= ring.girth_mm <= last_mm:
        inks.append(Ink(way(ring.girth_mm, -4.0, min(TICKS_MM[10], 0.6 * high)), 0.3, role="expected"))
        text(f"by the measures {ring.girth_mm:.1f}", ring.girth_mm, -5.8, 2.6, role="expected")
    if not is_last:
        text("glue", last_mm + TAB_MM / 2, high / 2, 2.4, fill=GREY, role="tab")
    if high >= 8:
        begin = first_mm + 0.25 * (last_mm - first_mm)
        name = f"{ring.down_mm:g} mm down" if count == 1 else f"{ring.down_mm:g} mm down, length {number} of {count}"
        text(name, begin, high - 1.8, FIGURE_MM, fill=BLACK, role="name")
    points = np.concatenate([ink.points for ink in inks])
    x0, y0, x1, y1 = *points.min(axis=0), *points.max(axis=0)
    return inks, texts, (float(x0), float(y0), float(x1), float(y1))


def _moved(inks: Sequence[Ink], texts: Sequence[TextItem], dx: float, dy: float) -> list[Item]:
    lines = drawn(replace(ink, points=ink.points + (dx, dy)) for ink in inks)
    return [*lines, *(replace(text, x_mm=text.x_mm + dx, y_mm=text.y_mm + dy) for text in texts)]

