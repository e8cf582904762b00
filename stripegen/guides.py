"""What `guide` writes: papers at true size to lay round each look, a fit ring for each cup, the work list, and the manifest."""

from __future__ import annotations

import math
from collections.abc import Mapping

from stripegen.decoration import Decoration
from stripegen.drawing import Drawing
from stripegen.errors import GeometryError, JobError, Notice
from stripegen.fitring import fit_ring, ring_pages
from stripegen.flatsheet import start_of
from stripegen.guidepages import guide_pages
from stripegen.guidepieces import Marked
from stripegen.guidesheet import GuideSheet, guide_sheet
from stripegen.guideview import guide_canvas
from stripegen.looks import looks_of
from stripegen.manifest import manifest_head, to_json, warning_row
from stripegen.marks import marks_of
from stripegen.paper import Paper
from stripegen.paperbands import CLOSE_MM
from stripegen.production import Production, placed
from stripegen.results import Files, Progress, Result, job_name
from stripegen.spec import Cup
from stripegen.walls import bare_wall
from stripegen.workhtml import work_list_html
from stripegen.worklist import work_list
from stripegen.workpages import work_list_pages
from stripegen.writers.numbers import rounded
from stripegen.writers.pdf import drawings_pdf

WORK_LIST = "work-list.html", "work-list.pdf"


def guide_result(
    production: Production,
    selection: object,
    paper: Paper,
    progress: Progress = None,
    places: Mapping[str, str] | None = None,
) -> Result:
    """The paper guides of a job, its fit rings and its work list. `places` are the sheets of the pieces, by their ids.

    Orders that look the same share the guide of the first of them. Raises JobError for a cup that takes too much paper.
    """
    files = Files()
    guides, notices = _guides(production, paper, files, progress)
    rings = _rings(production, paper, files)
    work = work_list(production, places)
    files.by_name["work-list.html"] = work_list_html(work, production.job.units).encode()
    files.add("work-list.pdf", lambda: drawings_pdf(work_list_pages(work, production.job.units, paper)))
    notices = (*production.notices, *placed(notices, production.job))
    head = manifest_head("guide", job_name(production.job, selection), selection, files.by_name)
    body = {
        "paper": paper.name,
        "guides": guides,
        "rings": rings,
        "work_list": [name for name in WORK_LIST if name in files.by_name],
        "warnings": [warning_row(notice) for notice in notices],
    }
    return files.result("guide.json", to_json(head | body), notices)


def _guides(
    production: Production, paper: Paper, files: Files, progress: Progress
) -> tuple[list[dict], list[Notice]]:
    looks = looks_of(production)
    marks = marks_of(production.pieces)
    found, notices = [], []
    for number, look in enumerate(looks, 1):
        decoration, orders = look.decoration, [order.id for order in look.orders]
        marked = [Marked(marks[seen.piece.id], seen.piece, seen.painted.shape) for seen in look.strips]
        try:
            sheet = guide_sheet(decoration.site.wall, start_of(decoration), paper)
        except GeometryError as error:
            raise _too_large(decoration.cup, error) from error
        drawings = _drawings(sheet, decoration, marked, orders)
        name = f"guide-{orders[0]}.pdf"
        files.add(name, lambda drawings=drawings: drawings_pdf(drawings))
        found.append(
            {
                "orders": orders,
                "cup": decoration.cup.name,
                "pattern": decoration.pattern.name,
                "changes": list(decoration.pattern.changes),
                "files": [name] if name in files.by_name else [],
                **_layout_row(sheet),
            }
        )
        off_mm = max(band.off_mm for band in sheet.bands)
        if off_mm > CLOSE_MM:
            message = f"its paper guide is off by up to {off_mm:.1f} mm once round: such a wall can't be laid flat"
            notices.append(Notice(code="guide-off", order=orders[0], message=message))
        if progress:
            progress(number / len(looks))
    return found, notices


def _drawings(sheet: GuideSheet, decoration: Decoration, marked: list[Marked], orders: list[str]) -> list[Drawing]:
    named = f"order{'s' * (len(orders) > 1)} {', '.join(orders)}"
    cup = decoration.cup.name
    canvas = guide_canvas(decoration, marked, sheet, f"{named}, cup {cup}")
    about = f"cup {cup}, pattern {decoration.pattern.title}: the wall at true size, as its outside is seen"
    return guide_pages(canvas, sheet, marked, f"Paper guide: {named}", about)


def _layout_row(sheet: GuideSheet) -> dict:
    """Bands and tiles as the manifest holds them: the paper's frame is turned, then moved onto each page."""
    grid = sheet.grid
    left, top = grid.paper.corner_mm
    return {
        "start": rounded(math.degrees(sheet.start_rad), 6),
        "turn": rounded(math.degrees(grid.turn_rad), 6),
        "bands": [
            {
                "from": rounded(band.low_mm, 6),
                "to": rounded(band.high_mm, 6),
                "shift": rounded(sheet.shifts_mm[band.number - 1], 6),
                "off": rounded(band.off_mm, 6),
            }
            for band in sheet.bands
        ],
        "tiles": [
            {
                "page": number,
                "row": tile.row,
                "column": tile.column,
                "move": [rounded(left - tile.left_mm, 6), rounded(top - tile.top_mm, 6)],
            }
            for number, tile in enumerate(grid.tiles, 2)
        ],
    }


def _rings(production: Production, paper: Paper, files: Files) -> list[dict]:
    found = []
    for name in dict.fromkeys(order.cup for order in production.job.orders):
        cup = production.job.cups[name]
        try:
            ring = fit_ring(bare_wall(cup).coated(cup.resin_mm))
            drawings = ring_pages(ring, name, paper)
        except GeometryError as error:
            raise _too_large(cup, error) from error
        files.add(f"ring-{name}.pdf", lambda drawings=drawings: drawings_pdf(drawings))
        found.append(
            {
                "cup": name,
                "files": [f"ring-{name}.pdf"] if f"ring-{name}.pdf" in files.by_name else [],
                "down": rounded(ring.down_mm, 6),
                "circumference": rounded(ring.girth_mm, 6),
            }
        )
    return found


def _too_large(cup: Cup, error: GeometryError) -> JobError:
    return JobError(error.fault(cup.where))
