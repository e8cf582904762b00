"""Where the wall of a cup, laid flat once round in its bands, lies on the page of a picture."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.drawing import TextItem
from stripegen.flatbands import Band, band_name, bands_of, footprint, stacked
from stripegen.outline import Ring, Stroke
from stripegen.pictures import CHORD_MM, Onto, chains_seen, page_rings, page_stroke, parts_seen
from stripegen.shapes import FULL_TURN, Edge, Shape
from stripegen.spec import Vertical
from stripegen.surface import Wall

EVEN_START_RAD = math.radians(5)  # the left edge stands at a multiple of this where it can
CLOSE_RAD = math.radians(4)  # what lies so near to the edge would crowd it


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A wall laid flat from `start_rad` to the right, once round, in bands, the middle meridian of each upright.

    `scale` is page mm for 1 mm of wall; `x_mm`, `y_mm` is where the middle meridian leaves the rim.
    """

    wall: Wall
    bands: tuple[Band, ...]
    start_rad: float
    scale: float
    x_mm: float = 0.0
    y_mm: float = 0.0

    @property
    def end_rad(self) -> float:
        return self.start_rad + FULL_TURN

    @property
    def middle_rad(self) -> float:
        return self.start_rad + FULL_TURN / 2

    @property
    def is_exact(self) -> bool:
        """Whether every band is the wall itself, unrolled."""
        return all(band.is_exact for band in self.bands)

    def band_at(self, down_mm: float) -> Band:
        """The band that a place lies in; where two meet, the lower one."""
        return next((band for band in reversed(self.bands) if band.low_mm <= down_mm), self.bands[0])

    def onto(self, band: Band) -> Onto:
        """How a band's part of the wall comes onto the page."""

        def place(around_rad, down_mm):
            x, y = band.laid(around_rad - self.middle_rad, down_mm)
            return self.x_mm + self.scale * x, self.y_mm + band.shift_mm + self.scale * y

        return Onto(place, band.bending, band.part.bends_mm)

    def spots(self, band: Band, x_mm: np.ndarray, y_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The places of the wall, around and down, that points of the page show in a band."""
        turn, down = band.spots((x_mm - self.x_mm) / self.scale, (y_mm - self.y_mm - band.shift_mm) / self.scale)
        return self.middle_rad + turn, down

    def place(self, around_rad: float, down_mm: float) -> tuple[float, float]:
        """A point of the wall on the page."""
        x, y = self.onto(self.band_at(down_mm)).place(around_rad, down_mm)
        return float(x), float(y)

    def beside(
        self, around_rad: float, down_mm: float, right_mm: float, below_mm: float
    ) -> tuple[float, float]:
        """A point of the page so far to the right and below a point of the wall, as the wall leans there."""
        x, y = self.place(around_rad, down_mm)
        lean = self.band_at(down_mm).lean_rad(around_rad - self.middle_rad, down_mm)
        right, below = (math.cos(lean), -math.sin(lean)), (math.sin(lean), math.cos(lean))
        return (
            x + right_mm * right[0] + below_mm * below[0],
            y + right_mm * right[1] + below_mm * below[1],
        )

    def turn_deg(self, around_rad: float, down_mm: float) -> float:
        """By how much a text that runs round the cup there is turned on the page."""
        return -math.degrees(self.band_at(down_mm).lean_rad(around_rad - self.middle_rad, down_mm))

    def parts(self, shape: Shape) -> Iterator[tuple[Band, shapely.Polygon]]:
        """What of a shape lies in each band, as polygons of (around, down)."""
        for band, low, high in self._reaches():
            for part in parts_seen(shape, self.start_rad, self.end_rad, low, high):
                yield band, part

    def rings(self, band: Band, part: shapely.Polygon) -> tuple[Ring, ...]:
        """A part of a band on the page."""
        return page_rings(part, self.onto(band), CHORD_MM / self.scale)

    def strokes(self, edge: Edge) -> Iterator[Stroke]:
        """A line on the wall on the page."""
        for band, low, high in self._reaches():
            for chain in chains_seen(edge, self.start_rad, self.end_rad, low, high):
                yield page_stroke(chain, self.onto(band), CHORD_MM / self.scale)

    def level(self, down_mm: float, low_rad: float, high_rad: float) -> Stroke:
        """A part of a girth on the page."""
        chain = np.array([(low_rad, down_mm), (high_rad, down_mm)])
        return page_stroke(chain, self.onto(self.band_at(down_mm)), CHORD_MM / self.scale)

    def belts(self, low_mm: float, high_mm: float) -> Iterator[Ring]:
        """The wall from one girth to another on the page, band by band."""
        for band, low, high in self.spans(low_mm, high_mm):
            yield self.rings(band, shapely.box(self.start_rad, low, self.end_rad, high))[0]

    def spans(self, low_mm: float, high_mm: float) -> Iterator[tuple[Band, float, float]]:
        """What each band has of the way from one place down to another."""
        for band in self.bands:
            low, high = max(low_mm, band.low_mm), min(high_mm, band.high_mm)
            if low < high:
                yield band, low, high

    def _reaches(self) -> Iterator[tuple[Band, float, float]]:
        """Each band with the places down that it shows: the outer ones show what lies past rim and base too."""
        for band in self.bands:
            yield (
                band,
                -math.inf if band is self.bands[0] else band.low_mm,
                math.inf if band is self.bands[-1] else band.high_mm,
            )

    def names(self) -> list[TextItem]:
        """The bands' names, where there are several."""
        named = [(band, band_name(band, self.scale)) for band in self.bands if band.name]
        return [
            replace(text, x_mm=self.x_mm + text.x_mm, y_mm=self.y_mm + band.shift_mm + text.y_mm)
            for band, text in named
        ]

    def bounds(self) -> tuple[float, float, float, float]:
        """x0, y0, x1, y1 on the page, the bands' names included."""
        boxes = [np.array(footprint(band, self.scale).bounds) + (0.0, band.shift_mm) * 2 for band in self.bands]
        x0, y0 = np.min(boxes, axis=0)[:2].tolist()
        x1, y1 = np.max(boxes, axis=0)[2:].tolist()
        return self.x_mm + x0, self.y_mm + y0, self.x_mm + x1, self.y_mm + y1


def fitted_sheet(
    decoration: Decoration, width_mm: float, height_mm: float, several_height_mm: float | None = None
) -> Sheet:
    """The sheet of a decoration's wall, as large as fits into so much room, with its corner anywhere.

    Several bands may be higher together, and fit about.
    """
    wall = decoration.site.wall
    bands = bands_of(wall)
    sheet = Sheet(wall=wall, bands=stacked(bands, 1.0), start_rad=start_of(decoration), scale=1.0)
    x0, y0, x1, y1 = sheet.bounds()
    if len(bands) > 1 and several_height_mm:
        height_mm = several_height_mm
    scale = min(width_mm / (x1 - x0), height_mm / (y1 - y0))
    return replace(sheet, bands=stacked(bands, scale), scale=scale)


def start_of(decoration: Decoration) -> float:
    """The meridian at the left edge, from a turn before 0 to 0.

    It is the zero mark unless a vertical line or a keepout lies there or close by: then it is the middle of
    the next broad gap to the left, so that the edge splits none of them.
    """
    shapes: list[Shape] = list(decoration.site.keepouts)
    for laid in decoration.lines:
        if isinstance(laid.line, Vertical):
            shapes += [shape.carried(decoration.site.wall) for shape in laid.region]
    taken = []
    for low, high in (shape.around_range for shape in shapes):
        first = low % FULL_TURN - FULL_TURN
        taken += [(first + turn, first + turn + high - low) for turn in (-FULL_TURN, 0.0, FULL_TURN)]
    if not any(low - CLOSE_RAD < 0 < high + CLOSE_RAD for low, high in taken):
        return 0.0
    gaps, reached = [], -math.inf
    for low, high in sorted(taken):
        if low > reached > -math.inf and -FULL_TURN < (low + reached) / 2 <= 0:
            gaps.append((reached, low))
        reached = max(reached, high)
    broad = [gap for gap in gaps if gap[1] - gap[0] > 2 * CLOSE_RAD]
    if not gaps:
        return 0.0
    left, right = broad[-1] if broad else max(gaps, key=lambda gap: (round(gap[1] - gap[0], 6), gap[1]))
    middle = (left + right) / 2
    even = round(middle / EVEN_START_RAD) * EVEN_START_RAD
    return even if abs(even - middle) < (right - left) / 8 else middle
