"""General packing libraries beside ours: installed for one run of the bench, in an environment of their own."""

from __future__ import annotations

import json
import subprocess
import tempfile
import venv
from pathlib import Path
from typing import Any, Self

NAMES = ("rectpack", "spyrrow")
_RUNNER = Path(__file__).with_name("library_runner.py")
_AT_MOST_S = 1800


class Libraries:
    """The libraries, and what they lay; as a context: what was installed is gone after it."""

    def __init__(self) -> None:
        self.folder = tempfile.TemporaryDirectory(prefix="bench-nest-")
        builder = venv.EnvBuilder(with_pip=True)
        builder.create(self.folder.name)
        self.python = builder.ensure_directories(self.folder.name).env_exe
        pip = [self.python, "-m", "pip", "--quiet", "--disable-pip-version-check"]
        subprocess.run([*pip, "install", *NAMES], check=True)
        frozen = subprocess.run([*pip, "freeze"], check=True, capture_output=True, text=True).stdout
        self.versions = ", ".join(line.replace("==", " ") for line in frozen.split() if line.startswith(NAMES))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.folder.cleanup()

    def lay(self, name: str, shapes: dict[str, Any], seconds: float) -> dict[str, Any] | None:
        """What the runner writes; None where the library fails or takes half an hour."""
        command = [self.python, "-I", str(_RUNNER), name, f"{seconds:.1f}"]
        try:
            done = subprocess.run(
                command, input=json.dumps(shapes), capture_output=True, text=True, check=True, timeout=_AT_MOST_S
            )
        except (subprocess.CalledProcessError, subprocess.TimeoutExpired) as error:
            print(f"{name}: {type(error).__name__}: {str(error.stderr)[-300:]}", flush=True)
            return None
        return json.loads(done.stdout)
