"""Bare cups as measured, and what is already on them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from stripegen.errors import Where
from stripegen.spec.checks import NOWHERE, check_above_zero, check_finite, check_not_negative
from stripegen.spec.places import Along, Around, check_places

if TYPE_CHECKING:
    from stripegen.panelspec import Panel

ALIKE_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """Where two panels meet: one place, or one at the rim and one at the base (a leaning seam).

    `opening_mm` is how far apart the panels lie there.
    """

    name: str
    rim: float | Along
    base: float | Along
    opening_mm: float = 0.0

    def __post_init__(self) -> None:
        check_places(rim=self.rim, base=self.base)
        check_not_negative(opening_mm=self.opening_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Keepout:
    """A part of the wall that no piece may enter, such as a handle's root: `width_mm` about a meridian."""

    around: Around
    width_mm: float
    from_mm: float
    to_mm: float

    def __post_init__(self) -> None:
        check_places(around=self.around)
        check_above_zero(width_mm=self.width_mm)
        check_not_negative(from_mm=self.from_mm, to_mm=self.to_mm)
        if self.from_mm >= self.to_mm:
            raise ValueError(f"from_mm must be less than to_mm: got {self.from_mm} and {self.to_mm}")


class ProfilePoint(NamedTuple):
    """A point of a bare cup's wall: half its width there, and its upright height above any one level."""

    radius_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Misread:
    """One length that was measured on a cup, in the words of its table: `rim circumference`.

    `of` gives a cup as it would have been had that length been read 1 mm longer (the cup it is of, or that
    with other seams); None where no cup can have such measures. It works only when called.
    """

    label: str
    of: Callable[[Cup], Cup | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cup:
    """A bare cup, as measured, and what is already on it.

    Its wall is straight from rim to base where `profile` is empty. Else it runs through the profile's
    points, from the rim down: straight between them, or, if `smooth`, along a natural cubic spline of radius
    against height. `wall_mm` is the wall's length either way. `seal_mm` is the resin to come over the strips.
    """

    name: str
    rim_radius_mm: float
    base_radius_mm: float
    wall_mm: float
    profile: tuple[ProfilePoint, ...] = ()
    smooth: bool = False
    resin_mm: float = 0.0
    seal_mm: float | None = None
    rim_clearance_mm: float | None = None
    base_clearance_mm: float | None = None
    keepouts: tuple[Keepout, ...] = ()
    seams: Mapping[str, Seam] = field(default_factory=dict)
    panels: tuple[Panel, ...] = ()
    colour: str = "#e9e6df"
    misreads: tuple[Misread, ...] = field(default=(), compare=False, repr=False)
    where: Where = field(default=NOWHERE, compare=False)

    def __post_init__(self) -> None:
        check_above_zero(
            rim_radius_mm=self.rim_radius_mm, base_radius_mm=self.base_radius_mm, wall_mm=self.wall_mm
        )
        check_not_negative(
            resin_mm=self.resin_mm,
            seal_mm=self.seal_mm,
            rim_clearance_mm=self.rim_clearance_mm,
            base_clearance_mm=self.base_clearance_mm,
        )
        taper_mm = abs(self.base_radius_mm - self.rim_radius_mm)
        if taper_mm >= self.wall_mm:
            raise ValueError(
                f"wall_mm must be above {taper_mm}, by which the radii differ: got {self.wall_mm}"
            )
        if self.profile:
            self.check_profile()
        elif self.smooth:
            raise ValueError("smooth needs a profile")

    def with_panels(self, panels: tuple[Panel, ...]) -> Cup:
        """This cup with other panels in place of its own, if there are any."""
        return replace(self, panels=panels) if panels else self

    def with_seams(self, seams: Mapping[str, Seam]) -> Cup:
        """This cup with other seams laid over its own: one of the same name is replaced."""
        return replace(self, seams={**self.seams, **seams}) if seams else self

    def check_profile(self) -> None:
        points = self.profile
        if len(points) < (3 if self.smooth else 2):
            raise ValueError(f"profile has too few points: got {len(points)}")
        for point in points:
            check_above_zero(radius_mm=point.radius_mm)
            check_finite(height_mm=point.height_mm)
        for upper, lower in pairwise(points):
            if upper.height_mm < lower.height_mm or (self.smooth and upper.height_mm == lower.height_mm):
                raise ValueError(
                    f"profile must fall from the rim to the base: got {upper.height_mm} above {lower.height_mm}"
                )
        for name, radius_mm, end in (
            ("rim_radius_mm", self.rim_radius_mm, points[0]),
            ("base_radius_mm", self.base_radius_mm, points[-1]),
        ):
            if abs(radius_mm - end.radius_mm) > ALIKE_MM:
                raise ValueError(f"{name} must be that of the profile, {end.radius_mm}: got {radius_mm}")
        chords_mm = math.fsum(math.dist(*pair) for pair in pairwise(points))
        # A smooth wall is at least as long as its chords; how long it is, its own curve knows.
        short = self.wall_mm < chords_mm - ALIKE_MM
        if short or (not self.smooth and self.wall_mm > chords_mm + ALIKE_MM):
            raise ValueError(f"wall_mm must be that of the profile, {chords_mm}: got {self.wall_mm}")
