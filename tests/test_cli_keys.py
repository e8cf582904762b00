"""The commands `keys` and `schema`."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from stripegen.cli import main
from stripegen.jobkeys import TABLES
from stripegen.jobkeys.page import known_names, markdown


def told(*arguments: str) -> str:
    result = CliRunner().invoke(main, ["keys", *arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.stdout


def test_all_keys_are_told_with_their_examples():
    text = told()
    for table in TABLES:
        assert f"\n{table.heading}\n" in f"\n{text}"
        for key in table.keys:
            assert f"\n  {key.name}" in text
            assert not key.examples or f"\n      {key.name} = {key.example}" in text
    assert max(len(line) for line in text.splitlines() if " = " not in line) <= 100


def test_one_table_is_told():
    text = told("cutter")
    assert "[cutter]" in text and "longest_run" in text and "[vinyl.NAME]" not in text
    (too,) = [line for line in told("vinyl").splitlines() if line.startswith("vinyl is a key too: ")]
    assert {"line.vinyl", "order.vinyl", "offcut.vinyl"} <= {*too.partition(": ")[2].split(", ")}


def test_one_key_is_told_for_every_table_that_has_it():
    paths = {line.strip() for line in told("quantity").splitlines() if line[2:3].strip()}
    assert {"vinyl.quantity", "vinyl.sizes.quantity", "order.quantity", "offcut.quantity"} <= paths
    assert all(path.endswith(".quantity") for path in paths)
    assert told("line.gap") == told("gap")
    assert "left out: 3 mm" in told("overlap") and "left out: 0 mm" in told("overlap")


def test_keys_are_told_as_json():
    result = CliRunner().invoke(main, ["keys", "line.gap", "--json"])
    assert json.loads(result.stdout)["keys"] == [{
        "key": "line.gap", "kinds": [], "value": "length", "needed": False, "left_out": "2 mm",
        "meaning": "between them, edge to edge", "examples": ["2.5"],
    }]  # fmt: skip


@pytest.mark.parametrize(("slip", "meant"), [("lenght", "length"), ("clearence", "rim_clearance"), ("patern", "pattern")])
def test_a_slip_is_told_with_what_may_be_meant(slip, meant):
    result = CliRunner().invoke(main, ["keys", slip])
    assert result.exit_code == 1 and f'did you mean "{meant}"?' in result.output
    assert meant in known_names()


def test_the_page_as_markdown_has_a_row_for_each_key():
    text = told("--markdown")
    assert text == markdown()
    rows = [line for line in text.splitlines() if line.startswith("| `")]
    keys = [key for table in TABLES for key in table.keys if not key.form.says.startswith("tables of")]
    assert len(rows) == len(keys)
    assert all(row.count(" | ") == 4 for row in rows)
    result = CliRunner().invoke(main, ["keys", "cup", "--markdown"])
    assert result.exit_code == 2
