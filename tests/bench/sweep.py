"""Lay random patterns on random cups: each is laid soundly or refused in one line a fault.

python tests/bench/sweep.py COUNT [FIRST_SEED]
"""

from __future__ import annotations

import re
import sys
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from soundness import unsound
from strategies import random_case

from stripegen.decoration import decorate
from stripegen.errors import JobError


def told_badly(error: JobError) -> list[str]:
    """What is wrong with how an error tells its faults."""
    messages = [str(fault) for fault in error.faults]
    found = [f"not one line: {text!r}" for text in messages if "\n" in text or not text.strip()]
    found += [
        f"a number that says nothing: {text!r}" for text in messages if re.search(r"\b(nan|inf|None)\b", text)
    ]
    return found if messages else ["no fault told"]


def try_case(seed: int, most_lines: int = 4) -> tuple[list[str], list[str]]:
    """What is wrong with a random case, and the faults for which it was rightly refused."""
    cup, pattern = random_case(seed, most_lines)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            laid = decorate(cup, pattern)
    except JobError as error:
        return told_badly(error), [fault.right for fault in error.faults]
    except Exception:  # noqa: BLE001 - whatever else it raises is what a sweep looks for
        return [traceback.format_exc(limit=-6)], []
    return unsound(laid), []


def sweep(count: int, first: int = 0, most_lines: int = 4) -> list[tuple[int, list[str]]]:
    """The seeds, of so many, whose cases come out wrong, and how."""
    found = [(seed, try_case(seed, most_lines)[0]) for seed in range(first, first + count)]
    return [(seed, wrong) for seed, wrong in found if wrong]


def main() -> None:
    count, first = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    times, refused, wrong_seeds = [], Counter(), 0
    for seed in range(first, first + count):
        began = time.perf_counter()
        wrong, faults = try_case(seed)
        times.append((time.perf_counter() - began, seed))
        refused.update(re.sub(r"[-\d.]+", "#", re.sub("^on cup [^,]*, ", "", fault)) for fault in faults)
        if wrong:
            wrong_seeds += 1
            print(f"seed {seed}:", *wrong[:3], sep="\n  ")
    print(f"{count} cases, {wrong_seeds} wrong, {sum(t for t, _ in times):.1f} s")
    print("slowest:", ", ".join(f"seed {seed} {seconds:.2f} s" for seconds, seed in sorted(times)[:-9:-1]))
    for fault, number in refused.most_common():
        print(f"{number:6} {fault}")


if __name__ == "__main__":
    main()
