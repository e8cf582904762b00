"""Paper guides and fit rings, measured on their PDFs by readers that share nothing with our writers."""

from __future__ import annotations

import io
import json
import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from papers import Page, read_pages
from pypdf import PdfReader

from stripegen.errors import JobError
from stripegen.flat import half_way
from stripegen.guides import guide_result
from stripegen.jobfile import parse_job
from stripegen.paper import PAPERS
from stripegen.presets import find_preset, preset_names
from stripegen.production import Production, produce

EDGE, PIECE, TAPE, JOIN, SQUARE = 0.35, 0.25, 0.12, 0.22, 0.3  # widths of lines, mm
SAME_MM = 0.02
TEXT = """
[cup.bowl]
rim = { diameter = 190 }
base = { diameter = 110 }
height = 150
resin = 0.8
seams = { front = 0, back = { rim = 176.5, base = 180 } }

[cup.step]
profile = [ { height = 120, diameter = 90 }, { height = 60, diameter = 84 }, { height = 60, diameter = 70 },
            { height = 0, diameter = 60 } ]

[vinyl.tin]
colour = "#a8adb3"
width = 900

[[order]]
id = "bowl"
cup = "bowl"
pattern = "sash"
vinyl = "tin"

[[order]]
id = "bowl-2"
cup = "bowl"
pattern = "sash"
vinyl = "tin"
quantity = 2
""" + "".join(
    f'[[order]]\nid = "{cup}"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "tin"\n'
    for cup, pattern in (
        ("tall-tapered", "ringed-seams"),
        ("flared-base", "spiral"),
        ("slim-straight", "seam-stripes"),
        ("steep-tapered", "lattice"),
        ("handled-mug", "chevrons"),
        ("shouldered", "ringed-seams"),
        ("bellied-mug", "lattice"),
        ("step", "belted"),
    )
)
LOOKS = ["bowl", "tall-tapered", "flared-base", "slim-straight", "steep-tapered", "handled-mug", "shouldered", "bellied-mug", "step"]
FLAT = LOOKS[:6]  # of one section


class Made:
    """A result read back: pages of each PDF, the manifest, and what it was made of."""

    def __init__(self, production: Production, paper: str):
        result = guide_result(production, None, PAPERS[paper])
        assert result.missing is None
        self.production, self.files, self.notices = production, result.files, result.notices
        self.manifest = json.loads(result.files["guide.json"])
        papers = {name: data for name, data in result.files.items() if name.startswith(("guide-", "ring-")) and name.endswith(".pdf")}
        self.pages: dict[str, list[Page]] = {name: read_pages(data) for name, data in papers.items()}
        self.guides = {row["orders"][0]: row for row in self.manifest["guides"]}
        self.rings = {row["cup"]: row for row in self.manifest["rings"]}

    def tiles(self, order: str) -> list[tuple[dict, Page]]:
        row, pages = self.guides[order], self.pages[f"guide-{order}.pdf"]
        return [(tile, pages[tile["page"] - 1]) for tile in row["tiles"]]

    def on_paper(self, order: str, tile: dict, points: np.ndarray) -> np.ndarray:
        """Points of a page in the paper's own frame, by the tile's offset and the guide's turn."""
        turn = math.radians(self.guides[order]["turn"])
        c, s = math.cos(turn), math.sin(turn)
        return (points - tile["move"]) @ np.array([[c, -s], [s, c]])

    def lines(self, order: str, width_mm: float) -> list[np.ndarray]:
        """All lines of a width in the paper's frame; what two tiles share is there twice."""
        return [
            self.on_paper(order, tile, line.points)
            for tile, page in self.tiles(order)
            for line in page.of_width(width_mm)
        ]

    def wall(self, order: str):
        return self.production.decorations[order].site.wall

    def cones(self, order: str) -> list[tuple[float, float, float, float, float]]:
        """low, high, radius at low, slope, shift of each band of a wall of sections."""
        return [
            (row["from"], row["to"], *_cone(self.wall(order), row["from"], row["to"]), row["shift"])
            for row in self.guides[order]["bands"]
        ]

    def middle(self, order: str) -> float:
        return math.radians(self.guides[order]["start"]) + math.pi


def _cone(wall, low: float, high: float) -> tuple[float, float]:
    first, last = (float(wall.radius_mm(each)) for each in (low + 1e-9, high - 1e-9))
    return first, (last - first) / (high - low)


def unrolled(radius: float, slope: float, turn, down) -> np.ndarray:
    """A cone's points laid flat about (0, 0), by its apex."""
    turn, down = np.broadcast_arrays(np.asarray(turn, dtype=float), np.asarray(down, dtype=float))
    if abs(slope) < 1e-9:
        return np.stack([radius * turn, down], axis=-1)
    far = radius / slope
    apart = far + down
    return np.stack([apart * np.sin(slope * turn), apart * np.cos(slope * turn) - far], axis=-1)


@pytest.fixture(scope="module")
def made():
    return Made(produce(parse_job(TEXT, "week.toml", find_preset)), "a4")


def test_orders_that_look_alike_share_a_guide(made):
    assert made.guides["bowl"]["orders"] == ["bowl", "bowl-2"]
    assert set(made.guides) == set(LOOKS) and set(made.rings) == set(LOOKS)
    assert set(made.manifest["files"]) == {"work-list.html", "work-list.pdf"} | {f"guide-{look}.pdf" for look in LOOKS} | {f"ring-{look}.pdf" for look in LOOKS}
    assert made.manifest["command"] == "guide" and made.manifest["paper"] == "A4"


def test_orders_with_other_seams_do_not():
    text = TEXT + '[[order]]\nid = "other"\ncup = "bowl"\npattern = "sash"\nvinyl = "tin"\nseams = { back = 170 }\n'
    job = parse_job(text, "week.toml", find_preset)
    few = [order for order in job.orders if order.cup == "bowl"]
    production = produce(type(job)(**{**{name: getattr(job, name) for name in job.__slots__}, "orders": tuple(few)}))
    manifest = json.loads(guide_result(production, None, PAPERS["a4"]).files["guide.json"])
    assert [row["orders"] for row in manifest["guides"]] == [["bowl", "bowl-2"], ["other"]]


@pytest.mark.parametrize(("paper", "size"), [("a4", (210, 297)), ("letter", (215.9, 279.4))])
def test_pages_are_the_papers_and_nothing_lies_in_the_printers_margin(paper, size):
    one = TEXT.partition("[[order]]")[0] + '[[order]]\nid = "a"\ncup = "bowl"\npattern = "sash"\nvinyl = "tin"\n'
    made = Made(produce(parse_job(one, "a.toml", find_preset)), paper)
    for name, pages in made.pages.items():
        for page in pages:
            assert (page.width_mm, page.height_mm) == pytest.approx(size, abs=1e-3)
            for line in page.lines:
                assert line.points.min() >= 8.99, name
                assert line.points[:, 0].max() <= size[0] - 8.99 and line.points[:, 1].max() <= size[1] - 8.99


def test_the_square_is_50_mm(made):
    for name, pages in made.pages.items():
        (square,) = [line.points for line in pages[0].of_width(SQUARE) if len(line.points) == 5]
        assert np.ptp(square, axis=0) == pytest.approx((50, 50), abs=0.01), name
        assert any("50 mm" in text for text, _ in pages[0].texts)


@pytest.mark.parametrize("order", LOOKS)
def test_every_tile_says_what_it_is_of_and_holds_something(made, order):
    pages = made.pages[f"guide-{order}.pdf"]
    tiles = made.tiles(order)
    assert len(pages) == 1 + len(tiles)
    for number, (tile, page) in enumerate(tiles, 1):
        told = " ".join(text for text, _ in page.texts)
        assert order in told and f"tile {number} of {len(tiles)}, row {tile['row']}, column {tile['column']}" in told
        assert "100 %" in told
        assert page.of_width(EDGE) or page.of_width(PIECE) or page.of_width(0.18)
    first = " ".join(text for text, _ in pages[0].texts)
    assert "100 %" in first and "cure" in first and "sharp" in first


def rim_ticks(ticks: list[np.ndarray], start: np.ndarray) -> list[np.ndarray]:
    """The outer ends of ticks from a corner on, each the nearest to the one before it."""
    whole = [tick for tick in ticks if min(abs(np.linalg.norm(tick[1] - tick[0]) - long) for long in (1.0, 1.6, 2.2)) < 0.01]
    ends = np.array(whole)  # one that a tile cuts off is whole on the next
    found, used = [start], np.zeros(len(ends), dtype=bool)
    while not used.all():
        apart = np.linalg.norm(ends - found[-1], axis=2)
        apart[used] = math.inf
        n, end = np.unravel_index(apart.argmin(), apart.shape)
        if apart[n, end] > 1.02:
            break
        used[n] = True
        if apart[n, end] > SAME_MM or len(found) == 1:  # what two tiles share is there twice
            found.append(ends[n, end])
    return found


@pytest.mark.parametrize("order", LOOKS)
@pytest.mark.parametrize("at", ["rim", "base"])
def test_ticks_add_up_to_the_girth(made, order, at):
    wall = made.wall(order)
    bands = made.guides[order]["bands"]
    band = bands[0] if at == "rim" else bands[-1]
    down = 0.0 if at == "rim" else wall.wall_mm
    cone = _cone(wall, band["from"], band["to"])
    corners = unrolled(*cone, [-math.pi, math.pi], down - band["from"]) + (0, band["shift"])
    if band["off"]:  # a band that is off lies beside the wall: where its edge ends is seen on the paper
        straight = [line for line in made.lines(order, EDGE) if len(line) == 2]
        ends = np.concatenate(straight)
        corners = np.array([ends[np.linalg.norm(ends - corner, axis=1).argmin()] for corner in corners])
    chain = rim_ticks([tick for tick in made.lines(order, TAPE) if len(tick) == 2], corners[0])
    length = sum(float(np.linalg.norm(b - a)) for a, b in pairwise([*chain, corners[1]]))
    assert np.linalg.norm(chain[-1] - corners[1]) < 1.02
    assert length == pytest.approx(float(wall.girth_mm(down)), abs=0.1 + band["off"])
    steps = [float(np.linalg.norm(b - a)) for a, b in pairwise(chain)]
    whole = [step for step in steps if abs(step - 1) < 0.02]
    assert len(whole) >= len(chain) - 4  # all but those beside the zero mark and the edges
    assert np.mean(whole) == pytest.approx(1, abs=3e-4 + band["off"] / length)
    assert len(chain) - 2 <= float(wall.girth_mm(down)) + 1 <= len(chain) + 2


@pytest.mark.parametrize("order", LOOKS)
def test_first_and_last_edges_are_as_long_as_the_wall(made, order):
    """So that they meet all the way down; none of these is cut by a tile."""
    straight = [line for line in made.lines(order, EDGE) if len(line) == 2 and np.linalg.norm(line[1] - line[0]) > 3]
    found = sorted({round(float(np.linalg.norm(line[1] - line[0])), 1) for line in straight})
    bands = made.guides[order]["bands"]
    for band in bands:
        high = band["to"] - band["from"]
        assert any(abs(each - high) < 0.06 for each in found), (high, found)
    if order in FLAT and order != "bowl":
        wall = made.wall(order)
        edges = [line for line in straight if abs(np.linalg.norm(line[1] - line[0]) - wall.wall_mm) < 0.01]
        assert len(edges) == 2
        # the same radius from the apex, a whole turn apart
        corners = unrolled(*_cone(wall, 0.0, wall.wall_mm), [-math.pi, math.pi], [[0.0], [wall.wall_mm]])
        for edge, truth in zip(sorted(edges, key=lambda line: line[0, 0]), corners.transpose(1, 0, 2), strict=True):
            assert np.abs(edge[edge[:, 1].argsort()] - truth[truth[:, 1].argsort()]).max() < SAME_MM


@pytest.mark.parametrize("order", [*FLAT, "shouldered", "step"])
def test_outlines_are_those_of_the_flat_pieces(made, order):
    """Each flat piece moved and turned, not bent, to where it lies; whole turns on past the paper's edges too."""
    pieces = [piece for piece in made.production.pieces if piece.order == order and piece.cup_no == 1]
    drawn = shapely.union_all([shapely.LineString(line) for line in made.lines(order, PIECE)])
    truth, seen = [], 0
    middle = made.middle(order)
    inside = []
    for low, high, radius, slope, shift in made.cones(order):
        turns, downs = np.linspace(-math.pi, math.pi, 721), np.full(721, 0.0)
        border = np.concatenate(
            [unrolled(radius, slope, turns, downs), unrolled(radius, slope, turns[::-1], downs + high - low)]
        )
        area = shapely.make_valid(shapely.Polygon(border + (0, shift)))
        inside.append(area)
        for piece in pieces:
            _, top, _, bottom = piece.flat.strip.shape.polygon.bounds
            if top < low - 1e-6 or bottom > high + 1e-6:
                continue
            seen += 1
            edge, t = half_way(piece.flat.strip.middle)
            around, down = map(float, edge.curve.at(t))
            for turn in range(-3, 4):
                away = around + turn * math.tau - middle
                if abs(slope * away) > math.pi * 0.999 or abs(away) > 4 * math.pi:
                    continue
                at = unrolled(radius, slope, away, down - low) + (0, shift)
                c, s = math.cos(slope * away), math.sin(slope * away)
                points = (np.array([*piece.flat.points, piece.flat.points[0]]) - piece.flat.middle) @ np.array([[c, -s], [s, c]])
                line = shapely.LineString(points + at)
                truth.append(line.intersection(area.buffer(-0.2)))
    assert seen >= 0.4 * len(pieces)
    true = shapely.union_all(truth)
    spots = shapely.points(shapely.get_coordinates(shapely.segmentize(true, 1.0)))
    assert len(spots) > 100
    assert shapely.distance(drawn, spots).max() < 0.05
    if order in FLAT:  # and nothing else is drawn
        whole = shapely.union_all(inside).buffer(-0.3)
        spots = shapely.points(shapely.get_coordinates(shapely.segmentize(drawn.intersection(whole), 1.0)))
        assert shapely.distance(true, spots).max() < 0.05


@pytest.mark.parametrize("order", LOOKS)
def test_join_marks_of_neighbours_lie_over_each_other(made, order):
    tiles = made.tiles(order)
    if len(tiles) == 1:
        assert not any(page.of_width(JOIN) for _, page in tiles)
        return
    marks: dict[str, list] = {}
    for tile, page in tiles:
        diamonds = [line.points for line in page.of_width(JOIN) if len(line.points) == 5]
        for diamond in diamonds:
            middle = (diamond.min(axis=0) + diamond.max(axis=0)) / 2
            near = [text for text, at in page.texts if text.isdigit() and 2 < np.linalg.norm(at - middle) < 7]
            assert near, middle
            number = min(near, key=lambda text: min(np.linalg.norm(at - middle) for t, at in page.texts if t == text))
            marks.setdefault(number, []).append((tile, made.on_paper(order, tile, middle[None])[0]))
    assert sorted(map(int, marks)) == list(range(1, len(marks) + 1))
    pairs: dict[tuple, int] = {}
    for (first, at), (second, there) in marks.values():
        assert np.linalg.norm(at - there) < SAME_MM
        apart = abs(first["row"] - second["row"]) + abs(first["column"] - second["column"])
        assert apart == 1
        key = tuple(sorted((first["page"], second["page"])))
        pairs[key] = pairs.get(key, 0) + 1
    assert set(pairs.values()) == {2}
    places = {(tile["row"], tile["column"]) for tile, _ in tiles}
    beside = sum(((row, column + 1) in places) + ((row + 1, column) in places) for row, column in places)
    assert len(pairs) == beside


def test_marks_are_those_of_the_whole_job(made):
    from stripegen.marks import marks_of

    marks = marks_of(made.production.pieces)
    for order in LOOKS:
        own = {marks[piece.id] for piece in made.production.pieces if piece.order == order and piece.cup_no == 1}
        told = {text for _, page in made.tiles(order) for text, _ in page.texts}
        legend = " ".join(text for text, _ in made.pages[f"guide-{order}.pdf"][0].texts)
        for mark in own:
            assert f"{mark}: " in legend
        # a mark may be read as part of a line of text
        assert sum(any(mark in text.split() for text in told) for mark in own) >= 0.8 * len(own)


def test_a_wall_that_cannot_be_laid_flat_says_how_far_it_is_off(made):
    bands = made.guides["bellied-mug"]["bands"]
    worst = max(band["off"] for band in bands)
    assert 0.3 < worst < 0.5
    assert [notice.code for notice in made.notices if notice.order == "bellied-mug" and notice.code == "guide-off"]
    told = " ".join(text for text, _ in made.pages["guide-bellied-mug.pdf"][0].texts)
    assert f"off by up to {worst:.1f} mm" in " ".join(told.split())
    assert all(band["off"] == 0 for order in LOOKS if order != "bellied-mug" for band in made.guides[order]["bands"])


class TestRings:
    @pytest.mark.parametrize("cup", LOOKS)
    def test_ticks_are_a_millimetre_apart_and_reach_past_the_girth(self, made, cup):
        row, wall = made.rings[cup], made.wall(cup)
        assert row["circumference"] == pytest.approx(float(wall.girth_mm(row["down"])), abs=1e-5)
        assert row["down"] == round(row["down"])
        ticks = [line.points for page in made.pages[f"ring-{cup}.pdf"] for line in page.of_width(TAPE)]
        assert len(ticks) >= math.floor(row["circumference"] + 12)
        steps = [float(np.linalg.norm(b[0] - a[0])) for a, b in pairwise(ticks)]
        within = [step for step in steps if step < 5]
        assert within == pytest.approx([1.0] * len(within), abs=0.005)
        jumps = len(steps) - len(within)  # from one length of paper to the next, whose first tick is its line
        bare = sum(within)
        assert math.floor(row["circumference"] + 12) - 1 - jumps <= bare <= row["circumference"] + 12

    @pytest.mark.parametrize("cup", LOOKS)
    def test_the_expected_girth_is_marked(self, made, cup):
        row = made.rings[cup]
        pages = made.pages[f"ring-{cup}.pdf"]
        ((page, mark),) = [(page, line.points) for page in pages for line in page.of_width(SQUARE) if len(line.points) == 2]
        at = mark[0] + (mark[1] - mark[0]) * 4 / float(np.linalg.norm(mark[1] - mark[0]))  # it begins 4 mm over the edge
        ticks = [line.points[0] for line in page.of_width(TAPE)]
        before = sorted(float(np.linalg.norm(tick - at)) for tick in ticks)[:2]
        beyond = row["circumference"] - math.floor(row["circumference"])
        assert sorted(before) == pytest.approx(sorted([beyond, 1 - beyond]), abs=0.01)

    @pytest.mark.parametrize("cup", [look for look in LOOKS if look not in ("bellied-mug",)])
    def test_it_is_a_part_of_the_wall(self, made, cup):
        row, wall = made.rings[cup], made.wall(cup)
        pages = made.pages[f"ring-{cup}.pdf"]
        arcs = [line.points for page in pages for line in page.of_width(PIECE)]
        long = [arc for arc in arcs if np.linalg.norm(arc[-1] - arc[0]) > 30]
        lengths = [float(np.linalg.norm(np.diff(arc, axis=0), axis=1).sum()) for arc in long]
        upper, lower = sum(lengths[0::2]), sum(lengths[1::2])
        high = 10.0
        ratio = float(wall.radius_mm(row["down"] + high) / wall.radius_mm(row["down"]))
        assert lower / upper == pytest.approx(ratio, abs=1e-4)
        tabs = 10 * (len(long) // 2 - 1)
        assert upper == pytest.approx(row["circumference"] + 12 + tabs, abs=0.01 * len(long))

    def test_the_line_to_paste_is_read_and_puts_the_cup_right(self, made):
        text = " ".join(text for text, _ in made.pages["ring-bowl.pdf"][0].texts)
        line = text[text.index("fit = {") : text.index("}") + 1]
        row = made.rings["bowl"]
        read = row["circumference"] * 1.01
        pasted = TEXT.replace("resin = 0.8", "resin = 0.8\n" + line.replace("231.5", f"{read:.3f}"))
        again = produce(parse_job(pasted, "week.toml", find_preset)).decorations["bowl"].site.wall
        assert float(again.girth_mm(row["down"])) == pytest.approx(read, abs=1e-3)


@pytest.mark.parametrize("paper", PAPERS)
def test_every_preset_has_a_guide(paper):
    cups, patterns = preset_names("cup"), preset_names("pattern")
    turned = patterns[5:] + patterns[:5]
    pairs = [(cup, (patterns if paper == "a4" else turned)[n % len(patterns)]) for n, cup in enumerate(cups)]
    pairs = pairs if paper == "a4" else pairs[::3]
    orders = [f'[[order]]\nid = "{c}--{p}"\ncup = "{c}"\npattern = "{p}"\nvinyl = "roll"\n' for c, p in pairs]
    text = '[vinyl.roll]\ncolour = "#304050"\nwidth = 610\n' + "".join(orders)
    result = guide_result(produce(parse_job(text, "every.toml", find_preset)), None, PAPERS[paper])
    manifest = json.loads(result.files["guide.json"])
    assert len(manifest["guides"]) == len(manifest["rings"]) == len(pairs)
    for row in manifest["guides"]:
        (name,) = row["files"]
        assert len(PdfReader(io.BytesIO(result.files[name])).pages) == 1 + len(row["tiles"])
        assert len(row["tiles"]) <= 4
        assert max(band["off"] for band in row["bands"]) < 0.5


def test_too_much_paper_is_refused_in_one_line():
    text = """
[cup.silo]
rim = { diameter = 3000 }
base = { diameter = 3000 }
height = 4000
[vinyl.tin]
colour = "#a8adb3"
width = 9000
[[order]]
id = "a"
cup = "silo"
pattern = "seam-stripes"
vinyl = "tin"
"""
    with pytest.raises(JobError, match=r"^a.toml:2:1: \[cup.silo\]: a paper guide would take more than 200 pages$"):
        guide_result(produce(parse_job(text, "a.toml", find_preset)), None, PAPERS["a4"])


def test_pieces_together_and_on_a_further_coat_are_drawn_too():
    text = """
[pattern.both]
together = true
[[pattern.both.line]]
name = "edge"
kind = "vertical"
around = ["front", "back"]
width = 5
vinyl = "a"
[[pattern.both.line]]
name = "belt"
kind = "ring"
down = "50%"
width = 4
vinyl = "a"
[pattern.over]
[[pattern.over.line]]
name = "belt"
kind = "ring"
down = "40%"
width = 4
resin = 1.5
vinyl = "a"
[vinyl.tin]
colour = "#a8adb3"
width = 600
[[order]]
id = "both"
cup = "tall-tapered"
pattern = "both"
vinyl = "tin"
[[order]]
id = "over"
cup = "shouldered"
pattern = "over"
vinyl = "tin"
"""
    made = Made(produce(parse_job(text, "a.toml", find_preset)), "letter")
    for order in ("both", "over"):
        assert sum(float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in made.lines(order, PIECE)) > 400
