"""Where the wall of a cup, laid flat once round, lies on the page of a picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stripegen.decoration import Decoration
from stripegen.shapes import FULL_TURN, Shape
from stripegen.spec import Vertical
from stripegen.surface import Frustum

EVEN_START_RAD = math.radians(5)  # the left edge stands at a multiple of this where it can
CLOSE_RAD = math.radians(4)  # what lies so near to the edge would crowd it
OUTLINE_STEPS = 720


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The development of a wall from `start_rad` to the right, once round, its middle meridian upright.

    `scale` is page mm for 1 mm of wall; `x_mm`, `y_mm` is where the middle meridian leaves the rim.
    """

    wall: Frustum
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

    def place(self, around_rad, down_mm):
        """Points of the wall on the page, arrays as given."""
        x, y = self.wall.develop(around_rad, down_mm, about=(self.middle_rad, 0.0))
        return self.x_mm + self.scale * x, self.y_mm + self.scale * y

    def beside(
        self, around_rad: float, down_mm: float, right_mm: float, below_mm: float
    ) -> tuple[float, float]:
        """A point of the page so far to the right and below a point of the wall, as the wall leans there."""
        x, y = self.place(around_rad, down_mm)
        lean = self.wall.slope * (around_rad - self.middle_rad)
        right, below = (math.cos(lean), -math.sin(lean)), (math.sin(lean), math.cos(lean))
        return (
            float(x) + right_mm * right[0] + below_mm * below[0],
            float(y) + right_mm * right[1] + below_mm * below[1],
        )

    def turn_deg(self, around_rad: float) -> float:
        """By how much a text that runs round the cup there is turned on the page."""
        return -math.degrees(self.wall.slope * (around_rad - self.middle_rad))

    def bounds(self) -> tuple[float, float, float, float]:
        """x0, y0, x1, y1 on the page."""
        turns = np.linspace(self.start_rad, self.end_rad, OUTLINE_STEPS)
        ends = (self.place(turns, np.full_like(turns, down)) for down in (0.0, self.wall.wall_mm))
        x, y = np.concatenate(list(ends), axis=1)
        return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def fitted_sheet(decoration: Decoration, width_mm: float, height_mm: float) -> Sheet:
    """The sheet of a decoration's wall, as large as fits into so much room, with its corner anywhere."""
    sheet = Sheet(wall=decoration.site.wall, start_rad=start_of(decoration), scale=1.0)
    x0, y0, x1, y1 = sheet.bounds()
    return Sheet(
        wall=sheet.wall,
        start_rad=sheet.start_rad,
        scale=min(width_mm / (x1 - x0), height_mm / (y1 - y0)),
    )


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
