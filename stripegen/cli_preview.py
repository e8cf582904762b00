"""The command preview: once, or again and again while the job is edited."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from stripegen.cli_options import min_gap_mm, min_gap_option, out_options, source_options
from stripegen.cli_output import output
from stripegen.cli_reading import Source, panels_of, read_artworks, sheets_to_show
from stripegen.cli_telling import finish_result, progress
from stripegen.errors import Fault, JobError, StripegenError, Where, printable
from stripegen.wording import counted


@click.command(short_help="What it will look like, with its spacings.")
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
        if output().as_json:
            raise click.UsageError("--watch keeps on telling: --json does not go with it")
        _watch(source, port or 0, how)
    else:
        if port:
            raise click.UsageError("--port goes with --watch")
        _preview(source, **how)


def _preview(source: Source, out: Path, replace: bool, dimensions: bool, min_gap: str | None) -> tuple[Any, dict]:
    """Draw and write a job's preview; the job, and what its page shows."""
    from stripegen.previewing import preview_job
    from stripegen.production import produce
    from stripegen.spacing import spacing_tables
    from stripegen.spacings import Spacings

    job, selection = source.read(), source.selection
    artworks = read_artworks(job, source.folder)
    production = produce(job)
    spacings = Spacings(production)
    sheets, laid = sheets_to_show(out, production)
    told = output()
    with progress("Drawing") as shown:
        drawn = preview_job(
            production,
            selection,
            sheets=sheets,
            laid=laid,
            artworks=artworks,
            progress=shown,
            dimensions=dimensions,
            spacings=spacings,
            min_gap_mm=min_gap_mm(min_gap, job.units),
        )
    finish_result("preview", drawn.result, job, selection, out, replace)
    looks = {(order.cup, order.pattern, order.changed) for order in job.orders}
    if len(looks) == 1:
        told.say(*spacing_tables(spacings.of(job.orders[0].id)))
    pictures = sum(name.endswith(".svg") for name in drawn.result.files)
    told.say(
        f"{counted(pictures, 'picture')} of {counted(len(job.orders), 'order')} in {printable(out)}",
        f"Open {printable(out / 'preview.html')} in a browser to turn the cup.",
    )
    told.add(figures={"orders": len(job.orders), "looks": len(looks), "pictures": pictures})
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
    output().say(f"Open http://{HOST}:{server.server_address[1]}/ in a browser; Ctrl-C ends it.")
    pictures: list[Path] = []
    try:
        for _ in changes(lambda: [*source.files, *pictures]):
            try:
                job, data = _preview(source, **how)
            except StripegenError as error:
                output().fail(error)
                live.tell(str(error))
                continue
            pictures[:] = [source.folder / panel.image for panel in panels_of(job) if panel.image]
            live.show(partial(page_html, data))
    except KeyboardInterrupt:
        output().say("No longer watched.")
    finally:
        server.shutdown()
