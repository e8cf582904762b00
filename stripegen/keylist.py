"""The list that goes with a key: how each order looks, and for each mark its size and whose the pieces are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from stripegen.drawing import PathItem
from stripegen.hatches import Filling
from stripegen.keysheet import Key, arrow, offcut_text, swatch, words
from stripegen.marks import Marked
from stripegen.strokefont import in_lines, text_width

TEXT_MM, MARK_MM = 2.1, 3.4
LINE_MM = 1.85 * TEXT_MM
INDENT_MM = 15.0
SWATCH_MM = (8.0, 2.8)
GAP_MM = 1.6
COLUMN_MM, BETWEEN_MM = 86.0, 6.0

Draw = Callable[[float, float, bool], list[PathItem]]


@dataclass(frozen=True)
class Block:
    """What stands together in a column: how high it is, and its items at a place, and whether it is a column's first."""

    height_mm: float
    draw: Draw
    with_next: bool = False


def list_blocks(key: Key, room_mm: float, turn_deg: float = 0.0) -> list[Block]:
    """The list in blocks for columns so wide. `turn_deg` is how far the sheet is turned on the page, with its hatches."""
    blocks = [_heading("Orders")]
    for order, filling in key.fillings.items():
        blocks.append(_order(order, filling, room_mm, turn_deg))
    if key.sheet.is_on_mat:
        blocks.append(_heading("Offcuts on the mat"))
        blocks += [_plain(offcut_text(offcut), room_mm) for offcut in key.sheet.offcuts]
    blocks.append(_heading(f"Marks: all {key.sheet.vinyl.name}, width x length"))
    blocks.append(_how_to_read())
    for each in key.marked:
        blocks += _mark(each, key.fillings, room_mm, turn_deg)
    return blocks


def in_columns(blocks: Sequence[Block], count: int, most_mm: float) -> list[list[Block]]:
    """Blocks in columns no higher than told, except for what is itself higher; of those that are needed the lowest."""
    if count < 2:
        return _filled(blocks, most_mm)
    low, high = max(block.height_mm for block in blocks), sum(block.height_mm for block in blocks)
    if len(_filled(blocks, most_mm)) > count:
        return _filled(blocks, most_mm)
    while high - low > 1.0:
        middle = (low + high) / 2
        low, high = (low, middle) if len(_filled(blocks, middle)) <= count else (middle, high)
    return _filled(blocks, high)


def _filled(blocks: Sequence[Block], most_mm: float) -> list[list[Block]]:
    columns: list[list[Block]] = [[]]
    left = most_mm
    for number, block in enumerate(blocks):
        follows = blocks[number + 1].height_mm if block.with_next and number + 1 < len(blocks) else 0.0
        if columns[-1] and block.height_mm + follows > left + 1e-6:
            columns.append([])
            left = most_mm
        columns[-1].append(block)
        left -= block.height_mm
    return columns


def column_items(column: Sequence[Block], x_mm: float, y_mm: float) -> list[PathItem]:
    """A column's items, its upper left corner at a place."""
    items: list[PathItem] = []
    for number, block in enumerate(column):
        items += block.draw(x_mm, y_mm, not number)
        y_mm += block.height_mm
    return items


def column_height(column: Sequence[Block]) -> float:
    return sum(block.height_mm for block in column)


def columns_in(room_mm: float) -> tuple[int, float]:
    """How many columns there is room for, and how wide each is."""
    count = max(1, int((room_mm + BETWEEN_MM) // (COLUMN_MM + BETWEEN_MM)))
    return count, (room_mm - (count - 1) * BETWEEN_MM) / count


def _heading(text: str) -> Block:
    return Block(7.5, lambda x, y, first: words(text, x, y + 5.4, 2.6, stroke_width_mm=0.45), with_next=True)


def _plain(text: str, room_mm: float) -> Block:
    lines = in_lines(text, TEXT_MM, room_mm)
    return Block(LINE_MM * len(lines) + 0.4, lambda x, y, first: _lines(lines, x, y))


def _lines(lines: Sequence[str], x: float, y: float) -> list[PathItem]:
    """Lines of text under a height."""
    return [
        item
        for number, line in enumerate(lines)
        for item in words(line, x, y + LINE_MM * number + 1.2 * TEXT_MM, TEXT_MM)
    ]


def _how_to_read() -> Block:
    text = "points to the cup's rim; pieces with the same mark are cut alike"

    def draw(x: float, y: float, first: bool) -> list[PathItem]:
        return [arrow(x + 1.5, y + 3.2, -90.0, 3.0), *words(text, x + 4.5, y + 2.7, 1.8)]

    return Block(5.0, draw, with_next=True)


def _order(order: str, filling: Filling, room_mm: float, turn_deg: float) -> Block:
    wide = 16.0
    lines = in_lines(order, TEXT_MM, room_mm - wide - GAP_MM)

    def draw(x: float, y: float, first: bool) -> list[PathItem]:
        return [*swatch(filling, x, y + 0.4, wide, 3.4, turn_deg), *_lines(lines, x + wide + GAP_MM, y + 0.5)]

    return Block(max(LINE_MM * len(lines), 4.6) + 0.4, draw)


def _mark(each: Marked, fillings: dict[str, Filling], room_mm: float, turn_deg: float) -> list[Block]:
    """A block for each order that has it; the first, and each that begins a column, with the mark before it."""
    size = f"{each.width_mm:.4g} x {each.length_mm:.1f} mm, {each.count} piece{'' if each.count == 1 else 's'}"
    indent = max(INDENT_MM, text_width(each.mark, MARK_MM) + GAP_MM)
    wide = SWATCH_MM[0] + GAP_MM
    blocks = []
    for number, owner in enumerate(each.owners):
        filling = fillings[owner.partition(" ")[0]]
        lines = in_lines(owner, TEXT_MM, room_mm - indent - wide)
        head = [] if number else [size]
        top = LINE_MM * len(head)

        def draw(x, y, first, filling=filling, lines=lines, head=head, top=top, number=number) -> list[PathItem]:
            mark = words(each.mark, x, y + 3.9, MARK_MM, stroke_width_mm=0.5) if first or not number else []
            sample = swatch(filling, x + indent, y + top + 0.1, *SWATCH_MM, turn_deg)
            own = _lines(lines, x + indent + wide, y + top)
            return [*mark, *_lines(head, x + indent, y), *sample, *own]

        last = number == len(each.owners) - 1
        blocks.append(Block(max(top + LINE_MM * len(lines), 4.4) + (1.6 if last else 0.2), draw))
    return blocks
