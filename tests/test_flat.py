"""Pieces laid flat against shapes that triangles make: every kind of line on every kind of wall."""

import math
from functools import cache

import numpy as np
import pytest
import reference
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from soundness import measures, wall_area
from strategies import CUPS, a_cup, cups, lines

from stripegen.cutting import lay_line
from stripegen.errors import GeometryError
from stripegen.fitting import FIT_MM
from stripegen.flat import CHORD_MM, lay_flat
from stripegen.laid import Covers, covers_of
from stripegen.outline import ArcEdge, CubicEdge, LineEdge
from stripegen.site import Site
from stripegen.spec import Chevron, Diagonal, Down, Keepout, Pattern, ProfilePoint, Ring, Seam, Vertical

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
            **COMMON,
            **TWO,
            top=Down(22.0),
            bottom=Down(52.0),
            points=5,
            start=0.3,
            joint=0.2,
            overlap_mm=1.5,
            path=_path,
        ),
    }
for _path in ("same-slant", "even-drop"):
    LINES[f"{_path} -800"] = diagonal(-800.0, _path)
    LINES[f"{_path} wide"] = diagonal(70.0, _path, width_mm=24.0)
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
# cups that differ from others by a hair need no more than one line of each kind and path
FEW = (
    "vertical x3",
    "narrows x3",
    "ring x2",
    "straight 120 x2",
    "straight 430",
    "same-slant 359.9",
    "even-drop 120 x2",
    "even-drop -800",
    "same-slant chevron",
)
CASES = [
    (cup, line)
    for cup in CUPS
    for line in (FEW if cup in ("hair", "nearly", "shallow") else LINES)
    if (cup, line) not in NO_WAY
]


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
        start, end = (
            line.start.value if line.start else 12.0,
            line.end.value if line.end else wall.length - 6.0,
        )
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
            stop = min(
                (inside.interpolate(left), inside.interpolate(-left)),
                key=lambda p: p.distance(shapely.LineString(flat(first, np.array([top - 30, top + 30])))),
            )
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
        true = true.intersection(
            flat.belt(site.top_mm, site.bottom_mm)
        )  # a square end may reach past a clearance
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


def pieces_of(line, site: Site, *covers):
    return [lay_flat(strip) for strip in lay_line(line, site, covers_of(line, site, covers)).strips]


def kinds(piece) -> list[type]:
    return [type(edge) for edge in piece.outline.outer.edges]


def test_edges_are_what_they_are_laid_flat():
    cone, cylinder = site_of("coated"), site_of("cylinder")
    (piece,) = pieces_of(LINES["vertical"], cone)
    assert sorted(kinds(piece), key=str) == sorted([LineEdge, ArcEdge, LineEdge, ArcEdge], key=str)
    assert kinds(pieces_of(LINES["vertical"], cylinder)[0]) == [LineEdge] * 4
    assert kinds(pieces_of(LINES["straight 120 upright"], cone)[0]) == [LineEdge] * 4
    assert kinds(pieces_of(LINES["straight chevron"], cone)[0]) == [LineEdge] * len(
        pieces_of(LINES["straight chevron"], cone)[0].outline.outer.edges
    )
    assert CubicEdge in kinds(pieces_of(LINES["same-slant 120 x2"], cone)[0])
    # the blade never makes a curve of a cylinder's straight lines
    for kind in ("straight 120 x2", "same-slant 120 x2", "even-drop 120 x2", "ring x2"):
        assert all(
            piece.outline.is_straight and piece.slack_mm == 0 for piece in pieces_of(LINES[kind], cylinder)
        )
    # round corners of what another line is kept clear of are arcs
    post = lay_line(
        Vertical(**COMMON, width_mm=5.0, around=(0.6,), start=Down(15.0), end=Down(38.0)), cone, Covers()
    )
    line = Diagonal(
        name="sash",
        vinyl="v",
        width_mm=6.0,
        start_around=0.0,
        start_down=Down(32.0),
        end_around=1.3,
        end_down=Down(44.0),
        clear_of=("line",),
        by_mm=3.0,
        ends="square",
    )
    found = [edge for piece in pieces_of(line, cone, post) for edge in piece.outline.outer.edges]
    assert any(isinstance(edge, ArcEdge) for edge in found)
    assert all(isinstance(edge, LineEdge | ArcEdge) for edge in found)


@pytest.mark.parametrize(
    "slope", [1e-16, 1e-13, 1e-11, 0.9e-10, 1.1e-10, 1e-9, 1e-7, 1e-6, -1e-11, -1.1e-10, -1e-7]
)
def test_a_wall_that_hardly_tapers_is_a_cylinder_almost(slope):
    """The flat ring bows by its length squared times the slope over eight radii, and no more."""
    cup = a_cup(40.0, 40.0 + 120.0 * slope, 120.0)
    (piece,) = pieces_of(
        Ring(**COMMON, width_mm=6.0, downs=(Down(40.0),)), Site.of(cup, Pattern(name="p", lines=()))
    )
    x0, y0, x1, y1 = piece.outline.bounds()
    bow = (math.tau * 40 + 3) ** 2 * abs(slope) / (8 * 40)
    assert (x0, y0) == pytest.approx(
        (0, 0), abs=CHORD_MM
    )  # its points start there; an arc may bow out between
    assert x1 == pytest.approx(math.tau * 40 + 3, abs=1e-3)
    assert y1 - y0 == pytest.approx(6 + bow, abs=1e-5 + 0.01 * bow)
    assert piece.area_mm2 == pytest.approx(6 * (math.tau * 40 + 3), rel=1e-6)
    assert shapely.Polygon(piece.points).is_valid


def test_a_piece_is_seen_from_outside():
    """A line that sinks to the right does so on the flat piece, and a wider rim lies above."""
    site = site_of("coated")
    (piece,) = pieces_of(diagonal(40.0, "straight"), site)
    x, y = np.array(piece.points).T
    assert np.corrcoef(x, y)[0, 1] > 0.5
    (piece,) = pieces_of(diagonal(-40.0, "straight"), site)  # climbs to the left: the same line
    x, y = np.array(piece.points).T
    assert np.corrcoef(x, y)[0, 1] > 0.5
    (piece,) = pieces_of(LINES["narrows x3"], site)[:1]
    x, y = np.array(piece.points).T
    assert np.ptp(x[y < 10]) > np.ptp(x[y > y.max() - 10])
    # on a cup that narrows, a ring is cut bowed upwards in its middle: its centre, the point, lies below
    (piece,) = pieces_of(LINES["ring part"], site)
    x, y = np.array(piece.points).T
    assert x[y.argmin()] == pytest.approx(x.max() / 2, abs=2)
    assert x[y.argmax()] < 3 or x[y.argmax()] > x.max() - 3


def test_places_and_lean_are_those_of_the_pieces_own_centre_line():
    site = site_of("coated")
    (piece,) = pieces_of(diagonal(430.0, "even-drop"), site)
    assert piece.start == pytest.approx((0.5, 17.0), abs=1e-9)
    assert piece.end == pytest.approx((0.5 + math.radians(430), 58.0), abs=1e-9)
    for kind, lean in (("vertical", 0.0), ("ring part", math.pi / 2)):
        (piece,) = pieces_of(LINES[kind], site)
        assert piece.lean_rad == pytest.approx(lean, abs=1e-12)
    first, last = pieces_of(LINES["ring x2"], site)
    assert (first.start[1], last.start[1]) == pytest.approx(
        (32.75, 27.25)
    )  # up is to the left of its heading
    assert first.start[0] == pytest.approx(0.4)
    assert first.end[0] == pytest.approx(0.4 + math.tau + 4.0 / float(site.wall.radius_mm(32.75)))


def test_the_middle_line_points_as_it_is_said_to():
    """Laid flat, the strip's direction at its middle is its lean from straight down."""
    site = site_of("steep")
    wall = reference.Wall.of(CUPS["steep"])
    for kind in ("same-slant 120 x2", "even-drop -120 square x3", "seam x2"):
        for strip in lay_line(LINES[kind], site, Covers()).strips:
            piece = lay_flat(strip)
            (edge,) = strip.middle
            t = np.linspace(edge.t0, edge.t1, 20001)
            points = wall.point(*edge.curve.at(t))
            run = np.concatenate([[0.0], np.cumsum(np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1)))])
            at = int(np.searchsorted(run, run[-1] / 2))
            around, down = (float(x) for x in edge.curve.at(t[at]))
            way = points[at + 1] - points[at - 1]
            down_way = wall.point(around, down + 1) - wall.point(around, down)
            right_way = np.array([-math.sin(around), math.cos(around), 0.0])
            assert piece.lean_rad == pytest.approx(math.atan2(way @ right_way, way @ down_way), abs=1e-3)


def test_a_hole_is_cut_out():
    cup = a_cup(43.0, 31.0, 152.0, keepouts=(Keepout(around=1.0, width_mm=8.0, from_mm=38.0, to_mm=44.0),))
    (piece,) = pieces_of(
        Ring(**COMMON, width_mm=20.0, downs=(Down(40.0),)), Site.of(cup, Pattern(name="p", lines=()))
    )
    (hole,) = piece.holes
    # between two parallels the sides are cut askew: a trapezium of 8 mm from 38 to 44
    assert shapely.Polygon(hole).area == pytest.approx(48.0, abs=0.05)
    assert shapely.Polygon(piece.points, piece.holes).is_valid
    assert piece.area_mm2 == pytest.approx(wall_area(piece.strip.shape), abs=1e-4)


def test_what_would_lie_over_itself_is_refused():
    cup = a_cup(60.0, 20.0, 60.0)
    site = Site.of(cup, Pattern(name="p", lines=()))
    line = Diagonal(
        **COMMON,
        width_mm=6.0,
        start_around=0.0,
        start_down=Down(20.0),
        end_around=math.radians(700),
        end_down=Down(24.0),
        path="even-drop",
        ends="square",
    )
    with pytest.raises(GeometryError, match="laid flat, one strip of it would lie over itself"):
        pieces_of(line, site)


@pytest.mark.parametrize("overlap", [0.0, 3.0])
def test_a_ring_on_a_level_ledge_would_go_all_the_way_round(overlap):
    ledge = ((40.0, 100.0), (40.0, 60.0), (30.0, 60.0), (30.0, 0.0))
    cup = a_cup(40.0, 30.0, 110.0, profile=tuple(ProfilePoint(*point) for point in ledge))
    site = Site.of(cup, Pattern(name="p", lines=()))
    with pytest.raises(GeometryError, match="go all the way round and lie over itself"):
        pieces_of(Ring(**COMMON, width_mm=3.0, downs=(Down(45.0),), overlap_mm=overlap), site)
    (part,) = pieces_of(Ring(**COMMON, width_mm=3.0, downs=(Down(45.0),), start=0.0, end=6.0, ends="upright"), site)
    assert part.cut_mm == pytest.approx(35.0 * 6.0)
    assert part.area_mm2 == pytest.approx(6.0 / 2 * (36.5**2 - 33.5**2))


@settings(deadline=None, max_examples=40)
@given(cup=cups(keepouts=1), line=lines(), turn=st.floats(-7, 7))
def test_a_flat_piece_has_the_area_of_its_part_of_the_wall(cup, line, turn):
    site = Site.of(cup, Pattern(name="p", lines=()))
    try:
        pieces = pieces_of(line, site)
    except GeometryError as error:
        assert "\n" not in str(error)
        return
    for piece in pieces:
        assert not measures(piece)
        assert piece.area_mm2 == pytest.approx(
            wall_area(piece.strip.shape), abs=2e-3 * len(piece.outline.outer.edges) + 1e-3 * piece.cut_mm
        )
