"""Orders, and the job that holds all."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from stripegen.errors import Notice, Where
from stripegen.spec.checks import NOWHERE
from stripegen.spec.cups import Cup, Seam
from stripegen.spec.lines import Pattern
from stripegen.spec.vinyls import Cutter, Offcut, Vinyl

if TYPE_CHECKING:
    from stripegen.panelspec import Panel


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """So many cups of one kind with one pattern. `bindings` maps a role to a vinyl's name;
    `every_role` binds every role that is not itself the name of a vinyl of this job; `seams` replace those
    of the cup that have the same name, or add to them; `panels` replace all of the cup's; `changed` is its own copy of
    the pattern, where it asks for one that differs."""

    id: str
    cup: str
    pattern: str
    quantity: int = 1
    bindings: Mapping[str, str] = field(default_factory=dict)
    every_role: str | None = None
    seams: Mapping[str, Seam] = field(default_factory=dict)
    panels: tuple[Panel, ...] = ()
    due: datetime.date | None = None
    changed: Pattern | None = None
    where: Where = field(default=NOWHERE, compare=False)

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise ValueError(f"quantity must be 1 or more: got {self.quantity}")
        if self.every_role is not None and self.bindings:
            raise ValueError("an order binds every role or some by name, not both")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A whole job: every cup, vinyl and pattern that its orders name, presets included. `notices` are of its reading.

    `stock` names the file that says what is in hand, if one does.
    """

    file: str
    title: str = ""
    units: str = "mm"
    cups: Mapping[str, Cup]
    vinyls: Mapping[str, Vinyl]
    patterns: Mapping[str, Pattern]
    orders: tuple[Order, ...]
    own_vinyls: frozenset[str] = frozenset()
    cutter: Cutter = field(default_factory=Cutter)
    offcuts: tuple[Offcut, ...] = ()
    stock: str | None = None
    notices: tuple[Notice, ...] = ()

    def cup_of(self, order: Order) -> Cup:
        """The cup of an order, with the order's own seams laid over those that the cup has, and its own panels."""
        return self.cups[order.cup].with_seams(order.seams).with_panels(order.panels)

    def pattern_of(self, order: Order) -> Pattern:
        """The pattern of an order, as the order has changed it."""
        return order.changed or self.patterns[order.pattern]

    def vinyl_of(self, order: Order, role: str) -> Vinyl | None:
        """The vinyl that an order cuts a line of this role from; None where nothing binds it."""
        if order.every_role is not None:
            name = role if role in self.own_vinyls else order.every_role
        else:
            name = order.bindings.get(role, role)
        return self.vinyls.get(name)

    def unused_roles(self, order: Order) -> tuple[str, ...]:
        """Roles that an order binds and no line of its pattern has: harmless, but likely a slip."""
        used = {line.vinyl for line in self.pattern_of(order).lines}
        return tuple(role for role in order.bindings if role not in used)
