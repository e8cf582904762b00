"""Places in TOML texts: of random documents, built so that it is known where each key stands; and of faults in jobs."""

import tomllib
from dataclasses import dataclass, field

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripegen.errors import Place, Where, place_of
from stripegen.tomlplaces import Spot, TomlPlaces

# Values, some of which look like keys and tables but are none.
VALUES = st.sampled_from([
    "1", "-0.5e3", "3.14", "true", "2027-07-30", "07:32:00", "2027-07-30T07:32:00Z", "0xff", "[]", "{}",
    '"a = 1"', "'[x]'", '"#"', '"\\" ] } ="', '"é\\u00e9"', '"""\n[x]\na = 1\n"""', "'''\na = 1 # '' \n[[x]]'''",
    '"""a\\\n   b"""', '""""quoted""""', "''''quoted''''", "[1, [2, 'x'],\n # a = 1 ]\n 3,\n]", '"""\\""" b"""',
])  # fmt: skip
NAMES = st.sampled_from(["a", "b", "x", "line", "1", "-", "true", "é", "a b", "a.b", '"', "'", "#", "=", "]", "", "\t", "日"])
BREAKS = st.sampled_from(["\n", "\r\n"])
GAPS = st.sampled_from(["", " ", "  ", "\t"])


@dataclass
class Writer:
    """Writes a document, keeping where in it each part of a key begins."""

    draw: object
    text: str = ""
    marks: dict = field(default_factory=dict)
    taken: dict = field(default_factory=dict)

    def put(self, text):
        self.text += text

    def gap(self):
        self.put(self.draw(GAPS))

    def new_line(self):
        self.gap()
        if self.draw(st.booleans()):
            self.put("# a = 1 [x] \"' é")
        self.put("\n" * self.draw(st.integers(1, 3)))

    def name(self, name):
        bare = name.isascii() and name.replace("-", "").isalnum() or name == "-"
        forms = [name] if bare else []
        if "'" not in name:
            forms.append(f"'{name}'")
        escaped = name.replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t")
        forms += [f'"{escaped}"', '"' + "".join(f"\\u{ord(c):04x}" for c in name) + '"']
        self.put(self.draw(st.sampled_from(forms)))

    def key(self, path, names):
        """A key, dotted where it has several names; it is known where each begins."""
        for number, name in enumerate(names):
            if number:
                self.gap()
                self.put(".")
                self.gap()
            path = (*path, name)
            self.marks.setdefault(path, len(self.text))
            self.name(name)
        return path

    def pairs(self, path, depth, begin, end):
        for name in self.draw(st.lists(NAMES, unique=True, max_size=4)):
            more = self.draw(st.lists(NAMES, max_size=2))
            begin()
            own = self.key(path, [name, *more])
            self.gap()
            self.put("=")
            self.gap()
            self.value(own, depth)
            end()

    def value(self, path, depth):
        kind = self.draw(st.sampled_from(["plain", "plain", "table", "list"] if depth else ["plain"]))
        if kind == "plain":
            self.put(self.draw(VALUES))
        elif kind == "table":
            self.put("{")
            first = len(self.text)
            self.pairs(path, depth - 1, lambda: self.put(" " if len(self.text) == first else ", "), self.gap)
            self.put(" }")
        else:
            self.put("[")
            for number in range(self.draw(st.integers(0, 3))):
                self.put(self.draw(st.sampled_from(["", " ", "\n", " # [ {\n"])))
                self.marks[(*path, number)] = len(self.text)
                self.value((*path, number), depth - 1)
                self.gap()
                self.put(",")
            self.put("]")

    def table(self, path, name, number=None):
        """A table with a heading of its own."""
        self.gap()
        start = len(self.text)
        self.put("[" if number is None else "[[")
        self.gap()
        heading = [step for step in (*path, name) if isinstance(step, str)]
        marks, self.marks = self.marks, {}
        self.key((), heading)
        self.marks = marks
        self.gap()
        self.put("]" if number is None else "]]")
        own = (*path, name) if number is None else (*path, name, number)
        for length in range(1, len(own) + 1):
            self.marks.setdefault(own[:length], start)
        self.new_line()
        self.pairs(own, 2, self.gap, self.new_line)
        return own


@st.composite
def documents(draw):
    """A text and the index in it of every key, table and entry of a list."""
    writer = Writer(draw)
    writer.pairs((), 2, writer.gap, writer.new_line)
    used = {path[0] for path in writer.marks}
    for name in draw(st.lists(NAMES, unique=True, max_size=4)):
        if name in used:
            continue
        if draw(st.booleans()):
            own = writer.table((), name)
            inner = [child for child in ["sub", "other"] if draw(st.booleans()) and (*own, child) not in writer.marks]
            for child in inner:
                for number in range(draw(st.integers(1, 2))):
                    writer.table(own, child, number)
        else:
            for number in range(draw(st.integers(1, 3))):
                own = writer.table((), name, number)
                if draw(st.booleans()):
                    writer.table(own, "sub")
    line_break = draw(BREAKS)
    return writer.text, writer.marks, line_break


def leaves(value, path=()):
    if isinstance(value, dict):
        yield from (each for name, inner in value.items() for each in [(*path, name), *leaves(inner, (*path, name))])
    elif isinstance(value, list):
        yield from (each for n, inner in enumerate(value) for each in [(*path, n), *leaves(inner, (*path, n))])


def place_at(text, index):
    """Line and column of an index, as an editor counts."""
    before = text[:index].split("\n")
    return len(before), len(before[-1]) + 1


def ways_in(value, way=()):
    """The way to every key and entry within."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, inner in inside:
        yield (*way, step)
        yield from ways_in(inner, (*way, step))


@settings(max_examples=50)
@given(documents())
def test_every_key_is_found_where_it_stands(document):
    text, marks, line_break = document
    places = TomlPlaces(text.replace("\n", line_break))
    for way in ways_in(tomllib.loads(text)):  # the parser itself says that this is TOML, and what it holds
        if isinstance(way[-1], int) and way not in marks:
            continue  # within a list that was written as a whole
        assert places.find(way) == place_at(text, marks[way]), way


TEXT = """\
units = "mm"
[cup.tall]
rim  = { diameter = 86 }
base.diameter = 62
keepout = [
    { around = 180, from = 20 },  # the handle
    { around = "é", from = 95 },
]
[[order]]
id = "A"
[[order]]
id = "B"
vinyl.accent = "brass"
[[order.panels]]
from = 3
"""


@pytest.mark.parametrize(
    ("way", "place"),
    [
        (("units",), (1, 1)),
        (("cup", "tall"), (2, 1)),
        (("cup", "tall", "rim"), (3, 1)),
        (("cup", "tall", "rim", "diameter"), (3, 10)),
        (("cup", "tall", "base"), (4, 1)),
        (("cup", "tall", "base", "diameter"), (4, 6)),
        (("cup", "tall", "base", "circumference"), (4, 1)),  # missing: where its table begins
        (("cup", "tall", "height"), (2, 1)),
        (("cup", "tall", "keepout", 1), (7, 5)),
        (("cup", "tall", "keepout", 1, "from"), (7, 21)),
        (("cup", "tall", "keepout", 7, "from"), (5, 1)),
        (("order",), (9, 1)),
        (("order", 0, "id"), (10, 1)),
        (("order", 1), (11, 1)),
        (("order", 1, "vinyl", "accent"), (13, 7)),
        (("order", 1, "panels", 0, "from"), (15, 1)),
        (("order", 1, "cup"), (11, 1)),
        (("cutter",), None),
        ((), None),
    ],
)
def test_places_by_way(way, place):
    assert TomlPlaces(TEXT).find(way) == place
    where = Where("week.toml", "", document=TomlPlaces(TEXT))
    assert place_of(where, *way) == place_of(where.inner("[x]", *way)) == Place("week.toml", *(place or ()))


def test_a_spot_is_one_place_whatever_is_asked():
    assert place_of(Where("week.toml", "", document=Spot(2, 5)), "cup") == ("week.toml", 2, 5)
    assert str(Place("week.toml", 2, 5)) == "week.toml:2:5"
    assert str(Place("week.toml")) == "week.toml"
