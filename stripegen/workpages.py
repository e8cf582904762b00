"""The work list as pages to print: steps flow down them, no row is parted, and an order stays on a page if it fits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from stripegen.drawing import Drawing, Item, PathItem, TextItem
from stripegen.lettering import page_ground, wrapped
from stripegen.outline import Ring, Stroke
from stripegen.paper import Paper
from stripegen.pictures import DARK, PALE_TEXT, RULE, TEXT, mixed
from stripegen.worklist import WorkList
from stripegen.worklook import WIDTH_MM, lit_items, pale_items
from stripegen.worksteps import Row, Step, WorkOrder
from stripegen.workwords import (
    COLUMNS,
    HOW_TO_READ,
    MATERIAL_COLUMNS,
    MATERIAL_NOTE,
    TITLE,
    box_count,
    count_text,
    cups_text,
    marks_text,
    material_cells,
    name_text,
    order_facts,
    place_texts,
    row_vinyls,
    sheet_texts,
    side_text,
    size_texts,
    step_caution,
    step_text,
    step_title,
    summary,
)

MARGIN_MM = 12.0
FOOT_MM = 8.0
TEXT_MM, CELL_MM, SMALL_MM, TITLE_MM, ORDER_MM, STEP_MM, MARK_MM = 3.0, 2.8, 2.4, 6.0, 5.2, 3.6, 4.8
LINE = 1.35  # from one base line to the next, of the text's size
GAP_MM = 2.0
HEADING_MM = 20.0  # what may stand over a row that has a page to itself
BOX_MM, BOXES_IN_ROW = 4.2, 4
CHIP_MM, CHIPS_IN_ROW = 2.8, 4
WARNING = "#8a3b12"
# widths of the columns but the widest, which takes what is left
PICTURE_MM, WHAT_MM, SHEET_MM, DONE_MM = WIDTH_MM + 2.0, 36.0, 32.0, BOXES_IN_ROW * (BOX_MM + 1.4)

Draw = Callable[[float], list[Item]]


@dataclass(frozen=True)
class _Block:
    """What stands together: how high it is, and its items once its top is known."""

    height_mm: float
    draw: Draw


def work_list_pages(work: WorkList, units: str, paper: Paper) -> list[Drawing]:
    """The pages, lengths in "mm", "cm" or "in"."""
    return _Pages(work, units, paper.width_mm, paper.height_mm).drawings()


class _Pages:
    """The pages on their way."""

    def __init__(self, work: WorkList, units: str, width_mm: float, height_mm: float):
        self.work, self.units = work, units
        self.width_mm, self.height_mm = width_mm, height_mm
        self.left_mm, self.right_mm = MARGIN_MM, width_mm - MARGIN_MM
        self.bottom_mm = height_mm - MARGIN_MM - FOOT_MM
        self.room_mm = self.right_mm - self.left_mm
        self.pages: list[list[Item]] = [[]]
        self.y = MARGIN_MM
        sheet_mm = SHEET_MM if work.has_sheets else 0.0
        where_mm = self.room_mm - PICTURE_MM - WHAT_MM - sheet_mm - DONE_MM
        widths = [PICTURE_MM, WHAT_MM, where_mm, sheet_mm, DONE_MM]
        self.columns = {
            name: (self.left_mm + sum(widths[:k]), widths[k] - GAP_MM) for k, name in enumerate(COLUMNS) if widths[k]
        }

    def drawings(self) -> list[Drawing]:
        for block in self.head():
            self.put(block)
        for order in self.work.orders:
            self.order(order)
        count = len(self.pages)
        return [self.page(items, number, count) for number, items in enumerate(self.pages, 1)]

    def page(self, items: Sequence[Item], number: int, count: int) -> Drawing:
        y = self.height_mm - MARGIN_MM
        title = f"{TITLE}: {self.work.title}" if self.work.title else TITLE
        first, *_ = wrapped(title, SMALL_MM, self.room_mm - 40.0)
        foot = [
            _text(first, self.left_mm, y, SMALL_MM, fill=PALE_TEXT),
            _text(f"page {number} of {count}", self.right_mm, y, SMALL_MM, fill=PALE_TEXT, anchor="end"),
        ]
        return Drawing(self.width_mm, self.height_mm, (page_ground(self.width_mm, self.height_mm), *items, *foot))

    # ---- the flow

    def fits(self, height_mm: float) -> bool:
        return self.y + height_mm <= self.bottom_mm + 1e-6

    def put(self, block: _Block) -> None:
        if not self.fits(block.height_mm) and self.y > MARGIN_MM:
            self.turn()
        self.pages[-1] += block.draw(self.y)
        self.y += block.height_mm

    def turn(self) -> None:
        self.pages.append([])
        self.y = MARGIN_MM

    # ---- what is on them

    def head(self) -> Iterator[_Block]:
        work = self.work
        yield self.words(f"{TITLE}: {work.title}" if work.title else TITLE, TITLE_MM, bold=True)
        yield self.words(summary(work))
        yield self.words(f"Cups: {cups_text(work)}.")
        columns = MATERIAL_COLUMNS if work.has_sheets else MATERIAL_COLUMNS[:-1]
        shares = (0.0, 0.24, 0.34, 0.5, 0.66)
        places = [
            (self.left_mm + share * self.room_mm, (end - share) * self.room_mm - GAP_MM)
            for share, end in zip(shares, (*shares[1:], 1.0), strict=True)
        ]
        yield self.table_head([(name, x) for name, (x, _) in zip(columns, places, strict=False)])
        for material in work.materials:
            cells = [_chip_lines(material.vinyl, material.colour, *places[0])]
            texts = [[text] for text in material_cells(material, self.units)]
            texts += [[", ".join(material.sheets)]] if work.has_sheets else []
            cells += [_lines(text, *place) for text, place in zip(texts, places[1:], strict=False)]
            yield self.ruled(_beside(cells))
        yield self.words(MATERIAL_NOTE, SMALL_MM, fill=PALE_TEXT)
        for text in HOW_TO_READ:
            yield self.words(text)

    def order(self, order: WorkOrder) -> None:
        head = self.order_head(order)
        steps = [self.step(number, order, step) for number, step in enumerate(order.steps, 1)]
        whole = head.height_mm + sum(block.height_mm for heading, rows in steps for block in (heading, *rows))
        start = [head, *(block for heading, rows in steps[:2] for block in (heading, *rows[:1]))]
        first = sum(block.height_mm for block in start)
        if not self.fits(whole) and (whole <= self.bottom_mm - MARGIN_MM or not self.fits(first)):
            self.turn()
        self.put(head)
        for number, (heading, rows) in enumerate(steps, 1):
            if not self.fits(heading.height_mm + (rows[0].height_mm if rows else 0.0)) and self.y > MARGIN_MM:
                self.turn()
            self.put(heading)
            for row in rows:
                if not self.fits(row.height_mm):
                    self.turn()
                    self.put(self.words(f"{order.id}, {number}. {step_title(order.steps[number - 1])}, continued", bold=True))
                    self.put(self.row_head())
                self.put(row)

    def order_head(self, order: WorkOrder) -> _Block:
        room = (self.left_mm, self.room_mm)
        facts = ",  ".join(f"{what.lower()} {is_}" for what, is_ in order_facts(order))
        title = _lines([f"Order {order.id}"], *room, ORDER_MM, bold=True)
        pitch = self.room_mm / CHIPS_IN_ROW
        chips = [
            _chip_lines(*vinyl, self.left_mm + n % CHIPS_IN_ROW * pitch, pitch - GAP_MM) for n, vinyl in enumerate(order.vinyls)
        ]
        rows = [_beside(chips[n : n + CHIPS_IN_ROW]) for n in range(0, len(chips), CHIPS_IN_ROW)]
        rule = _Block(GAP_MM * 2.5, lambda y: [_rule(self.left_mm, self.right_mm, y + GAP_MM, DARK, 0.5)])
        return _above([rule, title, _lines([facts], *room), *rows])

    def step(self, number: int, order: WorkOrder, step: Step) -> tuple[_Block, list[_Block]]:
        """What stands over a step's rows, and those."""
        parts = [
            _space(GAP_MM),
            self.words(f"{number}. {step_title(step)}", STEP_MM, bold=True),
            self.words(" ".join(step_text(step, order, self.units))),
        ]
        if caution := step_caution(step):
            parts.append(self.caution(caution))
        if step.rows:
            parts.append(self.row_head())
        return _above(parts), [self.ruled(self.row(order, row)) for row in step.rows]

    def words(self, text: str, size_mm: float = TEXT_MM, **style) -> _Block:
        return _above([_lines([text], self.left_mm, self.room_mm, size_mm, **style), _space(0.6)])

    def caution(self, text: str) -> _Block:
        body = _lines([f"Caution: {text}"], self.left_mm + 3.0, self.room_mm - 3.0, CELL_MM)
        bar = _Block(0.0, lambda y: [_filled(self.left_mm, y + 0.4, 1.0, body.height_mm, WARNING)])
        return _above([bar, body, _space(0.6)])

    def row_head(self) -> _Block:
        return self.table_head([(name, x) for name, (x, _) in self.columns.items()])

    def table_head(self, names: Sequence[tuple[str, float]]) -> _Block:
        lines = [_lines([name], x, 100.0, SMALL_MM, fill=PALE_TEXT) for name, x in names]
        return self.ruled(_above([_space(0.6), _beside(lines)]))

    def ruled(self, block: _Block) -> _Block:
        """A block with a line under it."""
        rule = _Block(0.8, lambda y: [_rule(self.left_mm, self.right_mm, y + 0.5, RULE, 0.15)])
        return _above([block, rule])

    def row(self, order: WorkOrder, row: Row) -> _Block:
        """A row, in smaller letters where it would not fit on a page by itself."""
        size_mm = CELL_MM
        while True:
            block = self.row_of(order, row, size_mm)
            if block.height_mm < self.bottom_mm - MARGIN_MM - HEADING_MM:
                return block
            size_mm *= 0.9

    def row_of(self, order: WorkOrder, row: Row, size_mm: float) -> _Block:
        at = self.columns
        what = [_lines([marks_text(row)], *at["Strip"], MARK_MM, bold=True), _lines([name_text(row)], *at["Strip"], size_mm)]
        what += [_chip_lines(*vinyl, *at["Strip"]) for vinyl in row_vinyls(row)]
        what.append(_lines(size_texts(row, self.units), *at["Strip"], size_mm))
        cells = [
            _picture(order, row, at["Picture"][0]),
            _above(what),
            _above([_space(1.0), _lines(place_texts(row, self.units), *at["Where its ends go"], size_mm)]),
            _above([_space(1.4), _boxes(order, at["Done"][0])]),
        ]
        if "Sheet" in at:
            cells.append(_above([_space(1.0), _lines(sheet_texts(row), *at["Sheet"], size_mm)]))
        return _beside(cells)


# ---- blocks


def _space(height_mm: float) -> _Block:
    return _Block(height_mm, lambda y: [])


def _above(blocks: Sequence[_Block]) -> _Block:
    """Blocks one under the other."""

    def draw(y: float) -> list[Item]:
        items: list[Item] = []
        for block in blocks:
            items += block.draw(y)
            y += block.height_mm
        return items

    return _Block(sum(block.height_mm for block in blocks), draw)


def _beside(blocks: Sequence[_Block]) -> _Block:
    """Blocks whose tops are level."""
    height = max(block.height_mm for block in blocks)
    return _Block(height, lambda y: [item for block in blocks for item in block.draw(y)])


def _lines(texts: Sequence[str], x: float, room_mm: float, size_mm: float = TEXT_MM, **style) -> _Block:
    """Texts, each from a new line on, broken where the room ends."""
    bold = style.get("bold", False)
    lines = [line for text in texts for line in wrapped(text, size_mm, room_mm, bold)]
    step = LINE * size_mm
    return _Block(
        step * len(lines),
        lambda y: [_text(line, x, y + step * number + size_mm, size_mm, **style) for number, line in enumerate(lines)],
    )


def _chip_lines(name: str, colour: str, x: float, room_mm: float) -> _Block:
    """A vinyl's name after a chip of its colour."""
    words = _lines([name], x + CHIP_MM + 1.2, room_mm - CHIP_MM - 1.2)
    chip = _Block(0.0, lambda y: [_filled(x, y + TEXT_MM - CHIP_MM + 0.4, CHIP_MM, CHIP_MM, colour, mixed(colour, DARK, 0.6))])
    return _beside([words, chip])


def _picture(order: WorkOrder, row: Row, x: float) -> _Block:
    seen = order.look.seen(row.side_deg)
    items = [*pale_items(seen), *lit_items(seen, row.lit, [strip.colour for strip in row.strips])]
    side = side_text(row)

    def draw(y: float) -> list[Item]:
        middle = x + WIDTH_MM / 2
        caption = _text(side, middle, y + seen.height_mm + SMALL_MM, SMALL_MM, fill=PALE_TEXT, anchor="middle")
        return [*(_moved(item, x, y) for item in items), caption]

    return _Block(seen.height_mm + LINE * SMALL_MM, draw)


def _moved(item: PathItem, dx_mm: float, dy_mm: float) -> PathItem:
    shapes = tuple(shape.moved(0.0, dx_mm, dy_mm) for shape in item.shapes)
    return PathItem(shapes=shapes, stroke=item.stroke, stroke_width_mm=item.stroke_width_mm, fill=item.fill)


def _boxes(order: WorkOrder, x: float) -> _Block:
    """A box for each cup with its number, or a line to write on how many are done."""
    count = box_count(order)
    pitch = BOX_MM + 1.4
    if not count:
        line = _Block(6.0, lambda y: [_rule(x, x + 0.7 * DONE_MM, y + 5.5, TEXT, 0.2)])
        return _above([line, _lines([count_text(order)], x, DONE_MM)])

    def draw(y: float) -> list[Item]:
        items: list[Item] = []
        for number in range(count):
            down, right = divmod(number, BOXES_IN_ROW)
            left, top = x + right * pitch, y + down * pitch
            items.append(_filled(left, top, BOX_MM, BOX_MM, "#ffffff", TEXT))
            items.append(_text(str(number + 1), left + 0.5, top + BOX_MM - 0.5, 1.9, fill=PALE_TEXT))
        return items

    return _Block(-(-count // BOXES_IN_ROW) * pitch, draw)


def _text(text: str, x: float, y: float, size_mm: float, **style) -> TextItem:
    return TextItem(text=text, x_mm=x, y_mm=y, size_mm=size_mm, **{"fill": TEXT, **style})


def _filled(x: float, y: float, width: float, height: float, fill: str, stroke: str | None = None) -> PathItem:
    box = Ring.through([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])
    return PathItem(shapes=(box,), fill=fill, stroke=stroke, stroke_width_mm=0.2)


def _rule(x0: float, x1: float, y: float, colour: str, width_mm: float) -> PathItem:
    return PathItem(shapes=(Stroke.through([(x0, y), (x1, y)]),), stroke=colour, stroke_width_mm=width_mm)
