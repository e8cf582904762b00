"""The key to a cut sheet: the same sheet with a mark on every piece and a list of whose they are, to weed and sort by."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import shapely

from stripegen.cutforms import scaled
from stripegen.drawing import PathItem
from stripegen.hatches import Filling, hatch_lines
from stripegen.keymarks import HEIGHTS_MM, Label, labels_of, moved, right_way_up
from stripegen.marks import Marked, marked
from stripegen.outline import Outline, Ring, Stroke
from stripegen.sheets import OffcutPlace, Sheet
from stripegen.strokefont import text_strokes, text_width

INK, HATCH_INK, EDGE, PAPER, BLOCK = "#1c1c1c", "#5c5c5c", "#6b675f", "#ffffff", "#efefec"
PEN = 0.12  # of the letters' height
LEAST_TEXT_MM, SMALL_MM = 1.4, 1.9


@dataclass(frozen=True)
class Key:
    """What the key to a sheet shows: each piece's mark, each order's filling, what each mark stands for.

    `measured` are the sheet's test pieces, by name. `by_order`: the box in which each order's pieces lie is drawn too.
    """

    sheet: Sheet
    labels: tuple[Label, ...]
    fillings: dict[str, Filling]
    marked: tuple[Marked, ...]
    measured: Mapping[str, Outline] = field(default_factory=dict)
    by_order: bool = False

    @property
    def facts(self) -> str:
        """The sheet in a line."""
        sheet, number = self.sheet, len(self.sheet.offcuts)
        what = f"mat, {number} offcut{'' if number == 1 else 's'}, " if sheet.is_on_mat else ""
        pieces, kinds = len(sheet.placed), len(self.marked)
        return (
            f"{sheet.vinyl.name}: {sheet.width_mm:g} x {sheet.length_mm:.1f} mm, {what}"
            f"{pieces} piece{'' if pieces == 1 else 's'}, {kinds} mark{'' if kinds == 1 else 's'}, "
            f"tightness {sheet.tightness:.3f}, waste {sheet.waste:.0%}"
            + (", cut from the back: in the cutter left is right" if sheet.vinyl.cut_from_back else "")
        )

    @cached_property
    def body(self) -> list[PathItem]:
        """The sheet with its marks at true size, in its own frame."""
        return body_items(self, self.labels)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Of the sheet and of the marks that stand outside it."""
        return self._bounds(self.sheet.length_mm)

    @property
    def used_bounds(self) -> tuple[float, float, float, float]:
        """The same, but no longer than the sheet is used."""
        ends = [outline.bounds()[3] for outline in (*(each.outline for each in self.sheet.placed), *self.measured.values())]
        return self._bounds(min(self.sheet.length_mm, max(ends) + self.sheet.vinyl.margin_mm))

    def _bounds(self, length_mm: float) -> tuple[float, float, float, float]:
        corners = [corner for label in self.labels if label.points_at for corner in label.corners]
        xs, ys = zip((0.0, 0.0), (self.sheet.width_mm, length_mm), *corners, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


def key_of(
    sheet: Sheet,
    marks: Mapping[str, str],
    fillings: Mapping[str, Filling],
    measured: Mapping[str, Outline] | None = None,
    by_order: bool = False,
) -> Key:
    """The key to a sheet. `marks` are by piece, as `marks_of` gives them, `fillings` by order, as `fillings_of` does."""
    pieces = [placed.piece for placed in sheet.placed]
    return Key(
        sheet=sheet,
        labels=_labels(sheet, marks, measured or {}),
        fillings={order: fillings[order] for order in sorted({piece.order for piece in pieces}, key=[*fillings].index)},
        marked=tuple(marked(pieces, marks)),
        measured=measured or {},
        by_order=by_order,
    )


def relabelled(key: Key, turn_deg: float, scale: float) -> Key:
    """The same key, its marks large enough and the right way up on a page where it is turned and scaled so."""
    marks = {label.piece: label.mark for label in key.labels}
    heights = [height / scale for height in HEIGHTS_MM]
    return replace(key, labels=_labels(key.sheet, marks, key.measured, heights_mm=heights, turn_deg=turn_deg))


def _labels(sheet: Sheet, marks: Mapping[str, str], measured: Mapping[str, Outline], **more) -> tuple[Label, ...]:
    kept_free = [outline.outer.points(0.1) for outline in measured.values()]
    return tuple(labels_of(sheet.placed, marks, sheet.width_mm, sheet.length_mm, kept_free, **more))


def body_items(
    key: Key, labels: Sequence[Label], scale: float = 1.0, turn_deg: float = 0.0
) -> list[PathItem]:
    """The sheet in its own frame, with these marks, drawn as suits a page where it is so many times as large and turned."""
    sheet = key.sheet
    box = _box(0, 0, sheet.width_mm, sheet.length_mm)
    items = [PathItem(shapes=(box,), stroke=EDGE, stroke_width_mm=0.2, fill=PAPER, role="sheet")]
    items += _margins(sheet)
    items += _blocks(sheet) if key.by_order else []
    for placed in sheet.placed:
        tint = key.fillings[placed.piece.order].tint
        thin = 0.15 * min(1.0, 2.0 * scale)
        items.append(PathItem.of(placed.outline, stroke=INK, stroke_width_mm=thin, fill=tint, id=placed.piece.id))
    items += _hatched(key, scale)
    items += _measured(key, scale, turn_deg)
    for label in labels:
        if label.points_at:
            items.append(_leader(label))
    for label in labels:
        items += _mark_items(label, scale)
    return items


def placed_on(items: Iterable[PathItem], turn_deg: float, dx_mm: float, dy_mm: float, scale: float = 1.0) -> list[PathItem]:
    """Items scaled, turned and shifted; their lines stay as thick as they are."""
    turn = math.radians(turn_deg)
    if not (turn or dx_mm or dy_mm) and scale == 1.0:
        return [*items]
    return [
        replace(item, shapes=tuple(scaled(shape, scale, scale).moved(turn, dx_mm, dy_mm) for shape in item.shapes))
        for item in items
    ]


def words(
    text: str, x_mm: float, y_mm: float, height_mm: float, anchor: str = "start", turn_deg: float = 0.0, **style
) -> list[PathItem]:
    """A line of text; nothing where it has no letters."""
    strokes = text_strokes(text, x_mm, y_mm, height_mm, anchor, turn_deg)
    pen = {"stroke": INK, "stroke_width_mm": PEN * height_mm, **style}
    return [PathItem(shapes=strokes, **pen)] if strokes else []


def swatch(filling: Filling, x_mm: float, y_mm: float, width_mm: float, height_mm: float, turn_deg: float = 0.0) -> list[PathItem]:
    """A sample of an order's filling, as its pieces look on a sheet that is turned so."""
    box = shapely.box(x_mm, y_mm, x_mm + width_mm, y_mm + height_mm)
    turned = replace(filling.hatch, angles_deg=tuple(angle + turn_deg for angle in filling.hatch.angles_deg))
    (lines,) = hatch_lines([box], [(x_mm + width_mm / 2, y_mm + height_mm / 2)], turned)
    ring = _box(x_mm, y_mm, width_mm, height_mm)
    ground = PathItem(shapes=(ring,), stroke=INK, stroke_width_mm=0.15, fill=filling.tint, role="swatch")
    return [ground, *_hatch_item(lines, filling)]


def arrow(x_mm: float, y_mm: float, way_deg: float, long_mm: float) -> PathItem:
    """An arrow from a point on."""
    way = math.radians(way_deg)
    c, s = math.cos(way), math.sin(way)

    def at(along: float, across: float) -> tuple[float, float]:
        return x_mm + along * c - across * s, y_mm + along * s + across * c

    head = 0.3 * long_mm
    strokes = (Stroke.through([at(0, 0), at(long_mm, 0)]),
               Stroke.through([at(long_mm - head, -head / 2), at(long_mm, 0), at(long_mm - head, head / 2)]))  # fmt: skip
    return PathItem(shapes=strokes, stroke=INK, stroke_width_mm=0.35)


def scale_bar(x_mm: float, y_mm: float, long_mm: float = 50.0) -> list[PathItem]:
    """A bar to be measured, with a tick each 10 mm."""
    ticks = [Stroke.through([(x_mm + at, y_mm - 1.2), (x_mm + at, y_mm + 1.2)]) for at in range(0, int(long_mm) + 1, 10)]
    bar = Stroke.through([(x_mm, y_mm), (x_mm + long_mm, y_mm)])
    told = words("50 mm: measure it, print at 100 %", x_mm + long_mm + 2.5, y_mm + 0.9, 1.8)
    return [PathItem(shapes=(bar, *ticks), stroke=INK, stroke_width_mm=0.25, role="scale"), *told]


def chip(colour: str, x_mm: float, y_mm: float, side_mm: float) -> PathItem:
    """A square of a vinyl's colour."""
    return PathItem(shapes=(_box(x_mm, y_mm, side_mm, side_mm),), stroke=INK, stroke_width_mm=0.15, fill=colour, role="chip")


def _box(x: float, y: float, width: float, height: float) -> Ring:
    return Ring.through([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def _hatched(key: Key, scale: float) -> list[PathItem]:
    """The hatch of each piece, order by order."""
    by_order: dict[str, list] = {}
    for placed in key.sheet.placed:
        by_order.setdefault(placed.piece.order, []).append(placed)
    items = []
    for order, own in by_order.items():
        filling = key.fillings[order]
        hatch = replace(filling.hatch, apart_mm=filling.hatch.apart_mm / scale, between_mm=filling.hatch.between_mm / scale)
        shapes = [_polygon(placed) for placed in own]
        middles = [moved(placed, [placed.piece.flat.middle])[0] for placed in own]
        for lines in hatch_lines(shapes, middles, hatch):
            items += _hatch_item(lines, filling)
    return items


def _polygon(placed) -> shapely.Polygon:
    outer, holes = placed.piece.flat.cut_points
    return shapely.Polygon(moved(placed, outer), [moved(placed, hole) for hole in holes])


def _hatch_item(lines: Sequence, filling: Filling) -> list[PathItem]:
    strokes = tuple(Stroke.through(line) for line in lines)
    pen = {"stroke": HATCH_INK, "stroke_width_mm": filling.hatch.line_mm, "dash_mm": filling.hatch.dash_mm}
    return [PathItem(shapes=strokes, role="hatch", **pen)] if strokes else []


def _leader(label: Label) -> PathItem:
    """From a piece to the box of its mark."""
    end = shapely.get_coordinates(shapely.shortest_line(shapely.Point(label.points_at), label.box))[1].tolist()
    x, y = label.points_at
    if math.dist((x, y), end) < 0.05:
        end = [label.x_mm, label.y_mm]
    dot = 0.35
    foot = Stroke.through([(x - dot, y), (x, y - dot), (x + dot, y), (x, y + dot), (x - dot, y)])
    return PathItem(
        shapes=(foot, Stroke.through([(x, y), tuple(end)])), stroke=INK, stroke_width_mm=0.2, role="leader"
    )


def _mark_items(label: Label, scale: float) -> list[PathItem]:
    """A mark on a white plate, with a line round it where it stands beside its piece."""
    edge = {"stroke": INK, "stroke_width_mm": 0.1} if label.points_at else {}
    plate = PathItem(shapes=(Ring.through(label.corners),), fill=PAPER, role="plate", **edge)
    pen = {"stroke": INK, "stroke_width_mm": PEN * label.height_mm * scale}
    letters = PathItem(shapes=label.letters, id=f"mark.{label.piece}", role="mark", **pen)
    return [plate, letters, PathItem(shapes=label.arrow, role="rim", **pen)]


def _margins(sheet: Sheet) -> list[PathItem]:
    """What lies between the margins; on a mat that of each offcut, with its outline, and in its margin size and place."""
    if not sheet.is_on_mat:
        return _margin(sheet, 0.0, 0.0, sheet.width_mm, sheet.length_mm)
    items: list[PathItem] = []
    for offcut in sheet.offcuts:
        x, y = offcut.x_mm, offcut.y_mm
        box = _box(x, y, offcut.width_mm, offcut.length_mm)
        items.append(PathItem(shapes=(box,), stroke=INK, stroke_width_mm=0.3, role="offcut"))
        items += _margin(sheet, x, y, offcut.width_mm, offcut.length_mm)
        text = offcut_text(offcut)
        high = min(SMALL_MM, 0.6 * sheet.vinyl.margin_mm, (offcut.width_mm - 2.0) / text_width(text, 1.0))
        if high >= LEAST_TEXT_MM:
            items += words(text, x + 1.0, y + 0.7 + high, high)
    return items


def offcut_text(offcut: OffcutPlace) -> str:
    """Size and place on the mat."""
    return f"{offcut.width_mm:g} x {offcut.length_mm:g} mm at {offcut.x_mm:g}, {offcut.y_mm:g}"


def _margin(sheet: Sheet, x: float, y: float, width: float, length: float) -> list[PathItem]:
    margin = sheet.vinyl.margin_mm
    if not margin:
        return []
    box = _box(x + margin, y + margin, width - 2 * margin, length - 2 * margin)
    return [PathItem(shapes=(Stroke(box.start, box.edges),), stroke=EDGE, stroke_width_mm=0.1, dash_mm=(2.0, 2.0))]


def _blocks(sheet: Sheet) -> list[PathItem]:
    """A box about each order's pieces, half a gap away from them."""
    bounds: dict[str, list[tuple[float, float, float, float]]] = {}
    for placed in sheet.placed:
        bounds.setdefault(placed.piece.order, []).append(placed.outline.bounds())
    half = sheet.vinyl.piece_gap_mm / 2
    boxes = []
    for order, own in bounds.items():
        left, top, right, bottom = zip(*own, strict=True)
        x, y = min(left) - half, min(top) - half
        box = _box(x, y, max(right) + half - x, max(bottom) + half - y)
        boxes.append(PathItem(shapes=(box,), stroke=INK, stroke_width_mm=0.3, fill=BLOCK, id=f"order-{order}"))
    return boxes


def _measured(key: Key, scale: float, turn_deg: float) -> list[PathItem]:
    """The test pieces, and how long each is to be."""
    items: list[PathItem] = []
    for name, outline in key.measured.items():
        x0, y0, x1, y1 = outline.bounds()
        long, upright = max(x1 - x0, y1 - y0), y1 - y0 > x1 - x0
        items.append(PathItem.of(outline, stroke=INK, stroke_width_mm=0.2, fill=PAPER, id=name))
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        high = min(1.8 / scale, 2.8)
        way_deg = right_way_up((90.0 if upright else 0.0) + turn_deg) - turn_deg
        way, pen = math.radians(way_deg), {"stroke_width_mm": PEN * high * scale}
        x, y = x - math.sin(way) * high / 2, y + math.cos(way) * high / 2
        items += words(f"measure {long:g} mm", x, y, high, "middle", way_deg, **pen)
    return items
