"""Whether strips lie on each other where nobody can mean it: wholly hidden, or along each other for a long way.

What merely crosses, goes under another, or lies on a wider one is as it was asked for.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import shapely

from stripegen.crossings import Cross
from stripegen.decoration import Decoration
from stripegen.errors import Figure, Notice
from stripegen.pictures import in_painting_order
from stripegen.shapes import Shape, images
from stripegen.spec import Line
from stripegen.units import show_length

HIDDEN = 0.99  # of a strip's area
FLAT_DEG = 6.0  # lines that cross at less lie on each other for ten widths and more


def overlap_notices(decoration: Decoration, crossings: Sequence[Cross], unit: str = "mm") -> list[Notice]:
    """A warning for each line of which strips are wholly hidden, and for each two that cross too flatly."""
    return [*_hidden(decoration), *_flat(decoration, crossings, unit)]


def _laid(decoration: Decoration) -> list[tuple[str, Shape]]:
    """Every strip on the cup's own wall, each before those that lie over it, and the name of its line."""
    lines = sorted(
        in_painting_order([laid.line for laid in decoration.lines]),
        key=lambda line: decoration.cup.resin_mm if line.resin_mm is None else line.resin_mm,
    )
    laid = {laid.line.name: laid for laid in decoration.lines}
    return [
        (line.name, strip.shape.carried(decoration.site.wall)) for line in lines for strip in laid[line.name].strips
    ]


def _hidden(decoration: Decoration) -> list[Notice]:
    strips = _laid(decoration)
    low = min(shape.around_range[0] for _, shape in strips)
    high = max(shape.around_range[1] for _, shape in strips)
    over = [(number, image) for number, (_, shape) in enumerate(strips) for image in images([shape], (low, high))]
    numbers, polygons = [number for number, _ in over], [image.polygon for _, image in over]
    tree = shapely.STRtree(polygons)
    hidden: Counter[str] = Counter()
    covers: dict[str, str] = {}
    for number, (name, shape) in enumerate(strips):
        polygon = shape.polygon
        later = [index for index in tree.query(polygon) if numbers[index] > number]
        if sum(polygons[index].area for index in later) < HIDDEN * polygon.area:
            continue
        seen = polygon.difference(shapely.union_all([polygons[index] for index in later]))
        if seen.area <= (1 - HIDDEN) * polygon.area:
            hidden[name] += 1
            covers.setdefault(name, strips[numbers[later[0]]][0])
    return [_hidden_notice(name, count, covers[name]) for name, count in hidden.items()]


def _hidden_notice(name: str, count: int, cover: str) -> Notice:
    strips = "one of its strips lies" if count == 1 else f"{count} of its strips lie"
    other = "another of its own" if cover == name else cover
    message = f"{strips} wholly under {other}, laid later: nobody would see it"
    remedy = "" if cover != name else "leave out one of the two places"
    return Notice(code="hidden", line=name, message=message, remedy=remedy, figures=(Figure("strips", count, ""),))


def _flat(decoration: Decoration, crossings: Sequence[Cross], unit: str) -> list[Notice]:
    lines = {laid.line.name: laid.line for laid in decoration.lines}
    flattest: dict[tuple[str, str], Cross] = {}
    for cross in crossings:
        first, second = (lines[name] for name in cross.lines)
        if math.degrees(cross.angle_rad) < FLAT_DEG and not _parted(first, second):
            flattest[cross.lines] = min(flattest.get(cross.lines, cross), cross, key=lambda each: each.angle_rad)
    return [_flat_notice(cross, unit) for cross in flattest.values()]


def _parted(first: Line, second: Line) -> bool:
    """Whether one is cut where it goes under the other, or they lie on different coats."""
    return first.name in second.under or second.name in first.under or first.resin_mm != second.resin_mm


def _flat_notice(cross: Cross, unit: str) -> Notice:
    angle = math.degrees(cross.angle_rad)
    place = f"{math.degrees(cross.around_rad):.1f} degrees round and {show_length(cross.down_mm, unit)} {unit} down"
    message = (
        f"{cross.first} and {cross.second} cross at only {angle:.1f} degrees, {place}: below {FLAT_DEG:g} they lie on each "
        "other for ten widths and more"
    )
    figures = (
        Figure("angle", angle, "degrees"),
        Figure("least", FLAT_DEG, "degrees"),
        Figure("around", math.degrees(cross.around_rad), "degrees"),
        Figure("down", cross.down_mm),
    )
    return Notice(code="lie-along", line=cross.lines[0], message=message, figures=figures)
