"""What every picture of a decorated cup needs: what lies over what, shapes cut to a part of a turn, colours.

A shape of the wall is cut in the plane (mean radius x around, down), where a strip that winds never meets
itself, and only then mapped to the page, its edges divided as finely as the mapping bends them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.outline import Ring, Stroke
from stripegen.shapes import Edge, Shape, images
from stripegen.spec import Line
from stripegen.surface import Wall

CHORD_MM = 0.04  # on the page; a shape's own samples keep to 0.002 mm of the wall
SPECK_MM2 = 1e-6
HATCH_MM = 2.2
PROFILE_MM = 0.5  # a wall's slopes are looked at so far apart

DARK, LIGHT = "#1c1c1c", "#ffffff"
TEXT, PALE_TEXT, RULE = "#222222", "#666666", "#9a9a9a"

ColourOfRole = Callable[[str], tuple[str, str]]
"""A line's role -> the name of the vinyl that an order binds to it, and its colour."""

Place = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]
"""(around, down), arrays -> (x, y) on the page."""


@dataclass(frozen=True)
class Onto:
    """How the wall comes onto a page, and how much a line on it bends on its way.

    Over a step of (da, dv) in around and down the second difference of the picture, in mm of wall, is at most
    `bending` times (da^2, |da dv|, dv^2); at the wall's bends the picture has a corner.
    """

    place: Place
    bending: tuple[float, float, float]
    bends_mm: tuple[float, ...] = ()


@lru_cache(maxsize=256)
def profile_bend(wall: Wall) -> tuple[float, float, np.ndarray]:
    """The greatest slope of a wall, its sharpest turn a mm between bends, and the places down that were looked at."""
    steepest = sharpest = 0.0
    looked = []
    for low, high in pairwise((0.0, *wall.bends_mm, wall.wall_mm)):
        count = max(2, math.ceil((high - low) / PROFILE_MM))
        downs = low + (np.arange(count) + 0.5) * ((high - low) / count)
        slopes = wall.slope_at(downs)
        turns = np.abs(np.diff(np.arcsin(np.clip(slopes, -1.0, 1.0))))
        steepest = max(steepest, float(np.max(np.abs(slopes))))
        sharpest = max(sharpest, float(np.max(turns)) * count / (high - low))
        looked.append(downs)
    return steepest, sharpest, np.concatenate(looked)


@dataclass(frozen=True)
class Painted:
    """One strip as it is seen: where it lies on the cup's own wall, its vinyl's colour, and its id in drawings."""

    line: str
    shape: Shape
    colour: str
    id: str | None = None


def painted_strips(decoration: Decoration, colour_of_role: ColourOfRole) -> list[Painted]:
    """Every strip of a decoration, each before those that lie over it."""
    laid = {laid.line.name: laid for laid in decoration.lines}
    return [
        Painted(line.name, strip.shape.carried(decoration.site.wall), colour_of_role(line.vinyl)[1])
        for line in in_painting_order([laid.line for laid in decoration.lines])
        for strip in laid[line.name].strips
    ]


def vinyls_of(decoration: Decoration, colour_of_role: ColourOfRole) -> list[tuple[str, str]]:
    """The name and colour of each vinyl in use, once, in the order of the lines."""
    return list(dict.fromkeys(colour_of_role(laid.line.vinyl) for laid in decoration.lines))


def in_painting_order(lines: Sequence[Line]) -> list[Line]:
    """The lines as listed, but each after those that go under it.

    Raises ValueError where lines go under each other in a circle.
    """
    placed: dict[str, Line] = {}

    def place(line: Line, over: tuple[str, ...]) -> None:
        if line.name in over:
            raise ValueError(f"lines go under each other in a circle: {', '.join(over)}")
        for other in lines:
            if line.name in other.under and other.name not in placed:
                place(other, (*over, line.name))
        placed[line.name] = line

    for line in lines:
        if line.name not in placed:
            place(line, ())
    return list(placed.values())


def parts_seen(
    shape: Shape, low_rad: float, high_rad: float, low_mm: float = -math.inf, high_mm: float = math.inf
) -> list[shapely.Polygon]:
    """What of a shape lies between two meridians and two parallels, as polygons of (around, down) in radians and mm.

    The range may be up to a turn; a shape that winds on past it is seen in it once for every turn.
    """
    wall = shape.outer[0].curve.wall
    scale = wall.mean_radius_mm
    box = _box(wall, scale * low_rad, scale * high_rad, low_mm, high_mm)
    found = []
    for image in images([shape], (low_rad, high_rad)):
        for part in shapely.get_parts(image.polygon.intersection(box)):
            if part.geom_type == "Polygon" and part.area > SPECK_MM2:
                found.append(shapely.transform(part, lambda points: points / (scale, 1.0)))
    return found


def _box(wall: Wall, x0: float, x1: float, low_mm: float, high_mm: float) -> shapely.Polygon:
    return shapely.box(x0, max(low_mm, -wall.wall_mm), x1, min(high_mm, 2 * wall.wall_mm))


def chains_seen(
    edge: Edge, low_rad: float, high_rad: float, low_mm: float = -math.inf, high_mm: float = math.inf
) -> Iterator[np.ndarray]:
    """What of a line on the wall lies between two meridians and two parallels, as chains (n, 2) of (around, down)."""
    chain = shapely.LineString(np.stack(edge.curve.at(edge.samples()), axis=-1))
    box = _box(edge.curve.wall, low_rad, high_rad, low_mm, high_mm)
    turn = 2 * np.pi
    x0, _, x1, _ = chain.bounds
    for number in range(int(np.ceil((low_rad - x1) / turn)), int(np.floor((high_rad - x0) / turn)) + 1):
        moved = shapely.transform(chain, lambda points, by=number * turn: points + (by, 0.0))
        for part in shapely.get_parts(moved.intersection(box)):
            if part.geom_type == "LineString" and part.length > 0:
                yield shapely.get_coordinates(part)


def divided(points: np.ndarray, onto: Onto, within_mm: float) -> np.ndarray:
    """A chain (n, 2) of (around, down), divided so that its picture keeps within so much of its chords.

    A chord leaves its curve by at most an eighth of the second difference.
    """
    points = _parted(points, onto.bends_mm)
    steps = np.diff(points, axis=0)
    round_round, round_down, down_down = onto.bending
    bend = round_round * steps[:, 0] ** 2 + round_down * np.abs(steps[:, 0] * steps[:, 1])
    bend += down_down * steps[:, 1] ** 2
    counts = np.maximum(1, np.ceil(np.sqrt(bend / (8 * within_mm)))).astype(int)
    starts = np.repeat(points[:-1], counts, axis=0)
    shares = np.concatenate([np.arange(count) / count for count in counts])[:, None]
    return np.concatenate([starts + shares * np.repeat(steps, counts, axis=0), points[-1:]])


def _parted(points: np.ndarray, bends_mm: Sequence[float]) -> np.ndarray:
    """A chain with a point more wherever it crosses a bend."""
    for bend_mm in bends_mm:
        below = points[:, 1] - bend_mm
        crossing = np.flatnonzero(below[:-1] * below[1:] < 0)
        share = below[crossing] / (below[crossing] - below[crossing + 1])
        around = points[crossing, 0] + share * (points[crossing + 1, 0] - points[crossing, 0])
        met = np.stack([around, np.full_like(around, bend_mm)], axis=-1)
        points = np.insert(points, crossing + 1, met, axis=0)
    return points


def page_rings(part: shapely.Polygon, onto: Onto, within_mm: float) -> tuple[Ring, ...]:
    """A polygon of (around, down) as rings on the page. `within_mm` is on the wall."""
    rings = []
    for ring in (part.exterior, *part.interiors):
        x, y = onto.place(*divided(shapely.get_coordinates(ring), onto, within_mm).T)
        rings.append(Ring.through(zip(x[:-1].tolist(), y[:-1].tolist(), strict=True)))
    return tuple(rings)


def page_stroke(chain: np.ndarray, onto: Onto, within_mm: float) -> Stroke:
    """A chain of (around, down) as a stroke on the page. `within_mm` is on the wall."""
    x, y = onto.place(*divided(chain, onto, within_mm).T)
    return Stroke.through(zip(x.tolist(), y.tolist(), strict=True))


def hatched(area: shapely.Polygon) -> list[Stroke]:
    """Slanted lines over an area of the page."""
    x0, y0, x1, y1 = area.bounds
    reach = y1 - y0
    starts = np.arange(x0 - reach, x1, HATCH_MM * math.sqrt(2))
    lines = shapely.MultiLineString([[(x, y1), (x + reach, y0)] for x in starts.tolist()])
    return [
        Stroke.through(shapely.get_coordinates(line).tolist())
        for line in shapely.get_parts(lines.intersection(area))
        if line.geom_type == "LineString" and line.length > 0
    ]


def mixed(first: str, second: str, share: float) -> str:
    """A colour so far on the way from one to another."""
    ways = zip(_channels(first), _channels(second), strict=True)
    return "#" + "".join(f"{round(a + share * (b - a)):02x}" for a, b in ways)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, 0 to 1 (WCAG 2, IEC 61966-2-1)."""
    shares = [value / 255 for value in _channels(colour)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2)."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


def ink_on(ground: str) -> str:
    """Dark or light, whichever is read better on a ground."""
    return max((DARK, LIGHT), key=lambda ink: contrast(ink, ground))


def edge_colour(colour: str, ground: str) -> str:
    """A line that sets a strip off from what it lies on: darker than it, or lighter where it is dark itself.

    It is the stronger the less the two differ.
    """
    wanted = 1.7 if contrast(colour, ground) < 1.6 else 1.3
    steps = (mixed(colour, ink, share / 10) for ink in (DARK, LIGHT) for share in range(2, 11))
    return next(edge for edge in steps if contrast(edge, colour) >= wanted)


def _channels(colour: str) -> list[int]:
    return [int(colour[start : start + 2], 16) for start in (1, 3, 5)]
