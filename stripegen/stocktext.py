"""The text of a stock file changed in place: everything that is not changed stays as it was, to the byte.

Its tables are found by the lines of the text, since it is the text with its comments that is kept. What comes out is read
again and compared with what was meant before it is written (see `booking`).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from stripegen.errors import Fault, JobError, Where

_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|#[^\n]*"
    r"|[\[{]|[\]}]|=|\n|[^\S\n]+|[^\s\"'#\[\]{}=]+",
    re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Statement:
    """Whole lines of the text: a table's header, a key with its value, a comment alone, or nothing.

    `value` is where the value stands. `has_comment`: one stands on these lines.
    """

    kind: str
    start: int
    end: int
    key: str = ""
    value: tuple[int, int] = (0, 0)
    has_comment: bool = False


def statements(text: str) -> list[Statement]:
    """A right TOML text in its order."""
    found: list[Statement] = []
    at = 1 if text.startswith("\ufeff") else 0
    while at < len(text):
        found.append(_statement(text, at))
        at = found[-1].end
    return found


def _statement(text: str, start: int) -> Statement:
    depth, at, equals, ends, has_comment = 0, start, None, start, False
    while at < len(text):
        token = _TOKEN.match(text, at)
        mark, at = token.group(), token.end()
        if mark == "\n" and (depth == 0 or equals is None):
            break
        if mark.startswith("#"):
            has_comment = True
            continue
        if mark == "=" and equals is None and depth == 0:
            equals = at
        depth += (mark in "[{") - (mark in "]}") if mark in ("[", "{", "]", "}") else 0
        if not mark.isspace():
            ends = at
    body = text[start:ends].strip()
    if equals is not None:
        first = equals + len(text[equals:ends]) - len(text[equals:ends].lstrip())
        return Statement("value", start, at, text[start : equals - 1].strip(), (first, ends), has_comment)
    kind = "header" if body.startswith("[") else "comment" if has_comment else "blank"
    return Statement(kind, start, at, body, has_comment=has_comment)


class StockText:
    """The tables [[KIND]] of a stock file's text, by number from 0, and edits to it that are made all at once."""

    def __init__(self, text: str, file: str):
        self.text = text
        self.file = file
        self.eol = "\r\n" if "\r\n" in text else "\n"
        self.statements = statements(text)
        self.edits: list[tuple[int, int, str]] = []
        self.tables: dict[str, list[range]] = {}  # which statements are each one's: its header to its last key
        self.added: dict[str, list[str]] = {}
        heads = [n for n, each in enumerate(self.statements) if each.kind == "header"]
        for head, after in pairwise([*heads, len(self.statements)]):
            kind = _array_name(self.statements[head].key)
            if kind:
                last = max(n for n in range(head, after) if self.statements[n].kind in ("header", "value"))
                self.tables.setdefault(kind, []).append(range(head, last + 1))

    def check(self, counts: dict[str, int]) -> None:
        """Raise JobError unless each of these tables stands under a header of its own, so that it can be changed."""
        faults = [
            Fault(Where(self.file, ""), kind, "", f"must be written [[{kind}]], each with its keys on lines of their own")
            for kind, count in counts.items()
            if len(self.tables.get(kind, ())) != count
        ]
        if faults:
            raise JobError(*faults)

    def set(self, kind: str, number: int, key: str, value: str) -> None:
        """Give a key of a table another value, written so; a key that it lacks follows its last."""
        own = [self.statements[n] for n in self.tables[kind][number]]
        for each in own[1:]:
            if each.kind == "value" and _bare(each.key) == key:
                self.edits.append((*each.value, value))
                return
        last = own[-1]
        indent = re.match(r"[^\S\n]*", self.text[last.start :]).group()
        ends_line = self.eol if self.text[last.end - 1] != "\n" else ""  # before the text's end there may be none
        self.edits.append((last.end, last.end, f"{ends_line}{indent}{key} = {value}{self.eol}"))

    def has_comment(self, kind: str, number: int) -> bool:
        """Whether a comment stands in a table, or right above or below it."""
        own = self.tables[kind][number]
        beside = [self.statements[n] for n in (own.start - 1, own.stop) if 0 <= n < len(self.statements)]
        return any(each.kind == "comment" for each in beside) or any(self.statements[n].has_comment for n in own)

    def remove(self, kind: str, number: int) -> None:
        """Take a table out, with the empty lines before it."""
        own = self.tables[kind][number]
        first = own.start
        while first and self.statements[first - 1].kind == "blank":
            first -= 1
        self.edits.append((self.statements[first].start, self.statements[own.stop - 1].end, ""))

    def add(self, kind: str, pairs: Iterable[tuple[str, str]]) -> None:
        """Put a new table after the last of its kind, or at the end."""
        lines = [f"[[{kind}]]", *(f"{key} = {value}" for key, value in pairs)]
        self.added.setdefault(kind, []).append("".join(line + self.eol for line in lines))

    def edited(self) -> str:
        """The text with all of it done."""
        edits, at_end = list(self.edits), []
        for kind, texts in self.added.items():
            own = self.tables.get(kind)
            if not own:
                at_end += texts
                continue
            at = self.statements[own[-1].stop - 1].end
            edits.append((at, at, "".join(self.eol + text for text in texts)))
        text = self.text
        # from the end on; what is put in at one place comes in the order in which it was asked for
        for _, (start, end, new) in sorted(enumerate(edits), key=lambda each: (each[1][0], each[1][1], each[0]), reverse=True):
            text = text[:start] + new + text[end:]
        for new in at_end:
            if text and not text.endswith("\n"):
                text += self.eol
            text += (self.eol if text.strip("\ufeff") else "") + new
        return text


def _array_name(header: str) -> str | None:
    """The name in a header [[NAME]]; None for any other."""
    values = tomllib.loads(header)
    (name, value), *_ = values.items()
    return name if value == [{}] else None


def _bare(key: str) -> str | None:
    """A key without its quotes."""
    values = tomllib.loads(f"{key} = 0")
    (name, value), *_ = values.items()
    return name if value == 0 else None


def quoted(text: str) -> str:
    """A line of text as TOML has it."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def listed(texts: Sequence[str]) -> str:
    return "[" + ", ".join(map(quoted, texts)) + "]"
