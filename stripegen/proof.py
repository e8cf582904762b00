"""Proof of a layout: that what it says can be cut, worked out from the pieces and the stock alone.

Nothing here is shared with what made the layout but the types it is written in.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
import shapely

from stripegen.errors import NestError
from stripegen.layout import Blank, Layout, Placement, Stock, Supply

TOLERANCE_MM = 1e-6
TOLERANCE_DEG = 1e-6
MAT_APART_MM = 2.0


def prove(layout: Layout, blanks: Sequence[Blank], stock: Stock | Supply) -> None:
    """Raise NestError unless the layout can be cut.

    Every blank lies there exactly once, at a turn it may take, as a valid shape, within the margins of
    its sheet, and at least the gap from every other; what true curves may bulge past the outlines
    counts, at the margins and between pieces. Pieces that share cuts fill their blank, and each shares a whole
    side with the one before. Lengths are held to 1e-6 mm. Each sheet is one of the
    supply's, none of those is used more often than it is there, and of a roll no more than is left.
    """
    supply = Supply.of(stock)
    by_key = {blank.key: blank for blank in blanks}
    if len(by_key) != len(blanks):
        raise NestError("two pieces have the same name")
    _prove_count(layout, by_key)
    for blank in blanks:
        if blank.shares_cuts:
            _prove_shared(blank)
    _prove_supply(layout, by_key, supply)
    for number, sheet in enumerate(layout.sheets, start=1):
        if not sheet.placements:
            raise NestError(f"sheet {number} holds no piece")
        for placement in sheet.placements:
            _prove_turn(by_key[placement.key], placement, number)
        shapes = np.array([_laid(by_key[placement.key], placement) for placement in sheet.placements])
        slacks = np.array([by_key[placement.key].slack_mm for placement in sheet.placements])
        keys = [placement.key for placement in sheet.placements]
        _prove_valid(shapes, keys, number)
        stock = supply.lots[sheet.lot].stock
        _prove_margins(shapes, slacks, keys, stock, number)
        _prove_gaps(shapes, slacks, keys, stock.gap_mm, number)


def prove_mat(mat: tuple[float, float], offcuts: Sequence[tuple[float, float, float, float]]) -> None:
    """Raise NestError unless rectangles (x, y, width, length) lie on a mat, 2 mm apart."""
    for k, (x, y, width, length) in enumerate(offcuts):
        if min(x, y) < -TOLERANCE_MM or x + width > mat[0] + TOLERANCE_MM or y + length > mat[1] + TOLERANCE_MM:
            raise NestError(f"offcut {k + 1} on the mat reaches past its edge")
        for other_x, other_y, other_width, other_length in offcuts[:k]:
            apart = max(other_x - x - width, x - other_x - other_width, other_y - y - length, y - other_y - other_length)
            if apart < MAT_APART_MM - TOLERANCE_MM:
                raise NestError(f"offcut {k + 1} on the mat lies too near to another")


def _prove_count(layout: Layout, by_key: Mapping[str, Blank]) -> None:
    found = Counter(placement.key for sheet in layout.sheets for placement in sheet.placements)
    for key, times in found.items():
        if key not in by_key:
            raise NestError(f"piece {key} is on a sheet but was not asked for")
        if times > 1:
            raise NestError(f"piece {key} is on the sheets {times} times")
    for key in by_key:
        if key not in found:
            raise NestError(f"piece {key} is on no sheet")


def _prove_shared(blank: Blank) -> None:
    """Solids that fill the outline and overlap nowhere, each with a whole side of its own on one of the one before."""
    solids = [shapely.Polygon(*solid) for solid in blank.solids]
    if len(solids) < 2 or not all(solid.is_valid for solid in solids):
        raise NestError(f"piece {blank.key}: pieces that share cuts must be two or more sound shapes")
    outline = shapely.Polygon(blank.outline, blank.holes)
    over_mm2 = abs(math.fsum(solid.area for solid in solids) - outline.area)
    apart_mm2 = shapely.union_all(solids).symmetric_difference(outline).area
    if max(over_mm2, apart_mm2) > TOLERANCE_MM * outline.length:
        raise NestError(f"piece {blank.key}: the pieces that share cuts do not fill its outline")
    shared_mm = 0.0
    for before, after in pairwise(solids):
        common = _sides(before) & _sides(after)
        if len(common) != 1:
            raise NestError(f"piece {blank.key}: each of the pieces that share cuts must share one whole side with the next")
        shared_mm += math.dist(*common.pop())
    # what lies inside the outline are those sides, and each of them twice
    if abs(math.fsum(solid.length for solid in solids) - outline.length - 2 * shared_mm) > TOLERANCE_MM * len(solids):
        raise NestError(f"piece {blank.key}: pieces that share cuts meet elsewhere too")


def _sides(solid: shapely.Polygon) -> set[frozenset[tuple[float, float]]]:
    """Each side of the outer ring by its two ends, to 1e-6 mm."""
    points = [(round(x / TOLERANCE_MM), round(y / TOLERANCE_MM)) for x, y in solid.exterior.coords]
    return {frozenset((x * TOLERANCE_MM, y * TOLERANCE_MM) for x, y in pair) for pair in pairwise(points)}


def _prove_supply(layout: Layout, by_key: Mapping[str, Blank], supply: Supply) -> None:
    for number, sheet in enumerate(layout.sheets, start=1):
        if not 0 <= sheet.lot < len(supply.lots):
            raise NestError(f"sheet {number} is none of those there are")
    for index, lot in enumerate(supply.lots):
        of_lot = [sheet for sheet in layout.sheets if sheet.lot == index]
        if lot.quantity is not None and len(of_lot) > lot.quantity:
            sides = (lot.stock.width_mm, *([lot.stock.length_mm] if lot.stock.length_mm else ()))
            size = " x ".join(f"{side:g}" for side in sides)
            raise NestError(f"{len(of_lot)} sheets of {size} mm are used; there are {lot.quantity}")
        if lot.stock.length_mm is None and len(of_lot) > 1:
            raise NestError(f"a roll is one sheet: the layout has {len(of_lot)}")
        if lot.total_mm is not None:
            used_mm = math.fsum(_reach_mm(sheet.placements, by_key) + lot.stock.margin_mm for sheet in of_lot)
            if used_mm > lot.total_mm + TOLERANCE_MM * max(1, len(of_lot)):
                raise NestError(f"{used_mm:.6f} mm of the roll are used; {lot.total_mm:.6f} mm are left of it")


def _reach_mm(placements: Sequence[Placement], by_key: Mapping[str, Blank]) -> float:
    laid = ((by_key[place.key], place) for place in placements)
    return max((_laid(blank, place).bounds[3] + blank.slack_mm for blank, place in laid), default=0.0)


def _prove_turn(blank: Blank, placement: Placement, number: int) -> None:
    allowed = {
        "any": (placement.turn_deg,),
        "upright": (0.0,),
        "upright-flip": (0.0, 180.0),
        "along": (blank.lean_deg,),
        "along-flip": (blank.lean_deg, blank.lean_deg + 180.0),
    }[blank.turns]
    off = min(abs((placement.turn_deg - turn + 180.0) % 360.0 - 180.0) for turn in allowed)
    if off > TOLERANCE_DEG:
        raise NestError(f"sheet {number}: piece {blank.key} is turned by {placement.turn_deg} degrees")


def _laid(blank: Blank, placement: Placement) -> shapely.Polygon:
    angle = math.radians(placement.turn_deg)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    move = np.array([placement.dx_mm, placement.dy_mm])
    outer, *inner = (np.array(ring) @ turn.T + move for ring in (blank.outline, *blank.holes))
    return shapely.Polygon(outer, inner)


def _prove_valid(shapes: np.ndarray, keys: Sequence[str], number: int) -> None:
    for k in np.flatnonzero(~shapely.is_valid(shapes)):
        raise NestError(f"sheet {number}: piece {keys[k]}: {shapely.is_valid_reason(shapes[k])}")


def _prove_margins(
    shapes: np.ndarray, slacks: np.ndarray, keys: Sequence[str], stock: Stock, number: int
) -> None:
    left, top, right, bottom = shapely.bounds(shapes).T
    least = stock.margin_mm
    inside = np.minimum(left, top) - slacks >= least - TOLERANCE_MM
    inside &= right + slacks <= stock.width_mm - least + TOLERANCE_MM
    if stock.length_mm is not None:
        inside &= bottom + slacks <= stock.length_mm - least + TOLERANCE_MM
    for k in np.flatnonzero(~inside):
        raise NestError(f"sheet {number}: piece {keys[k]} reaches past the sheet's margin of {least:g} mm")


def _prove_gaps(
    shapes: np.ndarray, slacks: np.ndarray, keys: Sequence[str], gap_mm: float, number: int
) -> None:
    tree = shapely.STRtree(shapes)
    near_mm = gap_mm + 2 * float(slacks.max())
    first, second = tree.query(shapes, predicate="dwithin", distance=near_mm)
    first, second = first[first < second], second[first < second]
    asked = gap_mm + slacks[first] + slacks[second]
    apart = shapely.distance(shapes[first], shapes[second])
    short = apart < asked - TOLERANCE_MM
    # Where nothing is asked pieces may touch, which a distance of 0 does not tell from an overlap.
    touching = np.flatnonzero((asked <= TOLERANCE_MM) & (apart == 0.0))
    if len(touching):
        a, b = (
            shapely.buffer(shapes[side[touching]], -TOLERANCE_MM / 2, join_style="mitre")
            for side in (first, second)
        )
        short[touching] = shapely.intersects(a, b)
    for k in np.flatnonzero(short):
        names = f"{keys[first[k]]} and {keys[second[k]]}"
        raise NestError(
            f"sheet {number}: pieces {names} are {apart[k]:.6f} mm apart; at least {asked[k]:.6f} mm is asked"
        )
