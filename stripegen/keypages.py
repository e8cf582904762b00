"""A key as one drawing at true size, and as pages of paper: the sheet in tiles that overlap, then its list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from stripegen.drawing import Drawing, GroupItem, Item, PathItem
from stripegen.keylist import BETWEEN_MM, column_height, column_items, columns_in, in_columns, list_blocks
from stripegen.keymarks import HEIGHTS_MM, inside_labels
from stripegen.keysheet import (
    EDGE,
    INK,
    PAPER,
    Key,
    arrow,
    body_items,
    chip,
    placed_on,
    relabelled,
    scale_bar,
    words,
)
from stripegen.outline import Ring, Stroke
from stripegen.paper import PAPERS
from stripegen.strokefont import in_lines, text_width

MARGIN_MM = 9.0
LEAST_OVERLAP_MM = 8.0
TITLE_MM, FACTS_MM = 3.6, 2.0
HEAD_MM = 20.0
LEAST_WIDTH_MM = 180.0
MOST_TILES = 6  # more begin with a page that shows them all

Box = tuple[float, float, float, float]


def key_drawing(key: Key) -> Drawing:
    """The sheet at true size below a title, with the list under it."""
    x0, y0, x1, y1 = key.bounds
    width = max(x1 - x0, LEAST_WIDTH_MM) + 2 * MARGIN_MM
    room = width - 2 * MARGIN_MM
    head, bottom = _head(key, MARGIN_MM, MARGIN_MM, room, 1.0, -90.0)
    dx, dy = MARGIN_MM - x0, bottom + 2.0 - y0
    top = dy + y1 + 4.0
    count, wide = columns_in(room)
    columns = in_columns(list_blocks(key, wide), count, math.inf)
    items: list[Item] = [_ground(width, top + max(map(column_height, columns)) + MARGIN_MM), *head]
    items += placed_on(key.body, 0.0, dx, dy)
    for number, column in enumerate(columns):
        items += column_items(column, MARGIN_MM + number * (wide + BETWEEN_MM), top)
    return Drawing(width, top + max(map(column_height, columns)) + MARGIN_MM, tuple(items))


@dataclass(frozen=True)
class Tile:
    """A page's part of the turned sheet, and its place in the grid."""

    row: int
    column: int
    box: Box


@dataclass(frozen=True)
class Tiling:
    """How a sheet lies on pages: scaled, turned by so much, and the parts that hold something, in its own millimetres."""

    scale: float
    turn_deg: float
    overlap_mm: float
    rows: int
    columns: int
    tiles: tuple[Tile, ...]


def laid_on_pages(key: Key, paper: str, scale: float = 1.0) -> tuple[Key, Tiling]:
    """The sheet upright, or turned by a quarter where that needs fewer pages, its marks to be read there."""
    width, height = (side / scale for side in _field(paper))
    if scale != 1.0:
        key = relabelled(key, 0.0, scale)
    upright, turned = (_tiling(key, scale, turn, width, height) for turn in (0.0, -90.0))
    if len(upright.tiles) <= len(turned.tiles):
        return key, upright
    key = relabelled(key, -90.0, scale)
    return key, _tiling(key, scale, -90.0, width, height)


def _field(paper: str) -> tuple[float, float]:
    """How much of a sheet a page holds."""
    width, height = PAPERS[paper].width_mm, PAPERS[paper].height_mm
    return width - 2 * MARGIN_MM, height - 2 * MARGIN_MM - HEAD_MM


def _tiling(key: Key, scale: float, turn_deg: float, width: float, height: float) -> Tiling:
    x0, y0, x1, y1 = _turned_box(key.used_bounds, turn_deg)
    overlap = _overlap_mm(key)
    columns, rows = (
        max(1, math.ceil((long - overlap) / (room - overlap) - 1e-9)) for long, room in ((x1 - x0, width), (y1 - y0, height))
    )
    full = _full_boxes(key, turn_deg)
    found = []
    for row in range(rows):
        for column in range(columns):
            x, y = x0 + column * (width - overlap), y0 + row * (height - overlap)
            right, below = (x1 if column == columns - 1 else x + width), (y1 if row == rows - 1 else y + height)
            # the strip that two pages share is halved between them
            own = shapely.box(
                x + (overlap / 2 if column else 0.0), y + (overlap / 2 if row else 0.0),
                right - (0.0 if right == x1 else overlap / 2), below - (0.0 if below == y1 else overlap / 2),
            )  # fmt: skip
            if full.query(own, predicate="intersects").size:
                found.append(Tile(row, column, (x, y, right, below)))
    return Tiling(scale, turn_deg, overlap, rows, columns, tuple(found))


def _overlap_mm(key: Key) -> float:
    """How far pages overlap: as far as any mark reaches, so that each is whole on a page."""
    boxes = [label.box.bounds for label in key.labels]
    return max([LEAST_OVERLAP_MM, *(max(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes)])


def _turned_box(box: Box, turn_deg: float) -> Box:
    """A box turned about (0, 0) by 0, 90 or -90 degrees."""
    x0, y0, x1, y1 = box
    return {0: box, 90: (-y1, x0, -y0, x1), -90: (y0, -x1, y1, -x0)}[round(turn_deg)]


def _full_boxes(key: Key, turn_deg: float) -> shapely.STRtree:
    """Bounds of all that is on the turned sheet."""
    boxes = [each.outline.bounds() for each in key.sheet.placed] + [outline.bounds() for outline in key.measured.values()]
    boxes += [label.box.bounds for label in key.labels if label.points_at]
    return shapely.STRtree([shapely.box(*_turned_box(box, turn_deg)) for box in boxes])


def key_pages(key: Key, paper: str = "a4") -> list[Drawing]:
    """The pages, of "a4" or "letter" paper: the sheet in tiles, then the list.

    Tiles are at true size. Where that takes more than MOST_TILES the sheet is scaled down as far as its marks can still be
    read; if even so there are more, they begin with the whole sheet on one page.
    """
    as_is, laid = laid_on_pages(key, paper)
    if len(laid.tiles) > MOST_TILES and (scale := _least_scale(key, paper)) < 1.0:
        as_is, laid = laid_on_pages(key, paper, scale)
    return _Pages(as_is, paper, laid).drawings()


def _least_scale(key: Key, paper: str) -> float:
    """The least scale of a few at which as many marks stand in their pieces as at true size."""
    beside = sum(label.points_at is not None for label in key.labels)
    x0, y0, x1, y1 = key.used_bounds
    wide, high = _field(paper)
    sides = sorted((x1 - x0, y1 - y0))
    # as much as goes on one page, then as much as is one page wide
    scales = {min(short / sides[0], long / sides[1]) for short, long in [sorted((wide, high))]}
    scales |= {wide / sides[0], high / sides[0], wide / sides[0] * 2}
    marks = {label.piece: label.mark for label in key.labels}
    for scale in sorted(scale for scale in scales if scale < 0.95):
        heights = [height / scale for height in HEIGHTS_MM]
        _, narrow = inside_labels(key.sheet.placed, marks, heights)
        if len(narrow) <= beside:
            return scale
    return 1.0


class _Pages:
    """The pages of a key on their way: each page's items, its scale and the tile that it shows."""

    def __init__(self, key: Key, paper: str, laid: Tiling):
        self.key, self.tiling, self.scale = key, laid, laid.scale
        self.width_mm, self.height_mm = PAPERS[paper].width_mm, PAPERS[paper].height_mm
        self.field_mm = _field(paper)
        self.pages: list[tuple[list[Item], float | None, Tile | None]] = []
        self.top_mm = MARGIN_MM + HEAD_MM

    def drawings(self) -> list[Drawing]:
        tiles = self.tiling.tiles
        if len(tiles) > MOST_TILES:
            self.whole()
        turn_deg = self.tiling.turn_deg
        is_plain = self.scale == 1.0 and not turn_deg
        own = self.key.body if is_plain else body_items(self.key, self.key.labels, self.scale, turn_deg)
        body = placed_on(own, turn_deg, 0.0, 0.0, self.scale)
        bounds = [_bounds(item) for item in body]
        for tile in tiles:
            self.pages.append((self.tile(tile, body, bounds), self.scale, tile))
        self.list(self.field_mm[1] - self.scale * (tiles[-1].box[3] - tiles[-1].box[1]) - 4.0)
        return [self.page(*page, number) for number, page in enumerate(self.pages, 1)]

    def page(self, items: list[Item], scale: float | None, tile: Tile | None, number: int) -> Drawing:
        right = self.width_mm - MARGIN_MM
        room = self.width_mm - 2 * MARGIN_MM - 40.0
        way_deg = self.tiling.turn_deg - 90.0 if tile else None
        head, _ = _head(self.key, MARGIN_MM, MARGIN_MM, room, scale, way_deg, one_line=True)
        head += words(f"page {number} of {len(self.pages)}", right, MARGIN_MM + TITLE_MM, 2.4, "end")
        if scale:
            head += words(_scale_text(scale), right, MARGIN_MM + 9.0, 2.4, "end")
        if tile and len(self.tiling.tiles) > 1:
            head += self.map(tile, right - 24.0)
        return Drawing(self.width_mm, self.height_mm, (_ground(self.width_mm, self.height_mm), *head, *items))

    def map(self, tile: Tile, right: float) -> list[PathItem]:
        """The pages of the sheet in small, this one dark."""
        cell = min(4.0, 13.0 / self.tiling.rows, 22.0 / self.tiling.columns)
        left = right - cell * self.tiling.columns
        items = []
        for each in self.tiling.tiles:
            box = _ring((left + each.column * cell, MARGIN_MM + 5.0 + each.row * cell), cell, cell)
            fill = INK if each == tile else PAPER
            items.append(PathItem(shapes=(box,), stroke=INK, stroke_width_mm=0.2, fill=fill, role="map"))
        return items

    def tile(self, tile: Tile, body: Sequence[PathItem], bounds: Sequence[Box]) -> list[Item]:
        """What of the sheet is on a page, and where the next pages begin."""
        box = tuple(self.scale * side for side in tile.box)
        x0, y0, x1, y1 = box
        seen = [item for item, own in zip(body, bounds, strict=True) if _meet(own, box)]
        dx, dy = MARGIN_MM - x0, self.top_mm - y0
        clip = _ring((MARGIN_MM, self.top_mm), x1 - x0, y1 - y0)
        items: list[Item] = [GroupItem(items=tuple(placed_on(seen, 0.0, dx, dy)), clip=clip)]
        half = self.scale * self.tiling.overlap_mm / 2
        left, top, right, below = (self.scale * side for side in _turned_box(self.key.used_bounds, self.tiling.turn_deg))
        upright = [x for x, inner in ((x0 + half, x0 > left), (x1 - half, x1 < right)) if inner]
        level = [y for y, inner in ((y0 + half, y0 > top), (y1 - half, y1 < below)) if inner]
        ticks = [Stroke.through([(x + dx, y0 + dy), (x + dx, y1 + dy)]) for x in upright]
        ticks += [Stroke.through([(x0 + dx, y + dy), (x1 + dx, y + dy)]) for y in level]
        if ticks:
            pen = {"stroke": EDGE, "stroke_width_mm": 0.15, "dash_mm": (3.0, 3.0)}
            items.append(PathItem(shapes=tuple(ticks), role="seam", **pen))
        items.append(PathItem(shapes=(clip,), stroke=EDGE, stroke_width_mm=0.1, role="tile"))
        return items

    def whole(self) -> None:
        """The whole sheet on a page without its marks, with the numbers of the pages that show them."""
        scale, turn_deg = max((self._most(turn), turn) for turn in (0.0, -90.0))
        x0, y0, _, _ = _turned_box(self.key.used_bounds, turn_deg)
        dx, dy = MARGIN_MM - scale * x0, self.top_mm - scale * y0
        items: list[Item] = placed_on(body_items(self.key, (), scale, turn_deg), turn_deg, dx, dy, scale)
        self.pages.append(([*items, *self.numbers(turn_deg, dx, dy, scale)], scale, None))

    def _most(self, turn_deg: float) -> float:
        """The scale at which the whole sheet fits on a page."""
        x0, y0, x1, y1 = _turned_box(self.key.used_bounds, turn_deg)
        return min(self.field_mm[0] / (x1 - x0), self.field_mm[1] / (y1 - y0))

    def numbers(self, turn_deg: float, dx: float, dy: float, scale: float) -> list[Item]:
        """Which page shows which part of the sheet."""
        items: list[Item] = []
        for number, tile in enumerate(self.tiling.tiles, 2):
            x0, y0, x1, y1 = _turned_box(tile.box, turn_deg - self.tiling.turn_deg)
            width, height = scale * (x1 - x0), scale * (y1 - y0)
            x, y = scale * x0 + dx, scale * y0 + dy
            pen = {"stroke": INK, "stroke_width_mm": 0.3, "dash_mm": (2.0, 1.0)}
            items.append(PathItem(shapes=(_ring((x, y), width, height),), **pen))
            high = min(6.0, 0.3 * width, 0.3 * height)
            long = text_width(str(number), high) + high
            x, y = x + width / 2, y + height / 2
            plate = _ring((x - long / 2, y - high), long, 2 * high)
            items.append(PathItem(shapes=(plate,), fill=PAPER, stroke=INK, stroke_width_mm=0.15))
            items += words(str(number), x, y + high / 2, high, "middle", stroke_width_mm=0.1 * high)
        return items

    def list(self, left_mm: float) -> None:
        """The list in columns, on what is left of the last page, or on pages of their own."""
        count, wide = columns_in(self.field_mm[0])
        blocks = list_blocks(self.key, wide, self.tiling.turn_deg)
        on_last = left_mm > 0 and len(in_columns(blocks, count, left_mm)) <= count
        room = left_mm if on_last else self.field_mm[1]
        columns = in_columns(blocks, count, room)
        for number in range(0, len(columns), count):
            top = self.height_mm - MARGIN_MM - left_mm if on_last else self.top_mm
            items: list[PathItem] = []
            for place, column in enumerate(columns[number : number + count]):
                items += column_items(column, MARGIN_MM + place * (wide + BETWEEN_MM), top)
            if on_last:
                self.pages[-1][0].extend(items)
            else:
                self.pages.append((items, None, None))


def _scale_text(scale: float) -> str:
    return "scale 1 : 1" if scale == 1.0 else f"scale 1 : {1 / scale:.1f}"


def _head(
    key: Key, x: float, y: float, room: float, scale: float | None, feed_deg: float | None, one_line: bool = False
) -> tuple[list[Item], float]:
    """Name and facts of the sheet, a bar to measure where it is at true size, the way it is fed; how far down it reaches.

    With one line of the name and two of the facts they are made as small as it takes.
    """
    high = min(TITLE_MM, room / text_width(key.sheet.name, 1.0)) if one_line else TITLE_MM
    items: list[Item] = []
    for line in in_lines(key.sheet.name, high, room):
        y += 1.2 * high
        items += words(line, x, y, high, stroke_width_mm=0.16 * high)
        y += 0.5 * high
    items.append(chip(key.sheet.vinyl.colour, x, y + 0.2, 2.6))
    facts, indent = FACTS_MM, 4.2
    while one_line and len(in_lines(key.facts, facts, room - indent)) > 2:
        facts *= 0.95
    for line in in_lines(key.facts, facts, room - indent):
        items += words(line, x + indent, y + 2.5, facts)
        y += 1.7 * facts
    y += 3.6
    if scale == 1.0:
        items += scale_bar(x, y)
    if feed_deg is not None:  # the end at 0 goes into the cutter first
        at, way = x + 112.0, math.radians(feed_deg)
        items.append(arrow(at - 2.5 * math.cos(way), y - 2.5 * math.sin(way), feed_deg, 5.0))
        items += words("feed: this end first", at + 4.5, y + 0.9, 1.8)
    return items, y + 3.0


def _bounds(item: PathItem) -> Box:
    x0, y0, x1, y1 = zip(*(shape.bounds() for shape in item.shapes), strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def _meet(box: Box, other: Box) -> bool:
    return box[0] <= other[2] and other[0] <= box[2] and box[1] <= other[3] and other[1] <= box[3]


def _ring(corner: tuple[float, float], width: float, height: float) -> Ring:
    x, y = corner
    return Ring.through([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def _ground(width_mm: float, height_mm: float) -> PathItem:
    return PathItem(shapes=(_ring((0.0, 0.0), width_mm, height_mm),), fill="#ffffff", role="page")
