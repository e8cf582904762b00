"""How thick film lies, against counts at points of the wall that know of each line only where it should be."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from strategies import a_cup, box

from stripegen.decoration import decorate
from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.production import produce
from stripegen.shapes import FULL_TURN
from stripegen.site import Site
from stripegen.spec import Cup, Diagonal, Down, Line, Pattern, Repeat, Ring, Vertical, Vinyl
from stripegen.stacking import Film, Stack, films_of, stacking_notices, thickest_stacks

PLAIN = a_cup(40.0, 40.0, 110.0)
CONE = a_cup(43.0, 31.0, 120.0)
BACK = math.pi


def slope(cup: Cup) -> float:
    return (cup.base_radius_mm - cup.rim_radius_mm) / cup.wall_mm


def radius(cup: Cup, down):
    return cup.rim_radius_mm + slope(cup) * down


def wrapped(around):
    return np.remainder(around + math.pi, FULL_TURN) - math.pi


def layers(cup: Cup, line: Line, around, down, inset: float) -> np.ndarray:
    """How often a line's strips lie at points, each made narrower and shorter by `inset` on every side."""
    half, r = line.width_mm / 2 - inset, radius(cup, down)
    around, down = np.atleast_1d(around), np.atleast_1d(down)
    count = np.zeros(len(around), int)
    if isinstance(line, Ring):
        for place in line.downs:
            past_joint = np.remainder(around - BACK, FULL_TURN) * r
            # the overlap is as long along the middle of the ring, its ends upright
            over = line.overlap_mm * r / radius(cup, place.value)
            count += (np.abs(down - place.value) < half) * (1 + ((past_joint > inset) & (past_joint < over - inset)))
    elif isinstance(line, Vertical):
        for number in range(line.repeat.count):
            turn = wrapped(around - number * FULL_TURN / line.repeat.count)
            k = slope(cup)
            aside = r / k * np.sin(k * turn) if k else r * turn
            # level ends
            on = (down > line.start.value + inset) & (down < line.end.value - inset) & (np.abs(turn) < 1.0)
            count += on & (np.abs(aside) < half)
    else:
        assert slope(cup) == 0 and isinstance(line, Diagonal)
        rise = (line.end_down.value - line.start_down.value) / (line.end_around - line.start_around)
        for turn in range(-3, 4):
            # on a plain cylinder it is a straight line of the plane, its ends level
            fall = down - line.start_down.value - rise * (around - line.start_around + turn * FULL_TURN)
            on = (down > line.start_down.value + inset) & (down < line.end_down.value - inset)
            count += on & (np.abs(fall) / np.hypot(1, rise / r) < half)
    return count


def stacks_of(cup: Cup, thicknesses: dict[str, float | None], *lines: Line, seal: float | None = 0.1):
    laid = decorate(cup, Pattern(name="p", lines=lines))
    made = [
        (each.line.name, a_vinyl(thicknesses[each.line.name]), flat)
        for each, flats in zip(laid.lines, laid.pieces, strict=True)
        for flat in flats
    ]
    return thickest_stacks(films_of(laid, made), seal)


def a_vinyl(thickness: float | None) -> Vinyl:
    return Vinyl(name="v", colour="#000", width_mm=300, thickness_mm=thickness)


def ring(name: str, *downs: float, width: float = 4.0, **more) -> Ring:
    return Ring(name=name, vinyl="v", width_mm=width, downs=tuple(Down(down) for down in downs), joint=BACK, **more)


def pins(name: str, count: int = 1, start: float = 20.0, end: float = 90.0, width: float = 4.0, **more) -> Vertical:
    return Vertical(name=name, vinyl="v", width_mm=width, start=Down(start), end=Down(end),
                    repeat=Repeat(count=count), **more)  # fmt: skip


def slant(name: str, around: float, turn: float, start: float = 20.0, end: float = 90.0, **more) -> Diagonal:
    return Diagonal(name=name, vinyl="v", start_around=around, start_down=Down(start), end_around=around + turn,
                    end_down=Down(end), **{"width_mm": 4.0, **more})  # fmt: skip


WIDTHS = st.floats(1.0, 6.0)


@st.composite
def some_lines(draw, slants: bool) -> list[Line]:
    kinds = ["ring", "pins", "slant"] if slants else ["ring", "pins"]
    found = []
    for number in range(draw(st.integers(1, 5))):
        name, width = f"l{number}", draw(WIDTHS)
        kind = draw(st.sampled_from(kinds))
        if kind == "ring":
            found.append(ring(name, draw(st.floats(25, 85)), width=width, overlap_mm=draw(st.floats(0, 15))))
        elif kind == "pins":
            ends = draw(st.floats(20, 50)), draw(st.floats(55, 90))
            found.append(pins(name, draw(st.integers(1, 12)), *ends, width=width))
        else:
            turn = draw(st.one_of(st.floats(0.5, 8.0), st.floats(-8.0, -0.5)))
            found.append(slant(name, draw(st.floats(-4, 8)), turn, width_mm=width))
    return found


class TestAgainstPoints:
    @given(st.data(), st.sampled_from(("plain", "cone")), st.integers(0, 2**32 - 1))
    @settings(max_examples=60)
    def test_nowhere_lies_more_and_there_it_does(self, data, kind, seed):
        cup = PLAIN if kind == "plain" else CONE
        lines = data.draw(some_lines(slants=kind == "plain"))
        thicknesses = {line.name: data.draw(st.sampled_from((0.05, 0.08, 0.13))) for line in lines}
        try:
            (stack,) = stacks_of(cup, thicknesses, *lines)
        except JobError:
            reject()
        rng = np.random.default_rng(seed)
        around, down = rng.uniform(0, FULL_TURN, 40_000), rng.uniform(15, 95, 40_000)
        total = sum(thicknesses[line.name] * layers(cup, line, around, down, 0.05) for line in lines)
        assert total.max() <= stack.thickness_mm + 1e-9
        there = {line.name: int(layers(cup, line, stack.around_rad, stack.down_mm, 1e-3)[0]) for line in lines}
        assert Counter(stack.lines) == Counter(there)
        assert stack.thickness_mm == pytest.approx(sum(thicknesses[name] * n for name, n in there.items()))
        assert list(stack.lines) == sorted(stack.lines)  # in the pattern's order

    def test_of_one_strip_alone(self):
        (stack,) = stacks_of(CONE, {"pin": 0.08}, pins("pin"))
        assert (stack.lines, stack.thickness_mm) == (("pin",), 0.08)

    def test_over_the_zero_mark(self):
        lines = slant("a", -0.5, 1.0), slant("b", 0.5, -1.0), pins("pin")
        (stack,) = stacks_of(PLAIN, dict.fromkeys(("a", "b", "pin"), 0.1), *lines)
        assert stack.lines == ("a", "b", "pin")
        assert stack.thickness_mm == pytest.approx(0.3)
        assert (wrapped(stack.around_rad), stack.down_mm) == pytest.approx((0.0, 55.0), abs=0.01)

    def test_a_strip_that_winds_over_itself(self):
        """Two turns of 4 mm that fall by 3 mm a turn."""
        coil = slant("coil", 0.0, 2 * FULL_TURN, start=50.0, end=56.0, ends="square")
        (stack,) = stacks_of(PLAIN, {"coil": 0.1}, coil)
        assert stack.lines == ("coil", "coil")


THIN = {"belt": 0.05, "pin": 0.06}


class TestWhatLiesOnWhat:
    def test_a_ring_with_no_overlap_lies_over_nothing(self):
        (stack,) = stacks_of(CONE, THIN, ring("belt", 50.0, overlap_mm=0.0))
        assert stack.lines == ("belt",)

    def test_a_tucked_end_lies_under_its_cover(self):
        belt, pin = ring("belt", 50.0, overlap_mm=0.0), pins("pin", end=50.0, under=("belt",), tuck_mm=1.0)
        (stack,) = stacks_of(CONE, THIN, belt, pin)
        assert stack.lines == ("belt", "pin")
        assert 48.0 < stack.down_mm < 49.0

    @pytest.mark.parametrize("by", [0.0, 1.0])
    def test_what_keeps_clear_lies_over_nothing(self, by):
        belt, pin = ring("belt", 50.0, overlap_mm=0.0), pins("pin", 5, clear_of=("belt",), by_mm=by)
        (stack,) = stacks_of(CONE, THIN, belt, pin)
        assert stack.lines == ("pin",)

    def test_stripes_side_by_side_lie_beside_each_other(self):
        for gap in (0.0, 1.0):
            (stack,) = stacks_of(CONE, THIN, pins("pin", 3, stripes=3, gap_mm=gap))
            assert stack.lines == ("pin",)

    def test_what_lies_between_stripes_lies_on_no_film(self):
        """The region of several stripes holds the gaps between them; the film does not."""
        belt = ring("belt", 40.0, stripes=2, gap_mm=10.0, overlap_mm=0.0)
        pin = pins("pin", start=37.0, end=43.0, stripes=1)
        (stack,) = stacks_of(CONE, THIN, belt, pin)
        assert stack.lines == ("pin",)


class TestCoats:
    LINES = ring("belt", 50.0), pins("pin", resin_mm=0.5), ring("top", 60.0, resin_mm=1.3, overlap_mm=0.0)

    def test_each_coat_has_its_own_stack(self):
        thicknesses = {"belt": 0.05, "pin": 0.06, "top": 0.07}
        found = stacks_of(CONE, thicknesses, *self.LINES, seal=2.0)
        assert [stack.lines for stack in found] == [("belt", "belt"), ("pin",), ("top",)]
        assert [stack.resin_mm for stack in found] == [0.0, 0.5, 1.3]
        assert [stack.coat_mm for stack in found] == pytest.approx([0.5, 0.8, 2.0])
        assert not any(stack.is_too_thick for stack in found)

    def test_lines_on_the_cups_own_thickness_lie_on_its_coat(self):
        cup = a_cup(43.0, 31.0, 120.0, resin_mm=0.5)
        found = stacks_of(cup, {"belt": 0.05, "pin": 0.06}, ring("belt", 50.0, overlap_mm=0.0), self.LINES[1])
        assert [stack.lines for stack in found] == [("belt", "pin")]

    def test_where_the_seal_is_not_known_nothing_is_said_of_the_last(self):
        found = stacks_of(CONE, {"belt": 0.05, "pin": 0.06, "top": 1.9}, *self.LINES, seal=None)
        assert [stack.lines for stack in found] == [("belt", "belt"), ("pin",)]

    def test_film_of_unknown_thickness_adds_nothing(self):
        belt, pin = ring("belt", 50.0, overlap_mm=0.0), pins("pin")
        (stack,) = stacks_of(CONE, {"belt": None, "pin": 0.06}, belt, pin)
        assert (stack.lines, stack.thickness_mm) == (("pin",), 0.06)
        assert stacks_of(CONE, {"belt": None, "pin": None}, belt, pin) == ()

    def test_a_line_of_unknown_thickness_still_lies_on_its_coat(self):
        found = stacks_of(CONE, {"belt": 0.4, "pin": None, "top": None}, *self.LINES, seal=0.1)
        assert [(stack.lines, stack.coat_mm) for stack in found] == [(("belt", "belt"), 0.5)]

    def test_no_film(self):
        assert thickest_stacks([], 0.1) == ()

    def test_film_too_narrow_to_lie_on_anything(self):
        wall = Site.of(PLAIN, Pattern(name="p", lines=())).wall
        assert thickest_stacks([Film("hair", 0.0, 0.1, box(wall, 0.0, 1e-5, 20.0, 80.0))], 0.1) == ()

    @pytest.mark.parametrize(("coat", "count"), [(0.1599, 1), (0.16, 0), (0.1601, 0)])
    def test_a_notice_where_the_coat_is_thinner(self, coat, count):
        notices = stacking_notices(stacks_of(CONE, {"belt": 0.08}, ring("belt", 50.0), seal=coat))
        assert [notice.code for notice in notices] == ["stack-too-thick"] * count

    def test_the_notice_names_lines_and_place(self):
        def told(*lines: str) -> str:
            (notice,) = stacking_notices([Stack(lines, 0.25, math.radians(41.5), 33.333, 0.8, 0.2)])
            return str(notice)

        place = "lie on each other at 41.5 degrees, 33.3 mm down: 0.25 mm of film"
        assert told("a", "b", "b", "c").startswith(f"a, 2 layers of b and c {place}")
        assert told("b", "b").startswith("2 layers of b lie on each other at 41.5 degrees")
        assert told("a").startswith("the film of a is 0.25 mm thick, more than the 0.20 mm of resin")


JOB = """
[cup.crew]
rim    = { diameter = 86 }
base   = { diameter = 70 }
height = 120
resin  = 0.5
SEAL

[vinyl.thick]
colour = "#b8923a"
width  = WIDTH
thickness = 0.1

[vinyl.thin]
colour = "#20242c"
width  = 305
thickness = 0.06

[pattern.belts]
[[pattern.belts.line]]
name = "belt"
kind = "ring"
down = 60
width = 5
overlap = OVERLAP
vinyl = "first"

[[pattern.belts.line]]
name = "pin"
kind = "vertical"
around = 90
width = 5
vinyl = "second"

[pattern.post]
[[pattern.post.line]]
name = "post"
kind = "vertical"
around = 0
width = 5
split = true
vinyl = "first"

[[order]]
id = "A-1"
cup = "crew"
pattern = "belts"
vinyl = { first = "thick", second = "thin" }

[[order]]
id = "A-2"
cup = "crew"
pattern = "belts"
vinyl = "thin"

[[order]]
id = "A-3"
cup = "crew"
pattern = "post"
vinyl = "thick"
"""


JOB = """
[cup.crew]
rim    = { diameter = 86 }
base   = { diameter = 70 }
height = 120
resin  = 0.5
SEAL

[cutter]
cut_width = RUN
longest_run = RUN

[vinyl.thick]
colour = "#b8923a"
width  = 305
thickness = 0.1

[vinyl.thin]
colour = "#20242c"
width  = 305
thickness = 0.06

[pattern.belts]
[[pattern.belts.line]]
name = "belt"
kind = "ring"
down = 60
width = 5
overlap = OVERLAP
vinyl = "first"

[[pattern.belts.line]]
name = "pin"
kind = "vertical"
around = 90
width = 5
vinyl = "second"

[pattern.post]
[[pattern.post.line]]
name = "post"
kind = "vertical"
around = 0
width = 5
split = true
vinyl = "first"

[[order]]
id = "A-1"
cup = "crew"
pattern = "belts"
vinyl = { first = "thick", second = "thin" }

[[order]]
id = "A-2"
cup = "crew"
pattern = "belts"
vinyl = "thin"

[[order]]
id = "A-3"
cup = "crew"
pattern = "post"
vinyl = "thick"
"""


class TestInAJob:
    def told(self, seal: str, run: int = 400, overlap: int = 3) -> dict[str, str]:
        """What is told of each order's film, from a cutter that cuts so much at a time."""
        text = JOB.replace("SEAL", seal).replace("OVERLAP", str(overlap)).replace("RUN", str(run))
        notices = produce(parse_job(text, "job.toml", find_preset=lambda kind, name: None)).notices
        return {each.order: each.told for each in notices if each.code == "stack-too-thick"}

    def test_nothing_is_said_where_the_seal_is_not_known(self):
        assert self.told("") == {}

    def test_each_order_is_told_of_its_own_vinyls(self):
        assert self.told("seal = 0.21") == {}
        (told,) = self.told("seal = 0.19").items()
        assert told[0] == "A-1" and told[1].startswith("2 layers of belt lie")
        assert list(self.told("seal = 0.11")) == ["A-1", "A-2"]
        found = self.told("seal = 0.11", overlap=0)
        assert found["A-1"].startswith("belt and pin lie on each other at 90.0 degrees, 60.0 mm down")

    def test_the_parts_of_a_split_strip_lie_over_each_other(self):
        assert "A-3" not in self.told("seal = 0.19")
        assert self.told("seal = 0.19", run=60)["A-3"].startswith("2 layers of post lie")

    def test_pieces_that_are_joined_are_one_film(self):
        """Laid together, what crosses in one vinyl is cut as one piece."""
        apart = JOB.replace("[pattern.belts]", "[pattern.belts]\ntogether = true")
        for text, told in ((JOB, ["A-1", "A-2"]), (apart, ["A-1"])):
            text = text.replace("SEAL", "seal = 0.11").replace("OVERLAP", "0").replace("RUN", "400")
            notices = produce(parse_job(text, "job.toml", find_preset=lambda kind, name: None)).notices
            assert [each.order for each in notices if each.code == "stack-too-thick"] == told
