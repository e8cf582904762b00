"""How things look in a terminal: tables, words in colour, a bar of progress. Imported only where one is looking."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TextIO

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from stripegen.cli_output import has_colour, safe_text
from stripegen.columns import Columns

BETWEEN = 2  # columns of a table stand so many characters apart


def show(
    stream: TextIO, told: Iterable[Columns | str], word: str = "", colour: str = "", as_it_is: bool = False
) -> None:
    """Show tables and texts; a `word` before each text stands in a colour, or, where there is none, the whole text.

    A line that is too long goes on in the next between two words, but not one that is indented, such as a command, nor any
    of what is told `as_it_is`.
    """
    console = _console(stream)
    for number, each in enumerate(told):
        if isinstance(each, Columns):
            if number and each.title:
                console.print()
            _show_table(console, each)
        else:
            text = Text.assemble((word, colour), safe_text(each)) if word else Text(safe_text(each), style=colour)
            console.print(text, soft_wrap=as_it_is or each.startswith(" "))


@contextmanager
def bar(stream: TextIO, label: str) -> Iterator[Callable[[float], None]]:
    """Gives a function that takes the share done; the bar is gone at the end."""
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    with Progress(
        *columns, console=_console(stream), transient=True, redirect_stdout=False, redirect_stderr=False
    ) as progress:
        task = progress.add_task(safe_text(label), total=1.0)
        done = 0.0

        def told(share: float) -> None:
            nonlocal done
            done = max(done, min(share, 1.0))
            progress.update(task, completed=done)

        yield told


def _console(stream: TextIO) -> Console:
    return Console(
        file=stream,
        force_terminal=True,
        color_system="auto" if has_colour() else None,  # without one nothing is bold or dim either
        highlight=False,
        markup=False,
        emoji=False,
    )


def _show_table(console: Console, columns: Columns) -> None:
    if columns.title:
        console.print(Text(safe_text(columns.title), style="bold"))
    columns = _fitted(columns, console.width)
    table = Table(box=SIMPLE_HEAD, show_header=bool(columns.head), header_style="bold", padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for number in range(len(columns.head or columns.rows[0])):
        head = Text(safe_text(columns.head[number])) if columns.head else ""
        table.add_column(head, justify="left" if number in columns.left else "right", overflow="fold")
    for row in columns.rows:
        table.add_row(*(Text(safe_text(cell)) for cell in row))
    console.print(table)


def _fitted(columns: Columns, width: int) -> Columns:
    """A table without as many of its spare columns as it takes to fit."""
    spare = list(columns.spare)
    kept = list(range(len(columns.head or columns.rows[0])))
    while spare and _width(columns, kept) > width:
        kept.remove(spare.pop(0))
    left = tuple(place for place, number in enumerate(kept) if number in columns.left)
    rows = tuple(tuple(row[number] for number in kept) for row in columns.rows)
    head = tuple(columns.head[number] for number in kept) if columns.head else ()
    return replace(columns, head=head, rows=rows, left=left)


def _width(columns: Columns, kept: Iterable[int]) -> int:
    rows = [columns.head, *columns.rows] if columns.head else columns.rows
    widths = [max(len(row[number]) for row in rows) for number in kept]
    return sum(widths) + BETWEEN * (len(widths) - 1)
