"""The keys of pattern tables and of their lines."""

from __future__ import annotations

from stripegen.jobkeys.cups import clearance
from stripegen.jobkeys.forms import (
    NEEDED,
    Choice,
    Either,
    Heading,
    Inline,
    Key,
    Length,
    Pair,
    Plain,
    Several,
    Switch,
    TableKeys,
    Whole,
)
from stripegen.spec import PATHS

_AROUND, _DOWN = Plain("around"), Plain("down")

PATTERN = TableKeys(
    "pattern",
    "[pattern.NAME]",
    "A pattern: its lines, each a table of its own.",
    (
        Key("line", Heading("line"), "the lines, one table [[pattern.NAME.line]] for each", default=NEEDED),
        clearance("rim", 12, "cup"),
        clearance("base", 6, "cup"),
        Key("together", Switch(), "all its pieces of a vinyl keep their places to each other on the sheet", ("true",),
            default=False),
    ),
)  # fmt: skip

_POINT = Inline((
    Key("around", _AROUND, "its place round the cup", default=NEEDED),
    Key("down", _DOWN, "its place down the wall", default=NEEDED),
))  # fmt: skip
_COUNT = Key("count", Whole(), "how many", default=NEEDED)
_STEP = Key("step", Plain("degrees"), "from one to the next")
_BETWEEN = Key("between", Pair(_AROUND), "spread between these, with equal gaps at both ends too")
_REPEAT = "so many evenly round; or some steps apart"
_JOINT = "where it begins and ends, overlapping"
_CURVED = "the way: shortest (lies flat without being pulled); one angle to the rim; or the same drop each degree"


def _ends(default: str, *words: str, kind: str) -> Key:
    return Key("ends", Choice(words), "how its ends are cut: along the girth, down the wall, or across the strip",
               ('"square"',), default=default, kinds=(kind,))  # fmt: skip


LINE = TableKeys(
    "line",
    "[[pattern.NAME.line]]",
    "A line of a pattern: one stripe, or several side by side.",
    (
        Key("name", Plain("name"), "the line's, unlike the others' of the pattern", ('"sash"',), default=NEEDED),
        Key("kind", Choice(("vertical", "ring", "diagonal", "chevron")), "what it is", ('"vertical"',), default=NEEDED),
        Key("width", Length(above_zero=True), "of one stripe", ("5",), default=NEEDED),
        Key("vinyl", Plain("name"), "a role that each order binds to a vinyl, or a vinyl's name", ('"accent"',), default=NEEDED),
        Key("stripes", Whole(), "so many side by side", ("2",), default=1),
        Key("gap", Length(), "between them, edge to edge", ("2.5",), default=2.0, needs=("stripes",)),
        Key("under", Several(Plain("name")), "ends and crossings go under these lines", ('["edge"]', '"edge"'), default=()),
        Key("tuck", Length(), "how far they go under", ("1.2",), default=1.5, needs=("under",)),
        Key("clear_of", Several(Plain("name")), "it is cut back from these lines", ('["edge"]',), default=()),
        Key("by", Length(), "how far it is cut back", ("1.5",), default=1.0, needs=("clear_of",)),
        Key("resin", Length(), "laid after a further coat, on this thickness", ("1.2",), left_out="the cup's"),
        Key("spare", Whole(least=0), "so many more than an order needs are cut of each of its strips", ("2",), left_out="the vinyl's"),
        Key("split", Switch(), "a piece that is too long is cut in parts that overlap", ("false",), default=True, kinds=("ring",)),
        Key("split", Switch(), "a piece that is too long is cut in parts that overlap", ("true",), default=False,
            kinds=("vertical", "diagonal", "chevron")),
        Key("together", Switch(), "its stripes keep their gap on the sheet, to be lifted as one", ("true",), default=False),
        Key("slit", Switch(), "a band too wide to lie flat on a bent wall is cut as strips side by side", ("true",), default=False,
            kinds=("vertical", "ring", "diagonal")),

        Key("around", Several(_AROUND), "where it runs down; this or repeat is needed", ('["front", "back"]', "45"), default=(),
            kinds=("vertical",)),
        Key("repeat", Either((Whole(), Inline((_COUNT, _STEP, _BETWEEN), (("step",), ("between",))))),
            "so many evenly round; or some steps apart; or spread between two places",
            ("6", "{ count = 3, step = 20 }", '{ count = 3, between = ["front", "back"] }'), kinds=("vertical",)),
        Key("from", _DOWN, "its upper end", ('"20%"',), left_out="rim clearance", kinds=("vertical",)),
        Key("to", _DOWN, "its lower end", ("120",), left_out="base clearance", kinds=("vertical",)),
        Key("narrows", Switch(), "its edges narrow with the cup", ("true",), default=False, kinds=("vertical",)),
        Key("mirror", _AROUND, "its mirror image in this place too", ("30",), kinds=("vertical",)),
        _ends("level", "level", "square", kind="vertical"),

        Key("down", Several(_DOWN), "where it lies, from the rim; this or up is needed", ('"20%"', "[30, 40]"), default=(),
            kinds=("ring",)),
        Key("up", Several(_DOWN), "where it lies, from the base", ("25",), default=(), instead_of=("down",), kinds=("ring",)),
        Key("joint", _AROUND, _JOINT, ("90",), default="back", kinds=("ring",)),
        Key("overlap", Length(), "how much", ("4",), default=3.0, kinds=("ring",)),
        Key("start", _AROUND, "of a part ring: its left end", (("30", "end = 120"),), left_out="a whole ring", needs=("end",),
            instead_of=("joint", "overlap"), kinds=("ring",)),
        Key("end", _AROUND, "of a part ring: its right end", (("120", "start = 30"),), left_out="a whole ring", needs=("start",),
            instead_of=("joint", "overlap"), kinds=("ring",)),
        Key("repeat", Either((Whole(), Inline((_COUNT, _STEP), (("step",),)))), f"of a part ring: {_REPEAT}",
            ("3", "{ count = 3, step = 20 }"), needs=("start", "end"), kinds=("ring",)),
        _ends("upright", "upright", "square", kind="ring"),

        Key("start", _POINT, "its one end", ('{ around = "front", down = "20%" }',), default=NEEDED, kinds=("diagonal",)),
        Key("end", _POINT, "its other end; more than 360 degrees between them wind round", ('{ around = "back", down = "80%" }',),
            default=NEEDED, kinds=("diagonal",)),
        Key("path", Choice(PATHS), _CURVED, ('"even-drop"',), default="straight", kinds=("diagonal",)),
        Key("mirror", Either((Switch(), _AROUND)), "its mirror image too, in its own middle or in this place", ("true", "30"),
            kinds=("diagonal",)),
        Key("repeat", Either((Whole(), Inline((_COUNT, _STEP), (("step",),)))), _REPEAT, ("4", "{ count = 3, step = 20 }"),
            kinds=("diagonal",)),
        _ends("level", "level", "upright", "square", kind="diagonal"),

        Key("top", _DOWN, "its upper points", ('"20%"',), default=NEEDED, kinds=("chevron",)),
        Key("bottom", _DOWN, "its lower points", ('"80%"',), default=NEEDED, kinds=("chevron",)),
        Key("points", Whole(), "so many lower points once round", ("6",), default=NEEDED, kinds=("chevron",)),
        Key("start", _AROUND, "where an upper point is", ('"front"',), default=0.0, kinds=("chevron",)),
        Key("joint", _AROUND, _JOINT, ("90",), default="back", kinds=("chevron",)),
        Key("overlap", Length(), "how much", ("2",), default=0.0, kinds=("chevron",)),
        Key("path", Choice(PATHS), _CURVED, ('"same-slant"',), default="straight", kinds=("chevron",)),
        Key("repeat", Either((Whole(), Inline((_COUNT, _STEP), (("step",),)))), _REPEAT, ("2", "{ count = 3, step = 20 }"),
            kinds=("chevron",)),
    ),
)  # fmt: skip
