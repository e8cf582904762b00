"""Presets: one file each, the user's own before the shipped ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from stripegen.errors import Fault, JobError, Where
from stripegen.nearmiss import did_you_mean
from stripegen.tables import is_name, show

FOLDERS = {"cup": "cups", "pattern": "patterns", "vinyl": "vinyls", "job": "jobs"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Preset:
    """A preset as it was found. `about` is its file's first comment line, without the mark.

    `hides_shipped`: it is the user's own, and a shipped one has its name.
    """

    kind: str
    name: str
    file: str
    is_users: bool
    about: str = ""
    hides_shipped: bool = False


def shipped_folder() -> Traversable:
    """The folder of shipped presets: package data where installed, else beside the package."""
    package = resources.files("stripegen")
    installed = package / "presets"
    return installed if installed.is_dir() else Path(__file__).parent.parent / "presets"


def find_preset(kind: str, name: str, user_folder: Path | None = None) -> tuple[str, str] | None:
    """Find a preset's text and its file's name for messages; None if there is none.

    A name becomes a path only if it keeps the rule of names, so that it can't lead out of the folder.

    Raises
    ------
    JobError    if the file is there but can't be read as UTF-8 text
    """
    if not is_name(name):
        return None
    for folder in _folders(user_folder):
        file = folder / FOLDERS[kind] / f"{name}.toml"
        shown = _shown_file(file, kind, user_folder)
        try:
            if file.is_file():
                return file.read_text(encoding="utf-8"), shown
        except UnicodeDecodeError:
            raise JobError(Fault(Where(shown, ""), "", "", "must be UTF-8 text")) from None
        except OSError as error:
            raise JobError(Fault(Where(shown, ""), "", "", f"can't be read: {error.strerror}")) from None
    return None


def no_preset(name: str, user_folder: Path | None = None) -> JobError:
    """The fault of asking for a preset of a name, or KIND/NAME, that there is not."""
    kind, mark, bare = name.rpartition("/")
    kinds = [each for each in FOLDERS if not mark or kind in (each, FOLDERS[each])]
    known = [preset for each in kinds for preset in preset_names(each, user_folder)]
    right = f"no preset has this name{did_you_mean(bare, known) or ': see stripegen presets'}"
    if not kinds:
        right = f"no kind of preset has this name, which are {', '.join(FOLDERS)}{did_you_mean(kind, FOLDERS)}"
    return JobError(Fault(Where("presets", ""), "", show(name), right))


def list_presets(user_folder: Path | None = None) -> list[Preset]:
    """Every preset there is, by kind and then name; a user's own hides a shipped one of its name."""
    found = []
    for kind in FOLDERS:
        of_kind: dict[str, Preset] = {}
        for folder in _folders(user_folder):
            for name, file in _files(folder, kind):
                if name in of_kind:
                    of_kind[name] = replace(of_kind[name], hides_shipped=True)
                else:
                    of_kind[name] = Preset(
                        kind=kind,
                        name=name,
                        file=_shown_file(file, kind, user_folder),
                        is_users=folder is user_folder,
                        about=_about(file),
                    )
        found += [of_kind[name] for name in sorted(of_kind)]
    return found


def preset_names(kind: str, user_folder: Path | None = None) -> list[str]:
    """Names of the presets of one kind, without reading their files."""
    return sorted({name for folder in _folders(user_folder) for name, _ in _files(folder, kind)})


def own_names(kind: str, user_folder: Path) -> list[str]:
    """Names of the user's own presets of one kind, without reading their files."""
    return sorted(name for name, _ in _files(user_folder, kind))


def shipped_names(kind: str) -> list[str]:
    """Names of the shipped presets of one kind."""
    return sorted(name for name, _ in _files(shipped_folder(), kind))


def own_file(kind: str, name: str, user_folder: Path) -> Path:
    """Where a preset of the user's own stands, or would stand."""
    if not is_name(name):
        raise ValueError(f"not a preset's name: {name!r}")
    return user_folder / FOLDERS[kind] / f"{name}.toml"


def _files(folder: Traversable, kind: str) -> Iterator[tuple[str, Traversable]]:
    """The preset files of one kind in one folder, with their names. A folder that can't be read has none."""
    try:
        entries = list((folder / FOLDERS[kind]).iterdir())
    except OSError:
        return
    for file in entries:
        name = file.name.removesuffix(".toml")
        if name != file.name and is_name(name) and file.is_file():
            yield name, file


def _folders(user_folder: Path | None) -> list[Traversable]:
    return [shipped_folder()] if user_folder is None else [user_folder, shipped_folder()]


def _shown_file(file: Traversable, kind: str, user_folder: Path | None) -> str:
    is_users = user_folder is not None and isinstance(file, Path) and file.is_relative_to(user_folder)
    return str(file) if is_users else f"shipped preset {FOLDERS[kind]}/{file.name}"


def _about(file: Traversable) -> str:
    try:
        first = file.read_text(encoding="utf-8-sig").lstrip().partition("\n")[0]
    except (OSError, UnicodeDecodeError):
        return "(can't be read)"  # told in full when a job needs it; the others are listed all the same
    return first.lstrip("# ").rstrip() if first.startswith("#") else ""
