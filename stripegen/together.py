"""Pieces that keep their places to each other: laid flat as one, to be lifted as one with transfer tape.

What lies on one straight section is unrolled about one place; the stripes of one line, wherever they lie, can also be
laid flat along the line's own centre. A piece keeps a frame of its own, and knows where that lies in its unit's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from stripegen.bands import middle
from stripegen.charts import Followed, Unrolled
from stripegen.errors import GeometryError
from stripegen.flat import FlatPiece, half_way, lay_flat_in
from stripegen.laid import LaidLine, Strip
from stripegen.overlay import overlay
from stripegen.shapes import FULL_TURN

TOUCH_MM2 = 1e-3  # pieces that share more than this cross
BRIDGED_MM = (1.0, 2.0, 4.0, 8.0, 16.0)  # gaps in a unit that its border passes over, the first that suffices


@dataclass(frozen=True)
class Member:
    """A piece of a unit. `lines` are the names of the lines of which it was made."""

    lines: tuple[str, ...]
    flat: FlatPiece


@dataclass(frozen=True)
class Unit:
    """Pieces that are placed as one: in the unit's frame each is turned and moved by its pose (turn_rad, dx, dy)."""

    members: tuple[Member, ...]
    poses: tuple[tuple[float, float, float], ...]

    @cached_property
    def border(self) -> shapely.Polygon:
        """A shape without holes, in the unit's frame, in which all the pieces lie and nothing else should."""
        pieces = [
            shapely.Polygon(*member.flat.outline.moved(*pose).points(0.005))
            for member, pose in zip(self.members, self.poses, strict=True)
        ]
        whole = shapely.unary_union(pieces)
        for gap in BRIDGED_MM:
            closed = shapely.buffer(whole, gap / 2 + 0.01, join_style="mitre").buffer(-gap / 2, join_style="mitre")
            if closed.geom_type == "Polygon":
                return shapely.Polygon(shapely.simplify(closed, 0.001).buffer(0.002).exterior)
        return shapely.convex_hull(whole)


def line_units(laid: LaidLine, strips: Sequence[Sequence[Strip]]) -> list[Unit]:
    """One unit for each course of a line, of the strips that are left of it, in order."""
    units, known = [], {}
    for cut, left in zip(laid.cuts, strips, strict=True):
        firsts = tuple(id(strip.first or strip) for strip in left)
        if firsts in known:
            members = zip(known[firsts].members, left, strict=True)
            copies = [replace(member, flat=member.flat.of_copy(strip)) for member, strip in members]
            units.append(replace(known[firsts], members=tuple(copies)))
        elif left:
            centre = middle(cut.course, 0.0)
            edges = [edge for strip in left for edge in strip.shape.outer]
            chart = _section_chart(left) or Followed(centre, *half_way(centre), edges)
            known[firsts] = _unit([((laid.line.name,), strip) for strip in left], chart)
            units.append(known[firsts])
    return units


def pattern_units(named: Sequence[tuple[str, Strip]], joint_rad: float) -> tuple[list[Unit], int]:
    """All strips of one vinyl on a cup, one unit a section, those of it that cross made one; and how many lie over bends.

    A strip over a bend is a unit by itself, and joined to none.

    Raises GeometryError on a smooth wall, which can't be laid flat whole.
    """
    if not named:
        return [], 0
    wall = named[0][1].middle[0].curve.wall
    if wall.section(0.0, 0.0) is None:
        raise GeometryError("together = true is for walls with straight sections, and this one is smooth", "give it to lines")
    groups: dict[float, list[tuple[str, Strip]]] = {}
    alone: list[tuple[str, Strip]] = []
    for name, strip in named:
        _, top, _, bottom = strip.shape.polygon.bounds
        held = wall.section(top, bottom)
        if held:
            groups.setdefault(held[1], []).append((name, _from(strip, joint_rad)))
        else:
            alone.append((name, strip))
    units = []
    for group in groups.values():
        joined = _joined(group)
        units.append(_unit(joined, _section_chart([strip for _, strip in joined])))
    for name, strip in alone:
        units.append(_unit([((name,), strip)], Followed(strip.middle, *half_way(strip.middle), strip.shape.outer)))
    return units, len(alone)


def _from(strip: Strip, joint_rad: float) -> Strip:
    """The strip turned by whole turns to begin within a turn to the right of the joint."""
    low, _ = strip.shape.around_range
    turns = math.floor((low - joint_rad) / FULL_TURN + 1e-9)
    return strip.turned(-turns * FULL_TURN) if turns else strip


def _joined(named: Sequence[tuple[str, Strip]]) -> list[tuple[tuple[str, ...], Strip]]:
    """The strips, those that cross made one: its lengths are the sums, its middle that of its longest."""
    polygons = [strip.shape.polygon for _, strip in named]
    group = list(range(len(named)))
    tree = shapely.STRtree(polygons)
    for first, second in zip(*tree.query(polygons, predicate="intersects"), strict=True):
        if first < second and polygons[first].intersection(polygons[second]).area > TOUCH_MM2:
            old, new = group[second], group[first]
            group = [new if number == old else number for number in group]
    found = []
    for number in dict.fromkeys(group):
        own = [named[index] for index, of in enumerate(group) if of == number]
        if len(own) == 1:
            found.append(((own[0][0],), own[0][1]))
            continue
        longest = max((strip for _, strip in own), key=lambda strip: strip.cut_mm)
        for shape in overlay([strip.shape for _, strip in own]):
            strip = replace(longest, shape=shape, width_mm=max(strip.width_mm for _, strip in own), first=None)
            lengths = {key: sum(getattr(strip, key) for _, strip in own) for key in ("cut_mm", "true_mm")}
            strip.__dict__.update(lengths)
            found.append((tuple(dict.fromkeys(name for name, _ in own)), strip))
    return found


def _section_chart(strips: Sequence[Strip]) -> Unrolled | None:
    """The section on which all of some strips lie, unrolled about their middle; None if none holds them."""
    bounds = np.array([strip.shape.polygon.bounds for strip in strips])
    wall = strips[0].middle[0].curve.wall
    held = wall.section(float(bounds[:, 1].min()), float(bounds[:, 3].max()))
    if not held:
        return None
    low, high = float(bounds[:, 0].min()), float(bounds[:, 2].max())
    down = float(bounds[:, 1].min() + bounds[:, 3].max()) / 2
    return Unrolled(*held, ((low + high) / 2 / wall.mean_radius_mm, down))


def _unit(named: Sequence[tuple[tuple[str, ...], Strip]], chart: Unrolled | Followed) -> Unit:
    members, poses = [], []
    for names, strip in named:
        flat, pose = lay_flat_in(strip, chart)
        members.append(Member(names, flat))
        poses.append(pose)
    unit = Unit(tuple(members), tuple(poses))
    polygons = [
        shapely.Polygon(*member.flat.outline.moved(*pose).points(0.005))
        for member, pose in zip(members, poses, strict=True)
    ]
    for first, second in zip(*shapely.STRtree(polygons).query(polygons, predicate="intersects"), strict=True):
        if first < second and polygons[first].intersection(polygons[second]).area > 1.0:
            raise GeometryError("laid flat together, its pieces would lie over each other", "leave together out")
    return unit
