"""What can go wrong, told in one line each: where, what was read, what would be right."""

from __future__ import annotations

from dataclasses import dataclass

STOPPED = "stopped before it was done"  # told on Ctrl-C


def printable(text: object) -> str:
    """A text, or the name of a file, as one line may show it: what can't be printed is told by its code, as TOML has it."""
    told = str(text)
    return told if told.isprintable() else "".join(c if c.isprintable() else _coded(c) for c in told)


def _coded(character: str) -> str:
    return f"\\u{ord(character):04x}" if ord(character) < 0x10000 else f"\\U{ord(character):08x}"


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a job or preset file: the file's name and a table in it, such as ``[cup.tall]``."""

    file: str
    table: str

    def __str__(self) -> str:
        return f"{self.file}: {self.table}" if self.table else self.file


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a job: where it stands, what was read there, and what would be right."""

    where: Where
    key: str
    read: str
    right: str

    def __str__(self) -> str:
        place = f"{self.where} {self.key}".rstrip()
        return printable(f"{place}: read {self.read}; {self.right}" if self.read else f"{place}: {self.right}")


class StripegenError(Exception):
    """Root of every error that a user can cause and mend."""


class JobError(StripegenError, ValueError):
    """A job or preset file says something that can't be right. Holds one or more faults."""

    def __init__(self, *faults: Fault):
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


class GeometryError(StripegenError, ValueError):
    """A line, cut or shape that can't exist on this wall; the caller adds where it was asked for."""


class NestError(StripegenError, ValueError):
    """Pieces that can't be placed, or a layout that fails its proof."""


class WriteError(StripegenError, OSError):
    """A result that can't be written without losing something."""

    def __init__(self, message: str):
        super().__init__(printable(message))


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """A warning: the job can be cut, but the maker should know this first."""

    code: str
    message: str
    order: str | None = None
    line: str | None = None
    piece: str | None = None

    def __str__(self) -> str:
        named = [name for name in (self.order, self.line if self.piece is None else self.piece) if name]
        return printable(f"{' '.join(named)}: {self.message}" if named else self.message)
