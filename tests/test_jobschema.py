"""The JSON Schema refuses slips as the reader does, and nothing that the reader takes."""

from __future__ import annotations

import datetime
import json
import tomllib
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner
from example_jobs import SHEET, every_example
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft7Validator
from strategies import random_case
from toml_text import cup_table, job_text, pattern_table

from stripegen.cli import main
from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.jobkeys.schema import job_schema
from stripegen.presets import FOLDERS, find_preset, shipped_folder

ROOT = Path(__file__).parents[1]
VALIDATOR = Draft7Validator(job_schema())
PRESETS = [file for folder in FOLDERS.values() for file in sorted((shipped_folder() / folder).iterdir())]
EXAMPLES = [*every_example()]


def as_json(value: Any) -> Any:
    """TOML's values as editors hand them to a schema: dates as text."""
    if isinstance(value, dict):
        return {key: as_json(each) for key, each in value.items()}
    if isinstance(value, list):
        return [as_json(each) for each in value]
    return value.isoformat() if isinstance(value, (datetime.date, datetime.time)) else value


def is_taken(text: str) -> bool:
    """Whether the schema takes a file's text."""
    return VALIDATOR.is_valid(as_json(tomllib.loads(text)))


def is_read(text: str) -> bool:
    """Whether the reader takes it."""
    try:
        parse_job(text, "job.toml", find_preset, read_file=lambda name: SHEET)
    except JobError:
        return False
    return True


def test_it_is_a_sound_schema_and_what_the_command_prints():
    Draft7Validator.check_schema(job_schema())
    assert json.loads(CliRunner().invoke(main, ["schema"]).stdout) == job_schema()


@pytest.mark.parametrize("file", PRESETS, ids=lambda file: file.name)
def test_shipped_presets_are_taken(file):
    VALIDATOR.validate(as_json(tomllib.loads(file.read_text(encoding="utf-8"))))


def test_the_jobs_of_the_readme_are_taken():
    blocks = (ROOT / "README.md").read_text(encoding="utf-8").split("```toml\n")[1:]
    jobs = [text for text in (block.partition("```")[0] for block in blocks) if "[[order]]" in text]
    assert jobs and all(map(is_taken, jobs))


@pytest.mark.parametrize("example", EXAMPLES, ids=str)
def test_each_key_s_examples_are_taken(example):
    VALIDATOR.validate(as_json(tomllib.loads(example.job)))


def random_job(seed: int) -> dict[str, Any]:
    cup, pattern = random_case(seed)
    return {
        "cup": {"own": cup_table(cup)},
        "pattern": {"own": pattern_table(pattern)},
        "vinyl": {"v": {"colour": "#123456", "width": 300}},
        "order": [{"id": "A-1", "cup": "own", "pattern": "own"}],
    }


@given(st.integers(0, 10**9))
@settings(max_examples=40)
def test_what_the_reader_takes_is_taken(seed):
    text = job_text(random_job(seed))
    assert is_taken(text) or not is_read(text)


def test_most_of_those_jobs_are_read():
    assert sum(is_read(job_text(random_job(seed))) for seed in range(20)) >= 10


VALUES = (
    0, 1, 2, 12, -1, -3.5, 90, 400, 0.0, 5.5, 1e6, True, False, "4 mm", "3 1/8 in", "1/16in", " .5 cm ", "+2 mm", "-0 mm", "4",
    "20%", "-5 %", "120%", "front", "back", "edge", "level", "square", "upright", "even-drop", "#abc", "#A1B2C3", "none", "in",
    "cm", "art.PNG", "", "a b", ["front", "back"], ["edge"], [30, "40%"], [], {}, {"along": 20, "at": 4}, {"count": 3, "step": 20},
    {"count": 2, "between": ["front", "back"]}, {"diameter": 80}, {"circumference": "10 in"}, {"around": 10, "down": "5%"},
    {"sheet": 2}, {"roll": 3, "length": 900000}, {"rim": 2, "base": 4}, datetime.date(2027, 5, 14), {"width": 20, "length": 30},
    [{"width": 100, "length": 300}], [{"down": 4, "circumference": 260}, {"down": 99, "circumference": 220}],
    {"across": {"drawn": 200, "read": 201}}, [{"height": 0, "diameter": 50}, {"height": 90, "diameter": 70}],
    [{"from": 0, "to": 90, "colour": "#abcdef", "top": 0}], [{"around": "back", "width": 9, "from": 0, "to": 30}],
)  # fmt: skip


@cache
def example_jobs() -> tuple[dict[str, Any], ...]:
    return tuple(tomllib.loads(example.job) for example in EXAMPLES)


def spots(value: Any, path: tuple = ()) -> list[tuple]:
    """Where a job has values, those of tables within tables too."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [spot for key, each in inner for spot in ((*path, key), *spots(each, (*path, key)))]


def changed(value: Any, path: tuple, new: Any) -> Any:
    """A copy of a job with another value at one place, new or not; or without one, where that is `...`."""
    if not path:
        return new
    items = dict(value) if isinstance(value, dict) else dict(enumerate(value))
    items[path[0]] = changed(items.get(path[0]), path[1:], new)
    if items[path[0]] is ...:
        del items[path[0]]
    return items if isinstance(value, dict) else list(items.values())


@cache
def values_of_keys() -> dict[str, list[Any]]:
    """What the examples give each key, in whatever table."""
    found: dict[str, list[Any]] = {}
    for example in EXAMPLES:
        found.setdefault(example.key, []).append(tomllib.loads(f"x = {example.value}")["x"])
    return found


def changed_job(seed: int) -> str:
    """A job that another value, a value left out or a key that may belong elsewhere has made wrong, or not."""
    rng = Random(seed)
    job = rng.choice(example_jobs())
    for _ in range(rng.choice((1, 1, 2))):
        path = rng.choice(spots(job))
        if isinstance(path[-1], str) and rng.random() < 0.5:
            path = (*path[:-1], rng.choice(sorted(values_of_keys())))
        usual = values_of_keys().get(path[-1], VALUES)
        job = changed(job, path, rng.choice(usual if rng.random() < 0.6 else (..., *VALUES)))
    return job_text(job)


@given(st.integers(0, 10**9))
@settings(max_examples=200)
def test_what_the_reader_takes_after_a_change_is_taken(seed):
    text = changed_job(seed)
    assert is_taken(text) or not is_read(text), text


# ---- Slips

CUP = """[cup.own]
rim = { diameter = 86 }
base = { circumference = 198 }
height = 152
"""
VINYL = """[vinyl.own]
colour = "#b8923a"
width = 305
"""
LINE = """[[pattern.own.line]]
name = "edge"
kind = "vertical"
around = ["front", "back"]
width = 5
vinyl = "own"
"""
RING = """[[pattern.own.line]]
name = "band"
kind = "ring"
down = 40
width = 5
vinyl = "own"
"""
ORDER = """[[order]]
id = "A-1"
cup = "own"
pattern = "own"
quantity = 2
due = 2027-05-14
"""
CUTTER = "[cutter]\ncut_width = 290\n"
JOB = f'units = "mm"\n\n{CUP}\n{VINYL}\n{LINE}\n{RING}\n{ORDER}\n{CUTTER}'
SLIPS = {
    "a wrong key of a cup": ("height = 152", "hight = 152"),
    "a wrong key of a vinyl": ("width = 305", "width = 305\ncolor = 1"),
    "a wrong key of a line": ('around = ["front", "back"]', 'around = "front"\nthickness = 2'),
    "a wrong key of an order": ("quantity = 2", "count = 2"),
    "a wrong key of the cutter": ("cut_width", "cutwidth"),
    "a wrong table": ("[cutter]", "[plotter]"),
    "a key of another kind of line": ("down = 40", 'down = 40\npath = "straight"'),
    "a place of another kind of line": ("down = 40", "around = 40"),
    "an unknown kind": ('kind = "ring"', 'kind = "spiral"'),
    "a kind left out": ('kind = "ring"\n', ""),
    "quotes round degrees": ('around = ["front", "back"]', 'around = "45.5"'),
    "quotes round a bare length": ("width = 305", 'width = "305"'),
    "quotes round a whole number": ("quantity = 2", 'quantity = "2"'),
    "quotes round true": ("width = 305", 'width = 305\nweed = "true"'),
    "no quotes round a name": ('id = "A-1"', "id = 1"),
    "half a cup": ("quantity = 2", "quantity = 2.5"),
    "no cup": ("quantity = 2", "quantity = 0"),
    "a decimal comma": ("height = 152", 'height = "15,2 cm"'),
    "an unknown unit": ("height = 152", 'height = "152 pt"'),
    "units that are none": ('units = "mm"', 'units = "inch"'),
    "a length below 0": ("height = 152", "height = -152"),
    "no width": ("width = 305", "width = 0"),
    "a share where a length is meant": ("height = 152", 'height = "100%"'),
    "a colour by name": ("#b8923a", "gold"),
    "no height": ("height = 152\n", ""),
    "no base": ("base = { circumference = 198 }\n", ""),
    "two sizes of one end": ("{ diameter = 86 }", "{ diameter = 86, circumference = 270 }"),
    "a bare number for an end": ("{ diameter = 86 }", "86"),
    "girths beside rim and base": (
        "height", "girths = [ { down = 1, circumference = 268 }, { down = 99, circumference = 220 } ]\nheight"),
    "one girth": ("rim = { diameter = 86 }\nbase = { circumference = 198 }", "girths = [ { down = 1, circumference = 268 } ]"),
    "smooth without a profile": ("height = 152", "height = 152\nsmooth = true"),
    "a gap without stripes": ("down = 40", "down = 40\ngap = 2"),
    "a tuck without under": ("down = 40", "down = 40\ntuck = 2"),
    "ends of another kind": ("down = 40", 'down = 40\nends = "level"'),
    "half a part ring": ("down = 40", "down = 40\nstart = 0"),
    "a price of a sheet and of a roll": ("width = 305", "width = 305\nprice = { sheet = 2, roll = 20, length = 5000 }"),
    "single brackets": ("[[order]]", "[order]"),
    "single brackets round a line": (LINE, LINE.replace("[[", "[").replace("]]", "]")),
    "a cup without a name": ("[cup.own]", "[cup]"),
    "a cup's name with a space": ("[cup.own]", '[cup."my own"]'),
    "no order": (ORDER, ""),
    "a number of sheets of a roll": ("width = 305", "width = 305\nquantity = 3"),
    "a panel's picture of another kind": (
        "quantity = 2", 'quantity = 2\npanels = [ { from = 0, to = 90, image = "art.svg" } ]'),
}  # fmt: skip


def test_without_a_slip_it_is_taken_by_both():
    assert is_taken(JOB) and is_read(JOB)


@pytest.mark.parametrize("slip", SLIPS)
def test_slips_are_refused_by_both(slip):
    text = JOB.replace(RING, "") if "single brackets round a line" == slip else JOB
    right, wrong = SLIPS[slip]
    assert text.count(right) == 1
    assert not is_read(text.replace(right, wrong))
    assert not is_taken(text.replace(right, wrong))
