"""What is done with a result that stands in a folder: pieces of it cut again, or left out of a nest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace as replace_in
from functools import partial
from pathlib import Path

import click

from stripegen.cli_completing import MANIFESTS, cut_pieces
from stripegen.cli_output import output
from stripegen.cli_stock import StockFile, after_unbooked, stock_option
from stripegen.cli_telling import end_summary, progress, write_sheets
from stripegen.errors import Fault, JobError, Where


def recut_command(cut_options: Callable) -> click.Command:
    """The command, with the options that it shares with the other commands."""

    @click.command(short_help="Single pieces of a result again.")
    @click.argument("folder", metavar="DIR", type=click.Path(file_okay=False, path_type=Path))
    @click.argument("pieces", metavar="PIECE...", nargs=-1, required=True, shell_complete=cut_pieces)
    @click.option("--longer", metavar="LENGTH", help="Make straight strips longer by so much at each end.")
    @click.option("--margin", metavar="LENGTH", help="Nothing nearer than this to an edge.  [default: as it was]")
    @click.option("--gap", metavar="LENGTH", help="Least distance between pieces.  [default: as it was]")
    @click.option("--new", is_flag=True, help="Of new vinyl alone, no offcuts.")
    @stock_option("what the result left over")
    @click.option("-o", "--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder of the new sheets.  [default: DIR]")
    @click.option("--replace", is_flag=True, help="Replace an earlier recut of other pieces, and files in the way.")
    @cut_options
    def recut(
        folder: Path, pieces, longer, margin, gap, new: bool, stock: Path | None, out: Path | None, replace: bool, options
    ) -> None:
        """New sheets of just those pieces that are named, from the result of nest (or strips) that stands in DIR.

        A PIECE is a piece's id (D-03.1.sash.2), or how ids begin up to a dot (D-03.1: all of cup 1 of D-03); * stands
        for anything. Shapes, vinyl and cutter are those of the result, whatever has become of the job file. Nothing of
        it is touched: the new sheets are recut-VINYL-N. Lengths are in mm, or say their unit.

        They are cut of what the result left over, where they fit on that, else of new vinyl; with --stock of what that file
        has in hand once the result is cut.
        """
        from stripegen.leftovers import shelf_lines
        from stripegen.nest import nest
        from stripegen.proof import prove
        from stripegen.recut import Again, offcut_lines, recut_production
        from stripegen.sheets import lay_out

        lengths = [_length_mm(name, text) for name, text in (("longer", longer), ("margin", margin), ("gap", gap))]
        again = Again(tuple(dict.fromkeys(pieces)), lengths[0] or 0.0, *lengths[1:])
        earlier = _earlier(folder, MANIFESTS)
        production = recut_production(earlier, again, of_offcuts=not (new or stock))
        found = stock and StockFile.there(stock)
        if found:
            production = _of_stock(production, found, Path(earlier.file), new)
        with progress("Nesting") as told:
            sheets = lay_out(production, "recut", partial(nest, effort="normal"), prove, progress=told)
        selection = {
            "from": earlier.sha256,
            "pieces": list(again.pieces),
            "longer": again.longer_mm,
            "margin": again.margin_mm,
            "gap": again.gap_mm,
        }
        folder = folder if out is None else out
        more = {"from": earlier.sha256, "longer": again.longer_mm}
        result = write_sheets("recut", production, sheets, production.job, selection, folder, replace, options, more=more)
        output().say(*(shelf_lines(sheets) if found else offcut_lines(sheets, earlier.file)))
        end_summary("recut", result, production, sheets, folder)
        if found:
            found.say_next(folder / "recut.json")

    return recut


def _of_stock(production, found: StockFile, manifest: Path, new: bool):
    """The production, cut of what is in hand once an earlier result is cut; of offcuts too, unless new vinyl is asked for."""
    job, notices = after_unbooked(production.job, found, [manifest])
    if new:
        job = replace_in(job, offcuts=())
    return replace_in(production, job=job, notices=(*production.notices, *notices))


def _length_mm(option: str, text: str | None) -> float | None:
    from stripegen.tables import show
    from stripegen.units import parse_written_length

    try:
        return None if text is None else parse_written_length(text, "mm")
    except ValueError as error:
        raise click.UsageError(f"--{option}: read {show(text)}; {error}") from None


def left_after(production, selection: dict | None, folders: tuple[Path, ...], out: Path, notices=()) -> tuple:
    """What the results of nest in some folders leave to cut of a production, and how its selection tells of that.

    `notices` are told with those of the production.
    """
    from stripegen.after import left_to_cut

    for folder in folders:
        if folder.resolve() == out.resolve():
            raise click.UsageError(f"--after {folder}: its sheets would go: name another folder with -o")
    earlier = [_earlier(folder, MANIFESTS[:1]) for folder in folders]
    left = left_to_cut(production, earlier)
    left = replace_in(left, notices=(*left.notices, *notices))
    return left, {**(selection or {}), "after": sorted({each.sha256 for each in earlier})}


def _earlier(folder: Path, names: tuple[str, ...]):
    """The result that stands in a folder, the first of these manifests that does."""
    from stripegen.outdir import is_cut_off
    from stripegen.readback import read_back

    for name in names:
        path, command = folder / name, name.removesuffix(".json")
        if is_cut_off(folder, command):
            right = f"a run of stripegen {command} was cut off here, or is at work still: run it again, or wait until it is done"
            raise JobError(Fault(Where(str(folder), ""), "", "", right))
        try:
            data = path.read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            continue
        except OSError as error:
            raise JobError(Fault(Where(str(path), ""), "", "", f"it can't be read: {error.strerror or error}")) from None
        return read_back(data, str(path))
    raise JobError(Fault(Where(str(folder), ""), "", "", f"holds no result: no {' or '.join(names)}"))
