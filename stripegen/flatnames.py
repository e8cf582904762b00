"""The names on the flat picture: degrees and seams over it, clearances and keepouts on the wall."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from stripegen.decoration import Decoration
from stripegen.drawing import Item, PathItem, TextItem
from stripegen.flatfigures import Board
from stripegen.flatsheet import Sheet
from stripegen.lettering import centred, filled, fitted_mm, text_box
from stripegen.outline import Stroke
from stripegen.pictures import PALE_TEXT, RULE, TEXT
from stripegen.shapes import FULL_TURN

TICK_STEPS_DEG, DEGREE_STEPS_DEG = (1, 5, 10, 15, 30, 45, 90), (10, 15, 30, 45, 90)
TICKS_APART_MM, DEGREES_APART_MM = 1.6, 11.0


def rim_names(sheet: Sheet, decoration: Decoration) -> list[Item]:
    """Degrees along the upper edge of each band, and the names of the seams over the rim."""
    seams: list[TextItem] = []
    for name, (rim_rad, _) in decoration.site.seams.items():
        for turn in (-1, 0, 1):
            around = rim_rad + turn * FULL_TURN
            if sheet.start_rad - 1e-9 <= around <= sheet.end_rad + 1e-9:
                above_mm = 8.2
                text = _over(sheet, around, 0.0, above_mm, f"{name} seam", 2.8, TEXT)
                while not _is_free(text, seams):
                    above_mm += 3.4
                    text = _over(sheet, around, 0.0, above_mm, f"{name} seam", 2.8, TEXT)
                seams.append(text)
    items: list[Item] = []
    for band in sheet.bands:
        items += _degrees(sheet, band.low_mm, seams)
    return [*items, *seams]


def _is_free(text: TextItem, taken: Sequence[TextItem]) -> bool:
    return not any(text_box(text, 0.3).intersects(text_box(other, 0.3)) for other in taken)


def _degrees(sheet: Sheet, down_mm: float, seams: Sequence[TextItem]) -> list[Item]:
    """Ticks along the upper edge of a band, and degrees where no seam's name stands."""
    radius_mm = sheet.scale * float(sheet.wall.radius_mm(down_mm))
    items: list[Item] = []
    apart = {step: radius_mm * math.radians(step) for step in (*TICK_STEPS_DEG, *DEGREE_STEPS_DEG)}
    numbered = next((step for step in DEGREE_STEPS_DEG if apart[step] >= DEGREES_APART_MM), 90)
    ticked = next(
        (step for step in TICK_STEPS_DEG if apart[step] >= TICKS_APART_MM and numbered % step == 0), 90
    )
    ticks = []
    first, last = math.degrees(sheet.start_rad), math.degrees(sheet.end_rad)
    for degrees in range(math.ceil(first / ticked - 1e-9) * ticked, math.floor(last + 1e-9) + 1, ticked):
        around = math.radians(degrees)
        long = degrees % numbered == 0
        ticks.append(
            Stroke.through(
                [sheet.beside(around, down_mm, 0.0, below) for below in (-0.4, -2.0 if long else -1.2)]
            )
        )
        if long:
            text = _over(sheet, around, down_mm, 4.0, f"{degrees % 360}\u00b0", 2.5, PALE_TEXT)
            # round a ledge both ends of the turn are one, and inside a narrow one degrees come close
            if _is_free(text, [*seams, *items]):
                items.append(text)
    items.append(PathItem(shapes=tuple(ticks), stroke=RULE, stroke_width_mm=0.13, role="ticks"))
    return items


def _over(
    sheet: Sheet, around_rad: float, down_mm: float, above_mm: float, text: str, size: float, fill: str
) -> TextItem:
    x, y = sheet.beside(around_rad, down_mm, 0.0, -above_mm)
    return centred(text, x, y, size, sheet.turn_deg(around_rad, down_mm), fill=fill, role="rim")


def wall_names(sheet: Sheet, decoration: Decoration, board: Board) -> list[Item]:
    """The names of the clearances and the keepouts, where there is room among the figures."""
    site = decoration.site
    items: list[Item] = []
    for name, low_mm, high_mm in (
        ("rim clearance", 0.0, site.top_mm),
        ("base clearance", site.bottom_mm, site.wall.wall_mm),
    ):
        figure = f"{name} {high_mm - low_mm:.1f}".removesuffix(".0")
        _, low_mm, high_mm = max(sheet.spans(low_mm, high_mm), key=lambda span: span[2] - span[1])
        size = min(2.6, 0.62 * sheet.scale * (high_mm - low_mm))
        if size < 1.7:
            continue  # its ruler names it
        for share in (0.12, 0.88, 0.3, 0.7, 0.5, 0.2, 0.8):
            around = sheet.start_rad + share * FULL_TURN
            text = _on_wall(sheet, around, (low_mm + high_mm) / 2, figure, size, board.ink)
            if board.is_free(text_box(text, 0.4)) and board.is_bare(text_box(text)):
                items += board.put(text)
                break
    for number, keepout in enumerate(site.keepouts, 1):
        name = "keepout" if len(site.keepouts) == 1 else f"keepout {number}"
        for _, part in sheet.parts(keepout):
            items += _keepout_name(sheet, part, name, board)
    return items


def _keepout_name(sheet: Sheet, part: shapely.Polygon, name: str, board: Board) -> list[Item]:
    """Its name in it, level or upright; beside what stands there already."""
    low_rad, high_mm, high_rad, low_mm = part.bounds
    around = (low_rad + high_rad) / 2
    across = sheet.scale * sheet.wall.radius_mm((high_mm + low_mm) / 2) * (high_rad - low_rad)
    along = sheet.scale * (low_mm - high_mm)
    for room, turn in ((across, 0.0), (along, -90.0)):
        size = fitted_mm(name, 3.0, room - 1.5)
        if size < 1.8 or size > (across if turn else along):
            continue
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            down = high_mm + share * (low_mm - high_mm)
            text = _on_wall(sheet, around, down, name, size, board.ink, turn)
            if board.is_free(text_box(text, 0.4)):
                board.taken.append(text_box(text, 0.3))
                plate = filled(text_box(text, 0.5), board.ground, 0.88, role="plate")
                return [plate, text]
    return []


def _on_wall(
    sheet: Sheet, around_rad: float, down_mm: float, text: str, size: float, ink: str, turn_deg: float = 0.0
) -> TextItem:
    """A text with its middle on a point of the wall."""
    x, y = sheet.beside(around_rad, down_mm, 0.0, 0.0)
    return centred(text, x, y, size, turn_deg + sheet.turn_deg(around_rad, down_mm), fill=ink, role="name")
