"""The wall of a cup, of whichever kind its measures make it."""

from __future__ import annotations

from stripegen.sections import SectionWall
from stripegen.smooth import SmoothWall
from stripegen.spec import Cup
from stripegen.surface import Frustum, Wall


def bare_wall(cup: Cup) -> Wall:
    """The wall as measured, without resin. Raises GeometryError where there can be none."""
    if not cup.profile:
        return Frustum.from_radii(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm)
    return (SmoothWall if cup.smooth else SectionWall).through(cup.profile)
