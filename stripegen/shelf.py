"""What a job can name: the tables of its own file, and presets, each read once and only when asked for."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

from stripegen.errors import Fault, JobError, Where
from stripegen.linespec import read_pattern
from stripegen.measures import read_cup
from stripegen.nearmiss import did_you_mean
from stripegen.tables import NAME_MEANING, Table, is_name, show, show_key
from stripegen.tomllimits import refusal, syntax_error
from stripegen.tomlplaces import TomlPlaces
from stripegen.units import UNITS
from stripegen.vinylspec import read_vinyl

FindPreset = Callable[[str, str], tuple[str, str] | None]
PresetNames = Callable[[str], Iterable[str]]


class Source(NamedTuple):
    """The text of a file that holds one cup, pattern or vinyl, and the file's name for messages."""

    text: str
    file: str


READERS: dict[str, Callable[[str, Table], Any]] = {
    "cup": read_cup,
    "vinyl": read_vinyl,
    "pattern": read_pattern,
}


def load_toml(text: str, file: str) -> dict[str, Any]:
    """What a TOML file holds. Raises JobError with the place of what is not TOML, or is nested or named too long."""
    text = text.removeprefix("\ufeff")
    refused = refusal(text)
    if refused:
        raise JobError(Fault(Where(file, "", document=refused.spot), "", "", refused.right))
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        spot, reason = syntax_error(error, text)
        raise JobError(Fault(Where(file, "", document=spot), "", "", f"is not TOML: {reason}")) from None


def read_top(text: str, file: str, faults: list[Fault]) -> Table:
    """The whole of a TOML file as a table, with the unit that it names. Raises JobError where it is no TOML."""
    values = load_toml(text, file)
    top = Table(values, Where(file, "", document=TomlPlaces(text.removeprefix("\ufeff"))), faults)
    top.unit = top.choice("units", UNITS, "mm") or "mm"
    return top


class Shelf:
    """Everything of one kind that a job can name: its own tables, and presets as they are asked for."""

    def __init__(self, kind: str, faults: list[Fault], find_preset: FindPreset, preset_names: PresetNames):
        self.kind = kind
        self.faults = faults
        self.found: dict[str, Any] = {}  # None where the table is there but at fault
        self.own: frozenset[str] = frozenset()
        self.tables: dict[str, Table] = {}  # as they were read
        self.files: dict[str, str] = {}
        self._hints: dict[str, str] = {}
        self._find_preset = find_preset
        self._preset_names = preset_names

    def read_own(self, top: Table) -> None:
        """Read the job's own tables of this kind, used or not."""
        for name, table in _named_tables(top, self.kind):
            self.found[name] = READERS[self.kind](name, table)
            self.tables[name] = table
            self.files[name] = top.where.file
        self.own = frozenset(self.found)

    def add_source(self, source: Source) -> str | None:
        """Take in a file that holds one table of this kind; give its name, or None after a fault."""
        read = self._read_single(*source)
        if read is None:
            return None
        name, value, where = read
        if self.files.setdefault(name, source.file) != source.file:
            right = f"must have another name than that of {self.files[name]}"
            self.faults.append(Fault(where, "", "", right))
        self.found[name] = value
        return name

    def look_up(self, name: str) -> bool:
        """Tell whether there is such a thing, from now on in `found`; a preset is fetched and read."""
        if name in self.found:
            return True
        try:
            preset = self._find_preset(self.kind, name)
        except JobError as error:  # there, but can't be read
            self.faults.extend(error.faults)
            self.found[name] = None
            return True
        if preset is None:
            return False
        read = self._read_single(*preset)
        if read is not None and read[0] != name:
            self.faults.append(Fault(read[2], "", "", f"must be named as its file is: [{self.kind}.{name}]"))
        elif read is not None and (twin := self._twin(name)):
            right = f'has the name of "{twin}" but for its case: rename one of them'
            self.faults.append(Fault(read[2], "", "", right))
        self.found[name] = read[1] if read else None
        return True

    def hint(self, name: str) -> str:
        """What to say of a name that is not there; looked up once, since thousands of orders may have it."""
        if name not in self._hints:
            known = [*self.found, *self._preset_names(self.kind)]
            right = f"there is no such {self.kind} in the job nor among the presets{did_you_mean(name, known)}"
            self._hints[name] = right
        return self._hints[name]

    def _twin(self, name: str) -> str | None:
        return next((other for other in self.found if other.casefold() == name.casefold()), None)

    def _read_single(self, text: str, file: str) -> tuple[str, Any, Where] | None:
        """Read a file of exactly one table of this kind: its name, its value or None after a fault, and where it is."""
        try:
            top = read_top(text, file, self.faults)
        except JobError as error:
            self.faults.extend(error.faults)
            return None
        top.finish(("units", self.kind))
        tables = _named_tables(top, self.kind)
        if not top.is_sound:
            return None
        if len(tables) != 1:
            top.fault("", f"must hold exactly one table [{self.kind}.NAME]", read=f"{len(tables)}")
            return None
        name, table = tables[0]
        self.tables.setdefault(name, table)
        return name, READERS[self.kind](name, table), table.where


def _named_tables(top: Table, kind: str) -> list[tuple[str, Table]]:
    """The tables `[kind.NAME]` of a file, by name."""
    given = top.values.get(kind, {})
    if not isinstance(given, Mapping):
        top.fault(kind, f"must be tables, each with its name: [{kind}.NAME]")
        return []
    tables: dict[str, Table] = {}
    first: dict[str, str] = {}
    for name, values in given.items():
        where = top.where.inner(f"[{kind}.{show_key(name)}]", kind, name)
        if not isinstance(values, Mapping):
            top.fault_at((kind, name), f"must stand in a table with a name: [{kind}.NAME]", show(values))
        elif not is_name(name):
            top.faults.append(Fault(where, "", show(name), f"must be {NAME_MEANING}"))
            top.is_sound = False
        elif (twin := first.setdefault(name.casefold(), name)) != name:
            top.faults.append(
                Fault(where, "", "", f"has the name of [{kind}.{twin}] but for its case: must differ")
            )
        else:
            tables[name] = Table(values, where, top.faults, top.unit)
    return list(tables.items())
