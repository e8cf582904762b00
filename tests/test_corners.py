import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from stripegen.corners import rounded_outline
from stripegen.jobfile import parse_job
from stripegen.outline import ArcEdge, CubicEdge, LineEdge, Outline, Ring
from stripegen.presets import find_preset
from stripegen.production import produce

VINYL = '[vinyl.tin]\ncolour = "#a8adb3"\nwidth = 305\ncorner_radius = {}\n'


def made(cup: str, pattern: str, radius: float = 0.5, more: str = "", vinyl: str = ""):
    order = f'[[order]]\nid = "O-1"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "tin"\n'
    return produce(parse_job(VINYL.format(radius) + vinyl + order + more, "week.toml", find_preset))


@given(
    st.lists(st.tuples(st.floats(4, 12), st.floats(0, 1)), min_size=3, max_size=7),
    st.floats(0.05, 3.0),
    st.booleans(),
    st.floats(-0.3, 0.3),
)
def test_rounding_takes_off_corners_alone_and_leaves_no_sharp_one_outwards(spokes, radius, clockwise, bow):
    """Stars about the origin, their sides straight or curved."""
    turns = np.linspace(0, 2 * math.pi, len(spokes), endpoint=False)
    points = [(far * math.cos(turn), far * math.sin(turn)) for turn, (far, _) in zip(turns, spokes, strict=True)]
    if not clockwise:
        points.reverse()
    edges = []
    for (ax, ay), (bx, by) in zip(points, [*points[1:], points[0]], strict=True):
        off = (bow * (ay - by), bow * (bx - ax))
        control = [(ax + share * (bx - ax) + off[0], ay + share * (by - ay) + off[1]) for share in (1 / 3, 2 / 3)]
        edges.append(CubicEdge(*control, (bx, by)) if bow else LineEdge((bx, by)))
    sharp = Outline(Ring(points[0], tuple(edges)))
    if not sharp.polygon(0.001).is_valid:
        return
    round_ = rounded_outline(sharp, range(len(edges)), radius)
    before, after = sharp.polygon(0.0005), round_.polygon(0.0005)
    assert after.is_valid
    assert after.difference(before).area < 0.002 * before.length
    # all that is gone lies at the corners
    near = shapely.union_all([shapely.Point(point).buffer(13) for point in points])
    assert before.difference(after).difference(near).is_empty
    assert (round_.outer.signed_area_mm2() > 0) == (sharp.outer.signed_area_mm2() > 0)
    for (begin, edge), (_, before_edge) in zip(round_.outer.walk(), [*round_.outer.walk()][-1:] + [*round_.outer.walk()][:-1], strict=True):
        assert math.dist(begin, before_edge.end) < 1e-6
        if isinstance(edge, ArcEdge):
            assert edge.radius_mm(begin) <= radius + 1e-9


@pytest.mark.parametrize("radius", [0.2, 0.5, 1.0])
def test_a_rectangle_loses_just_what_its_rounded_corners_are_short_of(radius):
    sharp = Outline(Ring.through([(0, 0), (40, 0), (40, 5), (0, 5)]))
    assert sharp.area() - rounded_outline(sharp, range(4), radius).area() == pytest.approx((4 - math.pi) * radius**2)
    assert rounded_outline(sharp, [1], radius).area() == pytest.approx(200 - (1 - math.pi / 4) * radius**2)


def test_where_edges_are_short_the_radius_is_less():
    narrow = Outline(Ring.through([(0, 0), (40, 0), (40, 1), (0, 1)]))
    found = rounded_outline(narrow, range(4), 3.0)
    radii = [edge.radius_mm(begin) for begin, edge in found.outer.walk() if isinstance(edge, ArcEdge)]
    assert len(radii) == 4 and all(0.3 < radius <= 0.45 + 1e-9 for radius in radii)


def test_corners_that_turn_inwards_stay():
    ell = Outline(Ring.through([(0, 0), (20, 0), (20, 5), (5, 5), (5, 20), (0, 20)]))
    found = rounded_outline(ell, range(6), 1.0)
    assert (5, 5) in [begin for begin, _ in found.outer.walk()]
    assert sum(isinstance(edge, ArcEdge) for edge in found.outer.edges) == 5


def arcs_of_radius(piece, radius: float) -> int:
    walk = piece.flat.cut_outline.outer.walk()
    return sum(1 for begin, edge in walk if isinstance(edge, ArcEdge) and edge.radius_mm(begin) == pytest.approx(radius))


def test_free_ends_are_rounded():
    for piece in made("tall-tapered", "seam-stripes").pieces:
        assert arcs_of_radius(piece, 0.5) == 4


def test_ends_tucked_under_another_strip_stay_sharp():
    pieces = made("tall-tapered", "sash").pieces
    tucked = [piece for piece in pieces if piece.line == "sash"]
    assert tucked and all(piece.flat.cut_outline == piece.flat.outline for piece in tucked)
    assert all(arcs_of_radius(piece, 0.5) == 4 for piece in pieces if piece.line == "seam")


def test_a_zigzag_that_meets_itself_stays_sharp_where_it_does():
    pattern = """
[pattern.peaks]
[[pattern.peaks.line]]
name = "peaks"
kind = "chevron"
top = "20%"
bottom = "60%"
points = 4
width = 4
vinyl = "a"
"""
    (piece,) = made("tall-tapered", "peaks", more=pattern).pieces
    flat = piece.flat
    begins = [begin for begin, _ in flat.outline.outer.walk()]
    kept = {begin for begin, _ in flat.cut_outline.outer.walk()}
    at_ends = 0
    for number, edge in zip(flat.corners, flat.strip.shape.outer, strict=True):
        around = float(edge.curve.at(edge.t0)[0])
        if min(abs(around - flat.start[0]), abs(around - flat.end[0])) < 1e-9:
            at_ends += 1
            assert begins[number] in kept
    assert at_ends == 4
    # of each of the seven points between, the outer corner is rounded and the inner one is not
    assert arcs_of_radius(piece, 0.5) == 7


def test_stripes_side_by_side_without_a_gap_meet():
    pattern = """
[pattern.pair]
[[pattern.pair.line]]
name = "pair"
kind = "vertical"
around = [90]
width = 4
stripes = 2
gap = 0
vinyl = "a"
"""
    first, second = made("tall-tapered", "pair", more=pattern).pieces
    assert arcs_of_radius(first, 0.5) == arcs_of_radius(second, 0.5) == 2


def test_every_preset_keeps_within_its_sharp_shape():
    for cup, pattern in (("shouldered", "lattice"), ("bellied-mug", "spiral"), ("steep-tapered", "candy"), ("handled-mug", "belted")):
        for piece in made(cup, pattern).pieces:
            sharp, cut = piece.flat.outline.polygon(0.002), piece.flat.cut_outline.polygon(0.002)
            assert cut.is_valid and cut.difference(sharp.buffer(0.01)).is_empty
            assert cut.area <= sharp.area + 0.01


def test_shared_cuts_and_whole_patterns_together_are_told_to_stay_sharp():
    (notice,) = made("short-straight", "seam-stripes", vinyl="shared_cuts = true\n").notices
    assert notice.code == "corner-radius" and "shared_cuts" in notice.message
    assert made("short-straight", "seam-stripes").notices == ()
