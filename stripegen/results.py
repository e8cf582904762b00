"""The files of a result, as bytes by name: cut files, key sheets, tables, pictures and the manifest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from stripegen.costs import Costs
from stripegen.drawing import cut_drawing
from stripegen.errors import Notice
from stripegen.keysheet import key_drawing
from stripegen.leftovers import leftovers, leftovers_toml
from stripegen.manifest import (
    costs_csv,
    costs_row,
    grouping_row,
    leftovers_row,
    manifest_head,
    pieces_csv,
    sheets_manifest,
    to_json,
    warning_row,
)
from stripegen.production import Production
from stripegen.sheets import Sheet, sheet_notices
from stripegen.spec import Job, Order
from stripegen.writers.pdf import CairoMissing, drawing_pdf, drawing_png
from stripegen.writers.svg import drawing_svg

Progress = Callable[[float], None] | None


@dataclass(frozen=True)
class Result:
    """Files by name, the manifest among them, and what the maker should know.

    `missing` tells what could not be made, and how to mend that.
    """

    files: dict[str, bytes]
    manifest_name: str
    notices: tuple[Notice, ...]
    missing: str | None = None


class Files:
    """Collects files; without the cairo library those that need it are left out and the reason is kept."""

    def __init__(self) -> None:
        self.by_name: dict[str, bytes] = {}
        self.missing: str | None = None

    def add(self, name: str, make: Callable[[], bytes]) -> None:
        try:
            self.by_name[name] = make()
        except CairoMissing as error:
            self.missing = str(error)

    def result(self, manifest_name: str, manifest: bytes, notices: Sequence[Notice]) -> Result:
        return Result({**self.by_name, manifest_name: manifest}, manifest_name, notices, self.missing)


def sheets_result(
    command: str,
    production: Production,
    sheets: Sequence[Sheet],
    selection: object,
    progress: Progress = None,
    costs: Costs | None = None,
    ungrouped: Costs | None = None,
) -> Result:
    """What `strips` and `nest` write: for each sheet a cut file and a key, a table of pieces and the manifest.

    A nest also tells what is left over. With `costs` a table of them too. `ungrouped` is given where each order's
    pieces lie together: what the same pieces cost otherwise.
    """
    by_order = ungrouped is not None
    files = Files()
    for number, sheet in enumerate(sheets, 1):
        cut = cut_drawing(
            sheet.width_mm, sheet.length_mm, [(placed.piece.id, placed.cut) for placed in sheet.placed]
        )
        for name, drawing in ((sheet.name, cut), (f"{sheet.name}-key", key_drawing(sheet, by_order))):
            files.add(f"{name}.svg", lambda drawing=drawing: drawing_svg(drawing).encode())
            files.add(f"{name}.pdf", lambda drawing=drawing: drawing_pdf(drawing))
        if progress:
            progress(number / len(sheets))
    job = production.job
    cups = {order.id: order.cup for order in job.orders}
    files.by_name[f"{command}.csv"] = pieces_csv(production.pieces, sheets, cups)
    notices = production.notices + sheet_notices(sheets, job.cutter.mat_mm)
    more = {}
    if command == "nest":
        left = leftovers(job, sheets)
        more["leftovers"] = leftovers_row(left)
        if left.offcuts or left.lengths_left_mm:
            files.by_name["offcuts.toml"] = leftovers_toml(left).encode()
    if costs is not None:
        files.by_name["costs.csv"] = costs_csv(costs)
        more["costs"] = costs_row(costs)
        more["grouping"] = grouping_row(costs, ungrouped) if by_order else None
    head = manifest_head(command, job_name(job, selection), selection, files.by_name)
    return files.result(f"{command}.json", sheets_manifest(head, production.pieces, sheets, notices, more), notices)


def preview_result(production: Production, selection: object, progress: Progress = None) -> Result:
    """What `preview` writes: a flat picture and four sides of each order, and its spacings in the manifest.

    Orders that look the same share the pictures of the first of them.
    """
    from stripegen.previewing import preview_pictures
    from stripegen.spacing import spacing_of, spacing_rows

    files = Files()
    job = production.job
    looks: dict[tuple, dict] = {}
    for number, order in enumerate(job.orders, 1):
        key = look_of(job, order)
        if key in looks:
            looks[key]["orders"].append(order.id)
            continue
        decoration = production.decorations[order.id]
        spacing = spacing_of(decoration)
        pictures = preview_pictures(order.id, decoration, lambda role, order=order: _colour(job, order, role), spacing)
        names = []
        for part, drawing in pictures.items():
            stem = f"preview-{order.id}-{part}"
            files.add(f"{stem}.svg", lambda drawing=drawing: drawing_svg(drawing).encode())
            files.add(f"{stem}.png", lambda drawing=drawing: drawing_png(drawing))
            names += [name for name in (f"{stem}.svg", f"{stem}.png") if name in files.by_name]
        looks[key] = {
            "orders": [order.id],
            "cup": order.cup,
            "pattern": order.pattern,
            "files": names,
            "spacing": spacing_rows(spacing),
        }
        if progress:
            progress(number / len(job.orders))
    head = manifest_head("preview", job_name(job, selection), selection, files.by_name)
    body = {"previews": list(looks.values()), "warnings": [warning_row(notice) for notice in production.notices]}
    return files.result("preview.json", to_json(head | body), production.notices)


def job_name(job: Job, selection: object) -> str | None:
    """What the manifest calls the job; None where options stood in place of a job file."""
    return None if selection else job.file


def look_of(job: Job, order: Order) -> tuple:
    """What orders have in common that look the same: cup, pattern, places of the seams and vinyls."""
    roles = {line.vinyl for line in job.patterns[order.pattern].lines}
    colours = sorted((role, _colour(job, order, role)) for role in roles)
    return order.cup, order.pattern, tuple(sorted(order.seams.items())), tuple(colours)


def _colour(job: Job, order: Order, role: str) -> tuple[str, str]:
    vinyl = job.vinyl_of(order, role)
    return vinyl.name, vinyl.colour
