"""A vinyl table, as checked values: what the film is, as bought."""

from __future__ import annotations

from collections.abc import Mapping

from stripegen.spec import FILM_LIMIT_MM, Vinyl
from stripegen.supplyspec import check_size, read_in_hand
from stripegen.tables import Table, parse_colour
from stripegen.units import ROLL_LIMIT_MM, is_share, parse_share

_KEYS = (
    "colour", "width", "length", "margin", "piece_gap", "grain", "flip", "price", "stretch",
    "min_width", "corner_radius", "thickness", "length_left", "quantity", "sizes", "shared_cuts",
    "cut_from_back", "weed", "spare",
)  # fmt: skip


def read_vinyl(name: str, table: Table) -> Vinyl | None:
    """Read one vinyl table. None if anything in it is wrong; the faults are then in ``table.faults``."""
    values = {
        "colour": table.read("colour", parse_colour, example='such as "#b8923a"'),
        "width_mm": table.length("width", above_mm=0),
        "length_mm": table.length("length", None, above_mm=0),
        "margin_mm": table.length("margin", 5.0),
        "piece_gap_mm": table.length("piece_gap", 1.5),
        "grain": table.choice("grain", ("none", "cup", "strip"), "none"),
        "flip": table.boolean("flip", True),
        "shared_cuts": table.boolean("shared_cuts", False),
        "cut_from_back": table.boolean("cut_from_back", False),
        "weed": table.boolean("weed", False),
        "stretch": table.read("stretch", _parse_stretch, 0.005),
        "min_width_mm": table.length("min_width", 1.0),
        "corner_radius_mm": table.length("corner_radius", 0.0),
        "thickness_mm": table.length("thickness", None, above_mm=0),
        "spare": table.integer("spare", 0, least=0),
    }
    if isinstance(table.values.get("price"), Mapping):
        values |= _read_price(table)
    else:
        values["price_square_metre"] = table.number("price", None)
    values |= read_in_hand(table, values["margin_mm"])
    table.finish(_KEYS)
    if (values["thickness_mm"] or 0.0) >= FILM_LIMIT_MM:
        table.fault("thickness", f"no film is so thick: must be below {FILM_LIMIT_MM:g} mm; check its unit")
    for key in ("width", "length"):
        check_size(table, key, values[f"{key}_mm"], values["margin_mm"])
    return Vinyl(name=name, where=table.where, **values) if table.is_sound else None


def _read_price(table: Table) -> dict[str, float | None]:
    """The price of a sheet, or of a roll with the length that is bought for it."""
    price = table.child("price", "{ sheet = 3.20 }")
    if "roll" in price:
        found = {"price_roll": price.number("roll")}
        found["roll_length_mm"] = price.length(
            "length", above_mm=0, most_mm=ROLL_LIMIT_MM, example="how much a roll at this price holds, such as 5000"
        )
        price.finish(("roll", "length"), {"sheet": "must be the price of a sheet or of a roll, not both"})
        if "length" in table:
            table.fault("price", "a sheet is no roll: must be { sheet = 3.20 }, or leave out the vinyl's length")
        return found
    found = {"price_sheet": price.number("sheet", example="{ sheet = 3.20 }, or { roll = 24.0, length = 5000 }")}
    price.finish(("sheet",), {"length": "belongs to the price of a roll: { roll = 24.0, length = 5000 }"})
    if "length" not in table:
        table.fault(
            "price",
            "a roll has no sheets: must be the price of a square metre, or { roll = 24.0, length = 5000 }, "
            "or give the sheets' length",
        )
    return found


def _parse_stretch(value: object) -> float:
    if not is_share(value):
        raise ValueError('must be a share in quotes, such as "1%"')
    share = parse_share(value)
    if not 0 <= share <= 1:
        raise ValueError('must be from "0%" to "100%"')
    return share
