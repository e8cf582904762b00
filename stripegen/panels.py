"""Printed panels on the wall, and their pictures warped onto a page."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.artwork import Artwork, jpeg
from stripegen.drawing import GroupItem, ImageItem, Item, PathItem
from stripegen.outline import Ring
from stripegen.panelspec import Panel
from stripegen.shapes import FULL_TURN
from stripegen.site import Site

ROWS_MM = 4.0  # between places down at which a panel's sides are looked up
PIXELS_PER_MM = 6.0
MOST_PIXELS = 2400  # along a side
WHOLE_TURN_RAD = 1e-9

Spots = tuple[np.ndarray, np.ndarray]
"""Arrays of around (radians) and down (mm)."""


@dataclass(frozen=True, eq=False)
class LaidPanel:
    """A panel on a cup's wall: at each of `down_mm` it reaches from `from_rad` to `to_rad`, to the right."""

    down_mm: np.ndarray
    from_rad: np.ndarray
    to_rad: np.ndarray
    colour: str | None
    art: Artwork | None
    image: str | None = None

    @property
    def polygon(self) -> shapely.Polygon:
        """The panel in the plane of (around, down)."""
        right = np.stack([self.to_rad, self.down_mm], axis=-1)
        left = np.stack([self.from_rad, self.down_mm], axis=-1)
        return shapely.Polygon(np.concatenate([left, right[::-1]]))

    def colours(self, around_rad: np.ndarray, down_mm: np.ndarray) -> np.ndarray:
        """What its picture shows at places of the wall, (..., 3); beyond its sides the colour next to them."""
        first, last = (np.interp(down_mm, self.down_mm, side) for side in (self.from_rad, self.to_rad))
        middle = (first + last) / 2
        turn = np.mod(around_rad - middle + math.pi, FULL_TURN) - math.pi
        right = np.clip(turn / (last - first) + 0.5, 0.0, 1.0)
        down = np.clip((down_mm - self.down_mm[0]) / (self.down_mm[-1] - self.down_mm[0]), 0.0, 1.0)
        return self.art.sampled(right, down)


def laid_panels(panels: Sequence[Panel], site: Site, artworks: Mapping[str, Artwork]) -> list[LaidPanel]:
    """The panels on a cup's wall, those off it left out. Artworks are by the names of their files."""
    wall = site.wall
    found = []
    for panel in panels:
        top, bottom = panel.top_mm or 0.0, min(panel.bottom_mm or wall.wall_mm, wall.wall_mm)
        if top >= bottom:
            continue
        count = max(2, math.ceil((bottom - top) / ROWS_MM) + 1)
        downs = np.union1d(np.linspace(top, bottom, count), [bend for bend in wall.bends_mm if top < bend < bottom])
        first, last = (
            np.unwrap([site.around_rad(place, float(down)) for down in downs])
            for place in (panel.from_around, panel.to_around)
        )
        turn = np.mod(last[0] - first[0] - WHOLE_TURN_RAD, FULL_TURN) + WHOLE_TURN_RAD
        last = last + (first[0] + turn - last[0])
        art = artworks.get(panel.image) if panel.image else None
        found.append(LaidPanel(downs, first, last, panel.colour, art, panel.image))
    return found


def parts_of_panel(
    panel: LaidPanel, low_rad: float, high_rad: float, low_mm: float = -math.inf, high_mm: float = math.inf
) -> Iterator[shapely.Polygon]:
    """What of a panel lies between two meridians, up to a turn apart, and two parallels, in the plane of (around, down)."""
    box = shapely.box(low_rad, max(low_mm, panel.down_mm[0]), high_rad, min(high_mm, panel.down_mm[-1]))
    polygon = panel.polygon
    x0, _, x1, _ = polygon.bounds
    for number in range(math.ceil((low_rad - x1) / FULL_TURN), math.floor((high_rad - x0) / FULL_TURN) + 1):
        moved = shapely.transform(polygon, lambda points, by=number * FULL_TURN: points + (by, 0.0))
        for part in shapely.get_parts(moved.intersection(box)):
            if part.geom_type == "Polygon" and part.area > 1e-9:
                yield part


def panel_item(
    panel: LaidPanel,
    rings: tuple[Ring, ...],
    spots: Callable[[np.ndarray, np.ndarray], Spots],
    fill: object,
    shade: Callable[[np.ndarray], np.ndarray] | None = None,
) -> Iterator[Item]:
    """A part of a panel on a page, whose outline there is `rings`, filled, with its picture over it.

    `spots` gives the places of the wall that points of the page show; `shade` the light there, by around.
    """
    if fill is not None:
        yield PathItem(shapes=rings, fill=fill, role="panel")
    if panel.art is None:
        return
    points = np.array([point for ring in rings for point in ring.points(0.05)])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    wide, high = (max(2, min(MOST_PIXELS, math.ceil((b - a) * PIXELS_PER_MM))) for a, b in ((x0, x1), (y0, y1)))
    x = x0 + (np.arange(wide) + 0.5) * ((x1 - x0) / wide)
    y = y0 + (np.arange(high) + 0.5) * ((y1 - y0) / high)
    around, down = spots(*np.meshgrid(x, y))
    pixels = panel.colours(around, down)
    if shade is not None:
        pixels = pixels * shade(around)[..., None]
    image = ImageItem(
        x_mm=float(x0), y_mm=float(y0), width_mm=float(x1 - x0), height_mm=float(y1 - y0), jpeg=jpeg(pixels), role="art"
    )
    yield GroupItem(items=(image,), clip=rings[0], role="panel")
