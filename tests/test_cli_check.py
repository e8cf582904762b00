"""`check` as a user or a script runs it: what it prints, its JSON, and its exit status."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner
from test_preflight import EDGE, HOOP, MANY, SASH, job

from stripegen.cli import main
from stripegen.codes import CODES

SOUND = job(EDGE)
WARNED = job(EDGE, SASH + 'under = ["edge"]\ntuck = 0.9\n')
FAULTY = job(EDGE, HOOP.replace("down = 50", "down = 150"))
TEXT = MANY.replace("width = 6", "width = -6").replace('cup = "can"', 'cup = "cna"')


def check(path, text: str, *options: str):
    path = path / "job.toml"
    path.write_text(text)
    return CliRunner().invoke(main, ["check", str(path), *options], catch_exceptions=False)


@pytest.mark.parametrize(
    ("text", "status", "strict"), [(SOUND, 0, 0), (WARNED, 0, 1), (FAULTY, 1, 1), (TEXT, 1, 1)], ids=["sound", "warned", "faulty", "text"]
)
def test_exit_status(tmp_path, text, status, strict):
    plain = check(tmp_path, text)
    assert plain.exit_code == status
    told = check(tmp_path, text, "--strict")
    assert told.exit_code == strict and told.output == plain.output
    rows = json.loads(check(tmp_path, text, "--strict", "--json").stdout)
    assert rows["passed"] == (not strict)


@pytest.mark.parametrize("text", [SOUND, WARNED, MANY, TEXT], ids=["sound", "warned", "many", "text"])
def test_json_agrees_with_the_text(tmp_path, text):
    plain = check(tmp_path, text)
    result = check(tmp_path, text, "--json")
    assert result.exit_code == plain.exit_code and not result.stderr
    rows = json.loads(result.stdout)
    assert (rows["format"], rows["version"], rows["job"]) == ("stripegen-check", 1, "job.toml")
    lines = text.splitlines()
    for found in rows["findings"]:
        assert CODES[found["code"]].severity == found["severity"]
        place = f"{found['file']}:{found['line']}:{found['column']}: {found['table']}"
        key = f" {found['key']}" if found["key"] else ""
        assert f"  {found['severity']} {found['code']}: {place}{key}: {found['message']}" in plain.stdout
        assert found["remedy"] in plain.stdout
        if key and found["key"] in lines[found["line"] - 1]:
            assert lines[found["line"] - 1][found["column"] - 1 :].startswith(found["key"])
        assert all(set(figure) == {"name", "value", "unit"} for figure in found["figures"])
    counts = rows["counts"]
    severities = [found["severity"] for found in rows["findings"]]
    assert (severities.count("fault"), severities.count("warning")) == (counts["faults"], counts["warnings"])
    told = re.findall(r"^  (fault|warning) ", plain.stdout, re.MULTILINE)
    assert sorted(told) == sorted(severities)
    last = plain.stdout.strip().splitlines()[-1]
    assert f"{counts['warnings']} warning" in last
    assert (f"{counts['faults']} fault" if counts["faults"] else "nothing wrong") in last
    assert len(rows["sureness"]) == len(re.findall(r"^  measure ", plain.stdout, re.MULTILINE))


def test_findings_stand_under_their_orders_faults_first(tmp_path):
    lines = check(tmp_path, MANY).stdout.splitlines()
    heads = [line for line in lines if re.match(r"(in|order|vinyl) ", line)]
    assert heads == [
        "order A: low, tall",
        "order C: can, p",
        "order D: can, pinned",
        "order E: can, tall",
        "vinyl scarce",
    ]
    assert sum("(and so B)" in line for line in lines) == 2


def test_all_faults_of_the_text_are_told_before_anything_is_laid_out(tmp_path):
    result = check(tmp_path, TEXT)
    assert result.stdout.startswith("in job.toml\n")
    told = [line for line in result.stdout.splitlines() if line.startswith("  fault job-text: ")]
    assert len(told) == 1 + TEXT.count('"cna"') and all(re.match(r"  fault job-text: job.toml:\d+:\d+: ", line) for line in told)
    assert "once the text is sound" in result.stdout


def test_a_picture_that_is_not_there_hides_nothing_else(tmp_path):
    text = WARNED.replace("height = 120", 'height = 120\npanels = [ { from = "front", to = "back", image = "none.png" } ]')
    rows = json.loads(check(tmp_path, text, "--json").stdout)
    assert [(found["code"], found["order"]) for found in rows["findings"]] == [("picture", None), ("small-tuck", "A")]


def test_a_job_that_is_not_there_is_told_as_json_too(tmp_path):
    result = CliRunner().invoke(main, ["check", str(tmp_path / "none.toml"), "--json"])
    (found,) = json.loads(result.stdout)["findings"]
    assert result.exit_code == 1 and found["line"] is None and "no such file" in found["message"]
