"""The command stock, and the option --stock: what vinyl is in hand, from a file that a maker keeps."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING

import click

from stripegen.cli_options import source_options
from stripegen.cli_output import output
from stripegen.errors import Fault, JobError, Notice, Where

if TYPE_CHECKING:
    from stripegen.spec import Job
    from stripegen.stockspec import InHand
    from stripegen.taken import Taken

MANIFESTS = ("nest.json", "recut.json", "strips.json")
DEFAULT = Path("stock.toml")
HEAD = """\
# The vinyl in hand: rolls, sheets and offcuts. Yours to edit; comments stay. Bare lengths are in these units.
units = "mm"
"""


@dataclass(frozen=True)
class StockFile:
    """A stock file, its text as it was read and what that says; no text: there is no such file yet."""

    path: Path
    text: str | None
    in_hand: InHand

    @classmethod
    def read(cls, path: Path) -> StockFile:
        from stripegen.stockfile import read_stock_text
        from stripegen.stockspec import parse_stock

        text = read_stock_text(path)
        return cls(path, text, parse_stock(text or "", path.name))

    @classmethod
    def there(cls, path: Path, job: Job | None = None) -> StockFile:
        """One that must be there; `job` is the one that names it."""
        found = cls.read(path)
        if found.text is None:
            right = "there is no such file: begin with an empty one, or with what stripegen stock book makes of a result"
            place = (Where(job.file, ""), "stock", f'"{job.stock}"') if job else (Where(str(path), ""), "", "")
            raise JobError(Fault(*place, right))
        return found

    def say_next(self, result: Path) -> None:
        """Tell how a result is booked here."""
        option = [] if self.path == DEFAULT else ["--stock", str(self.path)]
        output().say("Once its sheets are cut, book them:", f"  {shlex.join(['stripegen', 'stock', 'book', str(result), *option])}")


def stock_option(default: str) -> Callable:
    """--stock, as a path or None; what stands in its place is told."""
    return click.option(
        "--stock",
        metavar="FILE",
        type=click.Path(dir_okay=False, path_type=Path),
        help=f"The stock file with the vinyl in hand.  [default: {default}]",
    )


def stocked_job_options(command: Callable) -> Callable:
    """As `job_options`, and --stock: the job is cut of what is in hand; the command gets its `stock` too, or None."""

    @source_options
    @stock_option("the one that the job names")
    @wraps(command)
    def with_stock(source, stock: Path | None, **rest):
        job, found = stocked(source.read(), source.folder, stock)
        return command(job=job, selection=source.selection, stock=found, **rest)

    return with_stock


def stocked(job: Job, folder: Path, given: Path | None) -> tuple[Job, StockFile | None]:
    """A job cut of what the given stock file holds, or the one that the job names; and that file, if there is one."""
    if given is None and job.stock is None:
        return job, None
    from stripegen.stockspec import with_stock

    found = StockFile.there(given) if given else StockFile.there(folder / job.stock, job)
    return with_stock(job, found.in_hand, found.path.name), found


def after_unbooked(job: Job, stock: StockFile, files: Sequence[Path]) -> tuple[Job, list[Notice]]:
    """The job cut of what is left once these results are cut, with a word on those that are not booked yet."""
    from stripegen.booking import book, unbooked
    from stripegen.stockspec import with_stock

    in_hand, notices = stock.in_hand, []
    for file in dict.fromkeys(files):
        taken = _taken(file)
        names = unbooked(in_hand, taken)
        if names:
            in_hand = book(in_hand, taken, names).after
            message = f"{file} is not booked in {stock.path.name} yet: what it takes is counted off for this run alone"
            notices.append(Notice(code="not-booked", message=message))
    return with_stock(job, in_hand, stock.path.name), notices


def _taken(path: Path) -> Taken:
    from stripegen.taken import read_taken

    try:
        data = path.read_bytes()
    except OSError as error:
        raise JobError(Fault(Where(str(path), ""), "", "", f"it can't be read: {error.strerror or error}")) from None
    return read_taken(data, str(path))


@click.group(invoke_without_command=True, short_help="The vinyl in hand, and what a cut result took of it.")
@click.option(
    "--stock",
    metavar="FILE",
    type=click.Path(dir_okay=False, path_type=Path),
    default=DEFAULT,
    show_default=True,
    help="The stock file.",
)
@click.pass_context
def stock(ctx: click.Context, stock: Path) -> None:
    """List the vinyl in hand, as a stock file says it: what is left of rolls, new sheets, offcuts."""
    ctx.obj = stock
    if ctx.invoked_subcommand is not None:
        return
    from stripegen.stocklines import stock_lines, stock_rows

    in_hand = StockFile.there(stock).in_hand
    output().say(*stock_lines(in_hand))
    output().add(stock=stock_rows(in_hand))


@stock.command(short_help="Count a cut result off the vinyl in hand.")
@click.argument("result", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--stock", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path), help="The stock file.  [default: stock.toml]")
@click.option("--only", metavar="SHEET", multiple=True, help="This sheet alone, the others are not cut; may be given several times.")
@click.option("--again", is_flag=True, help="Book it although it is booked already: it was cut once more.")
@click.option("--yes", is_flag=True, help="Do not ask first.")
@click.pass_obj
def book(default: Path, result: Path, stock: Path | None, only: tuple[str, ...], again: bool, yes: bool) -> None:
    """Once the result in DIR is cut: what its sheets took goes from the stock file, what they left worth keeping comes.

    What would change is shown first. Nothing is booked twice. In place of DIR a manifest in it may be named, such as
    DIR/recut.json. The file as it was stays beside it, its name with a ~ after it.
    """
    from stripegen.booking import book, booked_text, unbooked
    from stripegen.stockfile import replace_stock_text

    told = output()
    if not yes and (told.as_json or told.quiet):
        raise click.UsageError("what would change is not shown so: add --yes, or leave out --json and --quiet")
    found = StockFile.read(stock or default)
    taken = _to_book(result, found.in_hand, again)
    names = [sheet.name for sheet in taken.sheets] if again else unbooked(found.in_hand, taken)
    if only:
        known = [sheet.name for sheet in taken.sheets]
        names = [name for name in only if name in names or name not in known]
    if not names:
        told.say(f"{taken.file} is booked in {found.path} already: nothing has changed")
        told.add(booked=[], changes=[])
        return
    booking = book(found.in_hand, taken, names)
    text = booked_text(found.text or HEAD, booking)
    count = len(names)
    told.say(f"{taken.file}, {count} sheet{'' if count == 1 else 's'}: once they are cut, in {found.path}")
    told.say(*(f"  {line}" for line in booking.lines or ("nothing that is counted there: only that it is booked",)))
    if any(each.result == taken.name and each.manifest != taken.sha256 for each in found.in_hand.booked):
        told.warn(Notice(code="another", message=f"another {taken.name} is booked already"))
    if not (yes or click.confirm("Book this?", default=True)):
        told.say("Nothing has changed.")
        return
    replace_stock_text(found.path, found.text, text)
    told.say(f"Booked. {f'As it was before: {found.path}~' if found.text is not None else f'{found.path} is new.'}")
    told.add(booked=names, changes=list(booking.lines))


def _to_book(result: Path, in_hand: InHand, again: bool) -> Taken:
    """The one result that is meant: a manifest, or of a folder the one that has sheets which are not booked yet."""
    from stripegen.booking import unbooked

    if not result.is_dir():
        return _taken(result)
    there = [_taken(result / name) for name in MANIFESTS if (result / name).is_file()]
    if not there:
        raise JobError(Fault(Where(str(result), ""), "", "", f"holds no result: none of {', '.join(MANIFESTS)}"))
    new = there if again else [taken for taken in there if unbooked(in_hand, taken)]
    if len(new) > 1:
        files = " or ".join(taken.file for taken in new)
        raise click.UsageError(f"{result} holds more than one result: name the one that is cut, {files}")
    return new[0] if new else there[0]
