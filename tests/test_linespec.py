"""Patterns and lines: what each key means, which kinds take it, and every refusal."""

import itertools
import math
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.errors import Where
from stripegen.linespec import KEYS, KINDS, read_pattern, seams_named
from stripegen.spec import Along, Chevron, Down, Pattern, Repeat, Ring, Vertical
from stripegen.tables import Table

COMMON = 'name = "sash"\nwidth = 3\nvinyl = "accent"\n'
VERTICAL = COMMON + 'kind = "vertical"\naround = "front"\n'
RING = COMMON + 'kind = "ring"\ndown = 30\n'
ARC = RING + "start = 0\nend = 90\n"
DIAGONAL = (
    COMMON
    + 'kind = "diagonal"\nstart = { around = "front", down = "20%" }\nend = { around = 90, down = 80 }\n'
)
CHEVRON = COMMON + 'kind = "chevron"\ntop = 30\nbottom = 60\npoints = 8\n'
EDGE = 'name = "edge"\nwidth = 5\nvinyl = "accent"\nkind = "vertical"\naround = ["front", "back"]\n'
EXAMPLES = {"vertical": VERTICAL, "ring": RING, "diagonal": DIAGONAL, "chevron": CHEVRON}


def read(*lines, more="", unit="mm"):
    text = more + "".join(f"\n[[line]]\n{line}" for line in lines)
    table = Table(tomllib.loads(text), Where("week30.toml", "[pattern.regatta]"), [], unit)
    return read_pattern("regatta", table), table.faults


def line_of(text, *others, unit="mm"):
    pattern, faults = read(text, *others, unit=unit)
    assert faults == []
    assert isinstance(pattern, Pattern)
    return pattern.lines[0]


def told(*lines, more=""):
    pattern, faults = read(*lines, more=more)
    assert pattern is None
    assert faults
    return "\n".join(str(fault) for fault in faults)


SASH = 'week30.toml: [[pattern.regatta.line]] "sash" '


@pytest.mark.parametrize("kind", KINDS)
def test_slit_and_together(kind):
    line = line_of(EXAMPLES[kind])
    assert (line.slit, line.together) == (False, False)
    assert line_of(EXAMPLES[kind] + "together = true").together is True
    assert SASH + "together: read 1; must be true or false" in told(EXAMPLES[kind] + "together = 1")
    if kind == "chevron":
        text = told(EXAMPLES[kind] + "slit = true")
        assert "slit: read true; is for vertical and ring and diagonal lines, not for a chevron" in text
    else:
        assert line_of(EXAMPLES[kind] + "slit = true").slit is True
        assert SASH + 'slit: read "no"; must be true or false' in told(EXAMPLES[kind] + 'slit = "no"')


def test_what_narrows_is_not_slit():
    assert line_of(VERTICAL + "narrows = true\nslit = false").narrows is True
    assert line_of(VERTICAL + "narrows = false\nslit = true").slit is True
    text = told(VERTICAL + "narrows = true\nslit = true")
    assert text.startswith(SASH + "slit: read true; can't stand beside narrows")


def test_a_pattern_together():
    pattern, _ = read(EDGE)
    assert pattern.together is False
    pattern, _ = read(EDGE, more="together = true")
    assert pattern.together is True


class TestKinds:
    def test_vertical(self):
        line = line_of(VERTICAL)
        assert line == Vertical(name="sash", vinyl="accent", width_mm=3, around=("front",), ends="level")
        assert (line.stripes, line.gap_mm, line.tuck_mm, line.by_mm, line.split) == (1, 2, 1.5, 1, False)
        assert line.where == Where("week30.toml", '[[pattern.regatta.line]] "sash"', ("line", 0))
        full = line_of(
            COMMON + 'kind = "vertical"\naround = [0, "back", { along = 5, at = 6 }]\nfrom = 20\nto = "90%"\n'
            'narrows = true\nmirror = 45\nends = "square"'
        )
        assert full.around == (0.0, "back", Along(5.0, 6.0))
        assert (full.start, full.end) == (Down(20.0), Down(0.9, is_share=True))
        assert (full.narrows, full.ends) == (True, "square")
        assert full.mirror == pytest.approx(math.pi / 4)

    def test_ring(self):
        line = line_of(RING)
        assert line == Ring(
            name="sash", vinyl="accent", width_mm=3, downs=(Down(30.0),), ends="upright", split=True
        )
        assert (line.start, line.end, line.joint, line.overlap_mm) == (None, None, "back", 3)
        up = line_of(
            COMMON + 'kind = "ring"\nup = [10, "0%"]\njoint = 90\noverlap = "1/8 in"\nends = "square"'
        )
        assert up.downs == (Down(10.0, from_base=True), Down(0.0, is_share=True, from_base=True))
        assert up.joint == pytest.approx(math.pi / 2)
        assert (up.overlap_mm, up.ends) == (3.175, "square")
        line_of(RING + "start = 300\nend = 400")
        line_of(RING + "start = 350\nend = 10")
        part = line_of(ARC + "split = false")
        assert (part.start, part.split) == (0.0, False)
        assert part.end == pytest.approx(math.pi / 2)

    def test_diagonal(self):
        line = line_of(DIAGONAL)
        assert (line.start_around, line.start_down) == ("front", Down(0.2, is_share=True))
        assert line.end_around == pytest.approx(math.pi / 2)
        assert (line.end_down, line.path, line.mirror, line.ends) == (Down(80.0), "straight", None, "level")
        assert line_of(DIAGONAL + 'path = "even-drop"').path == "even-drop"
        assert line_of(DIAGONAL + "mirror = true").mirror is True
        assert line_of(DIAGONAL + "mirror = false").mirror is None
        assert line_of(DIAGONAL + "mirror = 0").mirror == 0.0
        assert line_of(DIAGONAL + "mirror = 0").mirror is not False
        assert line_of(DIAGONAL + 'mirror = "back"').mirror == "back"

    def test_chevron(self):
        line = line_of(CHEVRON)
        assert line == Chevron(
            name="sash",
            vinyl="accent",
            width_mm=3,
            top=Down(30.0),
            bottom=Down(60.0),
            points=8,
            ends="upright",
        )
        assert (line.start, line.joint, line.overlap_mm, line.path) == (0.0, "back", 0.0, "straight")
        full = line_of(CHEVRON + 'start = "front"\njoint = 5\noverlap = 2\npath = "same-slant"')
        assert (full.start, full.overlap_mm, full.path) == ("front", 2, "same-slant")

    def test_what_all_take(self):
        line = line_of(
            DIAGONAL + 'stripes = 2\ngap = 0.5\nunder = "edge"\ntuck = 2\nclear_of = ["band"]\nby = 0\n'
            'resin = 1.2\nsplit = true\nends = "upright"',
            EDGE,
            RING.replace("sash", "band"),
        )
        assert (line.stripes, line.gap_mm, line.full_width_mm) == (2, 0.5, 6.5)
        assert (line.under, line.tuck_mm, line.clear_of, line.by_mm) == (("edge",), 2, ("band",), 0)
        assert (line.resin_mm, line.split, line.ends) == (1.2, True, "upright")

    def test_units_of_the_file(self):
        line = line_of(RING, unit="in")
        assert line.width_mm == pytest.approx(76.2)
        assert line.downs == (Down(762.0),)

    def test_order_and_clearances_of_a_pattern(self):
        pattern, faults = read(RING, EDGE, more='rim_clearance = 20\nbase_clearance = "1 cm"')
        assert faults == []
        assert [line.name for line in pattern.lines] == ["sash", "edge"]
        assert (pattern.name, pattern.rim_clearance_mm, pattern.base_clearance_mm) == ("regatta", 20, 10)
        assert pattern.where == Where("week30.toml", "[pattern.regatta]")
        bare, _ = read(RING)
        assert (bare.rim_clearance_mm, bare.base_clearance_mm) == (None, None)


class TestRepeat:
    def test_evenly_round(self):
        assert line_of(VERTICAL + "repeat = 6").repeat == Repeat(count=6)
        assert line_of(VERTICAL.replace('around = "front"', "repeat = 6")).around == (0.0,)
        assert line_of(ARC + "repeat = 3").repeat == Repeat(count=3)

    def test_by_step(self):
        repeat = line_of(DIAGONAL + "repeat = { count = 3, step = -30 }").repeat
        assert (repeat.count, repeat.between) == (3, None)
        assert repeat.step_rad == pytest.approx(-math.pi / 6)
        assert line_of(DIAGONAL + "repeat = { count = 2, step = 180 }").repeat.count == 2

    def test_between(self):
        line = line_of(
            VERTICAL.replace('around = "front"', 'repeat = { count = 5, between = ["front", 170] }')
        )
        assert line.around == ()
        assert (line.repeat.count, line.repeat.step_rad) == (5, None)
        assert line.repeat.between == ("front", pytest.approx(math.pi * 17 / 18))

    @pytest.mark.parametrize(
        ("text", "right"),
        [
            (VERTICAL + "repeat = 0", "repeat: read 0; must be a whole number from 1 to 1000"),
            (VERTICAL + "repeat = 1001", "repeat: read 1001; must be a whole number from 1 to 1000"),
            (VERTICAL + 'repeat = "6"', 'repeat: read "6"; must be a whole number'),
            (DIAGONAL + "repeat = {}", "repeat.count: is missing"),
            (
                DIAGONAL + "repeat = { count = 3 }",
                "repeat: read { count = 3 }; must have count with either step or",
            ),
            (
                DIAGONAL + "repeat = { count = 3, step = 0 }",
                "repeat.step: read 0; brings some of the 3 onto others",
            ),
            (DIAGONAL + "repeat = { count = 3, step = 180 }", "repeat.step: read 180; brings some of the 3"),
            (
                DIAGONAL + "repeat = { count = 3, stop = 5 }",
                'repeat.stop: is not a key of this table; did you mean "step',
            ),
            (
                DIAGONAL + "repeat = { count = 3, step = '5%' }",
                'repeat.step: read "5%"; must be a number of degrees',
            ),
            (
                DIAGONAL + "repeat = { count = 3, between = [0, 90] }",
                "repeat.between: read [0, 90]; is for vertical lines only, not for a diagonal",
            ),
            (
                VERTICAL + "repeat = { count = 3, between = [0, 90] }",
                'around: read "front"; can\'t stand beside repeat.between',
            ),
            (
                COMMON + 'kind = "vertical"\nrepeat = { count = 3, between = [0, 90], step = 3 }',
                "; must have count with either step or, for verticals, between",
            ),
            (
                COMMON + 'kind = "vertical"\nrepeat = { count = 3, between = 90 }',
                "repeat.between: read 90; must be two places round the cup",
            ),
            (
                COMMON + 'kind = "vertical"\nrepeat = { count = 3, between = [90, 90] }',
                "repeat.between: read [90, 90]; must be two places that differ",
            ),
            (
                COMMON + 'kind = "vertical"\naround = [0, 90]\nrepeat = 3',
                "around: read [0, 90]; has several places, and the line has repeat too",
            ),
            (RING + "repeat = 3", "repeat: read 3; would lay whole rings on each other"),
        ],
    )
    def test_refusals(self, text, right):
        assert SASH + right in told(text) or (right.startswith(";") and right in told(text))


@pytest.mark.parametrize(
    ("text", "right"),
    [
        # what every line needs
        (VERTICAL.replace("width = 3", ""), "width: is missing"),
        (VERTICAL.replace("width = 3", "width = 0"), "width: read 0; must be a length above 0"),
        (
            VERTICAL.replace("width = 3", 'width = "5%"'),
            'width: read "5%"; a share of the wall has no meaning',
        ),
        (VERTICAL.replace('vinyl = "accent"', ""), "vinyl: is missing: a role"),
        (VERTICAL.replace("accent", "my accent"), 'vinyl: read "my accent"; must be a name of ASCII letters'),
        (VERTICAL.replace('kind = "vertical"', ""), 'kind: is missing: one of "vertical", "ring"'),
        (VERTICAL.replace('"vertical"', '"vertcal"'), 'kind: read "vertcal"; must be one of'),
        (VERTICAL.replace('"vertical"', '"vertcal"'), 'did you mean "vertical"?'),
        (VERTICAL + "stripes = 0", "stripes: read 0; must be a whole number from 1 to 1000"),
        (VERTICAL + "stripes = 1001", "stripes: read 1001; must be a whole number from 1 to 1000"),
        (VERTICAL + "stripes = 2\ngap = -1", "gap: read -1; must be a length of 0 or more"),
        (VERTICAL + "gap = 3", "gap: read 3; means nothing without stripes"),
        (VERTICAL + "tuck = 1", "tuck: read 1; means nothing without under"),
        (VERTICAL + "by = 1", "by: read 1; means nothing without clear_of"),
        (VERTICAL + "resin = -1", "resin: read -1; must be a length of 0 or more"),
        (VERTICAL + "split = 1", "split: read 1; must be true or false"),
        (VERTICAL + "under = []", "under: read []; must hold at least one"),
        (VERTICAL + "under = 3", "under: read 3; must be a name"),
        (VERTICAL + "widht = 3", 'widht: is not a key of this table; did you mean "width"?'),
        (VERTICAL + 'ends = "upright"', 'ends: read "upright"; must be one of "level", "square"'),
        # places
        (COMMON + 'kind = "vertical"', "around: is missing: one place round the cup or more, or repeat"),
        (VERTICAL.replace('"front"', "[]"), "around: read []; must hold at least one"),
        (VERTICAL.replace('"front"', "[0, 0]"), "around: read [0, 0]; names a place twice"),
        (VERTICAL.replace('"front"', "true"), "around: read true; must be a number of degrees"),
        (VERTICAL.replace('"front"', "nan"), "around: read nan; must be a number of degrees"),
        (VERTICAL.replace('"front"', "{ along = 3 }"), "around: read { along = 3 }; must have the two keys"),
        (VERTICAL + "from = -1", "from: read -1; must be 0 or more: so far along the wall from the rim"),
        (VERTICAL + "from = 60\nto = 60", "to: read 60; must be farther down than from"),
        (VERTICAL + 'from = "60%"\nto = "50%"', 'to: read "50%"; must be farther down than from'),
        (VERTICAL + 'to = "201%"', 'to: read "201%"; must be a share from'),
        (VERTICAL + "mirror = true", "mirror: read true; must be a place round the cup"),
        (VERTICAL + 'narrows = "yes"', 'narrows: read "yes"; must be true or false'),
        (
            VERTICAL + 'path = "straight"',
            'path: read "straight"; is for diagonal and chevron lines, not for a vertical',
        ),
        (VERTICAL + "joint = 3", "joint: read 3; is for ring and chevron lines, not for a vertical"),
        # rings
        (RING.replace("down = 30", ""), "down: is missing: down, or up from the base"),
        (RING + "up = 3", "down: read 30; can't stand beside up"),
        (RING.replace("30", "[30, 30.0]"), "down: read [30, 30.0]; names a place twice"),
        (
            RING.replace("down = 30", "up = -1"),
            "up: read -1; must be 0 or more: so far along the wall from the base",
        ),
        (RING + 'ends = "level"', 'ends: read "level"; must be one of "upright", "square"'),
        (
            RING + "start = 3",
            "end: is missing: a part of a ring has start and end, and this one has only start",
        ),
        (
            RING + "end = 3",
            "start: is missing: a part of a ring has start and end, and this one has only end",
        ),
        (RING + "start = 3\nend = 3", "end: read 3; is where the part starts"),
        (RING + "start = 3\nend = 364", "end: read 364; is more than once round from the start"),
        (RING + "start = -10\nend = 351", "end: read 351; is more than once round from the start"),
        (ARC + "joint = 3", "joint: read 3; is for a whole ring only"),
        (ARC + "overlap = 3", "overlap: read 3; is for a whole ring only"),
        (RING + "overlap = -1", "overlap: read -1; must be a length of 0 or more"),
        (RING + "narrows = true", "narrows: read true; is for vertical lines, not for a ring"),
        (RING + "mirror = 3", "mirror: read 3; is for vertical and diagonal lines, not for a ring"),
        # diagonals
        (COMMON + 'kind = "diagonal"\nend = { around = 0, down = 3 }', "start: is missing: { around"),
        (DIAGONAL.replace(', down = "20%"', ""), "start.down: is missing"),
        (DIAGONAL.replace('around = "front", ', ""), "start.around: is missing"),
        (
            DIAGONAL.replace('down = "20%"', "donw = 3"),
            'start.donw: is not a key of this table; did you mean "down"?',
        ),
        (DIAGONAL.replace("down = 80", 'down = "x"'), 'end.down: read "x"; must be a number, or'),
        (DIAGONAL.replace("{ around = 90, down = 80 }", "90"), "end: read 90; must be a table such as {"),
        (
            DIAGONAL.replace("down = 80", 'down = "20%"') + 'path = "same-slant"',
            'path: read "same-slant"; needs ends',
        ),
        (
            DIAGONAL.replace("down = 80", 'down = "20%"') + 'path = "even-drop"',
            'path: read "even-drop"; needs ends',
        ),
        (DIAGONAL.replace("around = 90, down = 80", 'around = "front", down = "20%"'), "end: read { around"),
        (DIAGONAL + 'path = "strait"', 'did you mean "straight"?'),
        (DIAGONAL + "around = 3", "around: read 3; is for vertical lines, not for a diagonal"),
        # chevrons
        (CHEVRON.replace("top = 30", ""), "top: is missing"),
        (CHEVRON.replace("bottom = 60", ""), "bottom: is missing"),
        (CHEVRON.replace("points = 8", ""), "points: is missing"),
        (
            CHEVRON.replace("points = 8", "points = 0"),
            "points: read 0; must be a whole number from 1 to 1000",
        ),
        (
            CHEVRON.replace("points = 8", "points = 1001"),
            "points: read 1001; must be a whole number from 1 to 1000",
        ),
        (CHEVRON.replace("60", "30"), "bottom: read 30; must be farther down than top"),
        (CHEVRON.replace("60", "20"), "bottom: read 20; must be farther down than top"),
        (
            CHEVRON + 'ends = "level"',
            'ends: read "level"; has no place on a chevron, which is always cut upright',
        ),
        (CHEVRON + "end = 3", "end: read 3; is for ring and diagonal lines, not for a chevron"),
    ],
)
def test_refusals_of_lines(text, right):
    text = told(text)
    assert SASH in text
    assert right in text


def test_equal_places_are_no_fault_where_that_cannot_be_seen():
    line_of(VERTICAL + 'from = 60\nto = "50%"')
    line_of(
        DIAGONAL.replace("down = 80", 'down = "20%"')
    )  # a straight way between equal places is a fair chord
    line_of(CHEVRON.replace("60", '"10%"'))


class TestNames:
    def test_a_nameless_line_is_told_by_its_number(self):
        text = told(EDGE, RING.replace('name = "sash"', ""))
        assert text == f"week30.toml: [[pattern.regatta.line]] number 2 name: is missing: {NAME}"
        assert 'number 1 name: read "the sash"; must be a name' in told(RING.replace("sash", "the sash"))

    def test_names_that_differ_only_by_case(self):
        text = told(EDGE, EDGE.replace("edge", "EDGE"))
        assert text.startswith(
            'week30.toml: [[pattern.regatta.line]] "EDGE" name: read "EDGE"; is the name of "edge"'
        )

    def test_under_what_is_no_line(self):
        text = told(DIAGONAL + 'under = "egde"', EDGE)
        assert text == SASH + 'under: read "egde"; must name lines of this pattern; did you mean "edge"?'
        assert "must name lines of this pattern: sash, edge" in told(DIAGONAL + 'clear_of = ["zz"]', EDGE)

    def test_under_itself(self):
        assert told(DIAGONAL + 'under = ["sash"]').startswith(
            SASH + 'under: read ["sash"]; must name other lines'
        )

    def test_a_line_under_itself_is_no_circle_too(self):
        assert told(DIAGONAL + 'under = ["sash"]\ntuck = 1').count("\n") == 0

    def test_under_a_line_that_is_at_fault_is_told_once(self):
        text = told(DIAGONAL + 'under = "edge"', EDGE + "stripes = 0")
        assert text.count("\n") == 0
        assert '"edge" stripes: read 0' in text


NAME = "a name of ASCII letters, digits, - and _, at most 64"


class TestTuck:
    def test_half_the_width_is_too_much(self):
        text = told(DIAGONAL + 'under = "edge"\ntuck = 2.5', EDGE)
        assert text.startswith(
            SASH + 'tuck: read 2.5; must be less than 2.5 mm, half the width of the line "edge"'
        )
        line_of(DIAGONAL + 'under = "edge"\ntuck = 2.49', EDGE)

    def test_the_default_counts_too(self):
        assert "tuck: read 1.5 mm (the default); must be less than 1.5 mm" in told(
            DIAGONAL + 'under = "edge"', EDGE.replace("width = 5", "width = 3")
        )

    def test_all_stripes_of_the_covering_line_count(self):
        # three of 5 mm with 4 mm between them: 23 mm
        wide = EDGE + "stripes = 3\ngap = 4"
        line_of(DIAGONAL + 'under = "edge"\ntuck = 11.4', wide)
        assert "must be less than 11.5 mm" in told(DIAGONAL + 'under = "edge"\ntuck = 11.5', wide)


class TestCircles:
    def chain(self, *after):
        return [
            RING.replace("sash", f"r{n}").replace("30", str(30 + n))
            + (f"clear_of = {['r' + str(m) for m in others]!r}\n" if others else "")
            for n, others in enumerate(after)
        ]

    def test_through_under_and_clear_of_together(self):
        text = told(
            DIAGONAL + 'under = "edge"',
            EDGE + 'clear_of = "band"',
            RING.replace("sash", "band") + 'clear_of = "sash"',
        )
        assert "goes round in a circle" in text
        assert text.count("\n") == 0
        assert "week30.toml: [[pattern.regatta.line]]" in text
        assert " -> " in text

    @pytest.mark.parametrize(
        "after", [[(1,), (2,), ()], [(1, 2), (3,), (3,), ()], [(), (0,), (0, 1), (0, 1, 2)]]
    )
    def test_none(self, after):
        pattern, faults = read(*self.chain(*after))
        assert faults == []
        assert len(pattern.lines) == len(after)

    @given(st.lists(st.sets(st.integers(0, 5)), min_size=2, max_size=6))
    @settings(deadline=None, max_examples=150)
    def test_found_exactly_where_no_order_of_work_exists(self, graph):
        after = [sorted(m for m in others if m < len(graph) and m != n) for n, others in enumerate(graph)]
        left = dict(enumerate(after))
        while free := [n for n, others in left.items() if not set(others) & set(left)]:
            for n in free:
                del left[n]
        pattern, faults = read(*self.chain(*after))
        assert (pattern is None) == bool(left)
        if left:
            (fault,) = faults
            names = fault.read.split(" -> ")
            assert names[0] == names[-1]
            steps = [(int(a[1:]), int(b[1:])) for a, b in itertools.pairwise(names)]
            assert all(b in after[a] for a, b in steps)
            assert f'"{names[0]}"' in fault.where.table


class TestPattern:
    @pytest.mark.parametrize(
        ("text", "right"),
        [
            ("", "line: read 0 lines; must be 1 to 1000 tables [[pattern.regatta.line]]"),
            ("line = 3", "line: read 3; must be written [[pattern.regatta.line]], with two brackets"),
            (
                '[line]\nname = "edge"',
                'line: read { name = "edge" }; must be written [[pattern.regatta.line]], with two',
            ),
            ("line = [3]", "line: read [3]; must be written"),
            ("lines = []", 'lines: is not a key of this table; did you mean "line"?'),
            ("rim_clearance = -1", "rim_clearance: read -1; must be a length of 0 or more"),
            ("together = 1", "together: read 1; must be true or false"),
            ("togehter = true", 'togehter: is not a key of this table; did you mean "together"?'),
            ("base_clearance = '3%'", 'base_clearance: read "3%"; a share'),
        ],
    )
    def test_refusals(self, text, right):
        assert "week30.toml: [pattern.regatta] " + right in told(more=text)

    def test_too_many_lines(self):
        assert "read 1001 lines; must be 1 to 1000 tables" in told(*["a = 1"] * 1001)

    def test_faults_of_all_lines_are_told_together(self):
        text = told(EDGE + "stripes = 0", RING + "overlap = -1", more="rim_clearance = -1")
        assert text.count("\n") == 2


def test_seams_named():
    def named(text):
        return [(".".join(way), seam) for way, seam in seams_named(line_of(text))]

    assert named(VERTICAL + 'mirror = "side"') == [("around", "front"), ("mirror", "side")]
    assert named(RING) == [("joint", "back")]
    assert named(COMMON + 'kind = "ring"\ndown = 3\nstart = "a"\nend = "b"') == [
        ("start", "a"),
        ("end", "b"),
        ("joint", "back"),
    ]
    assert named(DIAGONAL + "mirror = true") == [("start.around", "front")]
    assert named(CHEVRON + 'start = "side"\njoint = 4') == [("start", "side")]
    between = COMMON + 'kind = "vertical"\nrepeat = { count = 3, between = ["front", 90] }'
    assert named(between) == [("repeat.between", "front")]


values = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-5, 2000),
        st.floats(),
        st.dates(),
        st.sampled_from(["sash", "edge", "front", "20%", "4 mm", "straight", "ring", "", "level", "é"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(["around", "down", "along", "at", "count", "step", "between"]), inner, max_size=3
        ),
    ),
    max_leaves=5,
)
every_key = sorted({key for keys in KEYS.values() for key in keys})


@given(st.sampled_from(KINDS), st.dictionaries(st.sampled_from([*every_key, "zz"]), values, max_size=4))
@settings(deadline=None, max_examples=400)
def test_any_line_is_read_or_told_and_never_raises(kind, changes):
    entry = tomllib.loads(EXAMPLES[kind]) | changes
    table = Table({"line": [entry, tomllib.loads(EDGE)]}, Where("f", "[pattern.p]"), [])
    pattern = read_pattern("p", table)
    assert (pattern is None) == bool(table.faults)
    for fault in table.faults:
        assert str(fault).isprintable()
        assert fault.where.file == "f"
        assert fault.key
