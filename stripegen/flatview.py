"""The wall of a decorated cup laid flat, once round: its strips, its limits and every distance between.

A wall of several sections is laid flat section by section; one that can't be laid flat is shown whole, as flatbands.py
says, and the picture says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial

import shapely

from stripegen.crossing import level_t
from stripegen.decoration import Decoration
from stripegen.drawing import Drawing, GroupItem, Item, PathItem, TextItem
from stripegen.flatfigures import Board, level_figures
from stripegen.flatnames import rim_names, wall_names
from stripegen.flatsheet import Sheet, fitted_sheet
from stripegen.flatwidths import NOTE as NOTE_OF_WIDTHS
from stripegen.flatwidths import width_names
from stripegen.lettering import MARGIN_MM, fitted_mm, page_ground, picture_head, scale_bar, text_box
from stripegen.outline import Ring
from stripegen.panels import LaidPanel, panel_item, parts_of_panel
from stripegen.pictures import (
    CHORD_MM,
    PALE_TEXT,
    TEXT,
    ColourOfRole,
    Painted,
    edge_colour,
    hatched,
    ink_on,
    mixed,
    painted_strips,
    vinyls_of,
)
from stripegen.rulers import Upright, meridian_ruler, wall_ruler
from stripegen.shapes import Edge
from stripegen.spacing import Spacing, spacing_of
from stripegen.widths import unit_name

SHEET_WIDTH_MM, SHEET_HEIGHT_MM = 238.0, 165.0  # the wall laid flat fits into so much
SEVERAL_HEIGHT_MM = 250.0  # where it is several bands
EDGE_MM = 6.0  # no figure stands nearer to the page's edge
BETWEEN_MM = 8.0  # rulers and sheet
LEAST_PAGE_MM = 210.0
NOTE_STEP_MM = 5.0
NOTE = (
    "Figures are clear distances in mm, edge to edge along the wall; seen from outside, the rim at the top."
)
BANDS_NOTE = "Each section is laid flat by itself; strips go on in the next one at the same degrees."
UNEXACT_NOTE = (
    "To look at, not to measure: such a wall can't be laid flat. Lengths round it and straight down the picture's "
    "middle are to scale; slants away from the middle are not."
)


def flat_view(
    order_title: str,
    decoration: Decoration,
    colour_of_role: ColourOfRole,
    spacing: Spacing | None = None,
    strips: Sequence[Painted] | None = None,
    panels: Sequence[LaidPanel] = (),
    dimensions_in: str | None = None,
) -> Drawing:
    """The wall laid flat at true proportions with its strips in lying order, and every spacing named.

    One turn is shown, from the zero mark or, where a vertical line or a keepout lies there, from the gap to
    the left of it; what winds past the sheet's edge is shown where it lies on the cup. `strips` are shown in place of
    those of the decoration, over the printed `panels`. With `dimensions_in` ("mm", "in") the widths of strips and the
    heights of rings are named too.
    """
    spacing = spacing or spacing_of(decoration)
    if strips is None:
        strips = painted_strips(decoration, colour_of_role)
    ground = decoration.cup.colour
    sheet = fitted_sheet(decoration, SHEET_WIDTH_MM, SHEET_HEIGHT_MM, SEVERAL_HEIGHT_MM)
    colours = {laid.line.name: colour_of_role(laid.line.vinyl)[1] for laid in decoration.lines}

    # the rulers' widths decide where the sheet begins, and its own bounds how wide the page is
    vinyls = vinyls_of(decoration, colour_of_role)
    subtitle = f"cup {decoration.cup.name}, pattern {decoration.pattern.title}"
    x0, y0, x1, y1 = _bounds(sheet, decoration)
    rulers, right = _rulers(spacing, decoration, colours, sheet)
    width = max(LEAST_PAGE_MM, right + BETWEEN_MM + x1 - x0 + 2 * MARGIN_MM)
    head = picture_head(order_title, subtitle, vinyls, width)
    top = head.bottom_mm + 11.0
    sheet = replace(sheet, x_mm=MARGIN_MM + right + BETWEEN_MM - x0, y_mm=top - y0)
    bottom = top + y1 - y0
    rulers, _ = _rulers(spacing, decoration, colours, sheet)
    notes = _notes(sheet)
    if dimensions_in:
        notes = [NOTE_OF_WIDTHS.format(unit_name(dimensions_in)), *notes]
    height = bottom + 15.0 + MARGIN_MM + NOTE_STEP_MM * len(notes)

    wall, rim = _wall(sheet, decoration, strips, panels), rim_names(sheet, decoration)
    items = [*wall, *rim, *sheet.names()]
    board = _board(sheet, [*head.items, *rulers, *items], ground, width, bottom + 11.0)
    nameless = 0
    for level, inwards in zip(spacing.levels, (1, -1, -1), strict=True):
        figures, missing = level_figures(sheet, level, board, inwards)
        items += figures
        nameless += missing
    items += wall_names(sheet, decoration, board)
    if dimensions_in:
        names, missing = width_names(sheet, decoration, board, dimensions_in)
        items += names
        if missing:
            notes[0] += f" {missing} {'name finds' if missing == 1 else 'names find'} no room here."
    items += _foot(sheet, width, height - MARGIN_MM, nameless, notes)
    return Drawing(width, height, (page_ground(width, height), *head.items, *rulers, *items))


def _bounds(sheet: Sheet, decoration: Decoration) -> tuple[float, float, float, float]:
    """x0, y0, x1, y1 of the sheet with all that stands over its rim."""
    texts = [text_box(item) for item in rim_names(sheet, decoration) if isinstance(item, TextItem)]
    return shapely.unary_union([shapely.box(*sheet.bounds()), *texts]).bounds


def _rulers(
    spacing: Spacing, decoration: Decoration, colours: dict[str, str], sheet: Sheet
) -> tuple[list[Item], float]:
    """The rulers side by side, and how far they reach past the left margin."""
    upright = Upright(
        sheet.scale,
        tuple((band.low_mm, band.high_mm, sheet.place(sheet.middle_rad, band.low_mm)[1]) for band in sheet.bands),
    )
    ruler = wall_ruler(decoration.site, decoration.cup.colour, upright, MARGIN_MM)
    items = list(ruler.items)
    for meridian in spacing.meridians:
        ruler = meridian_ruler(
            meridian,
            decoration.site,
            decoration.cup.colour,
            colours.__getitem__,
            upright,
            ruler.right_mm + BETWEEN_MM,
        )
        items += ruler.items
    return items, ruler.right_mm - MARGIN_MM


def _board(sheet: Sheet, items: Sequence[Item], ground: str, width_mm: float, foot_mm: float) -> Board:
    """The board that texts are placed on, with what is drawn already; the page's edge and foot are taken."""
    inner = shapely.box(EDGE_MM, EDGE_MM, width_mm - EDGE_MM, foot_mm)
    drawn = [_area(item.shapes) for item in _flat(items) if item.role in ("strip", "keepout")]
    drawn += [
        shapely.LineString(line.points(CHORD_MM)).buffer(0.2)
        for item in items
        if item.role == "seam"
        for line in item.shapes
    ]
    return Board(
        wall=shapely.union_all([_area([belt]) for belt in sheet.belts(0.0, sheet.wall.wall_mm)]),
        drawn=shapely.unary_union(drawn),
        ink=ink_on(ground),
        ground=ground,
        printed=shapely.union_all([_area(rings) for rings in _printed(items)]),
        taken=[
            inner.buffer(2 * width_mm) - inner,
            *(text_box(item, 0.3) for item in items if isinstance(item, TextItem)),
        ],
    )


def _wall(
    sheet: Sheet, decoration: Decoration, strips: Sequence[Painted], panels: Sequence[LaidPanel]
) -> list[Item]:
    """The bare wall, its limits and what is stuck on it."""
    site, ground = decoration.site, decoration.cup.colour
    ink = ink_on(ground)
    bands = list(sheet.belts(0.0, site.wall.wall_mm))
    items: list[Item] = [PathItem(shapes=(band,), fill=ground, role="wall") for band in bands]
    for low_mm, high_mm in ((0.0, site.top_mm), (site.bottom_mm, site.wall.wall_mm)):
        items += [
            PathItem(shapes=(belt,), fill=mixed(ground, ink, 0.1), role="clearance")
            for belt in sheet.belts(low_mm, high_mm)
        ]
    items += [item for panel in panels for item in _panel(sheet, panel)]
    for down_mm in (site.top_mm, site.bottom_mm):
        line = sheet.level(down_mm, sheet.start_rad, sheet.end_rad)
        items.append(
            PathItem(shapes=(line,), stroke=mixed(ground, ink, 0.3), stroke_width_mm=0.12, role="limit")
        )
    items += _keepouts(sheet, decoration, ink)
    items += _seams(sheet, decoration, ink)
    for strip in strips:
        stroke = edge_colour(strip.colour, ground)
        parts = [
            PathItem(
                shapes=sheet.rings(band, part), fill=strip.colour, stroke=stroke, stroke_width_mm=0.12, role="strip"
            )
            for band, part in sheet.parts(strip.shape)
        ]
        items += parts if strip.id is None else [GroupItem(items=tuple(parts), id=strip.id)]
    items += [
        PathItem(shapes=(band,), stroke=mixed(ground, ink, 0.55), stroke_width_mm=0.2, role="outline")
        for band in bands
    ]
    return items


def _panel(sheet: Sheet, panel: LaidPanel) -> Iterator[Item]:
    for band, low, high in sheet.spans(0.0, sheet.wall.wall_mm):
        for part in parts_of_panel(panel, sheet.start_rad, sheet.end_rad, low, high):
            yield from panel_item(panel, sheet.rings(band, part), partial(sheet.spots, band), panel.colour)


def _printed(items: Iterable[Item]) -> Iterator[Sequence[Ring]]:
    """Where panels lie on the page."""
    for item in items:
        if item.role == "panel":
            yield (item.clip,) if isinstance(item, GroupItem) else item.shapes


def _flat(items: Iterable[Item]) -> Iterator[Item]:
    """All items, those of groups too."""
    for item in items:
        if isinstance(item, GroupItem):
            yield from item.items
        else:
            yield item


def _area(rings: Sequence[Ring]) -> shapely.Polygon:
    """What straight-edged rings, the outer one first, enclose on the page."""
    outer, *holes = (ring.points(CHORD_MM) for ring in rings)
    return shapely.make_valid(shapely.Polygon(outer, holes))


def _keepouts(sheet: Sheet, decoration: Decoration, ink: str) -> list[Item]:
    """Each keepout outlined and hatched."""
    ground = decoration.cup.colour
    items: list[Item] = []
    for keepout in decoration.site.keepouts:
        for band, part in sheet.parts(keepout):
            rings = sheet.rings(band, part)
            stroke = mixed(ground, ink, 0.5)
            items.append(
                PathItem(
                    shapes=rings,
                    fill=mixed(ground, ink, 0.05),
                    stroke=stroke,
                    stroke_width_mm=0.18,
                    role="keepout",
                )
            )
            area = _area(rings)
            lines = hatched(area)
            if lines:
                items.append(
                    PathItem(
                        shapes=tuple(lines), stroke=mixed(ground, ink, 0.3), stroke_width_mm=0.1, role="hatch"
                    )
                )
    return items


def _seams(sheet: Sheet, decoration: Decoration, ink: str) -> list[Item]:
    site = decoration.site
    stroke = mixed(decoration.cup.colour, ink, 0.6)
    items: list[Item] = []
    for name in site.seams:
        curve = site.seam(name)
        edge = Edge(curve, 0.0, float(level_t(curve, site.wall.wall_mm)))
        items += [
            PathItem(shapes=(line,), stroke=stroke, stroke_width_mm=0.15, dash_mm=(1.6, 1.2), role="seam")
            for line in sheet.strokes(edge)
        ]
    return items


def _notes(sheet: Sheet) -> list[str]:
    """What must be known of such a picture."""
    if not sheet.is_exact:
        return [UNEXACT_NOTE]
    return [BANDS_NOTE] if len(sheet.bands) > 1 else []


def _foot(sheet: Sheet, width_mm: float, y_mm: float, nameless: int, notes: Sequence[str]) -> list[Item]:
    """What the figures mean, and a scale bar."""
    bar, name = scale_bar(width_mm - MARGIN_MM, y_mm, sheet.scale)
    note = NOTE
    if nameless:
        gaps = "one gap is" if nameless == 1 else f"{nameless} gaps are"
        note += f" {gaps} too narrow to name here."
    size = fitted_mm(note, 2.6, text_box(name).bounds[0] + 1.6 - MARGIN_MM - 8.0)
    over = [
        TextItem(
            text=text,
            x_mm=MARGIN_MM,
            y_mm=y_mm - NOTE_STEP_MM * number,
            size_mm=fitted_mm(text, 2.6, width_mm - 2 * MARGIN_MM),
            fill=TEXT,
            role="wall-note",
        )
        for number, text in enumerate(notes, 1)
    ]
    return [
        *over,
        TextItem(text=note, x_mm=MARGIN_MM, y_mm=y_mm, size_mm=size, fill=PALE_TEXT, role="note"),
        bar,
        name,
    ]
