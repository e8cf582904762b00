"""What is drawn on a paper guide: the pieces of one cup with their marks, its limits, and ticks to lay it by."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from stripegen.crossing import level_t
from stripegen.decoration import Decoration
from stripegen.drawing import TextItem
from stripegen.guidenames import Board, limit_names, meridian_names, piece_marks, sheet_names
from stripegen.guidepieces import Marked
from stripegen.guidesheet import GuideSheet
from stripegen.lettering import text_width_mm
from stripegen.paper import BLACK, GREY, PALE, Canvas, Ink, text_on
from stripegen.paperbands import PaperBand
from stripegen.pictures import hatched, page_rings, parts_seen
from stripegen.shapes import FULL_TURN, Edge, images

PIECE_MM, HIDDEN_DASH_MM = 0.25, (1.2, 0.9)
EDGE_MM = 0.35
TICKS_MM = {1: 1.0, 5: 1.6, 10: 2.2}  # lengths
DEGREE_TICK_MM, INNER_TICKS_MM = 2.4, {5: 1.0, 15: 1.8}
FIGURE_MM = 1.9
FIGURES_AT_MM, DEGREES_AT_MM, INNER_DEGREES_AT_MM = 3.4, 5.2, 2.9
DEGREE_STEPS = (15, 30, 45, 90)
DEGREES_APART_MM, CLOSE_TO_ZERO_MM = 5.5, 6.0
QUARTERS = ("0\u00b0", "90\u00b0", "180\u00b0", "270\u00b0")  # told whatever lies under them
BOTH_EDGES_MM = 25.0  # a band so high has degrees at both its edges
SPECK_MM = 0.02

Figures = list[tuple[PaperBand, TextItem]]


def guide_canvas(decoration: Decoration, pieces: Sequence[Marked], sheet: GuideSheet, title: str) -> Canvas:
    """The whole guide of a decorated cup, at true size. `title` stands on each of its bands."""
    inks: list[Ink] = []
    for band in sheet.bands:
        inks += _border(sheet, band)
        inks += _limits(sheet, band, decoration)
        inks += _pieces(sheet, band, pieces)
    figures: Figures = []
    inks += [*_tapes(sheet, figures), *_meridians(sheet, decoration)]
    inner: Figures = []
    inks += _inner_degrees(sheet, inner)
    board = Board.over(sheet, inks)
    board.put_all(text for _, text in figures)
    board.put_all(_flap_names(sheet))
    for figure in inner:
        board.put_best([figure], over_lines=figure[1].text in QUARTERS)
    meridian_names(board, decoration)
    sheet_names(board, title)
    piece_marks(board, pieces, decoration.site.wall)
    limit_names(board, decoration)
    return Canvas(tuple(inks), tuple(board.texts))


def _border(sheet: GuideSheet, band: PaperBand) -> Iterator[Ink]:
    """Where a band is cut out, the line on which its first edge is laid, and its flap."""
    for down_mm in (band.low_mm, band.high_mm):
        yield Ink(sheet.level(band, down_mm), EDGE_MM, role="edge")
    for around in (sheet.start_rad, sheet.end_rad):
        chain = np.array([(around, band.low_mm), (around, band.high_mm)])
        yield Ink(sheet.drawn(band, chain), EDGE_MM, role="edge")
    flap = sheet.flap(band)
    if flap is not None:
        yield Ink(flap, 0.18, role="flap")


def _flap_names(sheet: GuideSheet) -> Iterator[TextItem]:
    for band in sheet.bands:
        flap = sheet.flap(band)
        if flap is None:
            continue
        x, y = (flap[[0, 3]].mean(axis=0) + flap[[1, 2]].mean(axis=0)) / 2
        high_mm = band.high_mm - band.low_mm
        text = "lay the first edge on this line" if high_mm > 46 else "first edge here" if high_mm > 23 else "flap"
        yield text_on(text, x, y, 2.2, sheet.lean_deg(band, sheet.end_rad) - 90, role="flap")


def _chains(line: shapely.Geometry, scale: float) -> Iterator[np.ndarray]:
    """Lines of the plane (mean radius x around, down) as chains of (around, down)."""
    merged = shapely.line_merge(line) if line.geom_type == "MultiLineString" else line
    for part in shapely.get_parts(merged):
        if part.geom_type in ("LineString", "LinearRing") and part.length > SPECK_MM:
            yield shapely.get_coordinates(part) / (scale, 1.0)


def _box(sheet: GuideSheet, band: PaperBand) -> shapely.Polygon:
    scale = sheet.wall.mean_radius_mm
    return shapely.box(scale * sheet.start_rad, band.low_mm, scale * sheet.end_rad, band.high_mm)


def _pieces(sheet: GuideSheet, band: PaperBand, pieces: Sequence[Marked]) -> Iterator[Ink]:
    """Outlines, dashed where others lie over them."""
    box, scale = _box(sheet, band), sheet.wall.mean_radius_mm
    turn = (sheet.start_rad, sheet.end_rad)
    seen = [(n, image.polygon) for n, each in enumerate(pieces) for image in images([each.shape], turn)]
    seen = [(n, polygon) for n, polygon in seen if polygon.intersects(box)]
    tree = shapely.STRtree([polygon for _, polygon in seen])
    for n, polygon in seen:
        outline = polygon.boundary.intersection(box)
        line = pieces[n].piece.line
        over = [
            seen[at][1]
            for at in tree.query(polygon, predicate="intersects")
            if seen[at][0] > n and pieces[seen[at][0]].piece.line != line
        ]
        cover = shapely.union_all(over)
        for part, dash in ((outline.difference(cover), ()), (outline.intersection(cover), HIDDEN_DASH_MM)):
            for chain in _chains(part, scale):
                yield Ink(sheet.drawn(band, chain), PIECE_MM, dash_mm=dash, role="hidden" if dash else "piece")


def _limits(sheet: GuideSheet, band: PaperBand, decoration: Decoration) -> Iterator[Ink]:
    """Clearances as thin lines, keepouts hatched."""
    site = decoration.site
    for down_mm in (site.top_mm, site.bottom_mm):
        if sheet.band_at(down_mm) is band:
            yield Ink(sheet.level(band, down_mm), 0.13, GREY, role="limit")
    box = _box(sheet, band)
    for keepout in site.keepouts:
        for image in images([keepout], (sheet.start_rad, sheet.end_rad)):
            for chain in _chains(image.polygon.boundary.intersection(box), site.wall.mean_radius_mm):
                yield Ink(sheet.drawn(band, chain), 0.2, GREY, role="keepout")
        for part in parts_seen(keepout, sheet.start_rad, sheet.end_rad, band.low_mm, band.high_mm):
            outer, *holes = (ring.points(0.05) for ring in page_rings(part, sheet.onto(band), 0.05))
            for line in hatched(shapely.make_valid(shapely.Polygon(outer, holes))):
                yield Ink(np.array(line.points(1.0)), 0.1, PALE, role="hatch")


def _meridians(sheet: GuideSheet, decoration: Decoration) -> Iterator[Ink]:
    """The zero mark and the seams."""
    scale = sheet.wall.mean_radius_mm
    for band in sheet.bands:
        for around in sheet.around_in(0.0):
            chain = np.array([(around, band.low_mm), (around, band.high_mm)])
            yield Ink(sheet.drawn(band, chain), 0.16, dash_mm=(5.0, 1.2, 0.8, 1.2), role="zero")
        box = _box(sheet, band)
        for name in decoration.site.seams:
            curve = decoration.site.seam(name)
            edge = Edge(curve, 0.0, float(level_t(curve, sheet.wall.wall_mm)))
            chain = np.stack(edge.curve.at(edge.samples()), axis=-1)
            if np.ptp(chain[:, 0]) < 1e-12 and abs(math.remainder(chain[0, 0], FULL_TURN)) < 1e-9:
                continue  # it is the zero mark
            line = shapely.LineString(chain * (scale, 1.0))
            low, high = (math.floor((at - chain[0, 0]) / FULL_TURN) for at in (sheet.start_rad, sheet.end_rad))
            for turn in range(low - 1, high + 2):
                moved = shapely.transform(line, lambda points, by=turn * FULL_TURN * scale: points + (by, 0.0))
                for part in _chains(moved.intersection(box), scale):
                    yield Ink(sheet.drawn(band, part), 0.14, GREY, dash_mm=(2.4, 1.4), role="seam")


def _tapes(sheet: GuideSheet, figures: Figures) -> Iterator[Ink]:
    """Millimetres for the tape and degrees, at rim and base; their figures are added to a list."""
    first, last = sheet.bands[0], sheet.bands[-1]
    for edge in (_EdgeOf(sheet, first, first.low_mm, 1), _EdgeOf(sheet, last, last.high_mm, -1)):
        girth_mm = FULL_TURN * edge.radius_mm
        for number in range(math.floor(girth_mm - 1e-9) + 1):
            step = next(step for step in (10, 5, 1) if number % step == 0)
            told = step == 10 and (not number or girth_mm - number > CLOSE_TO_ZERO_MM)
            for around in sheet.around_in(number / edge.radius_mm):
                yield edge.tick(around, TICKS_MM[step], 0.12, "tape")
                if told:
                    figures.append(edge.figure(around, FIGURES_AT_MM, f"{number}", "tape"))
        yield from _degrees(edge, {15: DEGREE_TICK_MM}, DEGREES_AT_MM, figures)


def _inner_degrees(sheet: GuideSheet, figures: Figures) -> Iterator[Ink]:
    """Degrees where two bands meet; their figures are added to a list."""
    for upper, lower in pairwise(sheet.bands):
        yield from _degrees(_EdgeOf(sheet, lower, lower.low_mm, 1), INNER_TICKS_MM, INNER_DEGREES_AT_MM, figures)
        told = figures if upper.high_mm - upper.low_mm >= BOTH_EDGES_MM else []
        yield from _degrees(_EdgeOf(sheet, upper, upper.high_mm, -1), INNER_TICKS_MM, INNER_DEGREES_AT_MM, told)


def _degrees(edge: _EdgeOf, lengths: dict[int, float], at_mm: float, figures: Figures) -> Iterator[Ink]:
    numbered = next((step for step in DEGREE_STEPS if math.radians(step) * edge.radius_mm >= DEGREES_APART_MM), 90)
    for degrees in range(0, 360, min(lengths)):
        step = max(each for each in lengths if degrees % each == 0)
        for around in edge.sheet.around_in(math.radians(degrees)):
            yield edge.tick(around, lengths[step], 0.2, "degree")
            if degrees % numbered == 0:
                figures.append(edge.figure(around, at_mm, f"{degrees}\u00b0", "degree"))


@dataclass(frozen=True, slots=True)
class _EdgeOf:
    """The upper (`side` 1) or lower (-1) edge of a band, from which ticks point inwards."""

    sheet: GuideSheet
    band: PaperBand
    down_mm: float
    side: int

    @property
    def radius_mm(self) -> float:
        return float(self.sheet.wall.radius_mm(self.down_mm))

    def tick(self, around: float, long_mm: float, width_mm: float, role: str) -> Ink:
        ends = [self.sheet.beside(self.band, around, self.down_mm, 0.0, self.side * each) for each in (0.0, long_mm)]
        return Ink(np.array(ends), width_mm, BLACK, role=role)

    def figure(self, around: float, in_mm: float, text: str, role: str) -> tuple[PaperBand, TextItem]:
        """A figure by its tick, moved inwards where it would reach past the band's first or last edge."""
        half_mm = text_width_mm(text, FIGURE_MM) / 2 + 0.3
        left, right = (self.radius_mm * (around - self.sheet.start_rad), self.radius_mm * (self.sheet.end_rad - around))
        aside_mm = max(0.0, half_mm - left) - max(0.0, half_mm - right)
        x, y = self.sheet.beside(self.band, around, self.down_mm, aside_mm, self.side * in_mm)
        return self.band, text_on(text, x, y, FIGURE_MM, self.sheet.lean_deg(self.band, around), role=role)
