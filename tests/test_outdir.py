"""Results in folders: cut off at every step, failing at every step, beside others' files and other runs.

A kill is played by an audit hook that stops every act on the disk from one step on, so that the disk is left
as a kill would leave it; a few real kills of real processes check that the play is true.
"""

import errno
import hashlib
import json
import os
import random
import shutil
import subprocess
import sys
import textwrap
import types

import pytest

from stripegen import holding
from stripegen.errors import WriteError
from stripegen.outdir import is_plain, sha256_of, write_result

ACTS = {"open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.link", "shutil.copyfile"}


class Killed(BaseException):
    """Nothing of ours may catch this."""


class Saboteur:
    """Counts acts on the disk below a folder, and stops them as told."""

    def __init__(self):
        self.below = None
        self.count = 0
        self.stop = None

    def act(self, event, path, fd=None):
        if self.below is None or not str(path).startswith(self.below):
            return
        step, self.count = self.count, self.count + 1
        if self.stop is not None:
            self.stop(step, event, fd)

    def hook(self, event, args):
        if self.below is not None and event in ACTS and isinstance(args[0], str | os.PathLike):
            writing = event != "open" or args[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            if writing:
                self.act(event, os.fspath(args[0]))


SABOTEUR = Saboteur()
sys.addaudithook(SABOTEUR.hook)


@pytest.fixture(autouse=True)
def no_waiting_for_the_disk(monkeypatch):
    monkeypatch.setattr(os, "fsync", lambda fd: None)


def sabotage(folder, act, stop=None):
    """Run an act with the saboteur at work in a folder; returns how many steps there were."""

    idle, os.fsync = os.fsync, lambda fd: SABOTEUR.act("fsync", folder, fd)
    SABOTEUR.below, SABOTEUR.count, SABOTEUR.stop = str(folder), 0, stop
    try:
        act()
    finally:
        SABOTEUR.below = None
        os.fsync = idle
    return SABOTEUR.count


def kill_at(last):
    def stop(step, event, fd):
        if step >= last:
            if step == last and event == "fsync":  # half of what was written has reached the disk
                size = os.fstat(fd).st_size
                try:
                    os.ftruncate(fd, size // 2)
                except OSError:  # a folder
                    pass
            raise Killed

    return stop


def fail_at(steps, events=None):
    def stop(step, event, fd):
        if step in steps and (events is None or event in events):
            raise OSError(errno.ENOSPC, "No space left on device")

    return stop


def result(texts, job="week31.toml", selection=None, command="nest", version=1):
    """A small result: names and texts, and its manifest."""
    files = {name: text.encode() for name, text in texts.items()}
    manifest = {
        "format": "stripegen-manifest",
        "version": version,
        "command": command,
        "job": job,
        "selection": selection,
        "files": sha256_of(files),
    }
    files[f"{command}.json"] = json.dumps(manifest).encode()
    return files


def write(folder, files, *, job="week31.toml", selection=None, replace=False, command="nest"):
    write_result(folder, command, files, f"{command}.json", job=job, selection=selection, replace=replace)


def tree(folder):
    """Every file below a folder with its bytes, and every folder."""
    found = {}
    for path in sorted(folder.rglob("*")):
        found[path.relative_to(folder).as_posix()] = path.read_bytes() if path.is_file() else None
    return found


def visible(folder):
    return {name: data for name, data in tree(folder).items() if not name.startswith(".stripegen-")}


def fits(folder, command="nest"):
    """Whether a manifest stands, and every file it names is the one it vouches for."""
    try:
        manifest = json.loads((folder / f"{command}.json").read_bytes())
        return all(
            hashlib.sha256((folder / name).read_bytes()).hexdigest() == sha
            for name, sha in manifest["files"].items()
        )
    except FileNotFoundError:
        return False


OLD = result({"sheet-1.svg": "old 1", "sheet-2.svg": "old 2", "nest.csv": "old"})
NEW = result({"sheet-1.svg": "new 1", "nest.csv": "new", "sheet-3.svg": "new 3"})
THIRD = result({"sheet-1.svg": "third 1", "sheet-4.svg": "third 4"})
STRANGERS = {"notes.txt": b"mine", "sheet-9.svg": b"mine too"}


def furnish(folder, *results):
    folder.mkdir()
    for name, data in STRANGERS.items():
        (folder / name).write_bytes(data)
    for files in results:
        write(folder, files)


def test_a_result_is_all_there_and_nothing_else_is(tmp_path):
    folder = tmp_path / "a" / "b"
    write(folder, OLD)
    assert tree(folder) == dict(sorted(OLD.items()))
    write(str(folder), NEW)
    assert tree(folder) == dict(sorted(NEW.items()))
    assert fits(folder)


def test_results_of_two_commands_share_a_folder(tmp_path):
    strips = result({"strips-1.svg": "s"}, command="strips")
    furnish(tmp_path / "out", OLD)
    write(tmp_path / "out", strips, command="strips")
    write(tmp_path / "out", NEW)
    assert tree(tmp_path / "out") == {**STRANGERS, **strips, **NEW}


def steps_of(tmp_path, before, act):
    furnish(tmp_path / "count", *before)
    steps = sabotage(tmp_path / "count", lambda: act(tmp_path / "count"))
    assert steps > 20
    return steps


@pytest.mark.parametrize("before", [(), (OLD,)], ids=["fresh", "over an old result"])
@pytest.mark.parametrize("after", [NEW, THIRD, OLD], ids=["new", "third", "old"])
def test_killed_at_every_step_the_next_run_completes(tmp_path, before, after):
    steps = steps_of(tmp_path, before, lambda folder: write(folder, NEW))
    seen = set()
    for step in range(steps):
        folder = tmp_path / f"kill-{step}"
        furnish(folder, *before)
        with pytest.raises(Killed):
            sabotage(folder, lambda folder=folder: write(folder, NEW), kill_at(step))
        left = visible(folder)
        assert STRANGERS.items() <= left.items()
        assert left.get("nest.json") in (NEW["nest.json"], OLD["nest.json"] if before else None)
        if fits(folder):
            manifest = left["nest.json"]
            whole = NEW if manifest == NEW["nest.json"] else OLD
            assert whole.items() <= left.items()
            seen.add("new" if whole is NEW else "old")
        else:
            seen.add("half")
        write(folder, after)
        assert tree(folder) == {**STRANGERS, **after}
        assert fits(folder)
    assert seen == ({"half", "new", "old"} if before else {"half", "new"})


def test_killed_twice_the_third_run_completes(tmp_path):
    steps = steps_of(tmp_path, (OLD,), lambda folder: write(folder, NEW))
    draw = random.Random(31)
    for trial in range(40):
        folder = tmp_path / f"twice-{trial}"
        furnish(folder, OLD)
        for files in (NEW, THIRD):
            stop = kill_at(draw.randrange(steps))
            with pytest.raises(Killed):
                sabotage(folder, lambda folder=folder, files=files: write(folder, files), stop)
        assert STRANGERS.items() <= tree(folder).items()
        write(folder, OLD)
        assert tree(folder) == {**STRANGERS, **OLD}


def test_names_json_holds_the_names_of_all_three(tmp_path):
    steps = steps_of(tmp_path, (OLD,), lambda folder: write(folder, NEW))
    folder = tmp_path / "names"
    furnish(folder, OLD)
    for files in (NEW, THIRD):
        with pytest.raises(Killed):  # by a third of the way all is staged, by two thirds nothing is cleared
            sabotage(folder, lambda files=files: write(folder, files), kill_at(steps // 2))
    names = json.loads((folder / ".stripegen-nest" / "names.json").read_bytes())["names"]
    assert set(names) == {*OLD, *NEW, *THIRD}


def test_a_strangers_file_is_theirs_whenever_it_came(tmp_path):
    """One that stands where a killed run would have written, and one that comes after the kill."""
    steps = steps_of(tmp_path, (OLD,), lambda folder: write(folder, NEW))
    for step in range(steps):
        folder = tmp_path / f"late-{step}"
        furnish(folder, OLD)
        with pytest.raises(Killed):
            sabotage(folder, lambda folder=folder: write(folder, NEW), kill_at(step))
        if "sheet-3.svg" in visible(folder):
            continue
        (folder / "sheet-3.svg").write_bytes(b"a stranger's")
        with pytest.raises(WriteError, match="sheet-3.svg: was not written by stripegen nest"):
            write(folder, NEW)
        write(folder, THIRD)
        assert tree(folder) == {**STRANGERS, **THIRD, "sheet-3.svg": b"a stranger's"}


def test_a_file_that_a_killed_run_was_to_replace_is_not_removed_as_ours(tmp_path):
    steps = steps_of(tmp_path, (OLD,), lambda folder: write(folder, NEW))
    kept = 0
    for step in range(steps):
        folder = tmp_path / f"replace-{step}"
        furnish(folder, OLD)
        (folder / "sheet-3.svg").write_bytes(b"a stranger's")
        with pytest.raises(Killed):
            sabotage(folder, lambda folder=folder: write(folder, NEW, replace=True), kill_at(step))
        stands = visible(folder)["sheet-3.svg"]
        assert stands in (b"a stranger's", NEW["sheet-3.svg"])
        write(folder, THIRD)
        if stands == b"a stranger's":
            kept += 1
            assert visible(folder) == {**STRANGERS, **THIRD, "sheet-3.svg": stands}
        else:
            assert visible(folder) == {**STRANGERS, **THIRD}
    assert 0 < kept < steps


@pytest.mark.parametrize("before", [(), (OLD,)], ids=["fresh", "over an old result"])
def test_failing_once_at_any_step_leaves_the_folder_as_it_was(tmp_path, before):
    steps = steps_of(tmp_path, before, lambda folder: write(folder, NEW, replace=True))
    refused = 0
    for step in range(steps):
        folder = tmp_path / f"fail-{step}"
        furnish(folder, *before)
        (folder / "sheet-3.svg").write_bytes(b"to be replaced")
        was = tree(folder)
        try:
            sabotage(folder, lambda folder=folder: write(folder, NEW, replace=True), fail_at({step}))
        except WriteError as error:
            refused += 1
            assert "No space left" in str(error) and "\n" not in str(error)
            assert "is as it was" in str(error)
            assert tree(folder) == was
        else:  # it was an act that could be left out
            assert visible(folder) == {**STRANGERS, **NEW}
        write(folder, NEW, replace=True)
        assert tree(folder) == {**STRANGERS, **NEW}
    assert refused > 10


@pytest.mark.parametrize("before", [(), (OLD,)], ids=["fresh", "over an old result"])
def test_a_disk_that_stays_full_leaves_the_folder_as_it_was(tmp_path, before):
    steps = steps_of(tmp_path, before, lambda folder: write(folder, NEW))
    growing = {"open", "os.mkdir", "os.link", "shutil.copyfile", "fsync"}
    refused = 0
    for step in range(steps):
        folder = tmp_path / f"full-{step}"
        furnish(folder, *before)
        was = tree(folder)
        full = fail_at(range(step, 10_000), growing)
        try:
            sabotage(folder, lambda folder=folder, full=full: write(folder, NEW), full)
        except WriteError as error:
            refused += 1
            assert "is as it was" in str(error)
            assert tree(folder) == was
        else:
            assert tree(folder) == {**STRANGERS, **NEW}
    assert refused > 10


def test_a_disk_that_dies_is_told_and_the_next_run_completes(tmp_path):
    steps = steps_of(tmp_path, (OLD,), lambda folder: write(folder, NEW))
    told = set()
    for step in range(steps):
        folder = tmp_path / f"dead-{step}"
        furnish(folder, OLD)
        dead = fail_at(range(step, 10_000))
        try:
            sabotage(folder, lambda folder=folder, dead=dead: write(folder, NEW), dead)
        except WriteError as error:
            told.add("could not be put back" in str(error))
            assert "\n" not in str(error)
            if "is as it was" in str(error):
                assert visible(folder) == {**STRANGERS, **OLD}
        write(folder, NEW)
        assert tree(folder) == {**STRANGERS, **NEW}
    assert told == {True, False}


def test_an_interrupt_leaves_the_folder_as_it_was(tmp_path):
    steps = steps_of(tmp_path, (OLD,), lambda folder: write(folder, NEW))
    interrupted = 0
    for step in range(steps):
        folder = tmp_path / f"interrupt-{step}"
        furnish(folder, OLD)

        def stop(at, event, fd, step=step):
            if at == step:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            sabotage(folder, lambda folder=folder: write(folder, NEW), stop)
        whole = {**STRANGERS, **OLD}
        interrupted += visible(folder) == whole
        assert visible(folder) in (whole, {**STRANGERS, **NEW})
        write(folder, THIRD)
        assert tree(folder) == {**STRANGERS, **THIRD}
    assert interrupted > steps / 2


def test_a_folder_that_a_failing_run_made_goes_again(tmp_path):
    folder = tmp_path / "a" / "b"
    refused = 0
    for step in range(40):
        try:
            sabotage(tmp_path, lambda: write(folder, NEW), fail_at({step}))
        except WriteError:
            refused += 1
            assert tree(tmp_path) == {}
        else:
            shutil.rmtree(tmp_path / "a")
    assert refused > 10


def test_without_hard_links_files_are_copied(tmp_path, monkeypatch):
    def link(*_):
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", link)
    furnish(tmp_path / "out", OLD)
    steps = sabotage(tmp_path / "out", lambda: write(tmp_path / "out", NEW))
    assert tree(tmp_path / "out") == {**STRANGERS, **NEW}
    for step in range(0, steps, 3):
        folder = tmp_path / f"fail-{step}"
        furnish(folder, OLD)
        was = tree(folder)
        try:
            sabotage(folder, lambda folder=folder: write(folder, NEW), fail_at({step}))
        except WriteError:
            assert tree(folder) == was


def test_a_strangers_file_in_the_way_is_refused_without_replace(tmp_path):
    furnish(tmp_path / "out", OLD)
    (tmp_path / "out" / "sheet-3.svg").write_bytes(b"a stranger's")
    was = tree(tmp_path / "out")
    with pytest.raises(WriteError, match=r"sheet-3\.svg: was not written .*--replace") as caught:
        write(tmp_path / "out", NEW)
    assert "\n" not in str(caught.value)
    assert tree(tmp_path / "out") == was
    write(tmp_path / "out", NEW, replace=True)
    assert tree(tmp_path / "out") == {**STRANGERS, **NEW}


def test_a_result_without_its_manifest_is_a_strangers(tmp_path):
    furnish(tmp_path / "out", OLD)
    (tmp_path / "out" / "nest.json").unlink()
    with pytest.raises(WriteError, match=r"nest\.csv \(and 1 more\): was not written"):
        write(tmp_path / "out", NEW)


@pytest.mark.parametrize(("job", "selection"), [("week32.toml", None), ("week31.toml", ["R-31"])])
def test_another_jobs_or_selections_result_is_refused_without_replace(tmp_path, job, selection):
    other = result({"sheet-1.svg": "other", "sheet-7.svg": "other"}, job, selection)
    folder = tmp_path / "out"
    furnish(folder)
    write(folder, other, job=job, selection=selection)
    with pytest.raises(WriteError, match="holds the result of .*week3.*--replace") as caught:
        write(folder, NEW)
    assert "\n" not in str(caught.value)
    assert tree(folder) == {**STRANGERS, **other}
    write(folder, other, job=job, selection=selection)
    write(folder, NEW, replace=True)
    assert tree(folder) == {**STRANGERS, **NEW}


def test_a_selection_is_compared_as_json_has_it(tmp_path):
    files = result({"sheet-1.svg": "a"}, selection=["R-31", "R-32"])
    write(tmp_path, files, selection=("R-31", "R-32"))
    write(tmp_path, files, selection=("R-31", "R-32"))
    assert tree(tmp_path) == files


def test_a_killed_run_does_not_open_the_way_to_another_jobs_result(tmp_path):
    other = result({"sheet-7.svg": "other"}, "week32.toml")
    steps = steps_of(tmp_path, (OLD,), lambda folder: write(folder, other, job="week32.toml", replace=True))
    stood = set()
    for step in range(steps):
        folder = tmp_path / f"other-{step}"
        furnish(folder, OLD)
        with pytest.raises(Killed):
            sabotage(
                folder,
                lambda folder=folder: write(folder, other, job="week32.toml", replace=True),
                kill_at(step),
            )
        job = json.loads((folder / "nest.json").read_bytes())["job"]
        stood.add(job)
        mine, theirs = (OLD, other) if job == "week31.toml" else (other, OLD)
        with pytest.raises(WriteError, match="holds the result"):
            write(folder, theirs, job=json.loads(theirs["nest.json"])["job"])
        write(folder, mine, job=job)
        assert tree(folder) == {**STRANGERS, **mine}
    assert stood == {"week31.toml", "week32.toml"}


BROKEN = {
    "half": OLD["nest.json"][:40],
    "not text": b"\xff\xfe\x00",
    "empty": b"",
    "no object": b"[1, 2]",
    "deep": b"[" * 100_000,
    "other format": OLD["nest.json"].replace(b"stripegen-manifest", b"something-else"),
    "later version": result({"sheet-1.svg": "x"}, version=2)["nest.json"],
    "version true": result({"sheet-1.svg": "x"}, version=True)["nest.json"],
    "other command": result({"sheet-1.svg": "x"}, command="strips")["strips.json"],
    "no files": OLD["nest.json"].replace(b'"files"', b'"names"'),
    "no job": OLD["nest.json"].replace(b'"job"', b'"work"'),
}


@pytest.mark.parametrize("kind", BROKEN)
def test_a_manifest_that_cannot_be_read_is_refused_without_replace(tmp_path, kind):
    folder = tmp_path / "out"
    furnish(folder)
    (folder / "nest.json").write_bytes(BROKEN[kind])
    was = tree(folder)
    with pytest.raises(WriteError, match=r"nest\.json: is no manifest of stripegen nest") as caught:
        write(folder, NEW)
    assert "\n" not in str(caught.value)
    assert tree(folder) == was
    write(folder, NEW, replace=True)
    assert tree(folder) == {**STRANGERS, **NEW}


EVIL = ["../outside.txt", "/tmp/x", "sub/inner.txt", "..", ".", "", ".hidden", "a\\b", "C:x", "names.json"]


def test_names_that_are_no_plain_file_names_are_never_touched(tmp_path):
    folder = tmp_path / "out"
    furnish(folder)
    (tmp_path / "outside.txt").write_bytes(b"out")
    (folder / "sub").mkdir()
    (folder / "sub" / "inner.txt").write_bytes(b"in")
    (folder / ".hidden").write_bytes(b"hidden")
    (folder / "names.json").write_bytes(b"a stranger's")
    manifest = json.loads(OLD["nest.json"])
    manifest["files"] = dict.fromkeys([*EVIL, "sheet-1.svg", "sub"], "0" * 64)
    (folder / "nest.json").write_text(json.dumps(manifest))
    (folder / "sheet-1.svg").write_bytes(b"old")
    work = folder / ".stripegen-nest"
    work.mkdir()
    shas = [hashlib.sha256(data).hexdigest() for data in (b"out", b"in", b"hidden", b"a stranger's")]
    names = dict.fromkeys([*EVIL, "a\nb", str(folder / "notes.txt")], shas)
    (work / "names.json").write_text(json.dumps({"names": names}))
    write(folder, NEW)
    left = tree(folder)
    assert {**NEW, **STRANGERS}.items() <= left.items()
    assert left.keys() - NEW.keys() - STRANGERS.keys() == {"sub", "sub/inner.txt", ".hidden", "names.json"}
    assert (tmp_path / "outside.txt").read_bytes() == b"out"
    assert not any(map(is_plain, EVIL))


@pytest.mark.parametrize("text", ["", "[", "[]", '{"names": 3}', '{"names": {"sheet-1.svg": 5}}', "\x00"])
def test_a_names_json_that_cannot_be_read_claims_nothing(tmp_path, text):
    furnish(tmp_path / "out")
    (tmp_path / "out" / ".stripegen-nest").mkdir()
    (tmp_path / "out" / ".stripegen-nest" / "names.json").write_text(text)
    (tmp_path / "out" / "sheet-1.svg").write_bytes(b"a stranger's")
    with pytest.raises(WriteError, match="sheet-1.svg"):
        write(tmp_path / "out", NEW)
    write(tmp_path / "out", NEW, replace=True)
    assert tree(tmp_path / "out") == {**STRANGERS, **NEW}


def test_a_strangers_file_in_our_own_folder_stays(tmp_path):
    work = tmp_path / ".stripegen-nest"
    work.mkdir()
    (work / "mine.txt").write_bytes(b"mine")
    write(tmp_path, NEW)
    assert tree(tmp_path) == {**NEW, ".stripegen-nest": None, ".stripegen-nest/mine.txt": b"mine"}


def test_places_that_cannot_be_written_are_told_in_one_line(tmp_path):
    (tmp_path / "file").write_bytes(b"a file")
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "sheet-1.svg").mkdir()
    (tmp_path / "odd").mkdir()
    (tmp_path / "odd" / ".stripegen-nest").write_bytes(b"")
    was = tree(tmp_path)
    for place, match in [
        ("file", "file: is not a folder"),
        ("file/deeper", "file: is not a folder"),
        ("taken", "sheet-1.svg: is not a file"),
        ("odd", ".stripegen-nest: is not a folder of stripegen's own"),
        ("n" * 300, "can't be written"),
    ]:
        for replace in (False, True):
            with pytest.raises(WriteError, match=match) as caught:
                write(tmp_path / place, NEW, replace=replace)
            assert "\n" not in str(caught.value)
    assert tree(tmp_path) == was


def test_a_read_only_folder_is_told_in_one_line(tmp_path):
    def stop(step, event, fd):
        raise PermissionError(errno.EACCES, "Permission denied")

    with pytest.raises(WriteError, match="can't be written: Permission denied; .* is as it was"):
        sabotage(tmp_path, lambda: write(tmp_path, NEW), stop)
    assert tree(tmp_path) == {}


def test_a_link_in_the_way_is_replaced_and_what_it_points_to_is_not(tmp_path):
    target = tmp_path / "target.txt"
    target.write_bytes(b"target")
    refused = written = 0
    for step in range(60):
        folder = tmp_path / f"out-{step}"
        furnish(folder, OLD)
        path = folder / "sheet-1.svg"
        path.unlink()
        path.symlink_to(target)
        try:
            sabotage(folder, lambda folder=folder: write(folder, NEW), fail_at({step}))
        except WriteError:
            assert path.is_symlink()
            refused += 1
        else:
            assert not path.is_symlink()
            assert visible(folder) == {**STRANGERS, **NEW}
            written += 1
        assert target.read_bytes() == b"target"
    assert refused > 10 and written > 10


def test_our_own_folder_must_not_be_a_link_to_another(tmp_path):
    (tmp_path / "theirs").mkdir()
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".stripegen-nest").symlink_to(tmp_path / "theirs")
    with pytest.raises(WriteError, match="is not a folder of stripegen's own"):
        write(tmp_path / "out", NEW)
    assert tree(tmp_path / "theirs") == {}


def test_where_the_disk_takes_two_names_for_one_neither_is_lost(tmp_path):
    """Played with a hard link, as a disk that ignores case would have it."""
    furnish(tmp_path / "out", result({"Sheet-1.svg": "old"}))
    os.link(tmp_path / "out" / "Sheet-1.svg", tmp_path / "out" / "sheet-1.svg")
    write(tmp_path / "out", NEW)
    assert NEW.items() <= tree(tmp_path / "out").items()
    assert (tmp_path / "out" / "Sheet-1.svg").exists()  # removing it would remove the new one there


def test_what_a_caller_must_not_ask(tmp_path):
    for name in EVIL:
        with pytest.raises(ValueError, match="plain file name"):
            write(tmp_path, {**NEW, name: b""})
    with pytest.raises(ValueError, match="not among the files"):
        write_result(tmp_path, "nest", {"a": b""}, "nest.json", job="a", selection=None, replace=False)
    with pytest.raises(ValueError, match="only in case"):
        write(tmp_path, {**NEW, "Sheet-1.svg": b""})
    assert tree(tmp_path) == {}


RUN = textwrap.dedent("""
    import json, os, sys, time
    from stripegen.outdir import sha256_of, write_result
    folder, mark, stop_at = sys.argv[1], sys.argv[2], int(sys.argv[3])
    step = 0
    def hook(event, args):
        global step
        if event in {"os.rename", "os.remove", "os.rmdir", "os.link", "os.mkdir"} and folder in str(args[0]):
            if step == stop_at:
                print("here", flush=True)
                time.sleep(60)
            step += 1
    sys.addaudithook(hook)
    files = {f"sheet-{n}.svg": f"{mark} {n}".encode() * 1000 for n in range(4)}
    manifest = {"format": "stripegen-manifest", "version": 1, "command": "nest", "job": "week31.toml",
                "selection": None, "files": sha256_of(files)}
    files["nest.json"] = json.dumps(manifest).encode()
    write_result(folder, "nest", files, "nest.json", job="week31.toml", selection=None, replace=False)
    print("done", flush=True)
""")


@pytest.mark.parametrize("step", [1, 3, 9, 18, 25, 32, 38])
def test_a_second_run_stops_and_a_killed_one_is_taken_over(tmp_path, step):
    folder = tmp_path / "out"
    furnish(folder, OLD)
    child = subprocess.Popen(
        [sys.executable, "-c", RUN, str(folder), "child", str(step)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert child.stdout.readline() == "here\n"
        before = tree(folder)
        with pytest.raises(WriteError, match="another run of stripegen nest is writing here") as caught:
            write(folder, NEW)
        assert "\n" not in str(caught.value)
        assert tree(folder) == before
        strips = result({"strips-1.svg": "s"}, command="strips")
        write(folder, strips, command="strips")  # another command's results are its own affair
    finally:
        child.kill()
        child.wait()
        child.stdout.close()
    write(folder, NEW)
    assert tree(folder) == {**STRANGERS, **NEW, **strips}


def test_many_runs_at_once_leave_one_whole_result(tmp_path):
    """Runs that come and go by the dozen, so that some begin while the folder is being removed."""
    folder = tmp_path / "out"
    loop = textwrap.dedent("""
        import json, sys
        from stripegen.errors import WriteError
        from stripegen.outdir import sha256_of, write_result
        done = busy = 0
        for turn in range(40):
            files = {f"sheet-{n}.svg": f"{sys.argv[2]} {turn}".encode() for n in range(1 + turn % 3)}
            manifest = {"format": "stripegen-manifest", "version": 1, "command": "nest", "job": "j",
                        "selection": None, "files": sha256_of(files)}
            files["nest.json"] = json.dumps(manifest).encode()
            try:
                write_result(sys.argv[1], "nest", files, "nest.json", job="j", selection=None, replace=False)
                done += 1
            except WriteError as error:
                assert "another run" in str(error), error
                busy += 1
        print(done, busy)
    """)
    children = [
        subprocess.Popen(
            [sys.executable, "-c", loop, str(folder), str(n)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for n in range(3)
    ]
    outcomes = [child.communicate(timeout=60) for child in children]
    assert [errors for _, errors in outcomes] == [""] * 3
    done, busy = (sum(int(out.split()[k]) for out, _ in outcomes) for k in (0, 1))
    assert done > 0 and done + busy == 120
    assert fits(folder)
    manifest = json.loads((folder / "nest.json").read_bytes())
    assert set(tree(folder)) == {*manifest["files"], "nest.json"}


@pytest.mark.parametrize("comes", [False, True], ids=["gone", "gone and made again"])
def test_a_lock_that_was_removed_while_it_was_taken_does_not_count(tmp_path, monkeypatch, comes):
    """Another run ends, and perhaps a third begins, between the opening of the lock file and its locking."""
    work = tmp_path / ".stripegen-nest"
    real, calls = holding._lock, []

    def lock(file):
        if not calls:
            (work / ".lock").unlink()
            work.rmdir()
            if comes:
                work.mkdir()
                (work / ".lock").write_bytes(b"")
        calls.append(os.fstat(file).st_ino)
        real(file)

    monkeypatch.setattr(holding, "_lock", lock)
    write(tmp_path, NEW)
    assert len(calls) == 2
    assert tree(tmp_path) == NEW


def test_the_lock_of_windows_is_used_there(tmp_path, monkeypatch):
    """Played with a stand-in for its module, on top of this system's own lock."""
    taken = []

    def locking(fd, mode, size):
        assert (mode, size) == (2, 1)
        if taken:
            raise PermissionError(errno.EACCES, "Permission denied")
        taken.append(fd)

    monkeypatch.setitem(sys.modules, "msvcrt", types.SimpleNamespace(locking=locking, LK_NBLCK=2))
    monkeypatch.setattr(holding, "_WINDOWS", True)
    write(tmp_path, NEW)
    assert tree(tmp_path) == NEW
    with pytest.raises(WriteError, match="another run"):
        write(tmp_path, NEW)
