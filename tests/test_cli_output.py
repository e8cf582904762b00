"""How commands tell: one JSON document, nothing, plain text when piped, tables and colour in a terminal."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from stripegen.cli import main
from stripegen.cli_output import FORMAT, VERSION, fault_rows, is_terminal, safe_text
from stripegen.cli_terminal import bar, show
from stripegen.columns import Columns, plain_lines
from stripegen.errors import Fault, JobError, NestError, Where

ONE = ("--cup", "short-straight", "--pattern", "seam-stripes", "--vinyl", "matt-black")
STEERING = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
COLOUR = re.compile(r"\x1b\[[0-9;]*m")


def run(*args: object):
    return CliRunner().invoke(main, [str(arg) for arg in args], catch_exceptions=False)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr("click.get_app_dir", lambda name: str(tmp_path / "config"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def every_command(group=main, words=()):
    for name, command in group.commands.items():
        yield [*words, name], command
        if isinstance(command, click.Group):
            yield from every_command(command, [*words, name])


def test_every_command_may_be_quiet_or_tell_json():
    for words, command in every_command():
        names = [name for param in command.params for name in param.opts]
        assert names.count("--quiet") == names.count("--json") == 1, words


RUNS = {
    "new": ("new", "mug.toml", "--cup", "short-straight", "--yes"),
    "strips": ("strips", *ONE, "-o", "out"),
    "nest": ("nest", *ONE, "-o", "out", "--effort", "quick"),
    "recut": ("recut", "out", "one.1.stripe"),
    "stock book": ("stock", "book", "out/nest.json", "--yes"),
    "stock": ("stock",),
    "preview": ("preview", *ONE, "-o", "out"),
    "guide": ("guide", *ONE, "-o", "out"),
    "check": ("check", *ONE),
    "presets save": ("presets", "save", "sash", "--as", "mine"),
    "presets": ("presets",),
    "presets show": ("presets", "show", "mine"),
    "presets remove": ("presets", "remove", "mine"),
    "completion": ("completion", "zsh"),
    "keys": ("keys", "gap"),
    "schema": ("schema",),
}


def test_each_command_tells_one_json_document_and_nothing_else(folder):
    assert {" ".join(words) for words, _ in every_command()} == set(RUNS)
    (piece,) = re.findall(r'name\s*= "(\w+)"', run("presets", "show", "seam-stripes").stdout)
    for command, args in RUNS.items():
        args = [arg.replace("stripe", piece) if command == "recut" else arg for arg in args]
        result = run(*args, "--json")
        assert result.exit_code == 0, result.output
        assert result.stderr == ""
        told = json.loads(result.stdout)
        assert result.stdout.isascii()
        if command == "check":  # which has a document of its own
            assert (told["format"], told["passed"]) == ("stripegen-check", True)
            continue
        assert {key: told[key] for key in ("format", "version", "command", "status", "faults")} == {
            "format": FORMAT, "version": VERSION, "command": command, "status": 0, "faults": [],
        }  # fmt: skip
        if written := told["written"]:
            assert written["files"] and all((folder / written["folder"] / name).is_file() for name in written["files"])
        if command in ("strips", "nest", "recut"):
            manifest = json.loads((folder / "out" / f"{command}.json").read_text())
            assert sorted([*manifest["files"], f"{command}.json"]) == written["files"]
            assert told["figures"] == {"orders": 1, "cups": 1, "pieces": 2, "sheets": 1}
            assert [sheet["sheet"] for sheet in told["sheets"]] == [sheet["name"] for sheet in manifest["sheets"]]
            assert set(manifest["sheets"][0]["files"]) <= set(told["sheets"][0]["files"])
        if command == "nest":
            assert (told["costs"], told["leftovers"]) == (manifest["costs"], manifest["leftovers"])
    for command, args in RUNS.items():
        args = [arg.replace("stripe", piece) if command == "recut" else arg for arg in args]
        result = run(*args, *(["--replace"] if command == "new" else []), "--quiet")
        assert (result.exit_code, result.output) == (0, ""), command


def test_warnings_are_told_even_quietly_and_in_json(job_file):
    args = ("strips", job_file, "-o", "out", "--replace")
    plain, quiet, told = run(*args), run(*args, "-q"), run(*args, "--json")
    assert quiet.stdout == "" and quiet.stderr == plain.stderr
    warnings = json.loads(told.stdout)["warnings"]
    assert len(warnings) == 2 and told.stderr == ""
    assert {"code", "order", "line", "piece", "message"} <= set(warnings[0])
    assert all(f": {warning['message']}" in plain.stderr for warning in warnings)


def test_faults_in_json_have_the_same_status(job_file):
    job_file.write_text(job_file.read_text().replace("resin  = 0.8", "resin = -1").replace("quantity = 3", "quantity = 0"))
    plain, told = run("nest", job_file, "-o", "out"), run("nest", job_file, "-o", "out", "--json")
    assert plain.exit_code == told.exit_code == 1 and told.stderr == ""
    document = json.loads(told.stdout)
    assert document["status"] == 1 and document["written"] is None
    first, second = document["faults"]
    assert {key: first[key] for key in ("file", "table", "key", "read")} == {
        "file": "week.toml", "table": "[cup.crew]", "key": "resin", "read": "-1",
    }  # fmt: skip
    assert second["right"] == "must be a whole number from 1 to 100000"
    assert [first["message"], second["message"]] == plain.stderr.splitlines()
    # what has no table is told whole
    (row,) = fault_rows(NestError("no room"))
    nothing = dict.fromkeys(["file", "line", "column", "table", "key", "read", "right"])
    assert row == {**nothing, "message": "no room"}


@pytest.mark.parametrize("args", [("nest", "--json"), ("nest", "--frob", "--json"), ("frob", "--json"), ("preview", *ONE, "-o", "x", "--watch", "--json")])
def test_a_wrong_command_line_is_told_in_json_too(args):
    result = run(*args)
    document = json.loads(result.stdout)
    assert (result.exit_code, document["status"], result.stderr) == (2, 2, "")
    assert document["command"] == ("" if args[0] == "frob" else args[0])
    assert len(document["faults"]) == 1 and document["faults"][0]["message"]
    plain = run(*[arg for arg in args if arg != "--json"]) if "--watch" not in args else None
    assert plain is None or (plain.exit_code == 2 and "Usage:" in plain.stderr and plain.stdout == "")


def test_a_command_that_prints_by_itself_does_not_spoil_the_document():
    group = type(main)("group")
    group.add_command(click.Command("loud", callback=lambda: click.echo("loudly")))
    result = CliRunner().invoke(group, ["loud", "--json"], catch_exceptions=False)
    assert json.loads(result.stdout)["command"] == "loud" and result.stderr == "loudly\n"
    own = click.Command("own", params=[click.Option(["--json", "own"], is_flag=True)], callback=lambda own: click.echo(own))
    group.add_command(own)
    assert CliRunner().invoke(group, ["own", "--json"], catch_exceptions=False).stdout == "True\n"


STEERED = "we\x1b[31mek\r\x07\u202e.toml"


def test_nothing_that_is_read_steers_a_terminal(folder):
    result = run("strips", STEERED, "-o", "out")
    assert result.exit_code == 1
    assert result.stderr == "we\\x1b[31mek\\r\\x07\\u202e.toml: there is no such file\n"
    own = folder / "config" / "presets" / "cups"
    own.mkdir(parents=True)
    (own / "odd.toml").write_text("# [red]odd[/red] \x1b]0;title\x07 :smile:\n")
    assert "[red]odd[/red] \\x1b]0;title\\x07 :smile:" in run("presets").stdout


@given(st.text())
def test_what_is_printable_holds_no_control_characters(text):
    shown = safe_text(text)
    assert all(c.isprintable() or c in "\n\t" or c.isspace() for c in shown)
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\ud800-\udfff]", shown)
    assert safe_text(shown) == shown


class Tty(io.StringIO):
    """A terminal of so many columns, which keeps what it is sent."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch):
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("COLUMNS", "80")
    return monkeypatch


TABLE = Columns(
    title="How [bold]long[/bold]",
    head=("name", "a", "b", "c"),
    rows=(("[red]sash[/red] \x1b[31m", "1.5", "22", "333"), ("edge", "10.25", "2", "3")),
    spare=(3, 1),
)


def shown(*told, **how) -> str:
    stream = Tty()
    show(stream, told, **how)
    return stream.getvalue()


def test_a_terminal_shows_tables_and_takes_no_markup(terminal):
    text = shown("above", TABLE, "[blue]below[/blue]")
    assert COLOUR.search(text)
    lines = COLOUR.sub("", text).splitlines()
    assert lines[:3] == ["above", "", "How [bold]long[/bold]"]
    assert lines[3].split() == ["name", "a", "b", "c"] and set(lines[4].strip()) == {"─"}
    assert lines[5].split() == ["[red]sash[/red]", "\\x1b[31m", "1.5", "22", "333"]
    assert lines[-1] == "[blue]below[/blue]"


def test_a_warning_has_its_word_without_colour_too(terminal):
    coloured = shown("mind it", word="warning: ", colour="yellow")
    assert COLOUR.sub("", coloured) == "warning: mind it\n" != coloured
    assert coloured.endswith("\x1b[0mmind it\n")  # the word alone is coloured
    terminal.setenv("NO_COLOR", "0")  # whatever is in it
    assert shown("mind it", word="warning: ", colour="yellow") == "warning: mind it\n"
    assert "\x1b" not in shown(TABLE)
    terminal.setenv("NO_COLOR", "")
    assert shown("mind it", word="warning: ", colour="yellow") == coloured


@pytest.mark.parametrize(("width", "heads"), [(80, "name a b c"), (36, "name a b"), (31, "name b"), (12, "name b")])
def test_a_narrow_terminal_shows_fewer_columns_and_no_line_too_long(terminal, width, heads):
    terminal.setenv("COLUMNS", str(width))
    lines = COLOUR.sub("", shown(TABLE)).splitlines()
    assert all(len(line) <= width for line in lines)
    if width > 12:
        assert lines[-4].split() == heads.split() and lines[-1].split()[0] == "edge"


def test_what_is_indented_is_not_broken(terminal):
    command = "  stripegen guide " + "a/long/way/" * 9
    assert COLOUR.sub("", shown(command)) == f"{command}\n"
    assert max(map(len, COLOUR.sub("", shown("word " * 40)).splitlines())) <= 80


def test_a_file_s_text_is_told_as_it_is(terminal):
    line = "# [red]a comment[/red] " + "of many words " * 9
    assert shown(f"{line}\n\x07end", as_it_is=True) == f"{line}\n\\x07end\n"


def test_a_terminal_without_line_drawing_gets_plain_lines(terminal):
    stream = Tty()
    stream.encoding = "ascii"
    show(stream, [TABLE])
    assert stream.getvalue().isascii()


def test_the_bar_says_what_is_done_and_leaves_nothing(terminal):
    stream = Tty()
    with bar(stream, "Nesting [x]") as told:
        for share in (0.25, 0.5, 0.4, 2.0):
            told(share)
    text = stream.getvalue()
    assert "Nesting [x]" in COLOUR.sub("", text)
    assert text.endswith("\x1b[2K") and text.count("\x1b[?25l") == text.count("\x1b[?25h") == 1


def test_a_dumb_terminal_is_none(terminal):
    assert is_terminal(Tty()) and not is_terminal(io.StringIO())
    closed = io.StringIO()
    closed.close()
    assert not is_terminal(closed)
    for name in ("dumb", "unknown"):
        terminal.setenv("TERM", name)
        assert not is_terminal(Tty())


def test_plain_lines_have_an_empty_one_above_a_title():
    assert plain_lines([TABLE, "a\nb", TABLE])[4:8] == ["a", "b", "", "How [bold]long[/bold]"]


def test_a_fault_is_one_line():
    (row,) = fault_rows(JobError(Fault(Where("a\nb.toml", ""), "", "", "there is no such file")))
    assert row["message"] == "a\\nb.toml: there is no such file"


def test_what_is_piped_imports_nothing_for_terminals():
    code = (
        "import sys; from stripegen.cli import main\n"
        "try: main(['presets'])\n"
        "except SystemExit: pass\n"
        "assert 'stripegen.presets' in sys.modules and 'rich' not in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0 and "sash" in done.stdout, done.stderr


pty = pytest.importorskip("pty")


def on_a_terminal(*args: str, **environ: str) -> str:
    """What a command sends to a real terminal, stdout and stderr alike."""
    master, slave = pty.openpty()
    env = {**os.environ, "TERM": "xterm-256color", "COLUMNS": "80", **environ}
    process = subprocess.Popen([sys.executable, "-m", "stripegen", *args], stdin=slave, stdout=slave, stderr=slave, env=env)
    os.close(slave)
    parts = []
    try:
        while part := os.read(master, 65536):
            parts.append(part)
    except OSError:  # it has ended
        pass
    assert process.wait(60) == 0
    os.close(master)
    return b"".join(parts).decode().replace("\r\n", "\n")


def test_at_a_real_terminal_and_piped(tmp_path):
    args = ("nest", *ONE, "-o", str(tmp_path / "out"), "--effort", "quick", "--processes", "1")
    coloured = on_a_terminal(*args)
    assert "Nesting" in coloured and COLOUR.search(coloured) and "─" in coloured
    plain = STEERING.sub("", coloured)
    assert "Load the cutter in this order" in plain and "matt-black: the roll, 305 mm wide" in plain
    piped = run(*args).stdout
    assert "\x1b" not in piped and "Nesting" not in piped


def test_at_a_real_terminal_without_colour(tmp_path):
    environ = {"HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)}
    assert COLOUR.search(on_a_terminal("presets", **environ))
    assert "\x1b" not in on_a_terminal("presets", **environ, NO_COLOR="1")
    piped = CliRunner(env=environ).invoke(main, ["presets"]).stdout
    assert on_a_terminal("presets", **environ, TERM="dumb") == piped != ""
