"""Four fixed instances, A to D: each distinct piece as its kind and measures, of which the outline is made.

`instances.json` has a row a distinct piece: how many of it, its width and length in mm, and for a leaning or
tapering one the angles of its ends in degrees, for an arc its radius, for a spiral its first radius and its
growth (below zero: mirrored). They were drawn once at random: A straight, B half straight, a quarter mitred, a
quarter arcs, C arcs and spirals, D 2,000 pieces like B.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path

from stripegen.layout import Blank, Stock

Points = list[tuple[float, float]]

STOCK = Stock(width_mm=295, length_mm=None, margin_mm=0, gap_mm=1.5)
_SAGITTA_MM = 0.02


def straight(width: float, length: float) -> Points:
    return [(0, 0), (length, 0), (length, width), (0, width)]


def leaning(width: float, length: float, first_deg: float, last_deg: float) -> Points:
    """Mitred at both ends, the same way."""
    first, last = (width / math.tan(math.radians(angle)) for angle in (first_deg, last_deg))
    return [(0, 0), (length - last, 0), (length, width), (first, width)]


def tapering(width: float, length: float, first_deg: float, last_deg: float) -> Points:
    """Mitred at both ends, against each other."""
    first, last = (width / math.tan(math.radians(angle)) for angle in (first_deg, last_deg))
    return [(0, 0), (length, 0), (length - last, width), (first, width)]


def arc(width: float, length: float, radius: float) -> Points:
    """Length and radius are those of the centre line."""
    turns = _even(-length / radius / 2, length / radius / 2, radius + width / 2)
    inner, outer = (
        [((radius + side) * math.sin(t), (radius + side) * math.cos(t)) for t in turns] for side in (-width / 2, width / 2)
    )
    return inner + outer[::-1]


def spiral(width: float, length: float, start: float, growth: float) -> Points:
    """r = start e^(growth t) along its centre line, turned so that its ends are level."""
    rate = abs(growth)
    ratio = 1 + length * rate / (start * math.hypot(1, rate))
    sweep = math.log(ratio) / rate
    # Level ends: ratio sin(first + sweep) = sin(first).
    first = math.atan2(-ratio * math.sin(sweep), ratio * math.cos(sweep) - 1)
    sides: list[Points] = []
    for side in (width / 2, -width / 2):
        sides.append([])
        for t in _even(0, sweep, start * ratio):
            r, along = start * math.exp(rate * t), first + t - math.atan(rate)
            x, y = r * math.cos(first + t) + side * math.cos(along), r * math.sin(first + t) + side * math.sin(along)
            sides[-1].append((x, -y if growth < 0 else y))
    return sides[0] + sides[1][::-1]


def _even(first: float, last: float, radius: float) -> list[float]:
    """Angles from first to last, so near that a chord is within 0.02 mm of a circle of this radius."""
    count = math.ceil((last - first) / (2 * math.acos(1 - _SAGITTA_MM / radius)))
    return [first + (last - first) * k / count for k in range(count + 1)]


KINDS = {"straight": straight, "leaning": leaning, "tapering": tapering, "arc": arc, "spiral": spiral}


def from_corner(points: Points) -> tuple[tuple[float, float], ...]:
    """Rounded to 1e-4 mm and moved so that the bounding box starts at (0, 0)."""
    left, top = (min(round(point[axis], 4) for point in points) for axis in (0, 1))
    return tuple((round(x, 4) - left, round(y, 4) - top) for x, y in points)


def instance(name: str) -> list[Blank]:
    """The pieces of A, B, C or D."""
    return list(_pieces(json.loads(Path(__file__).with_name("instances.json").read_text())[name]))


def _pieces(kinds: dict[str, list[list[float]]]) -> Iterator[Blank]:
    shapes = ((count, KINDS[kind](*measures)) for kind, rows in kinds.items() for count, *measures in rows)
    for number, (count, points) in enumerate(shapes):
        outline = from_corner(points)
        for copy in range(count):
            yield Blank(key=f"{number}.{copy}", outline=outline)
