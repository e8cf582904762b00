"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial, wraps
from pathlib import Path

import click

from stripegen.cli_completing import presets_of, vinyls
from stripegen.cli_orders import order_options
from stripegen.cli_output import output
from stripegen.cli_reading import Source, one_order, read_job


def telling_options(command: click.Command) -> None:
    """--quiet and --json, on this command and those under it, unless a command has options of its own so named."""
    taken = {name for param in command.params for name in param.opts}
    command.params += [option for option in (_quiet(), _json()) if not taken & {*option.opts}]
    for each in command.commands.values() if isinstance(command, click.Group) else ():
        telling_options(each)


def command_of(ctx: click.Context) -> str:
    """The command's name as it is typed, such as `presets show`."""
    names = []
    while ctx.parent is not None:
        names.append(ctx.info_name or "")
        ctx = ctx.parent
    return " ".join(reversed(names))


def _quiet() -> click.Option:
    return click.Option(
        ["-q", "--quiet"], is_flag=True, expose_value=False, callback=_told_quiet, help="Tell only warnings and faults."
    )


def _json() -> click.Option:
    return click.Option(
        ["--json"],
        is_flag=True,
        is_eager=True,  # what is wrong with the others is told so too
        expose_value=False,
        callback=_told_json,
        help="Tell all as one JSON document, for other programs.",
    )


def _told_quiet(_ctx: click.Context, _param: click.Parameter, value: bool) -> None:
    output().quiet |= value


def _told_json(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
    told = output()
    told.command = command_of(ctx)
    if value:
        told.tell_json(ctx)


def job_options(command: Callable) -> Callable:
    """JOB, or the options that stand in its place; the command gets a checked `job` and its `selection`."""

    @source_options
    @wraps(command)
    def with_job(source: Source, **rest):
        return command(job=source.read(), selection=source.selection, **rest)

    return with_job


def source_options(command: Callable) -> Callable:
    """JOB, or the options that stand in its place; the command gets the `source`."""

    @click.argument("job", metavar="[JOB]", required=False, type=click.Path(dir_okay=False, path_type=Path))
    @click.option(
        "--cup", metavar="CUP", shell_complete=presets_of("cup"), help="In place of JOB: a cup, by preset name or file."
    )
    @click.option(
        "--pattern",
        metavar="PATTERN",
        shell_complete=presets_of("pattern"),
        help="In place of JOB: a pattern, by preset name or file.",
    )
    @click.option(
        "--vinyl",
        metavar="[ROLE=]VINYL",
        multiple=True,
        shell_complete=vinyls,
        help="In place of JOB: a vinyl for every role, or ROLE=VINYL for each.",
    )
    @click.option("--quantity", type=click.IntRange(1), help="In place of JOB: how many cups.  [default: 1]")
    @order_options
    @wraps(command)
    def with_source(job, cup, pattern, vinyl, quantity, chosen, **rest):
        if job is not None:
            if cup or pattern or vinyl or quantity:
                raise click.UsageError("give a JOB, or --cup, --pattern and --vinyl in its place, not both")
            selection, sheets = chosen and chosen.selection, []
            read = partial(read_job, job, chosen, sheets)
            return command(source=Source(read, job.parent, selection, job, sheets), **rest)
        if chosen:
            raise click.UsageError("--only and --due take some of the orders of a JOB file: give one")
        if not (cup and pattern and vinyl):
            raise click.UsageError("give a JOB file, or --cup, --pattern and --vinyl in its place")
        quantity = quantity or 1
        selection = {"cup": cup, "pattern": pattern, "vinyl": list(vinyl), "quantity": quantity}
        read = partial(one_order, cup, pattern, vinyl, quantity)
        return command(source=Source(read, Path(), selection), **rest)

    return with_source


def out_options(command: Callable) -> Callable:
    """-o and --replace."""

    @click.option(
        "-o", "--out", required=True, metavar="DIR", type=click.Path(path_type=Path), help="Folder of the result."
    )
    @click.option("--replace", is_flag=True, help="Replace another job's result, and files in the way, in DIR.")
    @wraps(command)
    def with_out(**rest):
        return command(**rest)

    return with_out


def paper_option(command: Callable) -> Callable:
    """--paper, for what is to be printed."""
    return click.option(
        "--paper",
        type=click.Choice(["a4", "letter"]),
        default="a4",
        show_default=True,
        help="What paper the printer takes.",
    )(command)


def cut_options(command: Callable) -> Callable:
    """How the cut files are written; the command gets the `options`."""

    @click.option("--test-cut", is_flag=True, help="Add test pieces to the waste, to measure whether the cutter cuts to size.")
    @click.option("--dxf", is_flag=True, help="Write the cut files as DXF too (needs the extra dxf).")
    @click.option("--one-pdf", is_flag=True, help="Write all sheets as the pages of one PDF too.")
    @click.option(
        "--layers", type=click.Choice(["one-file"]), help="Put all vinyls into one SVG, a group for each, not a file a sheet."
    )
    @click.option(
        "--numbers-per-inch",
        metavar="N",
        type=click.FloatRange(1, 10_000),
        help="Write the SVG's numbers at so many to the inch, for software that takes them for its own units.",
    )
    @paper_option
    @click.option("--pen", is_flag=True, help="Write each sheet's marks as a file for a pen too, to be drawn before cutting.")
    @wraps(command)
    def with_options(test_cut, dxf, one_pdf, layers, numbers_per_inch, paper, pen, **rest):
        from stripegen.results import CutOptions

        options = CutOptions(
            numbers_per_inch=numbers_per_inch,
            one_file=layers == "one-file",
            one_pdf=one_pdf,
            dxf=dxf,
            test_cut=test_cut,
            paper=paper,
            pen=pen,
        )
        return command(options=options, **rest)

    return with_options


def min_gap_option(command: Callable) -> Callable:
    """--min-gap, as it is written."""
    return click.option(
        "--min-gap",
        metavar="LENGTH",
        help='Warn of neighbouring lines nearer than this: "3 mm", 1/8in, or a number in the job\'s units.',
    )(command)


def min_gap_mm(min_gap: str | None, units: str) -> float:
    from stripegen.tables import show
    from stripegen.units import parse_written_length

    try:
        return parse_written_length(min_gap, units) if min_gap is not None else 0.0
    except ValueError as error:
        raise click.UsageError(f"--min-gap: read {show(min_gap)}; {error}") from None
