"""How commands write their results and tell of them."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from pathlib import Path

import click

from stripegen.cli_output import output
from stripegen.errors import Notice, printable
from stripegen.wording import counted


def laid_out(stem: str, lay: Callable, prove: Callable, job, **more):
    from stripegen.production import produce
    from stripegen.sheets import lay_out

    production = produce(job)
    return production, lay_out(production, stem, lay, prove, **more)


def sheets_command(command, stem, lay, prove, job, selection, out: Path, replace: bool, options) -> None:
    from stripegen.costs import costs_of

    production, sheets = laid_out(stem, lay, prove, job)
    result = write_sheets(command, production, sheets, job, selection, out, replace, options)
    end_summary(command, result, production, sheets, out, costs_of(sheets, [order.id for order in job.orders]))


def write_sheets(command, production, sheets, job, selection, out: Path, replace: bool, options, **more):
    """Write sheets and tell of each; the result."""
    from stripegen.results import sheets_result

    with progress("Drawing") as shown:
        result = sheets_result(command, production, sheets, selection, options, shown, **more)
    finish_result(command, result, job, selection, out, replace)
    spares = sum(piece.spare_no > 0 for piece in production.pieces)
    spare = f", {spares:,} of them spare," if spares else ""
    output().say(
        _sheets_table(sheets), f"{counted(len(production.pieces), 'piece')}{spare} on {counted(len(sheets), 'sheet')} in {printable(out)}"
    )
    return result


def end_summary(command: str, result, production, sheets, out: Path, costs=None, left=None) -> None:
    """What is to be done now, and what it takes: the end of what is told of sheets."""
    from stripegen.loading import load_rows, summary
    from stripegen.manifest import costs_row, leftovers_row

    told = output()
    warnings = f"Warnings: {len(told.notices)}, told above and in {printable(out / result.manifest_name)}" if told.notices else "No warnings"
    key = f"{sheets[0].name.partition('-')[0]}-*-key.{'svg' if result.missing else 'pdf'}"
    told.say("")
    told.say(*summary(sheets, costs, left), f"{warnings}.", f"Next: print the keys, {printable(out / key)}, at 100 %.")
    if command == "nest":
        told.say("Then the papers and the work list for the bench:", f"  {_guide_command(out)}")
    cups = {(piece.order, piece.cup_no) for piece in production.pieces if not piece.spare_no}
    figures = {"orders": len({order for order, _ in cups}), "cups": len(cups), "pieces": len(production.pieces)}
    told.add(figures={**figures, "sheets": len(sheets)}, sheets=load_rows(sheets, sorted(result.files)))
    told.add(costs=None if costs is None else costs_row(costs), leftovers=None if left is None else leftovers_row(left))


def _sheets_table(sheets):
    from stripegen.columns import Columns

    width = max(len(sheet.name) for sheet in sheets)
    return Columns(
        head=("sheet", "size mm", "used mm", "pieces", "tightness", "waste", "shared mm")[: 7 if _shared(sheets) else 6],
        rows=tuple(
            (
                sheet.name,
                f"{sheet.width_mm:g} x {sheet.length_mm:.1f}",
                f"{sheet.used_length_mm:.1f}",
                f"{len(sheet.placed):,}",
                f"{sheet.tightness:.3f}",
                f"{sheet.waste:.0%}",
                *([f"{sheet.shared_mm:.0f}"] if _shared(sheets) else []),
            )
            for sheet in sheets
        ),
        spare=(4, 1),
        plain=tuple(
            f"{sheet.name:{width}}  {sheet.width_mm:g} x {sheet.length_mm:.1f} mm, used {sheet.used_length_mm:.1f} mm, "
            f"{counted(len(sheet.placed), 'piece')}, tightness {sheet.tightness:.3f}, waste {sheet.waste:.0%}"
            + (f", {sheet.shared_mm:.0f} mm of cuts shared" if sheet.shared_mm else "")
            for sheet in sheets
        ),
    )


def _shared(sheets) -> bool:
    return any(sheet.shared_mm for sheet in sheets)


def _guide_command(out: Path) -> str:
    """The command that writes the guides of what the running command was given, into the same folder."""
    given = click.get_current_context().params
    words = ["stripegen", "guide"]
    if given.get("job"):
        words.append(str(given["job"]))
    for name in ("cup", "pattern", "vinyl", "quantity", "only", "due"):
        values = given.get(name) or ()
        for value in values if isinstance(values, tuple) else (values,):
            words += [f"--{name}", str(value)]
    return printable(shlex.join([*words, "-o", str(out)]))


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
    told = output()
    told.wrote(out, result.files)
    tell_notices(result.notices)
    if result.missing:
        told.warn(Notice(code="no-cairo", message=result.missing))


def tell_notices(notices: Iterable[Notice]) -> None:
    output().warn(*notices)


def progress(label: str) -> AbstractContextManager[Callable[[float], None] | None]:
    """Gives a function that takes the share done, shown as a bar; None where no one is looking."""
    return output().progress(label)


def part_of(progress: Callable[[float], None] | None, number: int, count: int) -> Callable[[float], None] | None:
    """The progress of one of several searches as a part of the whole."""
    return progress and (lambda share: progress((number + share) / count))
