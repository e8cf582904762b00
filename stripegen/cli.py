"""The command line: reads jobs, prints, writes results, sets the exit status. Heavy imports wait for a command."""

from __future__ import annotations

import os
import sys
from collections import Counter
from functools import partial
from pathlib import Path
from typing import Any

import click

import stripegen
from stripegen.cli_check import check
from stripegen.cli_completion import VARIABLE, completion
from stripegen.cli_keys import keys, schema
from stripegen.cli_new import new
from stripegen.cli_options import (
    command_of,
    cut_options,
    job_options,
    out_options,
    paper_option,
    telling_options,
)
from stripegen.cli_output import Output, output
from stripegen.cli_presets import presets
from stripegen.cli_preview import preview
from stripegen.cli_reading import nested_in
from stripegen.cli_recut import left_after, recut_command
from stripegen.cli_stock import after_unbooked, stock, stocked_job_options
from stripegen.cli_telling import (
    end_summary,
    finish_result,
    part_of,
    progress,
    sheets_command,
    write_sheets,
)
from stripegen.errors import STOPPED, StripegenError, printable
from stripegen.wording import counted

EPILOG = """Example: stripegen nest week.toml -o out/week

Exit status: 0 done, 1 something in the job or on the disk is wrong, 2 the command line is."""


class Commands(click.Group):
    """Commands that tell all they tell through one `Output`, which takes --quiet and --json.

    Known errors are told in one line each, with exit status 1, and so is Ctrl-C.
    """

    def add_command(self, cmd: click.Command, name: str | None = None) -> None:
        """Add a command; every one takes --quiet and --json."""
        telling_options(cmd)
        super().add_command(cmd, name)

    def main(self, *args: Any, **more: Any) -> Any:
        """Run the command line, or, where a shell asks for it, complete it."""
        if VARIABLE in os.environ:
            from stripegen.cli_bash import register

            register()
        return super().main(*args, **more)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        ctx.obj = Output(wants_json="--json" in args)
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        told, status = ctx.obj, 0
        if hasattr(sys.stdout, "reconfigure"):
            sys.stdout.reconfigure(errors="backslashreplace")  # a name that it can't show must not end a run
        try:
            super().invoke(ctx)
        except StripegenError as error:
            told.fail(error)
            status = 1
        except (KeyboardInterrupt, click.Abort):
            if sys.stderr.isatty():
                click.echo(err=True)  # below what the terminal shows of Ctrl-C
            told.fail(StripegenError(STOPPED))
            status = 1
        except click.UsageError as error:
            if not told.wants_json:
                raise
            told.as_json = True  # which a command that can't be read has not told yet
            told.command = told.command or command_of(error.ctx or ctx)
            told.fail(error)
            status = error.exit_code
        told.end(status)
        if status:
            ctx.exit(status)


@click.group(cls=Commands, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(stripegen.__version__)
def main() -> None:
    """Stripes for tapered cups: true lengths and shapes, nested onto vinyl, as cut files at true size."""


@main.command(short_help="Every order's strips in reading order.")
@stocked_job_options
@out_options
@cut_options
def strips(job, selection, stock, out: Path, replace: bool, options) -> None:
    """Every order's strips, ends cut to fit, laid out in reading order, not nested; on new stock, no offcuts."""
    from stripegen.proof import prove
    from stripegen.reading import lay_in_reading_order

    sheets_command("strips", "strips", lay_in_reading_order, prove, job, selection, out, replace, options)


@main.command(short_help="All strips nested onto their vinyl.")
@stocked_job_options
@out_options
@cut_options
@click.option(
    "--effort",
    type=click.Choice(["quick", "normal", "thorough"]),
    default="normal",
    show_default=True,
    help="How long to look for a tighter layout.",
)
@click.option(
    "--group",
    type=click.Choice(["order"]),
    help="Keep each order's pieces together on the sheet, for easy weeding and picking, and tell what that costs.",
)
@click.option(
    "--processes",
    type=click.IntRange(1),
    help="Nest at most so many vinyls at a time; the result is the same.  [default: as many as processors]",
)
@click.option(
    "--after",
    metavar="DIR",
    multiple=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Leave out what the nest in this other folder has cut already; may be given several times.",
)
def nest(
    job,
    selection,
    stock,
    out: Path,
    replace: bool,
    options,
    effort: str,
    group: str | None,
    processes: int | None,
    after: tuple[Path, ...],
) -> None:
    """All the job's strips nested by vinyl onto as little of it as can be: offcuts first, then new stock.

    What that costs is told; what is left over worth keeping too, and written to offcuts.toml to paste into the next job.
    With a stock file that is left alone until the result is cut and booked: see stripegen stock.
    """
    from stripegen.costs import costs_of, costs_tables, grouping_table
    from stripegen.leftovers import leftovers, shelf_lines
    from stripegen.manifest import grouping_row
    from stripegen.nest import nest as search
    from stripegen.nest_groups import nest_by_order, nest_ungrouped
    from stripegen.nest_shared import nest_sharing
    from stripegen.pool import executor_for, processors
    from stripegen.production import produce
    from stripegen.proof import prove
    from stripegen.sheets import lay_out
    from stripegen.tasks import Sharing

    unbooked = ()
    if after and stock:
        job, unbooked = after_unbooked(job, stock, [folder / "nest.json" for folder in after])
    production = produce(job)
    if after:
        production, selection = left_after(production, selection, after, out, unbooked)
        job = production.job
    counts = Counter(piece.vinyl for piece in production.pieces)
    with (
        progress("Nesting") as told,
        executor_for([*counts.values()], effort, processes or processors()) as executor,
    ):
        ways = [search] if group is None else [nest_ungrouped, nest_by_order]
        nested = [
            lay_out(
                production,
                "sheet",
                partial(way, effort=effort),
                prove,
                executor,
                part_of(told, number, len(ways)),
                Sharing(partial(nest_sharing, effort=effort, way_to_nest=way), by_order=way is nest_by_order),
            )
            for number, way in enumerate(ways)
        ]
    orders = [order.id for order in job.orders]
    costs = costs_of(nested[-1], orders)
    ungrouped = costs_of(nested[0], orders) if group else None
    result = write_sheets(
        "nest", production, nested[-1], job, selection, out, replace, options, costs=costs, ungrouped=ungrouped
    )
    left = leftovers(job, nested[-1])
    output().say(*shelf_lines(nested[-1]), "", *costs_tables(costs))
    if ungrouped:
        output().say("", grouping_table(costs, ungrouped))
        output().add(grouping=grouping_row(costs, ungrouped))
    end_summary("nest", result, production, nested[-1], out, costs, left)
    if stock:
        stock.say_next(out)


@main.command(short_help="Paper to lay round the cups, at true size.")
@job_options
@out_options
@paper_option
def guide(job, selection, out: Path, replace: bool, paper: str) -> None:
    """Paper at true size that shows where each strip goes, a ring of paper for each cup that reads its girth, and the
    list to work through, order by order. A nest of the same job in DIR tells the list on which sheet each strip lies.

    Print at 100 %: guide-ORDER.pdf is cut out and laid round the cup; ring-CUP.pdf is laid round before the vinyl is cut,
    and tells the line `fit` that puts the cup's girth right.
    """
    from stripegen.guides import guide_result
    from stripegen.paper import PAPERS
    from stripegen.production import produce

    production = produce(job)
    nested = nested_in(out, production, others_too=True)
    places = nested and {piece_id: sheet.name for sheet in nested for piece_id, *_ in sheet.placed}
    with progress("Drawing") as told:
        result = guide_result(production, selection, PAPERS[paper], told, places)
    finish_result("guide", result, job, selection, out, replace)
    guides, rings = (sum(name.startswith(stem) for name in result.files) for stem in ("guide-", "ring-"))
    orders = counted(len(job.orders), "order")
    output().say(f"{counted(guides, 'paper guide')}, {counted(rings, 'fit ring')} and the work list of {orders} in {printable(out)}")
    output().add(figures={"orders": len(job.orders), "guides": guides, "rings": rings})




main.add_command(keys)
main.add_command(schema)
main.add_command(preview)
main.add_command(check)
main.add_command(new)
main.add_command(stock)
main.add_command(recut_command(cut_options))
main.add_command(presets)
main.add_command(completion)
