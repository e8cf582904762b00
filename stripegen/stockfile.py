"""A stock file on the disk: read, and replaced as a whole, so that it is never half written or lost.

The new text is written beside it and renamed into its place. The file that is written beside it is the lock too: of two
runs at once the second stops. What was saved in the meantime, by a hand or a run, is never overwritten. The text as it
was before stands beside it then, its name with a ~ after it.
"""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from pathlib import Path

from stripegen.errors import Fault, JobError, Where, WriteError
from stripegen.holding import take_lock

LARGEST_BYTES = 5_000_000
_WINDOWS = os.name == "nt"


def read_stock_text(path: Path) -> str | None:
    """The text of a stock file, every byte of it; None if there is none. Raises JobError where it can't be read."""

    def fault(right: str) -> JobError:
        return JobError(Fault(Where(str(path), ""), "", "", right))

    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise fault(f"it can't be read: {error.strerror or error}") from None
    if len(data) > LARGEST_BYTES:
        raise fault(f"a stock file may have {LARGEST_BYTES // 1_000_000} MB; is this one?")
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        raise fault(f"it must be UTF-8 text; byte {error.start + 1} is not") from None


def replace_stock_text(path: Path, before: str | None, after: str) -> None:
    """Put a text in the place of the one that was read, None where there was no file.

    Raises WriteError, and leaves the file as it is, if it has changed since, another run is writing it, or the disk refuses.
    """
    try:
        _replace(path, before, after)
    except OSError as error:
        if isinstance(error, WriteError):
            raise
        raise WriteError(f"{path}: can't be written: {error.strerror or error}; it is as it was") from error


def _replace(path: Path, before: str | None, after: str) -> None:
    path = path.resolve()  # of a link the file is replaced, not the link
    new = path.with_name(f".{path.name}.new")
    lock = take_lock(new, f"{path}: another run is writing it: wait until it is done")
    if lock is None:
        raise WriteError(f"{path}: another run has just written it: run this again")
    done = False
    try:
        _fill(lock, after)
        if read_stock_text(path) != before:
            raise WriteError(f"{path}: it has been changed meanwhile: run this again")
        if before is not None:
            shutil.copymode(path, new)
            _keep_old(path, before)
        if _WINDOWS:  # which renames no open file
            os.close(lock)
            lock = None
        os.replace(new, path)
        done = True
    finally:
        if not done:
            with suppress(OSError):
                new.unlink()
        if lock is not None:
            os.close(lock)


def _fill(file: int, text: str) -> None:
    """Write a text, and nothing else, into an open file, down to the disk."""
    os.ftruncate(file, 0)
    data = text.encode()
    while data:
        data = data[os.write(file, data) :]
    os.fsync(file)


def _keep_old(path: Path, text: str) -> None:
    """The text as it was, beside the file, whole at any time."""
    kept, new = path.with_name(f"{path.name}~"), path.with_name(f".{path.name}~.new")
    with new.open("wb") as file:
        file.write(text.encode())
        file.flush()
        os.fsync(file.fileno())
    os.replace(new, kept)
