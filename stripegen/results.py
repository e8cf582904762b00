"""The files of a result, as bytes by name: cut files, key sheets, tables and the manifest."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from stripegen.costs import Costs
from stripegen.cutfile import CutFile, cut_file, job_drawings
from stripegen.errors import Notice
from stripegen.hatches import fillings_of
from stripegen.keypages import key_drawing, key_pages
from stripegen.keysheet import key_of
from stripegen.leftovers import leftovers, leftovers_toml
from stripegen.manifest import (
    costs_csv,
    costs_row,
    grouping_row,
    leftovers_row,
    manifest_head,
    pieces_csv,
    sheets_manifest,
)
from stripegen.marks import marks_of
from stripegen.penfile import PenFile, pen_file, pen_notices
from stripegen.production import Production
from stripegen.sheets import Sheet, sheet_notices
from stripegen.spec import Job
from stripegen.writers.dxf import cut_dxf
from stripegen.writers.pdf import CairoMissing, drawing_pdf, drawings_pdf
from stripegen.writers.svg import PLACES, drawing_svg

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


@dataclass(frozen=True)
class CutOptions:
    """How cut files are written besides one SVG and one PDF a sheet.

    `numbers_per_inch` is of the SVG files; None: millimetres. `one_file` puts all vinyls into one SVG, `one_pdf` all
    sheets into one PDF. `test_cut` adds test pieces to each vinyl's first sheet. `paper`, "a4" or "letter", is for the
    keys' PDFs. `pen` writes a pen file for each sheet.
    """

    numbers_per_inch: float | None = None
    one_file: bool = False
    one_pdf: bool = False
    dxf: bool = False
    test_cut: bool = False
    paper: str = "a4"
    pen: bool = False


def sheets_result(
    command: str,
    production: Production,
    sheets: Sequence[Sheet],
    selection: object,
    options: CutOptions = CutOptions(),
    progress: Progress = None,
    costs: Costs | None = None,
    ungrouped: Costs | None = None,
    more: Mapping[str, object] | None = None,
) -> Result:
    """What `strips`, `nest` and `recut` write: for each sheet a cut file and a key, a table of pieces and the manifest.

    A nest also tells what is left over. With `costs` a table of them too. `ungrouped` is given where each order's
    pieces lie together: what the same pieces cost otherwise. `more` stands in the manifest too.
    """
    by_order = ungrouped is not None
    files = Files()
    job = production.job
    firsts = {sheet.vinyl.name: sheet.name for sheet in reversed(sheets)}
    marks = marks_of(production.pieces)
    on_sheets = ({placed.piece.order for placed in sheet.placed} for sheet in sheets)
    fillings = fillings_of([order.id for order in job.orders], on_sheets)
    cuts, pens = [], []
    for number, sheet in enumerate(sheets, 1):
        test_cut = options.test_cut and sheet.name == firsts[sheet.vinyl.name]
        cuts.append(cut_file(sheet, job.cutter, test_cut))
        _add_cut_file(files, cuts[-1], options)
        key = key_of(sheet, marks, fillings, cuts[-1].measured, by_order)
        files.add(f"{sheet.name}-key.svg", lambda key=key: drawing_svg(key_drawing(key)).encode())
        files.add(f"{sheet.name}-key.pdf", lambda key=key: drawings_pdf(key_pages(key, options.paper)))
        if options.pen:
            pens.append(pen_file(sheet, marks, job.cutter))
            _add_pen_file(files, pens[-1], options)
        if progress:
            progress(number / len(sheets))
    stem = sheets[0].name.partition("-")[0]
    if options.one_pdf:
        files.add(f"{stem}-all.pdf", lambda: drawings_pdf([cut.drawing for cut in cuts]))
    if options.one_file:
        for number, drawing in enumerate(job_drawings(cuts, _numbers_per_mm(options)), 1):
            size_mm = tuple(side / _numbers_per_mm(options) for side in (drawing.width_mm, drawing.height_mm))
            text = drawing_svg(drawing, size_mm=size_mm, places=_places(options))
            files.by_name[f"{stem}-all-{number}.svg"] = text.encode()
    cups = {order.id: order.cup for order in job.orders}
    files.by_name[f"{command}.csv"] = pieces_csv(production.pieces, sheets, cups, marks)
    notices = production.notices + sheet_notices(sheets, job.cutter.mat_mm) + pen_notices(pens)
    more = dict(more or {}) | ({"stock": job.stock} if job.stock else {})
    if command == "nest":
        left = leftovers(job, sheets)
        more["leftovers"] = leftovers_row(left)
        if not job.stock and (left.offcuts or left.lengths_left_mm):
            files.by_name["offcuts.toml"] = leftovers_toml(left).encode()
    if costs is not None:
        files.by_name["costs.csv"] = costs_csv(costs)
        more["costs"] = costs_row(costs)
        more["grouping"] = grouping_row(costs, ungrouped) if by_order else None
    head = manifest_head(command, job_name(job, selection), selection, files.by_name)
    manifest = sheets_manifest(head, production.pieces, sheets, cuts, marks, job.cutter, notices, more)
    return files.result(f"{command}.json", manifest, notices)


def _numbers_per_mm(options: CutOptions) -> float:
    return 1.0 if options.numbers_per_inch is None else options.numbers_per_inch / 25.4


def _places(options: CutOptions) -> int:
    """So many decimals that a coordinate is right to a ten-thousandth of a millimetre, or better."""
    return max(PLACES, PLACES + math.ceil(-math.log10(_numbers_per_mm(options))))


def _svg(file: CutFile | PenFile, options: CutOptions) -> bytes:
    drawing, size_mm = file.numbered(_numbers_per_mm(options)), (file.width_mm, file.length_mm)
    return drawing_svg(drawing, size_mm=size_mm, places=_places(options)).encode()


def _add_cut_file(files: Files, cut: CutFile, options: CutOptions) -> None:
    files.add(f"{cut.name}.pdf", lambda: drawing_pdf(cut.drawing))
    if not options.one_file:
        files.by_name[f"{cut.name}.svg"] = _svg(cut, options)
    if options.dxf:
        files.by_name[f"{cut.name}.dxf"] = cut_dxf(cut)


def _add_pen_file(files: Files, pen: PenFile, options: CutOptions) -> None:
    files.add(f"{pen.name}-pen.pdf", lambda: drawing_pdf(pen.numbered()))
    files.by_name[f"{pen.name}-pen.svg"] = _svg(pen, options)


def job_name(job: Job, selection: object) -> str | None:
    """What the manifest calls the job; None where options stood in place of a job file."""
    in_place = isinstance(selection, Mapping) and "cup" in selection
    return None if in_place or not job.file else job.file
