"""Cups whose wall is not straight, their lines, and their walls as points in space: what the tests of pictures look at."""

from __future__ import annotations

import math

import numpy as np
import shapely
from reference_walls import Turned

from stripegen.sections import SectionWall
from stripegen.shapes import Shape
from stripegen.smooth import SmoothWall
from stripegen.spec import Chevron, Cup, Diagonal, Down, ProfilePoint, Ring, Seam, Vertical


def profiled(*points: tuple[float, float], smooth: bool = False, **more) -> Cup:
    """A cup through points (radius, height) from the rim down, its seams leaning."""
    wall = (SmoothWall if smooth else SectionWall).through(points)
    return Cup(
        name="cup",
        rim_radius_mm=points[0][0],
        base_radius_mm=points[-1][0],
        wall_mm=wall.wall_mm,
        profile=tuple(ProfilePoint(*point) for point in points),
        smooth=smooth,
        seams={
            "front": Seam(name="front", rim=0.0, base=0.15),
            "back": Seam(name="back", rim=math.pi, base=math.pi - 0.1),
        },
        **more,
    )


PROFILED = {
    "bent-out": profiled((42.0, 150.0), (45.0, 100.0), (30.0, 0.0)),
    "ledge": profiled((42.0, 150.0), (42.0, 80.0), (34.0, 80.0), (32.0, 0.0)),
    "shoulder": profiled((30.0, 150.0), (42.0, 140.0), (42.0, 60.0), (30.0, 0.0), resin_mm=0.8),
    "bulge": profiled((42.0, 150.0), (47.0, 110.0), (44.0, 60.0), (30.0, 0.0), smooth=True, resin_mm=0.8),
}


def share(percent: float) -> Down:
    return Down(percent / 100, is_share=True)


LINES = (
    Vertical(name="edge", vinyl="main", width_mm=5.0, around=("front", "back")),
    Ring(name="hoop", vinyl="trim", width_mm=4.0, downs=(share(12),)),
    Diagonal(
        name="sash",
        vinyl="trim",
        width_mm=3.0,
        start_around=0.4,
        start_down=share(25),
        end_around=2.0,
        end_down=share(90),
    ),
    Chevron(name="wave", vinyl="main", width_mm=3.0, top=share(45), bottom=share(75), points=6),
)


def turned(cup: Cup) -> Turned:
    """A cup's coated wall in space; a straight one too."""
    if cup.profile:
        return Turned.of(cup)
    height = math.sqrt(cup.wall_mm**2 - (cup.rim_radius_mm - cup.base_radius_mm) ** 2)
    return Turned([(cup.rim_radius_mm, height), (cup.base_radius_mm, 0.0)], resin=cup.resin_mm)


def area_on(wall: Turned, shape: Shape, low_mm: float, high_mm: float, rows: int = 400) -> float:
    """What of a shape lies between two places down, in mm^2: its width at many heights, summed."""
    scale = shape.outer[0].curve.wall.mean_radius_mm
    _, top, _, bottom = shape.polygon.bounds
    low, high = max(low_mm, top), min(high_mm, bottom)
    if not low < high:
        return 0.0
    downs = low + (np.arange(rows) + 0.5) * (high - low) / rows
    x0, _, x1, _ = shape.polygon.bounds
    lines = shapely.linestrings([[(x0 - 1, down), (x1 + 1, down)] for down in downs.tolist()])
    widths = shapely.length(shapely.intersection(lines, shape.polygon)) / scale
    return float(np.sum(widths * wall.radius(downs))) * (high - low) / rows
