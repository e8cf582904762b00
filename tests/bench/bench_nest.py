"""How tight the nest is, how long it takes and how much memory, beside plain rows and general packing libraries.

With the package installed: python tests/bench/bench_nest.py [TABLE ...] [--effort EFFORT] [--with-libraries]

Tables: `instances` (four fixed ones, A to D), `weeks` (made up from a seed, and from job files of the shipped
presets), `offcuts` (onto sheets, with offcuts in hand and without), `scale` (ever more pieces). Each case is
nested in a process of its own. Seconds are by the clock; CPU seconds are the processor's, which tell more where
other work goes on. Memory is the process's most, Python and libraries included. Length ratios are ours over
theirs: below 1 we take less. A library is given as long as we took by the clock (the first figure) and 30 s
(the second), may use all processors, and counts only if our own proof passes its layout.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
from collections.abc import Sequence
from contextlib import nullcontext
from importlib.metadata import version
from pathlib import Path
from typing import Any

from libraries import NAMES, Libraries

# By hand, for `cases` imports what would make this process large, and with it those that it starts.
WEEKS = ("straight", "alike", "mixed", "curvy", "studio", "presets", "large")
TABLES = {
    "instances": ("A", "B", "C", "D"),
    "weeks": WEEKS,
    "offcuts": (("mixed", 0), ("mixed", 5), ("mixed", 30), ("large", 0), ("large", 30)),
    "scale": ("2500", "5000", "10000", "20000"),
}
EFFORTS = ("quick", "normal", "thorough")
LIBRARY_SECONDS = 30.0
_ONE = Path(__file__).with_name("one_nest.py")


def one(**request: Any) -> dict[str, Any]:
    """What a process of its own answers."""
    command, asked = [sys.executable, str(_ONE)], json.dumps(request)
    done = subprocess.run(command, check=False, input=asked, stdout=subprocess.PIPE, text=True)
    if done.returncode:
        raise RuntimeError(f"{request.get('case')}: {request['do']} failed")
    return json.loads(done.stdout)


def row(*cells: object) -> None:
    print("| " + " | ".join(f"{cell:.3f}" if isinstance(cell, float) else str(cell) for cell in cells) + " |", flush=True)


def head(*titles: str) -> None:
    print()
    row(*titles)
    row(*("---" for _ in titles))


def nests(cases: Sequence[str], efforts: Sequence[str], libraries: Libraries | None) -> None:
    names = NAMES if libraries else ()
    head(
        "case", "pieces", "effort", "bound mm", "tightness", "waste", "s", "CPU s", "MB", "ready s", "of rows",
        *(f"of {name}" for name in names),
    )  # fmt: skip
    notes: list[str] = []
    for case in cases:
        rows = one(case=case, do="rows")
        shapes = one(case=case, do="shapes") if names else {}
        theirs: dict[str, float | None] = {}
        for effort in efforts:
            ours = one(case=case, do="nest", effort=effort)
            ratios = []
            for name in names:
                seconds = ours["seconds"]
                same = beside(libraries, name, case, shapes, seconds, notes)
                if name not in theirs:
                    theirs[name] = beside(libraries, name, case, shapes, LIBRARY_SECONDS, notes)
                lengths = (same, theirs[name])
                ratios.append(" ".join(f"{ours['length'] / each:.3f}" if each else "none" for each in lengths))
            row(
                case, ours["pieces"], effort, f"{ours['bound']:.1f}", f"{ours['tightness']:.4f}", ours["waste"],
                f"{ours['seconds']:.1f}", f"{ours['cpu']:.1f}", f"{ours['mb']:.0f}", f"{ours['ready']:.1f}",
                ours["length"] / rows["length"], *ratios,
            )  # fmt: skip
    print("", *notes, sep="\n", flush=True)


def beside(libraries, name: str, case: str, shapes: dict, seconds: float, notes: list[str]) -> float | None:
    """The length of a library's layout that passes our proof; how it came to it goes to the notes."""
    found = libraries.lay(name, shapes, seconds)
    if found is None:
        return None
    proved = one(case=case, do="prove", laid=found["laid"])
    if "fault" in proved:
        notes.append(f"{case}: {name}, {seconds:.0f} s: fails the proof: {proved['fault']}")
        return None
    notes.append(
        f"{case}: {name}, {seconds:.0f} s: tightness {proved['tightness']:.3f}, "
        f"{found['seconds']:.1f} s, {found['cpu']:.1f} CPU s, {found['mb']:.0f} MB"
    )
    return proved["length"]


def offcuts(cases: Sequence[tuple[str, int]], efforts: Sequence[str]) -> None:
    head("week", "effort", "offcuts in hand", "used", "new sheets", "of the last mm", "s", "CPU s", "MB")
    for case, kinds in cases:
        for effort in efforts:
            found = one(case=case, do="nest", effort=effort, offcuts=kinds)
            row(
                case, effort, found["offcuts"], found["used"], found["sheets"], f"{found['last']:.1f}",
                f"{found['seconds']:.1f}", f"{found['cpu']:.1f}", f"{found['mb']:.0f}",
            )  # fmt: skip


def scale(cases: Sequence[str], efforts: Sequence[str]) -> None:
    head("pieces", "effort", "tightness", "s", "CPU s", "CPU ms a piece", "MB", "proof CPU s")
    for effort in efforts:
        for case in cases:
            found = one(case=case, do="nest", effort=effort)
            row(
                case, effort, f"{found['tightness']:.4f}", f"{found['seconds']:.1f}", f"{found['cpu']:.1f}",
                f"{1000 * found['cpu'] / int(case):.2f}", f"{found['mb']:.0f}", f"{found['proof_cpu']:.1f}",
            )  # fmt: skip


def main() -> None:
    asked = argparse.ArgumentParser(description="How tight the nest is, and how long it takes.")
    asked.add_argument("tables", nargs="*", metavar="TABLE", help=f"of {', '.join(TABLES)}; else all but scale")
    asked.add_argument("--effort", action="append", choices=EFFORTS, help="may be given more than once; else normal")
    asked.add_argument("--only", action="append", metavar="CASE", help="of the tables' cases only this; more than once")
    asked.add_argument("--with-libraries", action="store_true", help=f"install {' and '.join(NAMES)} for this run")
    given = asked.parse_args()
    tables, efforts = given.tables or ["instances", "weeks", "offcuts"], given.effort or ["normal"]
    if unknown := set(tables) - set(TABLES):
        asked.error(f"no such table: {', '.join(sorted(unknown))}; there are {', '.join(TABLES)}")
    packages = ", ".join(f"{name} {version(name)}" for name in ("stripegen", "shapely", "numpy", "numba"))
    print(f"Python {platform.python_version()}, {packages}; {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    with Libraries() if given.with_libraries else nullcontext() as libraries:
        if libraries:
            print(libraries.versions)
        first = one(case="straight", do="nest", effort="quick")["ready"]
        print(f"ready to nest after {first:.1f} s: tens of seconds where all had to be compiled, which is kept")
        for table in tables:
            cases = [case for case in TABLES[table] if not given.only or case in given.only or case[0] in given.only]
            if table == "offcuts":
                offcuts(cases, efforts)
            elif table == "scale":
                scale(cases, efforts)
            else:
                nests(cases, efforts, libraries)


if __name__ == "__main__":
    main()
