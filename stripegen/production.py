"""All the pieces of a job: every cup of every order, in reading order, each with its own id."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from stripegen.decoration import Decoration, decorate, where_of
from stripegen.errors import Fault, GeometryError, JobError, Notice, Where
from stripegen.finishing import Finished, finish
from stripegen.flat import FlatPiece
from stripegen.laid import Strip
from stripegen.nearmiss import did_you_mean
from stripegen.openings import opening_notices
from stripegen.spares import spares_of
from stripegen.spec import Job, Order, Vinyl
from stripegen.stacking import films_of, stacking_notices, thickest_stacks
from stripegen.stock import stock_of
from stripegen.strain import LEAST_MM, widest_mm
from stripegen.tables import show
from stripegen.together import Unit, pattern_units

MOST_PIECES = 100_000


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece to cut. `id` is order.cup number.line.number of the line's pieces on that cup.

    A spare is of no cup: its `cup_no` is 0, its `spare_no` counts from 1, and its id has "spare1" in place of the cup's
    number. A piece made of several lines that cross has all their names, joined by dots. `unit` names the unit in which it keeps
    its place to others, if it is in one.
    """

    id: str
    order: str
    cup_no: int
    line: str
    vinyl: str
    flat: FlatPiece
    unit: PieceUnit | None = None
    spare_no: int = 0

    @property
    def name(self) -> str:
        """What it is called on every cup of its order: line.number."""
        return name_of(self.id)


def name_of(piece_id: str) -> str:
    """What the piece of an id is called on every cup of its order: line.number."""
    return piece_id.split(".", 2)[2]


@dataclass(frozen=True, slots=True)
class PieceUnit:
    """The unit of a piece on a cup, and which of the unit's members it is."""

    id: str
    unit: Unit
    number: int


@dataclass(frozen=True, slots=True)
class _Made:
    """A piece of every cup of an order."""

    line: str
    vinyl: Vinyl
    flat: FlatPiece
    unit: PieceUnit | None = None


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


@dataclass(frozen=True, slots=True)
class OrderFault:
    """A fault that shows when orders are laid out, its code, and the ids of the orders that have it."""

    code: str
    fault: Fault
    orders: tuple[str, ...]


@dataclass(frozen=True)
class Attempt:
    """What came of a job: every fault, and what the orders without one make (None: nothing that can be cut).

    `notices` are those of the orders without a fault.
    """

    production: Production | None
    notices: tuple[Notice, ...]
    faults: tuple[OrderFault, ...]


def produce(job: Job, progress: Callable[[float], None] | None = None) -> Production:
    """Lay out every order of a job, its strips finished for their vinyls. Raises JobError with all the faults found."""
    attempt = try_orders(job, progress)
    if attempt.faults:
        raise JobError(*(each.fault for each in attempt.faults))
    return attempt.production


def try_orders(job: Job, progress: Callable[[float], None] | None = None) -> Attempt:
    """Lay out each order of a job by itself, whatever is wrong with the others."""
    too_many = _too_many(job)
    if too_many:
        return Attempt(None, (), (too_many,))
    maker = _Maker(job)
    notices = [*job.notices]
    for number, order in enumerate(job.orders):
        notices += maker.make(order)
        if progress:
            progress((number + 1) / len(job.orders))
    orders = tuple(order for order in job.orders if not maker.is_at_fault(order))
    faults = list(maker.faults)
    count = sum(order.quantity * len(maker.made(order)) + len(maker.spares(order)) for order in orders)
    ids = tuple(order.id for order in orders)
    if count > MOST_PIECES:
        fault = Fault(job.orders[0].where, "", f"{count:,} pieces", f"a job may have {MOST_PIECES:,}")
        faults.append(OrderFault("too-many", fault, ids))
    elif orders and not count:
        fault = Fault(orders[0].where, "", "", "every strip is too narrow for its vinyl: there is nothing to cut")
        faults.append(OrderFault("nothing-to-cut", fault, ids))
    if not 0 < count <= MOST_PIECES:
        return Attempt(None, placed(notices, job), tuple(faults))
    pieces = [piece for order in orders for piece in _pieces(order, maker.made(order), maker.spares(order))]
    by_order = {order.id: maker.decoration(order) for order in orders}
    production = Production(replace(job, orders=orders), tuple(pieces), by_order, placed(notices, job))
    return Attempt(production, production.notices, tuple(faults))


def _too_many(job: Job) -> OrderFault | None:
    """The fault of a job of absurd size, told before anything of it is laid out, at the order with the most strips."""
    counts = [order.quantity * sum(line.strips for line in job.pattern_of(order).lines) for order in job.orders]
    if sum(counts) <= MOST_PIECES:
        return None
    most = max(counts)
    order = job.orders[counts.index(most)]
    key = "quantity" if order.quantity > 1 else "pattern"
    of_them = "" if len(counts) == 1 else f", {most:,} of them in this order"
    right = f"the job may have {MOST_PIECES:,} pieces, and asks for {sum(counts):,} strips{of_them}"
    read = str(order.quantity) if key == "quantity" else show(order.pattern)
    return OrderFault("too-many", Fault(order.where, key, read, right), (order.id,))


def placed(notices: Iterable[Notice], job: Job) -> tuple[Notice, ...]:
    """Notices with the place of the line that each is about, else of its order."""
    orders = {order.id: order for order in job.orders}
    return tuple(replace(each, where=_about(each, orders[each.order], job)) if each.order else each for each in notices)


def _about(notice: Notice, order: Order, job: Job) -> Where:
    pattern = job.pattern_of(order)
    return next((where_of(line, pattern) for line in pattern.lines if line.name == notice.line), order.where)


class _Maker:
    """Decorates each cup with each pattern once, and finishes each line once for each kind of vinyl.

    What is made is kept with the faults it had, which are noted for every order that asks for it.
    """

    def __init__(self, job: Job):
        self.job = job
        self.known: dict[tuple, tuple[Any, tuple[Fault, ...]]] = {}
        self.looks: dict[str, tuple] = {}
        self.blamed: dict[tuple[str, Fault], dict[str, None]] = {}

    @property
    def faults(self) -> list[OrderFault]:
        return [OrderFault(code, fault, tuple(orders)) for (code, fault), orders in self.blamed.items()]

    def is_at_fault(self, order: Order) -> bool:
        return any(order.id in orders for orders in self.blamed.values())

    def decoration(self, order: Order) -> Decoration:
        """That of an order without a fault."""
        return self._decorated(order, self.looks[order.id])

    def make(self, order: Order) -> list[Notice]:
        """Lay out an order; what the maker should know of it, nothing where it has a fault."""
        look = self.looks[order.id] = self._slit_look(order)
        decoration = self._decorated(order, look)
        if decoration is None:
            return []
        notices = [*decoration.notices]
        for number, laid in enumerate(decoration.lines):
            finished = self._finished(order, decoration, number, self.job.vinyl_of(order, laid.line.vinyl))
            notices += finished.notices if finished else ()
        notices += opening_notices(self.job.cup_of(order), decoration.pattern)
        if decoration.pattern.together and not self.is_at_fault(order):
            _, told = self._together(order, decoration) or ([], [])
            notices += told
        if self.is_at_fault(order):
            return []
        notices += self._stacked(order, decoration)
        return [replace(notice, order=order.id) for notice in notices] + _order_notices(self.job, order, decoration)

    def made(self, order: Order) -> list[_Made]:
        """The pieces of one cup of an order that has been laid out without a fault, in reading order."""
        decoration = self.decoration(order)
        if decoration.pattern.together:
            return self._together(order, decoration)[0]
        found = []
        for number, laid in enumerate(decoration.lines):
            vinyl = self.job.vinyl_of(order, laid.line.vinyl)
            finished = self._finished(order, decoration, number, vinyl)
            places = [
                PieceUnit(f"{laid.line.name}.unit-{n}", unit, k)
                for n, unit in enumerate(finished.units, 1)
                for k in range(len(unit.members))
            ]
            found += [
                _Made(laid.line.name, vinyl, flat, place)
                for flat, place in zip(finished.pieces, places or [None] * len(finished.pieces), strict=True)
            ]
        return found

    def spares(self, order: Order) -> list[tuple[int, int]]:
        """The spares of an order without a fault: the number of each, and of which of the pieces of one cup it is."""
        decoration = self.decoration(order)
        vinyls = [self.job.vinyl_of(order, laid.line.vinyl).name for laid in decoration.lines]

        def make() -> list[tuple[int, int]]:
            return [*spares_of(self.made(order), {laid.line.name: laid.line for laid in decoration.lines})]

        return self._once(order, "spares", (self.looks[order.id], *vinyls), make)

    def _once(self, order: Order, code: str, key: tuple, make: Callable[[], Any]) -> Any:
        """What `make` gives, made once for a key; None where it raises JobError."""
        key = (code, *key)
        if key not in self.known:
            try:
                self.known[key] = make(), ()
            except JobError as error:
                self.known[key] = None, error.faults
        made, faults = self.known[key]
        for fault in faults:
            self.blamed.setdefault((code, fault), {})[order.id] = None
        return made

    def _decorated(self, order: Order, look: tuple) -> Decoration | None:
        def make() -> Decoration:
            return decorate(self.job.cup_of(order), self.job.pattern_of(order), dict(look[-1]))

        return self._once(order, "cannot-lay", look, make)

    def _slit_look(self, order: Order) -> tuple:
        """What an order has in common with others that are decorated alike; bands slit as finely as their vinyls ask.

        How finely is told from the strips that it makes, since those beside the middle lie on other parts of the wall.
        """
        slits: dict[str, int] = {}
        while True:
            seams = tuple(sorted(order.seams.items()))
            look = (order.cup, order.pattern, order.changed, seams, tuple(slits.items()))
            decoration = self._decorated(order, look)
            finer = dict(slits)
            for number, laid in enumerate(decoration.lines if decoration else ()):
                line, vinyl = laid.line, self.job.vinyl_of(order, laid.line.vinyl)
                now, most = slits.get(line.name, 1), int(line.width_mm / max(vinyl.min_width_mm, LEAST_MM))
                if line.slit and now < most and max(f.strain for f in decoration.pieces[number]) > vinyl.stretch:
                    widest = min(widest_mm(s.middle, line.width_mm / now, vinyl.stretch) for s in laid.strips)
                    finer[line.name] = min(most, max(now + 1, math.ceil(line.width_mm / max(widest, LEAST_MM))))
            if finer == slits:
                return look
            slits = finer

    def _together(self, order: Order, decoration: Decoration) -> tuple[list[_Made], list[Notice]] | None:
        """All that an order cuts of each vinyl, as units; the same for all orders of one look and choice of vinyls."""
        vinyls = [self.job.vinyl_of(order, laid.line.vinyl) for laid in decoration.lines]

        def make() -> tuple[list[_Made], list[Notice]]:
            groups: dict[tuple, list[tuple[str, Strip]]] = {}
            for number, (laid, vinyl) in enumerate(zip(decoration.lines, vinyls, strict=True)):
                finished = self._finished(order, decoration, number, vinyl)
                strips = [(laid.line.name, flat.strip) for flat in finished.pieces]
                groups.setdefault((vinyl.name, laid.line.resin_mm), []).extend(strips)
            return self._united(decoration, groups)

        return self._once(order, "cannot-cut", (self.looks[order.id], *(vinyl.name for vinyl in vinyls)), make)

    def _united(
        self, decoration: Decoration, groups: dict[tuple, list[tuple[str, Strip]]]
    ) -> tuple[list[_Made], list[Notice]]:
        made: list[_Made] = []
        notices: list[Notice] = []
        faults: list[Fault] = []
        for (name, _), strips in groups.items():
            joints = [joint for laid in decoration.lines for joint in laid.joints_rad]
            try:
                units, bent = pattern_units(strips, joints[0] if joints else math.pi)
            except GeometryError as error:
                faults.append(error.fault(decoration.pattern.where, "together", f"on cup {decoration.cup.name}"))
                continue
            made += [
                _Made(".".join(member.lines), self.job.vinyls[name], member.flat, PieceUnit(f"unit-{n}", unit, k))
                for n, unit in enumerate(units, len(made) + 1)
                for k, member in enumerate(unit.members)
            ]
            if bent:
                message = f"{bent} of its pieces of {name} run over a bend of the wall: each is carried over by itself"
                notices.append(Notice(code="apart", message=message))
        if faults:
            raise JobError(*faults)
        return made, notices

    def _finished(self, order: Order, decoration: Decoration, number: int, vinyl: Vinyl) -> Finished | None:
        def make() -> Finished:
            try:
                return finish(decoration, number, vinyl, stock_of(vinyl, self.job.cutter))
            except GeometryError as error:
                where = where_of(decoration.lines[number].line, decoration.pattern)
                raise JobError(error.fault(where, of=f"on cup {decoration.cup.name}, from {vinyl.name}")) from None

        return self._once(order, "cannot-cut", (self.looks[order.id], number, vinyl.name), make)

    def _stacked(self, order: Order, decoration: Decoration) -> list[Notice]:
        """Where film lies too thick; the same for all orders of one look and choice of vinyls."""
        vinyls = [self.job.vinyl_of(order, laid.line.vinyl) for laid in decoration.lines]

        def make() -> list[Notice]:
            films = films_of(decoration, [(each.line, each.vinyl, each.flat) for each in self.made(order)])
            return stacking_notices(thickest_stacks(films, decoration.cup.seal_mm))

        return self._once(order, "stack-too-thick", (self.looks[order.id], *(vinyl.name for vinyl in vinyls)), make)


def _pieces(order: Order, made: Sequence[_Made], spares: Sequence[tuple[int, int]]) -> Iterator[Piece]:
    """An order's pieces cup by cup, and then its spares."""
    counted, names = Counter(), []
    for one in made:
        counted[one.line] += 1
        names.append(f"{one.line}.{counted[one.line]}")

    def piece(cup: str, number: int, cup_no: int = 0, spare_no: int = 0) -> Piece:
        one = made[number]
        unit = one.unit and replace(one.unit, id=f"{order.id}.{cup}.{one.unit.id}")
        piece_id = f"{order.id}.{cup}.{names[number]}"
        return Piece(piece_id, order.id, cup_no, one.line, one.vinyl.name, one.flat, unit, spare_no)

    for cup_no in range(1, order.quantity + 1):
        yield from (piece(f"{cup_no}", number, cup_no=cup_no) for number in range(len(made)))
    yield from (piece(f"spare{spare_no}", number, spare_no=spare_no) for spare_no, number in spares)


def _order_notices(job: Job, order: Order, decoration: Decoration) -> list[Notice]:
    roles = [line.vinyl for line in decoration.pattern.lines]
    found = [
        Notice(
            code="unused-role",
            order=order.id,
            message=f'no line of its pattern has the role "{role}" that it binds{did_you_mean(role, roles)}',
        )
        for role in job.unused_roles(order)
    ]
    vinyls = {vinyl.name: vinyl for laid in decoration.lines for vinyl in [job.vinyl_of(order, laid.line.vinyl)]}
    for vinyl in vinyls.values():
        if vinyl.corner_radius_mm and (vinyl.shared_cuts or decoration.pattern.together):
            why = "shared_cuts" if vinyl.shared_cuts else f"together on the pattern {decoration.pattern.name}"
            message = f"corner_radius of {vinyl.name} has no effect with {why}: corners are cut sharp"
            found.append(Notice(code="corner-radius", order=order.id, message=message))
    return found
