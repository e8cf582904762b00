"""The README's drawing of how a tapered cup is measured."""

from __future__ import annotations

import math
from collections.abc import Sequence

from stripegen.drawing import Drawing, Item, PathItem, TextItem
from stripegen.lettering import page_ground
from stripegen.outline import Ring, Stroke

WIDTH_MM, HEIGHT_MM = 200.0, 104.0
INK, GREY, CUP, SHADE, TAPE, PAPER, RED = "#222222", "#777777", "#efece5", "#d6d2c8", "#f2d04b", "#ffffff", "#b3402a"
SQUASH = 0.13  # how high a level circle is drawn, seen from a little above, to how wide

Point = tuple[float, float]


def how_to_measure() -> Drawing:
    """Two girths and the wall; a strip of paper in place of a tape; a wall that is bowed."""
    items = [page_ground(WIDTH_MM, HEIGHT_MM), *_two_girths(), *_paper_strip(), *_bowed()]
    return Drawing(WIDTH_MM, HEIGHT_MM, tuple(items))


# ---- Parts


def _text(text: str, x: float, y: float, size: float = 3.0, **style) -> TextItem:
    return TextItem(text=text, x_mm=x, y_mm=y, size_mm=size, **{"fill": INK, **style})


def _line(*points: Point, colour: str = INK, width: float = 0.25, dash: tuple[float, ...] = ()) -> PathItem:
    return PathItem(shapes=(Stroke.through(points),), stroke=colour, stroke_width_mm=width, dash_mm=dash)


def _area(points: Sequence[Point], fill: str, stroke: str | None = INK, width: float = 0.25) -> PathItem:
    return PathItem(shapes=(Ring.through(points),), fill=fill, stroke=stroke, stroke_width_mm=width)


def _arc(x: float, y: float, half: float, start: float, end: float, squash: float = SQUASH) -> list[Point]:
    """Points of a level circle from one angle to another, degrees; 0 is its right end, 90 its nearest point."""
    steps = [math.radians(start + (end - start) * k / 36) for k in range(37)]
    return [(x + half * math.cos(t), y + squash * half * math.sin(t)) for t in steps]


def _measure(x: float, top: float, bottom: float, text: str, side: int = 1) -> list[Item]:
    """An upright dimension with small bars at its ends and its name beside it."""
    bars = [_line((x - 1.2, y), (x + 1.2, y)) for y in (top, bottom)]
    name = _text(text, x + 1.8 * side, (top + bottom) / 2 + 1.0, anchor="start" if side > 0 else "end", bold=True)
    return [_line((x, top), (x, bottom)), *bars, name]


class _Cup:
    """A cup drawn from a little above: half widths by height on the page, a rolled lip at its top."""

    def __init__(self, x: float, top: float, bottom: float, halves: Sequence[float]):
        self.x, self.top, self.bottom, self.halves = x, top, bottom, halves

    def half(self, y: float) -> float:
        place = (y - self.top) / (self.bottom - self.top) * (len(self.halves) - 1)
        k = min(int(place), len(self.halves) - 2)
        return self.halves[k] + (place - k) * (self.halves[k + 1] - self.halves[k])

    def items(self) -> list[Item]:
        ys = [self.top + (self.bottom - self.top) * k / 24 for k in range(25)]
        left = [(self.x - self.half(y), y) for y in ys]
        right = [(self.x + self.half(y), y) for y in reversed(ys)]
        wall = [*left, *reversed(_arc(self.x, self.bottom, self.half(self.bottom), 0, 180)), *right]
        lip = self.half(self.top)
        bead = [*_arc(self.x, self.top - 0.6, lip + 1.0, 180, 0), *_arc(self.x, self.top + 1.0, lip + 1.0, 0, 180)]
        mouth = _arc(self.x, self.top - 0.6, lip + 1.0, 0, 350)
        return [_area(wall, CUP), _area(bead, CUP), _area(mouth, SHADE)]

    def band(self, y: float, wide: float = 2.6, fill: str = TAPE) -> list[Item]:
        """A tape or strip laid level round it, its lower edge at this height, with a tape's ticks."""
        upper, lower = (_arc(self.x, at, self.half(at) + 0.35, 180, 0) for at in (y - wide, y))
        ticks = [
            _line(a, (a[0], a[1] + wide * 0.45), width=0.15)
            for a in upper[2:-2:2] if fill == TAPE
        ]  # fmt: skip
        return [_area([*upper, *reversed(lower)], fill), *ticks]


def _two_girths() -> list[Item]:
    cup = _Cup(40.0, 24.0, 84.0, (23.0, 15.0))
    near, far, middle = 40.0, 76.0, 1.0
    left = 40.0 - 23.0
    items: list[Item] = [_text("1  Two girths and the wall", 4, 7, 3.6, bold=True), *cup.items()]
    for y in (near, far):
        items += cup.band(y)
    for y in (near - 2.6, far - 2.6):
        items.append(_line((left - 12.0, y), (cup.x - cup.half(y), y), colour=GREY, width=0.15, dash=(0.8, 0.8)))
    items += [_line((left - 12.0, cup.top), (left - middle, cup.top), colour=GREY, width=0.15, dash=(0.8, 0.8))]
    items += _measure(left - 4.0, cup.top, near - 2.6, "a", -1)
    items += _measure(left - 10.0, cup.top, far - 2.6, "b", 1)
    x0, x1 = cup.x + cup.half(cup.top) + 3.0, cup.x + cup.half(cup.bottom) + 3.0
    slope = (x1 - x0) / (cup.bottom - cup.top)
    items += [_line((x0, cup.top), (x1, cup.bottom))]
    items += [_line((x - 1.2, y + 1.2 * slope), (x + 1.2, y - 1.2 * slope)) for x, y in ((x0, cup.top), (x1, cup.bottom))]
    items += [_text("wall", (x0 + x1) / 2 + 2.0, 58, bold=True)]
    items += [
        _line((58.5, 26.6), (62.0, 16.4), colour=RED, width=0.2),
        _text("not on the rolled lip", 60.0, 15.0, 2.7, anchor="middle", fill=RED),
        _text("girth", cup.x, near + 6.5, 2.7, anchor="middle"),
        _text("girth", cup.x, far - 5.0, 2.7, anchor="middle"),
        _text("a, b and wall: the tape laid straight down the", 4, 91, 2.6, fill=GREY),
        _text("outside from the rim; a and b to the edge on the", 4, 95, 2.6, fill=GREY),
        _text("wider side of the tape that lies round, level.", 4, 99, 2.6, fill=GREY),
    ]
    return items


def _paper_strip() -> list[Item]:
    x = 110.0
    cup = _Cup(x, 24.0, 62.0, (16.0, 12.0))
    items: list[Item] = [_text("2  Or a strip of paper", 80, 7, 3.6, bold=True), *cup.items(), *cup.band(44.0, 3.4, PAPER)]
    on = 44.0 + SQUASH * cup.half(44.0)
    end = [(x + 3.5, on - 3.6), (x + 8.5, on - 4.4), (x + 8.5, on - 0.9), (x + 3.5, on - 0.1)]
    items += [_area(end, PAPER), _line((x + 5.5, on - 5.4), (x + 5.5, on + 1.0), colour=RED, width=0.35)]
    items += [_text("one stroke", x + 1.0, 52.5, 2.6, anchor="middle", fill=RED)]
    items += [_text("over both ends", x + 1.0, 56.0, 2.6, anchor="middle", fill=RED)]
    left, right, y = 83.0, 137.0, 74.0
    items += [_area([(left - 2, y), (right + 3, y), (right + 3, y + 3.6), (left - 2, y + 3.6)], PAPER)]
    items += [_line((mark, y), (mark, y + 3.6), colour=RED, width=0.35) for mark in (left, right)]
    items += [_area([(left - 2, y + 4.4), (right + 3, y + 4.4), (right + 3, y + 9), (left - 2, y + 9)], TAPE)]
    items += [_line((left + k * 2.0, y + 4.4), (left + k * 2.0, y + (7.2 if k % 5 == 0 else 6.0)), width=0.15) for k in range(28)]
    items += [_line((left, y - 2.4), (right, y - 2.4))]
    items += [_line((mark, y - 3.4), (mark, y - 1.4)) for mark in (left, right)]
    items += [_text("girth", (left + right) / 2, y - 3.6, bold=True, anchor="middle")]
    items += [
        _text("Wrap it level, mark, lay it flat,", 80, 95, 2.6, fill=GREY),
        _text("measure from stroke to stroke.", 80, 99, 2.6, fill=GREY),
    ]
    return items


def _bowed() -> list[Item]:
    items: list[Item] = [_text("3  Straight or bowed?", 148, 7, 3.6, bold=True)]
    straight, bowed = _Cup(157.0, 24.0, 62.0, (12.0, 8.0)), _Cup(184.0, 24.0, 62.0, (9.0, 10.5, 11.5, 12.05, 12.2, 12.0, 11.4, 10.4, 9.0))
    for cup, bulge in ((straight, 0.0), (bowed, 3.2)):
        items += cup.items()
        x0, x1 = cup.x - cup.half(26.0) - 0.2 - bulge, cup.x - cup.half(62.0) - 0.2 - bulge
        if not bulge:
            x0, x1 = cup.x - cup.half(20.0) - 0.3, cup.x - cup.half(66.0) - 0.3
        items += [_area([(x0, 19.5), (x1, 66.0), (x1 - 2.2, 66.0), (x0 - 2.2, 19.5)], TAPE)]
    items += [_text("a ruler", 148.5, 71.5, 2.6), _text("lies on it", 148.5, 75.0, 2.6)]
    items += [_text("light at its ends:", 172.0, 71.5, 2.6, fill=RED), _text("give a profile", 172.0, 75.0, 2.6, fill=RED)]
    for at in (28.0, 36.0, 45.0, 54.0, 60.0):
        items += [_line(*_arc(bowed.x, at, bowed.half(at), 180, 0), colour=GREY, width=0.15, dash=(0.8, 0.8))]
    items += [
        _text("Profile: girths at several", 148, 91, 2.6, fill=GREY),
        _text("heights, each height upright", 148, 95, 2.6, fill=GREY),
        _text("from the table.", 148, 99, 2.6, fill=GREY),
    ]
    return items


