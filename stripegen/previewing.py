"""What `preview` writes: of each look the wall laid flat and the four sides, a page to turn the cups, and the manifest."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from stripegen.artwork import Artwork
from stripegen.drawing import Drawing
from stripegen.flatview import flat_view
from stripegen.looks import Look, looks_of
from stripegen.manifest import manifest_head, to_json, warning_row
from stripegen.marks import marks_of
from stripegen.page import page_html
from stripegen.pagedata import page_data
from stripegen.production import Production
from stripegen.results import Files, Result, job_name
from stripegen.shownsheets import ShownSheet
from stripegen.sideview import side_views
from stripegen.spacing import Spacing, spacing_rows
from stripegen.spacings import Spacings
from stripegen.writers.pdf import drawing_png
from stripegen.writers.svg import drawing_svg

PAGE = "preview.html"


@dataclass(frozen=True)
class Preview:
    """What `preview` writes, and what its page shows."""

    result: Result
    data: dict


def preview_job(
    production: Production,
    selection: object,
    *,
    sheets: Sequence[ShownSheet] = (),
    laid: str = "",
    artworks: Mapping[str, Artwork] | None = None,
    progress: Callable[[float], None] | None = None,
    dimensions: bool = False,
    spacings: Spacings | None = None,
    min_gap_mm: float = 0.0,
) -> Preview:
    """The pictures, with `dimensions` if asked for, and the page of a job, and its spacings in the manifest. `sheets` and
    how they are `laid` are shown too. `artworks` are by the names of their files; `spacings` spares measuring twice.

    Orders that look the same share the pictures of the first of them. The notices tell of lines nearer to each other
    than `min_gap_mm` too.
    """
    files, job = Files(), production.job
    looks = looks_of(production, artworks)
    spacings = spacings or Spacings(production)
    rows = []
    for number, look in enumerate(looks, 1):
        spacing = spacings.of(look.order.id)
        names = []
        for part, drawing in preview_pictures(look, spacing, dimensions).items():
            stem = f"preview-{look.order.id}-{part}"
            files.add(f"{stem}.svg", lambda drawing=drawing: drawing_svg(drawing).encode())
            files.add(f"{stem}.png", lambda drawing=drawing: drawing_png(drawing))
            names += [name for name in (f"{stem}.svg", f"{stem}.png") if name in files.by_name]
        rows.append(
            {
                "orders": [order.id for order in look.orders],
                "cup": look.order.cup,
                "pattern": look.order.pattern,
                "changes": list(look.decoration.pattern.changes),
                "files": names,
                "spacing": spacing_rows(spacing),
            }
        )
        if progress:
            progress(number / len(looks))
    title = job.title or job.file or f"{looks[0].order.cup} with {looks[0].order.pattern}"
    measured = [spacings.of(look.order.id) for look in looks]
    data = page_data(title, job.units, looks, measured, marks_of(production.pieces), sheets, laid)
    files.by_name[PAGE] = page_html(data).encode()
    head = manifest_head("preview", job_name(job, selection), selection, files.by_name)
    notices = (*production.notices, *spacings.notices(min_gap_mm))
    body = {"previews": rows, "warnings": [warning_row(notice) for notice in notices]}
    return Preview(files.result("preview.json", to_json(head | body), notices), data)


def preview_pictures(look: Look, spacing: Spacing, dimensions: bool = False) -> dict[str, Drawing]:
    """Both pictures by name: "flat" and "sides"; with dimensions in mm, or inches where the job is in inches."""
    id_, decoration = look.order.id, look.decoration
    units = ("in" if look.job.units == "in" else "mm") if dimensions else None
    return {
        "flat": flat_view(id_, decoration, look.colour_of_role, spacing, look.painted, look.panels, units),
        "sides": side_views(id_, decoration, look.colour_of_role, look.painted, look.panels, units),
    }

