"""Sheets to draw keys of, whose pieces lie apart and are turned as told."""

from __future__ import annotations

import math

from stripegen.jobfile import one_order_job, parse_job
from stripegen.layout import Placement
from stripegen.placing import Placed
from stripegen.presets import find_preset
from stripegen.production import produce
from stripegen.sheets import Sheet
from stripegen.spec import Vinyl

GAP_MM = 1.5
VINYL = Vinyl(name="tin", colour="#a8adb3", width_mm=300.0, margin_mm=5.0, piece_gap_mm=GAP_MM)

ORDERS = """
[vinyl.tin]
colour = "#a8adb3"
width = 305
"""


def pieces_of(pattern: str, cup: str = "tall-tapered", quantity: int = 2):
    """The pieces of an order of shipped presets, all of one vinyl."""
    job = one_order_job(cup=cup, pattern=pattern, vinyl="navy-blue", quantity=quantity, find_preset=find_preset)
    return produce(job).pieces


def orders_of(*orders: tuple[str, str, int]):
    """The production of orders (cup, pattern, quantity) of one vinyl."""
    rows = [
        f'[[order]]\nid = "K-{n}"\ncup = "{cup}"\npattern = "{pattern}"\nquantity = {quantity}\nvinyl = "tin"\n'
        for n, (cup, pattern, quantity) in enumerate(orders, 1)
    ]
    return produce(parse_job(ORDERS + "".join(rows), "keys.toml", find_preset))


def sheet_of(pieces, turns_deg, vinyl: Vinyl = VINYL, width_mm: float = 300.0) -> Sheet:
    """Pieces in rows from the left, each turned; the sheet is as wide as told, or as the widest piece needs."""
    x = y = vinyl.margin_mm
    low, widest, placed = y, width_mm, []
    for number, piece in enumerate(pieces):
        turn = turns_deg[number % len(turns_deg)]
        x0, y0, x1, y1 = piece.flat.cut_outline.moved(math.radians(turn), 0.0, 0.0).bounds()
        if x + x1 - x0 > width_mm - vinyl.margin_mm and x > vinyl.margin_mm:
            x, y = vinyl.margin_mm, low + GAP_MM
        placed.append(Placed(piece, Placement(key=piece.id, turn_deg=turn, dx_mm=x - x0, dy_mm=y - y0)))
        widest = max(widest, x + x1 - x0 + vinyl.margin_mm)
        x, low = x + x1 - x0 + GAP_MM, max(low, y + y1 - y0)
    area = sum(piece.flat.cut_outline.area() for piece in pieces)
    return Sheet(
        name=f"sheet-{vinyl.name}-1",
        vinyl=vinyl,
        width_mm=widest,
        length_mm=low + vinyl.margin_mm,
        used_length_mm=low + vinyl.margin_mm,
        piece_area_mm2=area,
        bound_mm=10.0,
        tightness=0.5,
        waste=0.5,
        placed=tuple(placed),
    )
