"""Cups turned from profiles, each as the tool's wall and as points in space."""

from __future__ import annotations

import math
from functools import cache
from random import Random

from reference_walls import Turned
from strategies import a_cup

from stripegen.sections import SectionWall
from stripegen.smooth import SmoothWall
from stripegen.spec import Cup, ProfilePoint
from stripegen.surface import Wall

RESINS = (0.0, 0.8)
SECTIONS = {  # (radius, height) from the rim down
    "bent out": ((43.0, 152.0), (41.0, 84.0), (31.0, 3.0)),
    "bent in": ((46.0, 150.0), (36.0, 86.0), (33.0, 0.0)),
    "waist": ((42.0, 150.0), (34.0, 80.0), (38.0, 2.0)),
    "bulge": ((35.0, 151.0), (44.0, 78.0), (37.0, 0.0)),
    "shoulder": ((26.0, 150.0), (26.0, 128.0), (39.0, 112.0), (36.0, 0.0)),
    "ledge": ((43.0, 140.0), (41.0, 78.0), (35.0, 78.0), (31.0, 0.0)),
    "upright": ((44.0, 148.0), (36.0, 94.0), (36.0, 30.0), (39.0, 0.0)),
    "wider": ((30.0, 145.0), (34.0, 76.0), (44.0, 0.0)),
}
SMOOTH = {
    "bowed": ((38.0, 150.0), (43.5, 100.0), (42.0, 50.0), (34.0, 0.0)),
    "hollow": ((42.0, 150.0), (36.0, 95.0), (35.0, 55.0), (38.0, 0.0)),
    "s-shape": ((41.0, 150.0), (36.0, 112.0), (40.0, 58.0), (38.0, 25.0), (31.0, 0.0)),
}
PROFILES = SECTIONS | SMOOTH
STRAIGHT = {"cylinder": ((40.0, 120.0), (40.0, 0.0)), "cone": ((43.0, 152.0), (31.0, 2.0))}


def built(points, smooth: bool, resin: float) -> Wall:
    return (SmoothWall if smooth else SectionWall).through(points).coated(resin)


@cache
def walls_of(name: str, resin: float = 0.0) -> tuple[Wall, Turned]:
    smooth = name in SMOOTH
    return built(PROFILES[name], smooth, resin), Turned(PROFILES[name], smooth, resin)


def cup_through(points, smooth: bool, resin: float = 0.0) -> Cup:
    """A cup as measured: its wall's length is that of the bare wall."""
    profile = tuple(ProfilePoint(*point) for point in points)
    length = Turned(points, smooth).length
    return a_cup(points[0][0], points[-1][0], length, profile=profile, smooth=smooth, resin_mm=resin)


def random_profile(seed: int, smooth: bool):
    """Points of a profile as cups have them: no section shorter than 15 mm, no slope above 0.5."""
    rng = Random(seed)
    while True:
        steps = [rng.uniform(18, 70) for _ in range(rng.randint(2, 4))]
        if not 90 < sum(steps) < 180:
            continue
        heights = [sum(steps)]
        radii = [rng.uniform(30, 46)]
        for step in steps:
            heights.append(max(0.0, heights[-1] - step))
            radii.append(radii[-1] + rng.choice([0.0, 1.0, 1.0]) * rng.uniform(-0.35, 0.35) * step)
        if min(radii) > 22 and max(radii) < 60 and abs(radii[-1] - radii[0]) < 0.5 * sum(steps):
            return tuple(zip(radii, heights, strict=True))


def random_way(seed: int, length: float, widest_rad: float = math.radians(500)):
    """Two places on a wall of that length, none nearly on a level with the other."""
    rng = Random(seed)
    start, end = sorted((rng.uniform(16, length - 14), rng.uniform(16, length - 14)))
    if end - start < 12:
        end, start = min(length - 12, end + 15), max(14.0, start - 15)
    turn = rng.choice([rng.uniform(0.2, 3.0), rng.uniform(3.0, widest_rad)]) * rng.choice([-1, 1])
    around = rng.uniform(-3, 3)
    places = (around, start), (around + turn, end)
    return places if rng.random() < 0.6 else ((around, end), (around + turn, start))
