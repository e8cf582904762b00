"""What every picture of a decorated cup needs: what lies over what, shapes cut to a part of a turn, colours.

A shape of the wall is cut in the plane (mean radius x around, down), where a strip that winds never meets
itself, and only then mapped to the page, its edges divided as finely as the mapping bends them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.outline import Ring, Stroke
from stripegen.shapes import Edge, Shape, images
from stripegen.spec import Line
from stripegen.surface import Frustum

CHORD_MM = 0.04  # on the page; a shape's own samples keep to 0.002 mm of the wall
SPECK_MM2 = 1e-6

DARK, LIGHT = "#1c1c1c", "#ffffff"
TEXT, PALE_TEXT, RULE = "#222222", "#666666", "#9a9a9a"

ColourOfRole = Callable[[str], tuple[str, str]]
"""A line's role -> the name of the vinyl that an order binds to it, and its colour."""

Place = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]
"""(around, down), arrays -> (x, y) on the page."""


@dataclass(frozen=True)
class Painted:
    """One strip as it is seen: where it lies on the cup's own wall, and its vinyl's colour."""

    line: str
    shape: Shape
    colour: str


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


def parts_seen(shape: Shape, low_rad: float, high_rad: float) -> list[shapely.Polygon]:
    """What of a shape lies between two meridians, as polygons of (around, down) in radians and mm.

    The range may be up to a turn; a shape that winds on past it is seen in it once for every turn.
    """
    wall = shape.outer[0].curve.wall
    scale = wall.mean_radius_mm
    box = shapely.box(scale * low_rad, -wall.wall_mm, scale * high_rad, 2 * wall.wall_mm)
    found = []
    for image in images([shape], (low_rad, high_rad)):
        for part in shapely.get_parts(image.polygon.intersection(box)):
            if part.geom_type == "Polygon" and part.area > SPECK_MM2:
                found.append(shapely.transform(part, lambda points: points / (scale, 1.0)))
    return found


def chains_seen(edge: Edge, low_rad: float, high_rad: float) -> Iterator[np.ndarray]:
    """What of a line on the wall lies between two meridians, as chains (n, 2) of (around, down)."""
    chain = shapely.LineString(np.stack(edge.curve.at(edge.samples()), axis=-1))
    wall_mm = edge.curve.wall.wall_mm
    box = shapely.box(low_rad, -wall_mm, high_rad, 2 * wall_mm)
    turn = 2 * np.pi
    x0, _, x1, _ = chain.bounds
    for number in range(int(np.ceil((low_rad - x1) / turn)), int(np.floor((high_rad - x0) / turn)) + 1):
        moved = shapely.transform(chain, lambda points, by=number * turn: points + (by, 0.0))
        for part in shapely.get_parts(moved.intersection(box)):
            if part.geom_type == "LineString" and part.length > 0:
                yield shapely.get_coordinates(part)


def divided(points: np.ndarray, wall: Frustum, within_mm: float) -> np.ndarray:
    """A chain (n, 2) of (around, down), divided so that its picture keeps within so much of its chords.

    For a development and for a view from the side alike: over a step (da, dv) the second difference of
    either is at most r da^2 + 2 |k| da dv, and a chord leaves its curve by an eighth of that.
    """
    steps = np.diff(points, axis=0)
    radius = max(wall.rim_radius_mm, wall.base_radius_mm)
    bend = radius * steps[:, 0] ** 2 + 2 * abs(wall.slope) * np.abs(steps[:, 0] * steps[:, 1])
    counts = np.maximum(1, np.ceil(np.sqrt(bend / (8 * within_mm)))).astype(int)
    starts = np.repeat(points[:-1], counts, axis=0)
    shares = np.concatenate([np.arange(count) / count for count in counts])[:, None]
    return np.concatenate([starts + shares * np.repeat(steps, counts, axis=0), points[-1:]])


def page_rings(part: shapely.Polygon, wall: Frustum, place: Place, within_mm: float) -> tuple[Ring, ...]:
    """A polygon of (around, down) as rings on the page. `within_mm` is on the wall."""
    rings = []
    for ring in (part.exterior, *part.interiors):
        x, y = place(*divided(shapely.get_coordinates(ring), wall, within_mm).T)
        rings.append(Ring.through(zip(x[:-1].tolist(), y[:-1].tolist(), strict=True)))
    return tuple(rings)


def page_stroke(chain: np.ndarray, wall: Frustum, place: Place, within_mm: float) -> Stroke:
    """A chain of (around, down) as a stroke on the page. `within_mm` is on the wall."""
    x, y = place(*divided(chain, wall, within_mm).T)
    return Stroke.through(zip(x.tolist(), y.tolist(), strict=True))


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
