"""Look for texts on which stripegen fails, guided by which of its code each text reaches. Needs `pip install atheris`.

python tests/bench/fuzz.py COUNT [--grown] [--whole | --sheet] [--seed N] [--found FOLDER] [--corpus FOLDER]

COUNT texts are made of the presets, the README's jobs and drawn ones by changing them as bytes; with --grown each is a job that
is drawn as a whole, sound or broken (tests/jobtexts.py); with --sheet they are sheets of orders in CSV instead. Each is read as a job; with --whole what is sound and has few pieces is
laid out too, and its files are made in memory. A text fails if it raises anything but an error told in printable lines,
takes more than 10 s of a processor, or touches the disk. Failures are counted by where they happen and printed with
the shortest text that makes each; the exit status is then 1.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

import atheris

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

# What numba compiles can't be counted; reading order needs none of it.
with atheris.instrument_imports(include=["stripegen", "tomllib"], exclude=["stripegen.compiled"]):
    import fuzzing
    import jobtexts

    import stripegen.production
    import stripegen.results
    import stripegen.sheets
    import stripegen.shelf  # noqa: F401

MOST_SECONDS = 10.0
MOST_BYTES = 3_000_000_000
TOUCHING = ("os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink", "shutil.copyfile", "subprocess.Popen")


SHEET = b"Order no,Cup,Qty,Due\nA-1,Tall one,2,2027-05-14\nA-2,tall-tapered,1,\n"


class TooLong(BaseException):
    """Raised in the middle of a text that takes too long; nothing may catch it."""


class Watch:
    """Runs texts, counts how each ends, and keeps the shortest text of every kind of failure."""

    def __init__(self, whole: bool, found: Path | None):
        self.found = found
        self.whole = fuzzing.is_cheap if whole else None
        self.ends: Counter = Counter()
        self.failures: dict[str, tuple[str, str]] = {}
        self.counts: Counter = Counter()
        self.slowest = 0.0
        self.running = False
        self.touched: list[str] = []
        sys.addaudithook(self._hook)
        signal.signal(signal.SIGPROF, self._too_long)

    def _hook(self, event: str, args: tuple) -> None:
        if self.running and (event in TOUCHING or event == "open" and args[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)):
            self.touched.append(f"{event} {args[0]!r}")

    def _too_long(self, *_: object) -> None:
        raise TooLong

    def run(self, text: str, sheet: bytes | None = None) -> None:
        began, self.touched, self.running = time.process_time(), [], True
        signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
        try:
            if sheet is None:
                self.ends[fuzzing.try_text(text, self.whole)] += 1
            else:
                self.ends["parsed" if fuzzing.parsed(text, sheet) else "refused"] += 1
                text = repr(sheet)
            if self.touched:
                self._fail(text, "touches the disk", self.touched[0])
        except TooLong:
            self._fail(text, "takes too long", "".join(traceback.format_exc(limit=-8)))
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what we look for
            frames = traceback.extract_tb(error.__traceback__)
            ours = [f"{Path(frame.filename).name}:{frame.lineno}" for frame in frames if "stripegen" in frame.filename]
            told = re.sub(r"\d+", "#", str(error))[:60]
            self._fail(text, f"{type(error).__name__} {told} at {', '.join(ours[-2:])}", "".join(traceback.format_exc(limit=-6)))
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
            self.running = False
        seconds = time.process_time() - began
        if seconds > self.slowest:
            self.slowest = seconds
            if self.found and seconds > MOST_SECONDS / 5:
                self._keep("slowest", text)

    def _keep(self, name: str, text: str) -> None:
        self.found.mkdir(parents=True, exist_ok=True)
        (self.found / f"{name}.toml").write_text(text, encoding="utf-8")

    def _fail(self, text: str, kind: str, more: str) -> None:
        self.ends["failed"] += 1
        self.counts[kind] += 1
        if kind not in self.failures:
            print(f"failure {len(self.failures) + 1}: {kind}", flush=True)
        if kind not in self.failures or len(text) < len(self.failures[kind][0]):
            self.failures[kind] = (text, more)
            if self.found:
                self._keep(str(1 + [*self.failures].index(kind)), text)

    def report(self, seconds: float) -> None:
        ends = ", ".join(f"{count:,} {end}" for end, count in self.ends.most_common())
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
        print(f"\n{self.ends.total():,} texts in {seconds:.0f} s: {ends}; slowest {self.slowest:.1f} s of a processor, {peak_mb:.0f} MB")
        for number, (kind, (text, more)) in enumerate(self.failures.items(), 1):
            print(f"\n{number}. {self.counts[kind]} times: {kind}\n{more}\n--- {len(text)} characters\n{text[:3000]}\n---")


def seeds() -> list[str]:
    """The texts to begin with: every preset, the README's tables of jobs, and a job of the tests."""
    from conftest import JOB

    presets = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "presets").glob("*/*.toml"))]
    orders = "\n".join(
        f'[[order]]\nid = "{number}"\ncup = "tall-tapered"\npattern = "{path.stem}"\nvinyl = "matt-black"\n'
        for number, path in enumerate(sorted((ROOT / "presets" / "patterns").glob("*.toml")))
    )
    blocks = re.findall(r"```toml\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    return [JOB, orders, *blocks, *(block + JOB.replace("[[", "\n[[", 1) for block in blocks), *(text + orders for text in presets)]


def words() -> list[str]:
    """Words for the fuzzer to put in: keys, and what keys may say."""
    return sorted({word for text in seeds() for word in re.findall(r"\[*[\w.-]+\]* ?=?|\"[^\"\n]*\"", text) if 1 < len(word) < 40})


def quoted(word: str) -> str:
    """A word as the fuzzer's dictionary has it."""
    return "".join(chr(byte) if 32 <= byte < 127 and byte not in b'"\\\\' else f"\\x{byte:02x}" for byte in word.encode())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int)
    parser.add_argument("--grown", action="store_true")
    parser.add_argument("--whole", action="store_true")
    parser.add_argument("--sheet", action="store_true")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--found", type=Path, help="a folder for the texts that fail")
    parser.add_argument("--corpus", type=Path, help="a folder that keeps texts which reach new code, for the next run")
    asked = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    if asked.whole:
        fuzzing.laid(fuzzing.parsed(seeds()[0]))  # what is loaded at first use looks for its libraries
    watch, began = Watch(asked.whole, asked.found), time.perf_counter()

    def from_bytes(data: bytes) -> None:
        if asked.sheet:
            watch.run(jobtexts.SHEET_JOB, data)
        else:
            watch.run(data.decode("utf-8", errors="replace"))

    test = from_bytes
    if asked.grown:
        from hypothesis import HealthCheck, given, settings

        @settings(max_examples=1, database=None, deadline=None, suppress_health_check=list(HealthCheck))
        @given(jobtexts.sheets() if asked.sheet else jobtexts.hopeful_texts() if asked.whole else jobtexts.job_texts())
        def grown(drawn: str | bytes) -> None:
            watch.run(jobtexts.SHEET_JOB, drawn) if asked.sheet else watch.run(drawn)

        test = grown.hypothesis.fuzz_one_input

    def until_enough(data: bytes) -> None:
        test(data)
        if watch.ends.total() >= asked.count:
            watch.report(time.perf_counter() - began)
            sys.stdout.flush()
            os._exit(bool(watch.failures))  # the fuzzer would go on for ever

    with tempfile.TemporaryDirectory() as folder:
        corpus, dictionary = asked.corpus or Path(folder, "corpus"), Path(folder, "words")
        corpus.mkdir(parents=True, exist_ok=True)
        options = [f"-seed={asked.seed}", "-timeout=100000", f"-artifact_prefix={folder}/", "-rss_limit_mb=0", "-max_len=12000", "-len_control=0", "-verbosity=0"]
        rng = random.Random(asked.seed)
        begin_with = [rng.randbytes(9000) for _ in range(100)] if asked.grown else [SHEET] if asked.sheet else [text.encode() for text in seeds()]
        for number, data in enumerate(begin_with):
            (corpus / f"seed-{number}").write_bytes(data)
        if not asked.grown:
            dictionary.write_text("".join(f'"{quoted(word)}"\n' for word in words()))
            options.append(f"-dict={dictionary}")
        child = os.fork()  # the fuzzer ends its own process, and the folder is to go
        if child == 0:
            atheris.Setup([sys.argv[0], *options, str(corpus)], until_enough)
            atheris.Fuzz()
        sys.exit(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))


if __name__ == "__main__":
    main()
