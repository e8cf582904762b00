"""All the pieces of a job: every cup of every order, in reading order, each with its own id."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

from stripegen.decoration import Decoration, decorate, where_of
from stripegen.errors import Fault, GeometryError, JobError, Notice
from stripegen.finishing import Finished, finish
from stripegen.flat import FlatPiece
from stripegen.spec import Job, Order, Vinyl
from stripegen.stacking import films_of, stacking_notices, thickest_stacks
from stripegen.stock import stock_of

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
    """Lay out every order of a job, its strips finished for their vinyls. Raises JobError with all the faults found."""
    maker = _Maker(job)
    notices: list[Notice] = []
    for number, order in enumerate(job.orders):
        notices += maker.make(order)
        if progress:
            progress((number + 1) / len(job.orders))
    faults = list(maker.faults)
    if not faults:
        count = sum(order.quantity * sum(len(flats) for *_, flats in maker.lines(order)) for order in job.orders)
        if count > MOST_PIECES:
            faults.append(Fault(job.orders[0].where, "", f"{count:,} pieces", f"a job may have {MOST_PIECES:,}"))
        elif not count:
            faults.append(
                Fault(job.orders[0].where, "", "", "every strip is too narrow for its vinyl: there is nothing to cut")
            )
    if faults:
        raise JobError(*faults)
    pieces = [piece for order in job.orders for piece in _pieces(order, maker.lines(order))]
    by_order = {order.id: maker.decorations[_look(job, order)] for order in job.orders}
    return Production(job, tuple(pieces), by_order, tuple(notices))


class _Maker:
    """Decorates each cup with each pattern once, and finishes each line once for each kind of vinyl."""

    def __init__(self, job: Job):
        self.job = job
        self.faults: dict[Fault, None] = {}
        self.decorations: dict[tuple, Decoration | None] = {}
        self.finished: dict[tuple, Finished | None] = {}
        self.stacked: dict[tuple, list[Notice]] = {}

    def make(self, order: Order) -> list[Notice]:
        """Lay out an order; what the maker should know of it."""
        look = _look(self.job, order)
        if look not in self.decorations:
            self.decorations[look] = None
            try:
                self.decorations[look] = decorate(self.job.cup_of(order), self.job.patterns[order.pattern])
            except JobError as error:
                self.faults.update(dict.fromkeys(error.faults))
        decoration = self.decorations[look]
        if decoration is None:
            return []
        notices = [*decoration.notices]
        for number, laid in enumerate(decoration.lines):
            finished = self._finished(look, decoration, number, self.job.vinyl_of(order, laid.line.vinyl))
            notices += finished.notices if finished else ()
        notices += self._stacked(order, look, decoration)
        return [replace(notice, order=order.id) for notice in notices] + _order_notices(self.job, order, decoration)

    def lines(self, order: Order) -> Iterator[tuple[str, Vinyl, tuple[FlatPiece, ...]]]:
        """The name, vinyl and pieces of each line of an order that has been made."""
        look = _look(self.job, order)
        decoration = self.decorations[look]
        for number, laid in enumerate(decoration.lines):
            vinyl = self.job.vinyl_of(order, laid.line.vinyl)
            yield laid.line.name, vinyl, self._finished(look, decoration, number, vinyl).pieces

    def _finished(self, look: tuple, decoration: Decoration, number: int, vinyl: Vinyl) -> Finished | None:
        key = (look, number, vinyl.name)
        if key not in self.finished:
            self.finished[key] = None
            try:
                self.finished[key] = finish(decoration, number, vinyl, stock_of(vinyl, self.job.cutter))
            except GeometryError as error:
                where = where_of(decoration.lines[number].line, decoration.pattern)
                self.faults[Fault(where, "", "", f"on cup {decoration.cup.name}, from {vinyl.name}, {error}")] = None
        return self.finished[key]

    def _stacked(self, order: Order, look: tuple, decoration: Decoration) -> list[Notice]:
        """Where film lies too thick; the same for all orders of one look and choice of vinyls."""
        vinyls = [self.job.vinyl_of(order, laid.line.vinyl) for laid in decoration.lines]
        key = (look, *(vinyl.name for vinyl in vinyls))
        if key not in self.stacked:
            finished = [self._finished(look, decoration, number, vinyl) for number, vinyl in enumerate(vinyls)]
            if None in finished:
                return []  # of a job with a fault nothing is made
            films = films_of(decoration, vinyls, [each.pieces for each in finished])
            self.stacked[key] = stacking_notices(thickest_stacks(films, decoration.cup.seal_mm))
        return self.stacked[key]


def _look(job: Job, order: Order) -> tuple:
    """What orders have in common that are decorated alike."""
    return order.cup, order.pattern, tuple(sorted(order.seams.items()))


def _pieces(order: Order, lines: Iterable[tuple[str, Vinyl, tuple[FlatPiece, ...]]]) -> list[Piece]:
    lines = list(lines)
    return [
        Piece(f"{order.id}.{cup_no}.{name}.{number}", order.id, cup_no, name, vinyl.name, flat)
        for cup_no in range(1, order.quantity + 1)
        for name, vinyl, flats in lines
        for number, flat in enumerate(flats, 1)
    ]


def _order_notices(job: Job, order: Order, decoration: Decoration) -> list[Notice]:
    found = [
        Notice(
            code="unused-role", order=order.id, message=f'no line of its pattern has the role "{role}" that it binds'
        )
        for role in job.unused_roles(order)
    ]
    told: set[str] = set()
    for laid in decoration.lines:
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
    return found
