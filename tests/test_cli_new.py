"""`new` as a user runs it: at a real terminal, from an empty folder to a job that `check` passes; and in scripts."""

from __future__ import annotations

import os
import re
import select
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner

from stripegen import cli_new
from stripegen.cli import main
from stripegen.errors import STOPPED

pty = pytest.importorskip("pty")  # a system without pseudo-terminals has other ones

PATIENCE_S = 30
# Makes the pseudo-terminal the one whose Ctrl-C is heard, then becomes the command that follows.
OWN_TERMINAL = """
import fcntl, os, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
os.execv(sys.argv[1], sys.argv[1:])
"""


MEASURES = ["--girth", "14:268", "--girth", "140:203", "--wall", "153"]


def run(*args: object):
    return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)


class Terminal:
    """A command on a pseudo-terminal, answered as soon as it asks."""

    def __init__(self, folder, *args: str):
        self.master, slave = pty.openpty()
        command = [sys.executable, "-c", OWN_TERMINAL, sys.executable, "-m", "stripegen", *args]
        environ = {**os.environ, "TERM": "dumb", "HOME": str(folder / "home")}
        self.process = subprocess.Popen(
            command, stdin=slave, stdout=slave, stderr=slave, cwd=folder, env=environ, start_new_session=True
        )
        os.close(slave)
        self.text = ""
        self.answered = 0  # how much was shown before the last answer

    def asked(self, question: str) -> str:
        """Wait until this is asked; what was shown since the last answer."""
        until = time.monotonic() + PATIENCE_S
        while not re.search(re.escape(question) + r"[^\n]*: $", self.text[self.answered :]):
            assert time.monotonic() < until and self._read(), self.text
        return self.text[self.answered :]

    def types(self, text: str) -> None:
        self.answered = len(self.text)
        os.write(self.master, text.encode())

    def breaks_off(self, key: str) -> None:
        """Press a key until it is heard: one pressed between a prompt and its reading waits for the next."""
        ended, until = False, time.monotonic() + PATIENCE_S
        while STOPPED not in self.text and not ended:
            assert time.monotonic() < until, self.text
            self.types(key)
            while select.select([self.master], [], [], 3)[0] and not ended:
                ended = not self._read()

    def ended(self) -> int:
        while self._read():
            pass
        status = self.process.wait(PATIENCE_S)
        os.close(self.master)
        return status

    def _read(self) -> bool:
        if not select.select([self.master], [], [], PATIENCE_S)[0]:
            return False
        try:
            data = os.read(self.master, 65536)
        except OSError:  # Linux: the other side is closed
            return False
        self.text += data.decode().replace("\r\n", "\n")
        return bool(data)


def answer(terminal: Terminal, *pairs: tuple[str, str]) -> None:
    for question, text in pairs:
        terminal.asked(question)
        terminal.types(f"{text}\n")


def test_from_an_empty_folder_to_a_job_that_checks(tmp_path):
    terminal = Terminal(tmp_path, "new", "week.toml")
    answer(
        terminal,
        ("What does your tape read", "in"),
        ("Which cup", ""),
        ("How far down from the rim is the upper girth", "1/2"),
        ("round the cup there", "268"),
    )
    assert "did you mean 268 mm?" in terminal.asked("round the cup there")
    terminal.types("268 mm\n")
    answer(
        terminal,
        ("How far down from the rim is the lower girth", "1/4"),
        ("How far down from the rim is the lower girth", "5 1/2"),
        ("round the cup there", "8"),
        ("How long is the wall", "6"),
        ("How thick is the resin", "1/32"),
        ("stays bare at the rim", ""),
        ("stays bare at the base", ""),
        ("Which pattern", "no such"),
        ("Which pattern", "ringed-seams"),
        ("Which vinyl", "matt-black"),
        ("Which vinyl", ""),
        ("The order's id", "Q 1"),
        ("The order's id", "Q-1"),
        ("How many cups", "3"),
    )
    assert terminal.ended() == 0, terminal.text
    assert "a  down to the upper girth" in terminal.text
    assert "stripegen check week.toml" in terminal.text and "Traceback" not in terminal.text
    assert [path.name for path in tmp_path.iterdir() if path.name != "home"] == ["week.toml"]
    checked = subprocess.run(
        [sys.executable, "-m", "stripegen", "check", "week.toml"], cwd=tmp_path, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert checked.returncode == 0, checked.stderr
    assert "1 order, 3 cups" in checked.stdout
    text = (tmp_path / "week.toml").read_text()
    assert 'girths = [ { down = "1/2 in", circumference = "268 mm" }, { down = "5 1/2 in", circumference = 8 } ]' in text


@pytest.mark.parametrize("key", ["\x03", "\x04"], ids=["ctrl-c", "end-of-input"])
def test_breaking_off_writes_nothing(key, tmp_path):
    terminal = Terminal(tmp_path, "new", "week.toml", "--cup", "tall-tapered")
    answer(terminal, ("What does your tape read", "mm"))
    terminal.asked("Which pattern")
    terminal.breaks_off(key)
    assert terminal.ended() == 1
    assert STOPPED in terminal.text and "Traceback" not in terminal.text
    assert [path.name for path in tmp_path.iterdir()] == []


def test_yes_asks_nothing_at_a_terminal(tmp_path):
    terminal = Terminal(tmp_path, "new", "week.toml", "--cup", "tall-tapered", "--yes")
    assert terminal.ended() == 0, terminal.text
    assert (tmp_path / "week.toml").is_file()


def test_a_script_says_everything(tmp_path):
    job = tmp_path / "week.toml"
    said = ["--pattern", "sash", "--vinyl", "accent=navy-blue", "--vinyl", "second=matt-black", "--id", "Q-1"]
    result = run("new", job, *MEASURES, "--resin", "0.8", *said, "--quantity", 4, "--rim-clearance", "15")
    assert result.exit_code == 0, result.output
    checked = run("check", job)
    assert checked.exit_code == 0, checked.output
    assert "4 cups" in checked.output
    assert "rim_clearance  = 15 " in job.read_text() and "resin  = 0.8 " in job.read_text()


def test_what_a_script_does_not_say_is_told_and_nothing_written(tmp_path):
    result = run("new", tmp_path / "week.toml", "--girth", "14:268", "--wall", "8", "--vinyl", "matt-balck")
    assert result.exit_code == 1
    lines = result.stderr.splitlines()
    assert [line.partition(": ")[0].removeprefix("command line ") for line in lines] == [
        "--girth", "--wall", "--pattern", "--id",
    ]  # fmt: skip
    assert "twice" in lines[0] and "did you mean 8 cm or 8 in?" in lines[1]
    assert not result.stdout and not list(tmp_path.iterdir())


def test_measures_and_a_preset_do_not_mix(tmp_path):
    result = run("new", tmp_path / "week.toml", *MEASURES, "--cup", "tall-tapered", "--yes")
    assert result.exit_code == 2 and "not both" in result.output


def test_a_job_that_check_would_refuse_is_not_written(tmp_path):
    # So many pieces are over the limit of a job, which shows only when they are made.
    result = run("new", tmp_path / "week.toml", *MEASURES, "--quantity", 90_000, "--yes")
    assert result.exit_code == 1 and "the job may have 100,000" in result.stderr
    assert not list(tmp_path.iterdir())


def test_a_file_in_the_way_is_kept_unless_it_may_be_replaced(tmp_path):
    job = tmp_path / "week.toml"
    job.write_text("mine")
    refused = run("new", job, *MEASURES, "--yes")
    assert refused.exit_code == 1 and "--replace" in refused.stderr
    assert job.read_text() == "mine"
    replaced = run("new", job, *MEASURES, "--yes", "--replace")
    assert replaced.exit_code == 0, replaced.output
    assert "[cup.own]" in job.read_text()
    assert list(tmp_path.iterdir()) == [job]


def test_a_folder_that_is_not_there_is_told_first(tmp_path):
    result = run("new", tmp_path / "no" / "week.toml")
    assert result.exit_code == 1 and "there is no folder" in result.stderr


def test_what_a_link_leads_to_is_replaced(tmp_path):
    job, link = tmp_path / "week.toml", tmp_path / "link.toml"
    job.write_text("mine")
    link.symlink_to(job)
    assert run("new", link, "--cup", "tall-tapered", "--yes", "--replace").exit_code == 0
    assert link.is_symlink() and "tall-tapered" in job.read_text()


@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_a_write_that_fails_leaves_what_was_there(step, error, tmp_path, monkeypatch):
    job = tmp_path / "week.toml"
    job.write_text("mine")

    def fail(*_):
        raise error

    monkeypatch.setattr(cli_new.os, step, fail)
    result = run("new", job, *MEASURES, "--yes", "--replace")
    monkeypatch.undo()
    assert result.exit_code == 1
    assert "No space left" in result.stderr if isinstance(error, OSError) else STOPPED in result.stderr
    assert job.read_text() == "mine" and list(tmp_path.iterdir()) == [job]


def test_the_help_needs_nothing_heavy():
    probe = (
        "import sys; from stripegen.cli import main\n"
        "try: main(['new', '--help'])\n"
        "except SystemExit: pass\n"
        "assert not {'shapely', 'numpy', 'tomllib'} & set(sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "--girth" in done.stdout
