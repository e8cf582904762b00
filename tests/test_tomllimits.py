"""Texts that no job is: refused before they are parsed, in one line with its place, in little memory; and no others."""

import tomllib
import tracemalloc

import pytest
from hypothesis import given, settings
from test_tomlplaces import documents

from stripegen.errors import JobError
from stripegen.jobfile import parse_job
from stripegen.tomllimits import DEEPEST, WORD_MOST, refusal


def told(text):
    with pytest.raises(JobError) as caught:
        parse_job(text, "week.toml", lambda kind, name: None)
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("a = 1\nb = " + "[" * 50_000, "2:25: is nested more than 20 deep"),
        ("a = " + "{a=" * 20_000, "1:65: is nested more than 20 deep"),
        ("a = " + "[{a=" * 20_000, "1:45: is nested more than 20 deep"),
        ("a." * 20_000 + "b = 1", "1:1: holds a key of more than 20 parts"),
        ("\n[" + '"a" . ' * 20_000 + "b]", "2:2: holds a key of more than 20 parts"),
        ("x = { y = 1, " + "a-b." * 20_000 + "b = 1 }", "1:14: holds a key of more than 20 parts"),
        ("[cup.c]\nwall = " + "9" * 50_000, "2:8: holds a name or a number of more than 1,000 characters"),
        ("a-b" * 20_000 + " = 1", "1:1: holds a name or a number of more than 1,000 characters"),
    ],
)
def test_absurd_texts_cost_little_and_are_told(text, right):
    tracemalloc.start()
    assert told(text) == f"week.toml:{right}"
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 40 * len(text) + 2_000_000


@pytest.mark.parametrize(
    "text",
    [
        'a = "' + "[" * 100_000 + '"',
        "a = '''\n" + "[\n" * 100_000 + "'''",
        'a = """' + '""\\"' * 100_000 + '"""""',
        "# " + "a." * 100_000 + "\na = 1",
        "a = [" + "[], " * 100_000 + "]",
        ".".join("a" * DEEPEST) + " = 1",
        "a = " + "[" * DEEPEST + "]" * DEEPEST,
        "a" * WORD_MOST + " = 1",
        'a = "' + "9" * 100_000 + '"',
    ],
)
def test_what_is_quoted_or_side_by_side_is_not_deep(text):
    tomllib.loads(text)
    assert refusal(text) is None


@settings(max_examples=20)
@given(documents())
def test_no_sound_document_is_refused(document):
    assert refusal(document[0].replace("\n", document[2])) is None


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("a = 1\nb =", (2, 4)),
        ("a = 'x", (1, 7)),
        ("x = é", (1, 5)),
        ("a = 1\r\nb = 2 c = 3", (2, 7)),
        ("a = 1\na = 2\n", (2, 6)),
        ("[a", (1, 3)),
    ],
)
def test_where_a_text_stops_being_toml(text, place):
    line = told(text)
    assert line.startswith("week.toml:" + ":".join(map(str, place)) + ": is not TOML: ") and "\n" not in line
