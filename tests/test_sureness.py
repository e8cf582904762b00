"""What an error of a millimetre does, against sums of chords on walls built anew from the measures."""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from conftest import JOB
from reference_walls import Turned, length
from strategies import a_cup

from stripegen.decoration import decorate
from stripegen.errors import Where
from stripegen.jobfile import parse_job
from stripegen.measures import read_cup
from stripegen.production import produce
from stripegen.spec import Chevron, Cup, Diagonal, Down, Line, Misread, Pattern, Repeat, Ring, Vertical
from stripegen.sureness import joint_notices, sureness_lines, sureness_of, surenesses
from stripegen.tables import Table

COAT = "resin = 0.8\nrim_clearance = 10\nbase_clearance = 5\n"


def by_ends(rim_diameter, base_circumference, height):
    return [(rim_diameter / 2, height), (base_circumference / math.tau, 0.0)], False


def by_girths(first_down, first_girth, second_down, second_girth, wall):
    slope = (second_girth - first_girth) / (second_down - first_down) / math.tau
    rim = first_girth / math.tau - slope * first_down
    return [(rim, wall * math.sqrt(1 - slope**2)), (rim + slope * wall, 0.0)], False


def by_profile(*measures, smooth=False):
    heights, diameters = measures[::2], measures[1::2]
    return sorted(zip([d / 2 for d in diameters], heights, strict=True), key=lambda point: -point[1]), smooth


PROFILE = ("profile = [ {{ height = {}, diameter = {} }}, {{ height = {}, diameter = {} }}, "
           "{{ height = {}, diameter = {} }} ]\n")  # fmt: skip
PROFILE_LABELS = [f"profile number {n} {size}" for n in (1, 2, 3) for size in ("height", "diameter")]

# the table with holes for its measures, what they are called, what they are, and the points they make
MEASURED = {
    "ends": (
        "rim = {{ diameter = {} }}\nbase = {{ circumference = {} }}\nheight = {}\n",
        ["rim diameter", "base circumference", "height"], (86.0, 198.0, 140.0), by_ends,
    ),
    "girths": (
        "girths = [ {{ down = {}, circumference = {} }}, {{ down = {}, circumference = {} }} ]\nwall = {}\n",
        [f"girths number {n} {size}" for n in (1, 2) for size in ("down", "circumference")] + ["wall"],
        (14.0, 268.0, 120.0, 203.0, 150.0), by_girths,
    ),
    "bent": (PROFILE, PROFILE_LABELS, (0.0, 60.0, 50.0, 80.0, 140.0, 84.0), by_profile),
    "smooth": (
        PROFILE + "smooth = true\n", PROFILE_LABELS, (0.0, 60.0, 50.0, 80.0, 140.0, 84.0),
        lambda *measures: by_profile(*measures, smooth=True),
    ),
}  # fmt: skip
KINDS = pytest.mark.parametrize("kind", sorted(MEASURED))

# in the order in which a tie for the longest would be told
RING = Ring(name="ring", vinyl="v", width_mm=3.0, downs=(Down(35.0), Down(0.9, is_share=True)), overlap_mm=0.5)
ZIGZAG = Chevron(name="zigzag", vinyl="v", width_mm=3.0, top=Down(30.0), bottom=Down(80.0), points=4, path="even-drop")
PIN = Vertical(name="pin", vinyl="v", width_mm=3.0, around=(1.0, 2.0))


def cup_of(text: str) -> Cup:
    faults: list = []
    cup = read_cup("cup", Table(tomllib.loads(text), Where("cups.toml", "[cup.cup]"), faults, "mm"))
    assert not faults
    return cup


def measured(kind: str) -> tuple[Cup, Turned, dict[str, Turned]]:
    """A cup, its wall, and by each measure's name the wall had that been 1 mm more."""
    text, labels, values, points = MEASURED[kind]
    more = [[value + (n == at) for n, value in enumerate(values)] for at in range(len(values))]
    walls = [Turned(*points(*each), resin=0.8) for each in (values, *more)]
    return cup_of(text.format(*values) + COAT), walls[0], dict(zip(labels, walls[1:], strict=True))


def pattern(*lines: Line) -> Pattern:
    return Pattern(name="p", lines=lines)


def ring_lengths(wall: Turned) -> list[float]:
    return [wall.girth(35.0), wall.girth(10.0 + 0.9 * (wall.length - 15.0))]


def zigzag_length(wall: Turned) -> float:
    leg = length(wall, lambda t: (t * math.pi / 4, 30.0 + 50.0 * t), 0.0, 1.0)
    return 8 * leg


class TestTapes:
    @KINDS
    def test_girths_are_chords_of_circles_on_the_coated_wall(self, kind):
        cup, wall, _ = measured(kind)
        found = sureness_of(cup, pattern(PIN))
        downs = (10.0, (10.0 + wall.length - 5.0) / 2, wall.length - 5.0)
        assert [tape.down_mm for tape in found.tapes] == pytest.approx(downs, abs=1e-6)
        assert [tape.girth_mm for tape in found.tapes] == pytest.approx([wall.girth(down) for down in downs], abs=1e-4)

    def test_the_larger_clearance_counts(self):
        cup = a_cup(40.0, 40.0, 100.0, rim_clearance_mm=5.0, base_clearance_mm=20.0)
        found = sureness_of(cup, Pattern(name="p", lines=(PIN,), rim_clearance_mm=15.0, base_clearance_mm=1.0))
        assert [tape.down_mm for tape in found.tapes] == pytest.approx([15.0, 47.5, 80.0])


class TestEffects:
    @KINDS
    def test_of_rings_and_chevrons_by_sums_of_chords(self, kind):
        cup, wall, misread = measured(kind)
        found = sureness_of(cup, pattern(RING, ZIGZAG, PIN))
        assert [effect.measure for effect in found.effects] == list(misread)
        before = [*ring_lengths(wall), zigzag_length(wall)]
        worst = dict.fromkeys(("ring", "zigzag"), 0.0)
        for effect in found.effects:
            other = misread[effect.measure]
            changes = np.subtract([*ring_lengths(other), zigzag_length(other)], before)
            assert effect.joint_mm == pytest.approx(changes[np.argmax(np.abs(changes))], abs=1e-4)
            assert effect.longest_mm == pytest.approx(changes[np.argmax(before)], abs=1e-4)
            worst["ring"] = max(worst["ring"], *np.abs(changes[:2]))
            worst["zigzag"] = max(worst["zigzag"], abs(changes[2]))
        assert found.longest == (["ring", "ring", "zigzag"][np.argmax(before)], pytest.approx(max(before), abs=1e-4))
        assert {joint.line: joint.opens_mm for joint in found.joints} == pytest.approx(worst, abs=1e-4)
        assert found.cover_mm == pytest.approx(max(worst.values()), abs=1e-4)

    @KINDS
    def test_of_the_longest_piece_as_if_laid_out_anew(self, kind):
        """The lines are cut by nothing, so that each piece is as long as its line."""
        cup, _, _ = measured(kind)
        lines = (
            PIN,
            Diagonal(name="sash", vinyl="v", width_mm=2.0, start_around=0.0, start_down=Down(0.2, is_share=True),
                     end_around=2.0, end_down=Down(0.7, is_share=True), repeat=Repeat(count=3)),
            Diagonal(name="slant", vinyl="v", width_mm=2.0, start_around=0.0, start_down=Down(0.7, is_share=True),
                     end_around=2.5, end_down=Down(0.2, is_share=True), path="same-slant"),
            replace(ZIGZAG, path="straight", points=2),
        )  # fmt: skip
        for line in lines:
            found = sureness_of(cup, pattern(line))
            before = decorate(cup, pattern(line)).lines[0].strips[0].true_mm
            assert found.longest == (line.name, pytest.approx(before, abs=1e-6))
            for effect, misread in [*zip(found.effects, cup.misreads, strict=True)][:: 3 if cup.profile else 1]:
                after = decorate(misread.of(cup), pattern(line)).lines[0].strips[0].true_mm
                assert effect.longest_mm == pytest.approx(after - before, abs=1e-6)
                assert effect.joint_mm == (effect.longest_mm if line.name == "zigzag" else None)

    def test_a_line_on_a_further_coat_is_measured_there(self):
        cup, _, _ = measured("ends")
        found = sureness_of(cup, pattern(replace(RING, downs=(Down(35.0),), resin_mm=2.0)))
        points, _ = by_ends(86.0, 198.0, 140.0)
        assert found.longest[1] == pytest.approx(Turned(points, resin=2.0).girth(35.0), abs=1e-6)

    def test_a_measure_that_no_cup_can_have(self):
        cup = cup_of("rim = { diameter = 60 }\nbase = { diameter = 100 }\nwall = 20.3\n" + COAT.replace("10", "4"))
        found = sureness_of(cup, pattern(replace(RING, downs=(Down(8.0),))))
        assert [effect.possible for effect in found.effects] == [True, False, True]
        assert "base diameter" in (text := "\n".join(sureness_lines([found]))) and "no such cup" in text

    def test_a_line_that_misses_the_wall_then(self):
        """The cup flares: with a wider rim its wall is shorter."""
        cup = cup_of("rim = { diameter = 60 }\nbase = { diameter = 100 }\nheight = 80\n"
                     "rim_clearance = 0\nbase_clearance = 0\n")  # fmt: skip
        found = sureness_of(cup, pattern(replace(PIN, end=Down(cup.wall_mm)), replace(RING, downs=(Down(8.0),))))
        alone = sureness_of(cup, pattern(replace(PIN, end=Down(cup.wall_mm))))
        assert [effect.longest_mm is None for effect in alone.effects] == [True, False, False]
        assert found.longest[0] == "ring" and None not in [effect.longest_mm for effect in found.effects]
        assert re.search(r"rim diameter +-\n", "\n".join(sureness_lines([alone])))

    def test_a_cup_whose_measures_are_not_known(self):
        found = sureness_of(a_cup(40.0, 30.0, 100.0), pattern(RING))
        assert (found.effects, found.cover_mm) == ((), 0.0)
        assert joint_notices(found) == []
        assert "measure " not in "\n".join(sureness_lines([found]))


class TestCover:
    @KINDS
    def test_it_closes_every_ring_that_is_cut_for_the_measures_as_given(self, kind):
        cup, _, _ = measured(kind)
        cover = sureness_of(cup, pattern(RING)).cover_mm
        rings = pattern(replace(RING, overlap_mm=cover))
        assert joint_notices(sureness_of(cup, rings)) == []
        cut = [strip.cut_mm for strip in decorate(cup, rings).lines[0].strips]
        left = [
            laid - strip.true_mm
            for misread in cup.misreads
            for laid, strip in zip(cut, decorate(misread.of(cup), rings).lines[0].strips, strict=True)
        ]
        assert min(left) >= -1e-6

    @KINDS
    def test_it_closes_them_too_where_a_measure_is_as_much_less(self, kind):
        """But for the little by which an error's effect is not straight."""
        cup, wall, _ = measured(kind)
        cover = sureness_of(cup, pattern(RING)).cover_mm
        _, labels, values, points = MEASURED[kind]
        for at in range(len(labels)):
            less = Turned(*points(*(value - (n == at) for n, value in enumerate(values))), resin=0.8)
            assert max(np.subtract(ring_lengths(less), ring_lengths(wall))) < cover + 0.03

    def test_a_notice_for_each_line_that_lacks_it(self):
        cup, _, _ = measured("ends")
        least = {joint.line: joint.opens_mm for joint in sureness_of(cup, pattern(RING, ZIGZAG)).joints}
        for ring_mm in (least["ring"] - 0.01, least["ring"] + 0.01):
            for zigzag_mm in (least["zigzag"] - 0.01, least["zigzag"] + 0.01):
                lines = pattern(replace(RING, overlap_mm=ring_mm), replace(ZIGZAG, overlap_mm=zigzag_mm), PIN)
                found = joint_notices(sureness_of(cup, lines))
                expected = {"ring": ring_mm, "zigzag": zigzag_mm}
                assert {notice.line for notice in found} == {
                    name for name, overlap in expected.items() if overlap < least[name]
                }
                assert {notice.code for notice in found} <= {"joint-may-open"}

    def test_a_part_ring_has_no_joint(self):
        cup, _, _ = measured("ends")
        assert sureness_of(cup, pattern(replace(RING, start=0.0, end=3.0))).joints == ()

    @pytest.mark.parametrize("unit", ["mm", "cm", "in"])
    @pytest.mark.parametrize("error_mm", [0.02, 0.9, 1.0, 3.14159, 26.0])
    def test_the_overlap_that_is_told_is_just_enough(self, unit, error_mm):
        """A cylinder whose one measure makes its girth so much less: were it less, the joint would open."""
        wrong_mm = 40 - error_mm / math.tau
        cup = a_cup(40.0, 40.0, 100.0, misreads=(
            Misread("girth", lambda cup: replace(cup, rim_radius_mm=wrong_mm, base_radius_mm=wrong_mm)),
        ))  # fmt: skip
        found = sureness_of(cup, pattern(replace(RING, overlap_mm=0.0)))
        assert found.effects[0].joint_mm == pytest.approx(-error_mm)
        assert found.cover_mm == pytest.approx(error_mm)
        told = re.search(r"an overlap of ([0-9./ ]+?) (\w+) or more", "\n".join(sureness_lines([found], unit)).lower())
        assert told[2] == unit and told[1] in str(joint_notices(found, unit)[0])
        size_mm = float(sum(Fraction(part) for part in told[1].split())) * {"mm": 1, "cm": 10, "in": 25.4}[unit]
        assert error_mm - 1e-6 <= size_mm < error_mm + {"mm": 1, "cm": 1, "in": 25.4 / 16}[unit]


class TestText:
    @pytest.mark.parametrize(("unit", "mm", "near"), [("mm", 1.0, 0.05), ("cm", 10.0, 0.005), ("in", 25.4, 0.005)])
    def test_lengths_are_told_in_the_units_of_the_job(self, unit, mm, near):
        cup, _, _ = measured("ends")
        found = sureness_of(cup, pattern(RING, PIN))
        text = "\n".join(sureness_lines([found], unit))
        reads = re.findall(rf"([0-9.]+) {unit} at ([0-9.]+) {unit}", text)
        for (girth, down), tape in zip(reads, found.tapes, strict=True):
            assert float(girth) == pytest.approx(tape.girth_mm / mm, abs=near + 1e-9)
            assert float(down) == pytest.approx(tape.down_mm / mm, abs=near + 1e-9)
        for effect in found.effects:
            longest, joint = re.search(rf"{effect.measure} +([+-][0-9.]+) +([+-][0-9.]+)\n", text).groups()
            assert float(longest) == pytest.approx(effect.longest_mm / mm, abs=near / 10 + 1e-9)
            assert float(joint) == pytest.approx(effect.joint_mm / mm, abs=near / 10 + 1e-9)

    def test_no_joint_no_column(self):
        cup, _, _ = measured("ends")
        text = "\n".join(sureness_lines([sureness_of(cup, pattern(PIN))]))
        assert "worst joint" not in text and "overlap of" not in text

    def test_a_tape_is_told_once_a_cup(self):
        cup, _, _ = measured("ends")
        patterns = [Pattern(name=name, lines=(PIN,)) for name in ("a", "b")]
        other = replace(patterns[0], name="c", rim_clearance_mm=30.0)
        text = "\n".join(sureness_lines([sureness_of(cup, each) for each in (*patterns, other)]))
        assert text.count("a tape round the cup") == 2
        assert all(f"\ncup, {name}\n" in text for name in "abc")


def test_orders_that_share_a_cup_and_a_pattern_are_told_once():
    job = parse_job(JOB + '[[order]]\nid = "R-33"\ncup = "crew"\npattern = "regatta"\nvinyl = "brass"\n'
                    "seams = { back = 170 }\n", "job.toml", find_preset=lambda kind, name: None)  # fmt: skip
    assert [(found.cup, found.pattern) for found in surenesses(produce(job))] == [("crew", "regatta")]
