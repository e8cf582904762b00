"""What a week's vinyl costs, and each order's share of it. Money is whole cents, so that shares add up.

An order bears of every sheet that it lies on as much as its pieces have of the area of all pieces there; so what
is thrown away is borne in the same proportion. Offcuts are paid for: of them only length and area are told.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stripegen.columns import Columns
from stripegen.sheets import Sheet
from stripegen.spec import Vinyl

_AREA_UNITS = 1e6  # shares are worked out in whole 1e-6 mm2, exactly


@dataclass(frozen=True, slots=True)
class Share:
    """An order's part of a sheet: its pieces' area, the length and area of vinyl that it bears, and what that costs."""

    sheet: str
    vinyl: str
    order: str
    piece_area_mm2: float
    length_mm: float
    vinyl_area_mm2: float
    cents: int | None


@dataclass(frozen=True, slots=True)
class Bill:
    """What is cut and bought of one vinyl, or of all of them. `cents` is None where nothing has a price.

    `length_mm` is that of whole sheets, or what is used of a roll; `used_mm` is what is used in either case; `tightness` is that of its
    sheets in proportion to the area used, `waste` the share of that which is thrown away.
    """

    name: str
    sheets: int
    length_mm: float
    used_mm: float
    tightness: float
    waste: float
    cents: int | None


@dataclass(frozen=True, slots=True)
class OrderBill:
    """All that one order bears; `cents` is None where none of its vinyl has a price."""

    order: str
    piece_area_mm2: float
    vinyl_area_mm2: float
    cents: int | None


@dataclass(frozen=True, slots=True)
class Costs:
    """A week's costs: by sheet and order, by vinyl, by order, and in all. `unpriced` names vinyls without a price."""

    shares: tuple[Share, ...]
    vinyls: tuple[Bill, ...]
    orders: tuple[OrderBill, ...]
    week: Bill
    unpriced: tuple[str, ...]


def costs_of(sheets: Sequence[Sheet], orders: Sequence[str]) -> Costs:
    """The costs of laid-out sheets; `orders` are the ids of all orders, in the order in which they are told."""
    shares = [share for sheet in sheets for share in _shares(sheet, orders)]
    vinyls = {sheet.vinyl.name: sheet.vinyl for sheet in sheets}
    own: dict[str, list[Share]] = {}
    for share in shares:
        own.setdefault(share.order, []).append(share)
    return Costs(
        shares=tuple(shares),
        vinyls=tuple(_bill(name, [sheet for sheet in sheets if sheet.vinyl.name == name]) for name in vinyls),
        orders=tuple(_order_bill(order, own[order]) for order in orders if order in own),
        week=_bill("week", sheets),
        unpriced=tuple(name for name, vinyl in vinyls.items() if not _has_price(vinyl)),
    )


def sheet_cents(vinyl: Vinyl, width_mm: float, length_mm: float) -> int | None:
    """The price of a whole sheet, or of so much of a roll, its whole width; None if the vinyl has no price.

    The price of a sheet is that of the vinyl's first size; another size costs in proportion to its area.
    """
    if vinyl.price_sheet is not None:
        price = vinyl.price_sheet * (width_mm * length_mm) / (vinyl.width_mm * vinyl.length_mm)
    elif vinyl.price_roll is not None:
        price = vinyl.price_roll * length_mm / vinyl.roll_length_mm
    elif vinyl.price_square_metre is not None:
        price = vinyl.price_square_metre * width_mm * length_mm / 1e6
    else:
        return None
    return math.floor(100 * price + 0.5)


def shared(cents: int, weights: Sequence[int]) -> list[int]:
    """Whole cents in proportion to weights: each share rounded down, and what is left goes to the largest remainders.

    Of equal remainders the first come first. The shares add up exactly; one of weight 0 is 0 unless all are.
    """
    total = sum(weights)
    if not total:
        weights, total = [1] * len(weights), len(weights)
    parts = [divmod(cents * weight, total) for weight in weights]
    found = [part for part, _ in parts]
    most = sorted(range(len(parts)), key=lambda k: -parts[k][1])
    for k in most[: cents - sum(found)]:
        found[k] += 1
    return found


def money(cents: int | None) -> str:
    """Cents as a price with two decimals; a dash where there is none."""
    return "-" if cents is None else f"{cents // 100}.{cents % 100:02}"


def costs_tables(costs: Costs, most_orders: int = 40) -> list[Columns | str]:
    """The costs as two tables, by vinyl and by order, and what more is to be said of them."""
    bills = [*costs.vinyls, costs.week]
    by_vinyl = Columns(
        head=("vinyl", "sheets", "length mm", "tightness", "waste", "price"),
        rows=tuple(
            (b.name, f"{b.sheets}", f"{b.length_mm:.1f}", f"{b.tightness:.3f}", f"{b.waste:.0%}", money(b.cents))
            for b in (bills if len(costs.vinyls) > 1 else costs.vinyls)
        ),
        spare=(3, 1),
        indent="",
    )
    told = costs.orders[:most_orders]
    by_order = Columns(
        head=("order", "pieces cm2", "vinyl cm2", "price"),
        rows=tuple((o.order, _cm2(o.piece_area_mm2), _cm2(o.vinyl_area_mm2), money(o.cents)) for o in told),
        spare=(1,),
        indent="",
    )
    more: list[str] = []
    if len(told) < len(costs.orders):
        more.append(f"... and {len(costs.orders) - len(told)} orders more")
    if costs.unpriced:
        has = "has" if len(costs.unpriced) == 1 else "have"
        more.append(f"{', '.join(costs.unpriced)} {has} no price: left out of the prices")
    return [by_vinyl, "", by_order, *more]


def grouping_table(grouped: Costs, alone: Costs) -> Columns:
    """What keeping each order together costs: so grouped, and the same pieces ungrouped."""
    pairs = zip((*grouped.vinyls, grouped.week), (*alone.vinyls, alone.week), strict=True)
    rows = tuple(
        (b.name, f"{b.sheets}", f"{b.used_mm:.1f}", money(b.cents), f"{a.sheets}", f"{a.used_mm:.1f}", money(a.cents),
         f"{b.used_mm / a.used_mm - 1:+.1%}")
        for b, a in pairs
    )  # fmt: skip
    head = ("by order", "sheets", "used mm", "price", "ungrouped: sheets", "used mm", "price", "longer by")
    return Columns(head=head, rows=rows if len(grouped.vinyls) > 1 else rows[:1], indent="")


def _shares(sheet: Sheet, orders: Iterable[str]) -> list[Share]:
    areas: dict[str, list[float]] = {}
    for placed in sheet.placed:
        areas.setdefault(placed.piece.order, []).append(placed.piece.flat.area_mm2)
    own = {order: math.fsum(areas[order]) for order in orders if order in areas}
    whole_mm2 = math.fsum(own.values())
    cents = _cents(sheet)
    length_mm, area_mm2 = math.fsum(length for _, length, _ in _extents(sheet)), _area_mm2(sheet)
    parts = [None] * len(own) if cents is None else shared(cents, [round(_AREA_UNITS * area) for area in own.values()])
    return [
        Share(
            sheet=sheet.name,
            vinyl=sheet.vinyl.name,
            order=order,
            piece_area_mm2=area,
            length_mm=length_mm * area / whole_mm2,
            vinyl_area_mm2=area_mm2 * area / whole_mm2,
            cents=part,
        )
        for (order, area), part in zip(own.items(), parts, strict=True)
    ]


def _bill(name: str, sheets: Sequence[Sheet]) -> Bill:
    extents = [extent for sheet in sheets for extent in _extents(sheet)]
    used_mm2 = math.fsum(width_mm * used_mm for width_mm, _, used_mm in extents)
    least_mm2 = math.fsum(sheet.tightness * width_mm * used_mm for sheet in sheets for width_mm, _, used_mm in _extents(sheet))
    return Bill(
        name=name,
        sheets=len(sheets),
        length_mm=math.fsum(length_mm for _, length_mm, _ in extents),
        used_mm=math.fsum(used_mm for _, _, used_mm in extents),
        tightness=least_mm2 / used_mm2,
        waste=1.0 - math.fsum(sheet.piece_area_mm2 for sheet in sheets) / used_mm2,
        cents=_total(_cents(sheet) for sheet in sheets),
    )


def _order_bill(order: str, shares: Sequence[Share]) -> OrderBill:
    return OrderBill(
        order=order,
        piece_area_mm2=math.fsum(share.piece_area_mm2 for share in shares),
        vinyl_area_mm2=math.fsum(share.vinyl_area_mm2 for share in shares),
        cents=_total(share.cents for share in shares),
    )


def _total(cents: Iterable[int | None]) -> int | None:
    """The sum of what has a price; None where nothing has."""
    priced = [each for each in cents if each is not None]
    return sum(priced) if priced else None


def _has_price(vinyl: Vinyl) -> bool:
    return sheet_cents(vinyl, 0.0, 0.0) is not None


def _extents(sheet: Sheet) -> list[tuple[float, float, float]]:
    """Width, length and used length of a sheet; of a mat those of each offcut on it."""
    return [(offcut.width_mm, offcut.length_mm, offcut.used_length_mm) for offcut in sheet.offcuts] or [
        (sheet.width_mm, sheet.length_mm, sheet.used_length_mm)
    ]


def _area_mm2(sheet: Sheet) -> float:
    return math.fsum(width_mm * length_mm for width_mm, length_mm, _ in _extents(sheet))


def _cents(sheet: Sheet) -> int | None:
    """What a sheet costs now: an offcut of a vinyl that has a price, nothing."""
    cents = sheet_cents(sheet.vinyl, sheet.width_mm, sheet.length_mm)
    return 0 if sheet.offcuts and cents is not None else cents


def _cm2(area_mm2: float) -> str:
    return f"{area_mm2 / 100:.1f}"
