"""The key `fit` of a cup table: a girth as a paper ring read it, by which all radii are put right.

Every bare radius is shifted by the same amount, so that the girth at the ring's place, resin included, is as read; slopes
and lengths stay as measured.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise

from stripegen.errors import GeometryError
from stripegen.profiles import MeasuredWall
from stripegen.spec import ProfilePoint
from stripegen.surface import Wall
from stripegen.tables import Table
from stripegen.walls import wall_of

MOST_OFF = 0.05  # a reading further off is a slip
EVEN_MM = 1e-6  # sections as long as each other, places half way between whole millimetres

_FORM = "{ down = 60, circumference = 231.5 }"


def ring_down_mm(wall: Wall) -> float:
    """The place of a cup's paper ring on its wall, in whole mm: half way down, or down the longest straight section.

    It depends on slopes and lengths alone, which a fit leaves as they are.
    """
    low, high = max(_sections(wall), key=lambda section: round((section[1] - section[0]) / EVEN_MM))
    middle_mm = (low + high) / 2
    whole_mm = float(math.floor(middle_mm + 0.5 + EVEN_MM))
    return whole_mm if low < whole_mm < high else middle_mm


def section_end_mm(wall: Wall, down_mm: float) -> float:
    """Where the section ends that holds a place."""
    return next(high for low, high in _sections(wall) if down_mm < high)


def _sections(wall: Wall) -> list[tuple[float, float]]:
    return list(pairwise((0.0, *wall.bends_mm, wall.wall_mm)))


def read_fit(
    table: Table, wall: MeasuredWall, resin_mm: float, *, ring_mm: float | None = None, checked: bool = True
) -> MeasuredWall | None:
    """A cup's wall with the fit of its table, if it has one. None after a fault.

    Parameters
    ----------
    ring_mm : where a fit was read that tells no place, if not where the ring of this wall lies
    checked : whether the reading must be near to what the measures make it
    """
    if "fit" not in table:
        return wall
    try:
        coated = wall_of(*wall).coated(resin_mm)
    except GeometryError:
        return wall  # told where the cup is decorated
    if isinstance(table.values["fit"], Mapping):
        entry = table.child("fit", _FORM)
        down_mm, girth_mm = entry.length("down"), entry.length("circumference", above_mm=0)
        entry.finish(("down", "circumference"))
    else:
        down_mm = ring_down_mm(coated) if ring_mm is None else ring_mm
        girth_mm = table.length("fit", above_mm=0)
    if down_mm is None or girth_mm is None:
        return None
    if down_mm > coated.wall_mm:
        table.fault("fit", f"must be read on the wall, which ends {coated.wall_mm:.2f} mm down")
        return None
    made_mm = float(coated.girth_mm(down_mm))
    if checked and abs(girth_mm - made_mm) > MOST_OFF * made_mm:
        table.fault(
            "fit",
            f"must be within {MOST_OFF:.0%} of what the other measures make it {down_mm:g} mm down, {made_mm:.1f} mm round"
            f" where fit says {girth_mm:.1f} mm; measure both again",
        )
        return None
    return _shifted(table, wall, (girth_mm - made_mm) / math.tau)


def _shifted(table: Table, wall: MeasuredWall, by_mm: float) -> MeasuredWall | None:
    profile = tuple(ProfilePoint(point.radius_mm + by_mm, point.height_mm) for point in wall.profile)
    shifted = wall._replace(rim_mm=wall.rim_mm + by_mm, base_mm=wall.base_mm + by_mm, profile=profile)
    if shifted.least_radius_mm(0.0, wall.length_mm) <= 0:
        table.fault("fit", "would leave nothing of the narrow end; measure again")
        return None
    return shifted
