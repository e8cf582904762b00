"""A vinyl as a layout sees it: what the cutter can cut of it, and a flat piece as a blank."""

from __future__ import annotations

import math
from collections.abc import Iterable

from stripegen.flat import CHORD_MM, FlatPiece
from stripegen.layout import Blank, Lot, Stock, Supply, rounded_turn
from stripegen.outline import Point
from stripegen.planks import Bar, Plank
from stripegen.spec import Cutter, Offcut, SheetSize, Vinyl
from stripegen.together import Unit

ANY_CUTTER = Cutter()


def sizes_of(vinyl: Vinyl, offcuts: Iterable[Offcut] = ()) -> tuple[SheetSize | Offcut | Vinyl, ...]:
    """All in which a vinyl is there, its offcuts first, then the vinyl as bought and its further sizes."""
    return (*(offcut for offcut in offcuts if offcut.vinyl == vinyl.name), vinyl, *vinyl.sizes)


def supply_of(vinyl: Vinyl, cutter: Cutter = ANY_CUTTER, offcuts: Iterable[Offcut] = ()) -> Supply:
    """How much can be cut of a vinyl: a lot for each of its `sizes_of`, in their order."""
    return Supply(tuple(_lot(size, vinyl, cutter) for size in sizes_of(vinyl, offcuts)))


def _lot(size: SheetSize | Offcut | Vinyl, vinyl: Vinyl, cutter: Cutter) -> Lot:
    stock = _stock(size, vinyl, cutter)
    if size is vinyl and _is_spent(vinyl):
        return Lot(stock=stock, quantity=0)
    total_mm = vinyl.length_left_mm if size is vinyl else None
    return Lot(stock=stock, quantity=size.quantity, total_mm=total_mm, is_offcut=isinstance(size, Offcut))


def _is_spent(vinyl: Vinyl) -> bool:
    """Whether of a roll no more is left than its margins take."""
    return vinyl.length_left_mm is not None and vinyl.length_left_mm <= 2 * vinyl.edge_mm


def stock_of(vinyl: Vinyl, cutter: Cutter = ANY_CUTTER) -> Stock:
    """What can be cut of a vinyl as bought, of sheets those of the first size."""
    return _stock(vinyl, vinyl, cutter)


def _stock(size: SheetSize | Offcut | Vinyl, vinyl: Vinyl, cutter: Cutter) -> Stock:
    """What can be cut of a size, from its margins on: no wider than the cutter cuts, no longer than one run.

    Of a roll longer than one run there are as many runs as it takes, each a sheet of its own.
    """
    margins_mm = 2 * vinyl.margin_mm
    width_mm = size.width_mm
    is_roll = size is vinyl and size.length_mm is None
    length_mm = whole_mm = vinyl.length_left_mm if is_roll and not _is_spent(vinyl) else size.length_mm
    if cutter.cut_width_mm is not None:
        width_mm = min(width_mm, cutter.cut_width_mm + margins_mm)
    if cutter.longest_run_mm is not None:
        length_mm = min(math.inf if length_mm is None else length_mm, cutter.longest_run_mm + margins_mm)
    return Stock(
        width_mm=width_mm,
        length_mm=length_mm,
        margin_mm=vinyl.edge_mm,
        gap_mm=vinyl.piece_gap_mm,
        by_cutter=(width_mm, length_mm) != (size.width_mm, whole_mm),
    )


def unit_blank(key: str, unit: Unit, vinyl: Vinyl) -> tuple[Blank, tuple[float, float]]:
    """What the layout needs to know of pieces that are placed as one, and the shift from their frame to the blank's."""
    border = unit.border
    left, top, _, _ = border.bounds

    def ring(points: Iterable[Point]) -> tuple[Point, ...]:
        moved = ((round(x - left, 4) + 0.0, round(y - top, 4) + 0.0) for x, y in points)
        return tuple(dict.fromkeys(moved))

    placed = [
        member.flat.outline.moved(*pose).points(CHORD_MM) for member, pose in zip(unit.members, unit.poses, strict=True)
    ]
    blank = Blank(
        key=key,
        outline=ring(border.exterior.coords),
        slack_mm=max(member.flat.slack_mm for member in unit.members),
        turns=_turns(vinyl),
        lean_deg=math.degrees(unit.members[0].flat.lean_rad - unit.poses[0][0]),
        solids=tuple((ring(outer), tuple(map(ring, holes))) for outer, holes in placed),
    )
    return blank, (-left, -top)


def plank_turn(bar: Bar, vinyl: Vinyl) -> float | None:
    """The turn at which the grain lets a plank of such bars lie; None: any."""
    if vinyl.grain == "none":
        return None
    return rounded_turn(-math.degrees(bar.turn_rad)) if vinyl.grain == "cup" else 0.0


def plank_blank(key: str, plank: Plank, vinyl: Vinyl) -> tuple[Blank, tuple[float, float]]:
    """What the layout needs to know of strips that share cuts, and the shift from their plank's frame to the blank's."""
    border = plank.border
    top = min(y for _, y in border)

    def ring(points: Iterable[Point]) -> tuple[Point, ...]:
        return tuple((x, round(y - top, 4) + 0.0) for x, y in points)

    turn_deg = plank_turn(plank.bars[0], vinyl)
    blank = Blank(
        key=key,
        outline=ring(border),
        slack_mm=max(bar.slack_mm for bar in plank.bars),
        turns="any" if turn_deg is None else "along-flip" if vinyl.flip else "along",
        lean_deg=turn_deg or 0.0,
        solids=tuple((ring(points), ()) for points in plank.polygons),
        shares_cuts=True,
    )
    return blank, (0.0, -top)


def _turns(vinyl: Vinyl) -> str:
    turns = {"none": "any", "cup": "upright", "strip": "along"}[vinyl.grain]
    return turns + "-flip" if vinyl.grain != "none" and vinyl.flip else turns


def blank_of(key: str, flat: FlatPiece, vinyl: Vinyl) -> Blank:
    """What the layout needs to know of a flat piece: its polygon and the turns that the grain allows."""
    return Blank(
        key=key,
        outline=flat.points,
        holes=flat.holes,
        slack_mm=flat.slack_mm,
        turns=_turns(vinyl),
        lean_deg=math.degrees(flat.lean_rad),
    )
