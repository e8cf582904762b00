"""Where each piece's mark stands on a sheet: in the piece, along it, or where it is too narrow beside it.

A mark is the letters and an arrow towards the rim, in a box. Pieces that are cut alike have it at the same place.
Beside a piece it stands where the fewest other pieces are, and never on another mark.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from PIL import Image, ImageDraw

from stripegen.flat import FlatPiece
from stripegen.outline import Point, Stroke
from stripegen.placing import Placed
from stripegen.strokefont import text_strokes, text_width

HEIGHTS_MM = (3.6, 3.0, 2.4, 2.1, 1.8)
BESIDE_MM = 2.2
PAD_MM = 0.25  # of the box round the letters
GAP = 0.45  # from letters to arrow; this and what follows in heights of the letters
ARROW = 1.0
HEAD, HALF_HEAD = 0.42, 0.26
PLACES = 40  # along a piece's edge, where a place is looked for
GUTTER_MM = 8.0  # beside the sheet, where a mark may stand too
CELL_MM, MOST_CELLS = 0.5, 8_000_000  # larger squares on a sheet that would have more
REACHES_MM = (2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0, 28.0, 40.0)
WAYS = 16
LEAN_DEG = 12.0
COVERS = 25.0  # mm farther off that a mark would go, not to lie on other pieces


@dataclass(frozen=True)
class Label:
    """A mark on a sheet: the middle of its box, how the letters are turned, their height, and the way to the rim.

    `points_at` is the place on the piece where the line ends that joins them, where the mark stands beside the piece.
    """

    piece: str
    mark: str
    x_mm: float
    y_mm: float
    turn_deg: float
    height_mm: float
    rim_deg: float
    points_at: Point | None = None

    @property
    def size_mm(self) -> tuple[float, float]:
        """How long and high its box is."""
        return _size(self.mark, self.height_mm, self.rim_deg - self.turn_deg)

    @property
    def corners(self) -> list[Point]:
        """Of its box."""
        return _boxes([(self.x_mm, self.y_mm)], [self.turn_deg], [self.size_mm])[0].tolist()

    @property
    def box(self) -> shapely.Polygon:
        return shapely.Polygon(self.corners)

    @property
    def letters(self) -> tuple[Stroke, ...]:
        """The strokes of its letters."""
        height, turn = self.height_mm, math.radians(self.turn_deg)
        c, s = math.cos(turn), math.sin(turn)
        left, down = PAD_MM - self.size_mm[0] / 2, height / 2
        x, y = self.x_mm + left * c - down * s, self.y_mm + left * s + down * c
        return text_strokes(self.mark, x, y, height, "start", self.turn_deg)

    @property
    def arrow(self) -> tuple[Stroke, Stroke]:
        """The strokes of its arrow: the shaft, to its tip, and the head."""
        height, turn, rim = self.height_mm, math.radians(self.turn_deg), math.radians(self.rim_deg)
        long, _ = self.size_mm
        off = long / 2 - PAD_MM - _arrow_size(self.rim_deg - self.turn_deg)[0] * height / 2
        x, y = self.x_mm + off * math.cos(turn), self.y_mm + off * math.sin(turn)
        along = np.array([math.cos(rim), math.sin(rim)]) * height
        across = np.array([-along[1], along[0]])
        tip, tail = np.array([x, y]) + ARROW / 2 * along, np.array([x, y]) - ARROW / 2 * along
        barbs = [tip - HEAD * along + side * HALF_HEAD * across for side in (1, -1)]
        return _line(tail, tip), _line(barbs[0], tip, barbs[1])

    def mirrored(self, width_mm: float) -> Label:
        """As seen from behind a sheet so wide: elsewhere, but to be read as ever. Of a mark that stands in its piece."""
        turn_deg, rim_deg = right_way_up(-self.turn_deg), 180.0 - self.rim_deg
        return replace(self, x_mm=width_mm - self.x_mm, turn_deg=turn_deg, rim_deg=rim_deg)


def _line(*points: np.ndarray) -> Stroke:
    return Stroke.through(tuple(point.tolist()) for point in points)


def _arrow_size(turn_deg: float) -> tuple[float, float]:
    """How long and high an arrow is that is turned so, in heights of the letters."""
    c, s = (abs(way(math.radians(turn_deg))) for way in (math.cos, math.sin))
    return ARROW * c + 2 * HALF_HEAD * s, ARROW * s + 2 * HALF_HEAD * c


def _size(mark: str, height_mm: float, rim_deg: float) -> tuple[float, float]:
    """How long and high the box of a mark is, whose arrow is turned so."""
    long, high = _arrow_size(rim_deg)
    letters = text_width(mark, 1.0)
    return (letters + GAP + long) * height_mm + 2 * PAD_MM, max(1.0, high) * height_mm + 2 * PAD_MM


def right_way_up(turn_deg: float) -> float:
    """The same line of letters, not head over; upright ones are read from below, and those that lean a little."""
    turn = math.remainder(turn_deg, 180.0)
    return turn - 180.0 if turn > 90.0 - LEAN_DEG else turn


def _boxes(middles: Sequence[Point], turns_deg: Sequence[float], sizes_mm: Sequence[tuple[float, float]]) -> np.ndarray:
    """The corners of boxes, (n, 4, 2)."""
    turn, half = np.radians(turns_deg), np.array(sizes_mm) / 2
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    x, y = half[:, :1] * (-1, 1, 1, -1), half[:, 1:] * (-1, -1, 1, 1)
    return np.array(middles)[:, None] + np.stack([x * c - y * s, x * s + y * c], axis=2)


@dataclass(frozen=True)
class _Spot:
    """A place in a piece, in its own frame: its middle, the letters' turn and their height, None where none fits.

    `points` are places in the piece at which a line may end.
    """

    middle: Point
    turn_deg: float
    height_mm: float | None
    points: tuple[Point, ...]


def labels_of(
    placed: Sequence[Placed],
    marks: Mapping[str, str],
    width_mm: float,
    length_mm: float,
    kept_free: Sequence[Sequence[Point]] = (),
    heights_mm: Sequence[float] = HEIGHTS_MM,
    turn_deg: float = 0.0,
) -> list[Label]:
    """Each piece's mark on a sheet, at one of these heights, the first that fits, or else beside it.

    None beside its piece lies on what is `kept_free`. The letters are not head over where the sheet is turned so, by quarter turns.
    """
    labels, narrow = inside_labels(placed, marks, heights_mm, turn_deg)
    if narrow:
        ground = _Ground(placed, [*(label.corners for label in labels), *kept_free], width_mm, length_mm)
        height = BESIDE_MM * heights_mm[-1] / HEIGHTS_MM[-1]
        labels += [ground.label(each, spot, marks[each.piece.id], height, -turn_deg) for each, spot in narrow]
    return labels


def inside_labels(
    placed: Sequence[Placed], marks: Mapping[str, str], heights_mm: Sequence[float] = HEIGHTS_MM, turn_deg: float = 0.0
) -> tuple[list[Label], list[tuple[Placed, _Spot]]]:
    """The marks that stand in their pieces, and the pieces that are too narrow for theirs."""
    spots: dict[str, _Spot] = {}
    labels, narrow = [], []
    for each in placed:
        mark, place = marks[each.piece.id], each.placement
        if mark not in spots:
            spots[mark] = _spot(each.piece.flat, mark, heights_mm)
        spot = spots[mark]
        if spot.height_mm is None:
            narrow.append((each, spot))
            continue
        x, y = moved(each, [spot.middle])[0]
        turn = right_way_up(spot.turn_deg + place.turn_deg + turn_deg) - turn_deg
        labels.append(Label(each.piece.id, mark, x, y, turn, spot.height_mm, rim_deg(each)))
    return labels, narrow


def rim_deg(placed: Placed) -> float:
    """The way to the rim on the sheet, from +x towards +y: up the piece as it is laid flat."""
    return placed.placement.turn_deg - 90.0


def moved(placed: Placed, points: Sequence[Point]) -> list[Point]:
    """Points of a piece's own frame where they lie on the sheet."""
    place = placed.placement
    turn = math.radians(place.turn_deg)
    c, s = math.cos(turn), math.sin(turn)
    return [(x * c - y * s + place.dx_mm, x * s + y * c + place.dy_mm) for x, y in points]


def _spot(flat: FlatPiece, mark: str, heights_mm: Sequence[float]) -> _Spot:
    """The place for a mark: at the highest letters that fit, as near the middle of the piece as may be."""
    solid = shapely.Polygon(*flat.cut_points)
    shapely.prepare(solid)
    middle = flat.middle if solid.contains(shapely.Point(flat.middle)) else _point_in(solid)
    along = 90.0 - math.degrees(flat.lean_rad)

    def highest(middles: Sequence[Point], turns: Sequence[float], heights) -> tuple[int, float] | None:
        for height in heights:
            boxes = _boxes(middles, turns, [_size(mark, height, -90.0 - turn) for turn in turns])
            fits = np.flatnonzero(shapely.contains(solid, shapely.polygons(boxes)))
            if fits.size:
                return int(fits[0]), height
        return None

    best = highest([middle], [along], heights_mm)
    if best and best[1] == heights_mm[0]:
        return _Spot(middle, along, best[1], (middle,))
    middles, turns = _along(solid, flat.width_mm, middle)
    higher = heights_mm[: heights_mm.index(best[1])] if best else heights_mm
    better = highest(middles, turns, higher) if middles and flat.width_mm > heights_mm[-1] else None
    points = (middle, *middles[:: max(1, len(middles) // 6)])
    if better:
        return _Spot(middles[better[0]], turns[better[0]], better[1], points)
    return _Spot(middle, along, best and best[1], points)


def _point_in(solid: shapely.Polygon) -> Point:
    point = solid.representative_point()
    return point.x, point.y


def _along(solid: shapely.Polygon, width_mm: float, middle: Point) -> tuple[list[Point], list[float]]:
    """Points in the middle of a strip, with its direction there, the nearest to its own middle first."""
    ring = solid.exterior
    at = (np.arange(PLACES) + 0.5) / PLACES * ring.length
    near = np.minimum(0.4, ring.length / PLACES / 3)
    before, after = (shapely.get_coordinates(shapely.line_interpolate_point(ring, at + off)) for off in (-near, near))
    way = after - before
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    inwards = np.stack([-way[:, 1], way[:, 0]], axis=1) * (1 if ring.is_ccw else -1)
    points = (before + after) / 2 + inwards * width_mm / 2
    held = shapely.contains_xy(solid, *points.T)
    points, turns = points[held], np.degrees(np.arctan2(way[:, 1], way[:, 0]))[held]
    order = np.argsort(np.hypot(*(points - middle).T), kind="stable")
    return [tuple(point) for point in points[order].tolist()], turns[order].tolist()


class _Ground:
    """A sheet in small squares: what pieces take, what marks take, and what is free."""

    def __init__(self, placed: Sequence[Placed], taken: Sequence[Sequence[Point]], width_mm: float, length_mm: float):
        sides = width_mm + 2 * GUTTER_MM, length_mm + 2 * GUTTER_MM
        self.cell_mm = max(CELL_MM, math.sqrt(sides[0] * sides[1] / MOST_CELLS))
        self.columns, self.rows = (math.ceil(side / self.cell_mm) for side in sides)
        pieces = self._drawn([moved(each, each.piece.flat.cut_points[0]) for each in placed], 0)
        self.sums = np.zeros((self.rows + 1, self.columns + 1), dtype=np.int32)
        self.sums[1:, 1:] = pieces.cumsum(0, dtype=np.int32).cumsum(1, dtype=np.int32)
        self.taken = self._drawn(taken, 2)

    def _drawn(self, shapes: Sequence[Sequence[Point]], line: int) -> np.ndarray:
        """The squares that some shapes take, and those next to them where they have a line so many squares wide."""
        image = Image.new("1", (self.columns, self.rows))
        draw = ImageDraw.Draw(image)
        for shape in shapes:
            points = [((x + GUTTER_MM) / self.cell_mm - 0.5, (y + GUTTER_MM) / self.cell_mm - 0.5) for x, y in shape]
            draw.polygon(points, fill=1)
            if line:
                draw.line([*points, points[0]], fill=1, width=line)
        return np.array(image, dtype=bool)

    def label(self, placed: Placed, spot: _Spot, mark: str, height_mm: float, turn_deg: float) -> Label:
        """A mark beside a piece, level or upright, and its place taken."""
        size = _size(mark, height_mm, rim_deg(placed) - turn_deg)
        size = size[::-1] if turn_deg else size
        points = moved(placed, spot.points)
        while (found := self._near(points, *size) or self._anywhere(points[:1], *size)) is None:
            self._lengthen()
        (x, y), points_at = found
        x0, y0, x1, y1 = self._cells(x, y, *size)
        self.taken[y0:y1, x0:x1] = True
        return Label(placed.piece.id, mark, x, y, turn_deg, height_mm, rim_deg(placed), points_at)

    def _lengthen(self) -> None:
        """More ground below the sheet."""
        more = math.ceil(20.0 / self.cell_mm)
        self.rows += more
        self.sums = np.pad(self.sums, ((0, more), (0, 0)), mode="edge")
        self.taken = np.pad(self.taken, ((0, more), (0, 0)))

    def _cells(self, x, y, long: float, high: float):
        """The squares that a level box touches, from and up to."""
        lows = ((at + GUTTER_MM - size / 2) / self.cell_mm for at, size in ((x, long), (y, high)))
        highs = ((at + GUTTER_MM + size / 2) / self.cell_mm for at, size in ((x, long), (y, high)))
        return *(np.floor(low).astype(int) for low in lows), *(np.ceil(high).astype(int) for high in highs)

    def _near(self, points: Sequence[Point], long: float, high: float) -> tuple[Point, Point] | None:
        """The middle of the best free box near some points, and which of them it is for."""
        ways = np.arange(WAYS) * 2 * math.pi / WAYS
        offs = np.array(REACHES_MM)[:, None, None] * np.stack([np.cos(ways), np.sin(ways)], axis=1)
        offs = offs.reshape(-1, 2)
        offs += np.sign(np.round(offs, 6)) * (long / 2 - 1.0, high / 2 - 1.0)
        at = (np.array(points)[:, None] + offs).reshape(-1, 2)
        owner = np.repeat(np.arange(len(points)), len(offs))
        x0, y0, x1, y1 = self._cells(at[:, 0], at[:, 1], long, high)
        held = (x0 >= 0) & (y0 >= 0) & (x1 <= self.columns) & (y1 <= self.rows)
        at, owner, x0, y0, x1, y1 = (each[held] for each in (at, owner, x0, y0, x1, y1))
        covers = (self.sums[y1, x1] - self.sums[y0, x1] - self.sums[y1, x0] + self.sums[y0, x0]) / ((x1 - x0) * (y1 - y0))
        far = np.hypot(*(at - np.array(points)[owner]).T) - long / 2
        for index in np.argsort(far + COVERS * covers, kind="stable").tolist():
            if not self.taken[y0[index] : y1[index], x0[index] : x1[index]].any():
                return tuple(at[index].tolist()), points[owner[index]]
        return None

    def _anywhere(self, points: Sequence[Point], long: float, high: float) -> tuple[Point, Point] | None:
        """The middle of the nearest free box on all the ground."""
        across, down = (math.ceil(size / self.cell_mm) + 1 for size in (long, high))
        sums = np.pad(self.taken.cumsum(0, dtype=np.int32).cumsum(1, dtype=np.int32), ((1, 0), (1, 0)))
        y, x = np.nonzero(
            sums[down:, across:] + sums[:-down, :-across] == sums[:-down, across:] + sums[down:, :-across]
        )
        if not x.size:
            return None
        middles = np.stack([x + across / 2, y + down / 2], axis=1) * self.cell_mm - GUTTER_MM
        best = int(np.argmin(np.hypot(*(middles - points[0]).T)))
        return tuple(middles[best].tolist()), points[0]
