"""What the value of a key may be: the forms that values of a job file take, and the keys of its tables.

They say in words what the readers of the tables do; tests hold them to what those read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from stripegen.tables import COUNT_LIMIT
from stripegen.units import LENGTH_LIMIT_MM

NEEDED: Any = object()  # the default of a key that can't be left out


@dataclass(frozen=True, slots=True)
class Length:
    """A length: 0 or more; above 0; or of either sign."""

    above_zero: bool = False
    most_mm: float = LENGTH_LIMIT_MM
    signed: bool = False

    @property
    def says(self) -> str:
        return "length above 0" if self.above_zero else "length"


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number."""

    most: int = COUNT_LIMIT
    least: int = 1

    @property
    def says(self) -> str:
        return f"whole number, {self.least} to {self.most}"


@dataclass(frozen=True, slots=True)
class Switch:
    """True or false."""

    says = "`true` or `false`"


@dataclass(frozen=True, slots=True)
class Choice:
    """One word of several."""

    words: tuple[str, ...]

    @property
    def says(self) -> str:
        return ", ".join(f'`"{word}"`' for word in self.words)


@dataclass(frozen=True, slots=True)
class Plain:
    """A form that needs no figures to be told; `kind` is one of PLAIN."""

    kind: str

    def __post_init__(self) -> None:
        if self.kind not in PLAIN:
            raise ValueError(f"no plain form is called {self.kind}")

    @property
    def says(self) -> str:
        return PLAIN[self.kind]


PLAIN = {
    "name": "name",
    "number": "number",
    "degrees": "degrees",
    "down": "place down",
    "around": "place round",
    "around, no seam": "place round, no seam's name",
    "colour": "colour",
    "share": "share",
    "date": "date",
    "text": "one line of text",
    "image": "PNG or JPEG file's name",
    "csv": "CSV file's name",
    "column": "column's name",
    "change": "`{ LINE = { KEY = ... } }`, `{ LINE = false }`",
}


@dataclass(frozen=True, slots=True)
class Several:
    """One value, or a list of at least one."""

    form: Form

    @property
    def says(self) -> str:
        return f"{self.form.says}, or a list of them"


@dataclass(frozen=True, slots=True)
class Pair:
    """A list of two."""

    form: Form

    @property
    def says(self) -> str:
        return f"list of two: {self.form.says}"


@dataclass(frozen=True, slots=True)
class Inline:
    """A table within a table, `{ ... }`. Of each of the `ways` all keys are given and none of the others'."""

    keys: tuple[Key, ...]
    ways: tuple[tuple[str, ...], ...] = ()

    @property
    def says(self) -> str:
        return "`{ " + ", ".join(key.name for key in self.keys) + " }`"


@dataclass(frozen=True, slots=True)
class Rows:
    """A list of tables, `[ { ... }, { ... } ]`, at least so many."""

    row: Inline
    least: int = 0

    @property
    def says(self) -> str:
        return f"list of {self.row.says}"


@dataclass(frozen=True, slots=True)
class Named:
    """A table whose keys are names of one's own, or any words, each with a value of the same form. `what` is named."""

    what: str
    form: Form
    any_words: bool = False

    @property
    def says(self) -> str:
        return f"`{{ {self.what.upper()} = ... }}`"


@dataclass(frozen=True, slots=True)
class Either:
    """One of several forms."""

    forms: tuple[Form, ...]

    @property
    def says(self) -> str:
        return "; or ".join(form.says for form in self.forms)


@dataclass(frozen=True, slots=True)
class Heading:
    """Tables of their own, under a heading such as `[cup.NAME]` or `[[order]]`."""

    table: str

    @property
    def says(self) -> str:
        return "tables of their own"


Form = Length | Whole | Switch | Choice | Plain | Several | Pair | Inline | Rows | Named | Either | Heading


@dataclass(frozen=True, slots=True)
class Key:
    """A key of a table.

    Parameters
    ----------
    default : what holds where the key is left out (lengths in mm); None: nothing, or what `left_out` says
    examples : values as TOML; each may be (value, another line that it needs)
    needs : keys that it means nothing without
    instead_of : keys that can't stand beside it
    kinds : of a line, the kinds that take it; empty: all
    """

    name: str
    form: Form
    meaning: str
    examples: tuple[str | tuple[str, str], ...] = ()
    default: Any = None
    left_out: str = ""
    needs: tuple[str, ...] = ()
    instead_of: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()

    @property
    def is_needed(self) -> bool:
        return self.default is NEEDED

    @property
    def example(self) -> str:
        """The first example's value, or nothing."""
        first = self.examples[0] if self.examples else ""
        return first if isinstance(first, str) else first[0]

    @property
    def left_out_text(self) -> str:
        """What holds where it is left out, in words; a dash for nothing."""
        return self.left_out or ("-" if self.is_needed or self.default in (None, (), "") else _shown(self.form, self.default))


@dataclass(frozen=True, slots=True)
class TableKeys:
    """A table of the job file: its heading, what it is for, its keys, and ways of which it needs just one or one at least."""

    name: str
    heading: str
    meaning: str
    keys: tuple[Key, ...]
    one_way: tuple[tuple[str, ...], ...] = ()


def _shown(form: Form, default: Any) -> str:
    if isinstance(form, Either):
        form = form.forms[0]
    if isinstance(form, Length):
        return f"{default:g} mm"
    if isinstance(default, bool):
        return f"`{str(default).lower()}`"
    if form == Plain("share"):
        return f'`"{100 * default:g}%"`'
    return f'`"{default}"`' if isinstance(default, str) else f"{default:g}"
