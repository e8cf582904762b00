"""What a command tells, and how: plain text where it is piped, tables and colour in a terminal, nothing, or JSON.

A command hands over what there is to tell and does not ask which of these it is. Text that comes from files is never
taken for anything but text: in a terminal its control characters are written out.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, redirect_stdout
from typing import TYPE_CHECKING, Any, TextIO

import click

from stripegen.errors import Fault, Notice, StripegenError, printable

if TYPE_CHECKING:
    from stripegen.columns import Columns

FORMAT = "stripegen-told"
VERSION = 1
DUMB_TERMINALS = ("dumb", "unknown")
KEPT = "\n\t\xa0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"  # lines, tabs, all spaces


class Output:
    """Collects what a command tells, and tells it: at once as text, or, where JSON is asked for, at the end.

    `quiet`: of the text only warnings and faults. `wants_json`: the word for it stands on the command line, which may not
    have been read. `command` is named in the JSON document; `document` holds its further keys.
    """

    def __init__(self, wants_json: bool = False):
        self.command = ""
        self.quiet = False
        self.as_json = False
        self.wants_json = wants_json
        self.stdout = sys.stdout
        self.document: dict[str, Any] = {}
        self.notices: list[Notice] = []
        self.faults: list[dict] = []

    def tell_json(self, ctx: click.Context) -> None:
        """Tell JSON from now on; what a command prints by itself goes to stderr, so that nothing stands beside it."""
        if not self.as_json:
            self.as_json = True
            ctx.find_root().with_resource(redirect_stdout(sys.stderr))

    def say(self, *told: Columns | str) -> None:
        """Tell tables and texts, each below the last."""
        if not (self.quiet or self.as_json):
            _show(sys.stdout, told)

    def answer(self, *told: Columns | str) -> None:
        """Tell what the command was asked to find, quiet or not."""
        if not self.as_json:
            _show(sys.stdout, told)

    def copy(self, text: str) -> None:
        """Tell the text of a file as it is."""
        if self.quiet or self.as_json:
            return
        if is_terminal(sys.stdout):
            from stripegen.cli_terminal import show

            show(sys.stdout, [text.removesuffix("\n")], as_it_is=True)
        else:
            click.echo(text, nl=not text.endswith("\n"))

    def aside(self, text: str) -> None:
        """Tell whoever looks at a terminal what is no part of the output."""
        if not (self.quiet or self.as_json) and is_terminal(sys.stdout) and is_terminal(sys.stderr):
            _show(sys.stderr, [text])

    def warn(self, *notices: Notice) -> None:
        """Tell what the maker should know though all went well."""
        self.notices += notices
        if not self.as_json:
            for notice in notices:
                _show(sys.stderr, [str(notice)], word="warning: ", colour="yellow")

    def fail(self, error: StripegenError | click.UsageError) -> None:
        """Tell what went wrong, a line for each fault."""
        found = fault_rows(error)
        self.faults += found
        if not self.as_json:
            for row in found:
                _show(sys.stderr, [row["message"]], colour="red")

    def add(self, **more: Any) -> None:
        """Keep what only the JSON document tells: values of JSON by their keys."""
        self.document.update(more)

    def wrote(self, folder: object, names: Iterable[str]) -> None:
        """Keep which files were written into a folder."""
        self.document["written"] = {"folder": str(folder), "files": sorted(names)}

    def end(self, status: int) -> None:
        """Print the JSON document, if one is asked for."""
        if not self.as_json:
            return
        import json

        told = {"format": FORMAT, "version": VERSION, "command": self.command, "status": status, "written": None}
        told |= self.document if status == 0 else {}
        told |= {"warnings": _warning_rows(self.notices), "faults": self.faults}
        click.echo(json.dumps(told, indent=2, allow_nan=False), file=self.stdout)  # ASCII alone, whatever the names in it

    @contextmanager
    def progress(self, label: str) -> Iterator[Callable[[float], None] | None]:
        """Gives a function that takes the share done, shown as a bar; None where no one is looking."""
        if self.quiet or not is_terminal(sys.stderr):
            yield None
            return
        from stripegen.cli_terminal import bar

        with bar(sys.stderr, label) as told:
            yield told


def output() -> Output:
    """The output of the command that runs; a plain one where none does."""
    context = click.get_current_context(silent=True)
    found = context.find_root().obj if context else None
    return found if isinstance(found, Output) else Output()


def is_terminal(stream: TextIO) -> bool:
    """Whether someone looks at a stream through a terminal that can do more than print."""
    try:
        return stream.isatty() and os.environ.get("TERM", "") not in DUMB_TERMINALS
    except ValueError:  # it is closed
        return False


def has_colour() -> bool:
    """Whether colour is wanted: NO_COLOR, with anything in it, forbids it."""
    return not os.environ.get("NO_COLOR")


def safe_text(text: str) -> str:
    """Text with all that could steer a terminal or hide written out; lines, tabs and spaces stay."""
    return printable(text, KEPT)


def fault_rows(error: StripegenError | click.UsageError) -> list[dict]:
    """Each fault of an error as JSON-able values; what is not known of it is null."""
    faults = getattr(error, "faults", ())
    rows = [fault_row(fault) for fault in faults]
    told = {line for fault in faults for line in str(fault).split("\n")}
    text = error.format_message() if isinstance(error, click.UsageError) else str(error)
    return rows + [_row(message=safe_text(line)) for line in text.split("\n") if line not in told]


def fault_row(fault: Fault) -> dict:
    """A fault as JSON-able values, and the line that tells it; line and column in the file where they are known."""
    place = fault.place
    return _row(
        file=fault.where.file or None,
        line=place.line,
        column=place.column,
        table=fault.where.table or None,
        key=fault.key or None,
        read=fault.read or None,
        right=fault.right,
        message=str(fault),
    )


def _row(**known: object) -> dict:
    keys = ("file", "line", "column", "table", "key", "read", "right", "message")
    return {key: known.get(key) for key in keys}


def _warning_rows(notices: Iterable[Notice]) -> list[dict]:
    if not notices:
        return []
    from stripegen.manifest import warning_row

    return [warning_row(notice) for notice in notices]


def _show(stream: TextIO, told: Iterable[Columns | str], word: str = "", colour: str = "") -> None:
    if is_terminal(stream):
        from stripegen.cli_terminal import show

        show(stream, told, word, colour)
        return
    from stripegen.columns import plain_lines

    for line in plain_lines(told):
        click.echo(safe_text(word + line), file=stream)
