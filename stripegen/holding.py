"""One run at a time in a folder: a folder of the run's own inside it, with a lock that dies with its process."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from stripegen.errors import WriteError

_LOCK = ".lock"
_WINDOWS = os.name == "nt"


def work_folder(folder: Path, command: str) -> Path:
    """The folder that a command's runs hold inside the one they write into."""
    return folder / f".stripegen-{command}"


@contextmanager
def held(folder: Path, command: str) -> Iterator[Path]:
    """The command's own folder inside this one, held against other runs; at the end it goes, if it is empty.

    The lock dies with its process. A run that ends removes the lock file and the folder, and another may have
    opened the file just before: so a lock counts only if its file is still the one that its name stands for.
    """
    work = work_folder(folder, command)
    busy = f"{folder}: another run of stripegen {command} is writing here: wait until it is done"
    lock = None
    for _ in range(1000):
        with suppress(FileExistsError):
            work.mkdir()
        if work.is_symlink():
            break
        try:
            lock = take_lock(work / _LOCK, busy)
        except (FileNotFoundError, NotADirectoryError):  # another run has just removed the folder
            continue
        except OSError:
            with suppress(OSError):
                work.rmdir()
            raise
        if lock is not None:
            break
    if lock is None:
        raise WriteError(f"{work}: is not a folder of stripegen's own: move it away")
    try:
        yield work
    finally:
        # Removed while it is held, or another run could lock the file in between and lose it. Windows removes
        # no open file: there it is let go first, and stays if another run has opened it in between.
        if _WINDOWS:
            os.close(lock)
        try:
            with suppress(OSError):
                (work / _LOCK).unlink()
                work.rmdir()
        finally:
            if not _WINDOWS:
                os.close(lock)


def take_lock(path: Path, busy: str) -> int | None:
    """A lock file, open and locked; None if another run has removed it meanwhile. Raises WriteError if another has it."""
    file = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
    held = False
    try:
        _lock(file)
        held = os.path.samestat(os.fstat(file), os.stat(path))
    except FileNotFoundError:
        pass
    except (BlockingIOError, PermissionError):
        raise WriteError(busy) from None
    finally:
        if not held:
            os.close(file)
    return file if held else None


def _lock(file: int) -> None:
    """Lock an open file, or raise BlockingIOError or PermissionError at once if another has."""
    if _WINDOWS:
        import msvcrt

        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
