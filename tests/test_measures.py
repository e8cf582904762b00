"""Cup tables to cups: by school geometry, by laws, and every refusal."""

import math
import tomllib

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stripegen import profiles
from stripegen.errors import Where
from stripegen.measures import read_cup
from stripegen.spec import Cup, Keepout, Seam
from stripegen.tables import Table

ENDS = "rim = { diameter = 90 }\nbase = { diameter = 60 }\n"
CUP = ENDS + "height = 110\n"


def read(text, unit="mm"):
    table = Table(tomllib.loads(text), Where("cups.toml", "[cup.tall]"), [], unit)
    return read_cup("tall", table), table.faults


def cup_of(text, unit="mm"):
    cup, faults = read(text, unit)
    assert faults == []
    assert isinstance(cup, Cup)
    return cup


def told(text):
    """All faults of a table as text; each is told with file and table."""
    cup, faults = read(text)
    assert cup is None
    assert faults
    assert all(str(fault).startswith("cups.toml: [cup.tall] ") for fault in faults)
    return "\n".join(str(fault) for fault in faults)


class TestEnds:
    def test_by_height(self):
        cup = cup_of(CUP)
        assert (cup.rim_radius_mm, cup.base_radius_mm) == (45, 30)
        # 110 upright and 15 inwards
        assert cup.wall_mm == pytest.approx(111.018016555, abs=1e-9)

    def test_by_wall(self):
        cup = cup_of(ENDS + "wall = 111.5")
        assert cup.wall_mm == 111.5

    def test_by_both_takes_the_tapes_word(self):
        assert cup_of(CUP + "wall = 111.4").wall_mm == 111.4

    def test_circumferences(self):
        cup = cup_of(
            "rim = { circumference = 282.743338823 }\nbase = { circumference = 188.495559215 }\nheight = 110"
        )
        assert cup.rim_radius_mm == pytest.approx(45, abs=1e-9)
        assert cup.base_radius_mm == pytest.approx(30, abs=1e-9)

    def test_wider_at_the_base_and_straight_up(self):
        assert cup_of("rim = {diameter = 60}\nbase = {diameter = 90}\nheight = 110").base_radius_mm == 45
        assert cup_of("rim = {diameter = 60}\nbase = {diameter = 60}\nheight = 110").wall_mm == 110

    def test_units(self):
        cup = cup_of('rim = { diameter = "9 cm" }\nbase = { diameter = 2 }\nheight = 4', "in")
        assert (cup.rim_radius_mm, cup.base_radius_mm) == (45, 25.4)
        assert cup.wall_mm == pytest.approx(math.sqrt(101.6**2 + 19.6**2), abs=1e-12)

    def test_the_rest_has_defaults(self):
        cup = cup_of(CUP)
        assert cup.name == "tall"
        assert (cup.resin_mm, cup.seal_mm, cup.keepouts) == (0, None, ())
        assert (cup.rim_clearance_mm, cup.base_clearance_mm) == (None, None)
        assert (cup.profile, cup.smooth) == ((), False)
        assert cup.seams == {
            "front": Seam(name="front", rim=0.0, base=0.0),
            "back": Seam(name="back", rim=math.pi, base=math.pi),
        }
        assert cup.where == Where("cups.toml", "[cup.tall]")

    def test_the_rest_as_given(self):
        cup = cup_of(
            CUP + 'resin = 0.8\nseal = "1.5 mm"\nrim_clearance = 14\nbase_clearance = 0\ncolour = "#Fed"'
        )
        assert (cup.resin_mm, cup.seal_mm) == (0.8, 1.5)
        assert (cup.rim_clearance_mm, cup.base_clearance_mm) == (14, 0)
        assert cup.colour == "#ffeedd"

    @given(st.floats(20, 200), st.floats(20, 200), st.floats(1, 400))
    @settings(deadline=None)
    def test_height_and_wall_are_the_same_cup(self, rim, base, height):
        ends = f"rim = {{ diameter = {rim!r} }}\nbase = {{ diameter = {base!r} }}\n"
        by_height = cup_of(f"{ends}height = {height!r}")
        by_both = cup_of(f"{ends}height = {height!r}\nwall = {by_height.wall_mm!r}")
        assert by_both == by_height
        assert by_height.wall_mm**2 == pytest.approx(height**2 + ((rim - base) / 2) ** 2, rel=1e-12)

    @pytest.mark.parametrize("wall", [110.5, 111.6])
    def test_height_and_wall_that_disagree(self, wall):
        text = told(f"{CUP}wall = {wall}")
        assert f" wall: read {wall}; " in text
        assert "111.02 mm" in text
        assert f"{wall:.2f} mm" in text

    @pytest.mark.parametrize(
        ("text", "right"),
        [
            ("height = 110", " rim: is missing: { diameter = 86 }"),
            ("rim = { diameter = 90 }\nheight = 110", " base: is missing: { diameter = 86 }"),
            (ENDS, " height: is missing"),
            (ENDS + "height = 0", " height: read 0; must be a length above 0"),
            (ENDS + "height = -4", " height: read -4; must be a length above 0"),
            (ENDS + "height = nan", " height: read nan; must be a number"),
            (ENDS + "wall = 0", " wall: read 0; must be a length above 0"),
            (ENDS + "wall = 15", " wall: read 15; must be longer than 15.00 mm"),
            (ENDS + "wall = 3\nheight = 110", " wall: read 3; must be longer than 15.00 mm"),
            (ENDS + "height = 9_999.999", " height: read 9999.999; makes a wall of more than 10 m"),
            (
                "rim = 86\nbase = { diameter = 60 }\nheight = 110",
                " rim: read 86; must be a table such as { diameter",
            ),
            ("rim = {}\nbase = { diameter = 60 }\nheight = 110", " rim: read {}; must have one of the two"),
            (
                "rim = { diameter = 1, circumference = 3 }\nbase = { diameter = 60 }\nheight = 110",
                " rim: read { diameter = 1, circumference = 3 }; must have one of the two",
            ),
            (
                "rim = { diameter = 0 }\nbase = { diameter = 60 }\nheight = 110",
                " rim.diameter: read 0; must be a length above 0",
            ),
            (
                "rim = { diametre = 90 }\nbase = { diameter = 60 }\nheight = 110",
                ' rim.diametre: is not a key of this table; did you mean "diameter"?',
            ),
            (
                'rim = { circumference = "20%" }\nbase = { diameter = 60 }\nheight = 110',
                ' rim.circumference: read "20%"; a share of the wall has no meaning here',
            ),
            (CUP + "resin = -1", " resin: read -1; must be a length of 0 or more"),
            (CUP + "rim_clearance = -1", " rim_clearance: read -1; must be a length of 0 or more"),
            (CUP + 'base_clearance = "5%"', ' base_clearance: read "5%"; a share'),
            (
                CUP + "rim_clearance = 100\nbase_clearance = 12",
                " base_clearance: read 12; together with the rim",
            ),
            (
                ENDS + "wall = 100\nrim_clearance = 88\nbase_clearance = 12",
                "leaves nothing of a wall of 100.00 mm",
            ),
            (CUP + 'colour = "gold"', ' colour: read "gold"; must be a colour such as "#b8923a"'),
            (CUP + "hight = 3", ' hight: is not a key of this table; did you mean "height"?'),
            (CUP + "smooth = true", " smooth: read true; means nothing without profile"),
            (CUP + "seal = -1", " seal: read -1; must be a length of 0 or more"),
            (ENDS + "height = 1e-9", " height: read 1e-09; leaves nothing of the wall"),
        ],
    )
    def test_refusals(self, text, right):
        assert right in told(text)


def girths(*pairs, rest="wall = 150"):
    listed = ", ".join(f"{{ down = {down!r}, circumference = {girth!r} }}" for down, girth in pairs)
    return f"girths = [ {listed} ]\n{rest}"


class TestGirths:
    def test_two(self):
        # 60 mm of girth in 120 mm of wall: half a millimetre for each
        cup = cup_of(girths((20, 270), (140, 210)))
        assert cup.rim_radius_mm * math.tau == pytest.approx(280, abs=1e-9)
        assert cup.base_radius_mm * math.tau == pytest.approx(205, abs=1e-9)
        assert cup.wall_mm == 150

    def test_order_does_not_matter(self):
        assert cup_of(girths((140, 210), (20, 270))) == cup_of(girths((20, 270), (140, 210)))

    def test_by_height(self):
        by_wall = cup_of(girths((20, 270), (140, 210)))
        taper_mm = by_wall.rim_radius_mm - by_wall.base_radius_mm
        height_mm = math.sqrt(150**2 - taper_mm**2)
        by_height = cup_of(girths((20, 270), (140, 210), rest=f"height = {height_mm!r}"))
        assert by_height.wall_mm == pytest.approx(150, abs=1e-9)
        assert by_height.base_radius_mm == pytest.approx(by_wall.base_radius_mm, abs=1e-9)
        assert (
            cup_of(girths((20, 270), (140, 210), rest=f"height = {height_mm!r}\nwall = 150.2")).wall_mm
            == 150.2
        )

    @given(
        st.floats(120, 400),
        st.floats(-2, 2),
        st.lists(st.integers(0, 150), min_size=2, max_size=8, unique=True),
    )
    @settings(deadline=None)
    def test_girths_of_a_known_wall_give_it_back(self, rim, slope, downs):
        assume(rim + 150 * slope > 10)
        cup = cup_of(girths(*((down, rim + slope * down) for down in downs)))
        assert cup.rim_radius_mm * math.tau == pytest.approx(rim, abs=1e-6)
        assert cup.base_radius_mm * math.tau == pytest.approx(rim + 150 * slope, abs=1e-6)

    def test_least_squares_through_three(self):
        # off by +0.3, -0.6, +0.3 from a straight wall, which least squares leaves where it is
        cup = cup_of(girths((20, 300.3), (80, 269.4), (140, 240.3)))
        assert cup.rim_radius_mm * math.tau == pytest.approx(310, abs=1e-9)
        assert cup.base_radius_mm * math.tau == pytest.approx(235, abs=1e-9)

    def test_a_bowed_wall_is_told_by_how_far(self):
        # the line through them all is 1.2 mm under the outer two and 2.4 mm above the middle one
        text = told(girths((20, 301.2), (80, 267.6), (140, 241.2)))
        assert (
            " girths number 2: read 267.60 mm round at 80.00 mm down; is 2.40 mm off the straight wall"
            in text
        )
        assert "would have 270.00 mm there (1 mm is allowed)" in text
        assert "the wall is bowed by so much, so give its points as a profile, or measure again" in text

    @pytest.mark.parametrize(
        ("text", "right"),
        [
            (girths((20, 270)), " girths: read [{ down = 20, circumference = 270 }]; must be two or more"),
            (girths(), " girths: read []; must be two or more"),
            (girths((20, 270), (20, 270)), "; must be two or more, each at another place down the wall"),
            (girths((20, 270), (140, 210), rest=""), " height: is missing"),
            (
                girths((20, 270), (140, 210), rest="wall = 139"),
                "must lie on the wall, which ends 139.00 mm down",
            ),
            (girths((20, 270), (21, 260)), "change by more than any wall can"),
            (
                girths((20, 200), (100, 80), rest="wall = 160"),
                "draw out to a base of -10.00 mm round, which can't be",
            ),
            (girths((-1, 270), (140, 210)), " girths number 1, down: read -1; must be a length of 0 or more"),
            (
                girths((20, 270), (140, 0)),
                " girths number 2, circumference: read 0; must be a length above 0",
            ),
            (
                girths((20, 270), (140, 210)) + "\n" + ENDS,
                " rim: read { diameter = 90 }; can't stand beside girths",
            ),
            (
                girths((20, 270), (140, 210)) + "\n" + ENDS,
                "; can't stand beside girths, which are drawn out: give the girths alone, or a profile",
            ),
            ("girths = 3\nwall = 150", " girths: read 3; must be a list of tables"),
            (
                "girths = [{ down = 3, diameter = 4 }, { down = 3 }]\nwall = 150",
                " girths number 1, diameter: is not a key of this table",
            ),
            (
                girths((20, 270), (140, 210), rest="wall = 150\nheight = 140"),
                "must agree within 0.5 mm with the height",
            ),
        ],
    )
    def test_refusals(self, text, right):
        assert right in told(text)


class TestKeepouts:
    def test_places(self):
        cup = cup_of(
            CUP + "keepout = [ { around = 180, width = 36, from = 20, to = 95 },"
            " { around = 'side', width = 5, from = 0, to = 500 } ]\nseams = { side = 90 }"
        )
        assert cup.keepouts == (
            Keepout(around=math.pi, width_mm=36, from_mm=20, to_mm=95),
            Keepout(around="side", width_mm=5, from_mm=0, to_mm=500),
        )

    @pytest.mark.parametrize(
        ("keepout", "right"),
        [
            ("{ around = 180 }", " keepout: read { around = 180 }; must be a list of tables"),
            ("[ { around = 180, width = 36, from = 20 } ]", " keepout number 1, to: is missing"),
            (
                "[ { around = 180, width = 0, from = 20, to = 95 } ]",
                " keepout number 1, width: read 0; must be a length",
            ),
            (
                "[ { around = 180, width = 3, from = 95, to = 20 } ]",
                " keepout number 1, to: read 20; must be farther",
            ),
            (
                "[ { around = 180, width = 3, from = 112, to = 120 } ]",
                " keepout number 1, from: read 112; must lie on",
            ),
            (
                "[ { around = 180, width = 189, from = 20, to = 112 } ]",
                " keepout number 1, width: read 189; must be less",
            ),
            (
                "[ { around = 180, width = 3, from = '20%', to = 95 } ]",
                ' keepout number 1, from: read "20%"; a share',
            ),
            (
                "[ { around = 180, width = 3, from = -1, to = 95 } ]",
                " keepout number 1, from: read -1; must be a length",
            ),
            (
                "[ { around = 'bak', width = 3, from = 1, to = 95 } ]",
                'which has back, front; did you mean "back"?',
            ),
            (
                "[ { around = 1, width = 3, from = 1, to = 95, at = 3 } ]",
                " keepout number 1, at: is not a key",
            ),
            (
                "[ { around = { along = 3, at = 120 }, width = 3, from = 1, to = 95 } ]",
                "at must lie on the wall, which ends 111.02 mm down",
            ),
        ],
    )
    def test_refusals(self, keepout, right):
        assert right in told(f"{CUP}keepout = {keepout}")

    def test_a_seam_that_is_at_fault_is_told_once(self):
        text = told(
            CUP + "keepout = [ { around = 'side', width = 3, from = 1, to = 95 } ]\nseams = { side = true }"
        )
        assert text.count("\n") == 0
        assert " seams.side: read true" in text


def test_all_faults_of_a_cup_are_told_together():
    text = told(
        "rim = { diameter = -1 }\nbase = {}\nheight = 'x'\nresin = -1\ncolour = 3\nseams = { back = 'x' }"
    )
    for key in ("rim.diameter", "base", "height", "resin", "colour", "seams.back"):
        assert f" {key}: read " in text


PROFILE = (
    "profile = [ { height = 0, diameter = 60 }, { height = 40, circumference = 245 },"
    " { height = 90, diameter = 70 }, { height = 150, diameter = 84 } ]\n"
)
MISREAD = {
    "by height": (CUP, ["rim diameter", "base diameter", "height"]),
    "by wall": (
        "rim = { circumference = 280 }\nbase = { diameter = 60 }\nwall = 111",
        ["rim circumference", "base diameter", "wall"],
    ),
    "by both": (CUP + "wall = 111.2", ["rim diameter", "base diameter", "wall"]),
    "girths": (
        girths((20, 300), (80, 270.3), (140, 240)),
        [
            f"girths number {n} {size}" if n else "wall"
            for n, size in (*((n, size) for n in (1, 2, 3) for size in ("down", "circumference")), (0, ""))
        ],
    ),
    "girths by height": (
        girths((20, 300), (140, 240), rest="height = 149"),
        [*(f"girths number {n} {size}" for n in (1, 2) for size in ("down", "circumference")), "height"],
    ),
    "profile": (
        PROFILE + "wall = 151.6",
        [
            f"profile number {n} {size}"
            for n, width in enumerate(("diameter", "circumference", "diameter", "diameter"), start=1)
            for size in ("height", width)
        ],
    ),
}
MISREAD["smooth profile"] = (PROFILE + "smooth = true", MISREAD["profile"][1])


class TestMisreads:
    def values_with_more(self, text, label):
        """The table with the length that a label names 1 mm longer, found by the label's words."""
        values = tomllib.loads(text)
        words = label.split()
        place = values
        for word in words[:-1]:
            if word == "number":
                continue
            place = place[int(word) - 1] if word.isdigit() else place[word]
        place[words[-1]] += 1
        return values

    @pytest.mark.parametrize("kind", MISREAD)
    def test_each_measure_and_what_it_makes(self, kind):
        text, labels = MISREAD[kind]
        cup = cup_of(text)
        assert sorted(misread.label for misread in cup.misreads) == sorted(labels)
        for misread in cup.misreads:
            values = self.values_with_more(text, misread.label)
            for checked, by in (("height", "wall"), ("wall", "profile")):
                if by in values:
                    values.pop(checked, None)  # it need not agree any more
            table = Table(values, Where("", ""), [])
            expected = read_cup("tall", table)
            assert table.faults == []
            other = misread.of(cup)
            assert other == expected
            assert other != cup
            assert other.misreads == ()

    def test_no_check_of_agreement_stands_in_the_way(self):
        cup = cup_of(girths((20, 300), (80, 271.4), (140, 240)))  # 0.93 mm off already
        grown = {misread.label: misread.of(cup) for misread in cup.misreads}["girths number 2 circumference"]
        assert grown.rim_radius_mm == pytest.approx(cup.rim_radius_mm + 1 / 3 / math.tau, abs=1e-9)

    def test_what_can_be_no_cup_is_none(self):
        cup = cup_of(girths((20, 270), (21, 264), rest="wall = 30"))
        others = {misread.label: misread.of(cup) for misread in cup.misreads}
        assert others["girths number 1 down"] is None  # both at one place
        assert others["girths number 1 circumference"] is None  # 6 mm a mm, and one more
        assert others["wall"] is not None

    def test_other_units_are_misread_by_a_millimetre_too(self):
        cup = cup_of('rim = { diameter = 3.5 }\nbase = { diameter = "6 cm" }\nheight = "4 1/2 in"', "in")
        others = {misread.label: misread.of(cup) for misread in cup.misreads}
        assert others["rim diameter"].rim_radius_mm == pytest.approx(cup.rim_radius_mm + 0.5, abs=1e-12)
        assert others["base diameter"].base_radius_mm == pytest.approx(30.5, abs=1e-12)
        assert others["height"].wall_mm == pytest.approx(
            math.hypot(115.3, cup.rim_radius_mm - cup.base_radius_mm), abs=1e-9
        )

    def test_all_else_stays_the_cups(self):
        side = Seam(name="side", rim=1.0, base=1.0)
        cup = cup_of(CUP + "resin = 0.8\nseal = 2\nkeepout = [ { around = 3, width = 5, from = 0, to = 9 } ]")
        seamed = cup.with_seams({"side": side})
        for misread in seamed.misreads:
            other = misread.of(seamed)
            assert (other.resin_mm, other.seal_mm, other.keepouts) == (0.8, 2, cup.keepouts)
            assert other.seams == {**cup.seams, "side": side}

    def test_nothing_is_worked_out_before_it_is_asked_for(self, monkeypatch):
        asked = []
        through = profiles.SmoothWall.through
        monkeypatch.setattr(
            profiles.SmoothWall, "through", lambda points: asked.append(points) or through(points)
        )
        cup = cup_of(PROFILE + "smooth = true")
        assert len(asked) == 1
        cup.misreads[0].of(cup)
        assert len(asked) == 2
