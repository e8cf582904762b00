"""Real kills, real Ctrl-C and odd things in the way, some of each; `tests/bench/survival.py` does them all.

What `outdir` does at every step is tried in test_outdir.py.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import JOB
from surviving import (
    FEWER,
    NEW,
    OLD,
    STRANGERS,
    THIRD,
    forked,
    furnish,
    killed_at,
    lost,
    not_completed,
    tree,
    write,
)

from stripegen.cli import main
from stripegen.errors import STOPPED, WriteError

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that copy themselves")
WORK = ".stripegen-nest"


def test_killed_at_some_steps_nothing_is_lost(tmp_path):
    after = FEWER
    for step in (*range(0, 30, 4), *range(30, 60, 2)):
        folder = tmp_path / str(step)
        furnish(folder, OLD)
        if not killed_at(folder, step, lambda folder=folder: write(folder, after)):
            break
        assert lost(folder, OLD, after) == []
        assert not_completed(folder, after) == []
    assert step > 36


def odd(path: Path, kind: str, away: Path) -> None:
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to({"link": away / "theirs", "folder link": away, "new": away / "new", "device": "/dev/zero"}[kind])


@pytest.mark.parametrize("kind", ["pipe", "folder", "link", "folder link", "new", "device"])
@pytest.mark.parametrize("name", ["sheet-brass-1.svg", "nest.json", f"{WORK}/.lock", f"{WORK}/names.json", f"{WORK}/.kept", f"{WORK}/nest.csv"])
def test_nothing_is_read_or_written_through_what_stands_in_place_of_a_file_of_ours(tmp_path, name, kind):
    away, folder = tmp_path / "away", tmp_path / "out"
    away.mkdir()
    for each in ("theirs", *OLD):
        (away / each).write_bytes(b"theirs")
    was_away = tree(away)
    furnish(folder, OLD)
    if name.startswith(WORK):
        (folder / WORK).mkdir()
    (folder / name).unlink(missing_ok=True)
    odd(folder / name, kind, away)
    was = tree(folder)

    def act():
        signal.alarm(20)
        write(folder, NEW)

    status = forked(act)
    assert status in (0, 1)
    assert tree(away) == was_away
    if status:
        assert tree(folder) == was
    else:
        assert {**STRANGERS, **NEW}.items() <= tree(folder).items()


def test_a_file_that_can_not_be_replaced_leaves_the_folder_as_it_was(tmp_path, monkeypatch):
    """Nor can it be put back, but it was never gone."""
    furnish(tmp_path / "out", OLD)
    replace = os.replace

    def refuse(source, target):
        if target == tmp_path / "out" / "sheet-brass-1.svg":
            raise PermissionError(1, "Operation not permitted")
        replace(source, target)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(WriteError, match="Operation not permitted; .* is as it was"):
        write(tmp_path / "out", NEW)
    assert tree(tmp_path / "out") == {**STRANGERS, **OLD}


def test_a_result_cut_off_in_the_middle_is_not_taken_for_a_whole_one(tmp_path):
    job = tmp_path / "week.toml"
    job.write_text(JOB)
    folder = tmp_path / "out"
    furnish(folder, OLD)
    step = 20
    while (folder / "sheet-brass-3.svg").exists() is False:
        step += 1
        assert killed_at(folder, step, lambda: write(folder, NEW))
    told = CliRunner().invoke(main, ["recut", str(folder), "R-31", "-o", str(tmp_path / "again")])
    assert told.exit_code == 1 and "cut off here" in told.stderr and told.stderr.count("\n") == 1
    told = CliRunner().invoke(main, ["strips", str(job), "-o", str(folder)])
    assert told.exit_code == 0  # another command's result
    told = CliRunner().invoke(main, ["guide", str(job), "--only", "R-32", "-o", str(folder)])
    assert told.exit_code == 0 and "nest again" in told.stderr
    write(folder, THIRD)
    assert THIRD.items() <= tree(folder).items() and not (folder / WORK).exists()


WEEK = JOB.replace("quantity = 3", "quantity = 30").replace('id = "R-32"', 'id = "R-32"\nquantity = 30')


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL], ids=["Ctrl-C", "killed"])
def test_a_run_that_is_stopped_leaves_no_process_behind(tmp_path, number):
    """While two vinyls are nested by processes of their own."""
    (tmp_path / "week.toml").write_text(WEEK)
    run = subprocess.Popen(
        [sys.executable, "-m", "stripegen", "nest", "week.toml", "-o", "out", "--effort", "thorough", "--processes", "2"],
        cwd=tmp_path,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])},
        start_new_session=True,
    )
    while len(running_in(run.pid)) < 4:  # itself, what starts others, what tidies up after them, and one that nests
        assert run.poll() is None
        time.sleep(0.05)
    os.killpg(run.pid, number) if number == signal.SIGINT else run.send_signal(number)
    told = run.communicate()[1]
    while running_in(run.pid):
        time.sleep(0.05)
    if number == signal.SIGINT:
        assert (run.returncode, told) == (1, f"{STOPPED}\n")
    assert not (tmp_path / "out").exists()


def running_in(session: int) -> list[int]:
    """The processes of a session that are not dead."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            state, _, _, of_session = path.read_text().rpartition(")")[2].split()[:4]
            if int(of_session) == session and state != "Z":
                found.append(int(path.parent.name))
    return found
