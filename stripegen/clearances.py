"""How far every line keeps from the rim, the base and each keepout, along the wall.

The shortest way from a place to the rim or the base is the meridian: so that distance is what lies between them down
the wall, from the line's uppermost or lowest place. That to a keepout is the shortest way between their edges.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from stripegen.borders import Border, extremes_mm, least_apart
from stripegen.neighbours import Lying
from stripegen.shapes import images
from stripegen.site import Site
from stripegen.ways import Ways


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """What is clear about one copy of a line.

    `rim_mm` and `base_mm` are from the ends of the wall itself; `rim_limit_mm` and `base_limit_mm` from those of the
    decorated part, inside the clearances. `keepouts_mm`: to each keepout, in the cup's order; 0 where it is cut there.
    """

    label: str
    line: str
    rim_mm: float
    rim_limit_mm: float
    base_mm: float
    base_limit_mm: float
    keepouts_mm: tuple[float, ...]


def clearances_of(lyings: Sequence[Lying], site: Site, ways: Ways) -> list[Clearance]:
    """For each copy of each line, what is seen of it and what is not."""
    known: dict[tuple, tuple[Border, float, tuple[float, float]]] = {}
    return [_clearance(lying, site, ways, known) for lying in lyings]


def _clearance(lying: Lying, site: Site, ways: Ways, known: dict) -> Clearance:
    origin, turn_rad = lying.region[0].origin
    key = (id(origin), *((id(s.origin[0]), round(s.origin[1] - turn_rad, 7)) for s in lying.region[1:]))
    if key not in known:
        border = Border.of(lying.region, ways)
        known[key] = border, turn_rad, extremes_mm(border)
    border, own_rad, (upper_mm, lower_mm) = known[key]
    border = border.turned(turn_rad - own_rad)
    low = min(shape.around_range[0] for shape in lying.region)
    high = max(shape.around_range[1] for shape in lying.region)
    keepouts = []
    for keepout in site.keepouts:
        near = images([keepout], (low - math.pi, high + math.pi))
        keepouts.append(min(least_apart(border, Border.of([image], ways), ways).mm for image in near))
    return Clearance(
        label=lying.label,
        line=lying.line.name,
        rim_mm=upper_mm,
        rim_limit_mm=upper_mm - site.top_mm,
        base_mm=site.wall.wall_mm - lower_mm,
        base_limit_mm=site.bottom_mm - lower_mm,
        keepouts_mm=tuple(keepouts),
    )
