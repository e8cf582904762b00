"""Every shipped pattern on every shipped cup, through every command."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from stripegen.cli import main
from stripegen.presets import preset_names

CUPS, PATTERNS = preset_names("cup"), preset_names("pattern")


@pytest.fixture(scope="module")
def every_preset(tmp_path_factory):
    """A job of one order for each cup and pattern, all of one vinyl, from a roll that takes any ring."""
    orders = [
        f'[[order]]\nid = "{cup}--{pattern}"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "roll"\n'
        for cup in CUPS
        for pattern in PATTERNS
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
def test_sheets(every_preset, tmp_path, command):
    run(command, every_preset, "-o", tmp_path, *(["--effort", "quick"] if command == "nest" else []))
    manifest = json.loads((tmp_path / f"{command}.json").read_text())
    assert {piece["order"] for piece in manifest["pieces"]} == {f"{cup}--{name}" for cup in CUPS for name in PATTERNS}
    assert sorted(piece["id"] for piece in manifest["pieces"]) == sorted(
        name for sheet in manifest["sheets"] for name in sheet["pieces"]
    )


def test_preview(every_preset, tmp_path):
    run("preview", every_preset, "-o", tmp_path)
    pictures = len(list(tmp_path.glob("*.png")))
    assert pictures == len(list(tmp_path.glob("*.svg"))) == 2 * len(CUPS) * len(PATTERNS)
