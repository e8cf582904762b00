"""An order's own copy of a pattern: some keys of its lines replaced, or lines left out, and read as any pattern is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from stripegen.linespec import PATTERN_KEYS, build_pattern, line_tables
from stripegen.nearmiss import did_you_mean
from stripegen.spec import Pattern
from stripegen.tables import Table, show_key

FORM = "{ sash = { width = 4 } }"
_ENTRY = "must be a table of what is changed, such as { width = 4 }, or false to leave the line out"


def read_change(order: Table) -> Table | None:
    """The key `change` of an order, not yet read: what is in it depends on the pattern."""
    return order.child("change", FORM, optional=True)


def changed_pattern(name: str, given: Table, change: Table) -> Pattern | None:
    """The pattern of a sound table `given`, changed; None where it can't be, as ``change.faults`` then tells.

    `change` maps a line's name to the keys that replace the line's own; to a whole line, its `kind` among the keys; or to
    false, which leaves the line out, and its name out of what others go under or keep clear of. Other keys are those of
    the pattern itself. Bare lengths are in the unit of the file in which they stand.
    """
    lines = {table.values["name"]: table for table in line_tables(name, given)}
    own: dict[str, Any] = {}
    changed: dict[str, Mapping] = {}
    left_out: set[str] = set()
    for key, new in change.values.items():
        if key in lines and new is False:
            left_out.add(key)
        elif key in lines and not isinstance(new, Mapping):
            change.fault(key, _ENTRY)
        elif key in lines and "name" in new:
            change.fault(key, "gives the line another name, which a change can't: leave name out")
        elif key in lines:
            changed[key] = new
        elif key in PATTERN_KEYS:
            own[key] = new
        else:
            known = [*lines, *PATTERN_KEYS]
            right = f'must be a line of the pattern "{name}": {", ".join(list(lines)[:20])}{did_you_mean(key, known)}'
            change.fault(key, right)
    if len(left_out) == len(lines):
        change.fault_whole("leaves no line of the pattern: an order without stripes is no order")
    if not change.is_sound:
        return None
    tables = [_line(key, table, changed.get(key, {}), left_out, change) for key, table in lines.items() if key not in left_out]
    units = dict.fromkeys(own, change.unit)
    whole = Table({**given.values, **own}, change.where, change.faults, given.unit, change.steps, change.prefix, units)
    pattern = build_pattern(name, whole, tables)
    words = [key.replace("_", " ") for key in own] + [*changed] + [f"no {key}" for key in lines if key in left_out]
    return pattern and replace(pattern, changes=tuple(words))


def _line(name: str, table: Table, new: Mapping, left_out: set[str], change: Table) -> Table:
    """A line's table with the changes in it, whose faults are told at the change."""
    values = {"name": name} if "kind" in new else dict(table.values)
    for key, needs in (("under", "tuck"), ("clear_of", "by")):
        others = values.get(key)
        names = others if isinstance(others, list) else [others]
        if left_out.intersection(names):
            values[key] = [other for other in names if other not in left_out]
            if not values[key]:
                del values[key]
                values.pop(needs, None)
    place = f"change.{show_key(name)}" if new else f'change, line "{name}"'
    where = change.where.inner(f"{change.where.table} {place}", *change.steps, name)
    units = dict.fromkeys(new, change.unit)
    return Table({**values, **new}, where, change.faults, table.unit, units=units)
