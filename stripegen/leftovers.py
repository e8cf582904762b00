"""What is left of a job's vinyl: offcuts worth keeping, and of rolls the length."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from stripegen.layout import kept_mm
from stripegen.sheets import Sheet
from stripegen.spec import Job, Offcut

_DECIMALS = 1  # sizes are told in whole tenths, rounded down


@dataclass(frozen=True, slots=True)
class Leftovers:
    """Offcuts to keep, and what is left of each roll of known length, mm by vinyl.

    Offcuts not used are among them, but not those of a stock file: they stay where they stand.
    """

    offcuts: tuple[Offcut, ...]
    lengths_left_mm: dict[str, float]


def leftovers(job: Job, sheets: Sequence[Sheet]) -> Leftovers:
    """What is left when these sheets are cut: of each sheet and offcut its whole width past the used length."""
    unused, kept = Counter(), Counter()
    for offcut in () if job.stock else job.offcuts:
        unused[offcut.vinyl, offcut.width_mm, offcut.length_mm] += offcut.quantity
    vinyls = {sheet.vinyl.name: sheet.vinyl for sheet in sheets}
    lengths_left = {name: vinyl.length_left_mm for name, vinyl in vinyls.items() if vinyl.length_left_mm is not None}
    for sheet in sheets:
        vinyl = sheet.vinyl
        for offcut in sheet.offcuts:
            unused[vinyl.name, offcut.width_mm, offcut.length_mm] -= 1
            _keep(kept, sheet, offcut.width_mm, offcut.length_mm, offcut.used_length_mm)
        if vinyl.name in lengths_left:
            lengths_left[vinyl.name] -= 0.0 if sheet.offcuts else sheet.used_length_mm
        if vinyl.length_mm is not None and not sheet.offcuts:
            _keep(kept, sheet, sheet.width_mm, sheet.length_mm, sheet.used_length_mm)
    kept += +unused
    offcuts = tuple(
        Offcut(vinyl=vinyl, width_mm=width_mm, length_mm=length_mm, quantity=quantity)
        for (vinyl, width_mm, length_mm), quantity in sorted(kept.items())
    )
    return Leftovers(offcuts, {name: max(0.0, rounded_down(left)) for name, left in lengths_left.items()})


def _keep(kept: Counter, sheet: Sheet, width_mm: float, length_mm: float, used_mm: float) -> None:
    rest_mm = rest_to_keep_mm(length_mm, used_mm, sheet.vinyl.margin_mm)
    if rest_mm:
        kept[sheet.vinyl.name, width_mm, rest_mm] += 1


def rest_to_keep_mm(length_mm: float, used_mm: float, margin_mm: float) -> float:
    """What is kept of a sheet's or an offcut's length, as it is told; 0: it is not worth it."""
    return rounded_down(kept_mm(length_mm, used_mm, margin_mm))


def rounded_down(length_mm: float) -> float:
    """A length as it is told of what is left."""
    return math.floor(length_mm * 10**_DECIMALS + 1e-6) / 10**_DECIMALS


def shelf_lines(sheets: Sequence[Sheet]) -> list[str]:
    """Where the offcuts lie that are to be cut, where a stock file says so."""
    return [
        f"take for {sheet.name}: {sheet.vinyl.name} {offcut.width_mm:g} x {offcut.length_mm:g} mm, {offcut.shelf}"
        for sheet in sheets
        for offcut in sheet.offcuts
        if offcut.shelf
    ]


def leftovers_toml(left: Leftovers) -> str:
    """The same as tables to paste into a job in place of its own [[offcut]]; each length says its unit."""
    lines = ["# What is left over once this is cut: paste it into the next job, in place of its own [[offcut]] tables."]
    for name, length_mm in left.lengths_left_mm.items():
        lines += ["", f'# Of the roll, in [vinyl.{name}]: length_left = "{length_mm:.1f} mm"']
    for offcut in left.offcuts:
        lines += [
            "",
            "[[offcut]]",
            f'vinyl = "{offcut.vinyl}"',
            f'width = "{plain_length(offcut.width_mm)} mm"',
            f'length = "{plain_length(offcut.length_mm)} mm"',
            f"quantity = {offcut.quantity}",
        ]
    return "\n".join(lines) + "\n"


def plain_length(length_mm: float) -> str:
    """A length in full, without an exponent, so that it is read as the same number."""
    return f"{Decimal(repr(length_mm)):f}".removesuffix(".0")
