"""The keys of orders, and those that stand at the head of a job file."""

from __future__ import annotations

from dataclasses import replace

from stripegen.jobfile import QUANTITY_MOST
from stripegen.jobkeys.cups import PANELS, SEAMS
from stripegen.jobkeys.forms import NEEDED, Choice, Either, Heading, Key, Named, Plain, TableKeys, Whole
from stripegen.units import UNITS

JOB = TableKeys(
    "job",
    "",
    "What stands at the head of the file, before any table.",
    (
        Key("units", Choice(UNITS), "of bare lengths in this file", ('"in"',), default="mm"),
        Key("title", Plain("text"), "of the job, told on its pages and lists", ('"Harbour cups"',), default=""),
        Key("cup", Heading("cup"), "cups, by name"),
        Key("vinyl", Heading("vinyl"), "vinyls, by name"),
        Key("pattern", Heading("pattern"), "patterns, by name"),
        Key("order", Heading("order"), "what is to be made; a job has at least one"),
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
    ),
)  # fmt: skip
