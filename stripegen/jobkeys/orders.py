"""The keys of orders, and those that stand at the head of a job file."""

from __future__ import annotations

from dataclasses import replace

from stripegen.csvcells import DATES
from stripegen.csvtext import SEPARATORS
from stripegen.jobfile import QUANTITY_MOST
from stripegen.jobkeys.cups import PANELS, SEAMS
from stripegen.jobkeys.forms import (
    NEEDED,
    Choice,
    Either,
    Heading,
    Inline,
    Key,
    Named,
    Plain,
    Several,
    Switch,
    TableKeys,
    Whole,
)
from stripegen.units import UNITS

JOB = TableKeys(
    "job",
    "",
    "What stands at the head of the file, before any table.",
    (
        Key("units", Choice(UNITS), "of bare lengths in this file", ('"in"',), default="mm"),
        Key("title", Plain("text"), "of the job, told on its pages and lists", ('"Harbour cups"',), default=""),
        Key("stock", Plain("text"), "the file that says what vinyl is in hand, beside the job file", ('"stock.toml"',)),
        Key("cup", Heading("cup"), "cups, by name"),
        Key("vinyl", Heading("vinyl"), "vinyls, by name"),
        Key("pattern", Heading("pattern"), "patterns, by name"),
        Key("order", Heading("order"), "what is to be made; a job has at least one, or a sheet of them"),
        Key("orders", Heading("orders"), "a sheet of orders"),
        Key("offcut", Heading("offcut"), "what is left of earlier vinyl"),
        Key("cutter", Heading("cutter"), "what the cutter can do"),
    ),
)

ORDER = TableKeys(
    "order",
    "[[order]]",
    "So many cups alike. Cup, pattern and vinyls are those of this file, your presets or the shipped ones.",
    (
        Key("id", Plain("name"), "the order's own", ('"Q-1"',), default=NEEDED),
        Key("cup", Plain("name"), "which cup", ('"tall-tapered"',), default=NEEDED),
        Key("pattern", Plain("name"), "which pattern", ('"sash"',), default=NEEDED),
        Key("quantity", Whole(QUANTITY_MOST), "how many cups", ("4",), default=1),
        Key("vinyl", Either((Plain("name"), Named("role", Plain("name")))),
            "one vinyl for every role, or one for each role of the pattern",
            ('"navy-blue"', '{ accent = "navy-blue", second = "brushed-gold" }'), left_out="roles are vinyls' names"),
        Key("due", Plain("date"), "the day, for --due", ("2027-05-14",)),
        replace(SEAMS, meaning="where this order's panels meet, if not where the cup's do", left_out="the cup's"),
        replace(PANELS, meaning="what is printed on this order's cups, in place of the cup's panels", left_out="the cup's"),
        Key("change", Plain("change"), "its own copy of the pattern: keys of lines or of the pattern replaced, lines written anew or left out",
            ("{ seam = { width = 5 } }", "{ sash = false, rim_clearance = 20 }")),
    ),
)  # fmt: skip

_COLUMN = Plain("column")

ORDERS = TableKeys(
    "orders",
    "[orders]",
    "Orders from a spreadsheet saved as CSV, one in each row. Keys of an order that have no column stand here for all of them.",
    (
        Key("csv", Plain("csv"), "the file, by its place beside the job file", ('"week31.csv"',), default=NEEDED),
        Key(
            "columns",
            Inline((
                Key("id", Several(_COLUMN), "of the orders' ids, joined where there are several"),
                Key("cup", _COLUMN, "of cups"),
                Key("pattern", _COLUMN, "of patterns"),
                Key("quantity", _COLUMN, "of numbers of cups"),
                Key("due", _COLUMN, "of days"),
                Key("vinyl", Either((_COLUMN, Named("role", _COLUMN))), "of vinyls, one column or one for each role"),
            )),
            "in which column each stands, where that has another name",
            ('{ id = "Order no", quantity = "Qty" }', ('{ cup = "Cup", pattern = "Pattern", due = "Due on", vinyl = { accent = "Colour" } }', 'vinyl = { second = "brushed-gold" }')),
            left_out="columns named as the keys",
        ),
        Key("names", Named("word", Either((Plain("name"), Named("word", Plain("name"), any_words=True))), any_words=True),
            "what the sheet's words mean, for all or for cups, patterns or vinyls alone",
            ('{ Gold = "brushed-gold" }', '{ vinyl = { Gold = "brushed-gold" } }')),
        Key("dates", Choice(tuple(DATES)), "how its days are written", ('"day-month-year"',), default="year-month-day"),
        Key("separator", Choice(tuple(SEPARATORS)), "what parts its columns", ('"comma"',), left_out="found out"),
        Key("plain_ids", Switch(), "ids may hold other characters, each run of which becomes a hyphen", ("true",), default=False),
        *(replace(key, default=None, left_out="its column") if key.is_needed else key for key in ORDER.keys if key.name != "id"),
    ),
)  # fmt: skip
