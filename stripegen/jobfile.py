"""The whole job: job and preset text to checked values. Reads no file; presets come through a function."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

from stripegen.cutterspec import read_cutter
from stripegen.errors import Fault, JobError, Where
from stripegen.linespec import seams_named
from stripegen.panelspec import panel_seams_missing, read_panels
from stripegen.seamspec import read_seams, right_of_twin, seams_off_the_wall
from stripegen.shelf import READERS, FindPreset, PresetNames, Shelf, Source, read_file
from stripegen.spec import Cup, Job, Offcut, Order, Pattern
from stripegen.supplyspec import check_offcut, read_offcuts
from stripegen.tables import NAME_MEANING, Table, did_you_mean, fault_at, is_name, near_miss, show

QUANTITY_MOST = 100_000
ORDERS_MOST = 10_000
COMMAND_LINE = "command line"


def parse_job(
    text: str, file: str, find_preset: FindPreset, preset_names: PresetNames = lambda kind: ()
) -> Job:
    """Read a job file's text.

    Parameters
    ----------
    text : str          the job, TOML
    file : str          its name, told in messages
    find_preset : (kind, name) -> (text, file) or None
                        gives the preset of a name that the job lacks; kind is "cup", "vinyl" or "pattern"
    preset_names : kind -> names
                        the presets there are, for suggestions only

    Raises
    ------
    JobError            with every fault that was found in any of its tables
    """
    faults: list[Fault] = []
    top = read_file(text, file, faults)
    title = top.read("title", _parse_title, "")
    shelves = {kind: Shelf(kind, faults, find_preset, preset_names) for kind in READERS}
    for shelf in shelves.values():
        shelf.read_own(top)
    cutter = read_cutter(top)
    orders = _read_orders(top)
    offcuts = read_offcuts(top)
    top.finish(("units", "title", *READERS, "cutter", "offcut", "order"))
    _resolve(orders, shelves, faults)
    _resolve_offcuts(offcuts, shelves["vinyl"])
    if faults:
        raise JobError(*dict.fromkeys(faults))
    in_hand = tuple(offcut for offcut, _ in offcuts)
    return _job(file, orders, shelves, title=title, units=top.unit, cutter=cutter, offcuts=in_hand)


def one_order_job(
    *,
    cup: str | Source,
    pattern: str | Source,
    vinyl: str | Source | Mapping[str, str | Source],
    quantity: int = 1,
    find_preset: FindPreset,
    preset_names: PresetNames = lambda kind: (),
) -> Job:
    """Make the job of one order, id "one", of presets' names or files' texts.

    `vinyl` is one for every role, or one for each role that is named. Same checks and errors as `parse_job`.
    """
    faults: list[Fault] = []
    shelves = {kind: Shelf(kind, faults, find_preset, preset_names) for kind in READERS}

    def name_of(kind: str, given: str | Source) -> str | None:
        return given if isinstance(given, str) else shelves[kind].add_source(given)

    values = {
        "id": "one",
        "cup": name_of("cup", cup),
        "pattern": name_of("pattern", pattern),
        "quantity": quantity,
    }
    if isinstance(vinyl, Mapping):
        values["vinyl"] = {role: name_of("vinyl", given) for role, given in vinyl.items()}
        names = [*values.values(), *values["vinyl"].values()]
    else:
        values["vinyl"] = name_of("vinyl", vinyl)
        names = [*values.values()]
    if None in names:
        raise JobError(*faults)
    order = _read_order(Table(values, Where(COMMAND_LINE, ""), faults, prefix="--"))
    if order is not None:
        _resolve([order], shelves, faults, prefix="--")
    if faults:
        raise JobError(*dict.fromkeys(faults))
    return _job(COMMAND_LINE, [order], shelves)


def split_vinyl_options(options: Sequence[str]) -> str | dict[str, str]:
    """Read what `--vinyl` was given: one NAME for every role, or ROLE=NAME, several times.

    Raises ValueError, with what would be right, for any other mixture.
    """
    bound: dict[str, str] = {}
    for option in options:
        role, mark, name = option.partition("=")
        if not (mark and is_name(role)):
            if len(options) == 1:
                return option
            raise ValueError(f"{show(option)} binds no role: give one NAME for all, or ROLE=NAME for each")
        if role in bound:
            raise ValueError(f'the role "{role}" is bound twice')
        bound[role] = name
    return bound


def _read_orders(top: Table) -> list[Order]:
    entries = top.values.get("order", [])
    if not isinstance(entries, list) or not all(isinstance(entry, Mapping) for entry in entries):
        top.fault("order", "must be written [[order]], with two brackets on each side, once for every order")
        return []
    if not 1 <= len(entries) <= ORDERS_MOST:
        right = "the job has no [[order]]" if not entries else f"must be at most {ORDERS_MOST} orders"
        top.fault("order", right, read="" if not entries else f"{len(entries)} orders")
        return []
    orders = []
    ids: dict[str, str] = {}
    for n, entry in enumerate(entries, start=1):
        own = entry.get("id")
        label = f'"{own}"' if is_name(own) else f"number {n}"
        table = Table(entry, top.where.inner(f"[[order]] {label}", "order", n - 1), top.faults, top.unit)
        order = _read_order(table)
        if is_name(own) and own.casefold() in ids:
            table.fault(
                "id", f'is taken by the order "{ids[own.casefold()]}" (case does not count): must differ'
            )
        elif is_name(own):
            ids[own.casefold()] = own
        if order is not None:
            orders.append(order)
    return orders


def _read_order(table: Table) -> Order | None:
    values: dict[str, Any] = {
        "id": table.name("id"),
        "cup": table.name("cup"),
        "pattern": table.name("pattern"),
        "quantity": table.integer("quantity", 1, most=QUANTITY_MOST),
        "seams": read_seams(table),
        "panels": read_panels(table),
        "due": table.read("due", _parse_date, None),
    }
    if isinstance(table.values.get("vinyl"), Mapping):
        bindings = table.child("vinyl", '{ accent = "brass" }')
        values["bindings"] = {}
        for role in bindings.values:
            if is_name(role):
                values["bindings"][role] = bindings.name(role)
            else:
                bindings.fault(role, f"a role must be {NAME_MEANING}")
    else:
        values["every_role"] = table.read("vinyl", _parse_every_role, None)
    table.finish(("id", "cup", "pattern", "quantity", "vinyl", "seams", "panels", "due"))
    if not table.is_sound:
        return None
    return Order(where=table.where, **values)


def _resolve(
    orders: list[Order], shelves: Mapping[str, Shelf], faults: list[Fault], prefix: str = ""
) -> None:
    """Look up all that the orders name, and check each order's cup, pattern and vinyls against each other."""
    paired = set()
    for order in orders:
        for kind, name in (("cup", order.cup), ("pattern", order.pattern)):
            if not shelves[kind].look_up(name):
                faults.append(Fault(order.where, f"{prefix}{kind}", show(name), shelves[kind].hint(name)))
        cup = shelves["cup"].found.get(order.cup)
        pattern = shelves["pattern"].found.get(order.pattern)
        if cup:
            _check_own_seams(order, cup, faults)
        pair = (order.cup, order.pattern, frozenset(order.seams))
        if cup and pattern and pair not in paired:
            paired.add(pair)
            _check_seams(cup.with_seams(order.seams), pattern, faults)
        _check_vinyls(order, pattern, shelves["vinyl"], f"{prefix}vinyl", faults)


def _resolve_offcuts(offcuts: Sequence[tuple[Offcut, Table]], shelf: Shelf) -> None:
    for offcut, table in offcuts:
        if shelf.look_up(offcut.vinyl):
            check_offcut(offcut, table, shelf.found[offcut.vinyl])
        else:
            table.fault("vinyl", shelf.hint(offcut.vinyl))


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


def _job(file: str, orders: list[Order], shelves: Mapping[str, Shelf], **more: Any) -> Job:
    return Job(
        file=file,
        cups=shelves["cup"].found,
        vinyls=shelves["vinyl"].found,
        patterns=shelves["pattern"].found,
        orders=tuple(orders),
        own_vinyls=shelves["vinyl"].own,
        **more,
    )


def _parse_title(value: object) -> str:
    if not isinstance(value, str) or len(value) > 200 or not value.isprintable():
        raise ValueError("must be one line of text, at most 200 characters")
    return value


def _parse_date(value: object) -> datetime.date:
    if type(value) is not datetime.date:  # a date with a time is a date too
        raise ValueError("must be a date without quotes, such as 2027-07-30")
    return value


def _parse_every_role(value: object) -> object:
    if not is_name(value):
        raise ValueError('must be the name of a vinyl in quotes, or a table such as { accent = "brass" }')
    return value
