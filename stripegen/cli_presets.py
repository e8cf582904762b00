"""The command `presets`: what there is of cups, patterns and vinyls, and the maker's own among them."""

from __future__ import annotations

import shlex
from pathlib import Path

import click

from stripegen.cli_completing import presets_of, table_names
from stripegen.cli_new import write_whole
from stripegen.cli_output import output
from stripegen.cli_reading import read_text, user_folder
from stripegen.errors import Fault, JobError, Where, WriteError, printable

KINDS = ("cup", "pattern", "vinyl")
TITLES = {"cup": "cups", "pattern": "patterns", "vinyl": "vinyls", "job": "jobs"}
ANY_PRESET = presets_of(*TITLES, files=False)


@click.group(invoke_without_command=True, short_help="The cups, patterns and vinyls that there are.")
@click.pass_context
def presets(ctx: click.Context) -> None:
    """What cups, patterns and vinyls are shipped, and your own, which come before them."""
    if ctx.invoked_subcommand is not None:
        return
    from stripegen.presets import list_presets

    found = list_presets(user_folder())
    by_kind = {title: [preset for preset in found if preset.kind == kind] for kind, title in TITLES.items()}
    output().say(*(_table(title, of_kind) for title, of_kind in by_kind.items() if of_kind))
    output().add(presets=[_row(preset) for preset in found], folder=str(user_folder()))


@presets.command(short_help="Print a preset.")
@click.argument("name", shell_complete=ANY_PRESET)
def show(name: str) -> None:
    """Print the preset NAME (or cups/NAME, patterns/NAME, vinyls/NAME) as it is in its file."""
    preset, text = _found(name)
    told = output()
    told.aside(f"# {_from(preset)}: {preset.file}" if preset.is_users else f"# {preset.file}")
    told.copy(text)
    told.add(preset={**_row(preset), "text": text})


@presets.command(short_help="Save a cup, pattern or vinyl as a preset of your own.")
@click.argument("source", metavar="FILE|PRESET", shell_complete=presets_of(*TITLES))
@click.argument("table", metavar="[TABLE]", required=False, shell_complete=table_names)
@click.option("--as", "new_name", metavar="NAME", help="What the preset is called.  [default: as the table is]")
@click.option("--about", metavar="TEXT", help="What `presets` says of it.  [default: the comment above the table]")
@click.option("--replace", is_flag=True, help="Replace a preset of your own of this name.")
def save(source: str, table: str | None, new_name: str | None, about: str | None, replace: bool) -> None:
    """Save a table of a job as a preset of your own, for all jobs: as it is written there, with its comments and units.

    \b
    stripegen presets save week.toml cup.crew-tall    one table of a job file
    stripegen presets save my-cup.toml                a file that holds one cup, pattern or vinyl
    stripegen presets save sash --as my-sash          a copy of a preset, to change as you like
    """
    from stripegen.presetfile import pictures_in, preset_text, tables_in
    from stripegen.presets import own_file, preset_names, shipped_names

    is_file = source.endswith(".toml")
    text, file = (read_text(Path(source)), Path(source).name) if is_file else _text_and_file(source)
    tables = tables_in(text, file)
    kind, name = _named(table, file) if table else _only(tables, file)
    new_name = name if new_name is None else new_name
    made = preset_text(text, file, kind, name, new_name, about)
    path = own_file(kind, new_name, user_folder())
    twins = [each for each in preset_names(kind, user_folder()) if each != new_name and each.casefold() == new_name.casefold()]
    if twins:
        raise WriteError(f'{path}: "{twins[0]}" differs only in case: name it otherwise with --as')
    if path.exists() and not replace:
        raise WriteError(f"{path}: is there already; name it otherwise with --as, or add --replace to overwrite it")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WriteError(f"{path.parent}: can't be made: {error.strerror or error}") from None
    write_whole(path, made.encode(), replace)
    told = output()
    told.wrote(path.parent, [path.name])
    told.add(preset={"kind": kind, "name": new_name, "file": str(path)})
    told.say(f"The {kind} {new_name} is saved in {printable(path)}")
    if pictures_in(made, kind):
        told.say("Pictures that its panels name are looked for beside each job file: put them there.")
    if new_name in shipped_names(kind):
        told.say(f"It comes before the shipped {kind} of that name, in all jobs that name it.")


@presets.command(short_help="Remove a preset of your own.")
@click.argument("name", shell_complete=presets_of(*TITLES, files=False, own=True))
def remove(name: str) -> None:
    """Remove the preset NAME (or cups/NAME, patterns/NAME, vinyls/NAME) of your own. Shipped ones stay."""
    preset, _ = _found(name)
    if not preset.is_users:
        raise JobError(Fault(Where("presets", ""), "", f'"{name}"', "it is shipped, not your own: it stays"))
    path = Path(preset.file)
    try:
        path.unlink()
    except OSError as error:
        raise WriteError(f"{path}: can't be removed: {error.strerror or error}") from None
    output().say(f"{printable(path)} is removed.")
    if preset.hides_shipped:
        output().say(f"The shipped {preset.kind} of that name holds again: stripegen presets show {shlex.quote(name)}")
    output().add(removed=str(path))


def _found(name: str):
    """A preset that is there and its text; the first of its name where no kind is named."""
    from stripegen.presets import find_preset, list_presets, no_preset

    folder, _, bare = name.rpartition("/")
    for preset in list_presets(user_folder()):
        if preset.name == bare and folder in ("", preset.kind, TITLES[preset.kind]):
            text, _ = find_preset(preset.kind, preset.name, user_folder())
            return preset, text
    raise no_preset(name, user_folder())


def _text_and_file(name: str) -> tuple[str, str]:
    preset, text = _found(name)
    return text, preset.file


def _named(table: str, file: str) -> tuple[str, str]:
    kind, mark, name = table.strip("[]").partition(".")
    if kind not in KINDS or not mark:
        raise JobError(Fault(Where(file, ""), "", f'"{table}"', "name a table such as cup.NAME, pattern.NAME or vinyl.NAME"))
    return kind, name


def _only(tables: list[tuple[str, str]], file: str) -> tuple[str, str]:
    """The one table of a file."""
    if len(tables) != 1:
        named = ", ".join(f"{kind}.{name}" for kind, name in tables)
        right = f"say which table of it to save: {named}" if tables else "it holds no cup, pattern or vinyl"
        raise JobError(Fault(Where(file, ""), "", "", right))
    return tables[0]


def _from(preset) -> str:
    if not preset.is_users:
        return "shipped"
    return "your own, in place of the shipped one" if preset.hides_shipped else "your own"


def _table(title: str, presets: list):
    from stripegen.columns import Columns

    width = max(len(preset.name) for preset in presets)
    rows = [(preset.name, preset.about + (f"  ({_from(preset)})" if preset.is_users else "")) for preset in presets]
    plain = (title, *(f"  {name:{width}}  {about}".rstrip() for name, about in rows))
    return Columns(title=title, rows=tuple(rows), left=(0, 1), plain=plain)


def _row(preset) -> dict:
    return {
        "kind": preset.kind,
        "name": preset.name,
        "about": preset.about,
        "own": preset.is_users,
        "hides_shipped": preset.hides_shipped,
        "file": preset.file,
    }
