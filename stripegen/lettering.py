"""Text in pictures: how much room it takes; the head and the scale bar that every picture has."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import affinity

from stripegen.drawing import Item, PathItem, TextItem
from stripegen.outline import Ring, Stroke
from stripegen.pictures import DARK, PALE_TEXT, TEXT, mixed
from stripegen.units import MM_PER_UNIT

# a generic sans-serif may be any; these are the widths of a broad one, in shares of the size
_NARROW, _DIGIT, _LOWER, _UPPER, _BROAD = 0.36, 0.64, 0.62, 0.74, 0.92
_BOLD = 1.1
ASCENT, DESCENT = 0.76, 0.24  # of the size, over and under the base line
HALF_HEIGHT = 0.36  # of a figure or capital
HEAD_OVER_DEG = 92.0  # a text may be turned so far; to the left, as one that runs upwards, a little further
LEAN_BACK_DEG = 16.0

MARGIN_MM = 12.0
CHIP_MM = 3.6
BAR_STEPS = {"mm": (5, 10, 20, 50, 100, 200, 500), "in": (1, 2, 4, 8, 16)}
LONGEST_BAR_MM = 60.0  # on the page
BAR_TEXT_MM = 2.6


def text_width_mm(text: str, size_mm: float, bold: bool = False) -> float:
    """About how long a text is, rather too long than too short."""
    return size_mm * sum(map(_share, text)) * (_BOLD if bold else 1.0)


def _share(letter: str) -> float:
    if letter in " .,:;'!|()[]/-ijlftr":
        return _NARROW if letter not in "ftr" else 0.42
    if letter.isdigit():
        return _DIGIT
    if letter in "mwMW@%":
        return _BROAD
    return _LOWER if letter.islower() else _UPPER


def fitted_mm(text: str, size_mm: float, room_mm: float, bold: bool = False) -> float:
    """The size at which a text takes no more room than there is, at most the given one."""
    return min(size_mm, size_mm * room_mm / max(text_width_mm(text, size_mm, bold), 1e-9))


def elided(text: str, size_mm: float, room_mm: float) -> str:
    """The text, or as much of its beginning as there is room for."""
    if text_width_mm(text, size_mm) <= room_mm:
        return text
    while text and text_width_mm(text + "\u2026", size_mm) > room_mm:
        text = text[:-1]
    return text + "\u2026"


def wrapped(text: str, size_mm: float, room_mm: float, bold: bool = False) -> list[str]:
    """The text in lines that there is room for, broken at spaces, after hyphens, or where a word is longer than that."""

    def fits(words: str) -> bool:
        return text_width_mm(words.rstrip(), size_mm, bold) <= room_mm

    lines = [""]
    for part in re.findall(r"[^\s-]*-+|[^\s-]+ ?| ", " ".join(text.split())):
        if not fits(lines[-1] + part):
            lines.append("")
        for letter in part:
            if lines[-1] and not fits(lines[-1] + letter):
                lines.append("")
            lines[-1] += letter
    return [line.strip() for line in lines if line.strip()] or [""]


def centred(text: str, x_mm: float, y_mm: float, size_mm: float, turn_deg: float, **style) -> TextItem:
    """A text whose middle is at a point, turned, but never head over: it is then turned the other way."""
    turn_deg = (turn_deg + 180) % 360 - 180
    if turn_deg > HEAD_OVER_DEG:
        turn_deg -= 180
    elif turn_deg < -HEAD_OVER_DEG - LEAN_BACK_DEG:
        turn_deg += 180
    turn, drop = math.radians(turn_deg), HALF_HEIGHT * size_mm
    x, y = x_mm - drop * math.sin(turn), y_mm + drop * math.cos(turn)
    return TextItem(text=text, x_mm=x, y_mm=y, size_mm=size_mm, anchor="middle", turn_deg=turn_deg, **style)


def text_box(item: TextItem, pad_mm: float = 0.0) -> shapely.Polygon:
    """The room that a text takes on the page, and so much round it. Figures hang nothing below the line."""
    width = text_width_mm(item.text, item.size_mm, item.bold)
    left = item.x_mm - {"start": 0.0, "middle": width / 2, "end": width}[item.anchor]
    hang = 0.04 if all(letter in "0123456789. " for letter in item.text) else DESCENT
    box = shapely.box(
        left - pad_mm,
        item.y_mm - ASCENT * item.size_mm - pad_mm,
        left + width + pad_mm,
        item.y_mm + hang * item.size_mm + pad_mm,
    )
    return affinity.rotate(box, item.turn_deg, origin=(item.x_mm, item.y_mm))


def filled(box: shapely.Polygon, colour: str, opacity: float = 1.0, role: str | None = None) -> PathItem:
    """A polygon without holes in one colour."""
    points = shapely.get_coordinates(box.exterior)[:-1].tolist()
    return PathItem(shapes=(Ring.through(map(tuple, points)),), fill=colour, opacity=opacity, role=role)


def page_ground(width_mm: float, height_mm: float) -> PathItem:
    """The white page: a viewer may show what is left out in any colour."""
    return filled(shapely.box(0, 0, width_mm, height_mm), "#ffffff", role="page")


@dataclass(frozen=True)
class Head:
    """The head of a picture and how far down the page it reaches."""

    items: tuple[Item, ...]
    bottom_mm: float


def picture_head(title: str, subtitle: str, vinyls: Sequence[tuple[str, str]], width_mm: float) -> Head:
    """A title, a line under it and a chip for each vinyl (name, colour) with its name."""
    room = width_mm - 2 * MARGIN_MM
    y = MARGIN_MM + 4.4
    items: list[Item] = [
        TextItem(
            text=title,
            x_mm=MARGIN_MM,
            y_mm=y,
            size_mm=fitted_mm(title, 6.0, room, bold=True),
            fill=TEXT,
            bold=True,
            role="title",
        )
    ]
    y += 6.2
    items.append(
        TextItem(
            text=subtitle,
            x_mm=MARGIN_MM,
            y_mm=y,
            size_mm=fitted_mm(subtitle, 3.4, room),
            fill=PALE_TEXT,
            role="subtitle",
        )
    )
    x, y = MARGIN_MM, y + 7.0
    for name, colour in vinyls:
        size = fitted_mm(name, 3.2, room - CHIP_MM - 1.8)
        step = CHIP_MM + 1.8 + text_width_mm(name, size) + 7.0
        if x > MARGIN_MM and x + step - 7.0 > width_mm - MARGIN_MM:
            x, y = MARGIN_MM, y + 5.6
        chip = shapely.box(x, y - CHIP_MM + 0.55, x + CHIP_MM, y + 0.55)
        ring = Ring.through(map(tuple, shapely.get_coordinates(chip.exterior)[:-1].tolist()))
        items.append(
            PathItem(
                shapes=(ring,),
                fill=colour,
                stroke=mixed(colour, DARK, 0.35),
                stroke_width_mm=0.15,
                role="chip",
            )
        )
        items.append(
            TextItem(text=name, x_mm=x + CHIP_MM + 1.8, y_mm=y, size_mm=size, fill=TEXT, role="vinyl")
        )
        x += step
    return Head(tuple(items), y + 1.0)


def scale_bar(right_mm: float, y_mm: float, scale: float, units: str = "mm") -> list[Item]:
    """A bar of a round length in mm or inches that ends at `right_mm`, its length to the left of it."""
    steps, page_mm = BAR_STEPS[units], scale * float(MM_PER_UNIT[units])
    long = max((step for step in steps if step * page_mm <= LONGEST_BAR_MM), default=steps[0])
    left = right_mm - long * page_mm
    ends = [(left, y_mm - 2.2), (left, y_mm - 0.8), (right_mm, y_mm - 0.8), (right_mm, y_mm - 2.2)]
    name = TextItem(
        text=f"{long} {units}", x_mm=left - 1.6, y_mm=y_mm, size_mm=BAR_TEXT_MM, anchor="end", fill=TEXT, role="scale"
    )
    return [PathItem(shapes=(Stroke.through(ends),), stroke=TEXT, stroke_width_mm=0.2, role="scale"), name]
