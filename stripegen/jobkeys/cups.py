"""The keys of cup tables."""

from __future__ import annotations

from stripegen.jobkeys.forms import NEEDED, Either, Inline, Key, Length, Named, Plain, Rows, Switch, TableKeys

_DIAMETER = Key("diameter", Length(above_zero=True), "width across")
_ROUND = Key("circumference", Length(above_zero=True), "girth: once round, as a tape reads it")
_END = Inline((_DIAMETER, _ROUND), (("diameter",), ("circumference",)))

_AROUND = Plain("around, no seam")
_SEAM = Inline(
    (
        Key("around", _AROUND, "where it is, if it runs straight down"),
        Key("rim", _AROUND, "where it meets the rim, if it leans"),
        Key("base", _AROUND, "where it meets the base, if it leans"),
        Key("along", Length(signed=True), "where it is, along the girth from the zero mark"),
        Key("at", Length(), "how far down that girth lies"),
        Key("opening", Length(), "how far the panels gape there", default=0.0),
    ),
    (("around",), ("rim", "base"), ("along", "at")),
)

SEAMS = Key(
    "seams",
    Named("name", Either((_AROUND, _SEAM))),
    "where the panels meet; each name may then stand for a place round the cup",
    (
        "{ front = 0, back = { rim = 176.5, base = 178, opening = 2 } }",
        "{ side = { around = 90 } }",
        "{ side = { along = 132.5, at = 12 } }",
    ),
    left_out="front 0, back 180",
)

PANELS = Key(
    "panels",
    Rows(
        Inline(
            (
                Key("from", Plain("around"), "its left side", default=NEEDED),
                Key("to", Plain("around"), "its right side", default=NEEDED),
                Key("top", Length(), "its upper edge, down from the rim", left_out="the rim"),
                Key("bottom", Length(above_zero=True), "its lower edge", left_out="the base"),
                Key("colour", Plain("colour"), "of the panel; a panel has this or an image, or both"),
                Key("image", Plain("image"), "the picture, by its place beside the job file"),
            )
        )
    ),
    "what is printed on the wall, for the pictures alone",
    (
        '[ { from = "front", to = "back", image = "harbour.png" } ]',
        '[ { from = "back", to = "front", colour = "#b5c7a3", top = 12, bottom = 140 } ]',
    ),
)


def clearance(end: str, default_mm: int, other: str) -> Key:
    """The key of a clearance, which may stand on a cup and on a pattern."""
    return Key(
        f"{end}_clearance",
        Length(),
        f"what stays bare at the {end}; of this and the {other}'s the larger holds",
        (f"{default_mm + 3}",),
        left_out=f"{default_mm} mm",
    )


CUP = TableKeys(
    "cup",
    "[cup.NAME]",
    "A cup, measured bare. Its wall is given in one of three ways: rim and base; two girths or more; or a profile.",
    (
        Key("rim", _END, "the bare cup's width or girth at the rim", ("{ diameter = 86 }", "{ circumference = 270.2 }")),
        Key("base", _END, "the same at the base", ("{ circumference = 198 }", "{ diameter = 63 }")),
        Key(
            "girths",
            Rows(Inline((
                Key("down", Length(), "how far down the tape lay", default=NEEDED),
                Key("circumference", Length(above_zero=True), "what it read", default=NEEDED),
            )), least=2),
            "girths of a straight wall where a tape can lie, in place of rim and base",
            ("[ { down = 14, circumference = 268 }, { down = 140, circumference = 203 } ]",),
            instead_of=("rim", "base"),
        ),
        Key(
            "profile",
            Rows(
                Inline(
                    (Key("height", Length(signed=True), "of the point, upright", default=NEEDED), _DIAMETER, _ROUND),
                    (("diameter",), ("circumference",)),
                ),
                least=2,
            ),
            "points of a wall that is not straight, from rim to base or from base to rim, in place of all others",
            ("[ { height = 0, diameter = 62 }, { height = 45, circumference = 261 }, { height = 110, diameter = 78 } ]",),
            instead_of=("rim", "base", "girths", "height"),
        ),
        Key("smooth", Switch(), "one smooth curve through the profile's points, not straight between them", ("true",),
            default=False, needs=("profile",)),
        Key("height", Length(above_zero=True), "rim to base, upright; this or wall is needed beside rim and base, or girths",
            ("152",)),
        Key("wall", Length(above_zero=True), "rim to base, the tape laid along the outside", ("152.4",)),
        Key(
            "fit",
            Either((
                Length(above_zero=True),
                Inline((
                    Key("down", Length(), "where the ring lay", default=NEEDED),
                    Key("circumference", Length(above_zero=True), "what it read", default=NEEDED),
                )),
            )),
            "the girth that the fit ring read on the coated cup",
            ("231.5", "{ down = 76, circumference = 231.5 }"),
        ),
        Key("resin", Length(), "thickness of what is on the wall already when the strips go on", ("0.8",), default=0.0),
        Key("seal", Length(), "thickness of the resin to come over the last strips", ("1.2",), left_out="not checked"),
        clearance("rim", 12, "pattern"),
        clearance("base", 6, "pattern"),
        Key(
            "keepout",
            Rows(Inline((
                Key("around", Plain("around"), "its middle", default=NEEDED),
                Key("width", Length(above_zero=True), "how wide it is", default=NEEDED),
                Key("from", Length(), "its upper end, down from the rim", default=NEEDED),
                Key("to", Length(above_zero=True), "its lower end", default=NEEDED),
            ))),
            "parts of the wall that no piece enters, such as a handle's root",
            ("[ { around = 270, width = 36, from = 20, to = 95 } ]",),
        ),
        SEAMS,
        PANELS,
        Key("colour", Plain("colour"), "of the cup, in pictures", ('"#e8e4da"',), left_out="off-white"),
    ),
    one_way=(("profile",), ("girths", "height"), ("girths", "wall"), ("rim", "base", "height"), ("rim", "base", "wall")),
)  # fmt: skip
