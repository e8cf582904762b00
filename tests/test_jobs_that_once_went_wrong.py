"""Jobs that once ended in a traceback, found by tests/bench/fuzz.py."""

import pytest
from fuzzing import laid, parsed

A_TIP_OF_NOTHING = """
[cup.a]
rim = { diameter = 63.8 }
base = { diameter = 63.8 }
height = 126.8
[vinyl.a]
colour = "#ABCDEF"
width = 367.8
corner_radius = 0.99
margin = "6.33 mm"
stretch = "0%"
[[pattern.a.line]]
name = "crew"
kind = "diagonal"
width = 2.0
vinyl = "a"
stripes = 2
gap = "0 2/16 in"
start = { around = -286.312, down = "45%" }
end = { around = { along = 51.7, at = 28.5 }, down = "63%" }
mirror = -93
[[pattern.a.line]]
name = "brass"
kind = "chevron"
width = 2.4
vinyl = "a"
clear_of = ["crew"]
top = "41%"
bottom = "64%"
points = 2
joint = 235
overlap = "0.119cm"
path = "same-slant"
repeat = { count = 4, step = 22.7 }
start = "back"
[[order]]
id = "R-31"
cup = "a"
pattern = "a"
vinyl = "a"
"""


@pytest.mark.parametrize("text", [A_TIP_OF_NOTHING], ids=["a chord of a tip touches its shape in nothing"])
def test_it_is_laid_out_or_refused(text):
    laid(parsed(text))
