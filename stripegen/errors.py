"""What can go wrong, told in one line each: where, what was read, what would be right."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import NamedTuple, Protocol

FAULTS_TOLD = 100

Steps = tuple[str | int, ...]
"""The way to a key or a table: keys by name, entries of a list by number from 0."""

STOPPED = "stopped before it was done"  # told on Ctrl-C


def printable(text: object, keep: str = "") -> str:
    """A text, or the name of a file, as one line may show it: what can't be printed is written out, as in \\x1b, but for
    the characters to `keep`."""
    told = str(text)
    if told.isprintable():
        return told
    return "".join(c if c.isprintable() or c in keep else c.encode("unicode_escape").decode() for c in told)


class Document(Protocol):
    """A file's text, as far as places in it are asked for."""

    def find(self, path: Steps) -> tuple[int, int | None] | None:
        """Line and column, from 1, of what is at the end of the path, or of the nearest thing on the way that stands there.

        No column where only lines are known.
        """


class Place(NamedTuple):
    """A place in a file, as editors count: line and column from 1; None where only the file, or its line, is known."""

    file: str
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        return ":".join(str(part) for part in self if part is not None)


@dataclass(frozen=True, slots=True)
class Where:
    """A table of a job or preset file: the file's name, the table as it is told, such as ``[cup.tall]``, and the way to it."""

    file: str
    table: str
    path: Steps = field(default=(), repr=False)
    document: Document | None = field(default=None, compare=False, repr=False)

    def inner(self, table: str, *steps: str | int) -> Where:
        """The table so many steps further in, told as `table`."""
        return replace(self, table=table, path=(*self.path, *steps))

    def __str__(self) -> str:
        return ": ".join(part for part in (str(place_of(self)), self.table) if part)


def place_of(where: Where, *steps: str | int) -> Place:
    """Where a key of a table stands in its file; else that table's heading. The file is looked through when this is asked."""
    found = where.document.find((*where.path, *steps)) if where.document else None
    return Place(where.file, *(found or ()))


@dataclass(frozen=True, slots=True)
class Figure:
    """A number that a fault or warning speaks of: what it is, how much, and in which unit ("" for a mere count)."""

    name: str
    value: float
    unit: str = "mm"

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise ValueError(f"{self.name} must be finite: got {self.value}")


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a job: where it stands, what was read there, and what would be right.

    `key` is told; `steps` are the way to it from the table, just the key if they are not given. A fault that shows only on
    the wall says in `right` what is wrong, and in `remedy` what to do.
    """

    where: Where
    key: str
    read: str
    right: str
    steps: Steps = field(default=(), compare=False, repr=False)
    remedy: str = ""
    figures: tuple[Figure, ...] = ()

    @property
    def place(self) -> Place:
        """Where the key stands in the file, or its table's heading if the key is missing."""
        return place_of(self.where, *(self.steps or ((self.key,) if self.key else ())))

    def __str__(self) -> str:
        place = self.place
        apart = ": " if place.line or self.where.table or not self.key else " "
        stands = f"{place}{apart}{' '.join(name for name in (self.where.table, self.key) if name)}"
        read = f"read {self.read}; " if self.read else ""
        return printable(f"{stands.removesuffix(apart)}: {read}{told(self.right, self.remedy)}")


class StripegenError(Exception):
    """Root of every error that a user can cause and mend. `faults` tell it one by one, where it is of a file."""

    faults: tuple[Fault, ...] = ()


class JobError(StripegenError, ValueError):
    """A job or preset file says something that can't be right. Holds one or more faults; as text it tells the first of many."""

    def __init__(self, *faults: Fault):
        self.faults = faults
        super().__init__(*faults)

    def __str__(self) -> str:
        told = [str(fault) for fault in self.faults[:FAULTS_TOLD]]
        if len(self.faults) > FAULTS_TOLD:
            told.append("there are more faults: mend these first")
        return "\n".join(told)


class GeometryError(StripegenError, ValueError):
    """A line, cut or shape that can't exist on this wall; the caller adds where it was asked for."""

    def __init__(self, message: str, remedy: str = "", *figures: Figure):
        self.message, self.remedy, self.figures = message, remedy, figures
        super().__init__(told(message, remedy))

    def fault(self, where: Where, key: str = "", of: str = "") -> Fault:
        """The fault that this is at a place, of what."""
        message = f"{of}, {self.message}" if of else self.message
        return Fault(where, key, "", message, remedy=self.remedy, figures=self.figures)


@dataclass(frozen=True, slots=True)
class Shortfall:
    """Blanks that find no room, by their keys: a piece that fits nothing there is, or too little of a vinyl."""

    code: str
    message: str
    remedy: str
    keys: tuple[str, ...]
    figures: tuple[Figure, ...] = ()


class NestError(StripegenError, ValueError):
    """Pieces that can't be placed, or a layout that fails its proof.

    `faults` tell of which vinyl, where that is known; `shortfalls` are those of its lines that say what finds no room.
    """

    def __init__(self, *lines: str | Fault, shortfalls: tuple[Shortfall, ...] = ()):
        self.faults = tuple(each for each in lines if isinstance(each, Fault))
        self.shortfalls = shortfalls
        super().__init__(*lines)

    @classmethod
    def of(cls, *shortfalls: Shortfall) -> NestError:
        """With a line for each."""
        return cls(*(told(each.message, each.remedy) for each in shortfalls), shortfalls=shortfalls)

    def __str__(self) -> str:
        return "\n".join(map(str, self.args))


class WriteError(StripegenError, OSError):
    """A result that can't be written without losing something."""

    def __init__(self, message: str):
        super().__init__(printable(message))


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """A warning: the job can be cut, but the maker should know this first.

    `message` is what is wrong, `remedy` what to do about it where that is more than its code's own remedy says. `where` is
    the line's or the order's that it is about, if it is about one.
    """

    code: str
    message: str
    remedy: str = ""
    figures: tuple[Figure, ...] = ()
    order: str | None = None
    line: str | None = None
    piece: str | None = None
    where: Where | None = field(default=None, compare=False, repr=False)

    @property
    def place(self) -> Place | None:
        """Where in the job's file, or a preset's, stands what it is about."""
        return self.where and place_of(self.where)

    @property
    def told(self) -> str:
        """What is wrong, and what to do."""
        return told(self.message, self.remedy)

    def __str__(self) -> str:
        named = " ".join(name for name in (self.order, self.line if self.piece is None else self.piece) if name)
        placed = str(self.place) if self.where and self.where.document else ""
        return printable(": ".join(part for part in (placed, named, self.told) if part))


def told(message: str, remedy: str) -> str:
    return f"{message}: {remedy}" if remedy else message
