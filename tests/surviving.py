"""Writing a result in processes that are killed, and what must be left of it; shared by tests and tests/bench/survival.py."""

from __future__ import annotations

import json
import os
import signal
import sys
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path

from stripegen.errors import StripegenError
from stripegen.outdir import is_cut_off, sha256_of, write_result

ACTS = ("open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.link", "shutil.copyfile")
STRANGERS = {"notes.txt": b"mine", "sheet-brass-9.svg": b"mine too", ".hidden": b"mine as well"}
JOB = "week31.toml"


def result(mark: str, *names: str, job: str = JOB) -> dict[str, bytes]:
    """A result of `nest` with these files and their manifest; what is in them tells of the mark."""
    files = {name: f"{mark} {name} ".encode() * 500 for name in names}
    head = {"format": "stripegen-manifest", "version": 1, "command": "nest", "job": job, "selection": None}
    return {**files, "nest.json": json.dumps({**head, "files": sha256_of(files)}).encode()}


OLD = result("old", "sheet-brass-1.svg", "sheet-brass-2.svg", "nest.csv")
NEW = result("new", "sheet-brass-1.svg", "sheet-brass-3.svg", "nest.csv")
FEWER = result("fewer", "sheet-brass-1.svg")
THIRD = result("third", "sheet-brass-1.svg", "sheet-brass-4.svg")
OTHER = result("other", "sheet-brass-1.svg", "sheet-brass-7.svg", job="week32.toml")


def write(folder: Path, files: Mapping[str, bytes], replace: bool = False) -> None:
    job = json.loads(files["nest.json"])["job"]
    write_result(folder, "nest", files, "nest.json", job=job, selection=None, replace=replace)


def tree(folder: Path) -> dict[str, bytes | str | None]:
    """Every file below a folder with its bytes, every link with where it leads to, every folder; other things by name."""
    found: dict[str, bytes | str | None] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        found[name] = os.readlink(path) if path.is_symlink() else path.read_bytes() if path.is_file() else None
    return found


def furnish(folder: Path, *results: Mapping[str, bytes]) -> None:
    folder.mkdir(parents=True)
    for name, data in STRANGERS.items():
        (folder / name).write_bytes(data)
    for files in results:
        write(folder, files, replace=True)


def forked(act: Callable[[], None]) -> int:
    """Run an act in a copy of this process: 0 when it is done, 1 where it is refused in one line, below 0 where it is killed."""
    sys.stdout.flush()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of threads, which the copy has no use for
        child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    status = 3
    try:
        act()
        status = 0
    except StripegenError as error:
        status = 1 if str(error).isprintable() else 2
    finally:
        os._exit(status)


def killed_at(folder: Path, step: int, act: Callable[[], None]) -> bool:
    """Run an act in a process that is killed before its so manieth act on the disk in a folder; whether it came so far."""
    below = str(folder)

    def act_and_die() -> None:
        count = 0

        def count_one() -> None:
            nonlocal count
            if count == step:
                os.kill(os.getpid(), signal.SIGKILL)
            count += 1

        def hook(event: str, args: tuple) -> None:
            writes = event in ACTS[1:] or (event == "open" and args[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))
            if writes and str(args[0]).startswith(below):
                count_one()

        sync = os.fsync

        def fsync(file: int) -> None:
            count_one()
            sync(file)

        os.fsync = fsync
        sys.addaudithook(hook)
        act()

    status = forked(act_and_die)
    if status not in (0, -signal.SIGKILL):
        raise AssertionError(f"a run that was to be killed ended with {status}")
    return status != 0


def lost(folder: Path, before: Mapping[str, bytes], after: Mapping[str, bytes]) -> list[str]:
    """What a killed run has lost or what would mislead a reader, in a folder that held `before` and was to hold `after`."""
    left = tree(folder)
    wrong = [f"{name} was touched" for name, data in STRANGERS.items() if left.get(name) != data]
    shown = {name: data for name, data in left.items() if name not in STRANGERS and not name.startswith(".stripegen-nest")}
    if not is_cut_off(folder, "nest") and shown not in ({**before}, {**after}):
        wrong.append("neither the old result nor the new one, and no mark of a run cut off")
    manifest = shown.get("nest.json")
    if manifest not in (before.get("nest.json"), after["nest.json"]):
        wrong.append("a manifest of neither result")
    if manifest == after["nest.json"] and not {*after.items()} <= {*shown.items()}:
        wrong.append("the new manifest without all of its files")
    for name, data in before.items():
        if name not in shown and (name in after or manifest != after["nest.json"]):
            wrong.append(f"{name} is gone")
        elif name in shown and shown[name] not in (data, after.get(name)):
            wrong.append(f"{name} is neither the old one nor the new one")
    wrong += [f"{name} came from nowhere" for name in shown if name not in before and name not in after]
    return wrong


def not_completed(folder: Path, files: Mapping[str, bytes]) -> list[str]:
    """What keeps a next run from putting its result there, whole, and nothing else."""
    try:
        write(folder, files, replace=True)
    except StripegenError as error:
        return [f"the next run is refused: {error}"]
    return [] if tree(folder) == {**STRANGERS, **files} else [f"the next run leaves {sorted(tree(folder))}"]
