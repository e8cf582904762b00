"""Jobs made of the examples that stand beside each key, and a record of what the readers read of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from unittest.mock import patch

from stripegen.jobkeys import CUP, CUTTER, JOB, LINE, OFFCUT, ORDER, ORDERS, PATTERN, VINYL, TableKeys
from stripegen.jobkeys.forms import Heading, Key
from stripegen.tables import Table

KINDS = ("vertical", "ring", "diagonal", "chevron")
# beside the needed keys, what makes a whole table of each
USUAL = {"cup": ("rim", "base", "height"), "vertical": ("around",), "ring": ("down",), "order": ("vinyl",), "orders": ("cup", "pattern", "vinyl")}
SHEET = b"id,Order no,Qty,Cup,Pattern,Due on,Colour\nA-1,B-1,2,tall-tapered,sash,2027-05-14,navy-blue\n"
OTHER_LINE = 'name = "edge"\nkind = "vertical"\naround = "front"\nwidth = 5\nvinyl = "accent"\n'


@dataclass(frozen=True)
class Example:
    """A key's example, the table that it stands in and the job around that."""

    table: str
    key: str
    value: str
    kind: str | None
    job: str

    def __str__(self) -> str:
        return f"{self.table} {self.kind or ''} {self.key} = {self.value}"


def every_example() -> Iterator[Example]:
    for keys in (JOB, CUP, VINYL, PATTERN, LINE, ORDER, ORDERS, OFFCUT, CUTTER):
        for key in keys.keys:
            kinds = (key.kinds or KINDS) if keys is LINE else (None,)
            for kind in kinds:
                for example in (f'"{kind}"',) if key.name == "kind" else key.examples:
                    yield _example(keys, key, kind, example)


def _example(keys: TableKeys, key: Key, kind: str | None, example: str | tuple[str, str]) -> Example:
    value, beside = (example, "") if isinstance(example, str) else example
    table = _table(keys, key, kind, f"{key.name} = {value}\n{beside}\n")
    return Example(keys.name, key.name, value, kind, _job(keys, table))


def _table(keys: TableKeys, key: Key | None, kind: str | None, lines: str) -> str:
    own = {each.name: each for each in keys.keys if not each.kinds or kind in each.kinds}
    said = set(re.findall(r"(?m)^(\w+) =", lines))
    needed = [name for name, each in own.items() if each.is_needed]
    usual = () if kind == "vertical" and "repeat" in said else USUAL.get(kind or keys.name, ())
    for name in (*(key.needs if key else ()), *needed, *usual):
        barred = {other for each in said for other in own[each].instead_of}
        if name in said | barred or isinstance(own[name].form, Heading):
            continue
        said.add(name)
        lines += f'kind = "{kind}"\n' if name == "kind" else f"{name} = {own[name].example}\n"
    return lines


def _job(keys: TableKeys, table: str) -> str:
    """A job with this table in it."""
    texts = {
        each.name: _table(each, None, "vertical" if each is LINE else None, "")
        for each in (CUP, VINYL, LINE, ORDER)
    } | {keys.name: table}  # fmt: skip
    order = texts["order"]
    for name, used in (("cup", keys is CUP), ("pattern", keys in (PATTERN, LINE))):
        if used:
            order = re.sub(rf'(?m)^{name} = .*$', f'{name} = "own"', order)
    parts = {
        "": texts.get("job", ""),
        "[cup.own]": texts["cup"],
        "[vinyl.own]": texts["vinyl"],
        "[pattern.own]": texts.get("pattern", ""),
        "[[pattern.own.line]]": texts["line"] + (f"[[pattern.own.line]]\n{OTHER_LINE}" if '"edge"' in texts["line"] else ""),
        "[[order]]": order,
        "[orders]": texts.get("orders"),
        "[[offcut]]": texts.get("offcut"),
        "[cutter]": texts.get("cutter"),
    }
    return "\n".join(f"{heading}\n{lines}" for heading, lines in parts.items() if lines is not None)


# ---- What is read


@dataclass
class Read:
    """What readers asked of tables: (table, kind of line) -> key -> how it was read; and the keys that they know."""

    reads: dict[tuple[str, str | None], dict[str, list[tuple[str, Any, dict]]]] = field(default_factory=dict)
    known: dict[tuple[str, str | None], set[str]] = field(default_factory=dict)

    def note(self, table: Table, key: str, how: str, default: Any, more: dict) -> None:
        self.reads.setdefault(_place(table), {}).setdefault(key, []).append((how, default, more))

    def note_known(self, table: Table, keys: Any) -> None:
        self.known.setdefault(_place(table), set()).update(keys)


def _place(table: Table) -> tuple[str, str | None]:
    """The table's name without names and numbers of its own, such as "cup.seams.NAME"; and the kind, if it is of a line."""
    if not hasattr(table, "noted_place"):
        heading = re.fullmatch(r"\[+(?:pattern\..*\.)?(\w+).*", table.where.table)
        name = heading[1] if heading else "job"
        table.noted_place = name, table.values.get("kind") if name == "line" else None
    return table.noted_place


def _note_within(table: Table, key: str, child: Table) -> None:
    name, kind = _place(table)
    child.noted_place = f"{name}.{'NAME' if name.endswith('.seams') else key}", kind


WAYS = ("length", "integer", "number", "boolean", "choice", "name", "place", "down", "several", "child", "children", "read")


@contextmanager
def recorded() -> Iterator[Read]:
    """Note whatever is read of any table meanwhile."""
    found, inside = Read(), [0]
    with patch.multiple(Table, **{way: _noting(way, found, inside) for way in WAYS}, finish=_finishing(found)):
        yield found


def _noting(way: str, found: Read, inside: list[int]):
    plain = getattr(Table, way)
    what = {"choice": "choices", "several": "parse", "read": "parse"}.get(way)

    def noting(self, key, *given, **more):
        args = list(given)
        told = dict(more)
        if what:
            told[what] = args.pop(0)
        if way not in ("child", "children"):
            default = told.pop("default", args.pop(0) if args else ...)
        else:
            default = None
        if not inside[0]:
            found.note(self, key, way, default, told)
        inside[0] += 1
        try:
            value = plain(self, key, *given, **more)
        finally:
            inside[0] -= 1
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, Table):
                _note_within(self, key, child)
        return value

    return noting


def _finishing(found: Read):
    plain = Table.finish

    def finish(self, known, *given, **more):
        found.note_known(self, known)
        return plain(self, known, *given, **more)

    return finish
