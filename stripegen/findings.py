"""What a check tells: each thing that is wrong, where, by how much, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from stripegen.codes import CODES, FAULT
from stripegen.decoration import where_of
from stripegen.errors import Fault, Figure, Notice, Place, Shortfall, Steps, Where, place_of
from stripegen.production import OrderFault, Piece
from stripegen.spec import NOWHERE, Job, Pattern, Vinyl


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One fault or warning, told once.

    `where` and `key` are the place in a file. `order` is the first order that has it, and `others` are those that have
    the very same; None: it is the job's, or a vinyl's. `line` and `piece` are names. `message` says what is wrong,
    `remedy` what to do.
    """

    code: str
    where: Where
    message: str
    remedy: str
    key: str = ""
    steps: Steps = field(default=(), compare=False, repr=False)
    order: str | None = None
    others: tuple[str, ...] = ()
    vinyl: str | None = None
    line: str | None = None
    piece: str | None = None
    figures: tuple[Figure, ...] = ()

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise ValueError(f"there is no code {self.code!r}: see codes.py")
        if self.others and self.order is None:
            raise ValueError("a finding that is no order's has no other orders")
        for name in ("message", "remedy"):
            text = getattr(self, name)
            if not text or "\n" in text:
                raise ValueError(f"{name} must be one line of text: got {text!r}")

    @property
    def severity(self) -> str:
        return CODES[self.code].severity

    @property
    def is_fault(self) -> bool:
        return self.severity == FAULT

    @property
    def place(self) -> Place:
        """Where the key stands, or its table's heading if the key is missing."""
        return place_of(self.where, *(self.steps or ((self.key,) if self.key else ())))

    @property
    def stands(self) -> str:
        """Its place and its table and key, as text."""
        named = " ".join(name for name in (self.where.table, self.key) if name)
        return ": ".join(part for part in (str(self.place), named) if part)


def of_text(fault: Fault, code: str = "job-text") -> Finding:
    """A fault of a job's text, or of what the text names."""
    message = f"read {fault.read}" if fault.read else fault.right
    return Finding(
        code=code,
        where=fault.where,
        key=fault.key,
        steps=fault.steps,
        message=message,
        remedy=fault.right,
        figures=fault.figures,
    )


def of_order_fault(found: OrderFault, pattern: Pattern) -> Finding:
    """A fault of what some orders make, the first of which has this pattern."""
    fault = found.fault
    first, *others = found.orders
    line = next((line.name for line in pattern.lines if where_of(line, pattern) == fault.where), None)
    read = f"read {fault.read}; " if fault.read else ""
    return Finding(
        code=found.code,
        where=fault.where,
        key=fault.key,
        steps=fault.steps,
        message=f"{read}{fault.right}",
        remedy=fault.remedy or CODES[found.code].remedy,
        order=first,
        others=tuple(others),
        line=line,
        figures=fault.figures,
    )


def of_notice(notice: Notice, job: Job) -> Finding:
    """A warning, where it is placed, else in the job's file."""
    where = notice.where or Where(job.file, "")
    code = CODES[notice.code]
    return Finding(
        code=notice.code,
        where=where,
        key=code.key,
        message=notice.message,
        remedy=notice.remedy or code.remedy,
        order=notice.order,
        line=notice.line,
        piece=notice.piece,
        figures=notice.figures,
    )


def of_shortfall(found: Shortfall, vinyl: Vinyl, pieces: Iterable[Piece]) -> Finding:
    """Pieces that find no room on their vinyl: those of one shape are the orders' that have it, else the vinyl's own."""
    code, named = CODES[found.code], {}
    if found.code == "no-fit":
        keys = set(found.keys)
        short = [piece for piece in pieces if piece.id in keys or (piece.unit and piece.unit.id in keys)]
        order, *others = dict.fromkeys(piece.order for piece in short)
        named = {"order": order, "others": tuple(others), "line": short[0].line, "piece": short[0].id}
    return Finding(
        code=found.code,
        where=vinyl.where,
        key=code.key,
        message=found.message,
        remedy=found.remedy or code.remedy,
        vinyl=vinyl.name,
        figures=found.figures,
        **named,
    )


def gathered(findings: Iterable[Finding], job: Job) -> list[Finding]:
    """Each finding once, with all the orders that have it, faults first; else in the order given.

    What stands with an order itself is told at the first that has it.
    """
    of_orders = {order.where for order in job.orders}
    first: dict[Finding, Finding] = {}
    orders: dict[Finding, dict[str, None]] = {}
    for found in findings:
        where = NOWHERE if found.where in of_orders else found.where
        alike = replace(found, where=where, order=None, others=())
        first.setdefault(alike, found)
        orders.setdefault(alike, {}).update(dict.fromkeys(id for id in (found.order, *found.others) if id))
    told = [replace(found, others=tuple(orders[alike])[1:]) for alike, found in first.items()]
    return sorted(told, key=lambda found: not found.is_fault)
