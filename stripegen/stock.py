"""A vinyl as a layout sees it: what the cutter can cut of it, and a flat piece as a blank."""

from __future__ import annotations

import math

from stripegen.flat import FlatPiece
from stripegen.layout import Blank, Stock
from stripegen.spec import Cutter, Vinyl

ANY_CUTTER = Cutter()


def stock_of(vinyl: Vinyl, cutter: Cutter = ANY_CUTTER) -> Stock:
    """What can be cut of a vinyl, from its margins on: no wider than the cutter cuts, no longer than one run.

    Of a roll longer than one run there are as many runs as it takes, each a sheet of its own.
    """
    margins_mm = 2 * vinyl.margin_mm
    width_mm, length_mm = vinyl.width_mm, vinyl.length_mm
    if cutter.cut_width_mm is not None:
        width_mm = min(width_mm, cutter.cut_width_mm + margins_mm)
    if cutter.longest_run_mm is not None:
        length_mm = min(math.inf if length_mm is None else length_mm, cutter.longest_run_mm + margins_mm)
    return Stock(
        width_mm=width_mm,
        length_mm=length_mm,
        margin_mm=vinyl.margin_mm,
        gap_mm=vinyl.piece_gap_mm,
        by_cutter=(width_mm, length_mm) != (vinyl.width_mm, vinyl.length_mm),
    )


def blank_of(key: str, flat: FlatPiece, vinyl: Vinyl) -> Blank:
    """What the layout needs to know of a flat piece: its polygon and the turns that the grain allows."""
    turns = {"none": "any", "cup": "upright", "strip": "along"}[vinyl.grain]
    if vinyl.grain != "none" and vinyl.flip:
        turns += "-flip"
    return Blank(
        key=key,
        outline=flat.points,
        holes=flat.holes,
        slack_mm=flat.slack_mm,
        turns=turns,
        lean_deg=math.degrees(flat.lean_rad),
    )
