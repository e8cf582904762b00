"""How thick the film gets where strips lie over each other, and whether the resin that comes over them levels it.

Strips on one coat lie on each other; the next coat parts them from those that are laid on it. A ring's joint, a
chevron's, and the parts of a strip that was split lie over themselves.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from stripegen.decoration import Decoration
from stripegen.errors import Figure, Notice
from stripegen.flat import FlatPiece
from stripegen.shapes import FULL_TURN, Shape, images
from stripegen.spec import Vinyl

ASIDE_MM = 0.01  # strips that only touch, or share an edge within its samples, don't lie on each other
SAME_MM = 1e-6  # thicknesses and places nearer to each other are one


@dataclass(frozen=True)
class Film:
    """A piece of a line as it is laid: on so much resin, of a film so thick (None: not known)."""

    line: str
    resin_mm: float
    thickness_mm: float | None
    shape: Shape


@dataclass(frozen=True, slots=True)
class Stack:
    """The thickest place on one coat. `lines` are those whose film lies there, each as often as it does."""

    lines: tuple[str, ...]
    thickness_mm: float
    around_rad: float
    down_mm: float
    resin_mm: float
    coat_mm: float

    @property
    def is_too_thick(self) -> bool:
        return self.thickness_mm > self.coat_mm + SAME_MM


def films_of(decoration: Decoration, made: Iterable[tuple[str, Vinyl, FlatPiece]]) -> list[Film]:
    """The film of each piece of a decoration, given its line's name (or what joined pieces are called) and vinyl."""
    coats = [(laid.site.wall, laid.line.resin_mm) for laid in decoration.lines]
    films = []
    for name, vinyl, flat in made:
        wall = flat.strip.shape.outer[0].curve.wall
        resin_mm = next(resin_mm for coated, resin_mm in coats if coated == wall)
        resin_mm = decoration.cup.resin_mm if resin_mm is None else resin_mm
        films.append(Film(name, resin_mm, vinyl.thickness_mm, flat.strip.shape))
    return films


def thickest_stacks(films: Sequence[Film], seal_mm: float | None) -> tuple[Stack, ...]:
    """The thickest place on each coat that carries film, from the innermost out; of several that nearest to the rim.

    A coat is as thick as the next one's resin is more than its own; `seal_mm` comes over the last. Where that is not
    known a coat is left out. Film of unknown thickness is taken as none.
    """
    levels = sorted({film.resin_mm for film in films})
    found = []
    for number, resin_mm in enumerate(levels, 1):
        coat_mm = levels[number] - resin_mm if number < len(levels) else seal_mm
        known = [film for film in films if film.resin_mm == resin_mm and film.thickness_mm]
        if coat_mm is not None and known:
            found += _thickest(known, coat_mm)
    return tuple(found)


def stacking_notices(stacks: Iterable[Stack]) -> list[Notice]:
    """A warning for each stack that is thicker than the coat over it."""
    return [_notice(stack) for stack in stacks if stack.is_too_thick]


def _thickest(films: Sequence[Film], coat_mm: float) -> Iterator[Stack]:
    """That of films on one coat. Their strips part the wall in faces; what lies on each is counted at a point in it."""
    scale = films[0].shape.outer[0].curve.wall.mean_radius_mm
    # every place round the cup has its like within the first turn, and there all that lies on it
    laid = [images([film.shape], (0.0, FULL_TURN)) for film in films]
    of = np.repeat(np.arange(len(films)), [len(shapes) for shapes in laid])
    polygons = [shape.polygon for shapes in laid for shape in shapes]
    strips = shapely.buffer(polygons, -ASIDE_MM, join_style="mitre")
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(shapely.boundary(strips))]))
    if not len(faces):
        return
    points = shapely.point_on_surface(faces)
    strip_at, face_at = shapely.STRtree(points).query(strips, predicate="contains")
    thickness = np.array([film.thickness_mm for film in films])[of[strip_at]]
    sums = np.bincount(face_at, weights=thickness, minlength=len(faces))
    places = shapely.get_coordinates(shapely.centroid(faces))
    inside = shapely.contains(faces, shapely.points(places))
    places[~inside] = shapely.get_coordinates(points)[~inside]
    places[:, 0] = places[:, 0] / scale % FULL_TURN
    thick = np.flatnonzero(sums > sums.max() - SAME_MM)
    best = min(thick, key=lambda face: (*np.round(places[face][::-1], 6), face))
    yield Stack(
        lines=tuple(films[number].line for number in np.sort(of[strip_at[face_at == best]])),
        thickness_mm=float(sums[best]),
        around_rad=float(places[best, 0]),
        down_mm=float(places[best, 1]),
        resin_mm=films[0].resin_mm,
        coat_mm=coat_mm,
    )


def _notice(stack: Stack) -> Notice:
    counts = Counter(stack.lines)
    *names, last = [name if count == 1 else f"{count} layers of {name}" for name, count in counts.items()]
    where = f"at {math.degrees(stack.around_rad):.1f} degrees, {stack.down_mm:.1f} mm down"
    if len(stack.lines) == 1:
        what = f"the film of {last} is {stack.thickness_mm:.2f} mm thick"
    else:
        together = f"{', '.join(names)} and {last}" if names else last
        what = f"{together} lie on each other {where}: {stack.thickness_mm:.2f} mm of film"
    advice = "use thinner film or a thicker coat" + (", or clear_of in place of a crossing" if names else "")
    return Notice(
        code="stack-too-thick",
        message=f"{what}, more than the {stack.coat_mm:.2f} mm of resin that come over it",
        remedy=advice,
        figures=(
            Figure("film", stack.thickness_mm),
            Figure("coat", stack.coat_mm),
            Figure("around", math.degrees(stack.around_rad), "degrees"),
            Figure("down", stack.down_mm),
        ),
    )
