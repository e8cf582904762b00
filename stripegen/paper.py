"""Paper in a printer: drawings larger than a page go onto several, which are laid over each other by marks and taped.

A drawing is turned and laid on a grid of fields, one a page, each over the edge of the next, so that the fewest pages
hold something. What is drawn is cut off at its field: nothing outside it is in the file.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, product

import numpy as np
import shapely

from stripegen.drawing import GroupItem, Item, PathItem, TextItem
from stripegen.errors import GeometryError
from stripegen.lettering import text_box
from stripegen.outline import Ring, Stroke

MARGIN_MM = 9.0  # printers leave the paper's edge bare
HEAD_MM = 7.0  # over a field, for its name
OVERLAP_MM = 10.0
MOST_TILES = 200
TURN_STEP_DEG = 5
SHIFTS = (0.5, 0.0, 1.0, 0.25, 0.75)
SPECK_MM = 0.02
BLACK, GREY, PALE = "#000000", "#777777", "#b4b4b4"


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper, upright."""

    name: str
    width_mm: float
    height_mm: float

    @property
    def field_mm(self) -> tuple[float, float]:
        """How large a field is, across and down."""
        return self.width_mm - 2 * MARGIN_MM, self.height_mm - 2 * MARGIN_MM - HEAD_MM

    @property
    def corner_mm(self) -> tuple[float, float]:
        """Where on the page a field begins."""
        return MARGIN_MM, MARGIN_MM + HEAD_MM


PAPERS = {"a4": Paper("A4", 210.0, 297.0), "letter": Paper("Letter", 215.9, 279.4)}


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """A line on paper, straight from point to point: points (n, 2)."""

    points: np.ndarray
    width_mm: float = 0.15
    colour: str = BLACK
    dash_mm: tuple[float, ...] = ()
    role: str | None = None

    def item(self, *more: np.ndarray) -> PathItem:
        """It, and others drawn alike, as one item."""
        return PathItem(
            shapes=tuple(Stroke.through(map(tuple, points.tolist())) for points in (self.points, *more)),
            stroke=self.colour,
            stroke_width_mm=self.width_mm,
            dash_mm=self.dash_mm,
            role=self.role,
        )


@dataclass(frozen=True, slots=True)
class Canvas:
    """Lines and texts, as large as it takes."""

    inks: tuple[Ink, ...]
    texts: tuple[TextItem, ...]

    def turned(self, turn_rad: float) -> Canvas:
        """Turned about the origin, +x towards +y."""
        c, s = math.cos(turn_rad), math.sin(turn_rad)
        matrix = np.array([[c, s], [-s, c]])
        return Canvas(
            tuple(replace(ink, points=ink.points @ matrix) for ink in self.inks),
            tuple(
                replace(
                    text,
                    x_mm=text.x_mm * c - text.y_mm * s,
                    y_mm=text.x_mm * s + text.y_mm * c,
                    turn_deg=text.turn_deg + math.degrees(turn_rad),
                )
                for text in self.texts
            ),
        )


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of several: its place in the grid from 1 on, and where on the turned drawing its field begins."""

    row: int
    column: int
    left_mm: float
    top_mm: float


@dataclass(frozen=True, slots=True)
class Grid:
    """How a drawing lies on pages: turned by so much, then cut into the fields of those tiles that hold something."""

    paper: Paper
    turn_rad: float
    tiles: tuple[Tile, ...]

    def box(self, tile: Tile) -> shapely.Polygon:
        """A tile's field on the turned drawing."""
        width, height = self.paper.field_mm
        return shapely.box(tile.left_mm, tile.top_mm, tile.left_mm + width, tile.top_mm + height)

    def neighbours(self) -> Iterable[tuple[Tile, Tile]]:
        """Each tile with those to the right of it and below it."""
        at = {(tile.row, tile.column): tile for tile in self.tiles}
        for tile in self.tiles:
            for place in ((tile.row, tile.column + 1), (tile.row + 1, tile.column)):
                if place in at:
                    yield tile, at[place]


def on_grid(footprint: shapely.Geometry, paper: Paper) -> Grid:
    """The grid of fewest tiles for what takes so much room; of equal ones the least turned.

    Raises GeometryError where it would take more than MOST_TILES.
    """
    width, height = paper.field_mm
    # a straight line across a tile is no longer than its diagonal
    if max(footprint.area / (width * height), _reach_mm(footprint) / math.hypot(width, height)) > MOST_TILES:
        raise GeometryError(f"a paper guide would take more than {MOST_TILES} pages")
    best: Grid | None = None
    turns = sorted(range(-90, 91, TURN_STEP_DEG), key=lambda turn: (min(abs(turn), 90 - abs(turn)), abs(turn), -turn))
    for turn_deg in turns:
        turn = math.radians(turn_deg)
        for tiles in _ways(_turned(footprint, turn), width, height):
            if best is None or len(tiles) < len(best.tiles):
                best = Grid(paper, turn, tiles)
        if len(best.tiles) == 1:
            break
    if len(best.tiles) > MOST_TILES:
        raise GeometryError(f"a paper guide would take more than {MOST_TILES} pages")
    return best


def _reach_mm(shape: shapely.Geometry) -> float:
    """A distance of two of its places, about its greatest."""
    points = shapely.get_coordinates(shapely.convex_hull(shape))
    far = points[np.argmax(np.hypot(*(points - points[0]).T))]
    return float(np.hypot(*(points - far).T).max())


def _ways(shape: shapely.Geometry, width: float, height: float) -> Iterable[tuple[Tile, ...]]:
    """The tiles of a few grids over a shape, as small as holds it: in its middle, and shifted."""
    x0, y0, x1, y1 = shape.bounds
    shapely.prepare(shape)
    columns, rows = (
        max(1, math.ceil((size - OVERLAP_MM) / (field - OVERLAP_MM) - 1e-9))
        for size, field in ((x1 - x0, width), (y1 - y0, height))
    )
    across, along = width - OVERLAP_MM, height - OVERLAP_MM
    for share_x, share_y in product(SHIFTS, SHIFTS):
        left = x0 - share_x * (columns * across + OVERLAP_MM - (x1 - x0))
        top = y0 - share_y * (rows * along + OVERLAP_MM - (y1 - y0))
        lefts, tops = left + across * np.arange(columns), top + along * np.arange(rows)
        # a tile's own part ends in the middle of what it shares with the next, the outermost ones' nowhere
        xs = np.concatenate([[x0 - 1], lefts[1:] + OVERLAP_MM / 2, [x1 + 1]])
        ys = np.concatenate([[y0 - 1], tops[1:] + OVERLAP_MM / 2, [y1 + 1]])
        row, column = (each.ravel() for each in np.mgrid[:rows, :columns])
        held = shapely.intersects(shape, shapely.box(xs[column], ys[row], xs[column + 1], ys[row + 1]))
        yield tuple(
            Tile(int(r) + 1, int(c) + 1, float(lefts[c]), float(tops[r]))
            for r, c in zip(row[held], column[held], strict=True)
        )


def _turned(shape: shapely.Geometry, turn_rad: float) -> shapely.Geometry:
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    return shapely.transform(shape, lambda points: points @ np.array([[c, s], [-s, c]]))


def field_items(canvas: Canvas, grid: Grid, tile: Tile) -> list[Item]:
    """What of a turned drawing a tile shows, on its page.

    A text that is whole on another tile but not on this one is left to that.
    """
    box = grid.box(tile)
    dx, dy = (at - begin for at, begin in zip(grid.paper.corner_mm, (tile.left_mm, tile.top_mm), strict=True))
    lines = shapely.intersection(np.array([shapely.LineString(ink.points) for ink in canvas.inks], dtype=object), box)
    seen = [
        (ink, shapely.get_coordinates(part) + (dx, dy))
        for ink, line in zip(canvas.inks, lines, strict=True)
        for part in shapely.get_parts(line)
        if part.geom_type == "LineString" and part.length > 0
    ]
    items = drawn([replace(ink, points=points) for ink, points in seen])
    fields = [grid.box(other) for other in grid.tiles]
    cut: list[TextItem] = []
    for text in canvas.texts:
        room = text_box(text)
        moved = replace(text, x_mm=text.x_mm + dx, y_mm=text.y_mm + dy)
        if box.contains(room):
            items.append(moved)
        elif box.intersects(room) and not any(field.contains(room) for field in fields):
            cut.append(moved)
    if cut:
        items.append(GroupItem(items=tuple(cut), clip=_ring(shapely.transform(box, lambda points: points + (dx, dy)))))
    return items


def drawn(inks: Iterable[Ink]) -> list[Item]:
    """Lines as items, those one after the other that are drawn alike as one."""
    items: list[Item] = []
    for _, alike in groupby(inks, key=lambda ink: (ink.width_mm, ink.colour, ink.dash_mm, ink.role)):
        first, *others = alike
        items.append(first.item(*(other.points for other in others)))
    return items


def _ring(box: shapely.Polygon) -> Ring:
    return Ring.through(map(tuple, shapely.get_coordinates(box.exterior)[:-1].tolist()))


JOIN_MM = 0.22
MARK_MM = 2.6  # from a join mark's middle to its points
MARKS_AT = (0.2, 0.8, 0.3, 0.7, 0.1, 0.9, 0.4, 0.6, 0.15, 0.85, 0.25, 0.75, 0.35, 0.65)


def join_marks(canvas: Canvas, grid: Grid) -> Canvas:
    """Two numbered marks where each two neighbouring tiles of a turned drawing lie over each other."""
    tree = shapely.STRtree([shapely.LineString(ink.points) for ink in canvas.inks])
    texts = [text_box(text) for text in canvas.texts]
    inks: list[Ink] = []
    named: list[TextItem] = []
    for first, second in grid.neighbours():
        shared = grid.box(first).intersection(grid.box(second))
        x0, y0, x1, y1 = shared.bounds
        aside = x1 - x0 < y1 - y0
        spots = [
            ((x0 + x1) / 2, y0 + share * (y1 - y0)) if aside else (x0 + share * (x1 - x0), (y0 + y1) / 2)
            for share in MARKS_AT
        ]
        for half in (0, 1):
            spot = min(spots[half::2], key=lambda spot: _in_the_way(_mark_box(spot, aside), tree, texts))
            texts.append(_mark_box(spot, aside))
            named.append(_mark_number(spot, aside, len(named) + 1))
            inks += _mark(spot)
    return Canvas(tuple(inks), tuple(named))


def _in_the_way(box: shapely.Polygon, tree: shapely.STRtree, texts: Sequence[shapely.Polygon]) -> int:
    return len(tree.query(box, predicate="intersects")) + 10 * sum(box.intersects(text) for text in texts)


def _mark_box(spot: tuple[float, float], aside: bool) -> shapely.Polygon:
    x, y = spot
    right, below = (MARK_MM, MARK_MM + 4.0) if aside else (MARK_MM + 6.0, MARK_MM)
    return shapely.box(x - MARK_MM, y - MARK_MM, x + right, y + below)


def _mark_number(spot: tuple[float, float], aside: bool, number: int) -> TextItem:
    right, below = (0.0, MARK_MM + 3.0) if aside else (MARK_MM + 0.8, 1.1)
    anchor = "middle" if aside else "start"
    return TextItem(
        text=f"{number}", x_mm=spot[0] + right, y_mm=spot[1] + below, size_mm=3.2, anchor=anchor, bold=True, role="join"
    )


def _mark(spot: tuple[float, float]) -> list[Ink]:
    """A diamond with a cross in it."""
    ways = np.array([(0, -MARK_MM), (MARK_MM, 0), (0, MARK_MM), (-MARK_MM, 0), (0, -MARK_MM)])
    lines = (ways, ways[[0, 2]], ways[[1, 3]])
    return [Ink(line + np.array(spot), JOIN_MM, role="join") for line in lines]


def text_on(text: str, x_mm: float, y_mm: float, size_mm: float, turn_deg: float = 0.0, **style) -> TextItem:
    """A text whose middle is at a point, turned as told, head over if need be."""
    turn, drop = math.radians(turn_deg), 0.36 * size_mm
    x, y = x_mm - drop * math.sin(turn), y_mm + drop * math.cos(turn)
    return TextItem(text=text, x_mm=x, y_mm=y, size_mm=size_mm, anchor="middle", turn_deg=turn_deg, **style)


def measure_square(x_mm: float, y_mm: float) -> list[Item]:
    """A square of 50 mm with its corner at a point, and what to do with it."""
    points = np.array([(0, 0), (50, 0), (50, 50), (0, 50), (0, 0)], dtype=float) + (x_mm, y_mm)
    lines = ("measure this: 50 mm", "each way; if it's not,", "print at 100 %,", "not fit to page")
    return [
        Ink(points, 0.3, role="square").item(),
        *(text_on(line, x_mm + 25, y_mm + 15 + 7 * n, 3.6, role="square") for n, line in enumerate(lines)),
    ]


