"""The command line: reads jobs, prints, writes results, sets the exit status. Heavy imports wait for a command."""

from __future__ import annotations

import sys
from collections import Counter
from functools import partial
from pathlib import Path
from typing import Any

import click

import stripegen
from stripegen.cli_new import new
from stripegen.cli_options import (
    cut_options,
    job_options,
    min_gap_mm,
    min_gap_option,
    out_options,
    paper_option,
)
from stripegen.cli_preview import preview
from stripegen.cli_reading import nested_in, user_folder
from stripegen.cli_recut import left_after, recut_command
from stripegen.cli_telling import (
    counted,
    finish_result,
    laid_out,
    part_of,
    progress,
    sheets_command,
    tell_notices,
    write_sheets,
)
from stripegen.errors import STOPPED, Fault, JobError, StripegenError, Where, printable

EPILOG = """Example: stripegen nest week.toml -o out/week

Exit status: 0 done, 1 something in the job or on the disk is wrong, 2 the command line is."""


class Commands(click.Group):
    """Commands whose known errors are told in one line each, with exit status 1; and so is Ctrl-C."""

    def invoke(self, ctx: click.Context) -> Any:
        if hasattr(sys.stdout, "reconfigure"):
            sys.stdout.reconfigure(errors="backslashreplace")  # a name that it can't show must not end a run
        try:
            return super().invoke(ctx)
        except StripegenError as error:
            click.echo(str(error), err=True)
        except (KeyboardInterrupt, click.Abort):
            click.echo("\n" * sys.stderr.isatty() + STOPPED, err=True)
        ctx.exit(1)


@click.group(cls=Commands, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(stripegen.__version__)
def main() -> None:
    """Stripes for tapered cups: true lengths and shapes, nested onto vinyl, as cut files at true size."""


@main.command(short_help="Every order's strips in reading order.")
@job_options
@out_options
@cut_options
def strips(job, selection, out: Path, replace: bool, options) -> None:
    """Every order's strips, ends cut to fit, laid out in reading order, not nested; on new stock, no offcuts."""
    from stripegen.proof import prove
    from stripegen.reading import lay_in_reading_order

    sheets_command("strips", "strips", lay_in_reading_order, prove, job, selection, out, replace, options)


@main.command(short_help="All strips nested onto their vinyl.")
@job_options
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
    """
    from stripegen.costs import costs_lines, costs_of, grouping_lines
    from stripegen.leftovers import leftover_lines, leftovers
    from stripegen.nest import nest as search
    from stripegen.nest_groups import nest_by_order, nest_ungrouped
    from stripegen.nest_shared import nest_sharing
    from stripegen.pool import executor_for, processors
    from stripegen.production import produce
    from stripegen.proof import prove
    from stripegen.sheets import lay_out
    from stripegen.tasks import Sharing

    production = produce(job)
    if after:
        production, selection = left_after(production, selection, after, out)
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
    write_sheets(
        "nest", production, nested[-1], job, selection, out, replace, options, costs=costs, ungrouped=ungrouped
    )
    for line in leftover_lines(leftovers(job, nested[-1])):
        click.echo(line)
    click.echo("\n".join(["", *costs_lines(costs)]))
    if ungrouped:
        click.echo("\n".join(["", *grouping_lines(costs, ungrouped)]))


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
    click.echo(f"{counted(guides, 'paper guide')}, {counted(rings, 'fit ring')} and the work list of {orders} in {printable(out)}")


@main.command(short_help="What would go wrong, without writing a file.")
@job_options
@min_gap_option
def check(job, selection, min_gap: str | None) -> None:
    """Everything that would go wrong at the cutter or on the cup, and how sure the measures are; writes no file."""
    from stripegen.nest import lay_to_check
    from stripegen.nest_shared import share_to_check
    from stripegen.proof import prove
    from stripegen.spacings import Spacings
    from stripegen.sureness import joint_notices, sureness_lines, surenesses
    from stripegen.tasks import Sharing

    least_mm = min_gap_mm(min_gap, job.units)
    production, _ = laid_out("strips", lay_to_check, prove, job, sharing=Sharing(share_to_check))
    sure = surenesses(production)
    joints = (notice for each in sure for notice in joint_notices(each, job.units))
    notices = (*production.notices, *Spacings(production).notices(least_mm), *joints)
    tell_notices(notices)
    click.echo("\n".join([*sureness_lines(sure, job.units), ""]))
    pieces, cups = len(production.pieces), sum(order.quantity for order in job.orders)
    count = len(notices)
    click.echo(f"{counted(len(job.orders), 'order')}, {counted(cups, 'cup')}, {counted(pieces, 'piece')}: "
               f"nothing wrong, {counted(count, 'warning')}.")  # fmt: skip


@main.group(invoke_without_command=True, short_help="The cups, patterns and vinyls that are shipped.")
@click.pass_context
def presets(ctx: click.Context) -> None:
    """What cups, patterns and vinyls are shipped, and your own."""
    if ctx.invoked_subcommand is not None:
        return
    from stripegen.presets import list_presets

    found = list_presets(user_folder())
    for kind in dict.fromkeys(preset.kind for preset in found):
        click.echo(f"{kind}s" if kind != "job" else "jobs")
        width = max(len(preset.name) for preset in found if preset.kind == kind)
        for preset in found:
            if preset.kind == kind:
                own = "  (your own)" if preset.is_users else ""
                click.echo(f"  {preset.name:{width}}  {preset.about}{own}".rstrip())


@presets.command()
@click.argument("name")
def show(name: str) -> None:
    """Print the preset NAME as it is in its file."""
    from stripegen.presets import FOLDERS, find_preset

    kind, _, bare = name.rpartition("/")
    kinds = [kind.removesuffix("s")] if kind else list(FOLDERS)
    for each in kinds:
        found = find_preset(each, bare, user_folder()) if each in FOLDERS else None
        if found:
            click.echo(found[0], nl=not found[0].endswith("\n"))
            return
    raise JobError(Fault(Where("presets", ""), "", f'"{name}"', "no preset has this name: see stripegen presets"))


main.add_command(preview)
main.add_command(new)
main.add_command(recut_command(cut_options, write_sheets, progress))
