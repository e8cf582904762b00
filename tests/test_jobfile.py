"""Whole jobs: names, presets, orders against cups and patterns and vinyls; and never any other exception."""

import copy
import datetime
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from placeless import placeless

from stripegen.errors import Fault, JobError, Where
from stripegen.jobfile import Source, one_order_job, parse_job, split_vinyl_options
from stripegen.spec import Along, Cutter, Diagonal, Seam, Vertical

CUP = "[cup.tall]\nrim = { diameter = 86 }\nbase = { diameter = 62 }\nheight = 150\n"
VINYL = '[vinyl.brass]\ncolour = "#b8923a"\nwidth = 305\n'
EDGE = (
    '[[pattern.regatta.line]]\nname = "edge"\nkind = "vertical"\naround = ["front", "back"]\nwidth = 5\n'
    'vinyl = "accent"\n'
)
SASH = (
    '[[pattern.regatta.line]]\nname = "sash"\nkind = "diagonal"\nstart = { around = "front", down = "20%" }\n'
    'end = { around = "back", down = "80%" }\nwidth = 3\nunder = ["edge"]\nvinyl = "main"\n'
)
ORDER = (
    '[[order]]\nid = "R-31"\ncup = "tall"\npattern = "regatta"\n'
    'vinyl = { accent = "brass", main = "brass" }\n'
)
JOB = CUP + VINYL + EDGE + SASH + ORDER

PRESETS = {
    (
        "cup",
        "tumbler",
    ): 'units = "in"\n[cup.tumbler]\nrim = { diameter = 3 }\nbase = { diameter = 2.5 }\nheight = 6\n',
    ("vinyl", "teal"): '[vinyl.teal]\ncolour = "#088"\nwidth = 300\nlength = 600\n',
    ("vinyl", "accent"): '[vinyl.accent]\ncolour = "#123456"\nwidth = 300\n',
    ("vinyl", "torn"): '[vinyl.torn]\ncolour = "teal"\nwidth = 300\n',
    ("pattern", "hoops"): (
        '[[pattern.hoops.line]]\nname = "hoop"\nkind = "ring"\ndown = ["25%", "75%"]\nwidth = 4\n'
        'vinyl = "main"\n'
    ),
}


def find(kind, name):
    text = PRESETS.get((kind, name))
    return None if text is None else (text, f"shelf/{name}.toml")


def names(kind):
    return [name for of, name in PRESETS if of == kind]


def parse(text, find_preset=find):
    return parse_job(text, "week30.toml", find_preset, names)


def told(text, find_preset=find):
    with pytest.raises(JobError) as caught:
        parse(text, find_preset)
    assert str(caught.value).count("\n") == len(caught.value.faults) - 1
    return placeless(str(caught.value))


class TestWhole:
    def test_everything(self):
        job = parse(
            'units = "cm"\ntitle = "Regatta cups, week 30"\n' + JOB + "quantity = 8\ndue = 2027-07-30\n"
        )
        assert (job.file, job.title, job.units) == ("week30.toml", "Regatta cups, week 30", "cm")
        assert job.cups["tall"].rim_radius_mm == 430
        assert job.vinyls["brass"].width_mm == 3050
        edge, sash = job.patterns["regatta"].lines
        assert isinstance(edge, Vertical)
        assert isinstance(sash, Diagonal)
        assert edge.width_mm == 50
        (order,) = job.orders
        assert (order.id, order.cup, order.pattern, order.quantity) == ("R-31", "tall", "regatta", 8)
        assert order.due == datetime.date(2027, 7, 30)
        assert job.vinyl_of(order, "accent") is job.vinyls["brass"]
        assert str(order.where) == 'week30.toml:24:1: [[order]] "R-31"'

    def test_defaults(self):
        job = parse(JOB)
        assert (job.title, job.units) == ("", "mm")
        assert (job.orders[0].quantity, job.orders[0].due) == (1, None)

    def test_tables_that_no_order_uses_are_kept_and_checked(self):
        job = parse(JOB + VINYL.replace("brass", "spare"))
        assert "spare" in job.vinyls
        assert "[vinyl.spare] width: read -1" in told(
            JOB + VINYL.replace("brass", "spare").replace("305", "-1")
        )

    def test_a_byte_order_mark_and_windows_line_ends(self):
        assert parse("\ufeff" + JOB.replace("\n", "\r\n")) == parse(JOB)

    def test_faults_of_all_tables_are_told_together(self):
        text = told(
            JOB.replace("86", "-1").replace("305", "-1").replace("= 5", "= -1").replace("R-31", "R 31")
        )
        for table in ("[cup.tall]", "[vinyl.brass]", '[[pattern.regatta.line]] "edge"', "[[order]] number 1"):
            assert f"week30.toml: {table} " in text

    def test_the_same_fault_is_told_once(self):
        twice = JOB + ORDER.replace("R-31", "R-32")
        assert (
            told(twice.replace('"front"', '"frnt"')).count('read "frnt"') == 2
        )  # of two lines, for two orders


class TestToml:
    def test_line_and_column(self):
        with pytest.raises(JobError) as caught:
            parse(JOB.replace("rim = {", "rim {"))
        expected = "week30.toml:2:5: is not TOML: expected '=' after a key in a key/value pair"
        assert str(caught.value) == expected

    @pytest.mark.parametrize(
        "text",
        [
            "a = [",
            "a = 1\na = 2",
            "= 1",
            "a = 2027-02-30",
            'a = "\\x"',
            "[cup.a]\n[cup.a]",
            "a = '\x00'",
        ],
    )
    def test_what_is_not_toml(self, text):
        assert told(text).startswith("week30.toml: ")
        assert ": is not TOML: " in told(text)

    def test_nested_too_deep(self):
        assert told("a = " + "[" * 20_000) == "week30.toml: is nested more than 20 deep"

    def test_a_number_that_cannot_be_printed(self):
        assert "height: read a number of more than 60 digits; must be" in told(
            JOB.replace("150", "0x" + "f" * 900)
        )


class TestTopLevel:
    @pytest.mark.parametrize(
        ("text", "right"),
        [
            ('units = "inch"\n' + JOB, ' units: read "inch"; must be one of "mm", "cm", "in"'),
            ("title = 3\n" + JOB, " title: read 3; must be one line of text"),
            ('title = "a\\nb"\n' + JOB, ' title: read "a\\u000ab"; must be one line of text'),
            (f'title = "{"a" * 201}"\n' + JOB, "; must be one line of text, at most 200 characters"),
            ('tilte = "x"\n' + JOB, ' tilte: is not a key of this table; did you mean "title"?'),
            (
                JOB.replace("[vinyl.", "[vinyls."),
                ' vinyls: is not a key of this table; did you mean "vinyl"?',
            ),
            (
                JOB.replace("[cup.tall]", "[cup]"),
                " cup.height: read 150; must stand in a table with a name: [cup.NAME]",
            ),
            (
                "cup = 3\n" + VINYL + EDGE + ORDER,
                " cup: read 3; must be tables, each with its name: [cup.NAME]",
            ),
            (
                JOB.replace("[[order]]", "[order]"),
                "; must be written [[order]], with two brackets on each side",
            ),
            ("order = [3]\n" + CUP, " order: read [3]; must be written [[order]]"),
            (CUP + VINYL + EDGE, " order: the job has no [[order]]"),
            ("order = []\n" + CUP, " order: the job has no [[order]]"),
            ("", " order: the job has no [[order]]"),
            (JOB + '[cup."the mug"]\n', ': [cup."the mug"]: read "the mug"; must be a name of ASCII letters'),
            (JOB + f"[vinyl.{'a' * 65}]\n", "must be a name of ASCII letters, digits, - and _, at most 64"),
            (JOB + CUP.replace("tall", "TALL"), ": [cup.TALL]: has the name of [cup.tall] but for its case"),
            (
                JOB + VINYL.replace("brass", "Brass"),
                ": [vinyl.Brass]: has the name of [vinyl.brass] but for its case",
            ),
        ],
    )
    def test_refusals(self, text, right):
        assert "week30.toml" + right in told(text) or (
            right.startswith(("; ", "must")) and right in told(text)
        )

    def test_too_many_orders(self):
        text = told(CUP + "[[order]]\n" * 10_001)
        assert text == "week30.toml order: read 10001 orders; must be at most 10000 orders"


class TestOrders:
    @pytest.mark.parametrize(
        ("order", "right"),
        [
            (ORDER.replace('id = "R-31"', ""), "number 1 id: is missing: a name"),
            (ORDER.replace("R-31", "R/31"), 'number 1 id: read "R/31"; must be a name of ASCII letters'),
            (ORDER.replace("R-31", "Ré"), 'number 1 id: read "Ré"; must be a name of ASCII letters'),
            (ORDER.replace('"R-31"', "31"), "number 1 id: read 31; must be a name"),
            (ORDER.replace('cup = "tall"', ""), '"R-31" cup: is missing'),
            (
                ORDER.replace('"tall"', '"tal"'),
                '"R-31" cup: read "tal"; there is no such cup in the job nor among the',
            ),
            (ORDER.replace('"tall"', '"tal"'), 'did you mean "tall"?'),
            (ORDER.replace('"tall"', '"tumblr"'), 'did you mean "tumbler"?'),
            (
                ORDER.replace('"regatta"', '"regata"'),
                '"R-31" pattern: read "regata"; there is no such pattern',
            ),
            (ORDER.replace('"regatta"', '"../x"'), '"R-31" pattern: read "../x"; must be a name'),
            (ORDER + "quantity = 0", '"R-31" quantity: read 0; must be a whole number from 1 to 100000'),
            (
                ORDER + "quantity = 100_001",
                '"R-31" quantity: read 100001; must be a whole number from 1 to 100000',
            ),
            (ORDER + "quantity = 2.5", '"R-31" quantity: read 2.5; must be a whole number'),
            (ORDER + 'due = "2027-07-30"', '"R-31" due: read "2027-07-30"; must be a date without quotes'),
            (
                ORDER + "due = 2027-07-30T10:00:00",
                '"R-31" due: read 2027-07-30T10:00:00; must be a date without',
            ),
            (ORDER + "dew = 3", '"R-31" dew: is not a key of this table; did you mean "due"?'),
            (
                ORDER.replace('{ accent = "brass", main = "brass" }', "3"),
                '"R-31" vinyl: read 3; must be the name of a vinyl',
            ),
            (
                ORDER.replace('{ accent = "brass", main = "brass" }', '["brass"]'),
                '"R-31" vinyl: read ["brass"]; must be',
            ),
            (ORDER.replace('main = "brass"', "main = 3"), '"R-31" vinyl.main: read 3; must be a name'),
            (
                ORDER.replace("main =", '"my main" ='),
                '"R-31" vinyl."my main": read "brass"; a role must be a name',
            ),
            (
                ORDER.replace('main = "brass"', 'main = "bras"'),
                '"R-31" vinyl.main: read "bras"; there is no such vinyl',
            ),
            (ORDER.replace('main = "brass"', 'main = "bras"'), 'did you mean "brass"?'),
            (
                ORDER.replace('{ accent = "brass", main = "brass" }', '"bras"'),
                '"R-31" vinyl: read "bras"; there is no',
            ),
            (
                ORDER.replace("main =", "mian ="),
                'of pattern "regatta" to a vinyl: main = "NAME"; did you mean it by "mian"?',
            ),
            (
                ORDER.replace('vinyl = { accent = "brass", main = "brass" }\n', ""),
                '"R-31" vinyl: must bind the role "main" of pattern "regatta" to a vinyl',
            ),
        ],
    )
    def test_refusals(self, order, right):
        text = told(JOB.replace(ORDER, order + "\n"))
        assert text.startswith("week30.toml: [[order]] ")
        assert right in text

    def test_ids_that_differ_only_by_case(self):
        text = told(JOB + ORDER.replace("R-31", "r-31"))
        assert text.startswith('week30.toml: [[order]] "r-31" id: read "r-31"; is taken by the order "R-31"')

    def test_a_seam_that_the_cup_lacks(self):
        text = told(JOB.replace('["front"', '["side"'))
        assert text.startswith(
            'week30.toml: [[pattern.regatta.line]] "edge" around: read "side"; must be a seam of the cup'
        )
        assert 'the cup "tall", which has front, back' in text
        assert 'did you mean "back"?' in told(
            JOB.replace('end = { around = "back"', 'end = { around = "bakc"')
        )
        assert "degrees are written without quotes" in told(JOB.replace('["front"', '["90"'))

    def test_a_seam_that_one_cup_has_and_another_lacks(self):
        own = CUP.replace("tall", "mug") + "seams = { side = 90 }\n"
        with_mug = JOB.replace('["front"', '["side"').replace('cup = "tall"', 'cup = "mug"') + own
        assert parse(with_mug).orders[0].cup == "mug"
        text = told(with_mug + ORDER.replace("R-31", "R-32"))
        assert text.count("\n") == 0
        assert 'the cup "tall"' in text

    def test_a_cup_at_fault_is_told_once(self):
        assert told(JOB.replace("86", "-1")).count("\n") == 0


class TestOrderSeams:
    def job(self, *orders, lines=EDGE + SASH):
        return (
            CUP
            + VINYL
            + lines
            + "".join(f"{ORDER.replace('R-31', f'R-{n}')}{more}\n" for n, more in enumerate(orders))
        )

    def test_they_lie_over_those_of_the_cup(self):
        job = parse(
            self.job(
                "",
                "seams = { back = { rim = 176.5, base = 178, opening = 2 }, side = { along = 30, at = 12 } }",
            )
        )
        plain, own = job.orders
        assert plain.seams == {}
        assert job.cup_of(plain) is job.cups["tall"]
        seams = job.cup_of(own).seams
        assert list(seams) == ["front", "back", "side"]
        assert (seams["back"].opening_mm, seams["back"].rim) == (2, pytest.approx(math.radians(176.5)))
        assert seams["side"] == Seam(name="side", rim=Along(30.0, 12.0), base=Along(30.0, 12.0))

    def test_bare_lengths_are_in_the_jobs_unit(self):
        job = parse('units = "in"\n' + self.job("seams = { side = { along = 2, at = 1, opening = 0.5 } }"))
        assert job.orders[0].seams["side"] == Seam(
            name="side", rim=Along(50.8, 25.4), base=Along(50.8, 25.4), opening_mm=12.7
        )

    def test_lines_may_name_them(self):
        lines = EDGE.replace('"front"', '"side"') + SASH
        parse(self.job("seams = { side = 90 }", lines=lines))
        text = told(self.job("seams = { side = 90 }", "", "seams = { front = 9 }", lines=lines))
        assert text.count("\n") == 0
        assert 'read "side"; must be a seam of the cup "tall", which has front, back' in text
        text = told(self.job("seams = { sied = 90 }", lines=lines))
        assert 'which has front, back, sied; did you mean "sied"?' in text

    @pytest.mark.parametrize(
        ("seams", "right"),
        [
            ("3", " seams: read 3; must be a table such as { front = 0"),
            ("{ back = true }", " seams.back: read true; must be a number of degrees"),
            ("{ Back = 3 }", ' seams.Back: differs from the seam "back" only by its case'),
            ("{ side = 3, Side = 4 }", ' seams.Side: read 4; differs from the seam "side" only by its case'),
            (
                "{ side = { along = 3, at = 160 } }",
                " seams.side: read at = 160.00 mm; at must lie on the wall, which ends 150.48 mm down",
            ),
            (
                "{ side = { rim = 3, base = { along = 3, at = 160 } } }",
                " seams.side.base: read at = 160.00 mm",
            ),
        ],
    )
    def test_refusals(self, seams, right):
        text = told(self.job(f"seams = {seams}"))
        assert 'week30.toml: [[order]] "R-0"' + right in text
        assert text.count("\n") == 0

    def test_a_preset_cups_seams_are_laid_over_too(self):
        text = self.job("seams = { thumb = 90 }").replace('cup = "tall"', 'cup = "tumbler"')
        job = parse(text)
        assert list(job.cup_of(job.orders[0]).seams) == ["front", "back", "thumb"]


class TestCutter:
    def test_what_it_says(self):
        assert parse(JOB).cutter == Cutter()
        cutter = parse(JOB + '[cutter]\ncut_width = 300\nlongest_run = "1.5 in"\n').cutter
        assert cutter == Cutter(cut_width_mm=300, longest_run_mm=38.1)
        assert parse('units = "cm"\n' + JOB + "[cutter]\ncut_width = 30").cutter == Cutter(cut_width_mm=300)
        assert parse(JOB + "[cutter]").cutter == Cutter()

    @pytest.mark.parametrize(
        ("text", "right"),
        [
            ("[cutter]\ncut_width = 0", ": [cutter] cut_width: read 0; must be a length above 0"),
            ("[cutter]\nlongest_run = '5%'", ': [cutter] longest_run: read "5%"; a share of the wall'),
            (
                "[cutter]\nwidth = 3",
                ': [cutter] width: is not a key of this table; did you mean "cut_width"?',
            ),
            (
                "[cutter]\nzz = 3",
                ": [cutter] zz: is not a key of this table, which takes cut_width, longest_run",
            ),
            (
                "[[cutter]]\ncut_width = 3",
                " cutter: read [{ cut_width = 3 }]; must be a table [cutter], with",
            ),
            ("[cuter]", ' cuter: is not a key of this table; did you mean "cutter"?'),
        ],
    )
    def test_refusals(self, text, right):
        assert "week30.toml" + right in told(JOB + text)


class TestBinding:
    def job(self, binding, presets=find):
        order = ORDER.replace('{ accent = "brass", main = "brass" }', binding)
        return parse(
            JOB.replace(ORDER, VINYL.replace("brass", "main").replace("b8923a", "111111") + order), presets
        )

    def test_one_for_every_role_that_is_no_vinyl_of_the_job(self):
        job = self.job('"brass"')
        (order,) = job.orders
        assert job.own_vinyls == {"brass", "main"}
        assert job.vinyl_of(order, "accent").name == "brass"  # though a preset has that name
        assert job.vinyl_of(order, "main").name == "main"
        assert "accent" not in job.vinyls

    def test_a_role_without_a_binding_is_a_vinyls_name(self):
        job = self.job("{}")
        (order,) = job.orders
        assert job.vinyl_of(order, "main").colour == "#111111"
        assert job.vinyl_of(order, "accent").colour == "#123456"  # the preset
        assert "accent" not in job.own_vinyls

    def test_a_binding_holds_against_a_vinyl_of_the_roles_name(self):
        job = self.job('{ main = "brass", accent = "teal" }')
        assert job.vinyl_of(job.orders[0], "main").name == "brass"
        assert job.vinyl_of(job.orders[0], "accent").name == "teal"

    def test_unused_roles(self):
        job = self.job('{ main = "brass", mane = "teal", accent = "teal" }')
        assert job.unused_roles(job.orders[0]) == ("mane",)
        assert "teal" in job.vinyls


class TestPresets:
    def test_the_jobs_own_come_first(self):
        job = parse(JOB.replace("brass", "teal"))
        assert job.vinyls["teal"].width_mm == 305

    def test_a_preset_has_its_own_units(self):
        job = parse(JOB.replace('cup = "tall"', 'cup = "tumbler"').replace("86", "80"))
        assert job.cups["tumbler"].rim_radius_mm == pytest.approx(38.1)
        assert job.cups["tumbler"].where.file == "shelf/tumbler.toml"
        assert job.cups["tall"].rim_radius_mm == 40

    def test_only_what_the_orders_reach_is_looked_up(self):
        asked = []

        def find_and_note(kind, name):
            asked.append((kind, name))
            return find(kind, name)

        parse(JOB, find_and_note)
        assert asked == []
        parse(JOB.replace('pattern = "regatta"', 'pattern = "hoops"'), find_and_note)
        assert asked == [("pattern", "hoops")]
        asked.clear()
        parse(
            JOB.replace('accent = "brass"', 'accent = "teal"') + ORDER.replace("R-31", "R-32"), find_and_note
        )
        assert asked == [("vinyl", "teal")]

    @pytest.mark.parametrize(
        ("preset", "right"),
        [
            ("[vinyl.teal", ": is not TOML: "),
            ("", ": read 0; must hold exactly one table [vinyl.NAME]"),
            (VINYL + VINYL.replace("brass", "teal"), ": read 2; must hold exactly one table [vinyl.NAME]"),
            (VINYL, ": [vinyl.brass]: must be named as its file is: [vinyl.teal]"),
            (CUP, " cup: is not a key of this table, which takes units, vinyl"),
            ('title = "x"\n' + PRESETS["vinyl", "teal"], " title: is not a key of this table"),
            ('units = "ft"\n' + PRESETS["vinyl", "teal"], ' units: read "ft"; must be one of'),
            (
                PRESETS["vinyl", "teal"].replace("#088", "teal"),
                ': [vinyl.teal] colour: read "teal"; must be a colour',
            ),
        ],
    )
    def test_a_preset_at_fault_is_told_by_its_own_file(self, preset, right):
        text = told(
            JOB.replace('accent = "brass"', 'accent = "teal"'), lambda kind, name: (preset, "shelf/teal.toml")
        )
        assert "shelf/teal.toml" + right in text

    def test_a_preset_whose_name_differs_from_the_jobs_only_by_case(self):
        text = told(JOB.replace("vinyl.brass", "vinyl.Teal").replace('"brass"', '"teal"'))
        assert (
            text
            == 'shelf/teal.toml: [vinyl.teal]: has the name of "Teal" but for its case: rename one of them'
        )

    def test_a_preset_that_cannot_be_read(self):
        cause = Fault(Where("shelf/teal.toml", ""), "", "", "must be UTF-8 text")

        def unreadable(kind, name):
            raise JobError(cause)

        text = told(JOB.replace('"brass"', '"teal"').replace("86", "-1"), unreadable)
        assert "shelf/teal.toml: must be UTF-8 text" in text
        assert "no such vinyl" not in text
        assert "[cup.tall]" in text


class TestOneOrder:
    def make(self, **changes):
        given = {
            "cup": "tumbler",
            "pattern": "hoops",
            "vinyl": "teal",
            "find_preset": find,
            "preset_names": names,
        }
        return one_order_job(**(given | changes))

    def test_of_presets(self):
        job = self.make(quantity=3)
        (order,) = job.orders
        assert (order.id, order.cup, order.pattern, order.quantity) == ("one", "tumbler", "hoops", 3)
        assert job.vinyl_of(order, "main").name == "teal"
        assert job.cups["tumbler"].rim_radius_mm == pytest.approx(38.1)
        assert job.own_vinyls == frozenset()

    def test_of_files(self):
        job = self.make(
            cup=Source(CUP, "my/tall.toml"),
            pattern=Source(EDGE + SASH, "my/regatta.toml"),
            vinyl={"accent": Source(VINYL, "my/brass.toml"), "main": "teal"},
        )
        (order,) = job.orders
        assert (order.cup, order.pattern) == ("tall", "regatta")
        assert job.vinyl_of(order, "accent").name == "brass"
        assert job.vinyl_of(order, "main").name == "teal"
        assert job.cups["tall"].where.file == "my/tall.toml"

    def test_a_file_stands_in_for_a_preset_of_its_name(self):
        mine = Source(PRESETS["vinyl", "teal"].replace("300", "123"), "my/teal.toml")
        assert self.make(vinyl=mine).vinyls["teal"].width_mm == 123

    def test_the_same_file_for_two_roles(self):
        mine = Source(VINYL, "my/brass.toml")
        job = self.make(
            pattern=Source(EDGE + SASH, "p.toml"),
            cup=Source(CUP, "c.toml"),
            vinyl={"accent": mine, "main": mine},
        )
        assert list(job.vinyls) == ["brass"]

    @pytest.mark.parametrize(
        ("changes", "right"),
        [
            ({"cup": "tumblr"}, 'command line --cup: read "tumblr"; there is no such cup'),
            ({"cup": "tumblr"}, 'did you mean "tumbler"?'),
            ({"cup": "a/b"}, 'command line --cup: read "a/b"; must be a name of ASCII letters'),
            ({"pattern": "hops"}, 'command line --pattern: read "hops"; there is no such pattern'),
            ({"vinyl": "teel"}, 'command line --vinyl: read "teel"; there is no such vinyl'),
            ({"vinyl": {"main": "teel"}}, 'command line --vinyl.main: read "teel"; there is no such vinyl'),
            ({"vinyl": {"mian": "teal"}}, 'must bind the role "main" of pattern "hoops"'),
            ({"quantity": 0}, "command line --quantity: read 0; must be a whole number from 1 to 100000"),
            ({"vinyl": "torn"}, 'shelf/torn.toml: [vinyl.torn] colour: read "teal"; must be a colour'),
            ({"cup": Source("[cup", "c.toml")}, "c.toml: is not TOML"),
            ({"cup": Source(VINYL, "c.toml")}, "c.toml vinyl: is not a key of this table"),
            ({"cup": Source(CUP.replace("86", "-1"), "c.toml")}, "c.toml: [cup.tall] rim.diameter: read -1"),
            (
                {"vinyl": {"main": Source(VINYL, "a.toml"), "other": Source(VINYL, "b.toml")}},
                "b.toml: [vinyl.brass]: must have another name than that of a.toml",
            ),
        ],
    )
    def test_refusals(self, changes, right):
        with pytest.raises(JobError) as caught:
            self.make(**changes)
        assert right in placeless(str(caught.value))

    def test_vinyl_options(self):
        assert split_vinyl_options(["brass"]) == "brass"
        assert split_vinyl_options(["accent=brass", "main=teal"]) == {"accent": "brass", "main": "teal"}
        assert split_vinyl_options(["main=teal"]) == {"main": "teal"}
        assert split_vinyl_options(["main=my/a=b.toml"]) == {"main": "my/a=b.toml"}
        assert split_vinyl_options(["my/a=b.toml"]) == "my/a=b.toml"
        with pytest.raises(
            ValueError, match='"brass" binds no role: give one NAME for all, or ROLE=NAME for each'
        ):
            split_vinyl_options(["main=teal", "brass"])
        with pytest.raises(ValueError, match='the role "main" is bound twice'):
            split_vinyl_options(["main=teal", "main=brass"])


def test_no_unit_and_no_angle_is_lost_on_the_way():
    job = parse('units = "in"\n' + JOB.replace("= 5", "= 1").replace('["front"', "[90"))
    edge = job.patterns["regatta"].lines[0]
    assert edge.width_mm == 25.4
    assert edge.around[0] == pytest.approx(math.pi / 2)


# A job as TOML text from nested values, so that any part of a good one can be broken.
def to_toml(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{quoted(key)} = {to_toml(entry)}" for key, entry in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(to_toml(entry) for entry in value) + "]"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return value.isoformat() if isinstance(value, datetime.date) else repr(value)


def quoted(text):
    plain = "".join(
        c if c.isprintable() and c not in '"\\' and ord(c) < 0xD800 else f"\\U{ord(c):08x}" for c in text
    )
    return f'"{plain}"'


GOOD = {
    "units": "mm",
    "title": "week 30",
    "cup": {
        "tall": {
            "rim": {"diameter": 86},
            "base": {"circumference": 198},
            "height": 152,
            "resin": 0.8,
            "keepout": [{"around": 180, "width": 36, "from": 20, "to": 95}],
            "seams": {"front": 0, "back": {"rim": 176.5, "base": 178}},
        },
        "tape": {
            "girths": [{"down": 14, "circumference": 268}, {"down": 140, "circumference": 203}],
            "wall": 153,
        },
        "bowed": {
            "profile": [
                {"height": 0, "diameter": 60},
                {"height": 40, "circumference": 245},
                {"height": 150, "diameter": 84},
            ],
            "smooth": True,
            "wall": "15.1 cm",
            "seal": 1,
        },
    },
    "vinyl": {
        "brass": {
            "colour": "#b8923a",
            "width": 305,
            "price": {"sheet": 3},
            "length": 500,
            "stretch": "1%",
            "quantity": 3,
            "sizes": [{"width": 200, "length": 300, "quantity": 2}],
        },
        "film": {"colour": "#fff", "width": 305, "thickness": 0.08, "length_left": 4000},
    },
    "pattern": {
        "regatta": {
            "line": [
                {
                    "name": "edge",
                    "kind": "vertical",
                    "repeat": {"count": 4, "between": ["front", 90]},
                    "width": 5,
                    "vinyl": "accent",
                },
                {
                    "name": "sash",
                    "kind": "diagonal",
                    "start": {"around": "front", "down": "20%"},
                    "end": {"around": {"along": 40, "at": 12}, "down": 90},
                    "width": 3,
                    "under": ["edge"],
                    "vinyl": "brass",
                },
                {
                    "name": "band",
                    "kind": "ring",
                    "down": [20, 30],
                    "width": 3,
                    "vinyl": "accent",
                    "slit": True,
                },
                {
                    "name": "zig",
                    "kind": "chevron",
                    "top": 40,
                    "bottom": "70%",
                    "points": 6,
                    "width": 3,
                    "vinyl": "accent",
                },
            ],
            "together": True,
        },
    },
    "cutter": {"cut_width": 300, "longest_run": 900, "mat": {"width": 300, "length": 300}},
    "offcut": [{"vinyl": "brass", "width": 305, "length": 120}, {"vinyl": "teal", "width": 90, "length": 60, "quantity": 2}],
    "order": [
        {
            "id": "R-31",
            "cup": "tall",
            "pattern": "regatta",
            "vinyl": {"accent": "brass"},
            "due": datetime.date(2027, 7, 30),
        },
        {
            "id": "R-32",
            "cup": "bowed",
            "pattern": "regatta",
            "vinyl": "film",
            "seams": {"back": {"around": 170, "opening": 2}, "front": {"along": 3, "at": 12, "opening": 1}},
        },
    ],
}


def paths(value, path=()):
    yield path
    entries = (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    )
    for key, entry in entries:
        yield from paths(entry, (*path, key))


PATHS = [path for path in paths(GOOD) if path]
texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=70)
junk = st.recursive(
    st.one_of(
        texts,
        st.integers(-10, 10**6),
        st.integers(),
        st.floats(),
        st.booleans(),
        st.dates(),
        st.sampled_from(
            ["front", "20%", "-3 mm", "1/0 in", "edge", "brass", "tall", "ring", "accent", "teal", "torn"]
        ),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.one_of(texts, st.sampled_from(["down", "around", "along", "at", "rim"])), inner, max_size=3
        ),
    ),
    max_leaves=6,
)


def test_the_good_job_is_good():
    assert len(parse("\n".join(f"{key} = {to_toml(value)}" for key, value in GOOD.items())).orders) == 2


@given(
    st.lists(
        st.tuples(st.sampled_from(PATHS), junk, st.sampled_from(["set", "drop", "add"])),
        min_size=1,
        max_size=3,
    )
)
@settings(deadline=None, max_examples=500)
def test_a_broken_job_is_told_and_nothing_else_is_raised(breaks):
    job = copy.deepcopy(GOOD)
    for path, value, way in breaks:
        place = job
        try:
            for key in path[:-1]:
                place = place[key]
            if isinstance(place, dict) and not isinstance(path[-1], str):
                continue
            if way == "drop":
                del place[path[-1]]
            elif way == "set" or not isinstance(place, dict):
                place[path[-1]] = value
            else:
                place[str(value)[:20]] = value
        except (KeyError, IndexError, TypeError):
            continue  # an earlier break took that part away
    text = "\n".join(f"{quoted(key)} = {to_toml(value)}" for key, value in job.items())
    try:
        parse(text)
    except JobError as error:
        assert error.faults
        for fault in error.faults:
            assert str(fault).isprintable()
            assert fault.where.file in ("week30.toml", "shelf/teal.toml", "shelf/torn.toml")


@given(st.text(st.characters(exclude_categories=("Cs",))))
@settings(deadline=None)
def test_any_text_is_a_job_or_told(text):
    with pytest.raises(JobError):
        parse(text)
