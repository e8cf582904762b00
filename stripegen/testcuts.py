"""Thin test pieces in a sheet's waste, one each way, by which it is seen whether the cutter cuts to size."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from stripegen.outline import Outline, Ring

LONGEST_MM, SHORTEST_MM = 200.0, 40.0
WIDE_MM = 4.0
STEP_MM = 1.0
CHORD_MM = 0.05


def pieces_to_measure(
    outlines: Sequence[Outline], gap_mm: float, room: tuple[float, float, float, float]
) -> dict[str, Outline]:
    """The longest test pieces of whole millimetres that fit between a sheet's pieces, by name: "across" and "along".

    Each is a gap away from everything, and lies within `room` (x0, y0, x1, y1). One that would be shorter than 40 mm is
    left out.
    """
    solids = [outline.polygon(CHORD_MM) for outline in outlines]
    found: dict[str, Outline] = {}
    for name in ("along", "across"):
        box = _longest(solids, gap_mm, room, upright=name == "along")
        if box is not None:
            x0, y0, x1, y1 = box
            ring = Ring.through([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
            found[f"test.{name}"] = Outline(ring)
            solids.append(shapely.box(*box))
    return found


def _longest(
    solids: Sequence[shapely.Polygon], gap_mm: float, room: tuple[float, float, float, float], upright: bool
) -> tuple[float, float, float, float] | None:
    """The longest box of the test piece's width: along x, or `upright` along y; the first of equally long ones."""
    if upright:
        turned = [shapely.transform(solid, lambda points: points[:, ::-1]) for solid in solids]
        box = _longest(turned, gap_mm, (room[1], room[0], room[3], room[2]), upright=False)
        return box and (box[1], box[0], box[3], box[2])
    x0, y0, x1, y1 = room
    grown = [solid.buffer(gap_mm + CHORD_MM) for solid in solids]
    tree = shapely.STRtree(grown)
    best, longest = None, SHORTEST_MM - 1e-9
    for y in np.arange(y0, y1 - WIDE_MM + 1e-9, STEP_MM).tolist():
        belt = shapely.box(x0, y, x1, y + WIDE_MM)
        reached = x0
        spans = sorted(
            (part.bounds[0], part.bounds[2])
            for number in tree.query(belt, predicate="intersects")
            for part in shapely.get_parts(grown[number].intersection(belt))
        )
        for start, end in [*spans, (x1, x1)]:
            long = min(LONGEST_MM, np.floor(start - reached + 1e-9))
            if long > longest:
                best, longest = (reached, y, reached + float(long), y + WIDE_MM), long
            reached = max(reached, end)
        if longest >= LONGEST_MM:
            break
    return best
