"""Do to runs what may befall them (kills, full and read-only disks, odd things in the way, other runs, Ctrl-C) and tell what was lost.

python tests/bench/survival.py [--only WORD] [--real N]

Prints a table; the exit status is 1 if anything was lost. Disks are made with mount and chattr, so that part needs root on
Linux; N (24 if left out) whole processes of stripegen are killed or interrupted in each way.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from conftest import JOB as JOB_TEXT
from surviving import (
    FEWER,
    NEW,
    OLD,
    OTHER,
    STRANGERS,
    THIRD,
    forked,
    furnish,
    killed_at,
    lost,
    not_completed,
    result,
    tree,
    write,
)  # fmt: skip

Outcome = tuple[str, list[str]]  # how it ended, and what was lost
KILLS = {
    "a first result": ((), NEW),
    "over an older result": ((OLD,), NEW),
    "over one of more files": ((OLD,), FEWER),
    "over another job's, with `--replace`": ((OTHER,), NEW),
}


def kills(scratch: Path, before: tuple, after: Mapping[str, bytes]) -> Iterator[Outcome]:
    """A run killed before each of its steps, and a next run after that."""
    for step in range(10_000):
        folder = scratch / str(step)
        furnish(folder, *before)
        if not killed_at(folder, step, lambda folder=folder: write(folder, after, replace=True)):
            return
        yield "killed", lost(folder, before[0] if before else {}, after) + not_completed(folder, after)


def double_kills(scratch: Path, count: int = 400) -> Iterator[Outcome]:
    """A run killed, the one that takes it over killed too, at random steps, and a third."""
    draw = random.Random(31)
    for number in range(count):
        folder = scratch / str(number)
        furnish(folder, OLD)
        for files in (NEW, THIRD):
            killed_at(folder, draw.randrange(75), lambda folder=folder, files=files: write(folder, files))
        left = tree(folder)
        wrong = [f"{name} was touched" for name, data in STRANGERS.items() if left.get(name) != data]
        wrong += ["no manifest stands"] * (left.get("nest.json") not in [files["nest.json"] for files in (OLD, NEW, THIRD)])
        yield "killed twice", wrong + not_completed(folder, OLD)


def refused(folder: Path, files: Mapping[str, bytes], replace: bool = True, must: bool = False) -> Outcome:
    """A run that must be refused in one line with the folder as it was, or be done wholly."""
    was = tree(folder)
    status = forked(lambda: write(folder, files, replace))
    if status == 0:
        wrong = [] if {*files.items()} <= {*tree(folder).items()} else ["done, but not all there"]
        return "done", wrong + ["it was to be refused"] * must
    wrong = [] if status == 1 else [f"ended with {status}"]
    return "refused", wrong if tree(folder) == was else [*wrong, "the folder is not as it was"]


def run_as_nobody(act: Callable[[], Outcome]) -> Outcome:
    return act() if os.geteuid() else _with_user(65534, act)


def _with_user(user: int, act: Callable[[], Outcome]) -> Outcome:
    os.setegid(user)
    os.seteuid(user)
    try:
        return act()
    finally:
        os.seteuid(0)
        os.setegid(0)


def mounted(scratch: Path, options: str) -> Path:
    place = scratch / "disk"
    place.mkdir(exist_ok=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", place], check=True)
    return place


def full_disks(scratch: Path) -> Iterator[Outcome]:
    """A disk with ever more room, by bytes and by files, until a run is done; over an older result and into an empty folder."""
    for before in ((OLD,), ()):
        place = mounted(scratch, "size=400k")
        try:
            ended, free_kb = "", 0
            while ended != "done":
                folder = place / "out"
                furnish(folder, *before)
                room_kb = os.statvfs(place).f_bavail * os.statvfs(place).f_frsize // 1024
                (place / "ballast").write_bytes(b"x" * 1024 * (room_kb - free_kb))
                ended, wrong = refused(folder, NEW)
                yield ended, wrong
                (place / "ballast").unlink()
                shutil.rmtree(folder)
                free_kb += 4
        finally:
            subprocess.run(["umount", place], check=True)
        for more in range(1, 40):
            place = mounted(scratch, "size=4m,nr_inodes=200")
            try:
                furnish(place / "out", *before)
                used = 200 - os.statvfs(place).f_favail
                subprocess.run(["mount", "-o", f"remount,nr_inodes={used + more}", place], check=True)
                ended, wrong = refused(place / "out", NEW)
                yield ended, wrong
            finally:
                subprocess.run(["umount", place], check=True)
            if ended == "done":
                break


def read_only(scratch: Path) -> Iterator[Outcome]:
    """A disk, a folder and single files that may not be written."""
    place = mounted(scratch, "size=1m")
    try:
        furnish(place / "out", OLD)
        subprocess.run(["mount", "-o", "remount,ro", place], check=True)
        for folder in (place / "out", place):
            yield refused(folder, NEW, must=True)
    finally:
        subprocess.run(["umount", place], check=True)
    folder = scratch / "roots"
    furnish(folder, OLD)
    scratch.chmod(0o755)
    yield run_as_nobody(lambda: refused(folder, NEW, must=True))
    folder.chmod(0o555)
    os.chown(folder, 65534, 65534)
    yield run_as_nobody(lambda: refused(folder, NEW, must=True))
    for name in ("", *OLD):
        folder = scratch / f"fixed-{name}"
        furnish(folder, OLD)
        subprocess.run(["chattr", "+i", folder / name], check=True)
        try:
            yield refused(folder, NEW, must=True)
            yield refused(folder, FEWER, must=True)
        finally:
            subprocess.run(["chattr", "-i", folder / name], check=True)
    folder = scratch / "read-only-files"
    furnish(folder, OLD)
    for name in OLD:
        (folder / name).chmod(0o444)
    yield refused(folder, NEW)


def odd_things(scratch: Path) -> Iterator[Outcome]:
    """A file, a link, a folder, a pipe, a socket where a folder or a file of ours is to be; nothing is written through."""
    away = scratch / "away"
    away.mkdir()
    (away / "theirs.txt").write_bytes(b"theirs")
    (away / "sheet-brass-1.svg").write_bytes(b"theirs")

    def put(path: Path, kind: str) -> None:
        if kind == "socket":
            with socket.socket(socket.AF_UNIX) as end:
                here = os.getcwd()
                os.chdir(path.parent)  # its name may be too long for one
                end.bind(path.name)
                os.chdir(here)
        elif kind in ("file", "folder", "pipe"):
            {"file": lambda: path.write_bytes(b"a file"), "folder": path.mkdir, "pipe": lambda: os.mkfifo(path)}[kind]()
        else:
            to = {"link": away / "theirs.txt", "link to folder": away, "dangling": away / "new", "device": "/dev/zero", "loop": path}
            path.symlink_to(to[kind])

    kinds = ("file", "folder", "pipe", "socket", "link", "link to folder", "dangling", "device", "loop")
    work = ".stripegen-nest"
    names = ("", "sheet-brass-1.svg", "sheet-brass-2.svg", "sheet-brass-3.svg", "nest.json", work, f"{work}/.lock")
    for name in (*names, f"{work}/names.json", f"{work}/.names.json.new", f"{work}/.kept", f"{work}/sheet-brass-1.svg"):
        for kind in kinds:
            for replace in (False, True):
                folder = scratch / f"{name} {kind} {replace}".replace("/", " ")
                furnish(folder, OLD)
                path = folder / name
                if name.startswith(f"{work}/"):
                    (folder / work).mkdir()
                if name == "":
                    shutil.rmtree(folder)
                elif path.exists():
                    path.unlink()
                put(path, kind)
                was = tree(folder)
                status = forked(lambda folder=folder, replace=replace: _in_time(lambda: write(folder, NEW, replace)))
                wrong = [] if status in (0, 1) else [f"{name} {kind}: ended with {status}"]
                if tree(away) != {"theirs.txt": b"theirs", "sheet-brass-1.svg": b"theirs"} and (name, kind) != ("", "link to folder"):
                    wrong.append(f"{name} {kind}: written through")
                if status and name and tree(folder) != was:
                    wrong.append(f"{name} {kind}: refused, but not as it was")
                if (name, kind) == ("", "link to folder"):  # a folder by another name, which may well be written to
                    shutil.rmtree(away)
                    away.mkdir()
                    (away / "theirs.txt").write_bytes(b"theirs")
                    (away / "sheet-brass-1.svg").write_bytes(b"theirs")
                yield ("refused" if status else "done"), wrong
    for folder in (scratch / ("n" * 256), scratch.joinpath(*["n" * 250] * 20), scratch / "a file" / "b"):
        (scratch / "a file").touch()
        status = forked(lambda folder=folder: write(folder, NEW))
        yield "refused", [] if status == 1 else [f"{folder}: ended with {status}"]


def _in_time(act: Callable[[], None]) -> None:
    signal.alarm(20)
    act()


def at_once(scratch: Path, rounds: int = 300) -> Iterator[Outcome]:
    """Two to four runs that begin at the same moment: each is done or told that another is at work."""
    draw = random.Random(7)
    for number in range(rounds):
        folder = scratch / str(number)
        furnish(folder, OLD)
        ready, go = os.pipe()
        results = [result(f"run {k}", *(f"sheet-brass-{n}.svg" for n in range(1, draw.randint(2, 5)))) for k in range(draw.randint(2, 4))]
        children = []
        for files in results:
            child = os.fork()
            if child == 0:
                os.close(go)
                os.read(ready, 1)
                os._exit(forked(lambda folder=folder, files=files: write(folder, files)))
            children.append(child)
        os.close(ready)
        os.close(go)
        ends = Counter(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children)
        wrong = [] if set(ends) <= {0, 1} and ends[0] else [f"ended with {dict(ends)}"]
        if tree(folder) not in [{**STRANGERS, **files} for files in results]:
            wrong.append("not the whole result of one of them")
        yield f"{ends[0]} done", wrong


class Real:
    """Whole processes of stripegen, and how long one takes."""

    def __init__(self, scratch: Path, command: str, text: str):
        self.job, self.command = scratch / "week.toml", command
        self.job.write_text(text)
        self.env = {**os.environ, "PYTHONPATH": str(ROOT)}
        began = time.perf_counter()
        if self.start(scratch / "first").wait():
            raise SystemExit("a run that nothing happens to fails")
        self.seconds = time.perf_counter() - began
        self.whole = tree(scratch / "first")

    def start(self, out: Path) -> subprocess.Popen:
        more = ["--effort", "quick"] if self.command == "nest" else []
        return subprocess.Popen(
            [sys.executable, "-m", "stripegen", self.command, self.job, "-o", out, *more],
            env=self.env, cwd=self.job.parent, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
        )  # fmt: skip

    def completes(self, out: Path) -> list[str]:
        done = self.start(out)
        told = done.communicate()[1]
        same = {name: data for name, data in tree(out).items() if name not in STRANGERS} == self.whole
        kept = all(tree(out).get(name) == data for name, data in STRANGERS.items())
        return [] if done.returncode == 0 and same and kept else [f"the next run ends with {done.returncode}: {told[-200:]}"]


def alive_in(session: int) -> list[str]:
    """The processes of a session that still run; the dead that no one has asked after do not count."""
    found = subprocess.run(["ps", "-o", "stat=,args=", "-s", str(session)], check=False, capture_output=True, text=True).stdout
    return [line for line in found.splitlines() if not line.startswith("Z")]


def stopped_at_random(scratch: Path, count: int, number: signal.Signals, text: str, group: bool) -> Iterator[Outcome]:
    """Whole processes that get a signal at a random moment; every second one once it has begun to write."""
    real = Real(scratch, "nest", text)
    draw = random.Random(count)
    for trial in range(count):
        out = scratch / f"out-{trial}"
        furnish(out)
        run = real.start(out)
        if trial % 2:
            while run.poll() is None and not (out / ".stripegen-nest").exists():
                time.sleep(0.001)
            time.sleep(draw.uniform(0, 0.04))
        else:
            time.sleep(draw.uniform(0.1, 1.0) * real.seconds)
        ended = run.poll() is not None
        if not ended:
            (os.killpg if group else os.kill)(run.pid, number)
        told = run.communicate(timeout=120)[1]
        wrong = []
        if number == signal.SIGINT and not ended and run.returncode:
            lines = [line for line in told.splitlines() if not line.startswith("warning: ")]
            if run.returncode not in (1, -signal.SIGINT) or len(lines) > 1 or "Traceback" in told:
                wrong.append(f"ended with {run.returncode}, telling {told[-300:]!r}")
            if tree(out) not in (STRANGERS, {**STRANGERS, **real.whole}):
                wrong.append(f"leaves {sorted(tree(out))}")
        for _ in range(50):
            if not alive_in(run.pid):
                break
            time.sleep(0.1)
        else:
            wrong.append(f"leaves processes: {alive_in(run.pid)}")
        how = "done" if run.returncode == 0 else "while writing" if trial % 2 else "before"
        yield how, wrong + (real.completes(out) if trial % 2 else [])


def processes_at_once(scratch: Path, rounds: int) -> Iterator[Outcome]:
    real = Real(scratch, "strips", JOB_TEXT)
    for number in range(rounds):
        out = scratch / f"out-{number}"
        runs = [real.start(out) for _ in range(2)]
        told = [run.communicate()[1] for run in runs]
        ends = sorted(run.returncode for run in runs)
        wrong = [] if ends in ([0, 0], [0, 1]) else [f"ended with {ends}"]
        wrong += [f"told {text!r}" for run, text in zip(runs, told, strict=True) if run.returncode and text.count("\n") != 1]
        yield f"{ends.count(0)} done", wrong + ["not whole"] * (tree(out) != real.whole)


WEEK = JOB_TEXT.replace("quantity = 3", "quantity = 30").replace('id = "R-32"', 'id = "R-32"\nquantity = 30')


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", default="")
    parser.add_argument("--real", type=int, default=24)
    asked = parser.parse_args()
    real = asked.real
    families: dict[str, Callable[[Path], Iterator[Outcome]]] = {
        f"killed before each step, {name}; then run again": lambda scratch, of=of: kills(scratch, *of) for name, of in KILLS.items()
    } | {
        "killed, and the run that takes over killed too, at random steps; then run again": double_kills,
        "disk full, with ever more room until a run is done (by bytes, by files)": full_disks,
        "disk, folder or single files read-only": read_only,
        "file, folder, link, pipe, socket or device where a folder or file of ours is to be": odd_things,
        "two to four runs begin at once": at_once,
        "two whole processes of `strips` begin at once": lambda scratch: processes_at_once(scratch, real),
        "whole processes of `nest` killed (every second one while it writes); then run again":
            lambda scratch: stopped_at_random(scratch, real, signal.SIGKILL, JOB_TEXT, group=False),
        "Ctrl-C to a whole `nest` at a random moment": lambda scratch: stopped_at_random(scratch, real, signal.SIGINT, JOB_TEXT, group=False),
        "Ctrl-C to a whole `nest` and its worker processes": lambda scratch: stopped_at_random(scratch, real, signal.SIGINT, WEEK, group=True),
    }  # fmt: skip
    all_lost = 0
    print("| what was done | how often | how it ended | what was lost |\n| --- | --- | --- | --- |")
    for what, act in families.items():
        if asked.only not in what:
            continue
        with tempfile.TemporaryDirectory() as folder:
            ends: Counter = Counter()
            wrongs = []
            for how, wrong in act(Path(folder)):
                ends[how] += 1
                wrongs += wrong
        all_lost += len(wrongs)
        told = ", ".join(f"{number} {how}" for how, number in ends.most_common()) if len(ends) > 1 else next(iter(ends), "")
        print(f"| {what} | {ends.total()} | {told} | {'nothing' if not wrongs else f'{len(wrongs)} times: {wrongs[0]}'} |", flush=True)
        for wrong in dict.fromkeys(wrongs[1:]):
            print(f"  {wrong}")
    sys.exit(bool(all_lost))


if __name__ == "__main__":
    main()
