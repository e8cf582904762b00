"""The region of each line of a decoration as it lies on the cup's own wall, by the line's copies.

A line with several stripes is one region, from its outer edge to its outer edge; each copy of a line counts
as a line, and is labelled with its number.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.bands import middle
from stripegen.courses import courses_of
from stripegen.decoration import Decoration
from stripegen.laid import LaidLine
from stripegen.shapes import Shape, images
from stripegen.spec import Line
from stripegen.surface import Wall

TOUCH_MM = 1e-6  # parts of one line that are no further apart are one


@dataclass(frozen=True)
class Part:
    """A part of one copy's region. `copy` counts from 1; None: the line has no copies."""

    line: Line
    copy: int | None
    shape: Shape

    @property
    def label(self) -> str:
        return label_of(self.line.name, self.copy)


def label_of(line: str, copy: int | None) -> str:
    """A copy's name: the line's, and its number where there is more than one."""
    return line if copy is None else f"{line} {copy}"


def parts_of(decoration: Decoration) -> list[Part]:
    """Every line's region, on the decoration's own wall."""
    return [part for laid in decoration.lines for part in _parts(laid, decoration.site.wall)]


def _parts(laid: LaidLine, wall: Wall) -> list[Part]:
    """Each part of a region belongs to the copy whose centre line runs longest in it."""
    courses = courses_of(laid.line, laid.site)
    if len(courses) == 1:
        return [Part(laid.line, None, shape.carried(wall)) for shape in laid.region]
    scale = laid.site.wall.mean_radius_mm
    chains = []
    for course in courses:
        points = [np.stack(edge.curve.at(edge.samples()), axis=-1) for edge in middle(course, 0.0)]
        chains.append(shapely.LineString(np.concatenate(points) * (scale, 1.0)))
    tree = shapely.STRtree(chains)
    x0, _, x1, _ = shapely.total_bounds(chains)
    found = []
    for shape in laid.region:
        lengths = np.zeros(len(chains))
        for image in images([shape], (x0 / scale, x1 / scale)):
            for index in tree.query(image.polygon, predicate="intersects"):
                lengths[index] += chains[index].intersection(image.polygon).length
        found.append(Part(laid.line, int(np.argmax(lengths)) + 1, shape.carried(wall)))
    return found


def joined(spans: Iterable[tuple[float, float]], touch: float) -> list[tuple[float, float]]:
    """Spans of one line in order, those that touch or overlap made one."""
    found: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1] + touch:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found
