"""The page of every key: as text for a terminal, and as Markdown for the README."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence

from stripegen.jobkeys import TABLES, inner
from stripegen.jobkeys.forms import Form, Heading, Key, TableKeys

WIDTH = 100
LINE_KINDS = ("vertical", "ring", "diagonal", "chevron")
VALUES = {
    "length": 'a number in the file\'s `units`, or with its own unit: `"4 mm"`, `"2.5 cm"`, `"3 1/8 in"`; 0 or more, at most 10 m',
    "place down": 'a length down the wall from the rim, or a share of what lies between the clearances: `"20%"`',
    "place round": 'degrees to the right of the zero mark, a seam\'s name, or `{ along = 132.5, at = 12 }`: so far along the girth '
    "that lies 12 down",
    "share": 'a percentage in quotes: `"1%"`',
    "colour": '`"#b8923a"` or `"#b93"`',
    "name": "ASCII letters, digits, `-` and `_`, at most 64, in quotes",
    "date": "without quotes: `2027-05-14`",
}  # fmt: skip


def find(name: str) -> tuple[list[TableKeys], list[tuple[str, Key]]]:
    """The table of a name such as "cup", and all keys of a name such as "gap", "line.gap" or "cup.rim.diameter"."""
    tables = [table for table in TABLES if table.name == name]
    keys = [(path, key) for table in TABLES for path, key in _walk(table.name, table.keys) if f".{path}".endswith(f".{name}")]
    return tables, keys


def known_names() -> list[str]:
    """All names that `find` finds something for, the plain ones."""
    keys = (key.name for table in TABLES for _, key in _walk(table.name, table.keys))
    return list(dict.fromkeys([*(table.name for table in TABLES), *keys]))


def keys_of(tables: Sequence[TableKeys]) -> list[tuple[str, Key]]:
    """All keys of tables, those within others too, each with its path."""
    return [each for table in tables for each in _walk(table.name, table.keys)]


def key_row(path: str, key: Key) -> dict:
    """A key as JSON-able values, without Markdown's marks."""
    return {
        "key": path,
        "kinds": list(key.kinds),
        "value": _bare(key.form.says),
        "needed": key.is_needed,
        "left_out": None if key.left_out_text == "-" else _bare(key.left_out_text),
        "meaning": key.meaning,
        "examples": [example if isinstance(example, str) else example[0] for example in key.examples],
    }


def _walk(path: str, keys: Sequence[Key]) -> Iterator[tuple[str, Key]]:
    for key in keys:
        own = f"{path}.{key.name}"
        yield own, key
        yield from _walk(own, inner(key.form))


# ---- For a terminal


def values_text() -> str:
    """What values may be, as text."""
    width = max(map(len, VALUES))
    rows = [textwrap.wrap(_bare(text), WIDTH - width - 4) for text in VALUES.values()]
    return "\n".join(
        f"  {name if n == 0 else '':{width}}  {line}"
        for name, row in zip(VALUES, rows, strict=True)
        for n, line in enumerate(row)
    )


def table_text(table: TableKeys) -> str:
    """A table with all its keys, as text."""
    head = [table.heading or "At the head of the file", *textwrap.wrap(table.meaning, WIDTH)]
    return "\n\n".join(["\n".join(head), *(key_text(key) for key in table.keys)])


def key_text(key: Key, path: str | None = None) -> str:
    """A key as text: what its value may be, what it means, examples, and the keys within."""
    lines = [f"  {path or key.name}{_kinds(key)}"]
    value = _bare(f"{key.form.says}; {_left_out(key, 'needed', 'left out: ')}".removesuffix("; "))
    for text in (_meaning(key), value):
        lines += textwrap.wrap(text, WIDTH, initial_indent=" " * 6, subsequent_indent=" " * 8)
    for example in key.examples:
        value, beside = (example, "") if isinstance(example, str) else example
        lines.append(f"      {key.name} = {value}" + (f"   # with {beside}" if beside else ""))
    for own, depth in _within(key):
        indent = " " * (8 + 2 * depth)
        told = _bare(f"{own.form.says}; {_left_out(own, 'needed', 'left out: ')}".removesuffix("; "))
        lines += textwrap.wrap(f"{own.name}: {own.meaning}; {told}", WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")
    return "\n".join(lines)


# ---- For the README


def markdown() -> str:
    """The whole page as Markdown."""
    parts = ["\n".join(f"- **{name}**: {text}" for name, text in VALUES.items())]
    told: dict[Form, str] = {}
    for table in TABLES:
        title = f"`{table.heading}`" if table.heading else "At the head of the file"
        parts.append(f"### {title}\n\n{table.meaning}")
        keys = [key for key in table.keys if not isinstance(key.form, Heading)]
        for kind in (None, *LINE_KINDS):
            own = [key for key in keys if (key.kinds[0] if len(key.kinds) == 1 else None) == kind]
            if kind and own:
                parts.append(f"A {kind} also takes:")
            if own:
                parts.append("\n".join(_rows(own, table, told)))
    return "\n\n".join(parts) + "\n"


def _rows(keys: Sequence[Key], table: TableKeys, told: dict[Form, str]) -> Iterator[str]:
    """The rows of a table; `told` holds in which key each form with keys of its own was told."""
    yield "| key | value | left out | meaning | example |"
    yield "| --- | --- | --- | --- | --- |"
    for key in keys:
        meaning = _meaning(key)
        if inner(key.form):
            place = told.setdefault(key.form, f"`{key.name}` of a {table.name}")
            again = place != f"`{key.name}` of a {table.name}"
            meaning += f"; as {place}" if again else "".join(f"; {_told_within(own)}" for own in inner(key.form))
        name = f"`{key.name}`{_kinds(key) if len(key.kinds) > 1 else ''}"
        example = f"`{key.example}`" if key.example else ""
        cells = (name, key.form.says, _left_out(key, "**needed**"), meaning, example)
        yield "| " + " | ".join(cells) + " |"


def _told_within(key: Key) -> str:
    left_out = _left_out(key, "", "left out: ")
    details = [key.form.says, *([left_out] if left_out else []), *(_told_within(own) for own in inner(key.form))]
    return f"`{key.name}`: {key.meaning} ({', '.join(details)})"


def _left_out(key: Key, needed: str, before: str = "") -> str:
    text = key.left_out_text
    return needed if key.is_needed else "" if text == "-" else f"{before}{text}"


def _within(key: Key, depth: int = 0) -> Iterator[tuple[Key, int]]:
    for own in inner(key.form):
        yield own, depth
        yield from _within(own, depth + 1)


def _meaning(key: Key) -> str:
    needs = f" (with {' and '.join(key.needs)})" if key.needs else ""
    barred = f" (not beside {', '.join(key.instead_of)})" if key.instead_of else ""
    return f"{key.meaning}{needs}{barred}"


def _kinds(key: Key) -> str:
    return f" ({', '.join(key.kinds)})" if key.kinds else ""


def _bare(text: str) -> str:
    """Text without Markdown's marks."""
    return re.sub(r"`([^`]*)`", r"\1", text)
