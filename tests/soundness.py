"""What must hold of whatever is laid on a cup, by samples and sums, without a formula of the tool."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.flat import FlatPiece
from stripegen.shapes import Shape
from stripegen.site import Site
from stripegen.smooth import SmoothWall
from stripegen.spec import Cup
from stripegen.surface import Wall
from stripegen.walls import bare_wall

CORNER_MM = 1e-9
BENT_MM = 1e-6  # over bends
SMOOTH_MM = 1e-5  # where two ways are followed by steps from different places; lengths there are promised to 1e-4
LIMIT_MM = 0.005


def unsound(laid: Decoration) -> list[str]:
    """Everything that is wrong with the pieces of a decoration."""
    found = []
    for line, pieces in zip(laid.lines, laid.pieces, strict=True):
        if not pieces or len(pieces) != len(line.strips):
            found.append(f"{line.line.name} has {len(pieces)} pieces for {len(line.strips)} strips")
        for number, piece in enumerate(pieces, 1):
            wrong = [
                *corners(piece.strip.shape),
                *measures(piece),
                *reach(piece.strip.shape, line.site, laid.cup),
            ]
            found += [f"{line.line.name}.{number} {fault}" for fault in wrong]
    return found


def corners(shape: Shape) -> list[str]:
    """Corners at which two edges do not meet."""
    found = []
    for loop in shape.loops:
        for edge, after in zip(loop, loop[1:] + loop[:1], strict=True):
            (a, v), (b, w) = edge.curve.at(edge.t1), after.curve.at(after.t0)
            apart = math.hypot(float(a - b) * edge.curve.wall.rim_radius_mm, float(v - w))
            wall = edge.curve.wall
            limit = SMOOTH_MM if isinstance(wall, SmoothWall) else BENT_MM if wall.bends_mm else CORNER_MM
            if not apart < limit:
                found.append(
                    f"has a corner open by {apart:.3g} mm at {math.degrees(float(a)):.3f}, {float(v):.3f}"
                )
    return found


def measures(piece: FlatPiece) -> list[str]:
    found = []
    polygon = shapely.Polygon(piece.points, piece.holes)
    if not polygon.is_valid:
        found.append(f"has an invalid ring: {shapely.is_valid_reason(polygon)}")
    if not 0 < piece.true_mm <= piece.cut_mm + 1e-6:
        found.append(f"has true_mm {piece.true_mm} and cut_mm {piece.cut_mm}")
    if max(map(abs, polygon.bounds[:2])) > 1e-3:
        found.append(f"does not start at (0, 0) but at {polygon.bounds[:2]}")
    area = wall_area(piece.strip.shape)
    # a strip that must stretch or shrink to lie has another area flat, by its strain at most
    wall = piece.strip.middle[0].curve.wall
    bent = isinstance(wall, SmoothWall) or wall.section(*piece.strip.shape.polygon.bounds[1::2]) is None
    slack = 0.01 * polygon.length + 1e-6 + (piece.strain + 0.03 * bent) * area
    for name, other in (("flat", piece.area_mm2), ("polygon", polygon.area)):
        if not abs(other - area) < slack:
            found.append(f"has {name} area {other:.4f} mm2, on the wall {area:.4f}")
    return found


def wall_area(shape: Shape, count: int = 400) -> float:
    """Area on the wall: the sum of r da dv, by Green's theorem the integral of r v da + ... of its border.

    With R(v) the sum of r from 0 to v, the area within a border is the integral of R da along it.
    """
    total = 0.0
    for loop in shape.loops:
        part = 0.0
        for edge in loop:
            t = np.linspace(edge.t0, edge.t1, count + 1)
            around, down = edge.curve.at(t)
            summed = _summed_radius(edge.curve.wall, down)
            # three point sums of both, so that the error falls with the fourth power of the step
            step = around[2::2] - around[:-2:2]
            bow = around[:-2:2] - 2 * around[1:-1:2] + around[2::2]
            first, mid, last = summed[:-2:2], summed[1:-1:2], summed[2::2]
            part += float(np.sum(step * (first + 4 * mid + last) / 6 + bow * (last - first) / 3))
        total = abs(part) if not total else total - abs(part)
    return total


def _summed_radius(wall: Wall, down: np.ndarray) -> np.ndarray:
    """The integral of the radius from the rim down; past the ends too."""
    if not (wall.bends_mm or isinstance(wall, SmoothWall)):
        rim, base = wall.rim_radius_mm, wall.base_radius_mm
        return down * (rim + (rim + (base - rim) * down / wall.wall_mm)) / 2
    stops = [min(0.0, down.min()) - 1, *wall.bends_mm, max(wall.wall_mm, down.max()) + 1]
    places = np.concatenate([np.linspace(a, b, 2001)[:-1] for a, b in pairwise(stops)] + [stops[-1:]])
    radius = wall.radius_mm((places[:-1] + places[1:]) / 2)
    return np.interp(down, places, np.concatenate([[0.0], np.cumsum(radius * np.diff(places))]))


def reach(shape: Shape, site: Site, cup: Cup) -> list[str]:
    """How far a shape's edges reach into a clearance or a keepout."""
    found = []
    own = bare_wall(cup).coated(cup.resin_mm)
    top, bottom = (
        float(own.carried(place, site.wall)[0])
        for place in (site.rim_clearance_mm, own.wall_mm - site.base_clearance_mm)
    )
    for edge in shape.outer:
        around, down = edge.curve.at(np.linspace(edge.t0, edge.t1, 200))
        over = max(
            top - down.min(), down.max() - bottom
        )
        if over > LIMIT_MM:
            found.append(f"reaches {over:.4f} mm into a clearance")
        for keepout in cup.keepouts:
            turn = np.mod(around - keepout.around + math.pi, 2 * math.pi) - math.pi
            aside = off_meridian(site, turn, down)
            start, stop = (float(bare_wall(cup).carried(place, site.wall)[0]) for place in (keepout.from_mm, keepout.to_mm))
            inside = np.minimum(keepout.width_mm / 2 - aside, np.minimum(down - start, stop - down)).max()
            if inside > (LIMIT_MM if not cup.profile else LIMIT_MM + 0.02 * keepout.width_mm):
                found.append(f"reaches {inside:.4f} mm into a keepout")
    return found


def off_meridian(site: Site, turn, down):
    """Distance from a meridian `turn` away, along the wall; if that is not straight, by the cone that touches it."""
    radius, part = site.wall.radius_mm(down), site.wall.slope_at(down)
    aside = radius * np.abs(turn) * np.sinc(part * turn / math.pi)
    return np.where(np.abs(part * turn) < math.pi / 2, aside, math.inf)
