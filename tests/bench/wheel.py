"""Build the wheel, install it alone in a clean environment of each Python that is named, and run every command there.

python tests/bench/wheel.py [PYTHON ...]      such as python3.11 python3.12 python3.13; this Python if none is named
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PROJECT = Path(__file__).parents[2]
ONE_CUP = ["--cup", "tall-tapered", "--pattern", "seam-stripes", "--vinyl", "brushed-gold"]
NEW_JOB = ["--girth", "14:268", "--girth", "140:203", "--wall", "153", "--pattern", "sash", "--vinyl", "navy-blue"]

# Every command in an order in which each finds what it needs.
RUNS = [
    ["presets"],
    ["presets", "show", "tall-tapered"],
    ["presets", "save", "sash", "--as", "my-sash"],
    ["presets", "remove", "my-sash"],
    ["completion", "bash"],
    ["keys"],
    ["schema"],
    ["new", "week.toml", *NEW_JOB, "--yes"],
    ["check", "week.toml"],
    ["strips", "week.toml", "-o", "strips"],
    ["preview", "week.toml", "-o", "week"],
    ["nest", "week.toml", "-o", "week", "--effort", "quick", "--pen", "--one-pdf"],
    ["guide", "week.toml", "-o", "week"],
    ["recut", "week", "*.1.*"],
    ["stock", "book", "week/nest.json", "--yes"],
    ["stock"],
    ["nest", *ONE_CUP, "-o", "one", "--effort", "quick"],
]

# The commands there are, groups by their parts, as the installed package has them.
LISTED = """
import click, json
from stripegen.cli import main
def leaves(command, path):
    parts = getattr(command, "commands", {})
    own = [path] if not parts or command.invoke_without_command else []
    return own + [leaf for name, part in parts.items() for leaf in leaves(part, [*path, name])]
print(json.dumps(leaves(main, [])))
"""


def run(*command: object, **more) -> subprocess.CompletedProcess:
    return subprocess.run([str(part) for part in command], check=True, capture_output=True, text=True, **more)


def clean_environment(folder: Path) -> dict[str, str]:
    """The machine's environment without what could lend the wheel a package or a preset."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV", "XDG_"))}
    return kept | {"HOME": str(folder), "NUMBA_CACHE_DIR": str(folder / "compiled")}


def try_wheel(wheel: Path, python: str, folder: Path) -> list[tuple[str, float]]:
    """The seconds of every command in a fresh environment of this Python. Raises where one fails or is left out."""
    env = clean_environment(folder)
    run(python, "-m", "venv", folder / "venv", env=env)
    own_python = folder / "venv" / "bin" / "python"
    run(own_python, "-m", "pip", "install", "-q", wheel, env=env)
    listed = json.loads(run(own_python, "-c", LISTED, cwd=folder, env=env).stdout)
    left_out = [" ".join(path) for path in listed if not any(given[: len(path)] == path for given in RUNS)]
    if left_out:
        raise SystemExit(f"no run of: {', '.join(left_out)}")
    times = []
    for given in RUNS:
        began = time.perf_counter()
        try:
            run(folder / "venv" / "bin" / "stripegen", *given, cwd=folder, env=env)
        except subprocess.CalledProcessError as error:
            raise SystemExit(f"stripegen {' '.join(given)}: status {error.returncode}\n{error.stderr}") from None
        is_part = given[0] in ("presets", "stock")
        times.append((" ".join(given[: 2 if is_part else 1]), time.perf_counter() - began))
    return times


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        run(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", folder, PROJECT)
        [wheel] = Path(folder).glob("*.whl")
        print(wheel.name, f"{wheel.stat().st_size / 1e6:.2f} MB")
        for number, python in enumerate(sys.argv[1:] or [sys.executable]):
            own = Path(folder, str(number))
            own.mkdir()
            times = try_wheel(wheel, python, own)
            version = run(python, "--version").stdout.strip()
            print(f"{version}: every command ran;", ", ".join(f"{name} {seconds:.1f} s" for name, seconds in times))


if __name__ == "__main__":
    main()
