"""Writing a result into a folder so that no half of it passes for the whole, and nothing else is touched.

A run of ``stripegen nest`` holds the folder ``.stripegen-nest`` inside the folder it writes to. There it puts
``names.json``, then every file of the result, then a second hold (a hard link or a copy) on every file that
the result replaces. Only then are the files renamed into place, one by one, the manifest last; then those of
an earlier result that this one lacks are removed; last the folder goes. A manifest holds the sha256 of every
other file, so at whatever point a run is cut off, the manifest that stands fits its files or shows that it
does not. The next run takes the folder over. A run that fails puts back what it had replaced.

``names.json`` maps each name that may be ours to the sha256 of each file of ours that may stand under it. So
a file that someone else puts there after a run was killed, or one that the run never came to replace, is
theirs.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

from stripegen.errors import WriteError
from stripegen.holding import held, work_folder

MANIFEST_FORMAT = "stripegen-manifest"
MANIFEST_VERSION = 1
_NAMES_FORMAT = "stripegen-names"
_NAMES = "names.json"
_NEW_NAMES = ".names.json.new"
_KEPT = ".kept"


def sha256_of(files: Mapping[str, bytes]) -> dict[str, str]:
    """Each name with the sha256 of its bytes, as a manifest's ``files`` holds them."""
    return {name: hashlib.sha256(data).hexdigest() for name, data in sorted(files.items())}


def write_result(
    folder: Path | str,
    command: str,
    files: Mapping[str, bytes],
    manifest_name: str,
    *,
    job: str,
    selection: object,
    replace: bool,
) -> None:
    """Write a command's whole result into a folder, or leave the folder as it was.

    Parameters
    ----------
    folder : made if it is not there
    command : the command's name, such as ``"nest"``; results of different commands share a folder in peace
    files : plain file names with their bytes, the manifest among them
    manifest_name : such as ``"nest.json"``
    job, selection : what the result is of, as in its manifest
    replace : whether files of others that are in the way, and another job's or selection's result, may go

    Raises
    ------
    WriteError    if something would be lost, another run is writing there, or the disk refuses
    """
    for name in (command, manifest_name, *files):
        if not is_plain(name):
            raise ValueError(f"not a plain file name: {name!r}")
    if manifest_name not in files:
        raise ValueError(f"the manifest {manifest_name!r} is not among the files")
    if len({name.casefold() for name in files}) < len(files):
        raise ValueError(f"names that differ only in case: {sorted(files)}")
    folder = Path(folder)
    made: list[Path] = []
    try:
        _make(folder, made)
        with held(folder, command) as work:
            run = _Run(folder, work, command, files, manifest_name)
            run.check(job, json.loads(json.dumps(selection)), replace)
            run.write()
    except BaseException as error:
        for path in reversed(made):
            with suppress(OSError):
                path.rmdir()
        if isinstance(error, OSError) and not isinstance(error, WriteError):
            _refused(folder, error)
        raise


def is_plain(name: object) -> bool:
    """Whether a name can be that of one of our files, right inside a folder, on every system."""
    return (
        isinstance(name, str)
        and 0 < len(name) <= 255
        and name.isprintable()
        and not name.startswith(".")
        and not name.endswith((".", " "))
        and name.casefold() != _NAMES
        and not any(mark in name for mark in '/\\:*?"<>|')
    )


def is_cut_off(folder: Path, command: str) -> bool:
    """Whether a run was cut off there, or is at work still, so that the standing manifest may not fit the files."""
    return os.path.lexists(work_folder(folder, command) / _NAMES)


def _refused(folder: Path, error: OSError, so: str = "is as it was") -> NoReturn:
    path = error.filename2 or error.filename or folder
    reason = (error.strerror or str(error) or type(error).__name__).splitlines()[0]
    raise WriteError(f"{os.fsdecode(path)}: can't be written: {reason}; {folder} {so}") from error


def _make(folder: Path, made: list[Path]) -> None:
    """Make the folder and those above it, noting each one made."""
    for path in (*reversed(folder.parents), folder):
        if os.path.isdir(path):
            continue
        if os.path.lexists(path):
            raise WriteError(f"{path}: is not a folder: name one to write into")
        with suppress(FileExistsError):  # another run may make it at the same time
            path.mkdir()
            made.append(path)


class _Run:
    """One run that holds its folder: what it may touch, and the steps of writing."""

    def __init__(self, folder: Path, work: Path, command: str, files: Mapping[str, bytes], manifest: str):
        self.folder, self.work, self.kept = folder, work, work / _KEPT
        self.command, self.files, self.manifest_name = command, files, manifest
        self.taken_over = _read_names(work / _NAMES)
        self.standing: set[str] = set()  # what the standing manifest names
        self.ours: set[str] = set()  # what stands in the folder and may be replaced or removed
        self.lacking: list[str] = []  # those of them that the result lacks

    def check(self, job: str, selection: object, replace: bool) -> None:
        """Find what in the folder is ours; refuse what would lose something, unless it may be replaced."""
        if self.kept.is_symlink() or (self.kept.exists() and not self.kept.is_dir()):
            raise WriteError(f"{self.kept}: is not a folder of stripegen's own: move it away")
        path = self.folder / self.manifest_name
        manifest = self._manifest(path)
        if manifest is not None:
            self.standing = {self.manifest_name, *filter(is_plain, manifest["files"])}
            if (manifest["job"], manifest["selection"]) != (job, selection) and not replace:
                raise WriteError(
                    f"{self.folder}: holds the result of stripegen {self.command} for "
                    f"{_which(manifest['job'], manifest['selection'])}, which may still be in use: "
                    "name another folder, or add --replace to remove it"
                )
        elif _is_file(path) and not replace:
            raise WriteError(
                f"{path}: is no manifest of stripegen {self.command} that this version can read: "
                "move it away, or add --replace to overwrite it"
            )
        for name in self.taken_over.keys() | self.standing:
            path = self.folder / name
            if _is_file(path) and (name in self.standing or _sha256(path) in self.taken_over[name]):
                self.ours.add(name)
        self.lacking = sorted(name for name in self.ours if not self._alike(name, self.files))
        in_the_way = [name for name in sorted(self.files) if os.path.lexists(self.folder / name)]
        for name in in_the_way:
            if not _is_file(self.folder / name):
                raise WriteError(f"{self.folder / name}: is not a file: move it away")
        strangers = [name for name in in_the_way if not self._alike(name, self.ours)]
        if strangers and not replace:
            more = f" (and {len(strangers) - 1} more)" if len(strangers) > 1 else ""
            raise WriteError(
                f"{self.folder / strangers[0]}{more}: was not written by stripegen {self.command}: "
                "move it away, name another folder, or add --replace to overwrite it"
            )

    def write(self) -> None:
        """Put the result in place of what is ours; on any failure put everything back."""
        claims = self._claims()
        moved: list[str] = []
        kept: list[str] = []
        try:
            self._stage(claims)
            self._keep(kept)
            self._move(moved)
            for name in self.lacking:
                (self.folder / name).unlink(missing_ok=True)
        except BaseException as error:
            if self._put_back(moved, kept):
                self._clear(claims, leave_names=bool(self.taken_over))
            elif isinstance(error, OSError):
                _refused(self.folder, error, "could not be put back as it was: run it again")
            raise
        self._clear(claims)

    def _claims(self) -> dict[str, list[str]]:
        """Each name that the standing manifest, a killed run and this result hold, with our files' sha256."""
        claims = {name: set(shas) for name, shas in self.taken_over.items()}
        for name in self.standing | self.ours:
            claims.setdefault(name, set())
        for name in self.ours:
            claims[name].add(_sha256(self.folder / name))
        for name, sha in sha256_of(self.files).items():
            claims.setdefault(name, set()).add(sha)
        return {name: sorted(shas - {None}) for name, shas in sorted(claims.items())}

    def _manifest(self, path: Path) -> dict | None:
        """The standing manifest, if it is one of this command that we understand."""
        try:
            manifest = json.loads(path.read_bytes()) if path.is_file() else None
        except (FileNotFoundError, ValueError, RecursionError):
            return None
        known = (
            isinstance(manifest, dict)
            and manifest.get("format") == MANIFEST_FORMAT
            and type(manifest.get("version")) is int
            and manifest["version"] == MANIFEST_VERSION
            and manifest.get("command") == self.command
            and isinstance(manifest.get("files"), dict)
            and {"job", "selection"} <= manifest.keys()
        )
        return manifest if known else None

    def _alike(self, name: str, names: Iterable[str]) -> bool:
        """Whether it is one of the names, or the disk takes it for one, as for Sheet-1 and sheet-1."""
        if name in names:
            return True
        others = (other for other in names if other.casefold() == name.casefold())
        return any(_same(self.folder / name, self.folder / other) for other in others)

    def _stage(self, claims: dict[str, list[str]]) -> None:
        """Write names.json, whole or not at all, then every file of the result."""
        names = {"format": _NAMES_FORMAT, "version": 1, "names": claims}
        _write(self.work / _NEW_NAMES, json.dumps(names, indent=1).encode())
        os.replace(self.work / _NEW_NAMES, self.work / _NAMES)
        for name, data in self.files.items():
            _write(self.work / name, data)
        _sync(self.work)

    def _keep(self, kept: list[str]) -> None:
        """Hold a second name for every file that will be replaced or removed."""
        self.kept.mkdir(exist_ok=True)
        for name in (*self.files, *self.lacking):
            path = self.folder / name
            if _is_file(path):
                _link(path, self.kept / name)
                kept.append(name)

    def _move(self, moved: list[str]) -> None:
        for name in sorted(self.files, key=lambda name: (name == self.manifest_name, name)):
            if name == self.manifest_name:
                _sync(self.folder)  # a power cut must not keep the manifest and lose what it vouches for
            moved.append(name)
            os.replace(self.work / name, self.folder / name)
        _sync(self.folder)

    def _put_back(self, moved: list[str], kept: list[str]) -> bool:
        """Undo what was renamed and removed; False if the disk would not have it."""
        whole = True
        for name in moved:
            if name not in kept and not os.path.lexists(self.work / name):
                whole &= _done(os.unlink, self.folder / name)
        for name in kept:
            try:
                os.replace(self.kept / name, self.folder / name)
            except OSError:  # no loss if it was never replaced, as a file that can't be
                whole &= _sha256(self.kept / name) == _sha256(self.folder / name) is not None
        return whole

    def _clear(self, names: Iterable[str], leave_names: bool = False) -> None:
        """Remove from our own folder what runs put there; names.json last, and only if all else is gone."""
        places = [place / name for name in (_NEW_NAMES, *names) for place in (self.work, self.kept)]
        gone = [_done(os.unlink, path) or path.is_dir() for path in places]  # a folder is no run's
        gone.append(_done(os.rmdir, self.kept))
        if all(gone) and not leave_names:
            _done(os.unlink, self.work / _NAMES)


def _read_names(path: Path) -> dict[str, list[str]]:
    """What a killed run's names.json claims; nothing, if there is none that can be read."""
    with suppress(FileNotFoundError, ValueError, RecursionError, TypeError, LookupError, AttributeError):
        names = json.loads(path.read_bytes() if path.is_file() else b"")["names"]
        return {name: list(shas) for name, shas in names.items() if is_plain(name)}
    return {}


def _which(job: object, selection: object) -> str:
    name = job if isinstance(job, str) and job.isprintable() and job else "another job"
    return name if selection is None else f"a selection of {name}"


def _is_file(path: Path) -> bool:
    return path.is_symlink() or path.is_file()


def _same(path: Path, other: Path) -> bool:
    with suppress(OSError):
        return os.path.samefile(path, other)
    return False


def _sha256(path: Path) -> str | None:
    """A file's sha256; None for a link, which no run of ours has put there."""
    with suppress(OSError):
        return None if path.is_symlink() else hashlib.sha256(path.read_bytes()).hexdigest()
    return None


def _done(remove: Callable[[Path], None], path: Path) -> bool:
    """Whether a file or folder is gone."""
    try:
        remove(path)
    except FileNotFoundError:
        return True
    except OSError:
        return False
    return True


def _write(path: Path, data: bytes) -> None:
    path.unlink(missing_ok=True)
    with open(path, "xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _link(path: Path, second: Path) -> None:
    """Give a file a second name, or copy it where the disk has no links."""
    second.unlink(missing_ok=True)
    if not path.is_symlink():
        with suppress(OSError):
            os.link(path, second)
            return
    shutil.copy2(path, second, follow_symlinks=False)


def _sync(folder: Path) -> None:
    """See that renames reach the disk, where a folder can be opened for that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
