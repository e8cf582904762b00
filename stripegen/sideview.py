"""The decorated cup from four sides, seen a little from above, as it will stand on a table."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.drawing import Drawing, Gradient, GroupItem, Item, PathItem, Stop, TextItem
from stripegen.lettering import MARGIN_MM, fitted_mm, page_ground, picture_head, scale_bar, text_box
from stripegen.outline import Ring
from stripegen.panels import LaidPanel, panel_item
from stripegen.pictures import (
    DARK,
    LIGHT,
    PALE_TEXT,
    TEXT,
    ColourOfRole,
    Painted,
    edge_colour,
    ink_on,
    mixed,
    page_stroke,
    painted_strips,
    vinyls_of,
)
from stripegen.shapes import FULL_TURN
from stripegen.sidefigures import LEFT_MM, OVER_MM, RIGHT_MM, UNDER_MM, view_figures
from stripegen.tilted import CHORD_MM, SINE, Sight, View

PAGE_MM = 297.0
BETWEEN_MM = 14.0
MOST_HEIGHT_MM = 130.0
VIEWS_DEG = (0, 90, 180, 270)
AT_VIEW_RAD = math.radians(0.5)  # a seam no further from the middle of a view is named with it

SEEN_BEND_RAD = math.radians(6)
SECTOR_RAD = math.pi / 72  # of the wall, each of one colour
COARSE_MM = 0.15  # the sides of sectors between others
STOPS_DEG = range(-90, 91, 12)
SHADE, SHINE = 0.38, 0.13  # how dark the right edge gets, and how light what faces the light
SHADOW = "#07080c"
LIGHT_RAD = math.radians(-34)  # the light comes from the left
SHINE_RAD = math.radians(34)  # so far to either side of it something shines
TONE_STEP, LIGHTEST, DARKEST = 0.01, 0.20, 0.26  # of a wall that faces straight up or down
LIP_OUT_MM, LIP_IN_MM = 0.45, 0.35  # of the rolled rim, on the page
FOOT_MM = 0.7
NOTE_SIZE_MM = 2.6


def side_views(
    order_title: str,
    decoration: Decoration,
    colour_of_role: ColourOfRole,
    strips: Sequence[Painted] | None = None,
    panels: Sequence[LaidPanel] = (),
    dimensions_in: str | None = None,
) -> Drawing:
    """The upright cup from 0, 90, 180 and 270 degrees, side by side, at one scale; seen as tilted.py says.

    `strips` are shown in place of those of the decoration, over the printed `panels`. With `dimensions_in` ("mm", "in")
    the first view has its measures about it.
    """
    wall = decoration.site.wall
    left, right, over, under = (LEFT_MM, RIGHT_MM, OVER_MM, UNDER_MM) if dimensions_in else (0.0, 0.0, 0.0, 0.0)
    count = len(VIEWS_DEG)
    room = (PAGE_MM - 2 * MARGIN_MM - left - right - (count - 1) * BETWEEN_MM) / count
    scale = min(room / (2 * wall.greatest_radius_mm), MOST_HEIGHT_MM / wall.height_mm)
    cup, pattern = decoration.cup.name, decoration.pattern.title
    vinyls = vinyls_of(decoration, colour_of_role)
    head = picture_head(order_title, f"cup {cup}, pattern {pattern}", vinyls, PAGE_MM)
    sight = Sight(wall, scale)
    _, y0, _, y1 = sight.outline.bounds
    top = head.bottom_mm + 12.0 + over - y0
    caption = top + y1 + 14.0 + under
    if strips is None:
        strips = painted_strips(decoration, colour_of_role)
    items: list[Item] = list(head.items)
    for number, view_deg in enumerate(VIEWS_DEG):
        middle = MARGIN_MM + left + (number + 0.5) * room + number * BETWEEN_MM + (right if number else 0.0)
        view = View(sight, math.radians(view_deg), middle, top)
        items.append(
            GroupItem(items=tuple(_cup(view, decoration, strips, panels)), id=f"view-{view_deg}", role="view")
        )
        items += _caption(view, view_deg, decoration, caption, room)
    foot = caption + 17.0
    items += scale_bar(PAGE_MM - MARGIN_MM, foot, scale, dimensions_in or "mm")
    if dimensions_in:
        view = View(sight, math.radians(VIEWS_DEG[0]), MARGIN_MM + left + room / 2, top)
        end = MARGIN_MM + left + room + right + BETWEEN_MM / 2
        figures, note = view_figures(view, decoration, dimensions_in, end)
        size = fitted_mm(note, NOTE_SIZE_MM, text_box(items[-1]).bounds[0] - MARGIN_MM - 8.0)
        items += figures
        items.append(TextItem(text=note, x_mm=MARGIN_MM, y_mm=foot, size_mm=size, fill=PALE_TEXT, role="note"))
    height = foot + MARGIN_MM
    return Drawing(PAGE_MM, height, (page_ground(PAGE_MM, height), *items))


def _cup(
    view: View, decoration: Decoration, strips: Sequence[Painted], panels: Sequence[LaidPanel]
) -> list[Item]:
    colour = decoration.cup.colour
    edge = mixed(colour, ink_on(colour), 0.35)
    outline = _ring(view.outline)
    ground = _ring(view.outline.simplify(COARSE_MM / 2))
    return [
        *_shadow(view),
        PathItem(shapes=(ground,), fill=_lit(colour, 0.0), role="ground"),
        *_body(view, colour),
        *_panels(view, panels),
        *_strips(view, colour, strips),
        *_tones(view),
        *_bends(view, colour),
        *_keepouts(view, colour, decoration),
        *_foot(view),
        PathItem(shapes=(outline,), stroke=edge, stroke_width_mm=0.15, role="outline"),
        *_rim(view, colour),
    ]


def _ring(area: shapely.Polygon) -> Ring:
    return Ring.through(map(tuple, shapely.get_coordinates(area.exterior)[:-1].tolist()))


def _lit(colour: str, turn_rad: float) -> str:
    """A colour as it is seen so far round to the right of the middle of a view."""
    away = turn_rad - LIGHT_RAD
    shade = min(1.0, (1 - math.cos(away)) / (1 - math.cos(math.pi / 2 - LIGHT_RAD)))
    shine = math.cos(away / SHINE_RAD * math.pi / 2) ** 2 if abs(away) < SHINE_RAD else 0.0
    return mixed(mixed(colour, SHADOW, SHADE * shade), LIGHT, SHINE * shine)


def _round_fill(view: View, radius_mm: float, colour: str, inside: bool = False) -> Gradient:
    """A colour lit along a circle of the cup, on the outside or inside."""
    turns = [math.radians(degrees) for degrees in STOPS_DEG]
    return Gradient(
        (view.middle_mm - view.scale * radius_mm, view.top_mm),
        (view.middle_mm + view.scale * radius_mm, view.top_mm),
        tuple(Stop((math.sin(turn) + 1) / 2, _lit(colour, -turn if inside else turn)) for turn in turns),
    )


def _body(view: View, colour: str) -> list[Item]:
    """The bare wall from left to right, each sector running on under the next: no page shows between two."""
    half = math.ceil(view.sight.reach_rad / SECTOR_RAD - 1e-9)
    found: list[Item] = []
    for number in range(-half, half):
        low = number * SECTOR_RAD
        last = math.pi if number == half - 1 else low + 2 * SECTOR_RAD
        rings = [
            ring
            for part in view.belt(0.0, view.wall.wall_mm, low, last)
            for ring in view.rings(part, COARSE_MM)
        ]
        if rings:
            found.append(PathItem(shapes=tuple(rings), fill=_lit(colour, low + SECTOR_RAD / 2), role="body"))
    return found


def _panels(view: View, panels: Sequence[LaidPanel]) -> list[Item]:
    """What is printed on the wall, lit as that is."""
    turns = np.linspace(-math.pi, math.pi, 193)
    light = np.array([int(_lit("#808080", turn)[1:3], 16) / 0x80 for turn in turns.tolist()])

    def shade(around_rad: np.ndarray) -> np.ndarray:
        return np.interp(around_rad - view.view_rad, turns, light)

    found: list[Item] = []
    for panel in panels:
        for part in view.panel_parts(panel):
            fill = panel.colour and _fill_of(view, part, panel.colour)
            found += panel_item(panel, view.rings(part), view.spots, fill, shade)
    return found


def _fill_of(view: View, part: shapely.Polygon, colour: str) -> Gradient:
    """A colour lit as the middle of a part is; parts of nearly one radius share it."""
    _, high_mm, _, low_mm = part.bounds
    return _round_fill(view, round(float(view.wall.radius_mm((high_mm + low_mm) / 2))), colour)


def _strips(view: View, ground: str, strips: Sequence[Painted]) -> list[Item]:
    return [
        PathItem(
            shapes=view.rings(part),
            fill=_fill_of(view, part, strip.colour),
            stroke=edge_colour(strip.colour, ground),
            stroke_width_mm=0.12,
            role="strip",
        )
        for strip in strips
        for part in view.parts(strip.shape)
    ]


def _tones(view: View) -> list[Item]:
    """Where a wall faces up it is lighter, where down darker, with all that is on it; a wall of one slope is left as it is."""
    downs = view.sight.downs_mm
    slopes = view.wall.slope_at((downs[:-1] + downs[1:]) / 2)
    steps = np.round(slopes * np.where(slopes > 0, LIGHTEST, DARKEST) / TONE_STEP).astype(int)
    starts = [0, *(np.flatnonzero(np.diff(steps)) + 1).tolist(), len(steps)]
    found: list[Item] = []
    for first, last in itertools.pairwise(starts):
        step = int(steps[first])
        if step and len(starts) > 2:
            for part in view.belt(downs[first], downs[last]):
                tone = LIGHT if step > 0 else SHADOW
                found.append(PathItem(shapes=view.rings(part, COARSE_MM / 2), fill=tone, opacity=abs(step) * TONE_STEP, role="tone"))
    return found


def _bends(view: View, colour: str) -> list[Item]:
    """The edges at which the wall bends so much that they are seen."""
    found: list[Item] = []
    for down in view.wall.bends_mm:
        above, below = (math.asin(view.wall.slope_at(down + side)) for side in (-1e-6, 0.0))
        half = view.sight.half_rad(down)
        if abs(below - above) >= SEEN_BEND_RAD and half > 0:
            chain = np.array([(view.view_rad - half, down), (view.view_rad + half, down)])
            stroke = mixed(colour, ink_on(colour), 0.4)
            line = page_stroke(chain, view.onto, CHORD_MM / view.scale)
            found.append(PathItem(shapes=(line,), stroke=stroke, stroke_width_mm=0.12, role="bend"))
    return found


def _keepouts(view: View, colour: str, decoration: Decoration) -> list[Item]:
    """Where something else sits on the wall, a handle say, so that an empty place is understood."""
    return [
        PathItem(
            shapes=view.rings(part),
            stroke=mixed(colour, ink_on(colour), 0.4),
            stroke_width_mm=0.15,
            dash_mm=(1.2, 1.0),
            role="keepout",
        )
        for keepout in decoration.site.keepouts
        for part in view.parts(keepout)
    ]


def _rim(view: View, colour: str) -> list[Item]:
    """The opening, the inside getting darker downwards, and the rolled rim about it."""
    radius, y = view.wall.rim_radius_mm, view.top_mm
    opening = view.ellipse(radius, 0.0)
    inside = mixed(colour, SHADOW, 0.16)
    high = view.scale * SINE * radius
    depth = Gradient((view.middle_mm, y - high), (view.middle_mm, y + high), (Stop(0, SHADOW, 0.0), Stop(1, SHADOW, 0.3)))
    lip = (view.ellipse(radius, 0.0, LIP_OUT_MM), view.ellipse(radius, 0.0, -LIP_IN_MM))
    stroke = mixed(colour, ink_on(colour), 0.4)
    return [
        PathItem(shapes=(opening,), fill=_round_fill(view, radius, inside, inside=True), role="inside"),
        PathItem(shapes=(opening,), fill=depth, role="depth"),
        PathItem(
            shapes=lip, fill=_round_fill(view, radius, mixed(colour, LIGHT, 0.12)),
            stroke=stroke, stroke_width_mm=0.1, role="lip",
        ),
    ]  # fmt: skip


def _foot(view: View) -> list[Item]:
    """The edge that the cup stands on, in its own shadow."""
    foot = view.wall.wall_mm - FOOT_MM / view.scale
    parts = view.belt(max(0.0, foot), view.wall.wall_mm)
    return [PathItem(shapes=view.rings(part, COARSE_MM / 2), fill=SHADOW, opacity=0.22, role="foot") for part in parts]


def _shadow(view: View) -> list[Item]:
    """A soft shadow on the table about the base, longer on the side away from the light."""
    radius = view.wall.base_radius_mm
    return [
        PathItem(
            shapes=(view.ellipse(radius + spread_mm / view.scale, view.wall.height_mm, 0.0, 0.35 * (spread_mm + 0.5)),),
            fill=DARK,
            opacity=0.03,
            role="shadow",
        )
        for spread_mm in np.linspace(6.0, -0.5, 12).tolist()
    ]


def _caption(view: View, view_deg: int, decoration: Decoration, y: float, room_mm: float) -> list[Item]:
    site = decoration.site
    middle_mm = (site.top_mm + site.bottom_mm) / 2
    seams = [
        name
        for name in site.seams
        if abs(math.remainder(site.around_rad(name, middle_mm) - view.view_rad, FULL_TURN)) < AT_VIEW_RAD
    ]
    text = f"{view_deg}\u00b0"
    found: list[Item] = [
        TextItem(text=text, x_mm=view.middle_mm, y_mm=y, size_mm=4.4, anchor="middle", fill=TEXT, bold=True)
    ]
    if seams:
        name = f"{' and '.join(seams)} seam"
        size = fitted_mm(name, 3.2, room_mm)
        found.append(
            TextItem(
                text=name, x_mm=view.middle_mm, y_mm=y + 5.0, size_mm=size, anchor="middle", fill=PALE_TEXT
            )
        )
    return found
