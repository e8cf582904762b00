"""The manifest and the table of pieces: a whole result for other programs and for a spreadsheet."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import math
from collections.abc import Mapping, Sequence

from stripegen.costs import Bill, Costs, money
from stripegen.cutfile import CutFile
from stripegen.errors import Notice
from stripegen.leftovers import Leftovers
from stripegen.outline import Outline
from stripegen.placing import Placed
from stripegen.production import Piece
from stripegen.sheets import OffcutPlace, Sheet
from stripegen.spec import Cutter, Vinyl
from stripegen.writers.numbers import rounded

FORMAT = "stripegen-manifest"
VERSION = 1

COST_COLUMNS = ("sheet", "vinyl", "order", "piece_area_mm2", "length_mm", "price")
COLUMNS = (
    "id", "order", "cup_no", "cup", "line", "vinyl", "width_mm", "true_length_mm", "cut_length_mm", "area_mm2",
    "strain", "start_around_deg", "start_down_mm", "end_around_deg", "end_down_mm", "sheet", "turn_deg", "x_mm",
    "y_mm", "shares_cut_with", "mark",
)  # fmt: skip


def manifest_head(command: str, job: str, selection: object, files: Mapping[str, bytes]) -> dict:
    """What every manifest begins with; `files` are all the others that the result holds."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "units": "mm",
        "command": command,
        "job": job,
        "selection": selection,
        "files": {name: hashlib.sha256(data).hexdigest() for name, data in sorted(files.items())},
    }


def sheets_manifest(
    head: dict,
    pieces: Sequence[Piece],
    sheets: Sequence[Sheet],
    cuts: Sequence[CutFile],
    marks: Mapping[str, str],
    cutter: Cutter,
    notices: Sequence[Notice],
    more: Mapping[str, object] | None = None,
) -> bytes:
    """The manifest of a laid-out job, as UTF-8 JSON; pieces in reading order. `more` stands after the sheets."""
    where = {placed.piece.id: (sheet, placed) for sheet in sheets for placed in sheet.placed}
    body = {
        "pieces": [_piece(piece, marks[piece.id], *where[piece.id]) for piece in pieces],
        "sheets": [_sheet(sheet, cut, head["files"], cutter) for sheet, cut in zip(sheets, cuts, strict=True)],
        **(more or {}),
        "warnings": [warning_row(notice) for notice in notices],
    }
    return to_json(head | body)


def to_json(values: dict) -> bytes:
    """JSON as files hold it: one table a line below the top, so that two results can be compared."""
    return (_json_lines(values, "\n ") + "\n").encode()


def _json_lines(values: Mapping, line: str) -> str:
    """A table, each entry on a line of its own, and each row of its lists of tables too."""
    lines = []
    for key, value in values.items():
        if isinstance(value, list) and value:
            rows = f",{line} ".join(json.dumps(row, allow_nan=False) for row in value)
            text = f"[{line} {rows}{line}]"
        elif isinstance(value, Mapping) and any(isinstance(each, list) for each in value.values()):
            text = _json_lines(value, f"{line} ")
        else:
            text = json.dumps(value, allow_nan=False)
        lines.append(f"{json.dumps(key)}: {text}")
    return "{" + line + f",{line}".join(lines) + line[:-1] + "}"


def _piece(piece: Piece, mark: str, sheet: Sheet, placed: Placed) -> dict:
    flat, place = piece.flat, placed.placement
    return {
        "id": piece.id,
        "order": piece.order,
        "cup_no": piece.cup_no or None,
        **({"spare": piece.spare_no} if piece.spare_no else {}),
        "line": piece.line,
        "vinyl": piece.vinyl,
        "width": rounded(flat.width_mm, 6),
        "true_length": rounded(flat.true_mm, 6),
        "cut_length": rounded(flat.cut_mm, 6),
        "area": rounded(flat.cut_outline.area(), 6),
        "strain": rounded(flat.strain, 6),
        "start": _place(flat.start),
        "end": _place(flat.end),
        "outline": [list(point) for point in flat.cut_points[0]],
        "holes": [[list(point) for point in hole] for hole in flat.cut_points[1]],
        "sheet": sheet.name,
        "placement": {
            "turn": rounded(place.turn_deg, 6),
            "move": [rounded(place.dx_mm, 6), rounded(place.dy_mm, 6)],
        },
        "shares_cut_with": list(placed.shares_cut_with),
        "mark": mark,
    }


def _place(place: tuple[float, float]) -> dict:
    return {"around": rounded(math.degrees(place[0]), 6), "down": rounded(place[1], 6)}


def _sheet(sheet: Sheet, cut: CutFile, files: Mapping[str, str], cutter: Cutter) -> dict:
    return {
        "name": sheet.name,
        "vinyl": sheet.vinyl.name,
        "width": rounded(sheet.width_mm, 6),
        "length": rounded(sheet.length_mm, 6),
        "used_length": rounded(sheet.used_length_mm, 6),
        "files": [name for name in (f"{sheet.name}{end}" for end in (".svg", ".pdf", ".dxf")) if name in files],
        "pieces": list(cut.pieces),
        "piece_area": rounded(sheet.piece_area_mm2, 6),
        "bound": rounded(sheet.bound_mm, 6),
        "tightness": rounded(sheet.tightness, 6),
        "waste": rounded(sheet.waste, 6),
        "shared_length": rounded(sheet.shared_mm, 6),
        "offcuts": [_offcut(offcut) for offcut in sheet.offcuts],
        "knife": {way: rounded(getattr(cut.travel, f"{way}_mm"), 3) for way in ("down", "up", "back")},
        "to_measure": {name: _test_piece(outline) for name, outline in cut.measured.items()},
        "film": _film(sheet.vinyl),
        "cutter": _cutter(cutter),
    }


def _film(vinyl: Vinyl) -> dict:
    """The vinyl as bought and how it is cut, so that more can be cut of it without the job; no length: a roll."""
    return {
        "width": rounded(vinyl.width_mm, 6),
        "length": None if vinyl.length_mm is None else rounded(vinyl.length_mm, 6),
        "margin": rounded(vinyl.margin_mm, 6),
        "piece_gap": rounded(vinyl.piece_gap_mm, 6),
        "grain": vinyl.grain,
        "flip": vinyl.flip,
        "cut_from_back": vinyl.cut_from_back,
        "weed": vinyl.weed,
    }


def _cutter(cutter: Cutter) -> dict:
    return {
        "cut_width": cutter.cut_width_mm,
        "longest_run": cutter.longest_run_mm,
        "band": cutter.band_mm,
        "cut_past": cutter.cut_past_mm,
        "scale": list(cutter.scale),
    } | ({"mat": list(cutter.mat_mm)} if cutter.mat_mm else {})


def _test_piece(outline: Outline) -> dict:
    x0, y0, x1, y1 = outline.bounds()
    return {"x": rounded(x0, 6), "y": rounded(y0, 6), "across": rounded(x1 - x0, 6), "along": rounded(y1 - y0, 6)}


def _offcut(offcut: OffcutPlace) -> dict:
    sizes = ("x", "y", "width", "length", "used_length")
    shelf = {"shelf": offcut.shelf} if offcut.shelf else {}
    return {size: rounded(getattr(offcut, f"{size}_mm"), 6) for size in sizes} | shelf


def leftovers_row(left: Leftovers) -> dict:
    """What is left over, as the manifest holds it."""
    offcuts = [
        {
            "vinyl": offcut.vinyl,
            "width": rounded(offcut.width_mm, 6),
            "length": rounded(offcut.length_mm, 6),
            "quantity": offcut.quantity,
        }
        for offcut in left.offcuts
    ]
    rolls = [{"vinyl": name, "length_left": rounded(left_mm, 6)} for name, left_mm in left.lengths_left_mm.items()]
    return {"offcuts": offcuts, "rolls": rolls}


def costs_row(costs: Costs) -> dict:
    """The costs as the manifest holds them: by sheet and order, by vinyl, by order, and in all."""
    return {
        "shares": [
            {
                "sheet": share.sheet,
                "order": share.order,
                "piece_area": rounded(share.piece_area_mm2, 6),
                "length": rounded(share.length_mm, 6),
                "price": _price(share.cents),
            }
            for share in costs.shares
        ],
        "vinyls": [{"vinyl": bill.name, **_bill(bill)} for bill in costs.vinyls],
        "orders": [
            {
                "order": bill.order,
                "piece_area": rounded(bill.piece_area_mm2, 6),
                "vinyl_area": rounded(bill.vinyl_area_mm2, 6),
                "price": _price(bill.cents),
            }
            for bill in costs.orders
        ],
        "week": _bill(costs.week),
        "unpriced": list(costs.unpriced),
    }


def _bill(bill: Bill) -> dict:
    return {
        "sheets": bill.sheets,
        "length": rounded(bill.length_mm, 6),
        "used_length": rounded(bill.used_mm, 6),
        "tightness": rounded(bill.tightness, 6),
        "waste": rounded(bill.waste, 6),
        "price": _price(bill.cents),
    }


def grouping_row(grouped: Costs, alone: Costs) -> dict:
    """What it costs to keep each order together, as the manifest holds it, beside the same pieces ungrouped."""

    def row(bill: Bill, other: Bill) -> dict:
        return {**_lengths(bill), "ungrouped": _lengths(other)}

    vinyls = zip(grouped.vinyls, alone.vinyls, strict=True)
    return {
        "by": "order",
        "vinyls": [{"vinyl": bill.name, **row(bill, other)} for bill, other in vinyls],
        "week": row(grouped.week, alone.week),
    }


def _lengths(bill: Bill) -> dict:
    return {"sheets": bill.sheets, "used_length": rounded(bill.used_mm, 6), "price": _price(bill.cents)}


def _price(cents: int | None) -> float | None:
    """The float nearest to so many cents, which is printed with at most two decimals."""
    return None if cents is None else cents / 100


def warning_row(notice: Notice) -> dict:
    return {
        "code": notice.code,
        "message": notice.told,
        "order": notice.order,
        "line": notice.line,
        "piece": notice.piece,
    }


def pieces_csv(
    pieces: Sequence[Piece], sheets: Sequence[Sheet], cups: Mapping[str, str], marks: Mapping[str, str]
) -> bytes:
    """A row a piece, in reading order; `cups` maps an order's id to its cup's name, `marks` a piece's to its mark."""
    where = {placed.piece.id: (sheet, placed) for sheet in sheets for placed in sheet.placed}
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for piece in pieces:
        flat, (sheet, placed) = piece.flat, where[piece.id]
        place = placed.placement
        (around0, down0), (around1, down1) = flat.start, flat.end
        numbers = (flat.width_mm, flat.true_mm, flat.cut_mm, flat.cut_outline.area())
        places = (math.degrees(around0), down0, math.degrees(around1), down1)
        writer.writerow(
            [_cell(piece.id), _cell(piece.order), piece.cup_no or "spare"]
            + [_cell(name) for name in (cups[piece.order], piece.line, piece.vinyl)]
            + [f"{rounded(value, 3):.3f}" for value in numbers]
            + [f"{rounded(flat.strain, 6):.6f}"]
            + [f"{rounded(value, 3):.3f}" for value in places]
            + [sheet.name, f"{rounded(place.turn_deg, 4):.4f}", f"{rounded(place.dx_mm):.4f}", f"{rounded(place.dy_mm):.4f}"]
            + [_cell(" ".join(placed.shares_cut_with)), marks[piece.id]]
        )
    return text.getvalue().encode()


def _cell(name: str) -> str:
    """A name that no spreadsheet takes for a formula: names may begin with a hyphen."""
    return f"'{name}" if name.startswith("-") else name


def costs_csv(costs: Costs) -> bytes:
    """A row for each sheet and each order on it; the price is empty where the vinyl has none."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COST_COLUMNS)
    for share in costs.shares:
        numbers = [f"{rounded(value, 3):.3f}" for value in (share.piece_area_mm2, share.length_mm)]
        price = "" if share.cents is None else money(share.cents)
        writer.writerow([share.sheet, _cell(share.vinyl), _cell(share.order), *numbers, price])
    return text.getvalue().encode()
