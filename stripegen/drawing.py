"""A drawing between a layout and a file: shapes, texts and groups at true size; no file format.

One drawing has one frame: x to the right, y down, millimetres, (0, 0) its upper left corner. Items are drawn
in order, later ones over earlier ones. Colours are written ``#rrggbb``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

from stripegen.cutforms import scaled
from stripegen.errors import GeometryError
from stripegen.outline import Outline, Point, Ring, Stroke

HAIRLINE_MM = 0.1
BLACK = "#000000"

_COLOUR = re.compile(r"#[0-9a-fA-F]{6}\Z")
_NAME = re.compile(r"[A-Za-z0-9_.-]+\Z")
ANCHORS = ("start", "middle", "end")


def _check_colour(colour: str | None) -> None:
    if colour is not None and not _COLOUR.match(colour):
        raise GeometryError(f"a colour must be written #rrggbb: got {colour!r}")


def _check_name(name: str | None) -> None:
    if name is not None and not _NAME.match(name):
        raise GeometryError(f"an id or role must be ASCII letters, digits, '.', '-' and '_': got {name!r}")


def _check_share(what: str, value: float) -> None:
    if not 0 <= value <= 1:
        raise GeometryError(f"{what} must be from 0 to 1: got {value}")


def _check_positive(what: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        raise GeometryError(f"{what} must be finite and > 0: got {value}")


@dataclass(frozen=True, slots=True)
class Stop:
    """A colour at a share of the way along a gradient."""

    share: float
    colour: str
    opacity: float = 1.0

    def __post_init__(self) -> None:
        _check_share("a stop's share", self.share)
        _check_share("a stop's opacity", self.opacity)
        _check_colour(self.colour)


@dataclass(frozen=True, slots=True)
class Gradient:
    """A fill that runs through its stops from ``start`` to ``end``; beyond them its last colours go on."""

    start: Point
    end: Point
    stops: tuple[Stop, ...]

    def __post_init__(self) -> None:
        shares = [stop.share for stop in self.stops]
        if len(shares) < 2 or shares != sorted(shares):
            raise GeometryError(f"a gradient needs two stops or more, in order: got {shares}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PathItem:
    """Rings and strokes drawn as one path; rings inside others are holes of its fill."""

    shapes: tuple[Ring | Stroke, ...]
    stroke: str | None = None
    stroke_width_mm: float = HAIRLINE_MM
    fill: str | Gradient | None = None
    opacity: float = 1.0
    dash_mm: tuple[float, ...] = ()
    id: str | None = None
    role: str | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "shapes", tuple(self.shapes))
        if not self.shapes:
            raise GeometryError("a path needs at least one ring or stroke")
        _check_colour(self.stroke)
        if not isinstance(self.fill, Gradient):
            _check_colour(self.fill)
        _check_positive("stroke_width_mm", self.stroke_width_mm)
        _check_share("opacity", self.opacity)
        for dash in self.dash_mm:
            _check_positive("a dash", dash)
        _check_name(self.id)
        _check_name(self.role)

    @classmethod
    def of(cls, outline: Outline, **style) -> PathItem:
        """An outline, its holes included."""
        return cls(shapes=outline.rings, **style)


@dataclass(frozen=True, slots=True, kw_only=True)
class TextItem:
    """One line of text. (x, y) is on its base line; it turns about that point, +x towards +y.

    ``size_mm`` is the font's size: capitals are about 0.7 of it high.
    """

    text: str
    x_mm: float
    y_mm: float
    size_mm: float
    anchor: str = "start"
    turn_deg: float = 0.0
    fill: str = BLACK
    bold: bool = False
    id: str | None = None
    role: str | None = None

    def __post_init__(self) -> None:
        if self.anchor not in ANCHORS:
            raise GeometryError(f"a text's anchor must be one of {', '.join(ANCHORS)}: got {self.anchor!r}")
        if not all(map(isfinite, (self.x_mm, self.y_mm, self.turn_deg))):
            place = f"{self.x_mm}, {self.y_mm}, {self.turn_deg}"
            raise GeometryError(f"a text's place and turn must be finite: got {place}")
        _check_positive("size_mm", self.size_mm)
        _check_colour(self.fill)
        _check_name(self.id)
        _check_name(self.role)


@dataclass(frozen=True, slots=True, kw_only=True)
class ImageItem:
    """A JPEG picture drawn out over a rectangle."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    jpeg: bytes
    id: str | None = None
    role: str | None = None

    def __post_init__(self) -> None:
        _check_positive("width_mm", self.width_mm)
        _check_positive("height_mm", self.height_mm)
        _check_name(self.id)
        _check_name(self.role)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupItem:
    """Items drawn together, faded together, and seen only inside ``clip`` where one is given."""

    items: tuple[Item, ...]
    clip: Ring | None = None
    opacity: float = 1.0
    id: str | None = None
    role: str | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "items", tuple(self.items))
        _check_share("opacity", self.opacity)
        _check_name(self.id)
        _check_name(self.role)


Item = PathItem | TextItem | ImageItem | GroupItem


@dataclass(frozen=True, slots=True)
class Drawing:
    """Items on a page of this size. Ids are unique in a drawing."""

    width_mm: float
    height_mm: float
    items: tuple[Item, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "items", tuple(self.items))
        _check_positive("width_mm", self.width_mm)
        _check_positive("height_mm", self.height_mm)
        seen: set[str] = set()
        for item in self.walk():
            if item.id is not None and item.id in seen:
                raise GeometryError(f"two items of one drawing have the id {item.id!r}")
            if item.id is not None:
                seen.add(item.id)

    def walk(self) -> Iterator[Item]:
        """Every item, each group before what is in it."""
        waiting = list(reversed(self.items))
        while waiting:
            item = waiting.pop()
            yield item
            if isinstance(item, GroupItem):
                waiting.extend(reversed(item.items))


def cut_drawing(
    width_mm: float, height_mm: float, paths: Iterable[tuple[str, Sequence[Ring | Stroke]]], numbers_per_mm: float = 1.0
) -> Drawing:
    """A sheet for a cutter: each (id, shapes) one path in a black hairline, and nothing else; in other units, if asked for."""
    by = numbers_per_mm
    pen = {"stroke": BLACK, "stroke_width_mm": HAIRLINE_MM * by}
    items = (PathItem(shapes=[scaled(shape, by, by) for shape in shapes], id=name, **pen) for name, shapes in paths)
    return Drawing(width_mm * by, height_mm * by, tuple(items))
