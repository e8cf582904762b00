"""The measures of a cup about its first view: height, diameters and clearances, and how wide its strips are."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.drawing import Item, PathItem, TextItem
from stripegen.lettering import HALF_HEIGHT, elided, filled, fitted_mm
from stripegen.outline import Stroke
from stripegen.pictures import CHORD_MM, PALE_TEXT, RULE, TEXT, in_painting_order, ink_on
from stripegen.rulers import LEAST_SIZE_MM, PITCH_MM, SIZE_MM, spread
from stripegen.spec import Line
from stripegen.tilted import View
from stripegen.widths import measure, unit_name, width_text

LEFT_MM, RIGHT_MM, OVER_MM, UNDER_MM = 11.0, 31.0, 7.0, 9.0  # the room that they take beside a view
APART_MM = 2.6  # from the cup to what is nearest to it
BROADEST_MM = 0.5  # by so much a wall must be broader than rim and base for that to be named
DOT_MM = 0.45
HALO_MM = 0.45  # about a leader over the cup
LEVELS = 42  # that are looked at for the end of a leader
STROKE = {"stroke": TEXT, "stroke_width_mm": 0.13}


@dataclass(frozen=True)
class _Label:
    """What stands beside the cup, and the point of the page that it is about, if that is seen."""

    text: str
    at: tuple[float, float] | None


def view_figures(view: View, decoration: Decoration, units: str, right_mm: float) -> tuple[list[Item], str]:
    """The dimensions about a view, up to `right_mm`, and a note on what they mean."""
    wall, scale = view.wall, view.scale
    x0, y0, x1, y1 = view.outline.bounds
    rim, base = scale * wall.rim_radius_mm, scale * wall.base_radius_mm
    middle, top, foot = view.middle_mm, view.top_mm, view.foot_mm
    items: list[Item] = [
        *_level(middle, rim, y0 - 3.6, top, f"rim \u00d8 {measure(2 * wall.rim_radius_mm, units)}", -1),
        *_level(middle, base, y1 + 4.6, foot, f"base \u00d8 {measure(2 * wall.base_radius_mm, units)}", 1),
        *_upright(view, x0 - 6.4, f"height {measure(wall.height_mm, units)}"),
    ]
    labels = []
    site = decoration.site
    for name, low_mm, high_mm in (("rim", 0.0, site.top_mm), ("base", site.bottom_mm, wall.wall_mm)):
        if high_mm - low_mm > 0:
            bracket, at = _bracket(view, low_mm, high_mm)
            items.append(bracket)
            labels.append(_Label(f"{name} clearance {measure(high_mm - low_mm, units)}", at))
    broadest = wall.greatest_radius_mm
    if broadest > max(wall.rim_radius_mm, wall.base_radius_mm) + BROADEST_MM:
        downs = view.sight.downs_mm
        at = view.place(view.view_rad + math.pi / 2, downs[np.argmax(wall.radius_mm(downs))])
        labels.append(_Label(f"broadest \u00d8 {measure(2 * broadest, units)}", tuple(map(float, at))))
    taken = [label.at[1] for label in labels]
    widths = [_Label(width_text(line, units), at) for line, at in _places(view, decoration, taken)]
    room = 1 + math.floor((y1 - top) / PITCH_MM) - len(labels)
    labels += widths[: max(0, room)]
    items += _column(labels, view, x1 + APART_MM + 2.2, right_mm, decoration.cup.colour)
    unseen = any(label.at is None for label in labels)
    return items, _note(units, decoration, unseen, len(widths) - max(0, min(room, len(widths))))


def _places(
    view: View, decoration: Decoration, taken: Sequence[float]
) -> list[tuple[Line, tuple[float, float] | None]]:
    """Each line with a point of the page well within what is seen of it, on a level of its own if there is one."""
    wall = decoration.site.wall
    shown: dict[str, shapely.Geometry] = {}
    over = shapely.Polygon()
    for line in reversed(in_painting_order([laid.line for laid in decoration.lines])):
        (laid,) = (laid for laid in decoration.lines if laid.line is line)
        parts = [part for strip in laid.strips for part in view.parts(strip.shape.carried(wall))]
        area = shapely.union_all([_on_page(view, part) for part in parts])
        shown[line.name] = area.difference(over)
        over = over.union(area)
    found: list[tuple[Line, tuple[float, float] | None]] = []
    for laid in decoration.lines:
        at = _rightmost(shown[laid.line.name], taken)
        found.append((laid.line, at))
        taken = [*taken, at[1]] if at else taken
    return found


def _on_page(view: View, part: shapely.Polygon) -> shapely.Geometry:
    outer, *holes = (ring.points(CHORD_MM) for ring in view.rings(part))
    return shapely.make_valid(shapely.Polygon(outer, holes))


def _rightmost(area: shapely.Geometry, taken: Sequence[float]) -> tuple[float, float] | None:
    """A point well within an area, far to the right, if it can be on no level of those `taken` already."""
    for inset in (0.5, 0.25, 0.1):
        inner = area.buffer(-inset)
        if inner.is_empty:
            continue
        x0, y0, x1, y1 = inner.bounds
        found = []
        for y in np.linspace(y0, y1, LEVELS)[1:-1].tolist():
            met = inner.intersection(shapely.LineString([(x0 - 1, y), (x1 + 1, y)]))
            if not met.is_empty:
                near = sum(abs(y - other) < PITCH_MM for other in taken)
                found.append((near, -round(met.bounds[2], 2), abs(y - (y0 + y1) / 2), met.bounds[2], y))
        if found:
            return min(found)[3:]
    return None


def _level(middle: float, half: float, y: float, from_y: float, text: str, side: int) -> list[Item]:
    """A level dimension line above (side -1) or below (1) what it measures, its text beyond it."""
    left, right = middle - half, middle + half
    strokes = [
        Stroke.through([(left, y), (right, y)]),
        *(Stroke.through([(x, from_y + side), (x, y + 0.9 * side)]) for x in (left, right)),
    ]
    base_line = y - 1.0 if side < 0 else y + 1.0 + 2 * HALF_HEIGHT * SIZE_MM
    return [
        PathItem(shapes=tuple(strokes), role="dimension", **STROKE),
        TextItem(
            text=text, x_mm=middle, y_mm=base_line, size_mm=SIZE_MM, anchor="middle", fill=TEXT, role="measure"
        ),
    ]


def _upright(view: View, x: float, text: str) -> list[Item]:
    """The height, from the rim's middle to the base's, to the left of the cup."""
    top, foot = view.top_mm, view.foot_mm
    rim, base = (view.middle_mm - view.scale * r for r in (view.wall.rim_radius_mm, view.wall.base_radius_mm))
    strokes = [
        Stroke.through([(x, top), (x, foot)]),
        Stroke.through([(x - 0.9, top), (rim - 1.0, top)]),
        Stroke.through([(x - 0.9, foot), (base - 1.0, foot)]),
    ]
    return [
        PathItem(shapes=tuple(strokes), role="dimension", **STROKE),
        TextItem(
            text=text, x_mm=x - 1.0, y_mm=(top + foot) / 2, size_mm=SIZE_MM, anchor="middle", turn_deg=-90.0,
            fill=TEXT, role="measure",
        ),
    ]  # fmt: skip


def _bracket(view: View, low_mm: float, high_mm: float) -> tuple[PathItem, tuple[float, float]]:
    """A line beside the wall's right edge from one girth to another, a tick at each end, and its middle."""
    downs = np.array([low_mm, *(bend for bend in view.wall.bends_mm if low_mm < bend < high_mm), high_mm])
    x, y = view.place(np.full(len(downs), view.view_rad + math.pi / 2), downs)
    points = np.stack([x + APART_MM, y], axis=-1).tolist()
    ticks = [Stroke.through([(px - 1.6, py), (px + 0.6, py)]) for px, py in (points[0], points[-1])]
    xm, ym = view.place(view.view_rad + math.pi / 2, (low_mm + high_mm) / 2)
    line = PathItem(shapes=(Stroke.through(points), *ticks), role="dimension", **STROKE)
    return line, (float(xm) + APART_MM, float(ym))


def _column(labels: Iterable[_Label], view: View, x: float, right_mm: float, ground: str) -> list[Item]:
    """Labels under each other right of `x`, each with a leader to its point; those without a point come last, pale."""
    low, high = view.top_mm, view.outline.bounds[3]
    labels = sorted(labels, key=lambda label: math.inf if label.at is None else label.at[1])
    wanted = [high if label.at is None else label.at[1] for label in labels]
    pitch = min(PITCH_MM, (high - low) / max(1, len(labels) - 1))
    text_x = x + 3.0
    items: list[Item] = []
    for label, y in zip(labels, spread(wanted, pitch, low, high), strict=True):
        if label.at:
            items += _leader(label.at, (x, label.at[1]), (text_x - 0.7, y), view, ground)
        size = max(fitted_mm(label.text, SIZE_MM, right_mm - text_x), min(SIZE_MM, LEAST_SIZE_MM))
        items.append(
            TextItem(
                text=elided(label.text, size, right_mm - text_x),
                x_mm=text_x,
                y_mm=y + HALF_HEIGHT * size,
                size_mm=size,
                fill=TEXT if label.at else PALE_TEXT,
                role="measure",
            )
        )
    return items


def _leader(
    at: tuple[float, float], knee: tuple[float, float], end: tuple[float, float], view: View, ground: str
) -> list[Item]:
    """From a point level to the knee and on to the text: over the cup in its own ink, with a dot where it starts there."""
    way, ink, cup = shapely.LineString([at, knee, end]), ink_on(ground), view.outline
    over = way.intersection(cup)
    items: list[Item] = [
        PathItem(
            shapes=(Stroke.through(shapely.get_coordinates(part).tolist()),),
            stroke=colour,
            stroke_width_mm=width,
            role="leader",
        )
        for colour, width, line in ((RULE, 0.13, way.difference(cup)), (ground, HALO_MM, over), (ink, 0.13, over))
        for part in shapely.get_parts(line)
        if part.geom_type == "LineString" and part.length > 0
    ]
    if cup.buffer(-DOT_MM / 2).contains(shapely.Point(at)):
        for radius, colour in ((DOT_MM + 0.15, ground), (DOT_MM, ink)):
            items.append(filled(shapely.Point(at).buffer(radius, quad_segs=4), colour, role="dot"))
    return items


def _note(units: str, decoration: Decoration, unseen: bool, left_out: int) -> str:
    coat = ", resin included" if decoration.cup.resin_mm else ""
    note = f"Dimensions in {unit_name(units)}{coat}: height upright, clearances along the wall, strips across."
    if unseen:
        note += " Pale: on another side."
    if left_out:
        note += f" {left_out} more {'line finds' if left_out == 1 else 'lines find'} no room here."
    return note
