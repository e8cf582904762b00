"""Small pictures of a cup with some of its strips lit, for lists: from one side, or its wall opened at the back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from stripegen.drawing import Item, PathItem
from stripegen.outline import Ring
from stripegen.pictures import Onto, divided, page_rings, parts_seen, profile_bend
from stripegen.shapes import FULL_TURN, Shape
from stripegen.surface import Wall

WIDTH_MM, MOST_HEIGHT_MM = 30.0, 20.0
EDGE_MM, POINTER_MM = 0.6, 2.2  # round the picture; the height of the mark at the zero place
TOP_MM = EDGE_MM + POINTER_MM
WITHIN_MM = 0.08  # on the page
SIDES = 8  # from which the cup is seen
MOST_SPAN_RAD = math.radians(120)  # what spans more is not all seen from one of these sides

BODY, OUTLINE, PALE, PALE_EDGE, LIT_EDGE, POINTER = "#fbfaf7", "#85827c", "#dedbd5", "#b5b1a9", "#111111", "#c62828"
OUTLINE_MM, PALE_EDGE_MM, LIT_EDGE_MM = 0.2, 0.1, 0.1


@dataclass(frozen=True)
class Seen:
    """What is drawn of a cup: its wall, a pointer at the zero place if that is seen, and each strip's rings.

    The picture is WIDTH_MM wide and `height_mm` high.
    """

    height_mm: float
    body: Ring
    pointer: Ring | None
    strips: tuple[tuple[tuple[Ring, ...], ...], ...]


@dataclass(frozen=True, eq=False)
class SmallCup:
    """A cup's wall and the strips that are laid on it, on whatever coat."""

    wall: Wall
    shapes: tuple[Shape, ...]

    def side_of(self, lit: Sequence[int]) -> int | None:
        """From where all of some strips is seen, in degrees; None: from no side, so it takes the opened wall."""
        ranges = [self.shapes[number].around_range for number in lit]
        low, high = min(low for low, _ in ranges), max(high for _, high in ranges)
        if high - low > MOST_SPAN_RAD:
            return None
        step = 360 // SIDES
        return round(math.degrees((low + high) / 2) / step) * step % 360

    def seen(self, side_deg: int | None) -> Seen:
        """The cup from a side, or opened; worked out once a side."""
        if side_deg not in self._seen:
            self._seen[side_deg] = self._opened() if side_deg is None else self._from(side_deg)
        return self._seen[side_deg]

    @cached_property
    def _seen(self) -> dict[int | None, Seen]:
        return {}

    @cached_property
    def _carried(self) -> list[Shape]:
        return [shape.carried(self.wall) for shape in self.shapes]

    def _from(self, side_deg: int) -> Seen:
        """Seen level: at each girth a wall has one radius, so of the front half all is seen."""
        wall = self.wall
        scale = _scale(2 * wall.greatest_radius_mm, wall.height_mm)
        view_rad = math.radians(side_deg)

        def place(around_rad, down_mm):
            x = wall.radius_mm(down_mm) * np.sin(around_rad - view_rad)
            return WIDTH_MM / 2 + scale * x, TOP_MM + scale * wall.drop_mm(down_mm)

        steepest, sharpest, _ = profile_bend(wall)
        onto = Onto(place, (wall.greatest_radius_mm, 2 * steepest, sharpest), wall.bends_mm)
        low_rad, high_rad = view_rad - math.pi / 2, view_rad + math.pi / 2
        right = divided(np.array([[high_rad, 0.0], [high_rad, wall.wall_mm]]), onto, WITHIN_MM / scale)
        both = np.concatenate([right, right[::-1] - (math.pi, 0.0)])
        body = Ring.through(np.stack(place(*both.T), axis=-1).tolist())
        return self._drawn(body, onto, scale, low_rad, high_rad)

    def _opened(self) -> Seen:
        """The wall opened at the back, each girth level and as long as it is."""
        wall = self.wall
        scale = _scale(FULL_TURN * wall.greatest_radius_mm, wall.wall_mm)

        def place(around_rad, down_mm):
            return WIDTH_MM / 2 + scale * wall.radius_mm(down_mm) * around_rad, TOP_MM + scale * np.asarray(down_mm)

        steepest, sharpest, _ = profile_bend(wall)
        onto = Onto(place, (0.0, 2 * steepest, math.pi * sharpest), wall.bends_mm)
        box = shapely.box(-math.pi, 0.0, math.pi, wall.wall_mm)
        return self._drawn(page_rings(box, onto, WITHIN_MM / scale)[0], onto, scale, -math.pi, math.pi)

    def _drawn(self, body: Ring, onto: Onto, scale: float, low_rad: float, high_rad: float) -> Seen:
        strips = tuple(
            tuple(
                page_rings(_coarse(part, self.wall.mean_radius_mm, WITHIN_MM / scale), onto, WITHIN_MM / scale)
                for part in parts_seen(shape, low_rad, high_rad)
            )
            for shape in self._carried
        )
        turn = math.remainder((low_rad + high_rad) / 2, FULL_TURN)
        pointer = _pointer(onto, low_rad, high_rad) if abs(turn) < math.pi / 2 + 1e-9 else None
        return Seen(body.bounds()[3] + EDGE_MM, body, pointer, strips)


def _scale(width_mm: float, height_mm: float) -> float:
    """Of a picture that is so large at true size."""
    return min((WIDTH_MM - 2 * EDGE_MM) / width_mm, (MOST_HEIGHT_MM - TOP_MM - EDGE_MM) / height_mm)


def _coarse(part: shapely.Polygon, radius_mm: float, within_mm: float) -> shapely.Polygon:
    """A polygon of (around, down) with no more points than a small picture needs."""
    flat = shapely.transform(part, lambda points: points * (radius_mm, 1.0))
    return shapely.transform(shapely.simplify(flat, within_mm), lambda points: points / (radius_mm, 1.0))


def _pointer(onto: Onto, low_rad: float, high_rad: float) -> Ring:
    """A small triangle that stands on the rim at the zero place."""
    zero = math.ceil(low_rad / FULL_TURN - 1e-9) * FULL_TURN
    x, y = (float(value) for value in onto.place(np.float64(min(max(zero, low_rad), high_rad)), np.float64(0.0)))
    half = 0.45 * POINTER_MM
    return Ring.through([(x - half, y - 0.9 * POINTER_MM), (x + half, y - 0.9 * POINTER_MM), (x, y - 0.15)])


def pale_items(seen: Seen) -> list[Item]:
    """The cup with all its strips pale."""
    items: list[Item] = [PathItem(shapes=(seen.body,), fill=BODY, stroke=OUTLINE, stroke_width_mm=OUTLINE_MM)]
    if seen.pointer:
        items.append(PathItem(shapes=(seen.pointer,), fill=POINTER))
    for parts in seen.strips:
        items += [PathItem(shapes=part, fill=PALE, stroke=PALE_EDGE, stroke_width_mm=PALE_EDGE_MM) for part in parts]
    return items


def lit_items(seen: Seen, lit: Sequence[int], colours: Sequence[str]) -> list[Item]:
    """Some strips, each in its colour."""
    return [
        PathItem(shapes=part, fill=colour, stroke=LIT_EDGE, stroke_width_mm=LIT_EDGE_MM)
        for number, colour in zip(lit, colours, strict=True)
        for part in seen.strips[number]
    ]
