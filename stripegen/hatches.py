"""How the pieces of different orders look on a key: a pale tint, and lines that show in black and white too.

The lines run the same way on every piece of a sheet, and one of each kind goes through the piece's middle, so that a
narrow strip that lies along them shows one too.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

PITCH_MM = 3.0


@dataclass(frozen=True)
class Hatch:
    """Lines at some angles from +x towards +y, `apart_mm` from each other, or pairs of lines with `between_mm` between the two."""

    angles_deg: tuple[float, ...] = ()
    apart_mm: float = PITCH_MM
    line_mm: float = 0.13
    dash_mm: tuple[float, ...] = ()
    between_mm: float = 0.0


DOTS, DASHES = (0.45, 1.15), (1.5, 0.9)
HATCHES = (
    Hatch(),
    Hatch((45,)),
    Hatch((135,)),
    Hatch((0,), 1.6),
    Hatch((90,), 2.4),
    Hatch((0,), 1.6, 0.45, DOTS),
    Hatch((45, 135), 3.4),
    Hatch((0, 90), 2.4),
    Hatch((45,), 2.6, 0.55),
    Hatch((135,), 2.6, 0.55),
    Hatch((90,), 3.0, 0.55),
    Hatch((0,), 1.6, 0.5, DASHES),
    Hatch((45,), 4.2, between_mm=0.8),
    Hatch((135,), 4.2, between_mm=0.8),
    Hatch((90,), 4.4, between_mm=0.8),
    Hatch((45, 135), 4.4, 0.45, DOTS),
)
# pale, and apart from each other to the colour-blind too: light and dark, yellow and blue
TINTS = ("#f3ead0", "#d5e6f5", "#f6d9cb", "#dcefe6", "#e9def0", "#fbf3a8", "#e4e4e4")


@dataclass(frozen=True)
class Filling:
    """How an order's pieces are filled."""

    tint: str
    hatch: Hatch


def fillings_of(orders: Sequence[str], sheets: Iterable[Iterable[str]]) -> dict[str, Filling]:
    """A filling for each order of a job, the same on all its sheets, which are told by the orders on them.

    Orders that share a sheet have different hatches as far as there are enough, else at least different tints.
    """
    beside: dict[str, set[str]] = {order: set() for order in orders}
    for on_sheet in map(set, sheets):
        for order in on_sheet:
            beside[order] |= on_sheet - {order}
    found: dict[str, Filling] = {}
    for number, order in enumerate(orders):
        near = [found[other] for other in beside[order] if other in found]
        taken = Counter(filling.hatch for filling in near)
        # its own by its place in the job, or the next one that is free
        hatches = [HATCHES[(number + k) % len(HATCHES)] for k in range(len(HATCHES))]
        tints = [TINTS[(number + k) % len(TINTS)] for k in range(len(TINTS))]
        hatch = min(hatches, key=lambda hatch: taken[hatch])
        tint = next((tint for tint in tints if Filling(tint, hatch) not in near), tints[0])
        found[order] = Filling(tint, hatch)
    return found


def hatch_lines(
    shapes: Sequence[shapely.Polygon], middles: Sequence[tuple[float, float]], hatch: Hatch
) -> list[list[tuple[tuple[float, float], tuple[float, float]]]]:
    """For each shape the lines in it, one through its middle."""
    if not hatch.angles_deg or not shapes:
        return [[] for _ in shapes]
    found: list[list] = [[] for _ in shapes]
    boxes = shapely.bounds(np.array(shapes, dtype=object))
    for angle in hatch.angles_deg:
        lines, owner = _crossing(boxes, np.asarray(middles, dtype=float), hatch, math.radians(angle))
        parts = shapely.intersection(lines, np.array(shapes, dtype=object)[owner])
        parts, number = shapely.get_parts(parts, return_index=True)
        keep = (shapely.get_type_id(parts) == 1) & (shapely.length(parts) > 0.3)
        parts, number = parts[keep], number[keep]
        ends = np.stack([shapely.get_coordinates(shapely.get_point(parts, at)) for at in (0, -1)], axis=1)
        for index, (first, last) in zip(owner[number].tolist(), ends.tolist(), strict=True):
            found[index].append((tuple(first), tuple(last)))
    return found


def _crossing(boxes: np.ndarray, middles: np.ndarray, hatch: Hatch, angle: float) -> tuple[np.ndarray, np.ndarray]:
    """Lines over the boxes, and which box each is for."""
    along, across = np.array([math.cos(angle), math.sin(angle)]), np.array([-math.sin(angle), math.cos(angle)])
    corners = boxes[:, [[0, 1], [2, 1], [2, 3], [0, 3]]]
    off = (corners - middles[:, None]) @ across
    way = (corners - middles[:, None]) @ along
    lows, highs = np.ceil(off.min(axis=1) / hatch.apart_mm), np.floor(off.max(axis=1) / hatch.apart_mm)
    counts = np.maximum(0, highs - lows + 1).astype(int)
    owner = np.repeat(np.arange(len(boxes)), counts)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts) + lows[owner]
    away = [step * hatch.apart_mm]
    if hatch.between_mm:
        away = [away[0] - hatch.between_mm / 2, away[0] + hatch.between_mm / 2]
        owner = np.concatenate([owner, owner])
    at = middles[owner] + np.concatenate(away)[:, None] * across
    starts, ends = (at + (limit(axis=1)[owner] + more)[:, None] * along for limit, more in ((way.min, -1), (way.max, 1)))
    return shapely.linestrings(np.stack([starts, ends], axis=1)), owner
