"""A table taken out of a job: it holds what it held, keeps its comments, and reads alike elsewhere."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.errors import JobError
from stripegen.presetfile import preset_text, tables_in
from stripegen.presets import find_preset, list_presets

JOB = '''# A week of ours
units = "in"

# ---- Cups ----

# Measured on Monday
[cup.crew]          # the tall one
rim    = { diameter = 3.5 }   # with the tape
# a remark between
base   = { diameter = 2.75 }
height = 6
# right below the last key

# This leads to the vinyl
[vinyl.brass]
colour = "#b8923a"
width  = 12

[pattern.belts]

# The first belt
[[pattern.belts.line]]
name  = "upper"
kind  = "ring"
down  = 1
width = 0.25
vinyl = "brass"

# The second belt
[[pattern.belts.line]]
name  = "lower"
kind  = "ring"
up    = 1
width = 0.25
vinyl = "brass"

[[order]]
id = "A-1"
cup = "crew"
pattern = "belts"
'''


def test_a_table_keeps_its_comments_and_its_unit():
    made = preset_text(JOB, "week.toml", "cup", "crew", "crew")
    assert made == """# Measured on Monday

units = "in"

[cup.crew]          # the tall one
rim    = { diameter = 3.5 }   # with the tape
# a remark between
base   = { diameter = 2.75 }
height = 6
# right below the last key
"""


def test_a_pattern_is_taken_with_its_lines_and_renamed():
    made = preset_text(JOB, "week.toml", "pattern", "belts", "hoops", "Two  hoops\n")
    assert made.splitlines()[0] == "# Two hoops"
    assert tomllib.loads(made)["pattern"] == {"hoops": tomllib.loads(JOB)["pattern"]["belts"]}
    assert made.count("# The ") == 2 and "belts" not in made and "This leads" not in made


def test_without_a_comment_it_says_where_it_is_from():
    assert preset_text(JOB, "week.toml", "pattern", "belts", "belts").splitlines()[0] == "# From week.toml"
    assert preset_text(JOB, "week.toml", "vinyl", "brass", "tin").splitlines()[0] == "# This leads to the vinyl"


SHIPPED = [preset for preset in list_presets() if preset.kind != "job"]


@pytest.mark.parametrize("preset", SHIPPED, ids=lambda preset: preset.name)
def test_a_copy_of_a_shipped_preset_is_it(preset):
    text, file = find_preset(preset.kind, preset.name)
    made = preset_text(text, file, preset.kind, preset.name, "copy")
    values = tomllib.loads(text)
    assert tomllib.loads(made) == {"units": values.get("units", "mm"), preset.kind: {"copy": values[preset.kind][preset.name]}}
    assert made.splitlines()[0].lstrip("# ") == preset.about
    assert made.count("#") == text.count("#")
    once_more = preset_text(made, "copy.toml", preset.kind, "copy", "copy")
    assert once_more == made


def test_the_tables_of_the_demo_week():
    text, file = find_preset("job", "demo-week")
    for kind, name in tables_in(text, file):
        made = tomllib.loads(preset_text(text, file, kind, name, name))
        assert made == {"units": "mm", kind: {name: tomllib.loads(text)[kind][name]}}


CUP = "rim = { diameter = 80 }\nbase = { diameter = 70 }\nheight = 100\n"
WRITTEN = st.sampled_from(
    [
        f"[cup.a]\n{CUP}",
        f"[cup.b]\n{CUP}",
        f"[cup . \"a\"]\n{CUP}",
        f"  [cup.'a']  # x\n{CUP}",
        "[cup]\na = { rim = { diameter = 80 }, base = { diameter = 70 }, height = 100 }\n",
        "cup.a = { rim = { diameter = 80 }, base = { diameter = 70 }, height = 100 }\n",
        f"cup.a.height = 100\n[cup.a.rim]\ndiameter = 80\n[cup.b]\n{CUP}[cup.a.base]\ndiameter = 70\n",
        f"[cup.a]\n{CUP}keepout = [\n  {{ around = 1, width = 9, from = 10, to = 20 }},\n]\n# end\n",
        'title = """\n[cup.a]\n"""\n',
        "title = '''\n# no comment\n[cup.b]\n'''\n",
        f"[vinyl.a]\ncolour = '#123456'\nwidth = 300\n# to the next\n[cup.a]\n{CUP}",
        "# a remark\n\n",
        "[[order]]\nid = 'a'\n",
        "\r\n",
    ]
)


@given(st.lists(WRITTEN, max_size=5).map("".join), st.sampled_from(["a", "b"]), st.sampled_from(["a", "new"]))
def test_however_it_is_written_it_is_the_same_table_or_refused(text, name, new_name):
    try:
        made = preset_text(text, "week.toml", "cup", name, new_name)
    except JobError:
        return
    assert tomllib.loads(made) == {"units": "mm", "cup": {new_name: tomllib.loads(text)["cup"][name]}}


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("", "no such table"),
        ("[cup.crew", "TOML"),
        ('units = "ell"\n[cup.crew]\nheight = 1', "must be one of mm, cm, in"),
        (f"[cup.crew]\n{CUP}hight = 3", 'did you mean "height"?'),
        ("[cup]\ncrew = { rim = { diameter = 80 }, base = { diameter = 70 }, height = 100 }", "below a line [cup.crew]"),
    ],
)
def test_what_is_refused(text, right):
    with pytest.raises(JobError) as caught:
        preset_text(text, "week.toml", "cup", "crew", "crew")
    assert right in str(caught.value) and str(caught.value).startswith("week.toml")
    assert "\n" not in str(caught.value)


def test_a_name_that_is_none_is_refused():
    with pytest.raises(JobError, match="a preset's name must be"):
        preset_text(JOB, "week.toml", "cup", "crew", "../crew")
