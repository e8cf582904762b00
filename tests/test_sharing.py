"""Shared cuts from the job file to the cut file: what is cut, read back by parsers that share nothing with our writers."""

from __future__ import annotations

import csv
import io
import json
import math
import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
import svgpathtools
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from manifests import placed_outline
from test_writers_pdf import read_paths

from stripegen.errors import JobError, NestError
from stripegen.jobfile import parse_job
from stripegen.nest import nest
from stripegen.nest_groups import nest_by_order
from stripegen.nest_shared import nest_sharing, share_to_check
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.results import sheets_result
from stripegen.sheets import lay_out
from stripegen.tasks import Sharing

QUICK = partial(nest, effort="quick")
SHARING = Sharing(partial(nest_sharing, effort="quick"))
BY_ORDER = Sharing(partial(nest_sharing, effort="quick", way_to_nest=nest_by_order), by_order=True)

CUPS = """
[cup.upright]
rim    = { diameter = 80 }
base   = { diameter = 80 }
height = 118
[cup.tapered]
rim    = { diameter = 86 }
base   = { diameter = 64 }
height = 130
"""


def job(cups="upright", vinyl="", line="", width="4", repeat=10, quantity=1, roll=240):
    orders = "".join(
        f'[[order]]\nid = "A-{n}"\ncup = "{cup}"\npattern = "p"\nquantity = {quantity}\n'
        for n, cup in enumerate(cups.split())
    )
    return (
        f'{CUPS}[vinyl.tin]\ncolour = "#a8adb3"\nwidth = {roll}\nshared_cuts = true\n{vinyl}\n[[pattern.p.line]]\nname = "edge"\n'
        f'kind = "vertical"\nrepeat = {repeat}\nwidth = {width}\nvinyl = "tin"\n{line}\n{orders}'
    )


def produced(text: str):
    return produce(parse_job(text, "week.toml", lambda kind, name: None))


def results(text: str, lay=QUICK, sharing=SHARING):
    production = produced(text)
    sheets = lay_out(production, "sheet", lay, prove, sharing=sharing)
    result = sheets_result("nest", production, sheets, None)
    return result.files, json.loads(result.files["nest.json"])


def used(manifest) -> tuple[int, float]:
    """How many sheets, and how much of them."""
    return len(manifest["sheets"]), sum(sheet["used_length"] for sheet in manifest["sheets"])


def segments(path) -> list[shapely.LineString]:
    """A path's edges, curves by points a hundredth of a millimetre from them at most."""
    found = []
    for edge in svgpathtools.parse_path(path.get("d")):
        if edge.start != edge.end:
            shares = [0, 1] if isinstance(edge, svgpathtools.Line) else np.linspace(0, 1, 9)
            found.append(shapely.LineString([(edge.point(t).real, edge.point(t).imag) for t in shares]))
    return found


def cut_paths(files, sheet) -> dict:
    root = ElementTree.fromstring(files[f"{sheet['name']}.svg"].decode())
    return {path.get("id"): path for path in root.iter("{http://www.w3.org/2000/svg}path")}


def check(files, manifest, gap=1.5) -> None:
    """That every outline is cut, and nothing twice, in the SVG and in the PDF; and what the manifest says of it."""
    pieces = {piece["id"]: piece for piece in manifest["pieces"]}
    assert sorted(name for sheet in manifest["sheets"] for name in sheet["pieces"]) == sorted(pieces)
    rows = csv.DictReader(io.StringIO(files["nest.csv"].decode(), newline=""))
    assert {row["id"]: row["shares_cut_with"].split() for row in rows} == {
        name: piece["shares_cut_with"] for name, piece in pieces.items()
    }
    for name, piece in pieces.items():
        for other in piece["shares_cut_with"]:
            assert name in pieces[other]["shares_cut_with"] and pieces[other]["sheet"] == piece["sheet"]
    for sheet in manifest["sheets"]:
        assert sheet["bound"] <= sheet["used_length"] + 1e-6
        paths = cut_paths(files, sheet)
        assert sorted(paths) == sorted(sheet["pieces"])
        lines = [line for path in paths.values() for line in segments(path)]
        cut_mm = sum(line.length for line in lines)
        union = shapely.union_all(lines, grid_size=1e-5)
        # no line is cut twice
        assert union.length == pytest.approx(cut_mm, abs=1e-3 * len(lines))
        # and what is cut are the outlines' borders, neither more nor less
        rings = [shapely.LinearRing(placed_outline(pieces[name])) for name in sheet["pieces"]]
        outlines = shapely.union_all(rings)
        assert outlines.buffer(0.02).covers(union) and union.buffer(0.02).covers(outlines)
        assert sum(ring.length for ring in rings) - cut_mm == pytest.approx(sheet["shared_length"], abs=0.02 * len(rings))
        # no two pieces overlap, and those that share a cut touch along a whole side
        polygons = {name: shapely.Polygon(ring) for name, ring in zip(sheet["pieces"], rings, strict=True)}
        tree = shapely.STRtree([*polygons.values()])
        names = [*polygons]
        for a, b in zip(*tree.query([*polygons.values()], predicate="dwithin", distance=gap - 0.02), strict=True):
            if a != b:
                assert names[b] in pieces[names[a]]["shares_cut_with"]
                assert polygons[names[a]].intersection(polygons[names[b]]).area < 0.02
        pdf = read_paths(files[f"{sheet['name']}.pdf"])
        assert len(pdf) == len(paths)
        closed = [any(op == "h" for op, *_ in item.original_path) for _, item in pdf]
        assert sum(closed) == sum(path.get("d").endswith("Z") for path in paths.values())
        pdf_mm = sum((shapely.LinearRing if h else shapely.LineString)(points).length for (points, _), h in zip(pdf, closed, strict=True))
        assert pdf_mm == pytest.approx(cut_mm, abs=0.05 * len(paths))


def test_ten_strips_of_4_by_100_by_hand():
    """Two planks of five lie end to end over 230 mm: 20 mm of the roll and its margins; plain ones 5 x 4 + 4 x 1.5 mm."""
    files, manifest = results(job())
    (sheet,) = manifest["sheets"]
    assert sheet["used_length"] == pytest.approx(30)
    assert sheet["shared_length"] == pytest.approx(800)
    grown = 2 * ((20 + 1.5) * (100 + 1.5) - (4 - math.pi) * 0.75**2)
    assert sheet["bound"] == pytest.approx(grown / 231.5 - 1.5 + 10, abs=1e-4)
    check(files, manifest)
    closed = [name for name, path in cut_paths(files, sheet).items() if path.get("d").endswith("Z")]
    assert len(closed) == 2
    _, plain = results(job(), sharing=None)
    assert plain["sheets"][0]["used_length"] == pytest.approx(36)
    assert plain["sheets"][0]["shared_length"] == 0
    assert not any(piece["shares_cut_with"] for piece in plain["pieces"])


def test_shared_sides_are_the_same_numbers_on_the_sheet():
    production = produced(job("upright tapered", width='"5/32 in"'))
    (sheet,) = lay_out(production, "sheet", QUICK, prove, sharing=SHARING)
    by_id = {placed.piece.id: placed for placed in sheet.placed}
    shared = [placed for placed in sheet.placed if placed.shared and placed.shared.before]
    assert shared
    for placed in shared:
        start, end = placed.cut.start, placed.cut.edges[-1].end
        before = by_id[placed.shared.before].outline.outer
        corners = [before.start, *(edge.end for edge in before.edges)]
        for point in (start, end):
            assert min(math.dist(point, corner) for corner in corners) < 1e-9
        # by the manifest's own rounded outlines and moves too
        own, other = (
            np.array(each.piece.flat.points) @ turned(each.placement.turn_deg) + (each.placement.dx_mm, each.placement.dy_mm)
            for each in (placed, by_id[placed.shared.before])
        )
        apart = np.hypot(*(own[:, None] - other[None]).transpose(2, 0, 1))
        assert np.sum(apart < 1e-6) == 2


def turned(turn_deg: float) -> np.ndarray:
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return np.array([[cos, sin], [-sin, cos]])


@settings(max_examples=20, phases=[Phase.explicit, Phase.generate])  # to shrink an example would nest for minutes
@given(
    cups=st.sampled_from(["upright", "tapered", "upright tapered", "tapered tapered"]),
    grain=st.sampled_from(["none", "cup", "strip"]),
    flip=st.booleans(),
    length=st.sampled_from(["", "length = 150", "length_left = 400"]),
    gap=st.sampled_from([0.2, 0.7, 1.5]),
    width=st.sampled_from(["3", "5.5", '"3/32 in"', '"5/32 in"']),
    line=st.sampled_from(["", "stripes = 2", 'ends = "square"', 'stripes = 3\nends = "square"']),
    more=st.booleans(),
    repeat=st.integers(1, 7),
)
def test_every_piece_is_cut_once_and_no_more_vinyl_is_used(cups, grain, flip, length, gap, width, line, more, repeat):
    vinyl = f'grain = "{grain}"\nflip = {str(flip).lower()}\npiece_gap = {gap}\n{length}'
    if more:  # strips of another width, and of no straight form
        line += '\n[[pattern.p.line]]\nname = "wide"\nkind = "vertical"\naround = [5, 95]\nwidth = 7\nvinyl = "tin"'
        line += '\n[[pattern.p.line]]\nname = "hoop"\nkind = "ring"\ndown = "50%"\nend = 90\nstart = 0\nwidth = 4\nvinyl = "tin"'
    text = job(cups, vinyl, line, width, repeat, quantity=2)
    try:
        _, plain = results(text, sharing=None)
    except NestError:
        plain = None
    try:
        files, manifest = results(text)
    except NestError:
        assert plain is None
        return
    check(files, manifest, gap)
    assert plain is None or used(manifest) <= (used(plain)[0], used(plain)[1] + 1e-6)
    for piece in manifest["pieces"]:
        turn = piece["placement"]["turn"]
        if grain == "cup":
            assert min(abs(turn - each) for each in ((0, 180, 360) if flip else (0, 360))) < 1e-5
        elif grain == "strip" and piece["line"] != "hoop":
            (x0, y0), (x1, y1) = longest_side(placed_outline(piece))
            assert abs(x1 - x0) < 1e-3 * abs(y1 - y0)


def longest_side(ring: np.ndarray) -> tuple:
    number = int(np.argmax(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)))
    return ring[number], ring[(number + 1) % len(ring)]


def test_by_order_no_two_orders_share_a_cut():
    text = job("upright upright upright tapered", repeat=3)
    files, manifest = results(text, lay=partial(nest_by_order, effort="quick"), sharing=BY_ORDER)
    check(files, manifest)
    pieces = {piece["id"]: piece for piece in manifest["pieces"]}
    assert all(pieces[other]["order"] == piece["order"] for piece in pieces.values() for other in piece["shares_cut_with"])
    assert any(piece["shares_cut_with"] for piece in pieces.values())
    # orders of one strip each share with none by order, and with each other else
    text = job("upright upright upright upright", repeat=1)
    _, grouped = results(text, lay=partial(nest_by_order, effort="quick"), sharing=BY_ORDER)
    assert not any(piece["shares_cut_with"] for piece in grouped["pieces"])
    files, free = results(text)
    check(files, free)
    assert all(piece["shares_cut_with"] for piece in free["pieces"])


def test_offcuts_on_a_mat_keep_their_shared_sides():
    text = job(quantity=2, vinyl="length = 300", repeat=6) + (
        '[[offcut]]\nvinyl = "tin"\nwidth = 120\nlength = 60\nquantity = 2\n[cutter]\nmat = { width = 300, length = 300 }\n'
    )
    files, manifest = results(text)
    check(files, manifest)
    assert len(manifest["sheets"][0]["offcuts"]) and manifest["sheets"][0]["shared_length"] > 0


def test_units_and_reading_order_share_nothing():
    production = produced(job("upright", line="stripes = 2\ntogether = true"))
    for sheet in lay_out(production, "sheet", QUICK, prove, sharing=SHARING):
        assert not sheet.shared_mm
    _, manifest = results(job(), lay=lay_in_reading_order, sharing=None)
    assert not any(piece["shares_cut_with"] for piece in manifest["pieces"])


def test_a_vinyl_that_does_not_ask_for_it_shares_nothing():
    files, manifest = results(job().replace("shared_cuts = true", ""))
    assert not any(piece["shares_cut_with"] for piece in manifest["pieces"])
    check(files, manifest)


def test_where_sharing_alone_makes_room_it_is_used_and_check_says_so():
    """Ten strips take 36 mm of the roll plain, 30 mm sharing cuts."""
    text = job(vinyl="length_left = 31")
    with pytest.raises(NestError, match="too little"):
        results(text, sharing=None)
    files, manifest = results(text)
    check(files, manifest)
    assert lay_out(produced(text), "sheet", QUICK, prove, sharing=Sharing(share_to_check))
    with pytest.raises(NestError, match="too little"):
        lay_out(produced(job(vinyl="length_left = 29")), "sheet", QUICK, prove, sharing=Sharing(share_to_check))


def test_progress_only_grows():
    shares: list[float] = []
    lay_out(produced(job(repeat=6)), "sheet", QUICK, prove, progress=shares.append, sharing=SHARING)
    assert shares == sorted(shares) and shares[-1] == pytest.approx(1)


@pytest.mark.parametrize("value", ['"yes"', "1", '"true"'])
def test_what_is_no_boolean_is_refused(value):
    with pytest.raises(JobError, match="shared_cuts: read .*; must be true or false, without quotes"):
        produced(job().replace("shared_cuts = true", f"shared_cuts = {value}"))
    with pytest.raises(JobError, match='did you mean "shared_cuts"'):
        produced(job().replace("shared_cuts = true", "shared_cut = true"))


def test_processes_give_the_same_sheets():
    text = job("upright tapered", repeat=4).replace('quantity = 1\n', 'vinyl = "tin"\n').replace(
        'width = 4\nvinyl = "tin"', 'width = 4\nvinyl = "role"'
    )
    text += '[vinyl.slate]\ncolour = "#4b5560"\nwidth = 200\nshared_cuts = true\n'
    text += '[[order]]\nid = "B"\ncup = "upright"\npattern = "p"\nvinyl = "slate"\n'
    made = produced(text)
    assert len(made.vinyls) == 2
    here = lay_out(made, "sheet", QUICK, prove, sharing=SHARING)
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as executor:
        there = lay_out(made, "sheet", QUICK, prove, executor, sharing=SHARING)
    assert all(sheet.shared_mm for sheet in here)
    assert [[(each.placement, each.outline) for each in sheet.placed] for sheet in here] == [
        [(each.placement, each.outline) for each in sheet.placed] for sheet in there
    ]


@pytest.mark.parametrize(
    ("cup", "line", "does"),
    [
        ("upright", "stripes = 2", True),
        ("tapered", "", True),
        ("tapered", "stripes = 2", False),
        ("tapered", 'stripes = 2\nends = "square"', False),  # the clearances cut them along arcs
        ("tapered", 'stripes = 2\nends = "square"\nfrom = "10%"\nto = "90%"', True),
    ],
)
def test_which_strips_are_straight(cup, line, does):
    """As the README says."""
    files, manifest = results(job(cup, line=line, repeat=4))
    check(files, manifest)
    assert any(piece["shares_cut_with"] for piece in manifest["pieces"]) == does


def test_a_slanted_strip_shares_and_the_grain_keeps_its_slant():
    diagonal = 'kind = "diagonal"\nends = "square"\nstart = { around = 0, down = "10%" }\nend = { around = 80, down = "90%" }'
    text = job("tapered", 'grain = "cup"', repeat=10, quantity=4).replace('kind = "vertical"', diagonal)
    files, manifest = results(text)
    check(files, manifest)
    assert any(piece["shares_cut_with"] for piece in manifest["pieces"])
    assert {piece["placement"]["turn"] for piece in manifest["pieces"]} <= {0.0, 180.0}
