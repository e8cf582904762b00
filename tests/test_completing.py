"""What a shell completes: through click's own classes, and in bash itself where there is one."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys

import pytest
from click.shell_completion import BashComplete
from click.testing import CliRunner

from stripegen.cli import main
from stripegen.cli_completion import LINES, PROGRAM, VARIABLE
from stripegen.presets import preset_names

COMPLETE = BashComplete(main, {}, PROGRAM, VARIABLE)
BASH = shutil.which("bash")


def completed(*words: str) -> list[str]:
    """What the last of these words may become; a mark for files."""
    *args, incomplete = words
    found = COMPLETE.get_completions(args, incomplete)
    return [item.value if item.type == "plain" else f"({item.type})" for item in found]


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch):
    monkeypatch.setattr("click.get_app_dir", lambda name: str(tmp_path / "config"))
    folder = tmp_path / "config" / "presets" / "cups"
    folder.mkdir(parents=True)
    (folder / "small-beaker.toml").write_text("[cup.small-beaker]\n")


def test_commands_and_options():
    assert completed("ne") == ["nest", "new"]
    assert {"--effort", "--only", "--quiet", "--json"} <= set(completed("nest", "--"))
    assert completed("nest", "--effort", "") == ["quick", "normal", "thorough"]
    assert completed("presets", "s") == ["save", "show"]
    assert completed("completion", "") == [*LINES]


@pytest.mark.parametrize("command", ["strips", "nest", "preview", "guide", "check", "new"])
def test_presets_the_own_ones_too(command):
    files = ["(file)"]
    assert completed(command, "--cup", "small-") == [*files, "small-beaker", "small-tumbler"]
    assert completed(command, "--pattern", "") == [*files, *preset_names("pattern")]
    assert completed(command, "--vinyl", "brushed-") == [*files, "brushed-gold", "brushed-silver"]
    assert completed(command, "--vinyl", "accent=brushed-") == ["accent=brushed-gold", "accent=brushed-silver"]


def test_presets_to_show_save_and_remove():
    assert completed("presets", "show", "sma") == ["small-beaker", "small-tumbler"]
    assert completed("presets", "show", "sas") == ["sash"]
    assert completed("presets", "save", "demo") == ["(file)", "demo-week"]
    assert completed("presets", "remove", "sma") == ["small-beaker"]


def test_tables_of_a_file(job_file):
    assert completed("presets", "save", str(job_file), "") == ["cup.crew", "pattern.regatta", "vinyl.brass", "vinyl.ink"]
    assert completed("presets", "save", str(job_file), "vinyl.b") == ["vinyl.brass"]


def test_orders_of_the_job_that_is_named(job_file):
    assert completed("nest", str(job_file), "--only", "") == ["R-31", "R-32"]
    assert completed("check", "-q", str(job_file), "--only", "R-31", "--only", "R-32") == ["R-32"]


@pytest.mark.parametrize("text", ["", "[[order]\n", "order = 3", "order = [1, {}]", "[[order]]\nid = '../x'", "\x00", None])
def test_where_nothing_can_be_read_nothing_is_completed(text, tmp_path):
    job = tmp_path / "odd.toml"
    if text is not None:
        job.write_text(text)
    assert completed("nest", str(job), "--only", "") == completed("presets", "save", str(job), "") == []
    assert completed("nest", "--only", "") == []
    (tmp_path / "nest.json").write_text(text or "{}")
    assert completed("recut", str(tmp_path), "") == []


def test_pieces_of_a_result_part_by_part(tmp_path):
    ids = ["R-1.1.edge.1", "R-1.1.edge.2", "R-1.2.edge.1", "R-10.1.sash.1"]
    (tmp_path / "strips.json").write_text(json.dumps({"pieces": [{"id": each} for each in ids]}))
    assert completed("recut", str(tmp_path), "") == ["R-1", "R-10"]
    assert completed("recut", str(tmp_path), "R-1.") == ["R-1.1", "R-1.2"]
    assert completed("recut", str(tmp_path), "R-10", "R-1.1.") == ["R-1.1.edge"]
    assert completed("recut", str(tmp_path), "R-1.1.edge.") == ids[:2]


@pytest.mark.parametrize("shell", LINES)
def test_the_script_is_printed(shell):
    script = CliRunner().invoke(main, ["completion", shell], catch_exceptions=False).stdout
    assert VARIABLE in script and PROGRAM in script
    assert LINES[shell][0] in CliRunner().invoke(main, ["completion", "--help"]).stdout


@pytest.mark.skipif(BASH is None, reason="there is no bash")
def test_in_bash_itself(job_file, tmp_path):
    program = tmp_path / "bin" / "stripegen"
    program.parent.mkdir()
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m stripegen "$@"\n')
    program.chmod(0o755)
    script = """
eval "$(stripegen completion bash)"
complete -p stripegen
ask() {
  COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMPREPLY=()
  _stripegen_completion stripegen 2>/dev/null
  echo "${COMPREPLY[@]}"
}
ask stripegen pre
ask stripegen nest --cup tall-t
ask stripegen nest week.toml --only R-
ask stripegen nest --vinyl accent = brushed-
ask stripegen nest --vinyl accent =
ask stripegen nest --pattern = sa
ask stripegen nest --cup slim-straight --vinyl accent = navy-blue --pattern sas
ask stripegen nest --vinyl accent = navy-blue ""
"""
    environ = {**os.environ, "PATH": f"{program.parent}{os.pathsep}{os.environ['PATH']}", "HOME": str(tmp_path)}
    done = subprocess.run([BASH, "-c", script], capture_output=True, text=True, cwd=tmp_path, env=environ, check=True)
    known, *answers = done.stdout.splitlines()
    assert known.startswith("complete ") and known.endswith(" stripegen")
    assert answers[:4] == ["presets preview", "tall-tapered", "R-31 R-32", "brushed-gold brushed-silver"], done.stderr
    assert answers[4:7] == [" ".join(preset_names("vinyl")), "sash", "sash"]
    assert "=" not in answers[7]
