"""What commands read: jobs, presets, pictures, and the nest that stands in a folder."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import click

from stripegen.cli_output import output
from stripegen.errors import Fault, JobError, Notice, StripegenError, Where, printable

LARGEST_JOB_BYTES = 5_000_000


@dataclass(frozen=True)
class Source:
    """Where a job comes from: `read` reads and checks it, as often as it is asked; its pictures lie in `folder`.

    `selection` are the options that stand in place of a job file, or that take some of its orders alone. `path` is the
    job file, `sheets` the files that it named when it was last read.
    """

    read: Callable
    folder: Path
    selection: dict | None = None
    path: Path | None = None
    sheets: list[Path] = field(default_factory=list)

    @property
    def files(self) -> list[Path]:
        """The files that it is read from, the maker's own presets among them."""
        given = [self.path] if self.path else []
        if self.selection and not self.path:
            names = [self.selection["cup"], self.selection["pattern"], *self.selection["vinyl"]]
            given = [Path(name.rpartition("=")[2]) for name in names if name.endswith(".toml")]
        return [*given, *self.sheets, *sorted(user_folder().glob("*/*.toml"))]


def user_folder() -> Path:
    return Path(click.get_app_dir("stripegen")) / "presets"


def finders() -> dict[str, Callable]:
    from stripegen.presets import find_preset, preset_names

    folder = user_folder()
    return {
        "find_preset": lambda kind, name: find_preset(kind, name, folder),
        "preset_names": lambda kind: preset_names(kind, folder),
    }


def read_text(path: Path) -> str:
    try:
        data = read_bytes(path, "a job file")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        right = f"it must be UTF-8 text; byte {error.start + 1} is not"
    except ValueError as error:
        right = str(error)
    raise JobError(Fault(Where(str(path), ""), "", "", right))


def read_bytes(path: Path, what: str) -> bytes:
    """What is in a file of the maker's, no larger than such a file may be. Raises ValueError where it can't be read."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_JOB_BYTES + 1)
    except FileNotFoundError:
        raise ValueError(f"there is no such file{_near(path)}") from None
    except OSError as error:
        raise ValueError(f"it can't be read: {error.strerror or error}") from None
    if len(data) > LARGEST_JOB_BYTES:
        raise ValueError(f"{what} may have {LARGEST_JOB_BYTES // 1_000_000} MB; is this one?")
    return data


def _near(path: Path) -> str:
    """A hint at the file beside it that was meant, where one has nearly its name."""
    from stripegen.nearmiss import did_you_mean

    try:
        return did_you_mean(path.name, [each.name for each in path.parent.iterdir()])
    except OSError:
        return ""


def read_job(path: Path, chosen=None, sheets: list[Path] | None = None):
    """A job file, or of its orders those `chosen`; the sheets of orders that it names are put into `sheets`."""
    from stripegen.jobfile import parse_job

    named: list[Path] = [] if sheets is None else sheets
    named.clear()

    def read_file(name: str) -> bytes:
        named.append(path.parent / name)
        return read_bytes(named[-1], "a sheet of orders")

    job = parse_job(read_text(path), path.name, **finders(), read_file=read_file)
    return chosen.of(job) if chosen else job


def one_order(cup: str, pattern: str, vinyl: tuple[str, ...], quantity: int):
    from stripegen.jobfile import one_order_job, split_vinyl_options
    from stripegen.shelf import Source

    def given(name: str):
        path = Path(name)
        return Source(read_text(path), path.name) if path.suffix == ".toml" else name

    try:
        bound = split_vinyl_options(vinyl)
    except ValueError as error:
        raise click.UsageError(f"--vinyl {error}") from None
    vinyls = given(bound) if isinstance(bound, str) else {role: given(name) for role, name in bound.items()}
    return one_order_job(
        cup=given(cup), pattern=given(pattern), vinyl=vinyls, quantity=quantity, **finders()
    )


def panels_of(job) -> list:
    return [panel for each in (*job.cups.values(), *job.orders) for panel in each.panels]


def read_artworks(job, folder: Path) -> dict:
    """The pictures that the panels of a job name, from the folder of the job file."""
    named = {panel.image: panel.where for panel in reversed(panels_of(job)) if panel.image}
    if not named:
        return {}
    from stripegen.artwork import LARGEST_BYTES, read_artwork

    found, faults = {}, []
    for name, where in named.items():
        try:
            with (folder / name).open("rb") as file:
                found[name] = read_artwork(file.read(LARGEST_BYTES + 1))
        except OSError as error:
            right = f"it can't be read: {error.strerror or error}{_near(folder / name)}"
            faults.append(Fault(where, "panels image", f'"{name}"', right, ("image",)))
        except ValueError as error:
            faults.append(Fault(where, "panels image", f'"{name}"', str(error), ("image",)))
    if faults:
        raise JobError(*faults)
    return found


def nested_in(out: Path, production, others_too: bool = False) -> list | None:
    """The sheets of the nest that stands in a folder, if it is of these very pieces, or of others too."""
    import json

    from stripegen.outdir import is_cut_off
    from stripegen.shownsheets import sheets_of_manifest

    if is_cut_off(out, "nest"):
        message = f"the nest in {printable(out)} was cut off, or is at work still: nest again to see where the pieces lie"
        output().warn(Notice(code="other-nest", message=message))
        return None
    try:
        found = sheets_of_manifest(json.loads((out / "nest.json").read_bytes()), production.pieces, others_too)
    except OSError:
        return None
    except (ValueError, RecursionError):
        found = None
    if found is None:
        message = f"the nest in {printable(out)} is not of these pieces: nest again to see where they lie"
        output().warn(Notice(code="other-nest", message=message))
    return found


def sheets_to_show(out: Path, production) -> tuple[list, str]:
    """The sheets of the nest that stands in a folder, if it is of these pieces, else in reading order; and which of them."""
    from stripegen.pagedata import MOST_SHOWN
    from stripegen.proof import prove
    from stripegen.reading import lay_in_reading_order
    from stripegen.sheets import lay_out
    from stripegen.shownsheets import shown_sheets

    nested = nested_in(out, production)
    if nested is not None:
        return nested, "As nested in this folder."
    if len(production.pieces) > MOST_SHOWN:
        return [], f"With more than {MOST_SHOWN:,} pieces the sheets are left out here."
    try:
        sheets = lay_out(production, "strips", lay_in_reading_order, prove)
    except StripegenError as error:
        return [], f"Not laid out: {str(error).splitlines()[0]}"
    return shown_sheets(sheets), "In reading order, before they are nested; nest into this folder first to see them nested."
