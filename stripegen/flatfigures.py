"""The distances between neighbouring lines, named on the flat picture along a level.

Each gap has a dimension line; its figure stands in the gap where it fits, level or upright, and else beside
it at the end of a leader. No figure lies over another, and none over a strip if there is a place beside it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import shapely

from stripegen.drawing import Item, PathItem, TextItem
from stripegen.flatsheet import Sheet
from stripegen.lettering import HALF_HEIGHT, centred, filled, text_box, text_width_mm
from stripegen.levels import Gap, Level
from stripegen.outline import Stroke
from stripegen.pictures import RULE, TEXT
from stripegen.shapes import FULL_TURN

LEVEL_SIZES_MM = (2.8, 2.5)  # of a figure that stands level in its gap
UPRIGHT_SIZES_MM = (2.5, 2.2)
LED_SIZE_MM = 2.3
RUN = 3  # so many equal gaps that are too narrow for figures are named once
SEEN_MM = 0.05  # a narrower gap is none to see
TOLD_APART_MM = 0.8  # on the page; the dimension lines of narrower gaps would run together
TICK_MM = 0.9
PLACES = (0.5, 0.36, 0.64, 0.24, 0.76)  # of the way along a gap, where its figure may stand
LEADS_MM = tuple((right, below) for below in (4.5, 7.5, 10.5) for right in (0, 3, -3, 6, -6, 9, -9, 12, -12))


@dataclass
class Board:
    """What stands on the page: the wall, what is drawn on it, and the room of every text placed so far.

    `drawn` is what a figure should not lie over: strips, keepouts and seams. Over what is `printed` it needs a plate.
    """

    wall: shapely.Geometry
    drawn: shapely.Geometry
    ink: str
    ground: str
    printed: shapely.Geometry = field(default_factory=shapely.Polygon)
    taken: list[shapely.Polygon] = field(default_factory=list)

    def __post_init__(self) -> None:
        shapely.prepare(self.drawn)
        shapely.prepare(self.wall)

    def is_free(self, box: shapely.Geometry) -> bool:
        """Whether no text stands there."""
        return not any(box.intersects(other) for other in self.taken)

    def is_bare(self, box: shapely.Geometry) -> bool:
        """Whether nothing is drawn there, and it is all on the wall or all beside it."""
        return not self.drawn.intersects(box) and not self.wall.boundary.intersects(box)

    def hidden_mm2(self, box: shapely.Geometry) -> float:
        """How much of what is drawn a text there would hide; a little more where it would leave the wall."""
        return self.drawn.intersection(box).area + 10 * self.wall.boundary.intersection(box).length

    def put(self, text: TextItem) -> list[Item]:
        """The text, on a plate of the ground's colour where something lies under it; its room is taken."""
        box = text_box(text, 0.3)
        self.taken.append(box)
        if not self.wall.intersects(box):
            return [replace(text, fill=TEXT)]
        text = replace(text, fill=self.ink)
        if self.is_bare(box) and not self.printed.intersects(box):
            return [text]
        return [filled(box, self.ground, 0.88, role="plate"), text]


@dataclass(frozen=True)
class _Seen:
    """What of a gap is seen on the sheet, and whether it runs on past the sheet's left or right edge."""

    low_rad: float
    high_rad: float
    on_left: bool
    on_right: bool

    def at(self, share: float) -> float:
        return self.low_rad + share * (self.high_rad - self.low_rad)


def level_figures(sheet: Sheet, level: Level, board: Board, inwards: int) -> tuple[list[Item], int]:
    """Dimension lines and figures of a level's gaps, and how many gaps go without a figure.

    `inwards` says on which side of the level figures stand by choice: 1 below it, -1 above.
    """
    items: list[Item] = []
    waiting: list[tuple[int, Gap, _Seen]] = []
    nameless = 0
    for number, gap in enumerate(level.gaps):
        if gap.clear_mm < SEEN_MM:
            continue
        named = False
        seen = list(_seen(sheet, gap))
        broad = gap.clear_mm * sheet.scale >= TOLD_APART_MM
        for part in seen:
            if broad:
                items.append(_dimension_line(sheet, level, part, board.ink))
            figure = _in_gap(sheet, level, gap, part, board, inwards)
            if figure:
                items += board.put(figure)
                named = True
        if not named:
            waiting.append((number, gap, max(seen, key=lambda part: part.high_rad - part.low_rad)))
    for run in _runs(waiting):
        _, gap, part = run[(len(run) - 1) // 2]
        count = "" if len(run) == 1 else f"{len(run)} \u00d7 "
        led = _led(sheet, level, f"{count}{_figure(gap)}", part.at(0.5), board, inwards)
        if led and gap.clear_mm * sheet.scale < TOLD_APART_MM:
            items.append(_dimension_line(sheet, level, part, board.ink))
        items += led
        nameless += 0 if led else len(run)
    return items, nameless


def _figure(gap: Gap) -> str:
    return f"{gap.clear_mm:.1f}"


def _seen(sheet: Sheet, gap: Gap) -> Iterator[_Seen]:
    for turn in (-2, -1, 0, 1):
        low, high = gap.from_rad + turn * FULL_TURN, gap.to_rad + turn * FULL_TURN
        if low < sheet.end_rad - 1e-9 and high > sheet.start_rad + 1e-9:
            yield _Seen(
                max(low, sheet.start_rad),
                min(high, sheet.end_rad),
                low < sheet.start_rad,
                high > sheet.end_rad,
            )


def _dimension_line(sheet: Sheet, level: Level, seen: _Seen, ink: str) -> PathItem:
    """A line along the level, a tick at each end, or an arrowhead where the gap runs on past the sheet."""
    strokes = [sheet.level(level.down_mm, seen.low_rad, seen.high_rad)]
    for around, runs_on, way in ((seen.low_rad, seen.on_left, 1), (seen.high_rad, seen.on_right, -1)):
        if runs_on:
            ends = ((1.4 * way, -0.6), (0.0, 0.0), (1.4 * way, 0.6))
        else:
            ends = ((0.0, -TICK_MM), (0.0, TICK_MM))
        strokes.append(Stroke.through([sheet.beside(around, level.down_mm, *end) for end in ends]))
    return PathItem(shapes=tuple(strokes), stroke=ink, stroke_width_mm=0.13, role="dimension")


def _in_gap(sheet: Sheet, level: Level, gap: Gap, seen: _Seen, board: Board, inwards: int) -> TextItem | None:
    """The figure in its gap, as large as fits and where nothing lies if there is such a place."""
    figure = _figure(gap)
    room_mm = sheet.scale * sheet.wall.radius_mm(level.down_mm) * (seen.high_rad - seen.low_rad)
    found = []
    for size in LEVEL_SIZES_MM:
        width = text_width_mm(figure, size) + 1.2
        for share in PLACES:
            if width <= 2 * min(share, 1 - share) * room_mm:
                found += [
                    _level_text(sheet, level, figure, seen.at(share), size, side)
                    for side in (inwards, -inwards)
                ]
    if not found:
        for size in UPRIGHT_SIZES_MM:
            if 0.8 * size + 0.5 <= room_mm:
                found += [
                    _upright_text(sheet, level, figure, seen.at(0.5), size, side)
                    for side in (inwards, -inwards)
                ]
    free = [text for text in found if board.is_free(text_box(text, 0.2))]
    bare = next((text for text in free if board.is_bare(text_box(text, 0.1))), None)
    return bare or min(free, key=lambda text: board.hidden_mm2(text_box(text, 0.1)), default=None)


def _level_text(
    sheet: Sheet, level: Level, figure: str, around_rad: float, size: float, side: int
) -> TextItem:
    """A figure along a level: above it (side -1) or below it (1)."""
    x, y = sheet.beside(around_rad, level.down_mm, 0.0, side * (0.8 + HALF_HEIGHT * size))
    return centred(figure, x, y, size, sheet.turn_deg(around_rad, level.down_mm), role=f"figure-{level.name}")


def _upright_text(
    sheet: Sheet, level: Level, figure: str, around_rad: float, size: float, side: int
) -> TextItem:
    """A figure along the meridian, above a level (side -1) or below it (1)."""
    x, y = sheet.beside(around_rad, level.down_mm, 0.0, side * (1.1 + text_width_mm(figure, size) / 2))
    return centred(figure, x, y, size, sheet.turn_deg(around_rad, level.down_mm) - 90, role=f"figure-{level.name}")


def _runs(waiting: Sequence[tuple[int, Gap, _Seen]]) -> Iterator[list[tuple[int, Gap, _Seen]]]:
    """Neighbouring gaps with the same figure together if there are many of them, others alone."""
    start = 0
    while start < len(waiting):
        stop = start + 1
        while (
            stop < len(waiting)
            and waiting[stop][0] == waiting[stop - 1][0] + 1
            and _figure(waiting[stop][1]) == _figure(waiting[start][1])
        ):
            stop += 1
        stop = stop if stop - start >= RUN else start + 1
        yield list(waiting[start:stop])
        start = stop


def _led(
    sheet: Sheet, level: Level, figure: str, around_rad: float, board: Board, inwards: int
) -> list[Item]:
    """A figure beside its gap with a leader to it, where nothing lies if there is such a place near by."""
    start = sheet.place(around_rad, level.down_mm)
    found = []
    for side in (inwards, -inwards):
        for right, below in LEADS_MM:
            x, y = sheet.beside(around_rad, level.down_mm, right, side * below)
            text = centred(figure, x, y, LED_SIZE_MM, 0.0, role=f"figure-{level.name}")
            box = text_box(text, 0.3)
            leader = shapely.LineString([start, (x, y)]).difference(box)
            if board.is_free(box) and board.is_free(leader):
                found.append((text, box, leader))
    if not found:
        return []
    text, box, leader = next((place for place in found if board.is_bare(place[1])), found[0])
    board.taken.append(leader.buffer(0.1))
    line = Stroke.through(shapely.get_coordinates(leader).tolist())
    colour = board.ink if board.wall.contains(box) else RULE
    return [PathItem(shapes=(line,), stroke=colour, stroke_width_mm=0.13, role="leader"), *board.put(text)]
