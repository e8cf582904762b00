"""Every key of a job file is told as the readers read it: none left out, none made up, each with an example that is sound."""

from __future__ import annotations

import re

import pytest
from example_jobs import KINDS, SHEET, every_example, recorded

from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.jobkeys import CUP, LINE, PATTERN, TABLES, inner
from stripegen.jobkeys.forms import (
    Choice,
    Either,
    Form,
    Heading,
    Key,
    Length,
    Named,
    Pair,
    Plain,
    Rows,
    Several,
    Switch,
    Whole,
)
from stripegen.presets import find_preset
from stripegen.site import BASE_CLEARANCE_MM, RIM_CLEARANCE_MM

EXAMPLES = [*every_example()]
ONLY_WHERE_GIVEN = {  # read as needed, once a reader has seen that the table says it in this way
    ("cup", "fit"), *((f"cup.{within}", size) for within in ("rim", "base", "profile") for size in ("diameter", "circumference")),
    *((f"{table}.seams.NAME", place) for table in ("cup", "order", "orders") for place in ("around", "rim", "base")),
    ("orders", "cup"), ("orders", "pattern"), *(("orders.columns", key) for key in ("id", "cup", "pattern", "quantity", "due", "vinyl")),
    *(("vinyl.price", key) for key in ("sheet", "roll", "length")),
}  # fmt: skip
PARSED = {
    "parse_colour": "colour",
    "parse_degrees": "degrees",
    "_parse_title": "text",
    "_parse_stock": "text",
    "_parse_date": "date",
    "_parse_image": "image",
    "_parse_stretch": "share",
    "_parse_every_role": "name",
    "_parse_file": "csv",
    "_parse_column": "column",
}


@pytest.fixture(scope="module")
def read():
    with recorded() as found:
        for example in EXAMPLES:
            if example.key == "change":  # what is read then is the pattern, under the order's name
                continue
            parse_job(example.job, "example.toml", find_preset, read_file=lambda name: SHEET)
    return found


@pytest.mark.parametrize("example", EXAMPLES, ids=str)
def test_each_example_is_sound(example):
    parse_job(example.job, "example.toml", find_preset, read_file=lambda name: SHEET)


def told() -> dict[tuple[str, str | None], list[Key]]:
    """All tables that are told, those within others too, as the record names them."""
    found: dict[tuple[str, str | None], list[Key]] = {}

    def add(place: str, kind: str | None, keys) -> None:
        found.setdefault((place, kind), []).extend(keys)
        for key in keys:
            within = f"{place}.{key.name}" + (".NAME" if isinstance(key.form, Named) else "")
            if inner(key.form):
                add(within, kind, inner(key.form))

    for table in TABLES:
        for kind in KINDS if table is LINE else (None,):
            add(table.name, kind, [key for key in table.keys if not key.kinds or kind in key.kinds])
    return found


def test_no_key_is_read_that_is_not_told_and_none_told_that_no_reader_knows(read):
    keys_told = {place: {key.name for key in keys} for place, keys in told().items()}
    known = read.known | {("orders", None): read.known["orders", None] - {"id"}}  # read as an order, whose id is its row's
    assert known == keys_told
    for place, reads in read.reads.items():
        if place in keys_told:  # else its keys are names
            assert set(reads) - {"id"} <= keys_told[place], place


def test_each_key_is_read_as_it_is_told(read):
    checked = set()
    for place, keys in told().items():
        for key in keys:
            for how, default, more in read.reads.get(place, {}).get(key.name, ()):
                assert any(fits(form, how, more) for form in flat(key.form)), (place, key.name, how, more)
                checked.add((place, key.name))
                if how in ("child", "children"):
                    continue
                if default is ...:
                    assert key.is_needed or (place[0], key.name) in ONLY_WHERE_GIVEN, (place, key.name)
                else:
                    assert key.default == default, (place, key.name, default)
    unread = {(place[0], key.name) for place, keys in told().items() for key in keys} - {(place[0], key) for place, key in checked}
    unread = {each for each in unread if each[1] not in ("along", "at")}  # read as one place
    assert unread == {("job", name) for name in ("cup", "vinyl", "pattern", "order", "orders", "offcut", "cutter")} | {("pattern", "line")}


def flat(form: Form) -> list[Form]:
    return [each for held in form.forms for each in flat(held)] if isinstance(form, Either) else [form]


def fits(form: Form, how: str, more: dict) -> bool:
    """Whether what a reader asked for is of this form."""
    parse = getattr(more.get("parse"), "__name__", "")
    match how:
        case "length":
            return form == Length(more.get("above_mm") is not None, more.get("most_mm", Length().most_mm))
        case "integer":
            return form == Whole(more.get("most", Whole().most), more.get("least", Whole().least))
        case "number":
            return form == Plain("number")
        case "boolean":
            return form == Switch()
        case "choice":
            return form == Choice(tuple(more["choices"]))
        case "name":
            return form == Plain("name")
        case "place":
            return form == Plain("around" if more.get("seams", True) else "around, no seam")
        case "down":
            return form == Plain("down")
        case "several":
            return isinstance(form, Several)
        case "children":
            return isinstance(form, Rows)
        case "child":
            return bool(inner(form)) or isinstance(form, Named) or form == Plain("change")
        case "read":
            return form == Plain(PARSED[parse]) if parse in PARSED else isinstance(form, Pair) or form == Length(signed=True)
    raise AssertionError(how)


def test_each_key_has_a_meaning_in_one_line_and_an_example():
    for (place, _), keys in told().items():
        for key in keys:
            assert key.meaning and "\n" not in key.meaning and len(key.meaning) < 130, (place, key.name)
            assert key.examples or "." in place or isinstance(key.form, Heading), (place, key.name)


def test_each_key_of_a_table_within_another_stands_in_an_example():
    for table in TABLES:
        for key in table.keys:
            texts = " ".join(each if isinstance(each, str) else each[0] for each in key.examples)
            for own in inner(key.form):
                assert f"{own.name} =" in texts, (table.name, key.name, own.name)


@pytest.mark.parametrize("table", TABLES[1:], ids=lambda table: table.name)
def test_what_is_needed_can_not_be_left_out(table):
    for kind in KINDS if table is LINE else (None,):
        needed = [key for key in table.keys if key.is_needed and (not key.kinds or kind in key.kinds)]
        own = next(example for example in EXAMPLES if example.table == table.name and example.kind == kind)
        parse_job(own.job, "example.toml", find_preset, read_file=lambda name: SHEET)
        for key in needed if table.name != "pattern" else ():
            heading = table.heading.replace("NAME", "own")
            head, _, tail = own.job.partition(f"\n{heading}\n")
            left = re.sub(rf"(?m)^{key.name} = .*\n", "", tail, count=1)
            assert left != tail
            with pytest.raises(JobError, match=rf"(?m)\b{key.name}: (?:is missing|must have)"):
                parse_job(f"{head}\n{heading}\n{left}", "example.toml", find_preset, read_file=lambda name: SHEET)


def test_clearances_left_out_are_those_of_the_wall():
    for table in (CUP, PATTERN):
        own = {key.name: key for key in table.keys}
        assert own["rim_clearance"].left_out == f"{RIM_CLEARANCE_MM:g} mm"
        assert own["base_clearance"].left_out == f"{BASE_CLEARANCE_MM:g} mm"
