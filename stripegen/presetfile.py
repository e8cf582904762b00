"""One table of a job's text as the text of a preset's file: as it was written, with its comments, its unit and its name."""

from __future__ import annotations

import re
from itertools import pairwise

from stripegen.errors import Fault, JobError, Where
from stripegen.nearmiss import did_you_mean
from stripegen.shelf import READERS, Shelf, Source, load_toml
from stripegen.tables import NAME_MEANING, is_name, show
from stripegen.units import UNITS

_HEADER = re.compile(r"\s*\[")


def tables_in(text: str, file: str) -> list[tuple[str, str]]:
    """Kind and name of each cup, pattern and vinyl in a file, such as ("cup", "crew-tall"). Raises JobError."""
    values = load_toml(text, file)
    kinds = [(kind, values[kind]) for kind in READERS if isinstance(values.get(kind), dict)]
    return [(kind, name) for kind, tables in kinds for name in tables]


def preset_text(text: str, file: str, kind: str, name: str, new_name: str, about: str | None = None) -> str:
    """The text of a preset's file that holds one table of another file's text.

    Parameters
    ----------
    text, file : the job's or preset's text, and its name for messages
    kind, name : which table of it, "cup" and "crew-tall" for [cup.crew-tall]
    new_name : what the preset is called
    about : the line that begins the file; None: the comment right above the table, that of a file which holds nothing
        else, or where it is from

    Raises
    ------
    JobError    where there is no such table, it is not written as one, or the readers of jobs find fault with it
    """
    values = load_toml(text, file)
    where = Where(file, f"[{kind}.{name}]")
    tables = values.get(kind)
    if not isinstance(tables, dict) or name not in tables:
        known = [each for _, each in tables_in(text, file)]
        raise JobError(Fault(where, "", "", f"the file has no such table{did_you_mean(name, known)}"))
    if not is_name(new_name):
        raise JobError(Fault(where, "", show(new_name), f"a preset's name must be {NAME_MEANING}"))
    unit = values.get("units", "mm")
    if unit not in UNITS:
        raise JobError(Fault(Where(file, ""), "units", show(unit), f"must be one of {', '.join(UNITS)}"))
    text = text.removeprefix("\ufeff")
    above, own = _cut_out(text, kind, name, new_name)
    if len(tables_in(text, file)) == 1 and {*values} <= {"units", kind}:
        above = _head_of(text)
    if about is not None:
        above = [f"# {' '.join(about.split())}", *above[1:]]
    head = above or [f"# From {' '.join(file.split())}"]
    made = "\n".join([*head, "", f'units = "{unit}"', "", *own]) + "\n"
    if not _holds(made, {"units": unit, kind: {new_name: tables[name]}}):
        raise JobError(Fault(where, "", "", f"can't be taken out of its file: write all of it below a line [{kind}.{name}]"))
    check_preset(made, kind, where.file)
    return made


def pictures_in(text: str, kind: str) -> list[str]:
    """The pictures that a sound preset names, by their places beside a job file."""
    (table,) = load_toml(text, "")[kind].values()
    panels = table.get("panels", []) if kind == "cup" else []
    return [panel["image"] for panel in panels if "image" in panel]


def check_preset(text: str, kind: str, file: str) -> None:
    """Raise JobError where a file's text is no sound preset of this kind."""
    faults: list[Fault] = []
    Shelf(kind, faults, lambda *_: None, lambda _: ()).add_source(Source(text, file))
    if faults:
        raise JobError(*dict.fromkeys(faults))


def _cut_out(text: str, kind: str, name: str, new_name: str) -> tuple[list[str], list[str]]:
    """The lines of a table and those within it, by its new name, and the comment right above it.

    Only a guess, by the look of lines: what it gives must be compared with what the table holds.
    """
    lines = text.splitlines()
    own_header = re.compile(rf"""(\s*\[{{1,2}}\s*["']?{kind}["']?\s*\.\s*)(["']?){re.escape(name)}\2(?=\s*[.\]])""")
    starts = [number for number, line in enumerate(lines) if _HEADER.match(line)] + [len(lines)]
    above: list[str] = []
    own: list[str] = []
    for start, stop in pairwise(starts):
        if not own_header.match(lines[start]):
            continue
        comment = _comment_above(lines, start)
        body = lines[start:stop]
        body[0] = own_header.sub(rf"\g<1>{new_name}", body[0], count=1)
        if stop < len(lines):
            following = _comment_above(lines, stop)
            body = body[: len(body) - len(following)] if following else body
        body = _without_tail(body)
        if own:
            own += ["", *comment, *body]
        else:
            above, own = comment, body
    return above, own


def _head_of(text: str) -> list[str]:
    """The comments with which a file begins, as far as the first line that is neither comment nor empty."""
    head: list[str] = []
    for line in text.splitlines():
        if line.strip() and not line.lstrip().startswith("#"):
            break
        head.append(line)
    while head and not head[-1].strip():
        head.pop()
    while head and not head[0].strip():
        head.pop(0)
    return head


def _comment_above(lines: list[str], start: int) -> list[str]:
    """The comment lines that stand right above a line."""
    first = start
    while first > 0 and lines[first - 1].lstrip().startswith("#"):
        first -= 1
    return lines[first:start]


def _without_tail(lines: list[str]) -> list[str]:
    """Lines without the empty ones at their end, and without comments that stand apart there: they lead to what follows."""
    last = len(lines)
    while last > 1 and (not lines[last - 1].strip() or lines[last - 1].lstrip().startswith("#")):
        last -= 1
    while last < len(lines) and lines[last].lstrip().startswith("#"):  # right below the last key: its own
        last += 1
    return lines[:last]


def _holds(text: str, values: object) -> bool:
    try:
        return load_toml(text, "") == values
    except JobError:
        return False


