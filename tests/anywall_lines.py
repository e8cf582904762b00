"""How far lines and pieces of the tool are from those found without its formulas, on any turned wall."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import reference
import reference_strips as true_lines
from reference_walls import Turned

from stripegen.curves import Curve, Parallel, Straight
from stripegen.cutting import lay_line
from stripegen.flat import lay_flat
from stripegen.laid import Covers
from stripegen.site import Site
from stripegen.slants import EvenDrop, SameSlant
from stripegen.spec import Cup, Diagonal, Down, Line, Pattern, Ring, Vertical
from stripegen.surface import Wall

PATHS = ("straight", "same-slant", "even-drop")
COMMON = {"name": "line", "vinyl": "v"}


@dataclass(frozen=True)
class Pair:
    """A curve of the tool and the same line found without it, each with the t of its ends."""

    tool: Curve
    t0: float
    t1: float
    true: true_lines.Line


def pair_on(wall: Wall, true: Turned, kind: str, start, end) -> Pair:
    """A line of a kind between two places: "vertical" and "ring" take only what they need of them.

    Raises GeometryError where the tool finds none.
    """
    if kind == "vertical":
        low, high = min(start[1], end[1]), max(start[1], end[1])
        return Pair(Straight(wall, start[0], 0.0, 0.0), low, high, true_lines.meridian(true, start[0], low, high))
    if kind == "ring":
        curve = Parallel(wall, start[1], start[0])
        return Pair(curve, 0.0, end[0] - start[0], true_lines.ring(true, start[1], start[0], end[0]))
    if kind == "straight":
        heading, length = wall.straight_way(start, end)
        return Pair(Straight(wall, *start, heading), 0.0, length, true_lines.straight(true, start, end))
    if kind == "same-slant":
        curve, length = SameSlant.between(wall, start, end)
        return Pair(curve, 0.0, length, true_lines.same_slant(true, start, end))
    curve = EvenDrop(wall, *start, end[0] - start[0], end[1] - start[1])
    return Pair(curve, 0.0, 1.0, true_lines.even_drop(true, start, end))


def length_errors(pair: Pair, distances=(0.0, 2.75, -6.0)) -> list[float]:
    """How far the tool's lengths are off, of the line and of those beside it."""
    return [
        abs(abs(pair.tool.parallel(distance).length_mm(pair.t0, pair.t1)) - pair.true.moved(distance).length())
        for distance in distances
    ]


def places_off(pair: Pair, distance: float, count: int = 15) -> float:
    """How far apart the places beside the two lines are at equal shares of their ways."""
    share = np.linspace(0, 1, count)
    around, down = pair.tool.parallel(distance).at(pair.t0 + share * (pair.t1 - pair.t0))
    true = pair.true
    known = true.moved(distance).way(true.t0 + share * (true.t1 - true.t0))
    aside = (np.asarray(around) - known[0]) * true.wall.radius(known[1])
    return float(np.hypot(aside, np.asarray(down) - known[1]).max())


def stripes_of(line: Line) -> list[tuple[float, float]]:
    """From where to where beside the line each stripe reaches."""
    pitch, half = line.width_mm + line.gap_mm, line.width_mm / 2
    middles = [(number - (line.stripes - 1) / 2) * pitch for number in range(line.stripes)]
    return [(middle - half, middle + half) for middle in middles]


def true_strips(true: Turned, line: Line) -> Iterator[true_lines.FlatStrip]:
    """A line's stripes laid flat. Its places are numbers: no seams, shares or clearances."""
    for low, high in stripes_of(line):
        if isinstance(line, Vertical):
            way = true_lines.meridian(true, line.around[0], line.start.value, line.end.value)
        elif isinstance(line, Ring):
            down = line.downs[0].value
            more = math.tau + line.overlap_mm / float(true.radius(down - (low + high) / 2))
            start, end = (line.joint, line.joint + more) if line.start is None else (line.start, line.end)
            way = true_lines.ring(true, down, start, end)
        else:
            start = (line.start_around, line.start_down.value)
            way = true_lines.line_between(true, line.path, start, (line.end_around, line.end_down.value))
        yield true_lines.flat_strip(way, low, high, line.ends)


def tool_pieces(cup: Cup, line: Line):
    site = Site.of(cup, Pattern(name="p", lines=()))
    return [lay_flat(strip) for strip in lay_line(line, site, Covers()).strips]


def piece_errors(cup: Cup, line: Line) -> list[tuple[float, float]]:
    """How far each stripe's length along its own centre line is off, and how far its shape.

    Raises GeometryError where the tool lays none.
    """
    pieces = tool_pieces(cup, line)
    known = list(true_strips(Turned.of(cup), line))
    if len(pieces) != len(known):
        raise AssertionError(f"{len(pieces)} pieces for {len(known)} stripes")
    return [
        (abs(piece.cut_mm - strip.length), reference.apart(piece.outline.polygon(0.001), strip.polygon))
        for piece, strip in zip(pieces, known, strict=True)
    ]


def diagonal(start, end, path: str, ends: str = "level", **more) -> Diagonal:
    return Diagonal(
        **COMMON,
        start_around=start[0],
        start_down=Down(start[1]),
        end_around=end[0],
        end_down=Down(end[1]),
        path=path,
        ends=ends,
        **({"width_mm": 4.0} | more),
    )
