"""The pages of a paper guide: a map of the tiles with what to do and what to beware of, then the tiles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from stripegen.drawing import Drawing, Item, TextItem
from stripegen.guidepieces import Marked
from stripegen.guidesheet import GuideSheet
from stripegen.lettering import elided, fitted_mm, page_ground
from stripegen.paper import (
    BLACK,
    GREY,
    MARGIN_MM,
    PALE,
    Canvas,
    Grid,
    Ink,
    Paper,
    field_items,
    join_marks,
    measure_square,
    text_on,
)
from stripegen.textlines import text_lines

TITLE_MM, TEXT_MM, STEP_MM = 5.6, 3.2, 4.5
MAP_ROLES = ("edge", "piece", "hidden", "flap", "keepout")
MAP_GAP_MM, MAP_LEAST_MM = 6.0, 60.0
SQUARE_MM = 50.0


def guide_pages(canvas: Canvas, sheet: GuideSheet, pieces: Sequence[Marked], title: str, about: str) -> list[Drawing]:
    """The map and then every tile, each a page."""
    grid = sheet.grid
    turned = canvas.turned(grid.turn_rad)
    joins = join_marks(turned, grid)
    whole = Canvas((*turned.inks, *joins.inks), (*turned.texts, *joins.texts))
    tiles = [_tile_page(whole, grid, number, title) for number in range(1, len(grid.tiles) + 1)]
    return [_map_page(turned, sheet, pieces, title, about), *tiles]


def _tile_page(canvas: Canvas, grid: Grid, number: int, title: str) -> Drawing:
    paper, tile = grid.paper, grid.tiles[number - 1]
    left, top = paper.corner_mm
    width, height = paper.field_mm
    of = f"tile {number} of {len(grid.tiles)}, row {tile.row}, column {tile.column}"
    frame = np.array([(0, 0), (width, 0), (width, height), (0, height), (0, 0)]) + (left, top)
    room = width - 100
    items: list[Item] = [
        page_ground(paper.width_mm, paper.height_mm),
        TextItem(text=elided(title, 3.4, room), x_mm=left, y_mm=top - 3, size_mm=3.4, bold=True, role="head"),
        TextItem(text=f"{of}, print at 100 %", x_mm=left + width, y_mm=top - 3, size_mm=3.4, anchor="end", role="head"),
        Ink(frame, 0.1, PALE, role="frame").item(),
    ]
    return Drawing(paper.width_mm, paper.height_mm, (*items, *field_items(canvas, grid, tile)))


def _map_page(canvas: Canvas, sheet: GuideSheet, pieces: Sequence[Marked], title: str, about: str) -> Drawing:
    grid = sheet.grid
    paper = grid.paper
    width = paper.width_mm - 2 * MARGIN_MM
    y = MARGIN_MM + TITLE_MM
    items: list[Item] = [
        page_ground(paper.width_mm, paper.height_mm),
        TextItem(
            text=title, x_mm=MARGIN_MM, y_mm=y, size_mm=fitted_mm(title, TITLE_MM, width, bold=True), bold=True, role="title"
        ),
        TextItem(text=about, x_mm=MARGIN_MM, y_mm=y + 5.5, size_mm=fitted_mm(about, TEXT_MM, width), fill=GREY, role="about"),
    ]
    y += 12.0
    right = MARGIN_MM + width - SQUARE_MM
    items += measure_square(right, y)
    # what to do beside the square, below it over the whole width
    column = right - MARGIN_MM - MAP_GAP_MM
    below = y + SQUARE_MM + 3.0
    for text in _what_to_do(sheet):
        room = column if y < below else width
        lines, y = text_lines([text], MARGIN_MM, y, TEXT_MM, room, role="what-to-do")
        items += lines
    y = max(y, below)
    rows = _legend(pieces)
    step = width / 3
    bottom = paper.height_mm - MARGIN_MM
    most = max(1, int((bottom - y - MAP_LEAST_MM) / STEP_MM)) * 3
    if len(rows) > most:
        rows = [*rows[: most - 1], f"and {len(rows) - most + 1} more marks"]
    high = -(-len(rows) // 3)
    for n, row in enumerate(rows):
        x = MARGIN_MM + (n // high) * step
        items.append(
            TextItem(
                text=elided(row, TEXT_MM, step - 2), x_mm=x, y_mm=y + TEXT_MM + STEP_MM * (n % high), size_mm=TEXT_MM,
                role="legend",
            )
        )  # fmt: skip
    y += STEP_MM * high + 3.0
    items += _map(canvas, grid, paper, MARGIN_MM, y, width, bottom - y)
    return Drawing(paper.width_mm, paper.height_mm, tuple(items))


def _what_to_do(sheet: GuideSheet) -> Iterable[str]:
    grid, count = sheet.grid, len(sheet.bands)
    off_mm = max(band.off_mm for band in sheet.bands)
    tiles = len(grid.tiles)
    yield "1. Print every page at 100 %, then measure the square."
    if tiles > 1:
        yield (
            f"2. Lay the {tiles} tiles over each other, each numbered mark on the mark of the same number, and tape them. Cut "
            "along the bold outline, the flap with it."
        )
    else:
        yield "2. Cut along the bold outline, the flap with it."
    if count > 1:
        yield (
            f"3. The wall is {count} bands, from the rim down. Lay each with its upper edge at its place down; all agree in "
            "degrees."
        )
    yield (
        f"{4 if count > 1 else 3}. Wrap, rim edge at the rim, zero mark on yours; lay the first edge on the line before the "
        "flap and tape. Paper of 0.1 mm falls 0.3 mm short: share it out."
    )
    yield (
        f"{5 if count > 1 else 4}. Prick through the corners, or trace along a cut edge. Each outline is one strip of vinyl, "
        "dashed where another covers it; its mark is that of the work list."
    )
    if any(sheet.flap(band) is None for band in sheet.bands):
        yield "A band without a flap goes all the way round on the paper too: tape it edge to edge."
    if off_mm > 0:
        yield (
            f"Such a wall can't be laid flat: once round, its bands are off by up to {off_mm:.1f} mm. Go by the degrees, and by "
            "the tape where it matters."
        )
    yield (
        "Cautions: let resin cure as its data sheet says before you handle the cup. Pricking points and knives are sharp: cap "
        "them, work away from yourself. Take paper, tape and pencil marks off before the next coat."
    )


def _legend(pieces: Sequence[Marked]) -> list[str]:
    """Each mark with its line, its vinyl and how many there are on a cup."""
    counts = Counter((each.mark, each.piece.line, each.piece.vinyl) for each in pieces)
    ordered = sorted(counts.items(), key=lambda row: (len(row[0][0]), row[0]))
    return [f"{mark}: {line}, {vinyl}" + (f", {count} a cup" if count > 1 else "") for (mark, line, vinyl), count in ordered]


def _map(canvas: Canvas, grid: Grid, paper: Paper, x: float, y: float, width: float, height: float) -> list[Item]:
    """The whole guide small, with the tiles it is on."""
    fields = [grid.box(tile) for tile in grid.tiles]
    x0, y0, x1, y1 = shapely.union_all(fields).bounds
    scale = min(width / (x1 - x0), height / (y1 - y0), 0.6)
    shift = np.array([x + (width - scale * (x1 - x0)) / 2, y]) - scale * np.array([x0, y0])
    items: list[Item] = []
    for field in fields:
        items.append(Ink(shapely.get_coordinates(field.exterior) * scale + shift, 0.15, GREY, role="field").item())
    for role in MAP_ROLES:
        alike = [ink for ink in canvas.inks if ink.role == role]
        drawn = [
            shapely.get_coordinates(shapely.simplify(shapely.LineString(ink.points * scale + shift), 0.02)) for ink in alike
        ]
        if drawn:
            width_mm = 0.2 if role == "edge" else 0.1
            dash = (0.6, 0.5) if role == "hidden" else ()
            items.append(Ink(drawn[0], width_mm, BLACK, dash_mm=dash, role=f"map-{role}").item(*drawn[1:]))
    for number, field in enumerate(fields, 1):
        left, top, right, bottom = field.bounds
        size = min(9.0, 0.3 * scale * (right - left))
        at = np.array([(left + right) / 2, (top + bottom) / 2]) * scale + shift
        items.append(text_on(f"{number}", *at, size, fill=GREY, bold=True, role="field"))
    return items


