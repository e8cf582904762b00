"""The wall of a cup, of whichever kind its measures make it."""

from __future__ import annotations

from collections.abc import Sequence

from stripegen.sections import SectionWall
from stripegen.smooth import SmoothWall
from stripegen.spec import Cup
from stripegen.surface import Frustum, Wall


def bare_wall(cup: Cup) -> Wall:
    """The wall as measured, without resin. Raises GeometryError where there can be none."""
    return wall_of(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm, cup.profile, cup.smooth)


def wall_of(
    rim_mm: float, base_mm: float, length_mm: float, profile: Sequence[tuple[float, float]], smooth: bool
) -> Wall:
    """The wall with such radii and such a length, or through the points of a profile where it has any."""
    if not profile:
        return Frustum.from_radii(rim_mm, base_mm, length_mm)
    return (SmoothWall if smooth else SectionWall).through(profile)
