"""Seams of cups and of orders: every form of a place, openings, and every refusal."""

import math
import tomllib

import pytest

from stripegen.errors import Where
from stripegen.measures import read_cup
from stripegen.seamspec import read_seams, seams_off_the_wall
from stripegen.spec import Along, Seam
from stripegen.tables import Table

CUP = "rim = { diameter = 90 }\nbase = { diameter = 60 }\nheight = 110\n"


def read(text, unit="mm"):
    table = Table(tomllib.loads(text), Where("cups.toml", "[cup.tall]"), [], unit)
    return read_cup("tall", table), table.faults


def cup_of(text, unit="mm"):
    cup, faults = read(text, unit)
    assert faults == []
    return cup


def told(text):
    cup, faults = read(text)
    assert cup is None
    assert faults
    return "\n".join(str(fault) for fault in faults)


class TestCup:
    def test_places(self):
        cup = cup_of(
            CUP + "[seams]\nback = { rim = 176.5, base = { along = 10, at = 20 } }\nside = 90\n"
            'thumb = { along = "1 in", at = 12 }'
        )
        assert list(cup.seams) == ["front", "back", "side", "thumb"]
        assert cup.seams["front"].rim == 0
        assert cup.seams["back"].rim == pytest.approx(176.5 * math.pi / 180)
        assert cup.seams["back"].base == Along(along_mm=10.0, at_mm=20.0)
        assert cup.seams["side"].rim == cup.seams["side"].base == pytest.approx(math.pi / 2)
        assert cup.seams["thumb"].rim == cup.seams["thumb"].base == Along(along_mm=25.4, at_mm=12.0)

    @pytest.mark.parametrize(
        ("seam", "rim", "base", "opening"),
        [
            ("{ around = 90 }", math.pi / 2, math.pi / 2, 0),
            ('{ around = 90, opening = "1.5 mm" }', math.pi / 2, math.pi / 2, 1.5),
            ("{ rim = 0, base = 90, opening = 2 }", 0, math.pi / 2, 2),
            ("{ along = 132.5, at = 12, opening = 2 }", Along(132.5, 12.0), Along(132.5, 12.0), 2),
            ("{ along = -5, at = 0 }", Along(-5.0, 0.0), Along(-5.0, 0.0), 0),
            ("{ around = { along = 3, at = 4 }, opening = 0 }", Along(3.0, 4.0), Along(3.0, 4.0), 0),
            ("{ rim = { along = 3, at = 0 }, base = 9, opening = 1 }", Along(3.0, 0.0), math.pi / 20, 1),
        ],
    )
    def test_forms(self, seam, rim, base, opening):
        side = cup_of(f"{CUP}seams = {{ side = {seam} }}").seams["side"]
        assert side == Seam(name="side", rim=rim, base=base, opening_mm=opening)

    def test_units(self):
        seam = cup_of(
            "rim = { diameter = 3 }\nbase = { diameter = 2 }\nheight = 4\n"
            'seams = { side = { along = 2, at = "5 mm", opening = 0.125 } }',
            "in",
        ).seams["side"]
        assert seam == Seam(name="side", rim=Along(50.8, 5.0), base=Along(50.8, 5.0), opening_mm=3.175)

    @pytest.mark.parametrize(
        ("seams", "right"),
        [
            ("{ back = {} }", " seams.back: read {}; says not where: must be such as { around = 180, open"),
            ("{ back = { opening = 2 } }", " seams.back: read { opening = 2 }; says not where"),
            (
                "{ back = { arund = 2 } }",
                ' seams.back.arund: is not a key of this table; did you mean "around"?',
            ),
            (
                "{ back = { around = 2, opning = 2 } }",
                " seams.back.opning: is not a key of this table; did you m",
            ),
            (
                "{ back = { around = 2, rim = 2 } }",
                " seams.back.rim: is not a key of this table, which takes",
            ),
            (
                "{ back = { around = 'front' } }",
                ' seams.back.around: read "front"; must be a number of degrees',
            ),
            (
                "{ back = { around = 2, opening = -1 } }",
                " seams.back.opening: read -1; must be a length of 0",
            ),
            (
                "{ back = { around = 2, opening = '3%' } }",
                ' seams.back.opening: read "3%"; a share of the wall',
            ),
            ("{ back = { rim = 2, opening = 1 } }", " seams.back.base: is missing"),
            ("{ back = { along = 2, opening = 1 } }", "must have the two keys along and at"),
            ("{ back = { at = 2, opening = 1 } }", "must have the two keys along and at"),
            ("{ back = { along = 2, at = 3, rim = 1 } }", " seams.back.rim: is not a key of this table"),
            (
                "{ back = { along = 2, at = 112, opening = 1 } }",
                " seams.back: read at = 112.00 mm; at must lie on",
            ),
            (
                "{ back = { rim = 3, base = { along = 2, at = 112 } } }",
                " seams.back.base: read at = 112.00 mm; at",
            ),
            (
                "{ back = { around = { along = 2, at = -1 } } }",
                " seams.back.around: read { along = 2, at = -1 }; at",
            ),
            ("3", " seams: read 3; must be a table such as { front = 0"),
            (
                '{ back = "front" }',
                ' seams.back: read "front"; must be a number of degrees, without quotes, or {',
            ),
            ("{ back = { rim = 3 } }", " seams.back.base: is missing"),
            (
                "{ back = { rim = 3, base = true } }",
                " seams.back.base: read true; must be a number of degrees",
            ),
            ("{ back = { rim = 3, base = 3, mid = 3 } }", " seams.back.mid: is not a key of this table"),
            (
                "{ back = { along = 3 } }",
                " seams.back: read { along = 3 }; must have the two keys along and at",
            ),
            (
                "{ back = { along = '3%', at = 4 } }",
                'seams.back: read { along = "3%", at = 4 }; along a share',
            ),
            ("{ back = { along = 3, at = 120 } }", "at must lie on the wall, which ends 111.02 mm down"),
            ("{ back = 36001 }", " seams.back: read 36001; must be degrees from -36000"),
            ("{ 'the back' = 3 }", ' seams."the back": read "the back"; must be a name of ASCII letters'),
            ("{ Back = 3 }", ' seams.Back: read 3; differs from the seam "back" only by its case'),
            ("{ side = 3, SIDE = 4 }", ' seams.SIDE: read 4; differs from the seam "side" only by its case'),
        ],
    )
    def test_refusals(self, seams, right):
        assert right in told(f"{CUP}seams = {seams}")


class TestRead:
    def read(self, text, known=()):
        table = Table(tomllib.loads(text), Where("week30.toml", "[[order]]"), [])
        return read_seams(table, known), [str(fault) for fault in table.faults]

    def test_only_what_is_given(self):
        assert self.read("") == ({}, [])
        seams, faults = self.read("seams = { back = 170, thumb = { around = 90, opening = 1 } }")
        assert list(seams) == ["back", "thumb"]
        assert faults == []

    def test_the_sound_ones_beside_a_faulty_one(self):
        seams, faults = self.read("seams = { back = true, thumb = 90 }")
        assert list(seams) == ["thumb"]
        assert len(faults) == 1

    def test_known_names_count(self):
        (fault,) = self.read("seams = { Side = 1 }", ("side",))[1]
        assert fault.startswith('week30.toml: [[order]] seams.Side: read 1; differs from the seam "side"')


def test_places_off_the_wall():
    on, off = Along(3.0, 100.0), Along(3.0, 100.1)
    seams = {
        "a": Seam(name="a", rim=on, base=off),
        "b": Seam(name="b", rim=off, base=off),
        "c": Seam(name="c", rim=off, base=1.0),
        "d": Seam(name="d", rim=2.0, base=on),
    }
    assert [key for key, _, _ in seams_off_the_wall(seams, 100.0)] == [
        ("seams", "a", "base"),
        ("seams", "b"),
        ("seams", "c", "rim"),
    ]
