"""What the work list says of each step and strip, as plain text, for any kind of file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from stripegen.spec import Chevron, Line, Ring
from stripegen.wording import counted
from stripegen.worklist import Material, WorkList
from stripegen.worknumbers import (
    area_text,
    degrees_text,
    length_text,
    size_text,
    thickness_text,
    total_text,
)
from stripegen.worksteps import COAT, LAY, PREPARE, Row, SpareStrips, Spot, Step, StripAt, WorkOrder

MOST_BOXES = 12  # cups of an order that have a box of their own
MOST_SHEETS = 12  # that are named in a row
SAME_MM = 0.005  # lengths no further apart are read alike

TITLE = "Work list"
COLUMNS = ("Picture", "Strip", "Where its ends go", "Sheet", "Done")

_ALIKE = (
    "All cups of an order are alike: each strip is told once, with a box to tick for every cup. The letters are the "
    "strip's mark: strips with the same mark are cut alike, of the same vinyl, and any of them will do."
)
_PLACES = (
    "A place has two measures, taken on the wall as it is when the strip goes on. Round: from the zero mark along the "
    "girth at that place, to the right as you look at the outside of the upright cup. Down: from the rim along the "
    "wall. Both are of the middle of the strip's end, with what is tucked under another strip. The red pointer in a "
    "picture is the zero mark; a wall laid open is cut at the back."
)
HOW_TO_READ = (_ALIKE, _PLACES)

_RESIN = (
    "Uncured resin, its hardener and their fumes harm skin, eyes and lungs: work in moving air, with the gloves, eye and "
    "breathing protection that the maker's safety data sheet names, and keep to its mixing and cure times."
)
_CAUTIONS = {
    PREPARE: "Cleaning solvents burn and their vapour harms: keep them from flames, work in moving air, and wear the "
    "gloves that their data sheet names.",
    LAY: "A craft knife cuts fingers as readily as vinyl: cut away from yourself, cap it, and keep it from children.",
    COAT: f"{_RESIN} Sanding dust of resin harms lungs: sand wet or with extraction, and a mask that suits it.",
}
_LIPS = (
    "Nothing that has cured may touch lips or food unless its maker's data sheet says so, and after what cure. The "
    "rules where you sell hold; ask someone licensed where those ask for it."
)


def listed(words: Iterable[str]) -> str:
    """a; a and b; a, b and c."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


# ---- the whole job and an order


def summary(work: WorkList) -> str:
    strips = sum(material.strips for material in work.materials)
    cups = sum(count for _, count in work.cups)
    spares = sum(material.spares for material in work.materials)
    spare = f", {spares} of them spare" if spares else ""
    return f"{counted(len(work.orders), 'order')}, {counted(cups, 'cup')}, {counted(strips, 'strip')}{spare}"


def cups_text(work: WorkList) -> str:
    return listed(f"{count} x {name}" for name, count in work.cups)


def material_cells(material: Material, units: str) -> tuple[str, str, str]:
    """How many strips, the area of their vinyl, and how long they are end to end."""
    return str(material.strips), area_text(material.area_mm2, units), total_text(material.length_mm, units)


MATERIAL_COLUMNS = ("Vinyl", "Strips", "Area of them", "End to end", "Sheets")
MATERIAL_NOTE = "Waste between the strips is left out, and so is resin, which is not worked out."


def order_facts(order: WorkOrder) -> list[tuple[str, str]]:
    """What an order is, but for its vinyls, and what is cut of it to spare."""
    facts = [("Cup", order.cup), ("Quantity", str(order.quantity)), ("Pattern", order.pattern)]
    facts += [("Due", order.due.isoformat())] if order.due else []
    return facts + ([("Spare", _spares_text(order.spares))] if order.spares else [])


def _spares_text(spares: Sequence[SpareStrips]) -> str:
    alike: dict[tuple, list[str]] = {}
    for spare in spares:
        alike.setdefault((spare.count, spare.sheets), []).append(f"{spare.name} ({spare.mark})")
    return "; ".join(
        f"{count} {'each ' * (len(names) > 1)}of {listed(names)}" + (f" on {listed(sheets)}" if sheets else "")
        for (count, sheets), names in alike.items()
    )


# ---- a step


def step_title(step: Step) -> str:
    if step.kind == PREPARE:
        return "Clean the wall and mark the zero"
    if step.kind == LAY:
        return f"Lay {listed(line.name for line in step.lines)}"
    return "Coat and cure" if step.kind == COAT else "Seal under the final coats"


def step_caution(step: Step) -> str:
    """Told once an order for each kind of step."""
    if not step.is_first:
        return ""
    return _CAUTIONS.get(step.kind) or f"{_RESIN} {_LIPS}"


def step_text(step: Step, order: WorkOrder, units: str) -> list[str]:
    """What to do, a sentence or two each."""
    if step.kind == PREPARE:
        return _prepare_text(step, order, units)
    if step.kind == LAY:
        return _lay_text(step, order, units)
    if step.kind == COAT:
        coat = (
            f"Coat over the strips until {thickness_text(step.resin_mm, units)} of resin are on the wall in all, "
            f"{thickness_text(step.coat_mm, units)} more than before, and let it cure as its data sheet says. Mark the "
            "zero again in the same place."
        )
        return [coat, _tape_text(step, units)]
    thick = f", {thickness_text(step.coat_mm, units)} thick" if step.coat_mm else ""
    rim, base = (length_text(each, units) for each in (order.rim_clearance_mm, order.base_clearance_mm))
    last = f"Coat over the last strips{thick}, so that every edge is covered and sealed."
    return [last, f"No strip reaches nearer than {rim} to the rim or {base} to the base: keep the lip bare."]


def _prepare_text(step: Step, order: WorkOrder, units: str) -> list[str]:
    coated = f"with {thickness_text(step.resin_mm, units)} of cured resin on it" if step.resin_mm else "with no resin on it yet"
    zero = "Make a small mark at the rim for the zero: all lengths round the cup are counted from there, to the right."
    text = [f"The wall must be clean and dry, {coated}.", zero, _tape_text(step, units)]
    if order.seams:
        seams = [f"{name} at {_seam_text(*ends, units)}" for name, ends in order.seams.items()]
        text.append(f"Seams round the rim: {listed(seams)}.")
    return text


def _seam_text(rim: Spot, base: Spot, units: str) -> str:
    leans = abs(rim.around_rad - base.around_rad) > 1e-6
    return _round_text(rim, units) + (f", leaning to {degrees_text(base.around_rad)} at the base" if leans else "")


def _tape_text(step: Step, units: str) -> str:
    reads = (f"{length_text(round_mm, units)} at {length_text(down, units)} down" for down, round_mm in step.girths)
    return f"A tape once round should read {listed(reads)}."


def _lay_text(step: Step, order: WorkOrder, units: str) -> list[str]:
    count = sum(len(row.strips) for row in step.rows)
    vinyls = listed(dict.fromkeys(strip.vinyl for row in step.rows for strip in row.strips))
    cups = "on the one cup" if order.quantity == 1 else f"on each of {order.quantity} cups"
    text = [f"{counted(count, 'strip')} of {vinyls} {cups}."]
    if step.under:
        text.append(f"Ends and crossings go under {listed(step.under)}, laid later.")
    if step.over:
        text.append(f"By the job this goes under {listed(step.over)}, laid already: slip it under or trim it there.")
    for line in step.lines:
        own = [strip for row in step.rows for strip in row.strips if strip.name.startswith(f"{line.name}.")]
        text += _line_text(line, own, units)
    rows = [row for row in step.rows if row.units]
    if rows:
        text.append(
            "Strips told as one go are carried over with transfer tape, so that they keep their places to each other: lay "
            "the tape on them, lift, set the ends to the places told, rub down, and pull the tape off flat."
        )
    return text


def _line_text(line: Line, strips: Sequence[StripAt], units: str) -> list[str]:
    text = []
    if line.clear_of:
        text.append(f"It is kept clear of {listed(line.clear_of)} by {length_text(line.by_mm, units)}.")
    if isinstance(line, Ring | Chevron) and any(strip.overlap_mm is not None for strip in strips):
        text.append("Start at the joint and lay it to the right, once round.")
    if any(strip.part for strip in strips):
        text.append("Parts of one strip are laid in their order, each over the end of the one before as told.")
    narrow = min((strip.width_mm for strip in strips if not strip.joined), default=line.width_mm)
    if line.slit and narrow < line.width_mm - SAME_MM:
        lanes = round(line.width_mm / narrow)
        text.append(
            f"A band of {length_text(line.width_mm, units)} is cut as {lanes} strips: lay them side by side, edge to edge."
        )
    return text


# ---- a row


def name_text(row: Row) -> str:
    """What a row's strips are called."""
    if len(row.strips) == 1:
        return row.strips[0].name
    if not row.units:
        return f"{len(row.strips)} strips cut alike"
    if row.units == 1:
        return f"{len(row.strips)} strips in one go" + (", with the row before" if row.goes_on else "")
    return f"{row.units} sets of {len(row.strips) // row.units} strips, each in one go"


def marks_text(row: Row) -> str:
    return " ".join(dict.fromkeys(strip.mark for strip in row.strips))


def size_texts(row: Row, units: str) -> list[str]:
    """Width and cut length, of each mark where there are several."""
    sizes = {strip.mark: strip for strip in row.strips}
    texts = []
    for mark, strip in sizes.items():
        size = size_text(strip.width_mm, strip.length_mm, units)
        size = f"in a box of {size}" if strip.joined else size
        texts.append(f"{mark}: {size}" if len(sizes) > 1 else size)
    return texts


def row_vinyls(row: Row) -> list[tuple[str, str]]:
    return list(dict.fromkeys((strip.vinyl, strip.colour) for strip in row.strips))


def side_text(row: Row) -> str:
    return "wall laid open" if row.side_deg is None else f"from {row.side_deg}\u00b0"


def sheet_texts(row: Row) -> list[str]:
    """The sheets that hold a row's strips, of all cups; how many where there are several sheets."""
    if len(row.sheets) == 1:
        return [row.sheets[0][0]]
    texts = [f"{count} on {sheet}" for sheet, count in row.sheets[:MOST_SHEETS]]
    left = len(row.sheets) - len(texts)
    return texts + ([f"and {counted(left, 'sheet')} more"] if left else [])


def place_texts(row: Row, units: str) -> list[str]:
    """Where a row's strips go, a line each or more."""
    strips = row.strips
    if len(strips) == 1:
        return _one_place(strips[0], units)
    if all(strip.overlap_mm is None for strip in strips) and _level(strips):
        first = strips[0]
        lines = [f"begin {_down(first.start, units)}, end {_down(first.end, units)}; round from the zero mark:"]
        return lines + [f"{_called(strip, row)}: {_way_round(strip.start, strip.end, units)}" for strip in strips]
    return [f"{_called(strip, row)}: {'; '.join(_one_place(strip, units))}" for strip in strips]


def _called(strip: StripAt, row: Row) -> str:
    return f"{strip.mark} {strip.name}" if row.units else strip.name


def _level(strips: Sequence[StripAt]) -> bool:
    """Whether all begin and end equally far down."""
    first = strips[0]
    return all(
        abs(strip.start.down_mm - first.start.down_mm) < SAME_MM and abs(strip.end.down_mm - first.end.down_mm) < SAME_MM
        for strip in strips
    )


def _one_place(strip: StripAt, units: str) -> list[str]:
    closes = strip.overlap_mm is not None
    if closes and not strip.part:
        return [f"joint at {_place_text(strip.start, units)}", f"once round; its end {_lap(strip.overlap_mm, 'its beginning', units)}"]
    begins = "its longest line begins" if strip.joined else "begins"
    lines = [f"{begins} {_place_text(strip.start, units)}", f"ends {_place_text(strip.end, units)}"]
    if strip.part:
        number, count = strip.part
        told = [f"part {number} of {count}"]
        told += [f"its beginning {_lap(strip.lap_mm, f'part {number - 1}', units)}"] if number > 1 else []
        told += [f"its end {_lap(strip.overlap_mm, 'part 1', units)}"] if closes else []
        lines.append(", ".join(told))
    return lines


def _lap(overlap_mm: float, what: str, units: str) -> str:
    return f"laps {length_text(overlap_mm, units)} over {what}" if overlap_mm > SAME_MM else f"meets {what}"


def _place_text(spot: Spot, units: str) -> str:
    return f"{_round_text(spot, units)} round, {_down(spot, units)}"


def _round_text(spot: Spot, units: str) -> str:
    return f"{length_text(spot.along_mm, units)} ({degrees_text(spot.around_rad)})"


def _way_round(start: Spot, end: Spot, units: str) -> str:
    lengths = [length_text(each.along_mm, units) for each in (start, end)]
    degrees = [degrees_text(each.around_rad) for each in (start, end)]
    return ", ".join(" to ".join(dict.fromkeys(pair)) for pair in (lengths, degrees))


def _down(spot: Spot, units: str) -> str:
    return f"{length_text(spot.down_mm, units)} down"


# ---- boxes to tick


def box_count(order: WorkOrder) -> int:
    """One for each cup; 0 where there are too many: then it is counted."""
    return order.quantity if order.quantity <= MOST_BOXES else 0


def count_text(order: WorkOrder) -> str:
    return f"of {order.quantity} cups"
