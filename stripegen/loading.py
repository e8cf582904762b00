"""What to load into the cutter, in which order, and what it takes of each vinyl, told in plain words at the end of a run."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby

from stripegen.columns import Columns
from stripegen.costs import Costs, money
from stripegen.leftovers import Leftovers
from stripegen.sheets import Sheet
from stripegen.wording import counted

MOST_LOADS = 40  # more are told a vinyl's together
MOST_KEPT = 4  # more offcuts to keep are only counted


def in_loading_order(sheets: Sequence[Sheet]) -> list[Sheet]:
    """All of one vinyl in a row, so that it is changed least often, and of each its offcuts before new stock."""
    first = {sheet.vinyl.name: number for number, sheet in reversed([*enumerate(sheets)])}
    return sorted(sheets, key=lambda sheet: (first[sheet.vinyl.name], not sheet.offcuts))


def load_of(sheet: Sheet) -> str:
    """What is put into the cutter to cut a sheet, in words."""
    size = f"{sheet.width_mm:g} x {sheet.length_mm:g} mm"
    if sheet.is_on_mat:
        count = len(sheet.offcuts)
        what = f"the mat with {count} offcut{'' if count == 1 else 's'}"
    elif sheet.offcuts:
        what = f"an offcut of {size}"
    elif sheet.vinyl.length_mm is None:
        what = f"the roll, {sheet.width_mm:g} mm wide"
    else:
        what = f"a sheet of {size}"
    return f"{sheet.vinyl.name}: {what}" + (", face down" if sheet.vinyl.cut_from_back else "")


def load_table(sheets: Sequence[Sheet]) -> Columns:
    """Each load of the cutter in order: which file it is cut by, of what, how far it runs, and how many pieces that gives."""
    ordered = in_loading_order(sheets)
    groups = [[sheet] for sheet in ordered]
    if len(ordered) > MOST_LOADS:
        groups = [[*alike] for _, alike in groupby(ordered, load_of)]
    rows, number = [], 1
    for group in groups:
        last = number + len(group) - 1
        rows.append(
            (
                f"{number}" if len(group) == 1 else f"{number} to {last}",
                group[0].name if len(group) == 1 else f"{group[0].name} to {group[-1].name.rpartition('-')[2]}",
                load_of(group[0]),
                f"{sum(sheet.used_length_mm for sheet in group):.1f}",
                f"{sum(len(sheet.placed) for sheet in group):,}",
            )
        )
        number = last + 1
    return Columns(
        title="Load the cutter in this order; the key shows which end goes first",
        head=("", "cut file", "load", "runs mm", "pieces"),
        rows=tuple(rows),
        left=(1, 2),
        spare=(4,),
    )


def takes(sheets: Sequence[Sheet]) -> list[str]:
    """What is taken of each vinyl, in words: offcuts, sheets of each size, or a length of its roll."""
    found = []
    for name in dict.fromkeys(sheet.vinyl.name for sheet in sheets):
        own = [sheet for sheet in sheets if sheet.vinyl.name == name]
        new = [sheet for sheet in own if not sheet.offcuts]
        offcuts = sum(len(sheet.offcuts) for sheet in own)
        parts = [counted(offcuts, "offcut")] if offcuts else []
        if own[0].vinyl.length_mm is None:
            parts += [f"{sum(sheet.used_length_mm for sheet in new):.1f} mm of the roll"] if new else []
        else:
            sizes = Counter((sheet.width_mm, sheet.length_mm) for sheet in new)
            parts += [f"{counted(n, 'sheet')} of {width:g} x {length:g} mm" for (width, length), n in sizes.items()]
        found.append(f"{name} {' and '.join(parts)}")
    return found


def summary(sheets: Sequence[Sheet], costs: Costs | None = None, left: Leftovers | None = None) -> list[Columns | str]:
    """What to load, what that takes of each vinyl, what it costs and what to keep. `left` is given where that is known."""
    told: list[Columns | str] = [load_table(sheets), f"Vinyl: {'; '.join(takes(sheets))}."]
    if costs is not None and costs.week.cents is None:
        told.append("Cost of the vinyl: not known, since none has a price.")
    elif costs is not None:
        has = "has" if len(costs.unpriced) == 1 else "have"
        without = f", without {' and '.join(costs.unpriced)}, which {has} no price" if costs.unpriced else ""
        told.append(f"Cost of the vinyl: {money(costs.week.cents)}{without}.")
    if left is not None and left.offcuts:
        sizes = [
            f"{_times(offcut.quantity)}{offcut.vinyl} {offcut.width_mm:g} x {offcut.length_mm:g} mm" for offcut in left.offcuts
        ]
        more = f" and {len(sizes) - MOST_KEPT} sizes more" if len(sizes) > MOST_KEPT else ""
        told.append(f"Keep for later: {', '.join(sizes[:MOST_KEPT])}{more}.")
    if left is not None and left.lengths_left_mm:
        rolls = [f"{name} {length_mm:g} mm" for name, length_mm in left.lengths_left_mm.items()]
        told.append(f"Left of the roll: {', '.join(rolls)}.")
    return told


def load_rows(sheets: Sequence[Sheet], names: Iterable[str] = ()) -> list[dict]:
    """Each load in order, as JSON-able values, with its files of these names; lengths in mm."""
    names = [*names]
    return [
        {
            "sheet": sheet.name,
            "vinyl": sheet.vinyl.name,
            "load": load_of(sheet),
            "width": sheet.width_mm,
            "length": round(sheet.length_mm, 6),
            "used_length": round(sheet.used_length_mm, 6),
            "pieces": len(sheet.placed),
            "offcuts": len(sheet.offcuts),
            "tightness": round(sheet.tightness, 6),
            "waste": round(sheet.waste, 6),
            "files": [name for name in names if re.fullmatch(re.escape(sheet.name) + r"(-[a-z]+)?\.[a-z]+", name)],
        }
        for sheet in in_loading_order(sheets)
    ]


def _times(number: int) -> str:
    return "" if number == 1 else f"{number} x "
