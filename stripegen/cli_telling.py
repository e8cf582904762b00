"""How commands write their results and tell of them."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from stripegen.errors import Notice, printable


def laid_out(stem: str, lay: Callable, prove: Callable, job, **more):
    from stripegen.production import produce
    from stripegen.sheets import lay_out

    production = produce(job)
    return production, lay_out(production, stem, lay, prove, **more)


def sheets_command(command, stem, lay, prove, job, selection, out: Path, replace: bool, options) -> None:
    write_sheets(command, *laid_out(stem, lay, prove, job), job, selection, out, replace, options)


def write_sheets(command, production, sheets, job, selection, out: Path, replace: bool, options, **more) -> None:
    from stripegen.results import sheets_result

    result = sheets_result(command, production, sheets, selection, options, **more)
    finish_result(command, result, job, selection, out, replace)
    width = max(len(sheet.name) for sheet in sheets)
    for sheet in sheets:
        click.echo(
            f"{sheet.name:{width}}  {sheet.width_mm:g} x {sheet.length_mm:.1f} mm, used {sheet.used_length_mm:.1f} mm, "
            f"{counted(len(sheet.placed), 'piece')}, tightness {sheet.tightness:.3f}, waste {sheet.waste:.0%}"
            + (f", {sheet.shared_mm:.0f} mm of cuts shared" if sheet.shared_mm else "")
        )
    click.echo(f"{counted(len(production.pieces), 'piece')} on {counted(len(sheets), 'sheet')} in {printable(out)}")


def finish_result(command, result, job, selection, out: Path, replace: bool) -> None:
    """Write a result and tell what the maker should know of it."""
    from stripegen.outdir import write_result
    from stripegen.results import job_name

    write_result(
        out,
        command,
        result.files,
        result.manifest_name,
        job=job_name(job, selection),
        selection=selection,
        replace=replace,
    )
    tell_notices(result.notices)
    if result.missing:
        click.echo(result.missing, err=True)


def tell_notices(notices: tuple[Notice, ...]) -> None:
    for notice in notices:
        click.echo(f"warning: {notice}", err=True)


def counted(number: int, noun: str) -> str:
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


def part_of(progress: Callable[[float], None] | None, number: int, count: int) -> Callable[[float], None] | None:
    """The progress of one of several searches as a part of the whole."""
    return progress and (lambda share: progress((number + share) / count))


@contextmanager
def progress(label: str) -> Iterator[Callable[[float], None] | None]:
    """Gives a function that takes the share done, shown as a bar; None where no one is looking."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1000, label=label, file=sys.stderr) as bar:
        yield lambda share: bar.update(max(0, int(1000 * share) - bar.pos))
