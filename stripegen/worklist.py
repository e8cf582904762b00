"""What a maker works through at the bench, as values: a whole job, order by order, and what it takes."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stripegen.marks import marks_of
from stripegen.production import Piece, Production
from stripegen.worklook import SmallCup
from stripegen.worksteps import Orderer, SpareStrips, WorkOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """All that is cut of one vinyl, waste left out, and the sheets that it lies on; of the strips so many are `spares`."""

    vinyl: str
    colour: str
    strips: int
    area_mm2: float
    length_mm: float
    sheets: tuple[str, ...]
    spares: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkList:
    """A whole job's work. `cups` are the kinds of cup with how many; `has_sheets`: it is known where each strip lies."""

    title: str
    orders: tuple[WorkOrder, ...]
    materials: tuple[Material, ...]
    cups: tuple[tuple[str, int], ...]
    has_sheets: bool


def work_list(production: Production, places: Mapping[str, str] | None = None) -> WorkList:
    """The work list of a job; `places` maps each piece's id to the name of its sheet, if that is known."""
    job, marks = production.job, marks_of(production.pieces)
    by_order: dict[str, list[Piece]] = {}
    for piece in production.pieces:
        by_order.setdefault(piece.order, []).append(piece)
    looks: dict[tuple, SmallCup] = {}
    orders = []
    for order in job.orders:
        pieces = by_order.get(order.id, [])
        own = [piece for piece in pieces if piece.cup_no == 1]
        decoration = production.decorations[order.id]
        key = (id(decoration), *(id(piece.flat) for piece in own))
        if key not in looks:
            looks[key] = SmallCup(decoration.site.wall, tuple(piece.flat.strip.shape for piece in own))
        colours = {name: vinyl.colour for name, vinyl in job.vinyls.items()}
        sheets = _sheets_of(pieces, places) if places is not None else {}
        ordered = Orderer(order, decoration, own, looks[key], marks, colours, sheets).order()
        orders.append(replace(ordered, spares=_spares(pieces, marks, places)))
    cups = Counter()
    for order in job.orders:
        cups[order.cup] += order.quantity
    return WorkList(
        title=job.title,
        orders=tuple(orders),
        materials=_materials(production, places),
        cups=tuple(cups.items()),
        has_sheets=places is not None,
    )


def _sheets_of(pieces: Sequence[Piece], places: Mapping[str, str]) -> dict[str, list[str]]:
    """What a strip is called -> the sheets of it on all cups."""
    sheets: dict[str, list[str]] = {}
    for piece in pieces:
        if not piece.spare_no:
            sheets.setdefault(piece.name, []).append(places[piece.id])
    return sheets


def _spares(pieces: Sequence[Piece], marks: Mapping[str, str], places: Mapping[str, str] | None) -> tuple[SpareStrips, ...]:
    by_name: dict[str, list[Piece]] = {}
    for piece in pieces:
        if piece.spare_no:
            by_name.setdefault(piece.name, []).append(piece)
    return tuple(
        SpareStrips(
            name=name,
            mark=marks[own[0].id],
            count=len(own),
            sheets=tuple(dict.fromkeys(places[piece.id] for piece in own)) if places is not None else (),
        )
        for name, own in by_name.items()
    )


def _materials(production: Production, places: Mapping[str, str] | None) -> tuple[Material, ...]:
    found = []
    for vinyl in production.vinyls:
        own = production.of_vinyl(vinyl.name)
        found.append(
            Material(
                vinyl=vinyl.name,
                colour=vinyl.colour,
                strips=len(own),
                spares=sum(1 for piece in own if piece.spare_no),
                area_mm2=math.fsum(piece.flat.area_mm2 for piece in own),
                length_mm=math.fsum(piece.flat.cut_mm for piece in own),
                sheets=tuple(dict.fromkeys(places[piece.id] for piece in own)) if places is not None else (),
            )
        )
    return tuple(found)
