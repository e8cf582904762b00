"""Upright rulers beside a flat picture: what lies how far down the wall, at the sheet's own scale."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import shapely

from stripegen.drawing import Item, PathItem, TextItem
from stripegen.lettering import HALF_HEIGHT, elided, fitted_mm, text_width_mm
from stripegen.meridians import Meridian
from stripegen.outline import Ring, Stroke
from stripegen.pictures import PALE_TEXT, RULE, TEXT, edge_colour, ink_on, mixed
from stripegen.site import Site

BAR_MM = 3.6
TEXT_AT_MM = BAR_MM + 3.2  # from the bar's left edge
MOST_TEXT_MM = 46.0
SIZE_MM, LEAST_SIZE_MM, PITCH_MM = 2.6, 1.9, 3.7
HEAD_MM = 3.4  # the ruler's name stands so far above it
MOST_BENDS = 8  # more are not named
MOST_NAMES = 30  # with more labels than this the names of lines are left out


@dataclass(frozen=True)
class Upright:
    """How high places down a wall stand on the page: `bars` are from, to (both down) and the upper end's y."""

    scale: float
    bars: tuple[tuple[float, float, float], ...]

    def y_mm(self, down_mm: float) -> float:
        """Where two bars meet, the lower one's upper end."""
        low_mm, _, top_mm = next((bar for bar in reversed(self.bars) if bar[0] <= down_mm), self.bars[0])
        return top_mm + self.scale * (down_mm - low_mm)

    def spans(self, from_mm: float, to_mm: float) -> Iterator[tuple[float, float]]:
        """What of the bars lies between two places, as y of the upper and the lower end."""
        for low_mm, high_mm, top_mm in self.bars:
            low, high = max(from_mm, low_mm), min(to_mm, high_mm)
            if low < high:
                yield top_mm + self.scale * (low - low_mm), top_mm + self.scale * (high - low_mm)


@dataclass(frozen=True)
class Ruler:
    """A ruler's items, and how far to the right they reach."""

    items: tuple[Item, ...]
    right_mm: float


@dataclass(frozen=True)
class _Label:
    down_mm: float
    text: str
    colour: str
    bold: bool = False


def wall_ruler(site: Site, ground: str, upright: Upright, x_mm: float) -> Ruler:
    """The limits of the decorated part, the levels at which distances are measured, and the wall's bends."""
    wall = site.wall
    levels = (site.top_mm, (site.top_mm + site.bottom_mm) / 2, site.bottom_mm)
    labels = [
        _Label(0.0, f"rim, {wall.girth_mm(0.0):.1f} round", PALE_TEXT),
        _Label(site.top_mm / 2, f"rim clearance {site.rim_clearance_mm:.1f}", TEXT),
        *(_Label(down, f"{down:.1f} down, {wall.girth_mm(down):.1f} round", TEXT) for down in levels),
        _Label((site.bottom_mm + wall.wall_mm) / 2, f"base clearance {site.base_clearance_mm:.1f}", TEXT),
        _Label(
            wall.wall_mm, f"base, {wall.wall_mm:.1f} down, {wall.girth_mm(wall.wall_mm):.1f} round", PALE_TEXT
        ),
    ]
    if len(wall.bends_mm) <= MOST_BENDS:
        labels += [
            _Label(down, f"bend, {down:.1f} down, {wall.girth_mm(down):.1f} round", PALE_TEXT)
            for down in wall.bends_mm
        ]
    return _ruler("wall", site, ground, upright, x_mm, (), labels)


def meridian_ruler(
    meridian: Meridian,
    site: Site,
    ground: str,
    colour_of_line: Callable[[str], str],
    upright: Upright,
    x_mm: float,
) -> Ruler:
    """What lies above each other along one meridian, with the clear distances."""
    labels = [
        _Label((drop.from_mm + drop.to_mm) / 2, f"{drop.clear_mm:.1f}", TEXT, True)
        for drop in meridian.drops
        if drop.clear_mm > 0
    ]
    if len(labels) + len(meridian.stretches) <= MOST_NAMES:
        labels += [
            _Label((stretch.from_mm + stretch.to_mm) / 2, stretch.label, PALE_TEXT)
            for stretch in meridian.stretches
        ]
    blocks = [
        (stretch.from_mm, stretch.to_mm, colour_of_line(stretch.line)) for stretch in meridian.stretches
    ]
    degrees = f"{math.degrees(meridian.around_rad) % 360:.1f}".removesuffix(".0")
    return _ruler(f"at {degrees}\u00b0", site, ground, upright, x_mm, blocks, labels)


def _ruler(
    name: str,
    site: Site,
    ground: str,
    upright: Upright,
    x_mm: float,
    blocks: Sequence[tuple[float, float, str]],
    labels: list[_Label],
) -> Ruler:
    wall_mm = site.wall.wall_mm
    ink = ink_on(ground)
    top_mm, foot_mm = upright.y_mm(0.0), upright.y_mm(wall_mm)
    items: list[Item] = [
        TextItem(text=name, x_mm=x_mm, y_mm=top_mm - HEAD_MM, size_mm=3.0, fill=TEXT, bold=True, role="ruler")
    ]

    def bars(from_mm: float, to_mm: float, **style) -> Iterator[PathItem]:
        for y0, y1 in upright.spans(from_mm, to_mm):
            points = shapely.get_coordinates(shapely.box(x_mm, y0, x_mm + BAR_MM, y1).exterior)[:-1].tolist()
            yield PathItem(shapes=(Ring.through(map(tuple, points)),), **style)

    items += bars(0.0, wall_mm, fill=ground, role="bar")
    tint = mixed(ground, ink, 0.14)
    items += bars(0.0, site.top_mm, fill=tint, role="bar")
    items += bars(site.bottom_mm, wall_mm, fill=tint, role="bar")
    for from_mm, to_mm, colour in blocks:
        stroke = edge_colour(colour, ground)
        items += bars(from_mm, to_mm, fill=colour, stroke=stroke, stroke_width_mm=0.12, role="block")
    items += bars(0.0, wall_mm, stroke=RULE, stroke_width_mm=0.15, role="bar")

    labels = sorted(labels, key=lambda label: label.down_mm)
    pitch = min(PITCH_MM, (foot_mm - top_mm) / max(1, len(labels) - 1))
    size = min(SIZE_MM, 0.78 * pitch)
    wanted = [upright.y_mm(label.down_mm) for label in labels]
    places = spread(wanted, pitch, top_mm, foot_mm)
    right = x_mm + BAR_MM
    for label, at, y in zip(labels, wanted, places, strict=True):
        leader = Stroke.through(
            [(x_mm + BAR_MM, at), (x_mm + BAR_MM + 0.8, at), (x_mm + TEXT_AT_MM - 0.6, y)]
        )
        items.append(PathItem(shapes=(leader,), stroke=RULE, stroke_width_mm=0.12, role="leader"))
        fitted = max(fitted_mm(label.text, size, MOST_TEXT_MM, label.bold), min(size, LEAST_SIZE_MM))
        text = TextItem(
            text=elided(label.text, fitted, MOST_TEXT_MM),
            x_mm=x_mm + TEXT_AT_MM,
            y_mm=y + HALF_HEIGHT * fitted,
            size_mm=fitted,
            fill=label.colour,
            bold=label.bold,
            role="ruler",
        )
        items.append(text)
        right = max(right, text.x_mm + text_width_mm(text.text, fitted, label.bold))
    return Ruler(tuple(items), right)


def spread(places: Sequence[float], pitch: float, low: float, high: float) -> list[float]:
    """Places in order, moved as little as can be (least squares) so that no two are nearer than the pitch.

    All end up from `low` to `high`, which must have room for them.
    """
    # with i * pitch taken off, the places must not decrease: neighbours that do are pooled at their mean
    pools: list[tuple[float, int]] = []
    for index, place in enumerate(places):
        pools.append((place - index * pitch, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (first, many), (second, more) = pools[-2:]
            pools[-2:] = [((first * many + second * more) / (many + more), many + more)]
    means = [mean for mean, count in pools for _ in range(count)]
    most = high - (len(means) - 1) * pitch
    return [max(low, min(mean, most)) + index * pitch for index, mean in enumerate(means)]
