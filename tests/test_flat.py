"""Pieces laid flat against shapes that triangles make: every kind of line on every kind of wall."""

import math
from functools import cache

import numpy as np
import pytest
import reference
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from soundness import measures
from strategies import CUPS, a_cup

from stripegen.courses import courses_of
from stripegen.cutting import Covers, Strip, lay_line
from stripegen.errors import GeometryError
from stripegen.flat import CHORD_MM, FIT_MM, lay_flat
from stripegen.outline import ArcEdge, CubicEdge, LineEdge
from stripegen.site import Site
from stripegen.spec import Chevron, Diagonal, Down, Pattern, Ring, Seam, Vertical

SHAPE_MM = 0.01
LENGTH_MM = 1e-6
BEYOND_MM = {"level": 70.0, "upright": 30.0, "square": 5.0}

COMMON = {"name": "line", "vinyl": "v"}
TWO = {"width_mm": 3.0, "stripes": 2, "gap_mm": 2.5}
THREE = {"width_mm": 2.0, "stripes": 3, "gap_mm": 1.5}


def diagonal(turn_deg: float, path: str, ends: str = "level", **more) -> Diagonal:
    up = turn_deg < 0
    return Diagonal(
        **COMMON,
        start_around=0.5,
        start_down=Down(58.0 if up else 17.0),
        end_around=0.5 + math.radians(turn_deg),
        end_down=Down(17.0 if up else 58.0),
        path=path,
        ends=ends,
        **({"width_mm": 4.0} | more),
    )


LINES = {
    "vertical": Vertical(**COMMON, width_mm=5.0, around=(0.7,)),
    "vertical x3": Vertical(**COMMON, **THREE, around=(4.0,), start=Down(14.0), end=Down(50.0)),
    "vertical square": Vertical(**COMMON, **TWO, around=(4.0,), ends="square"),
    "narrows x3": Vertical(**COMMON, **THREE, around=(0.7,), narrows=True),
    "seam x2": Vertical(**COMMON, **TWO, around=("side",)),
    "ring x2": Ring(**COMMON, **TWO, downs=(Down(30.0),), joint=0.4, overlap_mm=4.0, ends="upright"),
    "ring part": Ring(**COMMON, width_mm=6.0, downs=(Down(40.0),), start=1.0, end=2.5, ends="upright"),
    "ring 359.9": Ring(
        **COMMON, **TWO, downs=(Down(40.0),), start=1.0, end=1.0 + math.radians(359.9), ends="square"
    ),
}
for _path in ("straight", "same-slant", "even-drop"):
    LINES |= {
        f"{_path} 0": diagonal(0.0, _path),
        f"{_path} 120 x2": diagonal(120.0, _path, **TWO),
        f"{_path} 120 upright": diagonal(120.0, _path, "upright", **TWO),
        f"{_path} -120 square x3": diagonal(-120.0, _path, "square", **THREE),
        f"{_path} 359.9": diagonal(359.9, _path),
        f"{_path} 430": diagonal(430.0, _path, **TWO),
        f"{_path} chevron": Chevron(
            **COMMON, **TWO, top=Down(22.0), bottom=Down(52.0), points=5, start=0.3, joint=0.2, overlap_mm=1.5, path=_path
        ),
    }
for _path in ("same-slant", "even-drop"):
    LINES[f"{_path} -800"] = diagonal(-800.0, _path)
# here a straight way passes the point, leaves the decorated part, or ends too nearly level for a level cut
NO_WAY = {
    ("steep", "straight 120 x2"),
    ("steep", "straight 359.9"),
    ("steep", "straight 430"),
    ("steep", "same-slant -800"),
    ("steep", "even-drop -800"),
    ("shallow", "straight 430"),
    ("wider", "straight 359.9"),
    ("wider", "straight 430"),
}
CASES = [(cup, line) for cup in CUPS for line in LINES if (cup, line) not in NO_WAY]


@cache
def site_of(name: str) -> Site:
    cup = CUPS[name]
    seams = {"side": Seam(name="side", rim=0.9, base=1.25)}
    leaning = a_cup(cup.rim_radius_mm, cup.base_radius_mm, cup.wall_mm, resin_mm=cup.resin_mm, seams=seams)
    return Site.of(leaning, Pattern(name="p", lines=()))


def expected(flat: reference.Flat, line, low: float, high: float):
    """The flat shape of a stripe from low to high beside the line, and the run that its centre line is on."""
    wall, middle = flat.wall, (low + high) / 2
    if isinstance(line, Chevron):
        return chevron(flat, line, low, high)
    if isinstance(line, Ring):
        down = line.downs[0].value
        # towards a quarter turn from its heading, which is to the right, is up
        radius = float(wall.radius(down - middle))
        start = line.joint if line.start is None else line.start
        end = start + math.tau + line.overlap_mm / radius if line.start is None else line.end
        arounds = np.linspace(start, end, 3000)
        return flat.region(start, end, down - high, down - low), flat(arounds, down - middle)
    if isinstance(line, Vertical):
        start, end = line.start.value if line.start else 12.0, line.end.value if line.end else wall.length - 6.0
        if line.narrows:
            around = line.around[0]
            sides = [around + beside / wall.rim for beside in (low, high)]
            chain = flat(around + middle / wall.rim, np.linspace(start, end, 1000))
            return flat.region(*sides, start, end), chain
        if line.around == ("side",):
            _, arounds, downs = reference.shortest(wall, (0.9, 0.0), (1.25, wall.length), parts=32)
            places = [(float(np.interp(down, downs, arounds)), down) for down in (start, end)]
        else:
            places = [(line.around[0], start), (line.around[0], end)]
        run = reference.run_of(flat, "straight", *places, 30.0)
    else:
        places = [(line.start_around, line.start_down.value), (line.end_around, line.end_down.value)]
        run = reference.run_of(flat, line.path, *places, BEYOND_MM[line.ends])
    return reference.cut_ribbon(flat, run, low, high, line.ends), reference.beside(run.chain, middle)


def chevron(flat: reference.Flat, line: Chevron, low: float, high: float):
    """Legs between the meridians of their points, the first again as far as the overlap goes."""
    top, bottom, step = line.top.value, line.bottom.value, math.pi / line.points
    shapes, chains, left = [], [], line.overlap_mm
    for number in range(2 * line.points + 1):
        first, last = line.start + number * step, line.start + (number + 1) * step
        places = [(first, top), (last, bottom)] if number % 2 == 0 else [(first, bottom), (last, top)]
        run = reference.run_of(flat, line.path, *places, 40.0)
        chain = reference.beside(run.chain, (low + high) / 2)
        if number == 2 * line.points:  # the overlap: so far along the stripe's own centre line
            inside = shapely.LineString(chain).intersection(flat.sector(first, last))
            if inside.coords[0][0] > inside.coords[-1][0]:
                inside = inside.reverse()
            stop = min((inside.interpolate(left), inside.interpolate(-left)), key=lambda p: p.distance(
                shapely.LineString(flat(first, np.array([top - 30, top + 30])))))
            last = flat.around_of(stop.x, stop.y)
        sector = flat.sector(first, last)
        shapes.append(reference.ribbon(run.chain, low, high).intersection(sector))
        chains.append(np.array(shapely.LineString(chain).intersection(sector).coords))
    return shapely.union_all([shape.buffer(1e-6) for shape in shapes]), np.concatenate(chains)


def flat_range(line) -> tuple[float, float]:
    match line:
        case Diagonal():
            turn = line.end_around - line.start_around
            more = 3.0
            return line.start_around + min(0, turn) - more, line.start_around + max(0, turn) + more
        case Vertical():
            return -1.0, 6.0
    return -1.0, 8.5


@pytest.mark.parametrize(("cup", "kind"), CASES, ids=lambda value: value)
def test_every_line_is_the_shape_that_triangles_make(cup, kind):
    line, site = LINES[kind], site_of(cup)
    wall = reference.Wall(site.wall.rim_radius_mm, site.wall.base_radius_mm, site.wall.wall_mm)
    low, high = flat_range(line)
    flat = reference.Flat(wall, low, high, 2e-3)
    laid = lay_line(line, site, Covers())
    assert len(laid.strips) == line.stripes
    for number, strip in enumerate(laid.strips):
        beside = (number - (line.stripes - 1) / 2) * (line.width_mm + line.gap_mm)
        true, chain = expected(flat, line, beside - line.width_mm / 2, beside + line.width_mm / 2)
        true = true.intersection(flat.belt(site.top_mm, site.bottom_mm))  # a square end may reach past a clearance
        piece = lay_flat(strip)
        assert not measures(piece)
        # the centre line, in space and beside the one that was found without it
        points = np.concatenate([flat(*e.curve.at(np.linspace(e.t0, e.t1, 60))) for e in strip.middle])
        assert shapely.distance(shapely.LineString(chain), shapely.points(points)).max() < 1e-3
        summed = sum(reference.length(wall, edge.curve.at, edge.t0, edge.t1) for edge in strip.middle)
        assert piece.cut_mm == pytest.approx(summed, abs=LENGTH_MM)
        overlap = line.overlap_mm if laid.joints_rad else 0.0
        assert piece.true_mm == pytest.approx(summed - overlap, abs=LENGTH_MM)
        seen = shapely.LineString(chain).intersection(true.buffer(1e-6)).length
        assert piece.cut_mm == pytest.approx(seen, abs=5e-3)
        # the shape, drawn as it is seen: straight down at its middle is +y, from (0, 0)
        middle = reference.middle_of(chain, true.buffer(1e-6))
        drawn = reference.framed(flat, true, middle)
        found = piece.outline.polygon(0.001)
        assert reference.apart(found, drawn) < SHAPE_MM
        assert piece.area_mm2 == pytest.approx(true.area, abs=0.001 * true.length)
        assert reference.apart(shapely.Polygon(piece.points), found) < CHORD_MM + FIT_MM
