"""The decorated cup seen level from four sides, as it will stand on a table."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.drawing import Drawing, Gradient, GroupItem, Item, PathItem, Stop, TextItem
from stripegen.lettering import MARGIN_MM, filled, fitted_mm, page_ground, picture_head
from stripegen.outline import Ring, Stroke
from stripegen.panels import LaidPanel, panel_item, parts_of_panel
from stripegen.pictures import (
    CHORD_MM,
    DARK,
    LIGHT,
    PALE_TEXT,
    TEXT,
    ColourOfRole,
    Onto,
    Painted,
    divided,
    edge_colour,
    ink_on,
    mixed,
    page_rings,
    painted_strips,
    parts_seen,
    profile_bend,
    vinyls_of,
)
from stripegen.shapes import FULL_TURN
from stripegen.surface import Wall

PAGE_MM = 297.0
BETWEEN_MM = 14.0
MOST_HEIGHT_MM = 130.0
VIEWS_DEG = (0, 90, 180, 270)
AT_VIEW_RAD = math.radians(0.5)  # a seam no further from the middle of a view is named with it

SEEN_BEND_RAD = math.radians(6)
LOOKED_UP = 2001  # places down between which the height is taken as even
SECTORS = 96  # of the visible half, each of one colour
STOPS_DEG = range(-90, 91, 10)
SHADE, SHINE = 0.38, 0.13  # how dark the right edge gets, and how light what faces the light
SHADOW = "#07080c"
LIGHT_RAD = math.radians(-34)  # the light comes from the left
SHINE_RAD = math.radians(34)  # so far to either side of it something shines


def side_views(
    order_title: str,
    decoration: Decoration,
    colour_of_role: ColourOfRole,
    strips: Sequence[Painted] | None = None,
    panels: Sequence[LaidPanel] = (),
) -> Drawing:
    """The upright cup seen level from 0, 90, 180 and 270 degrees, side by side, at one scale.

    A point of the wall is drawn at x = r(down) sin(around - view) from the cup's axis and as high as it is; what is
    behind is hidden. At each height a wall has one radius, so of the front half all is seen; a ledge is seen edge on.
    `strips` are shown in place of those of the decoration, over the printed `panels`.
    """
    wall = decoration.site.wall
    broadest = 2 * wall.greatest_radius_mm
    count = len(VIEWS_DEG)
    scale = (PAGE_MM - 2 * MARGIN_MM - (count - 1) * BETWEEN_MM) / (count * broadest)
    scale = min(scale, MOST_HEIGHT_MM / wall.height_mm)
    pitch = (PAGE_MM - 2 * MARGIN_MM + BETWEEN_MM) / count
    cup, pattern = decoration.cup.name, decoration.pattern.name
    vinyls = vinyls_of(decoration, colour_of_role)
    head = picture_head(order_title, f"cup {cup}, pattern {pattern}", vinyls, PAGE_MM)
    top = head.bottom_mm + 14.0
    foot = top + scale * wall.height_mm
    if strips is None:
        strips = painted_strips(decoration, colour_of_role)
    items: list[Item] = list(head.items)
    for number, view_deg in enumerate(VIEWS_DEG):
        middle = MARGIN_MM + (number + 0.5) * pitch - BETWEEN_MM / 2
        view = View(wall, math.radians(view_deg), scale, middle, top)
        items.append(
            GroupItem(items=tuple(_cup(view, decoration, strips, panels)), id=f"view-{view_deg}", role="view")
        )
        items += _caption(view, view_deg, decoration, foot + 12.0, pitch - BETWEEN_MM)
    height = foot + 12.0 + 6.0 + MARGIN_MM
    return Drawing(PAGE_MM, height, (page_ground(PAGE_MM, height), *items))


class View:
    """One view's place on the page: `middle_mm` is where the axis is, `top_mm` the plane of the rim."""

    def __init__(self, wall: Wall, view_rad: float, scale: float, middle_mm: float, top_mm: float):
        self.wall, self.view_rad, self.scale = wall, view_rad, scale
        self.middle_mm, self.top_mm = middle_mm, top_mm
        steepest, sharpest, _ = profile_bend(wall)
        self.onto = Onto(self.place, (wall.greatest_radius_mm, 2 * steepest, sharpest), wall.bends_mm)
        profile = divided(np.array([[0.0, 0.0], [0.0, wall.wall_mm]]), self.onto, CHORD_MM / scale)
        self.profile_mm = profile[:, 1]  # places down between which the silhouette is straight

    @property
    def foot_mm(self) -> float:
        return self.top_mm + self.scale * self.wall.height_mm

    def place(self, around_rad: np.ndarray, down_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        x = self.wall.radius_mm(down_mm) * np.sin(around_rad - self.view_rad)
        return self.middle_mm + self.scale * x, self.top_mm + self.scale * self.wall.drop_mm(down_mm)

    def spots(self, x_mm: np.ndarray, y_mm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The places of the wall, around and down, that points of the page show."""
        downs = np.linspace(0.0, self.wall.wall_mm, LOOKED_UP)
        down = np.interp((y_mm - self.top_mm) / self.scale, self.wall.drop_mm(downs), downs)
        aside = (x_mm - self.middle_mm) / (self.scale * self.wall.radius_mm(down))
        return self.view_rad + np.arcsin(np.clip(aside, -1.0, 1.0)), down

    def sector(self, low_rad: float, high_rad: float) -> Ring:
        """The wall between two meridians, counted from the middle of the view."""
        downs = self.profile_mm
        around = self.view_rad + np.repeat([low_rad, high_rad, low_rad], [1, len(downs), len(downs) - 1])
        x, y = self.place(around, np.concatenate([downs[:1], downs, downs[:0:-1]]))
        return Ring.through(zip(x.tolist(), y.tolist(), strict=True))


def _cup(
    view: View, decoration: Decoration, strips: Sequence[Painted], panels: Sequence[LaidPanel]
) -> list[Item]:
    colour = decoration.cup.colour
    body = view.sector(-math.pi / 2, math.pi / 2)
    edge = mixed(colour, ink_on(colour), 0.35)
    return [
        *_shadow(view),
        _foot(view, colour),
        *_body(view, colour),
        *_panels(view, panels),
        *_bends(view, colour),
        *_strips(view, colour, strips),
        *_keepouts(view, colour, decoration),
        PathItem(shapes=(body,), stroke=edge, stroke_width_mm=0.15, role="outline"),
        _lip(view, colour),
    ]


def _lit(colour: str, turn_rad: float) -> str:
    """A colour as it is seen so far round to the right of the middle of a view."""
    away = turn_rad - LIGHT_RAD
    shade = (1 - math.cos(away)) / (1 - math.cos(math.pi / 2 - LIGHT_RAD))
    shine = math.cos(away / SHINE_RAD * math.pi / 2) ** 2 if abs(away) < SHINE_RAD else 0.0
    return mixed(mixed(colour, SHADOW, SHADE * shade), LIGHT, SHINE * shine)


def _round_fill(view: View, radius_mm: float, colour: str) -> Gradient:
    """A colour lit along a circle of the cup."""
    turns = [math.radians(degrees) for degrees in STOPS_DEG]
    return Gradient(
        (view.middle_mm - view.scale * radius_mm, view.top_mm),
        (view.middle_mm + view.scale * radius_mm, view.top_mm),
        tuple(Stop((math.sin(turn) + 1) / 2, _lit(colour, turn)) for turn in turns),
    )


def _body(view: View, colour: str) -> list[Item]:
    """The bare wall from left to right, each sector running on under the next: no page shows between two."""
    turns = np.linspace(-math.pi / 2, math.pi / 2, SECTORS + 1).tolist()
    return [
        PathItem(
            shapes=(view.sector(low, min(2 * high - low, math.pi / 2)),),
            fill=_lit(colour, (low + high) / 2),
            role="body",
        )
        for low, high in itertools.pairwise(turns)
    ]


def _panels(view: View, panels: Sequence[LaidPanel]) -> list[Item]:
    """What is printed on the wall, lit as that is."""
    turns = np.linspace(-math.pi / 2, math.pi / 2, SECTORS + 1)
    light = np.array([int(_lit("#808080", turn)[1:3], 16) / 0x80 for turn in turns.tolist()])

    def shade(around_rad: np.ndarray) -> np.ndarray:
        return np.interp(around_rad - view.view_rad, turns, light)

    found: list[Item] = []
    for panel in panels:
        for part in parts_of_panel(panel, view.view_rad - math.pi / 2, view.view_rad + math.pi / 2):
            _, high_mm, _, low_mm = part.bounds
            radius = view.wall.radius_mm((high_mm + low_mm) / 2)
            fill = panel.colour and _round_fill(view, radius, panel.colour)
            found += panel_item(panel, page_rings(part, view.onto, CHORD_MM / view.scale), view.spots, fill, shade)
    return found


def _bends(view: View, colour: str) -> list[Item]:
    """The edges at which the wall bends so much that they are seen, level from side to side."""
    sides = view.view_rad + np.array([-math.pi / 2, math.pi / 2])
    found: list[Item] = []
    for down in view.wall.bends_mm:
        above, below = (math.asin(view.wall.slope_at(down + side)) for side in (-1e-6, 0.0))
        if abs(below - above) >= SEEN_BEND_RAD:
            line = Stroke.through(np.stack(view.place(sides, np.full(2, down)), axis=-1).tolist())
            stroke = mixed(colour, ink_on(colour), 0.4)
            found.append(PathItem(shapes=(line,), stroke=stroke, stroke_width_mm=0.12, role="bend"))
    return found


def _strips(view: View, ground: str, strips: Sequence[Painted]) -> list[Item]:
    found: list[Item] = []
    for strip in strips:
        for part in parts_seen(strip.shape, view.view_rad - math.pi / 2, view.view_rad + math.pi / 2):
            _, high_mm, _, low_mm = part.bounds
            found.append(
                PathItem(
                    shapes=page_rings(part, view.onto, CHORD_MM / view.scale),
                    fill=_round_fill(view, view.wall.radius_mm((high_mm + low_mm) / 2), strip.colour),
                    stroke=edge_colour(strip.colour, ground),
                    stroke_width_mm=0.12,
                    role="strip",
                )
            )
    return found


def _keepouts(view: View, colour: str, decoration: Decoration) -> list[Item]:
    """Where something else sits on the wall, a handle say, so that an empty place is understood."""
    return [
        PathItem(
            shapes=page_rings(part, view.onto, CHORD_MM / view.scale),
            stroke=mixed(colour, ink_on(colour), 0.4),
            stroke_width_mm=0.15,
            dash_mm=(1.2, 1.0),
            role="keepout",
        )
        for keepout in decoration.site.keepouts
        for part in parts_seen(keepout, view.view_rad - math.pi / 2, view.view_rad + math.pi / 2)
    ]


def _lip(view: View, colour: str) -> PathItem:
    """The rolled rim, seen on edge."""
    half, radius = 0.6, view.scale * view.wall.rim_radius_mm
    line = shapely.LineString(
        [(view.middle_mm - radius, view.top_mm), (view.middle_mm + radius, view.top_mm)]
    )
    return _bar(line.buffer(half, quad_segs=8), _round_fill(view, view.wall.rim_radius_mm, colour), colour)


def _foot(view: View, colour: str) -> PathItem:
    """The edge that the cup stands on."""
    radius, y = view.scale * view.wall.base_radius_mm - 0.8, view.foot_mm + 0.2
    line = shapely.LineString([(view.middle_mm - radius, y), (view.middle_mm + radius, y)])
    shaded = _round_fill(view, view.wall.base_radius_mm, mixed(colour, DARK, 0.25))
    return _bar(line.buffer(0.6, quad_segs=8), shaded, colour)


def _bar(area: shapely.Polygon, fill: Gradient, colour: str) -> PathItem:
    ring = Ring.through(map(tuple, shapely.get_coordinates(area.exterior)[:-1].tolist()))
    return PathItem(
        shapes=(ring,), fill=fill, stroke=mixed(colour, ink_on(colour), 0.4), stroke_width_mm=0.12, role="lip"
    )


def _shadow(view: View) -> list[Item]:
    """A soft shadow on the table."""
    radius = view.scale * view.wall.base_radius_mm
    turns = np.linspace(0, FULL_TURN, 48, endpoint=False)
    found: list[Item] = []
    for spread_mm in np.linspace(4.5, -2.5, 9):
        x = view.middle_mm + (radius + spread_mm) * np.cos(turns)
        y = view.foot_mm + 0.8 + (1.1 + 0.12 * spread_mm) * np.sin(turns)
        found.append(filled(shapely.Polygon(np.stack([x, y], axis=-1)), DARK, 0.035, role="shadow"))
    return found


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
