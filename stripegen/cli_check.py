"""The command `check`: tells everything that is wrong with a job, and writes no file."""

from __future__ import annotations

from pathlib import Path

import click

from stripegen.cli_options import min_gap_mm, min_gap_option, source_options
from stripegen.cli_output import output
from stripegen.cli_reading import read_artworks
from stripegen.cli_stock import stock_option, stocked
from stripegen.cli_telling import progress
from stripegen.errors import JobError
from stripegen.wording import counted


@click.command(short_help="Everything that would go wrong, without writing a file.")
@source_options
@stock_option("the one that the job names")
@min_gap_option
@click.option("--strict", is_flag=True, help="Exit with status 1 on a warning too.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document, for other programs.")
@click.pass_context
def check(ctx: click.Context, source, stock: Path | None, min_gap: str | None, strict: bool, as_json: bool) -> None:
    """Everything that would go wrong at the cutter or on the cup, all of it at once, and how sure the measures are;
    writes no file.

    A fault must be put right before anything can be cut; a warning is to be looked at. Each is told with its place in
    the file, the figure and what to do, under the order that has it.

    Exit status: 0 nothing wrong but warnings, 1 a fault (with --strict a warning too), 2 the command line is.
    """
    from stripegen.checktext import check_rows
    from stripegen.findings import of_text

    findings, done, in_hand = [], None, None
    try:
        job, in_hand = stocked(source.read(), source.folder, stock)
        least_mm = min_gap_mm(min_gap, job.units)
    except JobError as error:
        findings = [of_text(fault) for fault in error.faults]
    else:
        from stripegen.preflight import preflight

        try:
            read_artworks(job, source.folder)
        except JobError as error:
            findings = [of_text(fault, "picture") for fault in error.faults]
        with progress("Checking") as told:
            done = preflight(job, least_mm, told)
        findings += done.findings
    name = source.path.name if source.path else "command line"
    rows = check_rows(name, findings, done, strict)
    if as_json:
        import json

        click.echo(json.dumps(rows, indent=1))
    else:
        _tell(findings, done, rows["counts"], in_hand)
    ctx.exit(0 if rows["passed"] else 1)


def _tell(findings: list, done, counts: dict, stock) -> None:
    from stripegen.checktext import finding_lines
    from stripegen.stockspec import unused_line
    from stripegen.sureness import sureness_lines

    told = output()
    told.answer(*finding_lines(findings, done and done.job))
    if findings:
        told.say("")
    if done and done.sure:
        told.say(*sureness_lines(done.sure, done.job.units), "")
    unused = done and stock and unused_line(done.job, stock.in_hand)
    if unused:
        told.say(unused)
    wrong = counted(counts["faults"], "fault") if counts["faults"] else "nothing wrong"
    summary = f"{wrong}, {counted(counts['warnings'], 'warning')}."
    if done:
        sizes = (counted(counts[what], what[:-1]) for what in ("orders", "cups", "pieces"))
        summary = f"{', '.join(sizes)}: {summary}"
    else:
        summary += " What is made of it is looked at once the text is sound."
    told.say(summary)
