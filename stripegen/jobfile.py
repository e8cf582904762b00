"""The whole job: job and preset text to checked values. Reads no file; presets come through a function."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from stripegen.csvorders import ReadFile, no_file, read_sheet
from stripegen.cutterspec import read_cutter
from stripegen.errors import Fault, JobError, Where
from stripegen.orderspec import (
    ORDERS_MOST,
    QUANTITY_MOST,
    check_ids,
    look_up_of_broken,
    read_order,
    read_orders,
    resolve,
)
from stripegen.shelf import READERS, FindPreset, PresetNames, Shelf, Source, read_top
from stripegen.spec import Job, Offcut, Order
from stripegen.supplyspec import check_offcut, read_offcuts
from stripegen.tables import Table, is_name, show

__all__ = ["QUANTITY_MOST", "Source", "one_order_job", "parse_job", "split_vinyl_options"]

COMMAND_LINE = "command line"


def parse_job(
    text: str,
    file: str,
    find_preset: FindPreset,
    preset_names: PresetNames = lambda kind: (),
    read_file: ReadFile = no_file,
) -> Job:
    """Read a job file's text.

    Parameters
    ----------
    text : str          the job, TOML
    file : str          its name, told in messages
    find_preset : (kind, name) -> (text, file) or None
                        gives the preset of a name that the job lacks; kind is "cup", "vinyl" or "pattern"
    preset_names : kind -> names
                        the presets there are, for suggestions only
    read_file : name -> bytes
                        gives what is in a sheet of orders beside the job file; raises ValueError, with what is wrong

    Raises
    ------
    JobError            with every fault that was found in any of its tables
    """
    faults: list[Fault] = []
    top = read_top(text, file, faults)
    title = top.read("title", _parse_title, "")
    shelves = {kind: Shelf(kind, faults, find_preset, preset_names) for kind in READERS}
    for shelf in shelves.values():
        shelf.read_own(top)
    cutter = read_cutter(top)
    sheet = read_sheet(top, read_file)
    own, broken, ids = read_orders(top)
    reads = [*own, *sheet.reads]
    check_ids([*ids, *sheet.ids], faults)
    if not top.values.get("order") and "orders" not in top:
        top.fault("order", "the job has no [[order]], nor a sheet of orders in [orders]", read="")
    elif len(reads) > ORDERS_MOST:
        top.fault("order", f"must be at most {ORDERS_MOST} orders, with those of [orders]", read=f"{len(reads)} orders")
    offcuts = read_offcuts(top)
    stock = top.read("stock", _parse_stock, None)
    top.finish(("units", "title", "stock", *READERS, "cutter", "offcut", "orders", "order"))
    orders = resolve(reads, shelves, faults)
    look_up_of_broken(broken, shelves)
    _resolve_offcuts(offcuts, shelves["vinyl"])
    if faults:
        raise JobError(*sheet.told(faults))
    more = {"stock": stock, "title": title, "units": top.unit, "cutter": cutter, "offcuts": tuple(offcut for offcut, _ in offcuts)}
    return _job(file, orders, shelves, notices=tuple(sheet.notices), **more)


def one_order_job(
    *,
    cup: str | Source,
    pattern: str | Source,
    vinyl: str | Source | Mapping[str, str | Source],
    quantity: int = 1,
    find_preset: FindPreset,
    preset_names: PresetNames = lambda kind: (),
) -> Job:
    """Make the job of one order, id "one", of presets' names or files' texts.

    `vinyl` is one for every role, or one for each role that is named. Same checks and errors as `parse_job`.
    """
    faults: list[Fault] = []
    shelves = {kind: Shelf(kind, faults, find_preset, preset_names) for kind in READERS}

    def name_of(kind: str, given: str | Source) -> str | None:
        return given if isinstance(given, str) else shelves[kind].add_source(given)

    values = {
        "id": "one",
        "cup": name_of("cup", cup),
        "pattern": name_of("pattern", pattern),
        "quantity": quantity,
    }
    if isinstance(vinyl, Mapping):
        values["vinyl"] = {role: name_of("vinyl", given) for role, given in vinyl.items()}
        names = [*values.values(), *values["vinyl"].values()]
    else:
        values["vinyl"] = name_of("vinyl", vinyl)
        names = [*values.values()]
    if None in names:
        raise JobError(*faults)
    read = read_order(Table(values, Where(COMMAND_LINE, ""), faults, prefix="--"))
    orders = resolve([read], shelves, faults, prefix="--") if read else []
    if faults:
        raise JobError(*dict.fromkeys(faults))
    return _job(COMMAND_LINE, orders, shelves)


def split_vinyl_options(options: Sequence[str]) -> str | dict[str, str]:
    """Read what `--vinyl` was given: one NAME for every role, or ROLE=NAME, several times.

    Raises ValueError, with what would be right, for any other mixture.
    """
    bound: dict[str, str] = {}
    for option in options:
        role, mark, name = option.partition("=")
        if not (mark and is_name(role)):
            if len(options) == 1:
                return option
            raise ValueError(f"{show(option)} binds no role: give one NAME for all, or ROLE=NAME for each")
        if role in bound:
            raise ValueError(f'the role "{role}" is bound twice')
        bound[role] = name
    return bound


def _resolve_offcuts(offcuts: Sequence[tuple[Offcut, Table]], shelf: Shelf) -> None:
    for offcut, table in offcuts:
        if shelf.look_up(offcut.vinyl):
            check_offcut(offcut, table, shelf.found[offcut.vinyl])
        else:
            table.fault("vinyl", shelf.hint(offcut.vinyl))


def _job(file: str, orders: list[Order], shelves: Mapping[str, Shelf], **more: Any) -> Job:
    return Job(
        file=file,
        cups=shelves["cup"].found,
        vinyls=shelves["vinyl"].found,
        patterns=shelves["pattern"].found,
        orders=tuple(orders),
        own_vinyls=shelves["vinyl"].own,
        **more,
    )


def _parse_title(value: object) -> str:
    if not isinstance(value, str) or len(value) > 200 or not value.isprintable():
        raise ValueError("must be one line of text, at most 200 characters")
    return value


def _parse_stock(value: object) -> str:
    if not isinstance(value, str) or not 0 < len(value) <= 1000 or not value.isprintable():
        raise ValueError('must be the name of a file, by its place beside the job file, such as "stock.toml"')
    return value
