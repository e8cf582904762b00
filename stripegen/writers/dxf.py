"""Cut files as DXF drawings in millimetres, for software that wants them. ezdxf is loaded when the first is written.

DXF counts y upwards from the sheet's lower edge. Lines and arcs are kept as they are, arcs as bulges; cubic curves
become chains of arcs within 0.005 mm.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence

from stripegen.cutfile import CutFile
from stripegen.errors import StripegenError
from stripegen.outline import ArcEdge, CubicEdge, Edge, LineEdge, Point, Ring, Stroke

WITHIN_MM = 0.005
LOOKED_AT = 8  # places of a curve at which an arc's distance to it is looked at
FEWEST_MM = 1e-4


class DxfMissing(StripegenError):
    """ezdxf, which writes DXF, is not installed."""


def cut_dxf(file: CutFile) -> bytes:
    """A cut file as DXF: a layer named after the vinyl, each piece a closed polyline, or an open one where it is not closed.

    The same cut file gives the same bytes. Raises DxfMissing without ezdxf.
    """
    try:
        import ezdxf
    except ImportError as error:
        raise DxfMissing("no DXF: install it with pip install 'stripegen[dxf]'") from error
    kept = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True  # else the time of day would be in it
    try:
        drawing = ezdxf.new("R2010", setup=False)
        drawing.units = ezdxf.units.MM
        drawing.header["$MEASUREMENT"] = 1
        drawing.header["$EXTMIN"], drawing.header["$EXTMAX"] = (0, 0, 0), (file.width_mm, file.length_mm, 0)
        drawing.layers.add(file.vinyl)
        space = drawing.modelspace()
        for cut in file.cuts:
            for shape in cut.shapes:
                points = list(_vertices(shape, file.length_mm))
                closed = isinstance(shape, Ring)
                space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs={"layer": file.vinyl})
        held = io.StringIO()
        drawing.write(held)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = kept
    return held.getvalue().encode("utf-8")


def _vertices(shape: Ring | Stroke, length_mm: float) -> Iterator[tuple[float, float, float]]:
    """Each vertex with the bulge of what follows it: the tangent of a quarter of an arc's sweep, above 0 anticlockwise."""
    parts = [part for begin, edge in shape.walk() for part in _plain(begin, edge)]
    for begin, edge in parts:
        bulge = 0.0
        if isinstance(edge, ArcEdge):
            # the drawing looks the same there: what is clockwise as drawn stays so
            bulge = math.tan(edge.sweep_rad(begin) / 4) * (-1 if edge.clockwise else 1)
        yield round(begin[0], 6), round(length_mm - begin[1], 6), bulge
    if isinstance(shape, Stroke):
        x, y = shape.edges[-1].end
        yield round(x, 6), round(length_mm - y, 6), 0.0


def _plain(begin: Point, edge: Edge) -> Iterator[tuple[Point, LineEdge | ArcEdge]]:
    """An edge as lines and arcs, none of more than half a turn."""
    if isinstance(edge, CubicEdge):
        pieces: Sequence[LineEdge | ArcEdge] = arcs_of(begin, edge)
    elif isinstance(edge, ArcEdge):
        pieces = edge.parts(begin, math.pi / 2)
    else:
        pieces = (edge,)
    for piece in pieces:
        yield begin, piece
        begin = piece.end


def arcs_of(start: Point, curve: CubicEdge, within_mm: float = WITHIN_MM) -> list[LineEdge | ArcEdge]:
    """A cubic curve as arcs through points of it, so many that none leaves it by more than that."""
    count = 1
    while True:
        ends = [curve.point_at(start, number / count) for number in range(count + 1)]
        ends[0], ends[-1] = start, curve.end
        found: list[LineEdge | ArcEdge] = []
        for number in range(count):
            middle = curve.point_at(start, (number + 0.5) / count)
            found.append(_through(ends[number], middle, ends[number + 1]))
        off = (
            _distance(ends[number], found[number], curve.point_at(start, (number + step / LOOKED_AT) / count))
            for number in range(count)
            for step in range(1, LOOKED_AT)
        )
        if max(off) <= within_mm:
            return found
        count += 1


def _through(start: Point, middle: Point, end: Point) -> LineEdge | ArcEdge:
    """The arc through three points; a line where they hardly bend."""
    (ax, ay), (bx, by), (cx, cy) = start, middle, end
    ux, uy, vx, vy = bx - ax, by - ay, cx - ax, cy - ay
    cross = ux * vy - uy * vx
    if abs(cross) < FEWEST_MM * math.hypot(vx, vy):
        return LineEdge(end)
    u, v = ux * ux + uy * uy, vx * vx + vy * vy
    centre = ax + (vy * u - uy * v) / (2 * cross), ay + (ux * v - vx * u) / (2 * cross)
    return ArcEdge(end, centre, cross > 0)


def _distance(start: Point, edge: LineEdge | ArcEdge, point: Point) -> float:
    """How far a point beside an edge's middle part is from it."""
    if isinstance(edge, ArcEdge):
        radius = edge.radius_mm(start)
        return abs(math.hypot(point[0] - edge.centre[0], point[1] - edge.centre[1]) - radius)
    (ax, ay), (ex, ey) = start, edge.end
    long = math.hypot(ex - ax, ey - ay)
    if not long:
        return math.hypot(point[0] - ax, point[1] - ay)
    return abs((ex - ax) * (point[1] - ay) - (ey - ay) * (point[0] - ax)) / long
