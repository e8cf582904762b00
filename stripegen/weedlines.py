"""Cuts through the waste of a sheet, so that it comes off in parts: a frame round the pieces, and lines across it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from stripegen.outline import Outline, Ring, Stroke

EVERY_MM = 60.0  # waste is cut across so far apart
BROAD_MM = 16.0  # waste is large where a circle so wide fits
SHORTEST_MM = 20.0
CHORD_MM = 0.05


def weed_lines(outlines: Sequence[Outline], gap_mm: float, room: tuple[float, float, float, float]) -> list[Outline | Stroke]:
    """A frame at `gap_mm` from the pieces, within `room` (x0, y0, x1, y1), and lines across the large waste in it.

    No line comes nearer to a piece than `gap_mm`; where there is no room for that beside the pieces, the frame's side lies
    on the room's.
    """
    if not outlines:
        return []
    bounds = np.array([outline.bounds() for outline in outlines])
    x0, y0 = np.maximum(bounds[:, :2].min(axis=0) - gap_mm, room[:2]).tolist()
    x1, y1 = np.minimum(bounds[:, 2:].max(axis=0) + gap_mm, room[2:]).tolist()
    frame = Outline(Ring.through([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
    taken = shapely.union_all([outline.polygon(CHORD_MM).buffer(gap_mm + CHORD_MM) for outline in outlines])
    free = shapely.difference(shapely.box(x0, y0, x1, y1), taken)
    # a frame bears a line that meets it; a piece does not, and the free ground ends before it
    large = free.buffer(-BROAD_MM / 2).buffer(BROAD_MM / 2 - 1e-6).intersection(free)
    shapely.prepare(large)
    strokes = []
    for low, high, line in (
        (y0, y1, lambda at: [(x0, at), (x1, at)]),
        (x0, x1, lambda at: [(at, y0), (at, y1)]),
    ):
        count = math.floor((high - low) / EVERY_MM)
        for at in np.linspace(low, high, count + 2)[1:-1].tolist():
            for part in shapely.get_parts(large.intersection(shapely.LineString(line(at)))):
                if part.geom_type == "LineString" and part.length >= SHORTEST_MM:
                    strokes.append(Stroke.through(part.coords))
    return [frame, *strokes]
