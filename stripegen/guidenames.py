"""The texts on a paper guide, each where it lies over no other, and over no line if there is such a place."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.carrying import carried
from stripegen.crossing import level_t
from stripegen.decoration import Decoration
from stripegen.drawing import TextItem
from stripegen.guidepieces import Marked
from stripegen.guidesheet import GuideSheet
from stripegen.lettering import ASCENT, DESCENT, text_box, text_width_mm
from stripegen.paper import GREY, Ink, text_on
from stripegen.paperbands import PaperBand
from stripegen.shapes import FULL_TURN
from stripegen.surface import Wall

SAMPLE_MM = 2.0
MARK_EVERY_MM = 110.0
MARK_MM, LEAST_MARK_MM, BESIDE_MARK_MM = 3.2, 2.2, 2.6
LOOKED_MM = 44.0  # how far along a piece its mark may stray
NAME_MM = 2.2
NAME_ROWS = 7  # places down a band where its name may stand
CLEAR_MM = 0.25  # at least between a text and a line
SHORTEST_MM = 4.0  # a shorter part of a piece has no mark


@dataclass
class Board:
    """The texts placed so far, and the lines under them."""

    sheet: GuideSheet
    texts: list[TextItem]
    boxes: np.ndarray
    lines: shapely.STRtree
    areas: dict[int, shapely.Geometry]

    @classmethod
    def over(cls, sheet: GuideSheet, inks: Sequence[Ink]) -> Board:
        lines = shapely.STRtree([shapely.LineString(ink.points) for ink in inks])
        areas = {band.number: sheet.area(band) for band in sheet.bands}
        for area in areas.values():
            shapely.prepare(area)
        return cls(sheet, [], np.empty(0, dtype=object), lines, areas)

    def put_all(self, texts: Iterable[TextItem]) -> None:
        texts = [*texts]
        self.texts += texts
        self.boxes = np.append(self.boxes, [text_box(text, 0.2) for text in texts])

    def put_best(self, wanted: Iterable[tuple[PaperBand, TextItem]], over_lines: bool = True) -> bool:
        """The first text that lies over nothing; else, if `over_lines`, the first that lies over no other text.

        Whether there is one.
        """
        second = None
        for band, text in wanted:
            box = text_box(text, 0.2)
            if not self.areas[band.number].contains(box) or np.any(shapely.intersects(self.boxes, box)):
                continue
            if not len(self.lines.query(box, predicate="intersects")):
                self.put_all([text])
                return True
            second = second or text
        if not over_lines or second is None:
            return False
        self.put_all([second])
        return True

    def text(self, band: PaperBand, around: float, down_mm: float, right_mm: float, text: str, size_mm: float, **style) -> TextItem:
        """A text that runs round the cup, its middle so far to the right of a place."""
        turn_deg = style.pop("turn_deg", 0.0) + self.sheet.lean_deg(band, around)
        return text_on(text, *self.sheet.beside(band, around, down_mm, right_mm, 0.0), size_mm, turn_deg, **style)


def piece_marks(board: Board, pieces: Sequence[Marked], wall: Wall) -> None:
    """Each piece's mark on it or beside it, on every band, and again on a long one."""
    for each in pieces:
        width_mm = each.piece.flat.width_mm
        for band, places in _runs(board.sheet, each, wall):
            count = max(1, round(len(places) * SAMPLE_MM / MARK_EVERY_MM))
            for number in range(count):
                middle = int((number + 0.5) / count * len(places))
                board.put_best(_marks(board, band, places, middle, width_mm, each.mark))


def _marks(
    board: Board, band: PaperBand, places: np.ndarray, middle: int, width_mm: float, mark: str
) -> Iterator[tuple[PaperBand, TextItem]]:
    wide, high = text_width_mm(mark, 1.0, bold=True), ASCENT + DESCENT  # of each mm of its size
    for step in range(round(LOOKED_MM / SAMPLE_MM) + 1):
        for at in sorted({middle - step, middle + step}):
            if not 0 <= at < len(places):
                continue
            around, down_mm, heading = map(float, places[at])
            across = wide * abs(math.cos(heading)) + high * abs(math.sin(heading))
            size = min(MARK_MM, (width_mm - 2 * CLEAR_MM) / across)
            if size >= LEAST_MARK_MM:
                yield band, board.text(band, around, down_mm, 0.0, mark, size, bold=True, role="mark")
            off_mm = width_mm / 2 + 2 * CLEAR_MM + across * BESIDE_MARK_MM / 2
            for side in (1, -1):
                # square to the piece, to its right as it runs down
                right, below = side * off_mm * math.cos(heading), -side * off_mm * math.sin(heading)
                x, y = board.sheet.beside(band, around, down_mm, right, below)
                turn_deg = board.sheet.lean_deg(band, around)
                yield band, text_on(mark, x, y, BESIDE_MARK_MM, turn_deg, bold=True, role="mark")


def _runs(sheet: GuideSheet, each: Marked, wall: Wall) -> Iterator[tuple[PaperBand, np.ndarray]]:
    """The middle of a piece as places (around, down, heading) SAMPLE_MM apart, each run of them on one band."""
    rows = []
    for edge in each.piece.flat.strip.middle:
        curve = carried(edge.curve, wall)
        count = max(2, math.ceil(abs(edge.curve.length_mm(edge.t0, edge.t1)) / SAMPLE_MM))
        rows.append(np.stack(np.broadcast_arrays(*curve.along(np.linspace(edge.t0, edge.t1, count))), axis=-1))
    places = np.concatenate(rows)
    places[:, 0] = sheet.start_rad + (places[:, 0] - sheet.start_rad) % FULL_TURN
    numbers = [sheet.band_at(float(down)).number for down in places[:, 1]]
    jumps = (np.diff(numbers) != 0) | (np.abs(np.diff(places[:, 0])) > 1.0)
    for run in np.split(places, np.flatnonzero(jumps) + 1):
        if (len(run) + 1) * SAMPLE_MM >= SHORTEST_MM:
            yield sheet.band_at(float(run[0, 1])), run


def meridian_names(board: Board, decoration: Decoration) -> None:
    """The names of the zero mark and the seams along them, on every band that has room."""
    sheet, site = board.sheet, decoration.site
    for band in sheet.bands:
        middle_mm = (band.low_mm + band.high_mm) / 2
        named: list[tuple[float, str]] = [(0.0, "zero mark")]
        for name in site.seams:
            curve = site.seam(name)
            around = float(curve.at(float(level_t(curve, middle_mm)))[0])
            at_zero = abs(math.remainder(around, FULL_TURN)) < 1e-9
            if at_zero:
                named[0] = 0.0, f"{named[0][1]}, {name} seam"
            else:
                named.append((around, f"{name} seam"))
        for around, text in named:
            shorter = text.replace(" mark", "").replace(" seam", "")
            for seen in sheet.around_in(around):
                if not any(board.put_best(_along(board, band, seen, each), over_lines=False) for each in (text, shorter)):
                    board.put_best(_along(board, band, seen, shorter))


def _along(board: Board, band: PaperBand, around: float, text: str) -> Iterator[tuple[PaperBand, TextItem]]:
    high_mm = band.high_mm - band.low_mm
    for right_mm in (1.5, -1.5, 4.4, -4.4, 7.0, -7.0):
        for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
            down = band.low_mm + share * high_mm
            yield band, board.text(band, around, down, right_mm, text, NAME_MM, turn_deg=-90.0, role="meridian")
    for right_mm in (10.0, -10.0, 14.0, -14.0, 18.0, -18.0):
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            down = band.low_mm + share * high_mm
            yield band, board.text(band, around, down, right_mm, text, NAME_MM, role="meridian")


def sheet_names(board: Board, title: str) -> None:
    """What each band is of, which it is, and how far off; less where there is no room for all of that."""
    for band in board.sheet.bands:
        name = "rim this way up"
        if band.count > 1:
            name = f"band {band.number} of {band.count}, {band.low_mm:.4g} to {band.high_mm:.4g} mm down"
        off = f", off by up to {band.off_mm:.1f} mm" if band.off_mm > 0.05 else ""
        names = [f"{title}, {name}{off}", f"{name}{off}", name, name.removeprefix("band ").replace(" mm down", " down")]
        ways = [_anywhere(board, band, each) for each in names] + [_upright(board, band, each) for each in names[1:]]
        if not any(board.put_best(way, over_lines=False) for way in ways):
            any(board.put_best(_anywhere(board, band, each)) for each in (names[-1], f"{band.number}"))


def limit_names(board: Board, decoration: Decoration) -> None:
    """The names of clearances and keepouts, where there is room."""
    sheet, site = board.sheet, decoration.site
    for text, down_mm in (("rim clearance", site.top_mm - 1.4), ("base clearance", site.bottom_mm + 1.4)):
        band = sheet.band_at(min(max(down_mm, 0.0), sheet.wall.wall_mm))
        board.put_best(
            (
                (band, board.text(band, sheet.start_rad + math.radians(turn), down_mm, 0.0, text, 1.8, fill=GREY, role="limit"))
                for turn in range(12, 350, 4)
            ),
            over_lines=False,
        )
    for keepout in site.keepouts:
        low, high = keepout.around_range
        _, top, _, bottom = keepout.polygon.bounds
        for band in sheet.bands:
            first, last = max(top, band.low_mm), min(bottom, band.high_mm)
            if last - first > 2 * NAME_MM:
                around = next(sheet.around_in((low + high) / 2))
                place = (band, board.text(band, around, (first + last) / 2, 0.0, "keepout", 2.8, role="keepout"))
                board.put_best([place])


def _anywhere(board: Board, band: PaperBand, text: str) -> Iterator[tuple[PaperBand, TextItem]]:
    """Places all over a band, the upper ones to the left first."""
    high_mm = band.high_mm - band.low_mm
    first, last = (8.5, high_mm - 3.0) if high_mm > 25 else (0.35 * high_mm, 0.65 * high_mm)
    for size in (NAME_MM, 0.85 * NAME_MM):
        for down in np.linspace(first, last, NAME_ROWS).tolist():
            for turn in range(4, 356, 6):
                around = board.sheet.start_rad + math.radians(turn)
                yield band, board.text(band, around, band.low_mm + down, 0.0, text, size, role="title")


def _upright(board: Board, band: PaperBand, text: str) -> Iterator[tuple[PaperBand, TextItem]]:
    """Places where a text runs up the wall: between lines that run down it."""
    for turn in range(3, 357, 1):
        around = board.sheet.start_rad + math.radians(turn)
        middle_mm = (band.low_mm + band.high_mm) / 2
        yield band, board.text(band, around, middle_mm, 0.0, text, NAME_MM, turn_deg=-90.0, role="title")
