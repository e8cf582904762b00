"""All the pieces of a job: every cup of every order, in reading order, each with its own id."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from stripegen.decoration import Decoration, decorate
from stripegen.errors import Fault, JobError, Notice
from stripegen.flat import FlatPiece
from stripegen.spec import Job, Order, Ring, Vinyl

MOST_PIECES = 100_000


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece to cut. `id` is order.cup number.line.number of the line's pieces on that cup."""

    id: str
    order: str
    cup_no: int
    line: str
    vinyl: str
    flat: FlatPiece


@dataclass(frozen=True)
class Production:
    """A job's pieces in reading order, the decoration of each order, and what the maker should know."""

    job: Job
    pieces: tuple[Piece, ...]
    decorations: dict[str, Decoration]
    notices: tuple[Notice, ...]

    def of_vinyl(self, name: str) -> list[Piece]:
        return [piece for piece in self.pieces if piece.vinyl == name]

    @property
    def vinyls(self) -> list[Vinyl]:
        """The vinyls in use, in the order of their first piece."""
        return [self.job.vinyls[name] for name in dict.fromkeys(piece.vinyl for piece in self.pieces)]


def produce(job: Job, progress: Callable[[float], None] | None = None) -> Production:
    """Lay out every order of a job. Raises JobError with all the faults that are found."""
    faults: list[Fault] = []
    decorations: dict[tuple[str, str], Decoration | None] = {}
    notices: list[Notice] = []
    for number, order in enumerate(job.orders):
        key = (order.cup, order.pattern)
        if key not in decorations:
            try:
                decorations[key] = decorate(job.cups[order.cup], job.patterns[order.pattern])
            except JobError as error:
                faults += [fault for fault in error.faults if fault not in faults]
                decorations[key] = None
        decoration = decorations[key]
        if decoration is not None:
            notices += [replace(notice, order=order.id) for notice in decoration.notices]
            notices += _order_notices(job, order, decoration)
        if progress:
            progress((number + 1) / len(job.orders))
    if not faults:
        count = sum(
            order.quantity * sum(map(len, decorations[order.cup, order.pattern].pieces)) for order in job.orders
        )
        if count > MOST_PIECES:
            faults.append(Fault(job.orders[0].where, "", f"{count:,} pieces", f"a job may have {MOST_PIECES:,}"))
    if faults:
        raise JobError(*faults)
    by_order = {order.id: decorations[order.cup, order.pattern] for order in job.orders}
    pieces = [piece for order in job.orders for piece in _pieces(job, order, by_order[order.id])]
    return Production(job, tuple(pieces), by_order, tuple(notices))


def _pieces(job: Job, order: Order, decoration: Decoration) -> list[Piece]:
    found = []
    for cup_no in range(1, order.quantity + 1):
        for laid, flats in zip(decoration.lines, decoration.pieces, strict=True):
            vinyl = job.vinyl_of(order, laid.line.vinyl)
            found += [
                Piece(f"{order.id}.{cup_no}.{laid.line.name}.{number}", order.id, cup_no, laid.line.name, vinyl.name, flat)
                for number, flat in enumerate(flats, 1)
            ]
    return found


def _order_notices(job: Job, order: Order, decoration: Decoration) -> list[Notice]:
    found = [
        Notice(
            code="unused-role", order=order.id, message=f'no line of its pattern has the role "{role}" that it binds'
        )
        for role in job.unused_roles(order)
    ]
    told: set[str] = set()
    for laid in decoration.lines:
        if laid.line.split and not isinstance(laid.line, Ring):
            found.append(
                Notice(
                    code="no-split",
                    order=order.id,
                    line=laid.line.name,
                    message="split = true has no effect in this version: a piece that fits no sheet is an error",
                )
            )
        vinyl = job.vinyl_of(order, laid.line.vinyl)
        if vinyl.corner_radius_mm and vinyl.name not in told:
            told.add(vinyl.name)
            found.append(
                Notice(
                    code="corner-radius",
                    order=order.id,
                    message=f"corner_radius of {vinyl.name} has no effect in this version: corners are cut sharp",
                )
            )
        if laid.line.width_mm < vinyl.min_width_mm:
            found.append(
                Notice(
                    code="too-narrow",
                    order=order.id,
                    line=laid.line.name,
                    message=f"strips of {laid.line.width_mm:g} mm are narrower than the {vinyl.min_width_mm:g} mm "
                    f"that {vinyl.name} can be weeded at",
                )
            )
    return found
