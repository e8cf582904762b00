"""What the README says is so: its job file runs, its presets exist, its commands are the command line's."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from stripegen.cli import main
from stripegen.jobfile import parse_job
from stripegen.presets import find_preset
from stripegen.production import produce

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, re.DOTALL)
COMMANDS = [
    shlex.split(line.partition("  #")[0])
    for kind, text in BLOCKS
    if kind == "sh"
    for line in text.splitlines()
    if line.startswith("stripegen ")
]


def test_its_job_file_runs():
    (text,) = [text for kind, text in BLOCKS if kind == "toml"]
    made = produce(parse_job(text, "README.md", find_preset))
    assert {piece.line for piece in made.pieces} == {"edge", "sash"}
    assert len({piece.cup_no for piece in made.pieces}) == 4
    assert not made.notices


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_its_commands_run(command, tmp_path, monkeypatch, job_text):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "week31.toml").write_text(job_text)
    result = CliRunner().invoke(main, command[1:], catch_exceptions=False)
    assert result.exit_code == 0, result.output


def test_there_are_commands():
    assert {command[1] for command in COMMANDS} == {"strips", "nest", "check", "preview"}


def test_its_files_are_there():
    named = re.findall(r"\]\(([^)]+)\)|\b(presets/jobs/[\w-]+\.toml)", README)
    paths = [first or second for first, second in named]
    assert len(paths) >= 3
    for path in paths:
        assert (ROOT / path).is_file(), path


def test_the_test_command_is_marked_for_ci():
    assert re.search(r"<!-- tests -->\n```sh\n[^\n]*pytest[^\n]*\n```\n", README)
