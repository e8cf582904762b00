"""Every shipped pattern on every shipped cup, through every command."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from stripegen.cli import main
from stripegen.presets import preset_names

CUPS, PATTERNS = preset_names("cup"), preset_names("pattern")
SOME = [(cup, PATTERNS[(n + 4 * k) % len(PATTERNS)]) for n, cup in enumerate(CUPS) for k in range(2)]


@pytest.fixture(scope="module")
def every_preset(tmp_path_factory):
    """A job of one order for each cup and pattern, all of one vinyl, from a roll that takes any ring."""
    return job_of([(cup, pattern) for cup in CUPS for pattern in PATTERNS], tmp_path_factory)


@pytest.fixture(scope="module")
def some(tmp_path_factory):
    """The same of each cup with two patterns in turn: what draws is slow."""
    return job_of(SOME, tmp_path_factory)


def job_of(pairs, tmp_path_factory):
    orders = [
        f'[[order]]\nid = "{cup}--{pattern}"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "roll"\n'
        for cup, pattern in pairs
    ]
    path = tmp_path_factory.mktemp("every") / "every.toml"
    path.write_text('[vinyl.roll]\ncolour = "#304050"\nwidth = 610\n' + "".join(orders))
    return path


def run(*args: object):
    result = CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result


def test_there_are_enough():
    assert len(CUPS) >= 10 and len(PATTERNS) >= 8 and len(preset_names("vinyl")) >= 6


def test_check(every_preset):
    assert f"{len(CUPS) * len(PATTERNS)} orders" in run("check", every_preset).output


@pytest.mark.parametrize("command", ["strips", "nest"])
def test_sheets(some, tmp_path, command):
    run(command, some, "-o", tmp_path, *(["--effort", "quick"] if command == "nest" else []))
    manifest = json.loads((tmp_path / f"{command}.json").read_text())
    assert {piece["order"] for piece in manifest["pieces"]} == {f"{cup}--{name}" for cup, name in SOME}
    assert sorted(piece["id"] for piece in manifest["pieces"]) == sorted(
        name for sheet in manifest["sheets"] for name in sheet["pieces"]
    )


def test_preview(some, tmp_path):
    run("preview", some, "-o", tmp_path)
    pictures = len(list(tmp_path.glob("*.png")))
    assert pictures == len(list(tmp_path.glob("*.svg"))) == 2 * len(SOME)
