"""Vinyl tables: what each key means, its default, and every refusal."""

import tomllib

import pytest

from stripegen.errors import Where
from stripegen.tables import Table
from stripegen.vinylspec import read_vinyl

VINYL = 'colour = "#b8923a"\nwidth = 305\n'


def read(text, unit="mm"):
    table = Table(tomllib.loads(text), Where("week30.toml", "[vinyl.brass]"), [], unit)
    return read_vinyl("brass", table), table.faults


def vinyl_of(more):
    vinyl, faults = read(VINYL + more)
    assert faults == []
    return vinyl


def test_defaults():
    vinyl = vinyl_of("")
    assert (vinyl.colour, vinyl.width_mm, vinyl.length_mm) == ("#b8923a", 305, None)
    assert (vinyl.margin_mm, vinyl.piece_gap_mm, vinyl.grain, vinyl.flip) == (5, 1.5, "none", True)
    assert (vinyl.price_square_metre, vinyl.price_sheet, vinyl.stretch) == (None, None, 0.005)
    assert (vinyl.min_width_mm, vinyl.corner_radius_mm, vinyl.thickness_mm) == (1, 0, None)


def test_everything():
    vinyl = vinyl_of(
        'length = "1.5 cm"\nmargin = 0\npiece_gap = 0\ngrain = "cup"\nflip = false\n'
        'price = { sheet = 3.20 }\nstretch = "1%"\nmin_width = 0\ncorner_radius = 0.4'
    )
    assert (vinyl.length_mm, vinyl.margin_mm, vinyl.piece_gap_mm) == (15, 0, 0)
    assert (vinyl.grain, vinyl.flip, vinyl.price_sheet, vinyl.price_square_metre) == ("cup", False, 3.2, None)
    assert (vinyl.stretch, vinyl.min_width_mm, vinyl.corner_radius_mm) == (0.01, 0, 0.4)
    assert (vinyl_of('stretch = "0%"').stretch, vinyl_of('stretch = "100%"').stretch) == (0, 1)
    assert vinyl_of("price = 14").price_square_metre == 14
    roll = vinyl_of('price = { roll = 24.0, length = "2500 cm" }')
    assert (roll.price_roll, roll.roll_length_mm, roll.length_mm) == (24, 25_000, None)
    assert (roll.price_sheet, roll.price_square_metre) == (None, None)
    assert vinyl_of("flip = false").flip is False
    assert vinyl_of("shared_cuts = true").shared_cuts is True and vinyl_of("").shared_cuts is False
    assert vinyl_of("thickness = 0.08").thickness_mm == 0.08


@pytest.mark.parametrize(
    ("text", "right"),
    [
        (VINYL.replace('colour = "#b8923a"', ""), "colour: is missing: such as"),
        (VINYL.replace("width = 305", ""), "width: is missing"),
        (VINYL.replace("#b8923a", "brass"), 'colour: read "brass"; must be a colour'),
        (VINYL.replace("305", "0"), "width: read 0; must be a length above 0"),
        (VINYL.replace("305", "10"), "width: read 10; must be more than its two margins of 5 mm"),
        (VINYL + "margin = 160", "width: read 305; must be more than its two margins of 160 mm"),
        (VINYL + "length = 10", "length: read 10; must be more than its two margins of 5 mm"),
        (VINYL + "margin = -1", "margin: read -1; must be a length of 0 or more"),
        (VINYL + "piece_gap = -1", "piece_gap: read -1; must be a length of 0 or more"),
        (VINYL + 'grain = "across"', 'grain: read "across"; must be one of "none", "cup", "strip"'),
        (VINYL + 'flip = "no"', 'flip: read "no"; must be true or false'),
        (VINYL + 'shared_cuts = "no"', 'shared_cuts: read "no"; must be true or false, without quotes'),
        (VINYL + "shared_cuts = 1", "shared_cuts: read 1; must be true or false"),
        (VINYL + "share_cuts = true", 'share_cuts: is not a key of this table; did you mean "shared_cuts"?'),
        (VINYL + "price = -1", "price: read -1; must be a number from 0"),
        (VINYL + 'price = "14"', 'price: read "14"; must be a number from 0'),
        (VINYL + "length = 500\nprice = {}", "price.sheet: is missing"),
        (VINYL + "length = 500\nprice = { sheet = nan }", "price.sheet: read nan; must be a number from 0"),
        (VINYL + "price = { sheet = 3, roll = 3, length = 900 }", "price.sheet: read 3; must be the price of a sheet or of"),
        (VINYL + "length = 500\nprice = { sheet = 3, length = 900 }", "price.length: read 900; belongs to the price of a roll"),
        (VINYL + "price = { roll = 24 }", "price.length: is missing: how much a roll at this price holds"),
        (VINYL + "price = { roll = 24, length = 0 }", "price.length: read 0; must be a length above 0"),
        (VINYL + "price = { roll = 24, length = '1001 m' }", 'price.length: read "1001 m"; must have the unit "mm"'),
        (VINYL + "price = { roll = 24, length = 1000001 }", "price.length: read 1000001; no length may be above 1000 m"),
        (VINYL + "price = { roll = -1, length = 900 }", "price.roll: read -1; must be a number from 0"),
        (VINYL + "length = 500\nprice = { roll = 24, length = 900 }", "price: read { roll = 24, length = 900 }; a sheet is no roll"),
        (VINYL + "price = { sheet = 3 }", "price: read { sheet = 3 }; a roll has no sheets"),
        (VINYL + "stretch = 1", 'stretch: read 1; must be a share in quotes, such as "1%"'),
        (VINYL + 'stretch = "1"', 'stretch: read "1"; must be a share in quotes'),
        (VINYL + 'stretch = "-1%"', 'stretch: read "-1%"; must be from "0%" to "100%"'),
        (VINYL + 'stretch = "101%"', 'stretch: read "101%"; must be from "0%" to "100%"'),
        (VINYL + "min_width = -1", "min_width: read -1; must be a length of 0 or more"),
        (VINYL + "corner_radius = '5%'", 'corner_radius: read "5%"; a share of the wall has no meaning'),
        (VINYL + "thickness = 0", "thickness: read 0; must be a length above 0"),
        (
            VINYL + "thickness = 2",
            "thickness: read 2; no film is so thick: must be below 2 mm; check its unit",
        ),
        (VINYL + "thicknes = 1", 'thicknes: is not a key of this table; did you mean "thickness"?'),
        (VINYL + "color = '#fff'", 'color: is not a key of this table; did you mean "colour"?'),
    ],
)
def test_refusals(text, right):
    vinyl, faults = read(text)
    assert vinyl is None
    assert "week30.toml: [vinyl.brass] " + right in "\n".join(str(fault) for fault in faults)
