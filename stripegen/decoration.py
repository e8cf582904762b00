"""A pattern laid on a cup: every line's strips on the wall and their flat pieces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stripegen.cutting import lay_line
from stripegen.errors import Fault, Figure, GeometryError, JobError, Notice, Where
from stripegen.flat import FlatPiece, lay_flat_each
from stripegen.laid import LaidLine, covers_of
from stripegen.site import KEEPOUT, Site
from stripegen.spec import Cup, Line, Pattern


@dataclass(frozen=True)
class Decoration:
    """`lines` in the pattern's order; `pieces[i]` are the flat pieces of `lines[i]`, in the order of its strips.

    `site` is the cup's own wall; a line with its own resin has its own.
    """

    cup: Cup
    pattern: Pattern
    site: Site
    lines: tuple[LaidLine, ...]
    pieces: tuple[tuple[FlatPiece, ...], ...]
    notices: tuple[Notice, ...]


def decorate(cup: Cup, pattern: Pattern, slits: Mapping[str, int] | None = None) -> Decoration:
    """Lay a pattern on a cup, each stripe of the lines named in `slits` cut as so many strips side by side.

    Raises JobError with every line that can't be laid.
    """
    faults: list[Fault] = []
    laid: dict[str, LaidLine] = {}
    pieces: dict[str, tuple[FlatPiece, ...]] = {}
    notices: list[Notice] = []
    try:
        sites = {None: Site.of(cup, pattern)}
    except GeometryError as error:
        raise JobError(error.fault(cup.where)) from error
    for line in in_lying_order(pattern.lines):
        needed = (*line.under, *line.clear_of)
        if not all(name in laid for name in needed):
            continue  # the line that it needs has a fault of its own
        try:
            if line.resin_mm not in sites:
                sites[line.resin_mm] = Site.of(cup, pattern, line.resin_mm)
            site = sites[line.resin_mm]
            laid[line.name] = lay_line(
                line, site, covers_of(line, site, list(laid.values())), (slits or {}).get(line.name, 1)
            )
            pieces[line.name] = lay_flat_each(laid[line.name].strips)
        except GeometryError as error:
            faults.append(error.fault(where_of(line, pattern), of=f"on cup {cup.name}"))
            laid.pop(line.name, None)
            continue
        notices += _notices(laid[line.name])
    if faults:
        raise JobError(*faults)
    return Decoration(
        cup=cup,
        pattern=pattern,
        site=sites[None],
        lines=tuple(laid[line.name] for line in pattern.lines),
        pieces=tuple(pieces[line.name] for line in pattern.lines),
        notices=tuple(notices),
    )


def in_lying_order(lines: tuple[Line, ...]) -> list[Line]:
    """The lines so that each comes after those that it goes under or keeps clear of, else as listed."""
    waiting, placed = list(lines), []
    while waiting:
        names = {line.name for line in placed}
        ready = next((line for line in waiting if {*line.under, *line.clear_of} <= names), None)
        if ready is None:
            raise ValueError("lines go under each other in a circle")
        waiting.remove(ready)
        placed.append(ready)
    return placed


def where_of(line: Line, pattern: Pattern) -> Where:
    """Where a line was read, or at least which one it is."""
    if line.where.file:
        return line.where
    return Where(pattern.where.file, f'[[pattern.{pattern.name}.line]] "{line.name}"')


def _notices(laid: LaidLine) -> list[Notice]:
    found = []
    if laid.cut_off:
        found.append(_cut_off(laid))
    if laid.dropped:
        bits = _counted(laid.dropped, "one bit", "{} bits")
        found.append(
            Notice(
                code="dropped",
                line=laid.line.name,
                message=f"{bits} of it that would be hidden, or that the cuts leave without any of its centre line, "
                f"{_counted(laid.dropped, 'is', 'are')} dropped",
                figures=(Figure("bits", laid.dropped, ""),),
            )
        )
    return found


def _cut_off(laid: LaidLine) -> Notice:
    reach = [
        name if name == KEEPOUT else f"{name} (by {deep_mm:.1f} mm)" for name, deep_mm in sorted(laid.cut_at.items())
    ]
    strips = _counted(laid.cut_off, "one of its strips is", "{} of its strips are")
    message = f"{strips} cut off at {' and '.join(reach)} in the way"
    if laid.is_opened:
        message += ", so that it does not close round the cup"
    deep = [Figure(name.removeprefix("the "), mm) for name, mm in sorted(laid.cut_at.items()) if name != KEEPOUT]
    return Notice(
        code="ring-open" if laid.is_opened else "cut-off",
        line=laid.line.name,
        message=message,
        figures=(Figure("strips", laid.cut_off, ""), *deep),
    )


def _counted(count: int, one: str, many: str) -> str:
    return one if count == 1 else many.format(count)
