"""Where keys and tables stand in a TOML text. Loaded, and the text looked through, only when a place is to be told."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from stripegen.errors import Steps

if TYPE_CHECKING:
    from tree_sitter import Node


ENTRIES_MOST = 1_000  # of one list: of a longer one nothing is told but that it is too long


class Spot(NamedTuple):
    """One line and column, whatever is asked for: where a text stops being TOML."""

    line: int
    column: int

    def find(self, path: Steps) -> tuple[int, int]:
        return self.line, self.column


class TomlPlaces:
    """The places of a text that is TOML, by the way to each.

    A key stands where its own part of a dotted key does; a table where its heading or its first dotted key does; an entry
    of a list where it begins.
    """

    def __init__(self, text: str):
        self._text = text

    def find(self, path: Steps) -> tuple[int, int] | None:
        """Line and column, from 1, of the last thing on the way that stands there; None where nothing does."""
        for length in range(len(path), 0, -1):
            start = self._starts.get(path[:length])
            if start:
                row, column = start  # in bytes
                return row + 1, len(self._lines[row][:column].decode(errors="replace")) + 1
        return None

    @cached_property
    def _lines(self) -> list[bytes]:
        return self._text.encode().split(b"\n")

    @cached_property
    def _starts(self) -> dict[Steps, tuple[int, int]]:
        return _starts_in(self._text)


def _starts_in(text: str) -> dict[Steps, tuple[int, int]]:
    """The row and the byte in it, from 0, at which each key, table and entry of a list starts."""
    import tree_sitter
    import tree_sitter_toml

    starts: dict[Steps, tuple[int, int]] = {}
    entries: dict[Steps, int] = {}  # of tables in double brackets
    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
    for node in parser.parse(text.encode()).root_node.named_children:
        if node.type == "pair":
            _add_pair(node, (), starts)
        elif node.type in ("table", "table_array_element"):
            path: Steps = ()
            parts = [*_parts(node.named_children[0])]
            for number, part in enumerate(parts, 1):
                path += (_name(part),)
                starts.setdefault(path, node.start_point)
                if number == len(parts) and node.type == "table_array_element":
                    entries[path] = entries.get(path, 0) + 1
                if path in entries:
                    path += (entries[path] - 1,)
                    starts.setdefault(path, node.start_point)
            for pair in node.named_children[1:]:
                if pair.type == "pair":
                    _add_pair(pair, path, starts)
    return starts


def _add_pair(pair: Node, path: Steps, starts: dict) -> None:
    key, *values = (node for node in pair.named_children if node.type != "comment")
    for part in _parts(key):
        path += (_name(part),)
        starts.setdefault(path, part.start_point)
    for value in values:
        _add_within(value, path, starts)


def _add_within(value: Node, path: Steps, starts: dict) -> None:
    inside = [node for node in value.named_children if node.type != "comment"]
    if value.type == "inline_table":
        for pair in inside:
            _add_pair(pair, path, starts)
    elif value.type == "array":
        for number, entry in enumerate(inside[:ENTRIES_MOST]):
            starts[(*path, number)] = entry.start_point
            _add_within(entry, (*path, number), starts)


def _parts(key: Node) -> Iterator[Node]:
    """The parts of a key, dotted or not."""
    if key.type == "dotted_key":
        for part in key.named_children:
            yield from _parts(part)
    else:
        yield key


def _name(part: Node) -> str:
    text = part.text.decode()
    return next(iter(tomllib.loads(f"{text} = 0"))) if part.type == "quoted_key" else text
