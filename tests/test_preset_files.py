"""The shipped presets: sound, alike in form, and every pattern fits every cup and vinyl."""

from __future__ import annotations

import datetime
import math
import tomllib
from functools import cache

import numpy as np
import pytest
import shapely
from soundness import unsound

from stripegen.decoration import Decoration, decorate
from stripegen.errors import Fault
from stripegen.flat import FlatPiece
from stripegen.jobfile import one_order_job, parse_job
from stripegen.presets import find_preset, list_presets, preset_names, shipped_folder
from stripegen.production import produce
from stripegen.shelf import Shelf, Source
from stripegen.spec import Cup, Job, Pattern, Vinyl

CUPS, PATTERNS, VINYLS = (preset_names(kind) for kind in ("cup", "pattern", "vinyl"))
BENT = ("bellied-mug", "shouldered")
STRAIGHT = tuple(name for name in CUPS if name not in BENT)
DEFAULT_CLEARANCES_MM = (12.0, 6.0)
PLACE_KEYS = ("down", "up", "from", "to", "top", "bottom")
ROLES = {"accent", "second"}
SLACK_MM = 0.02  # of an outline that is given by points


def shipped(kind: str, name: str) -> tuple[str, str]:
    """A shipped preset's text and its file's name."""
    found = find_preset(kind, name)
    assert found is not None
    return found


@cache
def read_alone(kind: str, name: str) -> Cup | Pattern | Vinyl:
    faults: list[Fault] = []
    shelf = Shelf(kind, faults, lambda kind, name: None, lambda kind: ())
    assert shelf.add_source(Source(*shipped(kind, name))) == name
    assert not faults
    return shelf.found[name]


@cache
def laid(cup: str, pattern: str) -> Decoration:
    return decorate(read_alone("cup", cup), read_alone("pattern", pattern))


def flat_pieces(decoration: Decoration) -> list[FlatPiece]:
    return [piece for pieces in decoration.pieces for piece in pieces]


# ---- The files


def test_there_are_enough_to_choose_from():
    assert len(CUPS) >= 10
    assert len(PATTERNS) >= 8
    assert len(VINYLS) >= 6
    assert preset_names("job") == ["demo-week"]


@pytest.mark.parametrize(("kind", "names"), [("cup", CUPS), ("pattern", PATTERNS), ("vinyl", VINYLS)])
def test_each_file_holds_one_sound_table_of_its_name(kind, names):
    for name in names:
        values = tomllib.loads(shipped(kind, name)[0])
        assert set(values) <= {"units", kind}
        assert list(values[kind]) == [name]
        assert read_alone(kind, name).name == name


def test_no_other_files_are_shipped():
    files = [file for folder in shipped_folder().iterdir() for file in folder.iterdir()]
    assert len(files) == len(list_presets())


def test_each_says_in_one_short_line_what_it_is():
    abouts = [preset.about for preset in list_presets()]
    assert all(20 <= len(about) <= 90 for about in abouts)
    assert len(set(abouts)) == len(abouts)


def test_cups_are_of_every_form_and_measured_in_every_way():
    cups = [read_alone("cup", name) for name in CUPS]
    slopes = [(cup.base_radius_mm - cup.rim_radius_mm) / cup.wall_mm for cup in cups]
    assert min(slopes) < -0.2 and max(slopes) > 0.1 and slopes.count(0) >= 2
    assert min(cup.wall_mm for cup in cups) < 70 and max(cup.wall_mm for cup in cups) > 200
    assert 1 <= sum(bool(cup.keepouts) for cup in cups) <= 4
    texts = [shipped("cup", name)[0] for name in CUPS]
    assert {bool(cup.profile) for cup in cups} == {cup.smooth for cup in cups} == {True, False}
    for way in ("diameter =", "circumference =", "girths ", "height ", "wall ", '"in"', '"cm"', "_clearance"):
        assert any(way in line for text in texts for line in text.splitlines() if not line.startswith("#"))


def test_vinyls_are_rolls_and_sheets_with_and_without_grain():
    vinyls = [read_alone("vinyl", name) for name in VINYLS]
    assert {vinyl.grain for vinyl in vinyls} == {"none", "cup", "strip"}
    assert {vinyl.length_mm is None for vinyl in vinyls} == {True, False}
    assert all((vinyl.price_sheet is None) != (vinyl.price_square_metre is None) for vinyl in vinyls)
    assert all(vinyl.corner_radius_mm == 0.4 for vinyl in vinyls)
    assert len({vinyl.colour for vinyl in vinyls}) == len(vinyls)


@pytest.mark.parametrize("name", PATTERNS)
def test_patterns_have_the_same_roles_and_no_place_of_a_fixed_length(name):
    def check(table: dict) -> None:
        for key, value in table.items():
            places = value if isinstance(value, list) else [value]
            if isinstance(value, dict):
                check(value)
            elif key in PLACE_KEYS:
                assert all(isinstance(place, str) and place.endswith("%") for place in places)

    lines = tomllib.loads(shipped("pattern", name)[0])["pattern"][name]["line"]
    for line in lines:
        check(line)
    roles = {line["vinyl"] for line in lines}
    assert "accent" in roles <= ROLES
    assert "along" not in str(lines)


# ---- Every pattern on every cup


@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("cup", BENT)
def test_every_pattern_on_every_cup_that_is_not_straight(cup, pattern):
    decoration = laid(cup, pattern)
    assert all(decoration.pieces)
    assert {notice.code for notice in decoration.notices} <= {"cut-off", "ring-open"}
    assert unsound(decoration) == []


@pytest.mark.parametrize("pattern", PATTERNS)
@pytest.mark.parametrize("cup", STRAIGHT)
def test_every_pattern_on_every_straight_cup(cup, pattern):
    decoration = laid(cup, pattern)
    assert all(decoration.pieces)
    if not decoration.cup.keepouts:
        assert not decoration.notices
    assert {notice.code for notice in decoration.notices} <= {"cut-off", "ring-open"}
    for piece in flat_pieces(decoration):
        around, down = on_the_wall(piece, decoration.cup)
        radii = measures(decoration.cup)[0] + measures(decoration.cup)[1] * down
        for place in (piece.start, piece.end):
            gaps = np.hypot((around - place[0]) * radii, down - place[1])
            assert gaps.min() < 0.2  # the points are so near each other: it lies where it says that it does
        check_limits(around, down, decoration)
        assert min(piece.cut_mm, piece.width_mm) >= 1


def measures(cup: Cup) -> tuple[float, float]:
    """Radius at the rim, resin and all, and its change for every mm down the wall."""
    slope = (cup.base_radius_mm - cup.rim_radius_mm) / cup.wall_mm
    return cup.rim_radius_mm + cup.resin_mm * math.cos(math.asin(slope)), slope


def on_the_wall(piece: FlatPiece, cup: Cup) -> tuple[np.ndarray, np.ndarray]:
    """Around and down of points all along a piece's flat outline, rolled back onto the cup.

    The half way of its centre line, on the wall, is found by summing chords in space.
    """
    rim, slope = measures(cup)
    stretches = [edge.curve.at(np.linspace(edge.t0, edge.t1, 500)) for edge in piece.strip.middle]
    a, v = (np.concatenate(part) for part in zip(*stretches, strict=True))
    r, z = rim + slope * v, v * math.sqrt(1 - slope**2)
    chords = np.linalg.norm(np.diff([r * np.cos(a), r * np.sin(a), z]), axis=0)
    walked = np.concatenate([[0], np.cumsum(chords)])
    around0, down0 = np.interp(walked[-1] / 2, walked, a), np.interp(walked[-1] / 2, walked, v)
    rings = [shapely.segmentize(shapely.LinearRing(ring), 0.3) for ring in (piece.points, *piece.holes)]
    x, y = (np.concatenate([shapely.get_coordinates(ring) for ring in rings]) - piece.middle).T
    radius0 = rim + slope * down0
    if slope == 0:
        return around0 + x / radius0, down0 + y
    # about the apex, which is straight below a wall that narrows downwards and above any other
    apex = radius0 / slope
    turn = np.arctan2(x * math.copysign(1, slope), (y + apex) * math.copysign(1, slope)) / slope
    return around0 + turn, (np.hypot(x, y + apex) * abs(slope) - rim) / slope


def check_limits(around: np.ndarray, down: np.ndarray, decoration: Decoration) -> None:
    cup, pattern = decoration.cup, decoration.pattern
    given = [
        (cup.rim_clearance_mm, pattern.rim_clearance_mm),
        (cup.base_clearance_mm, pattern.base_clearance_mm),
    ]
    top, foot = (
        max((mm for mm in both if mm is not None), default=default)
        for both, default in zip(given, DEFAULT_CLEARANCES_MM, strict=True)
    )
    assert down.min() > top - SLACK_MM
    assert down.max() < cup.wall_mm - foot + SLACK_MM
    rim, slope = measures(cup)
    for keepout in cup.keepouts:
        beside = (down > keepout.from_mm + SLACK_MM) & (down < keepout.to_mm - SLACK_MM)
        turn = np.mod(around[beside] - keepout.around + math.pi, math.tau) - math.pi
        radii = rim + slope * down[beside]
        # the distance from the handle's meridian, in the plane into which the wall unrolls
        sideways = radii * (np.sin(slope * turn) / slope if slope else turn)
        near = np.abs(slope * turn) < math.pi / 2
        assert np.all(np.abs(sideways[near]) > keepout.width_mm / 2 - SLACK_MM)


@pytest.mark.parametrize("vinyl", VINYLS)
def test_every_pattern_fits_every_vinyl(vinyl):
    stock = read_alone("vinyl", vinyl)
    for cup in CUPS:
        for pattern in PATTERNS:
            decoration = laid(cup, pattern)
            for line, pieces in zip(decoration.pattern.lines, decoration.pieces, strict=True):
                assert line.width_mm >= stock.min_width_mm
                # a spiral goes more than twice round: its file says that it wants a roll or long sheets
                if stock.length_mm is None or pattern != "spiral":
                    assert all(fits(piece, stock) for piece in pieces), (cup, pattern, line.name)


def fits(piece: FlatPiece, stock: Vinyl) -> bool:
    """Whether a piece lies between the margins at some turn that the grain allows."""
    turns = {"none": np.linspace(0, math.pi, 361), "cup": 0.0, "strip": piece.lean_rad}[stock.grain]
    x, y = np.array(shapely.convex_hull(shapely.MultiPoint(piece.points)).exterior.coords).T[:, :, None]
    across = np.ptp(x * np.cos(turns) - y * np.sin(turns), axis=0)
    along = np.ptp(x * np.sin(turns) + y * np.cos(turns), axis=0)
    room_mm = 2 * (stock.margin_mm + SLACK_MM)
    length_mm = math.inf if stock.length_mm is None else stock.length_mm
    return bool(np.any((across <= stock.width_mm - room_mm) & (along <= length_mm - room_mm)))


def test_a_vinyl_for_every_role_and_one_for_each():
    for pattern in PATTERNS:
        job = one_order_job(cup=CUPS[0], pattern=pattern, vinyl="matt-black", find_preset=find_preset)
        assert list(job.vinyls) == ["matt-black"]
        each = {role: "navy-blue" for role in {line.vinyl for line in job.patterns[pattern].lines}}
        job = one_order_job(cup=CUPS[0], pattern=pattern, vinyl=each, find_preset=find_preset)
        assert job.unused_roles(job.orders[0]) == ()


# ---- The demo week


@cache
def demo_week() -> Job:
    text, file = shipped("job", "demo-week")
    return parse_job(text, file, find_preset)


def test_demo_week_is_a_week_of_work():
    job = demo_week()
    production = produce(job)
    assert 20 <= len(job.orders) <= 30
    assert 250 <= len(production.pieces) <= 350
    assert 4 <= len(production.vinyls) <= 5
    assert not production.notices
    assert len({piece.id for piece in production.pieces}) == len(production.pieces)
    quantities = [order.quantity for order in job.orders]
    assert min(quantities) == 1 and max(quantities) == 8
    for piece in production.pieces:
        vinyl = job.vinyls[piece.vinyl]
        assert fits(piece.flat, vinyl), piece.id


def test_demo_week_shows_shipped_presets_and_its_own_tables():
    job = demo_week()
    own = tomllib.loads(shipped("job", "demo-week")[0])
    assert all(len(own[kind]) == 1 for kind in ("cup", "vinyl", "pattern"))
    assert set(CUPS) <= set(job.cups)
    assert set(PATTERNS) <= set(job.patterns)
    assert len(own["order"]) == len(job.orders)


def test_demo_week_is_due_from_monday_to_friday_of_one_week_of_2027():
    dues = [order.due for order in demo_week().orders]
    assert dues == sorted(dues)
    assert dues[0].year == 2027
    assert sorted(set(dues)) == [dues[0] + datetime.timedelta(days=n) for n in range(5)]
    assert dues[0].weekday() == 0
