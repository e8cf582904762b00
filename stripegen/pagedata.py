"""What the page to turn the cup shows, as JSON-able values: degrees to the right, millimetres down the wall."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely

from stripegen.artwork import data_address, jpeg, mean_colour, smaller
from stripegen.flat import FlatPiece, half_way
from stripegen.flatview import flat_view
from stripegen.looks import Look, Seen
from stripegen.pagetables import spacing_tables
from stripegen.panels import LaidPanel
from stripegen.pictures import edge_colour, ink_on, mixed, parts_seen
from stripegen.production import name_of
from stripegen.shapes import FULL_TURN, Shape
from stripegen.shownsheets import ShownSheet
from stripegen.spacing import Spacing
from stripegen.surface import Wall
from stripegen.writers.svg import drawing_svg

WITHIN_MM = 0.02  # outlines may be drawn with so few points
ROWS_MM = 2.5
MOST_SHOWN = 20_000
MOST_ART = 900  # pixels along a side of a picture


def page_data(
    title: str,
    units: str,
    looks: Sequence[Look],
    spacings: Sequence[Spacing],
    marks: Mapping[str, str],
    sheets: Sequence[ShownSheet],
    laid: str,
) -> dict:
    """All that the page shows. `marks` are by piece id; `laid` says how the sheets were laid out."""
    if sum(len(sheet.placed) for sheet in sheets) > MOST_SHOWN:
        sheets, laid = (), f"With more than {MOST_SHOWN:,} pieces the sheets are left out here: see the key sheets."
    return {
        "title": title,
        "units": "in" if units == "in" else "mm",
        "looks": [_look(look, spacing, marks) for look, spacing in zip(looks, spacings, strict=True)],
        "sheets": [_sheet(sheet) for sheet in sheets],
        "laid": laid,
        "images": _images(looks),
    }


def empty_data(title: str) -> dict:
    """A page that shows nothing yet."""
    return {"title": title, "units": "mm", "looks": [], "sheets": [], "laid": "", "images": {}}


def _look(look: Look, spacing: Spacing, marks: Mapping[str, str]) -> dict:
    decoration = look.decoration
    wall, ground = decoration.site.wall, decoration.cup.colour
    title = ", ".join(order.id for order in look.orders)
    flat = flat_view(title, decoration, look.colour_of_role, spacing, look.painted, _coloured(look.panels))
    inside = mixed(ground, ink_on(ground), 0.08)
    return {
        "orders": [{"id": order.id, "quantity": order.quantity} for order in look.orders],
        "cup": decoration.cup.name,
        "pattern": decoration.pattern.title,
        "colour": ground,
        "ink": ink_on(ground),
        "inside": [int(inside[start : start + 2], 16) / 255 for start in (1, 3, 5)],
        "wall": _rows(wall),
        "panels": [_panel(panel) for panel in look.panels],
        "keepouts": [_path_on_wall(keepout) for keepout in decoration.site.keepouts],
        "strips": [_strip(seen, marks, ground) for seen in look.strips],
        "flat": drawing_svg(flat).partition("\n")[2],
        "tables": spacing_tables(spacing),
    }


def _coloured(panels: Sequence[LaidPanel]) -> list[LaidPanel]:
    """Panels without their pictures, which the page holds once and shows on the cup: in their mean colour."""
    return [replace(panel, art=None, colour=mean_colour(panel.art)) if panel.art else panel for panel in panels]


def _panel(panel: LaidPanel) -> dict:
    rows = zip(panel.down_mm, np.degrees(panel.from_rad), np.degrees(panel.to_rad), strict=True)
    return {
        "rows": [[round(float(value), 3) for value in row] for row in rows],
        "colour": panel.colour,
        "image": panel.image if panel.art else None,
    }


def _images(looks: Sequence[Look]) -> dict[str, str]:
    """Every picture in use, small enough for a page."""
    arts = {panel.image: panel.art for look in looks for panel in look.panels if panel.art}
    return {name: data_address(jpeg(smaller(art.pixels, MOST_ART))) for name, art in arts.items()}


def _rows(wall: Wall) -> list[list[list[float]]]:
    """Each section's rows from the rim down, as down, radius and drop.

    They are close: between two rows a picture on the wall is drawn out evenly, which on a taper it is not.
    """
    stops = [0.0, *wall.bends_mm, wall.wall_mm]
    found = []
    for low, high in pairwise(stops):
        count = max(2, math.ceil((high - low) / ROWS_MM) + 1)
        downs = np.linspace(low, high, count)
        inner = np.clip(downs, low + 1e-9, high - 1e-9)  # a ledge has two radii at one place down, to the limit
        rows = np.stack([downs, wall.radius_mm(inner), wall.drop_mm(inner)], axis=-1)
        found.append(np.round(rows, 4).tolist())
    return found


def _strip(seen: Seen, marks: Mapping[str, str], ground: str) -> dict:
    flat, painted = seen.piece.flat, seen.painted
    return {
        "id": painted.id,
        "name": seen.name,
        "line": seen.piece.line,
        "mark": marks[seen.piece.id],
        "vinyl": seen.piece.vinyl,
        "colour": painted.colour,
        "edge": edge_colour(painted.colour, ground),
        "width": round(flat.width_mm, 3),
        "length": round(flat.cut_mm, 3),
        "start": _degrees_and_mm(*flat.start),
        "end": _degrees_and_mm(*flat.end),
        "middle": _middle(flat),
        "path": _path_on_wall(painted.shape),
        "outline": _path(shapely.Polygon(*flat.cut_points).simplify(WITHIN_MM), 2, 2),
    }


def _middle(flat: FlatPiece) -> list[float]:
    edge, t = half_way(flat.strip.middle)
    around, down = edge.curve.at(t)
    return _degrees_and_mm(float(around), float(down))


def _degrees_and_mm(around_rad: float, down_mm: float) -> list[float]:
    return [round(math.degrees(around_rad), 3) + 0.0, round(down_mm, 3) + 0.0]


def _path_on_wall(shape: Shape) -> str:
    """A shape within the first turn, in degrees and mm."""
    radius = shape.outer[0].curve.wall.mean_radius_mm
    words = []
    for part in parts_seen(shape, 0.0, FULL_TURN):
        even = shapely.transform(part, lambda points: points * (radius, 1.0)).simplify(WITHIN_MM)
        words.append(_path(shapely.transform(even, lambda points: points * (math.degrees(1.0 / radius), 1.0)), 3, 2))
    return "".join(words)


def _path(polygon: shapely.Polygon, x_places: int, y_places: int) -> str:
    def ring(points: Iterable[tuple[float, float]]) -> str:
        pairs = [f"{round(x, x_places) + 0.0:g} {round(y, y_places) + 0.0:g}" for x, y in points]
        return "M" + "L".join(pairs) + "Z"

    rings = [polygon.exterior, *polygon.interiors]
    return "".join(ring(shapely.get_coordinates(each)[:-1].tolist()) for each in rings)


def _sheet(sheet: ShownSheet) -> dict:
    return {
        "name": sheet.name,
        "vinyl": sheet.vinyl,
        "width": round(sheet.width_mm, 2),
        "length": round(sheet.length_mm, 2),
        "pieces": [
            [piece_id.partition(".")[0], name_of(piece_id), round(turn, 3), round(x, 2), round(y, 2)]
            for piece_id, turn, x, y in sheet.placed
        ],
    }
