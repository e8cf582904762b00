"""Letters of single lines, as a pen draws them: the same on every machine, whatever fonts it has.

A text is as high as its capitals are. Loaded when a key sheet or a pen file is written.
"""

from __future__ import annotations

import math
from functools import cache

from HersheyFonts import HersheyFonts

from stripegen.outline import Point, Stroke

FONT = "rowmans"
UNKNOWN = "?"
# of the font's own units
CAP, BASE = -12.0, 9.0
HIGH = BASE - CAP
SPACE, DASH = 10.0, 16.0

Glyph = tuple[float, tuple[tuple[Point, ...], ...]]


@cache
def _glyphs() -> dict[str, Glyph]:
    """Each letter's width and lines, capitals 1 high, y down, the base line at 0."""
    font = HersheyFonts()
    font.load_default_font(FONT)
    found = {}
    for letter, glyph in font.all_glyphs.items():
        width, lines = float(glyph.char_width), [line for line in glyph.strokes if len(line) > 1]
        shift = -float(glyph.left_offset)
        if letter == " ":
            width = SPACE
        elif letter == "-":  # as long as a minus sign: it is made a hyphen
            width, shift, lines = DASH, DASH / 2, [[(x * 5.0 / 9.0, y) for x, y in line] for line in lines]
        found[letter] = (
            width / HIGH,
            tuple(tuple(((x + shift) / HIGH, (y - BASE) / HIGH) for x, y in line) for line in lines),
        )
    return found


def _glyph(letter: str) -> Glyph:
    glyphs = _glyphs()
    return glyphs.get(letter) or glyphs[UNKNOWN]


def text_width(text: str, height_mm: float) -> float:
    """How long a text is."""
    return height_mm * sum(_glyph(letter)[0] for letter in text)


def text_strokes(
    text: str, x_mm: float, y_mm: float, height_mm: float, anchor: str = "start", turn_deg: float = 0.0
) -> tuple[Stroke, ...]:
    """The lines of a text whose base line is at (x, y), turned about that point, +x towards +y.

    Letters that the font lacks are drawn as "?". `anchor`: "start", "middle" or "end".
    """
    turn = math.radians(turn_deg)
    c, s = math.cos(turn) * height_mm, math.sin(turn) * height_mm
    at = -{"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * text_width(text, 1.0)
    found = []
    for letter in text:
        width, lines = _glyph(letter)
        for line in lines:
            found.append(
                Stroke.through([(x_mm + (at + x) * c - y * s, y_mm + (at + x) * s + y * c) for x, y in line])
            )
        at += width
    return tuple(found)


def in_lines(text: str, height_mm: float, room_mm: float) -> list[str]:
    """The text in lines that there is room for, broken at spaces, or where a word is longer than that."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".lstrip()
        if text_width(longer, height_mm) <= room_mm:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and text_width(lines[-1] + letter, height_mm) > room_mm:
                lines.append("")
            lines[-1] += letter
    return lines
