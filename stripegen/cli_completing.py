"""What a shell may complete on the command line: presets, orders of a job, pieces of a result. Where that can't be read: nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

MANIFESTS = ("nest.json", "strips.json")


def presets_of(*kinds: str, files: bool = True, own: bool = False) -> Callable:
    """Completes names of presets of these kinds, and, where `files` says so, of files; `own`: the maker's alone."""

    def complete(_ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        names = [name for kind in kinds for name in _preset_names(kind, own)]
        return _items(names, incomplete, files)

    return complete


def vinyls(_ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Completes a vinyl's preset, and of ROLE=NAME the name."""
    role, mark, _ = incomplete.rpartition("=")
    return _items([f"{role}{mark}{each}" for each in _preset_names("vinyl")], incomplete, files=not mark)


def orders(ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Completes ids of orders of the JOB that stands on the command line already, whatever else is wrong in it."""
    from stripegen.tables import is_name

    entries = _toml(_given(ctx, "job")).get("order")
    entries = [entry for entry in entries if isinstance(entry, dict)] if isinstance(entries, list) else []
    return _items([entry["id"] for entry in entries if is_name(entry.get("id"))], incomplete)


def cut_pieces(ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Completes ids of pieces of the result in DIR, part by part: an order, a cup of it, a line, a number."""
    parts = incomplete.count(".") + 1
    return _items((".".join(piece.split(".")[:parts]) for piece in _piece_ids(_given(ctx, "folder"))), incomplete)


def table_names(ctx: click.Context, _param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Completes the tables of the file that stands on the command line, as in cup.crew-tall."""
    values = _toml(_given(ctx, "source"))
    kinds = [(kind, values[kind]) for kind in ("cup", "pattern", "vinyl") if isinstance(values.get(kind), dict)]
    return _items([f"{kind}.{name}" for kind, tables in kinds for name in tables], incomplete)


def _given(ctx: click.Context, name: str) -> object:
    """An argument that stands on the command line already; before an option's missing value click has not yet named it."""
    return ctx.params.get(name) or next(iter(ctx.args), None)


def _toml(path: object) -> dict:
    """A file's values; none where it can't be read. Not checked: that would take a second."""
    import tomllib

    try:
        return tomllib.loads(Path(str(path)).read_text(encoding="utf-8-sig")) if path else {}
    except (OSError, ValueError, RecursionError):
        return {}


def _piece_ids(folder: object) -> list[str]:
    import json

    for name in MANIFESTS if folder else ():
        try:
            return [str(piece["id"]) for piece in json.loads((Path(str(folder)) / name).read_bytes())["pieces"]]
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            continue
    return []


def _preset_names(kind: str, own: bool = False) -> list[str]:
    from stripegen.cli_reading import user_folder
    from stripegen.presets import own_names, preset_names

    return own_names(kind, user_folder()) if own else preset_names(kind, user_folder())


def _items(names: Iterable[str], incomplete: str, files: bool = False) -> list[CompletionItem]:
    from click.shell_completion import CompletionItem

    found = [CompletionItem(name) for name in dict.fromkeys(names) if name.startswith(incomplete)]
    # the shell itself completes files; some forget what stands before them
    return [CompletionItem(incomplete, type="file"), *found] if files else found
