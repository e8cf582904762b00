"""A girth read by a paper ring puts all radii right: by laws on every kind of wall, and every refusal."""

from __future__ import annotations

import math
import tomllib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.errors import Where
from stripegen.fitspec import ring_down_mm
from stripegen.measures import read_cup
from stripegen.tables import Table
from stripegen.walls import bare_wall

WALLS = {
    "straight": "rim = { diameter = 86 }\nbase = { diameter = 64 }\nheight = 160",
    "girths": "girths = [ { down = 14, circumference = 268 }, { down = 140, circumference = 203 } ]\nwall = 153",
    "sections": "profile = [ { height = 196, diameter = 54 }, { height = 164, diameter = 54 },"
    " { height = 140, diameter = 74 }, { height = 0, diameter = 70 } ]",
    "ledge": "profile = [ { height = 100, diameter = 80 }, { height = 60, diameter = 78 },"
    " { height = 60, diameter = 70 }, { height = 0, diameter = 66 } ]",
    "smooth": "profile = [ { height = 96, circumference = 248 }, { height = 48, circumference = 268 },"
    " { height = 0, circumference = 236 } ]\nsmooth = true",
}


def read(text, unit="mm"):
    table = Table(tomllib.loads(text), Where("cups.toml", "[cup.tall]"), [], unit)
    return read_cup("tall", table), table.faults


def cup_of(text, unit="mm"):
    cup, faults = read(text, unit)
    assert not faults, faults
    return cup


def wall_of(text):
    cup = cup_of(text)
    return bare_wall(cup).coated(cup.resin_mm)


@given(st.sampled_from(sorted(WALLS)), st.floats(0, 1.5), st.floats(-0.045, 0.045), st.floats(0.02, 0.98), st.booleans())
def test_the_girth_there_is_as_read_and_slopes_and_lengths_stay(name, resin, more, share, at_the_ring):
    text = WALLS[name] + f"\nresin = {resin}\n"
    before = wall_of(text)
    down = ring_down_mm(before) if at_the_ring else share * before.wall_mm
    girth = float(before.girth_mm(down)) * (1 + more)
    fit = f"fit = {girth}" if at_the_ring else f"fit = {{ down = {down}, circumference = {girth} }}"
    after = wall_of(text + fit)
    assert float(after.girth_mm(down)) == pytest.approx(girth, abs=1e-6)
    assert after.wall_mm == pytest.approx(before.wall_mm, abs=1e-9)
    assert after.bends_mm == pytest.approx(before.bends_mm, abs=1e-9)
    downs = np.linspace(0, before.wall_mm, 57)
    assert after.slope_at(downs) == pytest.approx(before.slope_at(downs), abs=1e-9)
    shifts = after.radius_mm(downs) - before.radius_mm(downs)
    assert shifts == pytest.approx(more * before.radius_mm(down), abs=1e-6)
    assert ring_down_mm(after) == ring_down_mm(before)


@pytest.mark.parametrize("name", WALLS)
def test_a_reading_as_measured_changes_nothing(name):
    wall = wall_of(WALLS[name])
    again = wall_of(WALLS[name] + f"\nfit = {float(wall.girth_mm(ring_down_mm(wall)))!r}")
    downs = np.linspace(0, wall.wall_mm, 29)
    assert again.radius_mm(downs) == pytest.approx(wall.radius_mm(downs), abs=1e-9)


def test_the_ring_lies_half_way_down_or_on_the_longest_section_in_whole_millimetres():
    assert ring_down_mm(wall_of(WALLS["straight"])) == 80  # of 160.4
    # a neck of 32, a shoulder of 26, a body of 140 mm
    assert ring_down_mm(wall_of(WALLS["sections"])) == math.floor(32 + 26 + 140.01 / 2 + 0.5)
    assert ring_down_mm(wall_of(WALLS["smooth"])) == round(wall_of(WALLS["smooth"]).wall_mm / 2)
    even = "profile = [ { height = 63, diameter = 60 }, { height = 42, diameter = 60.1 }, { height = 0, diameter = 60.1 } ]"
    assert ring_down_mm(wall_of(even)) == 42


def test_units_and_forms():
    plain = cup_of(WALLS["straight"] + "\nfit = 237")
    for fit in ('"237 mm"', '{ down = "80 mm", circumference = 237 }', '{ down = 80, circumference = "23.7 cm" }'):
        assert cup_of(WALLS["straight"] + f"\nfit = {fit}").rim_radius_mm == pytest.approx(plain.rim_radius_mm)
    inches = cup_of('rim = { diameter = "86 mm" }\nbase = { diameter = "64 mm" }\nheight = "160 mm"\nfit = 9.35', "in")
    wall = bare_wall(inches)
    assert float(wall.girth_mm(80.0)) == pytest.approx(9.35 * 25.4)


@pytest.mark.parametrize(
    ("fit", "words"),
    [
        ("fit = 200", ["fit: read 200", "235.7 mm round", "80 mm down", "200.0 mm", "5%", "measure both again"]),
        ("fit = { down = 200, circumference = 231 }", ["fit", "ends 160.38 mm down"]),
        ("fit = { down = 20 }", ["fit.circumference: is missing"]),
        ("fit = { circumference = 231 }", ["fit.down: is missing"]),
        ("fit = { down = 20, circumference = 260, off = 1 }", ["fit.off: is not a key"]),
        ("fit = 0", ["fit: read 0", "above 0"]),
        ('fit = "231"', ["fit", "no unit"]),
        ("fit = [231]", ["fit", "must be a number"]),
        ("fit = true", ["fit", "must be a number"]),
        ("fit = nan", ["fit"]),
    ],
)
def test_a_wrong_reading_is_told_in_one_line(fit, words):
    cup, faults = read(WALLS["straight"] + "\n" + fit)
    assert cup is None
    (line,) = map(str, faults)
    assert line.startswith("cups.toml: [cup.tall] fit") and "\n" not in line
    assert all(word in line for word in words), line


def test_a_cone_that_a_fit_would_close_is_refused():
    text = "rim = { diameter = 80 }\nbase = { diameter = 0.6 }\nheight = 40\n"
    cup, faults = read(text + "fit = { down = 5, circumference = 222 }")
    made = float(bare_wall(cup_of(text)).girth_mm(5.0))
    assert 222 < made < 222 * 1.05
    assert cup is None and "nothing of the narrow end" in str(faults[0])


class TestSureness:
    """What an error of 1 mm in a measure does to a cup that has been put right."""

    def changed(self, text, label):
        cup = cup_of(text)
        (misread,) = [each for each in cup.misreads if each.label == label]
        return bare_wall(cup).coated(cup.resin_mm), bare_wall(misread.of(cup)).coated(cup.resin_mm)

    @pytest.mark.parametrize("fit", ["fit = 237", "fit = { down = 40, circumference = 250 }"])
    @pytest.mark.parametrize("label", ["rim diameter", "base diameter", "height"])
    def test_the_girth_at_the_ring_stays(self, fit, label):
        text = WALLS["straight"] + "\nresin = 0.8\n" + fit
        down = 80.0 if "down" not in fit else 40.0
        before, after = self.changed(text, label)
        assert float(after.girth_mm(down)) == pytest.approx(float(before.girth_mm(down)), abs=1e-9)
        assert after.slope_at(10.0) != before.slope_at(10.0)

    def test_a_reading_of_1_mm_more_is_1_mm_more_everywhere(self):
        before, after = self.changed(WALLS["straight"] + "\nfit = 237", "fit")
        downs = np.linspace(0, before.wall_mm, 9)
        assert after.girth_mm(downs) - before.girth_mm(downs) == pytest.approx(1.0)

    def test_the_place_of_a_reading_counts_too(self):
        before, after = self.changed(WALLS["straight"] + "\nfit = { down = 40, circumference = 250 }", "fit down")
        assert float(after.girth_mm(41.0)) == pytest.approx(float(before.girth_mm(40.0)))
