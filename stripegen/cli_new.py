"""The command `new`: asks, checks and writes a first job file."""

from __future__ import annotations

import os
import shlex
import sys
from contextlib import suppress
from pathlib import Path

import click

from stripegen.cli_completing import presets_of
from stripegen.cli_completing import vinyls as vinyl_names
from stripegen.cli_output import output
from stripegen.errors import WriteError, printable

EPILOG = """Example: stripegen new week.toml

For a script: stripegen new week.toml --girth 14:268 --girth 140:203 --wall 153 --yes"""


@click.command(short_help="A first job file, asking for the measures.", epilog=EPILOG)
@click.argument("job", metavar="JOB", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--units", type=click.Choice(["mm", "cm", "in"]), help="Of numbers without a unit.  [default: mm]")
@click.option(
    "--girth",
    "girths",
    metavar="DOWN:GIRTH",
    multiple=True,
    help='Twice, the upper first: how far down the tape lay, and what it read, such as "14:268".',
)
@click.option("--wall", metavar="LENGTH", help="Rim to base along the outside.")
@click.option("--resin", metavar="LENGTH", help="On the wall already.  [default: 0]")
@click.option("--rim-clearance", metavar="LENGTH", help="What stays bare at the rim.  [default: 12 mm or 1/2 in]")
@click.option("--base-clearance", metavar="LENGTH", help="What stays bare at the base.  [default: 6 mm or 1/4 in]")
@click.option("--cup", metavar="NAME", shell_complete=presets_of("cup"), help="A preset, in place of measures.")
@click.option("--pattern", metavar="NAME", shell_complete=presets_of("pattern"), help="A preset.")
@click.option(
    "--vinyl",
    "vinyls",
    metavar="[ROLE=]NAME",
    multiple=True,
    shell_complete=vinyl_names,
    help="A preset for every role, or ROLE=NAME for each.",
)
@click.option("--quantity", type=click.IntRange(1), help="How many cups.  [default: 1]")
@click.option("--id", "order_id", metavar="ID", help="The order's.")
@click.option("--yes", is_flag=True, help="Ask nothing: take what is usual for all that is not given but the measures.")
@click.option("--replace", is_flag=True, help="Replace the file if there is one.")
def new(
    job: Path, units, girths, vinyls, cup, pattern, quantity, order_id, yes: bool, replace: bool, **lengths
) -> None:
    """A first job file: asks for the measures of a cup in the order in which you take them, then for pattern and vinyl.

    Each answer is checked at once. What is given as an option is not asked; where no one can be asked (a script),
    everything must be given, or --yes.
    """
    figures = {key: text for key, text in lengths.items() if text is not None}
    if cup is not None and (girths or figures):
        raise click.UsageError("give --cup, or measures in its place, not both")
    _refuse_in_the_way(job, replace)
    from stripegen.asking import Options, ask_job
    from stripegen.cli_reading import finders, user_folder
    from stripegen.newjob import new_job
    from stripegen.presets import list_presets

    options = Options(
        units=units,
        girths=girths,
        figures=figures,
        cup=cup,
        pattern=pattern,
        vinyls=vinyls,
        id=order_id,
        quantity=None if quantity is None else str(quantity),
        takes_defaults=yes,
    )
    finders = finders()
    told = output()
    ask = None if yes or told.as_json or not sys.stdin.isatty() else _ask
    made = {}

    def prove(answers) -> None:
        made["text"], parsed = new_job(answers, job.name, **finders)
        _prove(parsed)

    ask_job(options, list_presets(user_folder()), finders["find_preset"], prove, ask, click.echo if ask else told.say)
    write_whole(job, made["text"].encode(), replace)
    named = printable(shlex.quote(str(job)))
    told.wrote(job.parent, [job.name])
    told.say(
        f"{printable(job)} is written. Open it in an editor to change it or to add orders. Next:",
        f"  stripegen check {named}                # what would go wrong, and how sure the measures are",
        f"  stripegen preview {named} -o out/look  # what it will look like",
        f"  stripegen nest {named} -o out/cut      # the cut files",
    )


def _ask(prompt: str, default: str | None) -> str:
    return click.prompt(prompt, default=default)


def _prove(job) -> None:
    """Make every piece and find room for it, as `check` does."""
    from stripegen.nest import lay_to_check
    from stripegen.production import produce
    from stripegen.proof import prove
    from stripegen.sheets import lay_out

    lay_out(produce(job), "strips", lay_to_check, prove)


def _refuse_in_the_way(path: Path, replace: bool) -> None:
    if not path.parent.is_dir():
        raise WriteError(f"{path}: there is no folder {path.parent}")
    if not os.access(path.parent, os.W_OK):
        raise WriteError(f"{path}: the folder {path.parent} may not be written to")
    if os.path.lexists(path) and not replace:
        raise WriteError(f"{path}: is there already; name another file, or add --replace to overwrite it")


def write_whole(path: Path, data: bytes, replace: bool) -> None:
    """Write a file whole or not at all: beside its place first, then renamed into it."""
    target = Path(os.path.realpath(path))  # what a link leads to is replaced, not the link
    new_file = target.with_name(f".{target.name[:100]}.{os.getpid()}.new")
    try:
        with new_file.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        _refuse_in_the_way(path, replace)
        os.replace(new_file, target)
    except WriteError:
        raise
    except OSError as error:
        raise WriteError(f"{path}: can't be written: {error.strerror or error}") from None
    finally:
        with suppress(OSError):
            new_file.unlink()
