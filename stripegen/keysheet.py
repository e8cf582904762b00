"""The key to a cut sheet: the same sheet with every piece's name, to print and keep beside the cutter."""

from __future__ import annotations

import math
from collections.abc import Mapping

from stripegen.drawing import Drawing, Item, PathItem, TextItem
from stripegen.outline import Outline, Ring, Stroke
from stripegen.placing import Placed
from stripegen.sheets import OffcutPlace, Sheet

INK = "#222222"
PALE = "#f1eee8"
BLOCK = "#dfe8ec"
EDGE = "#8a857c"
WIDTH_OF_LETTER = 0.58  # of the font's size, about
LEAST_TEXT_MM, MOST_TEXT_MM = 1.6, 4.0
HEAD_MM = 12.0
ROW_MM = 4.2
COLUMN_MM = 75.0


def key_drawing(sheet: Sheet, by_order: bool = False, measured: Mapping[str, Outline] | None = None) -> Drawing:
    """The sheet at true size below a title; a piece too small for its name has a number, told below the sheet.

    `measured` are its test pieces, by name. `by_order` draws the box in which each order's pieces lie, where none lies in another's.
    """
    width_mm = max(sheet.width_mm, 100.0)
    number = len(sheet.offcuts)
    what = f"mat, {number} offcut{'' if number == 1 else 's'}, " if sheet.is_on_mat else ""
    items: list[Item] = [
        TextItem(
            text=f"{sheet.name}   {sheet.width_mm:g} x {sheet.length_mm:.1f} mm, {what}{len(sheet.placed)} pieces",
            x_mm=2.0,
            y_mm=7.0,
            size_mm=min(4.5, (width_mm - 4) / WIDTH_OF_LETTER / (len(sheet.name) + 40 + len(what))),
            bold=True,
            fill=INK,
        ),
        PathItem(shapes=(_box(0, HEAD_MM, sheet.width_mm, sheet.length_mm),), stroke=EDGE, stroke_width_mm=0.2),
        *_margins(sheet),
        *(_blocks(sheet) if by_order else ()),
    ]
    told: list[str] = []
    for placed in sheet.placed:
        outline = placed.outline.moved(0.0, 0.0, HEAD_MM)
        items.append(PathItem.of(outline, stroke=EDGE, stroke_width_mm=0.15, fill=PALE))
        label = _label(placed, placed.piece.id)
        if label is None:
            told.append(placed.piece.id)
            label = _label(placed, str(len(told))) or _label(placed, str(len(told)), force=True)
        items.append(label)
    for name, outline in (measured or {}).items():
        x0, y0, x1, y1 = outline.bounds()
        long, upright = max(x1 - x0, y1 - y0), y1 - y0 > x1 - x0
        box = outline.moved(0.0, 0.0, HEAD_MM)
        items.append(PathItem.of(box, stroke=INK, stroke_width_mm=0.2))
        text, x, y = f"measure {long:g} mm", (x0 + x1) / 2, HEAD_MM + (y0 + y1) / 2
        place = {"x_mm": x + 0.8, "y_mm": y, "turn_deg": -90.0} if upright else {"x_mm": x, "y_mm": y + 0.8}
        items.append(TextItem(text=text, size_mm=2.4, anchor="middle", fill=INK, role=name, **place))
    told = [f"{number}  {name}" for number, name in enumerate(told, 1)]
    if sheet.is_on_mat:
        told = [f"offcut {_size_and_place(offcut)}" for offcut in sheet.offcuts] + told
    columns = max(1, int(width_mm // COLUMN_MM))
    rows = math.ceil(len(told) / columns)
    top = HEAD_MM + sheet.length_mm + 6.0
    for index, line in enumerate(told):
        column, row = divmod(index, rows)
        items.append(
            TextItem(
                text=line,
                x_mm=2.0 + column * COLUMN_MM,
                y_mm=top + row * ROW_MM,
                size_mm=2.8,
                fill=INK,
            )
        )
    height_mm = HEAD_MM + sheet.length_mm + (6.0 + rows * ROW_MM if told else 2.0)
    return Drawing(width_mm, height_mm, tuple(items))


def _box(x: float, y: float, width: float, height: float) -> Ring:
    return Ring.through([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def _margins(sheet: Sheet) -> list[Item]:
    """What lies between the margins; on a mat that of each offcut, with its outline, and in its margin size and place."""
    if not sheet.is_on_mat:
        return _margin(sheet, 0.0, HEAD_MM, sheet.width_mm, sheet.length_mm)
    items: list[Item] = []
    for offcut in sheet.offcuts:
        x, y = offcut.x_mm, HEAD_MM + offcut.y_mm
        box = _box(x, y, offcut.width_mm, offcut.length_mm)
        items.append(PathItem(shapes=(box,), stroke=INK, stroke_width_mm=0.3))
        items += _margin(sheet, x, y, offcut.width_mm, offcut.length_mm)
        text = _size_and_place(offcut)
        text_mm = min(2.8, 0.8 * sheet.vinyl.margin_mm, (offcut.width_mm - 2.0) / WIDTH_OF_LETTER / len(text))
        if text_mm >= LEAST_TEXT_MM:
            items.append(TextItem(text=text, x_mm=x + 1.0, y_mm=y + 0.3 + 0.8 * text_mm, size_mm=text_mm, fill=INK))
    return items


def _size_and_place(offcut: OffcutPlace) -> str:
    return f"{offcut.width_mm:g} x {offcut.length_mm:g} mm at {offcut.x_mm:g}, {offcut.y_mm:g}"


def _margin(sheet: Sheet, x: float, y: float, width: float, length: float) -> list[Item]:
    margin = sheet.vinyl.margin_mm
    if not margin:
        return []
    box = _box(x + margin, y + margin, width - 2 * margin, length - 2 * margin)
    return [PathItem(shapes=(Stroke(box.start, box.edges),), stroke=EDGE, stroke_width_mm=0.1, dash_mm=(2.0, 2.0))]


def _blocks(sheet: Sheet) -> list[Item]:
    """A box about each order's pieces, half a gap away from them."""
    bounds: dict[str, list[tuple[float, float, float, float]]] = {}
    for placed in sheet.placed:
        bounds.setdefault(placed.piece.order, []).append(placed.outline.bounds())
    half = sheet.vinyl.piece_gap_mm / 2
    boxes = []
    for order, own in bounds.items():
        left, top, right, bottom = zip(*own, strict=True)
        x, y = min(left) - half, min(top) - half
        box = _box(x, HEAD_MM + y, max(right) + half - x, max(bottom) + half - y)
        boxes.append(PathItem(shapes=(box,), stroke=INK, stroke_width_mm=0.2, fill=BLOCK, id=f"order-{order}"))
    return boxes


def _label(placed: Placed, text: str, force: bool = False) -> TextItem | None:
    """The text along the piece's middle, as large as the piece lets it be; None where it would be too small."""
    flat = placed.piece.flat
    room = 0.85 * min(flat.cut_mm, flat.straight_run_mm)
    size = min(MOST_TEXT_MM, 0.75 * flat.width_mm, room / (WIDTH_OF_LETTER * len(text)))
    if size < LEAST_TEXT_MM:
        if not force:
            return None
        size = LEAST_TEXT_MM
    turn = math.radians(placed.placement.turn_deg)
    x, y = flat.middle
    x, y = (
        x * math.cos(turn) - y * math.sin(turn) + placed.placement.dx_mm,
        x * math.sin(turn) + y * math.cos(turn) + placed.placement.dy_mm,
    )
    # the centre line's direction on the sheet, as an angle from +x towards +y; text never upside down
    way = math.remainder(math.degrees(math.pi / 2 - flat.lean_rad + turn), 180.0)
    if way <= -90.0 + 1e-6:
        way += 180.0
    down = 0.35 * size  # from the base line to the middle of the letters
    rad = math.radians(way)
    return TextItem(
        text=text,
        x_mm=x - down * math.sin(rad),
        y_mm=y + HEAD_MM + down * math.cos(rad),
        size_mm=size,
        anchor="middle",
        turn_deg=way,
        fill=INK,
    )
