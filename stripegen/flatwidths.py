"""The widths of strips and the heights of rings, named on the flat picture where nothing lies."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.drawing import Item, PathItem
from stripegen.flatfigures import Board
from stripegen.flatsheet import Sheet
from stripegen.lettering import HALF_HEIGHT, centred, text_box, text_width_mm
from stripegen.outline import Stroke
from stripegen.pictures import CHORD_MM, RULE
from stripegen.shapes import Shape
from stripegen.spec import Line, Ring
from stripegen.widths import measure, width_text

SIZE_MM = 2.3
STEP_MM = 5.0  # along a strip's edge, between places that are tried
BESIDE_MM = 1.0  # from a strip to a text beside it
LED_MM = (3.5, 6.0, 9.0)  # from a strip to a text at the end of a leader
MOST_PLACES = 400
NOTE = "A line's name is followed by its width in {}; a ring's middle is so high over the table as 'up' says."


@dataclass(frozen=True)
class _Named:
    """What is to be named once: shapes on the wall, and what is said of them."""

    text: str
    shapes: tuple[Shape, ...]


def width_names(sheet: Sheet, decoration: Decoration, board: Board, units: str) -> tuple[list[Item], int]:
    """Names beside the strips, and how many found no room."""
    items: list[Item] = []
    nameless = 0
    for named in _named(decoration, units):
        found = _beside(sheet, named, board) or _led(sheet, named, board)
        items += found
        nameless += 0 if found else 1
    return items, nameless


def _named(decoration: Decoration, units: str) -> Iterator[_Named]:
    """Each line, or each ring of one, with its strips."""
    wall = decoration.site.wall
    for laid in decoration.lines:
        shapes = [strip.shape.carried(wall) for strip in laid.strips]
        text = width_text(laid.line, units)
        if not isinstance(laid.line, Ring):
            if shapes:
                yield _Named(text, tuple(shapes))
            continue
        for ring in _rings(laid.line, shapes):
            downs = [shape.polygon.bounds[side] for shape in ring for side in (1, 3)]
            up_mm = wall.height_mm - float(wall.drop_mm((min(downs) + max(downs)) / 2))
            yield _Named(f"{text}, {measure(up_mm, units)} up", tuple(ring))


def _rings(line: Line, shapes: list[Shape]) -> Iterator[list[Shape]]:
    """The strips of each ring: those of one are no further apart than the ring is wide."""
    ring: list[Shape] = []
    for shape in sorted(shapes, key=lambda shape: shape.polygon.bounds[1]):
        if ring and shape.polygon.bounds[3] > ring[0].polygon.bounds[1] + line.full_width_mm + 1e-3:
            yield ring
            ring = []
        ring.append(shape)
    if ring:
        yield ring


def _edges(sheet: Sheet, named: _Named) -> list[tuple[float, float]]:
    """Points along the edges of what is named, on the page."""
    points: list[tuple[float, float]] = []
    for shape in named.shapes:
        for band, part in sheet.parts(shape):
            ring = shapely.LinearRing(sheet.rings(band, part)[0].points(CHORD_MM))
            at = np.arange(STEP_MM / 2, ring.length, STEP_MM)
            points += shapely.get_coordinates(shapely.line_interpolate_point(ring, at)).tolist()
    return points[:: max(1, -(-len(points) // MOST_PLACES))]


def _beside(sheet: Sheet, named: _Named, board: Board) -> list[Item]:
    """The name right beside its strip, level."""
    half = text_width_mm(named.text, SIZE_MM) / 2 + BESIDE_MM
    rise = HALF_HEIGHT * SIZE_MM + BESIDE_MM
    for x, y in _edges(sheet, named):
        for right, below in ((half, 0.0), (-half, 0.0), (0.0, rise), (0.0, -rise)):
            text = centred(named.text, x + right, y + below, SIZE_MM, 0.0, role="width")
            box = text_box(text, 0.3)
            if board.wall.contains(box) and board.is_free(box) and board.is_bare(box):
                return board.put(text)
    return []


def _led(sheet: Sheet, named: _Named, board: Board) -> list[Item]:
    """The name a little away from its strip, at the end of a leader."""
    half = text_width_mm(named.text, SIZE_MM) / 2
    left_mm = sheet.bounds()[0]  # rulers stand further to the left
    for away in LED_MM:
        for x, y in _edges(sheet, named):
            for right, below in ((half + away, away / 2), (-half - away, away / 2), (0.0, away), (0.0, -away)):
                text = centred(named.text, x + right, y + below, SIZE_MM, 0.0, role="width")
                box = text_box(text, 0.3)
                leader = shapely.LineString([(x, y), (x + right, y + below)]).difference(box)
                placed = box.bounds[0] >= left_mm and board.is_free(box) and board.is_bare(box)
                if placed and board.is_free(leader):
                    board.taken.append(leader.buffer(0.1))
                    line = Stroke.through(shapely.get_coordinates(leader).tolist())
                    colour = board.ink if board.wall.contains(box) else RULE
                    return [PathItem(shapes=(line,), stroke=colour, stroke_width_mm=0.13, role="leader"), *board.put(text)]
    return []
