"""The reader of one table: each kind of value, what it says of wrong ones, and that it never raises."""

import datetime
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.errors import Where
from stripegen.nearmiss import did_you_mean, near_miss
from stripegen.spec import Along, Down
from stripegen.tables import (
    Table,
    is_name,
    parse_colour,
    parse_down,
    parse_place,
    show,
    show_key,
)

WHERE = Where("week30.toml", "[cup.tall]")


def table(values, unit="mm"):
    return Table(values, WHERE, [], unit)


def told(reading):
    """The one fault of a table, as text."""
    (fault,) = reading.faults
    assert not reading.is_sound
    return str(fault)


class TestReading:
    def test_values(self):
        reading = table({"a": 2, "b": "1/2 in", "c": True, "d": "cup", "e": "brass", "f": 3.5, "g": 90}, "cm")
        assert reading.length("a") == 20
        assert reading.length("b") == 12.7
        assert table({"a": 0}).length("a") == 0
        assert reading.integer("a") == 2
        assert reading.boolean("c", False) is True
        assert reading.choice("d", ("none", "cup")) == "cup"
        assert reading.name("e") == "brass"
        assert reading.number("f") == 3.5
        assert reading.place("g") == pytest.approx(math.pi / 2)
        assert reading.down("a") == Down(20.0)
        reading.finish("abcdefg")
        assert reading.is_sound
        assert reading.faults == []

    def test_defaults(self):
        reading = table({})
        assert reading.length("a", 1.5) == 1.5
        assert reading.integer("a", None) is None
        assert reading.several("a", str, ()) == ()
        assert reading.child("a", "{}", optional=True) is None
        assert reading.children("a", "{}") == []
        assert reading.is_sound

    def test_a_missing_key_is_told_with_file_and_table(self):
        reading = table({})
        assert reading.length("height") is None
        assert told(reading) == "week30.toml: [cup.tall] height: is missing"

    def test_a_wrong_value_is_told_with_what_was_read_and_what_would_be_right(self):
        reading = table({"height": -3})
        assert reading.length("height", above_mm=0) is None
        assert told(reading) == "week30.toml: [cup.tall] height: read -3; must be a length above 0"

    @pytest.mark.parametrize(
        ("method", "value", "right"),
        [
            ("length", -1, "must be a length of 0 or more"),
            ("length", "x", "must be a number, or a text with its unit"),
            ("integer", 0, "must be a whole number from 1 to 1000"),
            ("integer", 1001, "must be a whole number from 1 to 1000"),
            ("integer", 2.0, "must be a whole number"),
            ("integer", True, "must be a whole number"),
            ("number", -0.5, "must be a number from 0"),
            ("number", math.nan, "must be a number from 0"),
            ("number", 10**400, "must be a number from 0"),
            ("number", False, "must be a number from 0"),
            ("name", "a b", "must be a name of ASCII letters"),
            ("name", 3, "in quotes"),
            ("name", "é", "must be a name of ASCII letters"),
            ("name", "a" * 65, "at most 64"),
            ("name", "", "must be a name"),
            ("place", "a b", "or a seam's name"),
            ("place", True, "degrees"),
            ("down", -1, "so far along the wall from the rim"),
            ("down", "300%", "must be a share from"),
        ],
    )
    def test_wrong_values(self, method, value, right):
        reading = table({"key": value})
        assert getattr(reading, method)("key") is None
        assert told(reading).startswith(f"week30.toml: [cup.tall] key: read {show(value)}; ")
        assert right in told(reading)

    def test_a_word_that_is_none_of_the_choices(self):
        reading = table({"kind": "rnig"})
        assert reading.choice("kind", ("ring", "vertical")) is None
        assert told(reading).endswith('read "rnig"; must be one of "ring", "vertical"; did you mean "ring"?')
        unhashable = table({"kind": ["ring"]})
        assert unhashable.choice("kind", ("ring", "vertical")) is None
        assert 'must be one of "ring", "vertical"' in told(unhashable)

    def test_a_quoted_boolean(self):
        reading = table({"flip": "true"})
        assert reading.boolean("flip", True) is None
        assert told(reading).endswith('flip: read "true"; must be true or false, without quotes')

    def test_several(self):
        reading = table({"one": 1, "two": [1, 2], "none": [], "many": list(range(1001)), "bad": [1, -1]})
        assert reading.several("one", lambda v: parse_down(v, "mm")) == (Down(1.0),)
        assert reading.several("two", lambda v: parse_down(v, "mm")) == (Down(1.0), Down(2.0))
        assert reading.faults == []
        for key in ("none", "many", "bad"):
            assert reading.several(key, lambda v: parse_down(v, "mm")) is None
        assert [fault.key for fault in reading.faults] == ["none", "many", "bad"]

    def test_an_unknown_key_with_and_without_a_near_one(self):
        reading = table({"hieght": 3})
        reading.finish(("height", "wall"))
        assert told(reading).endswith('hieght: is not a key of this table; did you mean "height"?')
        far = table({"zebra": 3})
        far.finish(("height", "wall"))
        assert told(far).endswith("zebra: is not a key of this table, which takes height, wall")

    def test_a_key_that_is_right_elsewhere(self):
        reading = table({"path": "x"})
        reading.finish(("height",), {"path": "is for others"})
        assert told(reading).endswith('path: read "x"; is for others')

    def test_a_fault_in_a_table_within_spoils_those_around_it(self):
        reading = table({"start": {"at": {"down": "x"}}})
        inner = reading.child("start", "{}").child("at", "{}")
        inner.length("down")
        assert not reading.is_sound
        assert " start.at.down: read" in str(reading.faults[0])

    def test_a_fault_in_a_list_of_tables_tells_which(self):
        reading = table({"girths": [{"down": 3}, {"down": "x"}]})
        for entry in reading.children("girths", "{}"):
            entry.length("down")
        assert " girths number 2, down: read" in told(reading)

    @pytest.mark.parametrize("value", [3, {}, [3], [{}, 3], "x"])
    def test_a_list_of_tables_that_is_none(self, value):
        reading = table({"girths": value})
        assert reading.children("girths", "{ down = 3 }") == []
        assert told(reading).endswith("must be a list of tables such as [ { down = 3 } ]")

    def test_too_many_tables(self):
        reading = table({"girths": [{}] * 1001})
        assert reading.children("girths", "{}") == []
        assert "read 1001 tables; must hold at most 1000" in told(reading)

    def test_a_table_that_is_none(self):
        reading = table({"start": 3})
        assert reading.child("start", "{ down = 3 }") is None
        assert told(reading).endswith("start: read 3; must be a table such as { down = 3 }")


class TestNames:
    @given(st.text("abcXYZ019-_", min_size=1, max_size=64))
    def test_names(self, name):
        assert is_name(name)
        assert show_key(name) == name

    @given(st.text(max_size=80))
    def test_a_name_can_be_nothing_but_a_plain_file_name(self, text):
        plain = set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_")
        assert is_name(text) == (0 < len(text) <= 64 and set(text) <= plain)

    @pytest.mark.parametrize("value", ["", "a\n", "../x", "a.b", "a" * 65, "naïve", "a/b", 3, None, ["a"]])
    def test_no_names(self, value):
        assert not is_name(value)

    def test_near_misses(self):
        assert near_miss("crew-tal", ["crew-tall", "mug"]) == "crew-tall"
        assert near_miss("CREW-TALL", ["crew-tall"]) == "crew-tall"
        assert near_miss("zebra", ["crew-tall", "mug"]) is None
        assert did_you_mean("mugg", ["mug"]) == '; did you mean "mug"?'
        assert did_you_mean("zebra", ["mug"]) == ""


class TestShow:
    @pytest.mark.parametrize(
        ("value", "shown"),
        [
            (True, "true"),
            (3, "3"),
            (2.5, "2.5"),
            (math.nan, "nan"),
            ("4 mm", '"4 mm"'),
            ('3"\\', '"3\\"\\\\"'),
            ("a\nb\u202e", '"a\\u000ab\\u202e"'),
            ("Tür", '"Tür"'),
            (datetime.date(2027, 7, 30), "2027-07-30"),
            ({"along": 3, "a b": [1, "x"]}, '{ along = 3, "a b" = [1, "x"] }'),
            ({}, "{}"),
            (16**500, "a number of more than 60 digits"),
        ],
    )
    def test_as_the_file_has_it(self, value, shown):
        assert show(value) == shown

    trees = st.recursive(
        st.one_of(st.text(), st.integers(), st.floats(), st.booleans(), st.dates(), st.times()),
        lambda inner: st.one_of(st.lists(inner), st.dictionaries(st.text(), inner)),
    )

    @given(trees)
    @settings(deadline=None)
    def test_one_short_printable_line(self, value):
        assert len(show(value)) <= 60
        assert show(value).isprintable()


class TestPlaces:
    def test_along(self):
        assert parse_place({"along": "1 in", "at": 12}, "mm") == Along(along_mm=25.4, at_mm=12.0)
        assert parse_place({"along": -2, "at": 1}, "cm") == Along(along_mm=-20.0, at_mm=10.0)

    @pytest.mark.parametrize(
        ("value", "right"),
        [
            ({"along": 3}, "the two keys along and at"),
            ({"along": 3, "at": 4, "by": 5}, "the two keys along and at"),
            ({"along": "x", "at": 4}, "along must be"),
            ({"along": 3, "at": "20%"}, "at a share of the wall has no meaning here"),
            ({"along": 3, "at": -4}, "at must be 0 or more"),
            ([], "must be a number of degrees"),
        ],
    )
    def test_wrong_places(self, value, right):
        with pytest.raises(ValueError, match=right):
            parse_place(value, "mm")

    def test_a_seam_where_none_may_be_named(self):
        assert parse_place("back", "mm") == "back"
        with pytest.raises(ValueError, match="must be a number of degrees, without quotes, or { along"):
            parse_place("back", "mm", seams=False)

    def test_downs(self):
        assert parse_down("25%", "mm") == Down(0.25, is_share=True)
        assert parse_down("25%", "mm", from_base=True) == Down(0.25, is_share=True, from_base=True)
        assert parse_down("1 cm", "in", from_base=True) == Down(10.0, from_base=True)
        with pytest.raises(ValueError, match="from the base"):
            parse_down(-1, "mm", from_base=True)

    def test_colours(self):
        assert parse_colour("#B8923A") == "#b8923a"
        assert parse_colour("#fA0") == "#ffaa00"
        for value in ("b8923a", "#12", "#1234", "#gggggg", "gold", 3, None):
            with pytest.raises(ValueError, match="must be a colour"):
                parse_colour(value)


METHODS = ("length", "integer", "number", "name", "place", "down")


@given(TestShow.trees, st.sampled_from(METHODS), st.sampled_from(["mm", "cm", "in"]))
@settings(deadline=None, max_examples=300)
def test_any_value_is_read_or_faulted_and_never_raises(value, method, unit):
    reading = table({"key": value}, unit)
    got = getattr(reading, method)("key")
    assert (got is None) == (len(reading.faults) == 1)
    assert reading.is_sound == (got is not None)


def test_a_table_within_another_at_fault_as_a_whole():
    table = Table({"rim": {"x": 1}, "girths": [{}, {"down": 3}]}, Where("f", "[cup.a]"), [])
    table.child("rim", "{ diameter = 86 }").fault_whole("must be round")
    table.children("girths", "{ down = 14 }")[1].fault_whole("must be round")
    assert [str(fault) for fault in table.faults] == [
        "f: [cup.a] rim: read { x = 1 }; must be round",
        "f: [cup.a] girths number 2: read { down = 3 }; must be round",
    ]
    assert not table.is_sound
