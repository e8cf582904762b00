"""A drawing as SVG text. One user unit is 1 mm, and the page is true to size.

Arcs stay arcs where every reader can draw them right. A reader finds an arc's centre from its rounded ends
and radius, often in single precision, and may draw it as one cubic curve: so no arc spans more than such a curve follows
to 0.005 mm, nor more than a quarter turn, and one of more than 10 m radius is written as a cubic curve instead, which
is the same to a ten-thousandth of a millimetre.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Iterable, Iterator
from xml.etree import ElementTree

import svgwrite
from svgwrite.container import Group
from svgwrite.gradients import LinearGradient
from svgwrite.image import Image
from svgwrite.masking import ClipPath
from svgwrite.path import Path
from svgwrite.text import Text

from stripegen.drawing import Drawing, GroupItem, ImageItem, Item, PathItem, TextItem
from stripegen.outline import ArcEdge, Edge, LineEdge, Point, Ring, Stroke, cubic_sweep_rad
from stripegen.writers.numbers import number_text

PLACES = 4
"""Decimals of coordinates: a ten-thousandth of a millimetre."""

WITHIN_MM = 1e-4
"""An arc may become a line or cubic curves that nowhere leave it by more than this."""

READERS_MM = 0.005
"""A reader that draws each arc as one cubic curve keeps this close to it."""

FAR_MM = 10_000.0
"""At a greater radius single precision would move an arc by more than a hundredth of a millimetre."""

_SPACES = re.compile(r"[\t\n\v\f\r\x85\u2028\u2029]+")
_NOT_XML_TEXT = re.compile("[^\x20-\x7e\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def drawing_svg(
    drawing: Drawing,
    *,
    arcs_as_cubics: bool = False,
    size_mm: tuple[float, float] | None = None,
    places: int = PLACES,
) -> str:
    """The drawing as an SVG document, to be stored as UTF-8. The same drawing gives the same text.

    ``arcs_as_cubics`` writes every arc as cubic Bezier curves within 1e-4 mm of it. ``size_mm`` is how large the page is
    where the drawing's numbers are not millimetres; then its coordinates may need more decimal `places`.
    """
    return _Page(drawing, arcs_as_cubics, size_mm, places).text()


def path_data(
    shapes: Iterable[Ring | Stroke], *, arcs_as_cubics: bool = False, places: int = PLACES
) -> str:
    """The ``d`` of one path: each ring a closed subpath, each stroke an open one, coordinates to so many places."""
    return " ".join(_subpath(shape, arcs_as_cubics, places) for shape in shapes)


def _pair(point: Point, places: int) -> str:
    return f"{number_text(point[0], places)} {number_text(point[1], places)}"


def _subpath(shape: Ring | Stroke, arcs_as_cubics: bool, places: int) -> str:
    closed = isinstance(shape, Ring)
    begin = at = _pair(shape.start, places)
    words = [f"M{begin}"]
    edges = [part for start, edge in shape.walk() for part in _parts(start, edge, arcs_as_cubics, places)]
    for number, (radius, edge) in enumerate(edges, 1):
        # a ring ends in the very digits that it began with
        last = closed and number == len(edges)
        end = begin if last else _pair(edge.end, places)
        if isinstance(edge, LineEdge):
            if end != at and not last:
                words.append(f"L{end}")
        elif isinstance(edge, ArcEdge):
            if end != at:
                words.append(f"A{radius} {radius} 0 0 {int(edge.clockwise)} {end}")
        else:
            words.append(f"C{_pair(edge.control1, places)} {_pair(edge.control2, places)} {end}")
        at = end
    return " ".join([*words, "Z"] if closed else words)


def _parts(start: Point, edge: Edge, arcs_as_cubics: bool, places: int) -> Iterator[tuple[str, Edge]]:
    """What is written for an edge, each part with its radius as text where it is an arc."""
    if not isinstance(edge, ArcEdge):
        yield "", edge
        return
    radius = edge.radius_mm(start)
    if edge.sagitta_mm(start) < WITHIN_MM:
        yield "", LineEdge(edge.end)
    elif arcs_as_cubics or radius > FAR_MM:
        for cubic in edge.cubics(start, WITHIN_MM):
            yield "", cubic
    else:
        for part in edge.parts(start, cubic_sweep_rad(radius, READERS_MM)):
            yield number_text(radius, places), part


def _clean(text: str) -> str:
    """What XML may hold of a text, on one line."""
    return _NOT_XML_TEXT.sub("", _SPACES.sub(" ", text))


class _Page:
    """One drawing on its way to SVG: its definitions are collected while its items are written."""

    def __init__(self, drawing: Drawing, arcs_as_cubics: bool, size_mm: tuple[float, float] | None, places: int):
        self.arcs_as_cubics, self.places = arcs_as_cubics, places
        width, height = number_text(drawing.width_mm), number_text(drawing.height_mm)
        self.svg = svgwrite.Drawing(
            size=tuple(f"{number_text(side)}mm" for side in size_mm or (drawing.width_mm, drawing.height_mm)), viewBox=f"0 0 {width} {height}", debug=False
        )
        self.used = {item.id for item in drawing.walk()}
        self.gradients: dict = {}
        for item in drawing.items:
            self.svg.add(self.element(item))

    def text(self) -> str:
        root = self.svg.get_xml()
        # svgwrite always adds these; nothing here uses links or events, and a cut file holds paths alone
        for name in ("xmlns:xlink", "xmlns:ev"):
            del root.attrib[name]
        for defs in root.findall("defs"):
            if not len(defs):
                root.remove(defs)
        ElementTree.indent(root, "")
        body = ElementTree.tostring(root, encoding="unicode")
        return f'<?xml version="1.0" encoding="utf-8"?>\n{body}\n'

    def element(self, item: Item):
        named = {"debug": False}
        if item.id is not None:
            named["id"] = item.id
        if item.role is not None:
            named["class_"] = item.role
        match item:
            case PathItem():
                return self.path(item, named)
            case TextItem():
                return self.line_of_text(item, named)
            case ImageItem():
                return self.image(item, named)
            case GroupItem():
                return self.group(item, named)

    def path(self, item: PathItem, named: dict) -> Path:
        style = {"fill": "none" if item.fill is None else item.fill}
        if item.fill is not None and len(item.shapes) > 1:
            style["fill_rule"] = "evenodd"
        if not isinstance(style["fill"], str):
            style["fill"] = f"url(#{self.gradient(item.fill)})"
        if item.stroke is not None:
            style |= {"stroke": item.stroke, "stroke_width": number_text(item.stroke_width_mm)}
        if item.dash_mm:
            style["stroke_dasharray"] = " ".join(map(number_text, item.dash_mm))
        if item.opacity < 1:
            style["opacity"] = number_text(item.opacity)
        return Path(path_data(item.shapes, arcs_as_cubics=self.arcs_as_cubics, places=self.places), **style, **named)

    def line_of_text(self, item: TextItem, named: dict) -> Text:
        x, y = number_text(item.x_mm), number_text(item.y_mm)
        style = {"fill": item.fill, "font_family": "sans-serif", "font_size": number_text(item.size_mm)}
        if item.bold:
            style["font_weight"] = "bold"
        if item.anchor != "start":
            style["text_anchor"] = item.anchor
        if item.turn_deg:
            style["transform"] = f"rotate({number_text(item.turn_deg, 6)} {x} {y})"
        return Text(_clean(item.text), x=[x], y=[y], **style, **named)

    def image(self, item: ImageItem, named: dict) -> Image:
        size = number_text(item.width_mm), number_text(item.height_mm)
        place = number_text(item.x_mm), number_text(item.y_mm)
        data = "data:image/jpeg;base64," + b64encode(item.jpeg).decode("ascii")
        image = Image("", insert=place, size=size, preserveAspectRatio="none", **named)
        # a plain address: the older form needs a name space that nothing else here does
        del image.attribs["xlink:href"]
        image.attribs["href"] = data
        return image

    def group(self, item: GroupItem, named: dict) -> Group:
        if item.clip is not None:
            clip = ClipPath(id=self.free_id("clip"), debug=False)
            clip.add(Path(path_data([item.clip], arcs_as_cubics=self.arcs_as_cubics), debug=False))
            self.svg.defs.add(clip)
            named["clip_path"] = f"url(#{clip['id']})"
        if item.opacity < 1:
            named["opacity"] = number_text(item.opacity)
        group = Group(**named)
        for inner in item.items:
            group.add(self.element(inner))
        return group

    def gradient(self, gradient) -> str:
        """The id of its definition, shared by all that use it."""
        if gradient not in self.gradients:
            self.gradients[gradient] = name = self.free_id("gradient")
            (x1, y1), (x2, y2) = gradient.start, gradient.end
            element = LinearGradient(
                (number_text(x1), number_text(y1)),
                (number_text(x2), number_text(y2)),
                id=name,
                gradientUnits="userSpaceOnUse",
                debug=False,
            )
            for stop in gradient.stops:
                opacity = number_text(stop.opacity) if stop.opacity < 1 else None
                element.add_stop_color(number_text(stop.share), stop.colour, opacity)
            self.svg.defs.add(element)
        return self.gradients[gradient]

    def free_id(self, kind: str) -> str:
        number = 1
        while f"{kind}-{number}" in self.used:
            number += 1
        self.used.add(f"{kind}-{number}")
        return f"{kind}-{number}"
