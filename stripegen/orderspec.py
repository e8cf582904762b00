"""The orders of a job, as checked values, and all that they name looked up and checked against each other."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from stripegen.changes import changed_pattern, read_change
from stripegen.errors import Fault, Where, place_of
from stripegen.linespec import seams_named
from stripegen.nearmiss import did_you_mean, near_miss
from stripegen.panelspec import panel_seams_missing, read_panels
from stripegen.seamspec import read_seams, right_of_twin, seams_off_the_wall
from stripegen.shelf import Shelf
from stripegen.spec import Cup, Order, Pattern
from stripegen.tables import NAME_MEANING, Table, fault_at, is_name, show

QUANTITY_MOST = 100_000
ORDERS_MOST = 10_000
KEYS = ("id", "cup", "pattern", "quantity", "vinyl", "due", "seams", "panels", "change")


class Read(NamedTuple):
    """An order as it was read, and the change that it makes to its pattern, which waits until that is known."""

    order: Order
    change: Table | None


Id = tuple[Where, str, Any]


def read_orders(top: Table) -> tuple[list[Read], list[Table], list[Id]]:
    """Read the tables [[order]] of a job: those that are sound, those at fault as tables, and the ids of all with where they
    stand."""
    found, broken, ids = [], [], []
    for table in top.headed("order", "order", ORDERS_MOST, name="id"):
        ids.append((table.where, "id", table.values.get("id")))
        read = read_order(table)
        if read is None:
            broken.append(table)
        else:
            found.append(read)
    return found, broken, ids


def read_order(table: Table) -> Read | None:
    """Read one order; None if anything in it is wrong, as ``table.faults`` then tells."""
    values: dict[str, Any] = {
        "id": table.name("id"),
        "cup": table.name("cup"),
        "pattern": table.name("pattern"),
        "quantity": table.integer("quantity", 1, most=QUANTITY_MOST),
        "seams": read_seams(table),
        "panels": read_panels(table),
        "due": table.read("due", _parse_date, None),
        **_read_vinyl(table),
    }
    change = read_change(table)
    table.finish(KEYS)
    return Read(Order(where=table.where, **values), change) if table.is_sound else None


def _read_vinyl(table: Table) -> dict[str, Any]:
    if not isinstance(table.values.get("vinyl"), Mapping):
        return {"every_role": table.read("vinyl", _parse_every_role, None)}
    bindings = table.child("vinyl", '{ accent = "brass" }')
    found = {}
    for role in bindings.values:
        if is_name(role):
            found[role] = bindings.name(role)
        else:
            bindings.fault(role, f"a role must be {NAME_MEANING}")
    return {"bindings": found}


def check_ids(ids: Sequence[Id], faults: list[Fault]) -> None:
    """Fault every id that an order before it has, whatever the case."""
    first: dict[str, tuple[str, Where]] = {}
    for where, key, own in ids:
        if is_name(own):
            taken, by = first.setdefault(own.casefold(), (own, where))
            if by is not where:
                place = "" if by.path[:1] == where.path[:1] == ("order",) else f" of {place_of(by)}"
                right = f'is taken by the order "{taken}"{place} (case does not count): must differ'
                faults.append(Fault(where, key, show(own), right))


def resolve(reads: Sequence[Read], shelves: Mapping[str, Shelf], faults: list[Fault], prefix: str = "") -> list[Order]:
    """Look up all that the orders name, make their own copies of patterns, and check each order's cup, pattern and
    vinyls against each other."""
    paired = set()
    copies: dict[tuple, Pattern | None] = {}
    orders = []
    for order, change in reads:
        for kind, name in (("cup", order.cup), ("pattern", order.pattern)):
            if not shelves[kind].look_up(name):
                faults.append(Fault(order.where, f"{prefix}{kind}", show(name), shelves[kind].hint(name)))
        cup = shelves["cup"].found.get(order.cup)
        pattern = shelves["pattern"].found.get(order.pattern)
        if cup:
            _check_own_seams(order, cup, faults)
        if pattern and change:
            key = order.pattern, id(change.values)
            if key not in copies:
                copies[key] = changed_pattern(order.pattern, shelves["pattern"].tables[order.pattern], change)
            pattern = copies[key]
            order = replace(order, changed=pattern)
        pair = (order.cup, order.pattern, order.changed, frozenset(order.seams))
        if cup and pattern and pair not in paired:
            paired.add(pair)
            _check_seams(cup.with_seams(order.seams), pattern, faults)
        _check_vinyls(order, pattern, shelves["vinyl"], f"{prefix}vinyl", faults)
        orders.append(order)
    return orders


def look_up_of_broken(tables: Sequence[Table], shelves: Mapping[str, Shelf]) -> None:
    """Look up the cup and the pattern of orders in which something else is wrong."""
    for table in tables:
        for kind in ("cup", "pattern"):
            name = table.values.get(kind)
            if is_name(name) and not shelves[kind].look_up(name):
                table.fault(kind, shelves[kind].hint(name))


def _check_own_seams(order: Order, cup: Cup, faults: list[Fault]) -> None:
    """Fault an order's seams that are off the wall of its cup, or named as the cup's but for the case."""
    for key, read, right in seams_off_the_wall(order.seams, cup.wall_mm):
        faults.append(fault_at(order.where, key, read, right))
    folded = {name.casefold(): name for name in cup.seams}
    for name in order.seams:
        twin = folded.get(name.casefold(), name)
        if twin != name:
            faults.append(fault_at(order.where, ("seams", name), "", right_of_twin(twin)))
    for key, name, right in panel_seams_missing(order.panels, {*cup.seams, *order.seams}):
        faults.append(fault_at(order.where, key, show(name), right))


def _check_seams(cup: Cup, pattern: Pattern, faults: list[Fault]) -> None:
    for line in pattern.lines:
        for key, seam in seams_named(line):
            if seam not in cup.seams:
                degrees = "; degrees are written without quotes" if seam.isdigit() else ""
                right = (
                    f'must be a seam of the cup "{cup.name}", which has {", ".join(cup.seams)}'
                    f"{did_you_mean(seam, cup.seams)}{degrees}"
                )
                faults.append(fault_at(line.where, key, show(seam), right))


def _check_vinyls(order: Order, pattern: Pattern | None, shelf: Shelf, key: str, faults: list[Fault]) -> None:
    bound = order.bindings
    if order.every_role is not None and not shelf.look_up(order.every_role):
        faults.append(Fault(order.where, key, show(order.every_role), shelf.hint(order.every_role)))
    for role, name in bound.items():
        if not shelf.look_up(name):
            faults.append(fault_at(order.where, (key, role), show(name), shelf.hint(name)))
    for role in dict.fromkeys(line.vinyl for line in pattern.lines) if pattern else ():
        is_bound = role in bound or (order.every_role is not None and role not in shelf.own)
        if is_bound or shelf.look_up(role):
            continue
        slip = near_miss(role, [name for name in bound if name != role])
        hint = f'; did you mean it by "{slip}"?' if slip else ""
        right = f'must bind the role "{role}" of pattern "{order.pattern}" to a vinyl: {role} = "NAME"{hint}'
        faults.append(Fault(order.where, key, "" if not bound else show(bound), right))


def _parse_date(value: object) -> datetime.date:
    if type(value) is not datetime.date:  # a date with a time is a date too
        raise ValueError("must be a date without quotes, such as 2027-07-30")
    return value


def _parse_every_role(value: object) -> object:
    if not is_name(value):
        raise ValueError('must be the name of a vinyl in quotes, or a table such as { accent = "brass" }')
    return value
