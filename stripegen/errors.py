"""What can go wrong, told in one line each: where, what was read, what would be right."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stripegen.codes import CODES


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a job or preset file: the file's name and a table in it, such as ``[cup.tall]``."""

    file: str
    table: str

    def __str__(self) -> str:
        return f"{self.file}: {self.table}" if self.table else self.file


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

    One that shows only on the wall says in `right` what is wrong, and in `remedy` what to do.
    """

    where: Where
    key: str
    read: str
    right: str
    remedy: str = ""
    figures: tuple[Figure, ...] = ()

    def __str__(self) -> str:
        place = f"{self.where} {self.key}".rstrip()
        right = told(self.right, self.remedy)
        return f"{place}: read {self.read}; {right}" if self.read else f"{place}: {right}"


class StripegenError(Exception):
    """Root of every error that a user can cause and mend."""


class JobError(StripegenError, ValueError):
    """A job or preset file says something that can't be right. Holds one or more faults."""

    def __init__(self, *faults: Fault):
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


class GeometryError(StripegenError, ValueError):
    """A line, cut or shape that can't exist on this wall; the caller adds where it was asked for."""

    def __init__(self, message: str, remedy: str = "", *figures: Figure):
        self.message, self.remedy, self.figures = message, remedy, figures
        super().__init__(told(message, remedy))

    def fault(self, where: Where, key: str = "", of: str = "") -> Fault:
        """The fault that this is at a place, of what."""
        return Fault(where, key, "", f"{of}, {self.message}" if of else self.message, self.remedy, self.figures)


@dataclass(frozen=True, slots=True)
class Shortfall:
    """Blanks that find no room, by their keys: a piece that fits nothing there is, or too little of a vinyl."""

    code: str
    message: str
    remedy: str
    keys: tuple[str, ...]
    figures: tuple[Figure, ...] = ()

    def __post_init__(self) -> None:
        _check_code(self.code)


class NestError(StripegenError, ValueError):
    """Pieces that can't be placed, or a layout that fails its proof; `shortfalls` are those of its lines that say what
    finds no room."""

    def __init__(self, message: str, *shortfalls: Shortfall):
        self.shortfalls = shortfalls
        super().__init__(message)

    @classmethod
    def of(cls, *shortfalls: Shortfall) -> NestError:
        """With a line for each."""
        return cls("\n".join(told(each.message, each.remedy) for each in shortfalls), *shortfalls)


class WriteError(StripegenError, OSError):
    """A result that can't be written without losing something."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """A warning: the job can be cut, but the maker should know this first.

    `message` is what is wrong, `remedy` what to do about it where that is more than its code's own remedy says.
    """

    code: str
    message: str
    remedy: str = ""
    figures: tuple[Figure, ...] = ()
    order: str | None = None
    line: str | None = None
    piece: str | None = None

    def __post_init__(self) -> None:
        _check_code(self.code)

    @property
    def told(self) -> str:
        """What is wrong, and what to do."""
        return told(self.message, self.remedy)

    def __str__(self) -> str:
        named = [name for name in (self.order, self.line if self.piece is None else self.piece) if name]
        return f"{' '.join(named)}: {self.told}" if named else self.told


def told(message: str, remedy: str) -> str:
    return f"{message}: {remedy}" if remedy else message


def _check_code(code: str) -> None:
    if code not in CODES:
        raise ValueError(f"there is no code {code!r}: see codes.py")
