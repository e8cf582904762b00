"""The command line: reads jobs, prints, writes results, sets the exit status. Heavy imports wait for a command."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial, wraps
from pathlib import Path
from typing import Any

import click

import stripegen
from stripegen.cli_new import new
from stripegen.cli_orders import order_options
from stripegen.cli_recut import left_after, recut_command
from stripegen.errors import Fault, JobError, Notice, StripegenError, Where

LARGEST_JOB_BYTES = 5_000_000

EPILOG = """Example: stripegen nest week.toml -o out/week

Exit status: 0 done, 1 something in the job or on the disk is wrong, 2 the command line is."""


class Commands(click.Group):
    """Commands whose known errors are told in one line each, with exit status 1."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except StripegenError as error:
            click.echo(str(error), err=True)
            ctx.exit(1)


@click.group(cls=Commands, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(stripegen.__version__)
def main() -> None:
    """Stripes for tapered cups: true lengths and shapes, nested onto vinyl, as cut files at true size."""


@dataclass(frozen=True)
class Source:
    """Where a job comes from: `read` reads and checks it, as often as it is asked; its pictures lie in `folder`.

    `selection` are the options that stand in place of a job file, or that take some of its orders alone. `path` is the
    job file.
    """

    read: Callable
    folder: Path
    selection: dict | None = None
    path: Path | None = None

    @property
    def files(self) -> list[Path]:
        """The files that it is read from, the maker's own presets among them."""
        given = [self.path] if self.path else []
        if self.selection and not self.path:
            names = [self.selection["cup"], self.selection["pattern"], *self.selection["vinyl"]]
            given = [Path(name.rpartition("=")[2]) for name in names if name.endswith(".toml")]
        return [*given, *sorted(_user_folder().glob("*/*.toml"))]


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
    @click.option("--cup", metavar="CUP", help="In place of JOB: a cup, by preset name or file.")
    @click.option("--pattern", metavar="PATTERN", help="In place of JOB: a pattern, by preset name or file.")
    @click.option(
        "--vinyl",
        metavar="[ROLE=]VINYL",
        multiple=True,
        help="In place of JOB: a vinyl for every role, or ROLE=VINYL for each.",
    )
    @click.option("--quantity", type=click.IntRange(1), help="In place of JOB: how many cups.  [default: 1]")
    @order_options
    @wraps(command)
    def with_source(job, cup, pattern, vinyl, quantity, chosen, **rest):
        if job is not None:
            if cup or pattern or vinyl or quantity:
                raise click.UsageError("give a JOB, or --cup, --pattern and --vinyl in its place, not both")
            selection = chosen and chosen.selection
            return command(source=Source(partial(_read_job, job, chosen), job.parent, selection, job), **rest)
        if chosen:
            raise click.UsageError("--only and --due take some of the orders of a JOB file: give one")
        if not (cup and pattern and vinyl):
            raise click.UsageError("give a JOB file, or --cup, --pattern and --vinyl in its place")
        quantity = quantity or 1
        selection = {"cup": cup, "pattern": pattern, "vinyl": list(vinyl), "quantity": quantity}
        read = partial(_one_order, cup, pattern, vinyl, quantity)
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
    @click.option(
        "--paper",
        type=click.Choice(["a4", "letter"]),
        default="a4",
        show_default=True,
        help="What paper the printer takes, for the keys.",
    )
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


def _min_gap_mm(min_gap: str | None, units: str) -> float:
    from stripegen.tables import show
    from stripegen.units import parse_written_length

    try:
        return parse_written_length(min_gap, units) if min_gap is not None else 0.0
    except ValueError as error:
        raise click.UsageError(f"--min-gap: read {show(min_gap)}; {error}") from None


@main.command(short_help="Every order's strips in reading order.")
@job_options
@out_options
@cut_options
def strips(job, selection, out: Path, replace: bool, options) -> None:
    """Every order's strips, ends cut to fit, laid out in reading order, not nested; on new stock, no offcuts."""
    from stripegen.proof import prove
    from stripegen.reading import lay_in_reading_order

    _sheets_command("strips", "strips", lay_in_reading_order, prove, job, selection, out, replace, options)


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
        _progress("Nesting") as progress,
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
                _part(progress, number, len(ways)),
                Sharing(partial(nest_sharing, effort=effort, way_to_nest=way), by_order=way is nest_by_order),
            )
            for number, way in enumerate(ways)
        ]
    orders = [order.id for order in job.orders]
    costs = costs_of(nested[-1], orders)
    ungrouped = costs_of(nested[0], orders) if group else None
    _write_sheets(
        "nest", production, nested[-1], job, selection, out, replace, options, costs=costs, ungrouped=ungrouped
    )
    for line in leftover_lines(leftovers(job, nested[-1])):
        click.echo(line)
    click.echo("\n".join(["", *costs_lines(costs)]))
    if ungrouped:
        click.echo("\n".join(["", *grouping_lines(costs, ungrouped)]))


@main.command(short_help="What it will look like, with its spacings.")
@source_options
@min_gap_option
@out_options
@click.option(
    "--dimensions", is_flag=True, help="Height, diameters, clearances and the widths of strips in the pictures too."
)
@click.option("--watch", is_flag=True, help="Keep drawing as the job file is saved, and show the page in a browser.")
@click.option("--port", type=click.IntRange(1, 65535), help="With --watch: where the page is served.  [default: any]")
def preview(source: Source, watch: bool, port: int | None, **how) -> None:
    """What it will look like, with every spacing named, before anything is cut.

    Open preview.html in a browser to turn the cup; it needs no network.
    """
    if watch:
        _watch(source, port or 0, how)
    else:
        if port:
            raise click.UsageError("--port goes with --watch")
        _preview(source, **how)


def _preview(source: Source, out: Path, replace: bool, dimensions: bool, min_gap: str | None) -> tuple[Any, dict]:
    """Draw and write a job's preview; the job, and what its page shows."""
    from stripegen.previewing import preview_job
    from stripegen.production import produce
    from stripegen.spacing import spacing_lines
    from stripegen.spacings import Spacings

    job, selection = source.read(), source.selection
    artworks = _read_artworks(job, source.folder)
    production = produce(job)
    spacings = Spacings(production)
    with _progress("Drawing") as progress:
        drawn = preview_job(
            production,
            selection,
            *_sheets_to_show(out, production),
            artworks,
            progress,
            dimensions,
            spacings,
            _min_gap_mm(min_gap, job.units),
        )
    _finish("preview", drawn.result, job, selection, out, replace)
    looks = {(order.cup, order.pattern) for order in job.orders}
    if len(looks) == 1:
        click.echo("\n".join(spacing_lines(spacings.of(job.orders[0].id))))
    pictures = sum(name.endswith(".svg") for name in drawn.result.files)
    click.echo(f"{_count(pictures, 'picture')} of {_count(len(job.orders), 'order')} in {out}")
    click.echo(f"Open {out / 'preview.html'} in a browser to turn the cup.")
    return job, drawn.data


def _watch(source: Source, port: int, how: dict) -> None:
    """Draw a job again and again, as its files are saved, and serve the page that shows it."""
    from stripegen.page import page_html
    from stripegen.pagedata import empty_data
    from stripegen.watching import HOST, LivePage, changes, serve

    live = LivePage(partial(page_html, empty_data(source.path.name if source.path else "preview")))
    try:
        server = serve(live, port)
    except OSError as error:
        raise JobError(Fault(Where("preview", ""), "--port", str(port), error.strerror or str(error))) from None
    click.echo(f"Open http://{HOST}:{server.server_address[1]}/ in a browser; Ctrl-C ends it.")
    pictures: list[Path] = []
    try:
        for _ in changes(lambda: [*source.files, *pictures]):
            try:
                job, data = _preview(source, **how)
            except StripegenError as error:
                click.echo(str(error), err=True)
                live.tell(str(error))
                continue
            pictures[:] = [source.folder / panel.image for panel in _panels_of(job) if panel.image]
            live.show(partial(page_html, data))
    except KeyboardInterrupt:
        click.echo("No longer watched.")
    finally:
        server.shutdown()


def _panels_of(job) -> list:
    return [panel for each in (*job.cups.values(), *job.orders) for panel in each.panels]


@main.command(short_help="Paper to lay round the cups, at true size.")
@job_options
@out_options
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="What paper the printer takes.",
)
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
    nested = _nested(out, production, others_too=True)
    places = nested and {piece_id: sheet.name for sheet in nested for piece_id, *_ in sheet.placed}
    with _progress("Drawing") as progress:
        result = guide_result(production, selection, PAPERS[paper], progress, places)
    _finish("guide", result, job, selection, out, replace)
    guides, rings = (sum(name.startswith(stem) for name in result.files) for stem in ("guide-", "ring-"))
    orders = _count(len(job.orders), "order")
    click.echo(f"{_count(guides, 'paper guide')}, {_count(rings, 'fit ring')} and the work list of {orders} in {out}")


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

    min_gap_mm = _min_gap_mm(min_gap, job.units)
    production, _ = _lay_out("strips", lay_to_check, prove, job, sharing=Sharing(share_to_check))
    sure = surenesses(production)
    joints = (notice for each in sure for notice in joint_notices(each, job.units))
    notices = (*production.notices, *Spacings(production).notices(min_gap_mm), *joints)
    _tell(notices)
    click.echo("\n".join([*sureness_lines(sure, job.units), ""]))
    pieces, cups = len(production.pieces), sum(order.quantity for order in job.orders)
    count = len(notices)
    click.echo(f"{_count(len(job.orders), 'order')}, {_count(cups, 'cup')}, {_count(pieces, 'piece')}: "
               f"nothing wrong, {_count(count, 'warning')}.")  # fmt: skip


@main.group(invoke_without_command=True, short_help="The cups, patterns and vinyls that are shipped.")
@click.pass_context
def presets(ctx: click.Context) -> None:
    """What cups, patterns and vinyls are shipped, and your own."""
    if ctx.invoked_subcommand is not None:
        return
    from stripegen.presets import list_presets

    found = list_presets(_user_folder())
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
        found = find_preset(each, bare, _user_folder()) if each in FOLDERS else None
        if found:
            click.echo(found[0], nl=not found[0].endswith("\n"))
            return
    raise JobError(Fault(Where("presets", ""), "", f'"{name}"', "no preset has this name: see stripegen presets"))


def _user_folder() -> Path:
    return Path(click.get_app_dir("stripegen")) / "presets"


def _finders() -> dict[str, Callable]:
    from stripegen.presets import find_preset, preset_names

    folder = _user_folder()
    return {
        "find_preset": lambda kind, name: find_preset(kind, name, folder),
        "preset_names": lambda kind: preset_names(kind, folder),
    }


def _read_text(path: Path) -> str:
    def fault(right: str) -> JobError:
        return JobError(Fault(Where(str(path), ""), "", "", right))

    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_JOB_BYTES + 1)
    except FileNotFoundError:
        raise fault("there is no such file") from None
    except OSError as error:
        raise fault(f"it can't be read: {error.strerror or error}") from None
    if len(data) > LARGEST_JOB_BYTES:
        raise fault(f"a job file may have {LARGEST_JOB_BYTES // 1_000_000} MB; is this one?")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise fault(f"it must be UTF-8 text; byte {error.start + 1} is not") from None


def _read_job(path: Path, chosen=None):
    from stripegen.jobfile import parse_job

    job = parse_job(_read_text(path), path.name, **_finders())
    return chosen.of(job) if chosen else job


def _one_order(cup: str, pattern: str, vinyl: tuple[str, ...], quantity: int):
    from stripegen.jobfile import one_order_job, split_vinyl_options
    from stripegen.shelf import Source

    def given(name: str):
        path = Path(name)
        return Source(_read_text(path), path.name) if path.suffix == ".toml" else name

    try:
        bound = split_vinyl_options(vinyl)
    except ValueError as error:
        raise click.UsageError(f"--vinyl {error}") from None
    vinyls = given(bound) if isinstance(bound, str) else {role: given(name) for role, name in bound.items()}
    return one_order_job(
        cup=given(cup), pattern=given(pattern), vinyl=vinyls, quantity=quantity, **_finders()
    )


def _lay_out(stem: str, lay: Callable, prove: Callable, job, **more):
    from stripegen.production import produce
    from stripegen.sheets import lay_out

    production = produce(job)
    return production, lay_out(production, stem, lay, prove, **more)


def _sheets_command(command, stem, lay, prove, job, selection, out: Path, replace: bool, options) -> None:
    _write_sheets(command, *_lay_out(stem, lay, prove, job), job, selection, out, replace, options)


def _write_sheets(command, production, sheets, job, selection, out: Path, replace: bool, options, **more) -> None:
    from stripegen.results import sheets_result

    result = sheets_result(command, production, sheets, selection, options, **more)
    _finish(command, result, job, selection, out, replace)
    width = max(len(sheet.name) for sheet in sheets)
    for sheet in sheets:
        click.echo(
            f"{sheet.name:{width}}  {sheet.width_mm:g} x {sheet.length_mm:.1f} mm, used {sheet.used_length_mm:.1f} mm, "
            f"{_count(len(sheet.placed), 'piece')}, tightness {sheet.tightness:.3f}, waste {sheet.waste:.0%}"
            + (f", {sheet.shared_mm:.0f} mm of cuts shared" if sheet.shared_mm else "")
        )
    click.echo(f"{_count(len(production.pieces), 'piece')} on {_count(len(sheets), 'sheet')} in {out}")


def _read_artworks(job, folder: Path) -> dict:
    """The pictures that the panels of a job name, from the folder of the job file."""
    named = {panel.image: panel.where for panel in reversed(_panels_of(job)) if panel.image}
    if not named:
        return {}
    from stripegen.artwork import LARGEST_BYTES, read_artwork

    found, faults = {}, []
    for name, where in named.items():
        try:
            with (folder / name).open("rb") as file:
                found[name] = read_artwork(file.read(LARGEST_BYTES + 1))
        except OSError as error:
            faults.append(Fault(where, "panels image", f'"{name}"', f"it can't be read: {error.strerror or error}"))
        except ValueError as error:
            faults.append(Fault(where, "panels image", f'"{name}"', str(error)))
    if faults:
        raise JobError(*faults)
    return found


def _nested(out: Path, production, others_too: bool = False) -> list | None:
    """The sheets of the nest that stands in a folder, if it is of these very pieces, or of others too."""
    import json

    from stripegen.shownsheets import sheets_of_manifest

    try:
        found = sheets_of_manifest(json.loads((out / "nest.json").read_bytes()), production.pieces, others_too)
    except OSError:
        return None
    except (ValueError, RecursionError):
        found = None
    if found is None:
        click.echo(f"warning: the nest in {out} is not of these pieces: nest again to see where they lie", err=True)
    return found


def _sheets_to_show(out: Path, production) -> tuple[list, str]:
    """The sheets of the nest that stands in a folder, if it is of these pieces, else in reading order; and which of them."""
    from stripegen.proof import prove
    from stripegen.reading import lay_in_reading_order
    from stripegen.sheets import lay_out
    from stripegen.shownsheets import shown_sheets

    nested = _nested(out, production)
    if nested is not None:
        return nested, "As nested in this folder."
    try:
        sheets = lay_out(production, "strips", lay_in_reading_order, prove)
    except JobError as error:
        return [], f"Not laid out yet: {error.faults[0]}"
    return shown_sheets(sheets), "In reading order, before they are nested; nest into this folder first to see them nested."


def _finish(command, result, job, selection, out: Path, replace: bool) -> None:
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
    _tell(result.notices)
    if result.missing:
        click.echo(result.missing, err=True)


def _tell(notices: tuple[Notice, ...]) -> None:
    for notice in notices:
        click.echo(f"warning: {notice}", err=True)


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


def _part(progress: Callable[[float], None] | None, number: int, count: int) -> Callable[[float], None] | None:
    """The progress of one of several searches as a part of the whole."""
    return progress and (lambda share: progress((number + share) / count))


@contextmanager
def _progress(label: str) -> Iterator[Callable[[float], None] | None]:
    """Gives a function that takes the share done, shown as a bar; None where no one is looking."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1000, label=label, file=sys.stderr) as bar:
        yield lambda share: bar.update(max(0, int(1000 * share) - bar.pos))


main.add_command(new)
main.add_command(recut_command(cut_options, _write_sheets, _progress))
