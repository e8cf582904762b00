"""Faults as they are told: with the place of the key, in the file that it stands in, many at once."""

import pickle

import pytest

from stripegen.errors import FAULTS_TOLD, JobError, Notice
from stripegen.jobfile import Source, one_order_job, parse_job
from stripegen.production import MOST_PIECES, produce

PRESET = '# a film\n[vinyl.teal]\ncolour = "teal"\nwidth = 300\n'
JOB = """\
units = "mm"
title = 3
[cup.tall]
rim = { diameter = -86 }
base = { diameter = 62 }
hieght = 150
keepout = [ { around = 0, width = 3, from = 1, to = 9 },
            { around = "bakc", width = 3, from = "1 mn", to = 9 } ]
[cup.short]
profile = [ { height = 0, diameter = 60 },
            { height = 40, diametre = 78 } ]
[cup.mid]
rim = { diameter = 86 }
base = { diameter = 62 }
height = 100
seams.left = 90
[[pattern.bands.line]]
name = "edge"
kind = "vertical"
around = ["front", "lft"]
width = 5
vinyl = "accent"
[[pattern.bands.line]]
name = "sash"
kind = "rign"
[[pattern.hoops.line]]
name = "edge"
kind = "vertical"
around = ["front", "lft"]
width = 5
under = "egde"
vinyl = "accent"
[[pattern.hoops.line]]
name = "edges"
kind = "ring"
down = 30
width = 5
vinyl = "accent"
[[pattern.plain.line]]
name = "edge"
kind = "vertical"
around = ["lft"]
width = 5
vinyl = "accent"
[cutter]
scale = { across = { drawn = 200, read = 1 } }
[[offcut]]
vinyl = "teel"
width = 30
length = 30
[[order]]
id = "A"
cup = "mid"
pattern = "plain"
vinyl = { acent = "teal" }
[[order]]
id = "B"
cup = "mdi"
pattern = "plain"
quantity = 0
[[order]]
id = "C"
cup = "mid"
pattern = "plian"
vinyl.accent = "teel"
"""
TOLD = {  # a part of what is told -> the place, and the text that stands there
    "title: read 3": "2:1 title",
    "[cup.tall] rim.diameter: read -86": "4:9 diameter",
    "[cup.tall] height: is missing": "3:1 [cup.tall]",
    'hieght: is not a key of this table; did you mean "height"?': "6:1 hieght",
    'keepout number 2, around: read "bakc"; must be a seam of this cup': '8:15 around',
    'keepout number 2, from: read "1 mn"; must have the unit "mm", "cm" or "in"; did you mean "1 mm"?': "8:43 from",
    "profile number 2: read { height = 40, diametre = 78 }": "11:13 {",
    'profile number 2, diametre: is not a key of this table; did you mean "diameter"?': "11:28 diametre",
    'kind: read "rign"; must be one of "vertical", "ring", "diagonal", "chevron"; did you mean "ring"?': "25:1 kind",
    'under: read "egde"; must name lines of this pattern; did you mean "edges"?': "31:1 under",
    'around: read "lft"; must be a seam of the cup "mid", which has front, back, left; did you mean "left"?': "42:1 around",
    "[cutter] scale.across.read: read 1": "46:35 read",
    'vinyl: read "teel"; there is no such vinyl in the job nor among the presets; did you mean "teal"?': "48:1 vinyl",
    'did you mean it by "acent"?': "55:1 vinyl",
    '[[order]] "B" quantity: read 0': "60:1 quantity",
    'cup: read "mdi"; there is no such cup in the job nor among the presets; did you mean "mid"?': "58:1 cup",
    'pattern: read "plian"; there is no such pattern in the job nor among the presets; did you mean "plain"?': "64:1 pattern",
    'vinyl.accent: read "teel"; there is no such vinyl': "65:7 accent",
}


def find(kind, name):
    return (PRESET, "teal.toml") if (kind, name) == ("vinyl", "teal") else None


def faults_of(text, **more):
    with pytest.raises(JobError) as caught:
        parse_job(text, "week.toml", find, lambda kind: ["teal"] if kind == "vinyl" else [])
    return caught.value


def test_independent_faults_are_all_told_at_once_each_where_it_stands():
    error = faults_of(JOB)
    lines = str(error).splitlines()
    assert len(lines) == len(error.faults)
    for told, place in TOLD.items():
        line = next((line for line in lines if told in line), None)
        assert line, (told, lines)
        at, word = place.split(" ", 1)
        assert line.startswith(f"week.toml:{at}: "), line
        row, column = map(int, at.split(":"))
        assert JOB.split("\n")[row - 1][column - 1 :].startswith(word)
    assert 'teal.toml:3:1: [vinyl.teal] colour: read "teal"; must be a colour such as "#b8923a"' in lines


def test_a_file_named_on_the_command_line_has_places_and_the_command_line_none():
    cup = Source('units = "in"\n[cup.mug]\nrim = { diameter = "x" }\n', "mug.toml")
    with pytest.raises(JobError) as caught:
        one_order_job(cup=cup, pattern="plain", vinyl="teel", find_preset=find)
    lines = str(caught.value).splitlines()
    assert any(line.startswith("mug.toml:3:9: [cup.mug] rim.diameter: ") for line in lines)
    assert any(line.startswith('command line --pattern: read "plain"') for line in lines)


def test_of_many_faults_the_first_are_told():
    error = faults_of("".join(f"k{number} = 1\n" for number in range(5_000)))
    lines = str(error).splitlines()
    assert len(lines) == FAULTS_TOLD + 1 and lines[-1] == "there are more faults: mend these first"


SOUND = (
    "[cup.c]\nrim = { diameter = 86 }\nbase = { diameter = 62 }\nheight = 150\n[vinyl.v]\n"
    'colour = "#111"\nwidth = 305\n[[pattern.p.line]]\nname = "l"\nkind = "vertical"\nLINE\nwidth = 0.01\nvinyl = "v"\n'
    '[[order]]\nid = "A"\ncup = "c"\npattern = "p"\n[[order]]\nid = "B"\ncup = "c"\npattern = "p"\nquantity = NUMBER\n'
)


def job_of(line, number):
    return parse_job(SOUND.replace("LINE", line).replace("NUMBER", str(number)), "week.toml", find)


@pytest.mark.parametrize(
    ("line", "number", "right"),
    [
        ("repeat = 10", 10_000, ('22:1: [[order]] "B" quantity: read 10000; ', "asks for 100,010 strips, 100,000 of")),
        ("around = 0", 100_000, ('22:1: [[order]] "B" quantity: read 100000; ', "asks for 100,001 strips")),
        ("repeat = 1000\nstripes = 1000", 1, ('18:1: [[order]] "A" pattern: read "p"; ', "asks for 2,000,000 strips")),
    ],
)
def test_a_job_of_absurd_size_is_refused_before_anything_is_laid_out(line, number, right, monkeypatch):
    monkeypatch.setattr("stripegen.production.decorate", None)  # would fail if it were called
    with pytest.raises(JobError) as caught:
        produce(job_of(line, number))
    (line,) = str(caught.value).splitlines()
    assert line.startswith("week.toml:" + right[0]) and right[1] in line and f"{MOST_PIECES:,} pieces" in line


def test_notices_tell_the_place_of_the_line_or_order_that_they_are_about():
    text = SOUND.replace("LINE", "around = 0").replace("NUMBER", '1\nvinyl = { rloe = "v", v = "v" }')
    made = produce(parse_job(text.replace("width = 0.01", "width = 2"), "week.toml", find))
    (notice,) = [each for each in made.notices if each.code == "unused-role"]
    assert notice.place == ("week.toml", 18, 1)
    assert str(notice) == f"week.toml:18:1: B: {notice.message}"
    assert str(Notice(code="x", message="so", order="A")) == "A: so" and Notice(code="x", message="so").place is None


def test_faults_and_their_places_survive_a_way_to_another_process():
    error = faults_of(JOB)
    assert str(pickle.loads(pickle.dumps(error))) == str(error)
