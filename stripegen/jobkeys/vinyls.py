"""The keys of vinyl tables, of offcuts and of the cutter."""

from __future__ import annotations

from stripegen.cutterspec import MOST_PAST_MM
from stripegen.jobkeys.forms import (
    NEEDED,
    Choice,
    Either,
    Inline,
    Key,
    Length,
    Plain,
    Rows,
    Switch,
    TableKeys,
    Whole,
)
from stripegen.spec import BAND_MM
from stripegen.units import ROLL_LIMIT_MM

_ABOVE_0 = Length(above_zero=True)
_ROLL = Length(above_zero=True, most_mm=ROLL_LIMIT_MM)

VINYL = TableKeys(
    "vinyl",
    "[vinyl.NAME]",
    "A film as bought, in sheets or on a roll.",
    (
        Key("colour", Plain("colour"), "of the film, in pictures and on keys", ('"#b8923a"',), default=NEEDED),
        Key("width", _ABOVE_0, "of the sheet or roll, across the cutter", ("305",), default=NEEDED),
        Key("length", _ABOVE_0, "of one sheet", ("610",), left_out="a roll"),
        Key("margin", Length(), "nothing is cut nearer than this to any edge", ("6",), default=5.0),
        Key("piece_gap", Length(), "least distance between pieces", ("2",), default=1.5),
        Key("grain", Choice(("none", "cup", "strip")),
            "how pieces may be turned: any way, the film's length down the cup, or along each strip", ('"cup"',), default="none"),
        Key("flip", Switch(), "with a grain: may a piece be turned end for end", ("false",), default=True),
        Key("quantity", Whole(), "so many sheets in hand", ("3",), left_out="any number", needs=("length",)),
        Key(
            "sizes",
            Rows(Inline((
                Key("width", _ABOVE_0, "across the cutter", default=NEEDED),
                Key("length", _ABOVE_0, "along it", default=NEEDED),
                Key("quantity", Whole(), "so many in hand", left_out="any number"),
            ))),
            "further sizes of sheets to be had",
            ("[ { width = 305, length = 305 }, { width = 210, length = 297, quantity = 2 } ]",),
            needs=("length",),
        ),
        Key("length_left", _ROLL, "all that is left of the roll", ("4200",), left_out="long enough", instead_of=("length",)),
        Key(
            "price",
            Either((
                Plain("number"),
                Inline(
                    (
                        Key("sheet", Plain("number"), "of one sheet"),
                        Key("roll", Plain("number"), "of a roll"),
                        Key("length", _ROLL, "of the roll that is bought for it"),
                    ),
                    (("sheet",), ("roll", "length")),
                ),
            )),
            "of a square metre, of a sheet, or of a roll of some length",
            ("14.0", "{ roll = 24.0, length = 5000 }", ("{ sheet = 3.20 }", "length = 610")),
            left_out="no costs",
        ),
        Key("stretch", Plain("share"), "edge strain with which the film still lies down", ('"1%"',), default=0.005),
        Key("min_width", Length(), "narrower strips and tips can't be weeded and are dropped", ("0.8",), default=1.0),
        Key("thickness", _ABOVE_0, "of the film; below 2 mm", ("0.08",), left_out="not checked"),
        Key("corner_radius", Length(), "free corners are rounded by so much", ("0.4",), default=0.0),
        Key("shared_cuts", Switch(), "straight strips lie side by side with one cut between two", ("true",), default=False),
        Key("weed", Switch(), "a frame and cuts through large waste, to weed in parts", ("true",), default=False),
        Key("spare", Whole(least=0), "so many strips more than an order needs are cut of each", ("1",), default=0),
        Key("cut_from_back", Switch(), "cut face down: the sheet is mirrored", ("true",), default=False),
    ),
)  # fmt: skip

OFFCUT = TableKeys(
    "offcut",
    "[[offcut]]",
    "A piece of vinyl that is left over from earlier work.",
    (
        Key("vinyl", Plain("name"), "which vinyl it is of", ('"navy-blue"',), default=NEEDED),
        Key("width", _ABOVE_0, "across the cutter, as it is to be fed", ("120",), default=NEEDED),
        Key("length", _ABOVE_0, "along it", ("210",), default=NEEDED),
        Key("quantity", Whole(), "so many of them", ("2",), default=1),
    ),
)

_TRUE = Inline((
    Key("drawn", _ABOVE_0, "how long a test strip is drawn", default=NEEDED),
    Key("read", _ABOVE_0, "how long it is cut", default=NEEDED),
))  # fmt: skip

CUTTER = TableKeys(
    "cutter",
    "[cutter]",
    "What the cutter can do, and how its files are to be cut.",
    (
        Key("cut_width", _ABOVE_0, "how wide it cuts", ("290",), left_out="no limit"),
        Key("longest_run", _ABOVE_0, "how long it cuts in one run", ("600",), left_out="no limit"),
        Key(
            "mat",
            Inline((
                Key("width", _ABOVE_0, "of the mat's holding part, across", default=NEEDED),
                Key("length", _ABOVE_0, "along the feed", default=NEEDED),
            )),
            "the mat on which offcuts are cut together",
            ("{ width = 280, length = 300 }",),
        ),
        Key("band", _ABOVE_0, "no piece is cut that begins so much farther back than one before it", ("120",), default=BAND_MM),
        Key("cut_past", Length(most_mm=MOST_PAST_MM), "each cut goes on past its start by so much", ("0.8",), default=0.0),
        Key(
            "scale",
            Inline((
                Key("across", _TRUE, "across the cutter"),
                Key("along", _TRUE, "along the feed"),
            )),
            "what a test strip was drawn as, and what it measured: files are drawn so that cuts come out true",
            ("{ across = { drawn = 200, read = 199.6 }, along = { drawn = 200, read = 200.3 } }",),
        ),
    ),
)  # fmt: skip
