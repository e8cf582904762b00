"""A reader of one TOML table: each key checked as it is read, every fault gathered and none raised."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from stripegen.errors import FAULTS_TOLD, Fault, Steps, Where
from stripegen.nearmiss import did_you_mean
from stripegen.spec import Along, Around, Down
from stripegen.units import LENGTH_LIMIT_MM, is_share, parse_degrees, parse_length, parse_share

NAME_MEANING = "a name of ASCII letters, digits, - and _, at most 64"
COUNT_LIMIT = 1_000

_NAME = re.compile(r"[A-Za-z0-9_-]{1,64}")
_COLOUR = re.compile(r"#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})")
_SHOWN = 60
_REQUIRED: Any = object()


def is_name(value: object) -> bool:
    """Tell whether a value keeps the rule of names, so that it is safe as a part of a file's name."""
    return isinstance(value, str) and _NAME.fullmatch(value) is not None


def show(value: object) -> str:
    """A value as the file has it, on one line, shortened, with nothing unprintable."""
    shown = _shown(value, 0)
    return shown if len(shown) <= _SHOWN else f"{shown[: _SHOWN - 3]}..."


def show_key(key: str) -> str:
    """A key or a table's name as TOML has it: bare where that may be, else in quotes."""
    return key if is_name(key) else show(key)


def show_steps(steps: Steps) -> str:
    """The way from a table to a key in it, such as `seams.left` or `keepout number 2, around`."""
    shown = ""
    for step in steps:
        if isinstance(step, int):
            shown += f" number {step + 1}, "
        else:
            shown += ("." if shown and not shown.endswith(" ") else "") + show_key(step)
    return shown.rstrip(", ")


def fault_at(where: Where, steps: Steps, read: str, right: str) -> Fault:
    """The fault of what is at the end of the way from a table."""
    return Fault(where, show_steps(steps), read, right, steps)


def _shown(value: object, depth: int) -> str:
    if isinstance(value, str):
        escaped = (c if c.isprintable() and c not in '"\\' else _escaped(c) for c in value[:_SHOWN])
        return '"' + "".join(escaped) + ('"' if len(value) <= _SHOWN else "")
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**_SHOWN:
        return "a number of more than 60 digits"
    if isinstance(value, (datetime.date, datetime.time)):
        return value.isoformat()
    if depth > 2:
        return "..."
    if isinstance(value, Mapping):
        entries = [f"{show_key(key)} = {_shown(entry, depth + 1)}" for key, entry in [*value.items()][:10]]
        return "{ " + ", ".join(entries) + " }" if entries else "{}"
    if isinstance(value, list):
        return "[" + ", ".join(_shown(entry, depth + 1) for entry in value[:10]) + "]"
    return repr(value)


def _escaped(character: str) -> str:
    if character in '"\\':
        return "\\" + character
    return f"\\u{ord(character):04x}" if ord(character) < 0x10000 else f"\\U{ord(character):08x}"


def parse_name(value: object) -> str:
    """Accept a name as it stands, never altered."""
    if not is_name(value):
        raise ValueError(f"must be {NAME_MEANING}" + ("" if isinstance(value, str) else ", in quotes"))
    return value


def parse_colour(value: object) -> str:
    """Accept "#rgb" or "#rrggbb"; give "#rrggbb" in lower case."""
    if not isinstance(value, str) or not _COLOUR.fullmatch(value):
        raise ValueError('must be a colour such as "#b8923a"')
    digits = value[1:].lower()
    return "#" + (digits if len(digits) == 6 else "".join(digit * 2 for digit in digits))


def parse_place(value: object, unit: str, *, seams: bool = True) -> Around:
    """Accept a place round the cup: degrees, a seam's name (if `seams`), or `{ along, at }`."""
    if isinstance(value, str):
        if not seams:
            raise ValueError("must be a number of degrees, without quotes, or { along = 132.5, at = 12 }")
        if not is_name(value):
            raise ValueError("must be a number of degrees, without quotes, or a seam's name")
        return value
    if isinstance(value, Mapping):
        if set(value) != {"along", "at"}:
            raise ValueError("must have the two keys along and at, as in { along = 132.5, at = 12 }")
        lengths = {}
        for key in ("along", "at"):
            try:
                lengths[key] = parse_length(value[key], unit)
            except ValueError as error:
                raise ValueError(f"{key} {error}") from None
        if lengths["at"] < 0:
            raise ValueError("at must be 0 or more: so far down from the rim")
        return Along(along_mm=lengths["along"], at_mm=lengths["at"])
    return parse_degrees(value)


def parse_down(value: object, unit: str, *, from_base: bool = False) -> Down:
    """Accept a place down the wall: a length, or a share of the decorated part such as "20%"."""
    if is_share(value):
        return Down(parse_share(value), is_share=True, from_base=from_base)
    length_mm = parse_length(value, unit)
    if length_mm < 0:
        raise ValueError(
            f"must be 0 or more: so far along the wall from the {'base' if from_base else 'rim'}"
        )
    return Down(length_mm, from_base=from_base)


class Table:
    """One table of a file, read key by key.

    Each reading gives the checked value; the default where the key is absent; or None after a fault, which
    is added to `faults`. Read every key, then `finish`, then build only if `is_sound`.

    Parameters
    ----------
    values : mapping    the table as TOML gives it
    where : Where       told in every fault
    faults : list       the gathered faults of the whole job, appended to
    unit : str          unit of bare lengths: "mm", "cm" or "in"
    steps : Steps       the way to it from the table that `where` tells, for a table within a table
    prefix : str        told before every key: "--" where the values were given as options
    units : mapping     the unit of a key's bare lengths where it differs from `unit`, because another file says them
    """

    def __init__(
        self,
        values: Mapping,
        where: Where,
        faults: list[Fault],
        unit: str = "mm",
        steps: Steps = (),
        prefix: str = "",
        units: Mapping[str, str] | None = None,
    ):
        self.values = values
        self.where = where
        self.faults = faults
        self.unit = unit
        self.steps = steps
        self.prefix = prefix
        self.units = units or {}
        self.is_sound = True
        self._parent: Table | None = None

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def unit_of(self, key: str) -> str:
        """The unit of bare lengths at a key."""
        return self.units.get(key, self.unit)

    def fault(self, key: str, right: str, *, read: str | None = None, entry: int | None = None) -> None:
        """Add a fault at this key, or at an `entry` of its list, from 0. `read` is what stands there unless it is given."""
        if read is None:
            read = show(self.values[key]) if key in self.values else ""
        at = (key,) if entry is None else (key, entry)
        self._add((*self.steps, *at) if key else (), read, right)

    def fault_at(self, steps: Steps, right: str, read: str) -> None:
        """Add a fault of what is at the end of the way from this table."""
        self._add((*self.steps, *steps), read, right)

    def fault_whole(self, right: str) -> None:
        """Add a fault of a table within another as a whole, such as one that lacks either of two keys."""
        self._add(self.steps, show(self.values), right)

    def _add(self, steps: Steps, read: str, right: str) -> None:
        key = self.prefix + show_steps(steps) if steps else ""
        self.faults.append(Fault(self.where, key, read, right, steps))
        table: Table | None = self
        while table is not None:
            table.is_sound = False
            table = table._parent

    def read(self, key: str, parse: Callable[[Any], Any], default: Any = _REQUIRED, example: str = "") -> Any:
        """Read one key by `parse`, which raises ValueError with what would be right."""
        if key not in self.values:
            if default is _REQUIRED:
                self.fault(key, f"is missing: {example}" if example else "is missing")
                return None
            return default
        try:
            return parse(self.values[key])
        except ValueError as error:
            self.fault(key, str(error))
            return None

    def length(
        self,
        key: str,
        default: Any = _REQUIRED,
        *,
        above_mm: float | None = None,
        most_mm: float = LENGTH_LIMIT_MM,
        example: str = "",
    ) -> float | None:
        """Read a length, mm: 0 or more, or above `above_mm`; at most `most_mm`."""

        def parse(value: object) -> float:
            length_mm = parse_length(value, self.unit_of(key), most_mm)
            if above_mm is not None and not length_mm > above_mm:
                raise ValueError(f"must be a length above {above_mm:g}")
            if length_mm < 0:
                raise ValueError("must be a length of 0 or more")
            return length_mm

        return self.read(key, parse, default, example)

    def integer(self, key: str, default: Any = _REQUIRED, *, least: int = 1, most: int = COUNT_LIMIT) -> int | None:
        """Read a whole number from `least` to `most`."""

        def parse(value: object) -> int:
            if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
                raise ValueError(f"must be a whole number from {least} to {most}")
            return value

        return self.read(key, parse, default)

    def number(self, key: str, default: Any = _REQUIRED, *, example: str = "") -> float | None:
        """Read a plain number of 0 or more (a price)."""

        def parse(value: object) -> float:
            is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
            if not is_number or not 0 <= value <= 1e9:
                raise ValueError("must be a number from 0 to 1000000000")
            return float(value)

        return self.read(key, parse, default, example)

    def boolean(self, key: str, default: bool) -> bool | None:
        """Read true or false."""

        def parse(value: object) -> bool:
            if value is not True and value is not False:
                raise ValueError("must be true or false, without quotes")
            return value

        return self.read(key, parse, default)

    def choice(self, key: str, choices: Sequence[str], default: Any = _REQUIRED) -> str | None:
        """Read one word of several."""
        listed = ", ".join(f'"{choice}"' for choice in choices)

        def parse(value: object) -> str:
            if value not in choices:
                hint = did_you_mean(value, choices) if isinstance(value, str) else ""
                raise ValueError(f"must be one of {listed}{hint}")
            return value

        return self.read(key, parse, default, f"one of {listed}")

    def name(self, key: str, default: Any = _REQUIRED, *, example: str = "") -> str | None:
        """Read a name."""
        return self.read(key, parse_name, default, example or NAME_MEANING)

    def place(self, key: str, default: Any = _REQUIRED, *, seams: bool = True) -> Around | None:
        """Read a place round the cup."""
        return self.read(
            key, lambda value: parse_place(value, self.unit_of(key), seams=seams), default, "a place round the cup"
        )

    def down(self, key: str, default: Any = _REQUIRED, *, from_base: bool = False) -> Down | None:
        """Read a place down the wall."""
        return self.read(
            key,
            lambda value: parse_down(value, self.unit_of(key), from_base=from_base),
            default,
            "a place down the wall",
        )

    def several(self, key: str, parse: Callable[[Any], Any], default: Any = _REQUIRED) -> tuple | None:
        """Read one value, or a list of at least one, as a tuple."""

        def parse_all(value: object) -> tuple:
            entries = value if isinstance(value, list) else [value]
            if not entries:
                raise ValueError("must hold at least one")
            if len(entries) > COUNT_LIMIT:
                raise ValueError(f"must hold at most {COUNT_LIMIT}")
            return tuple(parse(entry) for entry in entries)

        return self.read(key, parse_all, default)

    def child(self, key: str, form: str, *, optional: bool = False) -> Table | None:
        """A table within this one, such as `{ around = 0, down = 20 }`; `form` shows one that is right."""
        if key not in self.values:
            if not optional:
                self.fault(key, f"is missing: {form}")
            return None
        if not isinstance(self.values[key], Mapping):
            self.fault(key, f"must be a table such as {form}")
            return None
        return self._within(self.values[key], self.unit_of(key), key)

    def children(self, key: str, form: str) -> list[Table]:
        """A list of tables within this one; none where the key is absent."""
        entries = self._entries(key, f"must be a list of tables such as [ {form} ]", COUNT_LIMIT, f"hold at most {COUNT_LIMIT}", "table")
        return [self._within(entry, self.unit_of(key), key, n) for n, entry in enumerate(entries)]

    def _entries(self, key: str, form: str, most: int, at_most: str, noun: str) -> list[Mapping]:
        """A list of tables; none after a fault, or where there are none."""
        entries = self.values.get(key, [])
        if not isinstance(entries, list) or not all(isinstance(entry, Mapping) for entry in entries):
            self.fault(key, form)
            return []
        if len(entries) > most:
            self.fault(key, f"must {at_most} {noun}s", read=f"{len(entries)} {noun}s")
            return []
        return entries

    def headed(self, key: str, noun: str, most: int, *, heading: str = "", name: str = "") -> list[Table]:
        """Tables that stand each under a heading of its own, [[key]]; none after a fault, or where there are none.

        They are told by the value of the key `name`, if that is a name, else by number.
        """
        heading = heading or f"[[{key}]]"
        form = f"must be written {heading}, with two brackets on each side, once for every {noun}"
        entries = self._entries(key, form, most, f"be at most {most}", noun)
        found = []
        for n, entry in enumerate(entries):
            label = f'"{entry[name]}"' if is_name(entry.get(name)) else f"number {n + 1}"
            found.append(Table(entry, self.where.inner(f"{heading} {label}", key, n), self.faults, self.unit))
        return found

    def _within(self, values: Mapping, unit: str, *steps: str | int) -> Table:
        child = Table(values, self.where, self.faults, unit, (*self.steps, *steps), self.prefix)
        child._parent = self
        return child

    def finish(self, known: Sequence[str], elsewhere: Mapping[str, str] | None = None) -> None:
        """Fault every key that is not `known`. `elsewhere` tells of keys that are right in another place."""
        for key in self.values:
            if key in known:
                continue
            if len(self.faults) > FAULTS_TOLD:
                return
            if elsewhere and key in elsewhere:
                self.fault(key, elsewhere[key])
            else:
                hint = did_you_mean(key, known) or f", which takes {', '.join(known)}"
                self.fault(key, f"is not a key of this table{hint}", read="")
