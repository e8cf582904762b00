"""The table [orders] of a job: orders from a spreadsheet's rows, by a map of its columns, as checked values."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import PurePosixPath
from typing import Any

from stripegen.csvcells import DATES, read_due, read_id, read_quantity, read_word
from stripegen.csvtext import SEPARATORS, Row, SheetError, decode, folded, rows_of
from stripegen.errors import Fault, Notice, Steps, Where
from stripegen.nearmiss import did_you_mean
from stripegen.orderspec import KEYS, ORDERS_MOST, Read, read_order
from stripegen.tables import NAME_MEANING, Table, is_name, show, show_key

ReadFile = Callable[[str], bytes]

MOST_LISTED = 20
SUFFIXES = (".csv", ".tsv", ".txt")
LONGEST_NAME = 255
COLUMN_KEYS = ("id", "cup", "pattern", "quantity", "due", "vinyl")
OWN_KEYS = ("csv", "columns", "names", "dates", "separator", "plain_ids")
_COLUMNS = '{ id = "Order no", quantity = "Qty", vinyl.accent = "Colour" }'
_WORDS = ("cup", "pattern", "vinyl")


def no_file(name: str) -> bytes:
    """Reads no file: for jobs that are not on a disk."""
    raise ValueError("can't be read here: this job has no folder")


@dataclass
class Sheet:
    """What [orders] gives. `columns` maps an order's keys to its columns; `rows` each row's place to the keys that the
    row itself gives, the others being those of the table; `ids` are (place, key, id) of all rows, at fault or not."""

    where: Where
    file: str = ""
    columns: dict[str, str] = field(default_factory=dict)
    rows: dict[Where, frozenset[str]] = field(default_factory=dict)
    ids: list[tuple[Where, str, str | None]] = field(default_factory=list)
    reads: list[Read] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)

    def told(self, faults: list[Fault]) -> list[Fault]:
        """Faults as they are told, each once: those of a row by its column, those of what all rows share at the table; the
        rows' last and from the top down."""
        found: dict[Fault, None] = {}
        of_rows: dict[Where, dict[Fault, None]] = {where: {} for where in self.rows}
        for fault in faults:
            told = self._told(fault)
            (found if told.where == self.where or fault.where not in of_rows else of_rows[fault.where])[told] = None
        return [*found, *(fault for own in of_rows.values() for fault in own)]

    def _told(self, fault: Fault) -> Fault:
        if fault.where not in self.rows:
            return fault
        own = self.rows[fault.where]
        if fault.key not in own and not (fault.key == "vinyl" and any(key.startswith("vinyl.") for key in own)):
            return replace(fault, where=self.where)
        label = f"column {show(self.columns[fault.key])}" if fault.key in self.columns else fault.key
        table = ", ".join(part for part in (fault.where.table, label) if part)
        return replace(fault, where=replace(fault.where, table=table), key="", steps=())


def read_sheet(top: Table, read_file: ReadFile) -> Sheet:
    """Read [orders] and the sheet that it names; an empty one if the job has none. Faults are added to ``top.faults``."""
    sheet = Sheet(top.where.inner("[orders]", "orders"))
    if not isinstance(top.values.get("orders"), Mapping):
        if "orders" in top:
            right = 'must be one table [orders] that names a sheet: csv = "week31.csv"; an order by itself is [[order]]'
            top.fault("orders", right)
        return sheet
    table = Table(top.values["orders"], sheet.where, top.faults, top.unit)
    name = table.read("csv", _parse_file, example='the name of a file beside the job, such as "week31.csv"')
    asked = _read_columns(table)
    words = _read_names(table)
    dates = table.choice("dates", tuple(DATES), "year-month-day")
    separator = table.choice("separator", tuple(SEPARATORS), None)
    plain_ids = table.boolean("plain_ids", False)
    shared = {key: value for key, value in table.values.items() if key in KEYS and key != "id"}
    anyone = {"id": "any", "cup": "any", "pattern": "any", **shared}
    same = read_order(Table(anyone, table.where, table.faults, table.unit))
    elsewhere = {"id": 'is each order\'s own: say in which column it stands, columns = { id = "Order no" }'}
    table.finish((*OWN_KEYS, *(key for key in KEYS if key != "id")), elsewhere)
    if name is None or not table.is_sound:
        return sheet
    sheet.file = name
    try:
        text = decode(read_file(name)).removeprefix("\ufeff")
    except SheetError as error:
        table.faults.append(Fault(_at(name, error.line), "", "", str(error)))
        return sheet
    except ValueError as error:
        table.fault("csv", str(error))
        return sheet
    readers = {
        "id": partial(read_id, is_plain=plain_ids),
        "quantity": read_quantity,
        "due": partial(read_due, form=dates),
        **{key: partial(read_word, names=words.get(key, {})) for key in _WORDS},
    }
    try:
        rows = rows_of(text, SEPARATORS[separator] if separator else _detected(text, asked))
        header = next(rows, None)
        if header is None:
            raise SheetError("it is empty: must have a row of column names, and a row for each order")
        places = _place_columns(table, sheet, header, asked, shared)
        if table.is_sound:
            _read_rows(table, sheet, rows, header, places, readers, same, shared)
    except SheetError as error:
        table.faults.append(Fault(_at(name, error.line), "", "", str(error)))
    return sheet


class Lines:
    """The document of a sheet, in which the way to a place is its line."""

    def find(self, path: Steps) -> tuple[int, None]:
        return path[0], None


def _at(file: str, line: int | None, row: int | None = None) -> Where:
    """A line of the file, and the row of the spreadsheet where that has another number."""
    if line is None:
        return Where(file, "")
    return Where(file, "" if row in (None, line) else f"row {row}", (line,), Lines())


def _parse_file(value: object) -> str:
    right = 'must be the name of a CSV file beside the job file or in a folder below, such as "week31.csv"'
    if not isinstance(value, str) or not value.isprintable() or len(value) > LONGEST_NAME:
        raise ValueError(right)
    if value.lower().endswith((".xlsx", ".xls", ".ods", ".numbers")):
        raise ValueError("must be text: save the sheet as CSV and name that file")
    path = PurePosixPath(value)
    if path.is_absolute() or ".." in path.parts or set(value) & set("\\:") or not value.lower().endswith(SUFFIXES):
        raise ValueError(right)
    return value


def _read_columns(table: Table) -> dict[str, tuple[str, ...]]:
    """The columns that the job names, by an order's key; roles as vinyl.ROLE."""
    columns = table.child("columns", _COLUMNS, optional=True)
    if columns is None:
        return {}
    found = {}
    for key in columns.values:
        if key == "vinyl" and isinstance(columns.values[key], Mapping):
            roles = columns.child("vinyl", '{ accent = "Colour" }')
            for role in roles.values:
                if is_name(role):
                    found[f"vinyl.{role}"] = roles.read(role, _parse_column)
                else:
                    roles.fault(role, f"a role must be {NAME_MEANING}")
        elif key == "id":
            found[key] = columns.several("id", lambda name: _parse_column(name)[0])
        elif key in COLUMN_KEYS:
            found[key] = columns.read(key, _parse_column)
    elsewhere = {key: f"can't stand in a column: {key} in [orders] holds for all its orders" for key in KEYS}
    roles = {key: "must stand without quotes, and so give a table of roles" for key in columns.values if key.startswith("vinyl.")}
    columns.finish(COLUMN_KEYS, elsewhere | roles)
    return {key: names for key, names in found.items() if names}


def _parse_column(value: object) -> tuple[str, ...]:
    if not isinstance(value, str) or not value.strip():
        raise ValueError('must be the name of a column in quotes, such as "Order no"')
    return (value,)


def _read_names(table: Table) -> dict[str, dict[str, str]]:
    """What the sheet's words mean, for cups, patterns and vinyls each: those of all, and those of each alone."""
    names = table.child("names", '{ "Gold, shiny" = "brass" }', optional=True)
    found: dict[str, dict[str, str]] = {key: {} for key in _WORDS}
    for word, value in names.values.items() if names else ():
        if word in _WORDS and isinstance(value, Mapping):
            own = names.child(word, '{ "Gold, shiny" = "brass" }')
            for each in own.values:
                _add_word(found[word], own, each)
        else:
            for key in _WORDS:
                _add_word(found[key], names, word, is_own=False)
    return found


def _add_word(words: dict[str, str], table: Table, word: str, is_own: bool = True) -> None:
    """Take in a word; one of a kind alone comes before one of all, whichever is told first."""
    name = table.name(word)
    known = words.get(folded(word))
    if is_own or known is None:
        words[folded(word)] = name
    elif known != name:
        table.fault(word, "is told twice but for its case: leave one out")


def _detected(text: str, asked: Mapping[str, tuple[str, ...]]) -> str:
    """The separator by which the header holds most of the columns that are looked for, else makes most cells."""
    wanted = {folded(name) for names in asked.values() for name in names} | {folded(key) for key in COLUMN_KEYS}

    def fitness(separator: str) -> tuple[int, int]:
        try:
            header = next(rows_of(text, separator), None)
        except SheetError:
            return -1, 0
        cells = [folded(cell) for cell in header.cells] if header else []
        return len(wanted.intersection(cells)), len(cells)

    return max(SEPARATORS.values(), key=fitness)


def _place_columns(
    table: Table, sheet: Sheet, header: Row, asked: Mapping[str, tuple[str, ...]], shared: Mapping[str, Any]
) -> dict[str, tuple[int, ...]]:
    """Where each of an order's keys stands in a row. Columns that the job does not name are found by the keys' own names."""
    heads = [folded(cell) for cell in header.cells]
    listed = _listed(header.cells)
    places: dict[str, tuple[int, ...]] = {}
    for key, names in asked.items():
        at = tuple(_column(table, key, name, header.cells, sheet.file) for name in names)
        if None not in at:
            places[key] = at
            sheet.columns[key] = header.cells[at[0]] if len(at) == 1 else " and ".join(header.cells[n] for n in at)
    taken = {n for at in places.values() for n in at}
    for n, head in enumerate(heads):
        role = header.cells[n][len("vinyl.") :] if head.startswith("vinyl.") else ""
        key = f"vinyl.{role}" if is_name(role) else head
        if (key not in COLUMN_KEYS and not is_name(role)) or n in taken or key in asked:
            continue
        if (key == "vinyl" and any(each.startswith("vinyl.") for each in asked)) or (role and "vinyl" in asked):
            continue  # the job has said which columns tell the vinyls
        if key in places:
            table.faults.append(Fault(_at(sheet.file, header.line), "", "", f"must have one column {show(key)}: has two"))
            table.is_sound = False
        places[key], sheet.columns[key] = (n,), header.cells[n]
    for key in ("id", "cup", "pattern"):
        if key not in places and key not in asked and key not in shared:
            also = "" if key == "id" else f', or {key} = "NAME" for all orders'
            right = f'{sheet.file} has no column "{key}": say which it is, {key} = "..."{also}; it has {listed}'
            table.fault("columns", right, read="")
    roles = [key for key in places if key.startswith("vinyl.")]
    if roles and "vinyl" in places:
        table.fault("columns", "has a vinyl for every role and vinyls for roles by name: must have one or the other")
    elif (roles and isinstance(shared.get("vinyl"), str)) or ("vinyl" in places and isinstance(shared.get("vinyl"), Mapping)):
        table.fault("vinyl", 'must be of the kind of the columns: vinyl = { accent = "brass" } goes with columns for roles')
    _tell_columns(sheet, header, places, shared)
    return places


def _column(table: Table, key: str, name: str, cells: Sequence[str], file: str) -> int | None:
    found = [n for n, cell in enumerate(cells) if folded(cell) == folded(name)]
    if len(found) == 1:
        return found[0]
    if found:
        right = f"{file} has {len(found)} columns of this name: must have one"
    else:
        right = f"{file} has no such column{did_you_mean(name, filter(None, cells))}; it has {_listed(cells)}"
    table.fault_at(("columns", *key.split(".")), right, show(name))
    return None


def _listed(cells: Sequence[str]) -> str:
    """Names of columns as they are told, of many the first."""
    named = [show(cell) for cell in cells if cell]
    return ", ".join([*named[:MOST_LISTED], *(["..."] if len(named) > MOST_LISTED else [])])


def _tell_columns(sheet: Sheet, header: Row, places: Mapping[str, tuple[int, ...]], shared: Mapping[str, Any]) -> None:
    """A word on columns that are not read, where one of them might have been meant for a key that has none."""
    read = {n for at in places.values() for n in at}
    unread = [cell for n, cell in enumerate(header.cells) if cell and n not in read]
    given = {*places, *shared, *(key.partition(".")[0] for key in places)}
    lacking = [key for key in ("quantity", "due", "vinyl") if key not in given]
    if unread and lacking:
        message = f"{sheet.file} has no column for {' and '.join(lacking)}, and these are not read: {_listed(unread)}"
        sheet.notices.append(Notice(code="columns", message=message))


def _read_rows(
    table: Table,
    sheet: Sheet,
    rows: Iterator[Row],
    header: Row,
    places: Mapping[str, tuple[int, ...]],
    readers: Mapping[str, Callable[[str], Any]],
    same: Read | None,
    shared: Mapping[str, Any],
) -> None:
    """An order of each row; every fault of a row is added, and such a row gives none.

    `same` is what all have in common; None where that is at fault: then the rows are only checked.
    """
    count = 0
    change = table.child("change", "", optional=True)
    for row in rows:
        count += 1
        if count > ORDERS_MOST:
            raise SheetError(f"a job may have {ORDERS_MOST:,} orders, and the sheet goes on here", row.line)
        where = _at(sheet.file, row.line, row.number)
        if len(row.cells) < len(header.cells) or any(row.cells[len(header.cells) :]):
            right = f"must have {len(header.cells)} cells, as the first row has; is a separator or a quotation mark astray?"
            sheet.rows[where] = frozenset([""])
            table.faults.append(Fault(where, "", f"{len(row.cells)} cells", right))
            continue
        found, faults = _cells(row, where, places, readers, shared)
        own = {key for key in places if key in found or not _is_shared(key, shared)}
        sheet.rows[where] = frozenset(own | {fault.key for fault in faults})
        sheet.ids.append((where, "id", found.get("id")))
        table.faults += faults
        if same and not faults:
            sheet.reads.append(Read(_order(same, found, where), change))
    if not count:
        raise SheetError("it has no row for an order below the column names")


def _is_shared(key: str, shared: Mapping[str, Any]) -> bool:
    """Does [orders] itself say what an empty cell means? Of roles it may tell some."""
    kind, _, role = key.partition(".")
    roles = shared.get(kind)
    return kind in shared and (not role or not isinstance(roles, Mapping) or role in roles)


def _cells(
    row: Row,
    where: Where,
    places: Mapping[str, tuple[int, ...]],
    readers: Mapping[str, Callable[[str], Any]],
    shared: Mapping[str, Any],
) -> tuple[dict[str, Any], list[Fault]]:
    """What the row's cells say by key, and what is wrong with them; an empty one says nothing."""
    found: dict[str, Any] = {}
    faults = []
    for key, at in places.items():
        cell = "-".join(row.cells[n] for n in at if row.cells[n])
        kind = key.partition(".")[0]
        if cell:
            try:
                found[key] = readers[kind](cell)
            except ValueError as error:
                faults.append(Fault(where, key, show(cell), str(error)))
        elif kind not in shared and kind not in ("due", "vinyl"):
            also = "" if key == "id" else f", or {show_key(key)} in [orders] must say what an empty cell means"
            faults.append(Fault(where, key, "", f"is empty: must be filled in{also}"))
    return found, faults


def _order(same: Read, found: Mapping[str, Any], where: Where):
    roles = {key.partition(".")[2]: value for key, value in found.items() if key.startswith("vinyl.")}
    values = {key: value for key, value in found.items() if not key.startswith("vinyl")}
    if "vinyl" in found:
        values["every_role"] = found["vinyl"]
    return replace(same.order, **values, bindings={**same.order.bindings, **roles}, where=where)
