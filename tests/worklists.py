"""A job that has all that a work list tells apart, and jobs of shipped presets."""

from __future__ import annotations

from functools import cache

from stripegen.jobfile import parse_job
from stripegen.presets import find_preset, preset_names
from stripegen.production import Production, produce
from stripegen.worklist import WorkList, work_list

HARD = """
title = "<script>alert(1)</script> & friends"

[cup.coated]
rim    = { diameter = 86 }
base   = { diameter = 64 }
height = 152
resin  = 0.6
seal   = 1.0
seams  = { front = 0, back = { rim = 176, base = 181 } }

[cup.bowed]
profile = [ { height = 0, diameter = 60 }, { height = 40, diameter = 78 }, { height = 150, diameter = 84 } ]
smooth  = true

[vinyl.short]
colour = "#b8923a"
width  = 150
length = 150

[vinyl.roll]
colour = "#20242c"
width  = 610

[pattern.layered]
[[pattern.layered.line]]
name   = "top"
kind   = "vertical"
around = [20, 200]
width  = 4
resin  = 1.4
vinyl  = "second"
[[pattern.layered.line]]
name   = "cover"
kind   = "vertical"
around = [90, 270]
width  = 8
vinyl  = "accent"
[[pattern.layered.line]]
name   = "hoop"
kind   = "ring"
down   = ["20%", "70%"]
width  = 3
under  = ["cover"]
vinyl  = "second"
[[pattern.layered.line]]
name   = "belt"
kind   = "ring"
down   = "45%"
width  = 3
resin  = 2.0
vinyl  = "accent"
[[pattern.layered.line]]
name   = "slash"
kind   = "diagonal"
start  = { around = 20, down = "10%" }
end    = { around = 120, down = "90%" }
width  = 2
resin  = 1.4
under  = ["top"]
vinyl  = "accent"

[pattern.grouped]
[[pattern.grouped.line]]
name     = "rails"
kind     = "vertical"
repeat   = 6
width    = 2
stripes  = 2
gap      = 1.5
together = true
vinyl    = "accent"
[[pattern.grouped.line]]
name    = "band"
kind    = "ring"
down    = "50%"
width   = 40
slit    = true
overlap = 2
vinyl   = "second"

[pattern.whole]
together = true
[[pattern.whole.line]]
name   = "post"
kind   = "vertical"
around = [30, 60]
width  = 4
vinyl  = "accent"
[[pattern.whole.line]]
name  = "brace"
kind  = "diagonal"
start = { around = 20, down = "20%" }
end   = { around = 70, down = "80%" }
width = 3
vinyl = "accent"
[[pattern.whole.line]]
name  = "patch"
kind  = "vertical"
around = 45
width = 3
vinyl = "second"
under = ["brace"]
tuck = 1

[[order]]
id = "L-1"
cup = "coated"
pattern = "layered"
quantity = 3
vinyl = { accent = "short", second = "roll" }
due = 2027-07-30

[[order]]
id = "G-1"
cup = "bowed"
pattern = "grouped"
quantity = 20
vinyl = "roll"

[[order]]
id = "W-1"
cup = "coated"
pattern = "whole"
quantity = 12
vinyl = { accent = "short", second = "roll" }
"""


def hard_job() -> Production:
    return produce(parse_job(HARD, "hard.toml", find_preset))


def preset_job(cups: list[str] | None = None) -> Production:
    """An order of every shipped pattern on some shipped cups, or of each cup with one in turn, of one vinyl from a wide roll."""
    patterns = preset_names("pattern")
    pairs = [(cup, pattern) for cup in cups or () for pattern in patterns]
    pairs = pairs or [(cup, patterns[number % len(patterns)]) for number, cup in enumerate(preset_names("cup"))]
    orders = [
        f'[[order]]\nid = "{cup}--{pattern}"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "roll"\nquantity = 2\n'
        for cup, pattern in pairs
    ]
    text = '[vinyl.roll]\ncolour = "#304050"\nwidth = 610\n' + "".join(orders)
    return produce(parse_job(text, "presets.toml", find_preset))


def sheet_names(production: Production) -> dict[str, str]:
    """A sheet for each piece's id, so that one order's cups lie on several."""
    return {piece.id: f"sheet-{piece.vinyl}-{1 + piece.cup_no // 2}" for piece in production.pieces}


MADE = {
    "hard": hard_job,
    "presets": preset_job,
    "some presets": lambda: preset_job(["mid-straight", "shouldered", "tall-tapered"]),
}


@cache
def made(name: str) -> tuple[Production, WorkList]:
    """A job's pieces and its work list, made once."""
    production = MADE[name]()
    return production, work_list(production, sheet_names(production))
