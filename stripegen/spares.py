"""What is cut of an order beyond its cups: spare strips, so many of each that is cut alike, or of each unit as a whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Protocol

from stripegen.flat import FlatPiece
from stripegen.spec import Line, Vinyl
from stripegen.together import Unit

PLACES = 6  # of a unit's poses: what differs by less is cut alike


class Held(Protocol):
    """The unit in which a piece is, and which of its members it is."""

    id: str
    unit: Unit
    number: int


class Made(Protocol):
    """A piece of every cup of an order; `line` has the names of all its lines, joined by dots."""

    line: str
    vinyl: Vinyl
    flat: FlatPiece
    unit: Held | None


def spares_of(made: Sequence[Made], lines: Mapping[str, Line]) -> Iterator[tuple[int, int]]:
    """Which pieces of one cup are cut again as spares: the number of the spare, from 1, and that of the piece.

    Of pieces of one line that are cut alike the first stands for all. A line's own `spare` holds, else its vinyl's; of a
    unit, or a piece of several lines, the largest.
    """
    bundles: dict[object, list[int]] = {}
    for number, piece in enumerate(made):
        bundles.setdefault(piece.unit.id if piece.unit else number, []).append(number)
    distinct: dict[tuple, list[int]] = {}
    for numbers in bundles.values():
        distinct.setdefault(_shape([made[number] for number in numbers]), numbers)
    counts = [(max(_count(made[number], lines) for number in numbers), numbers) for numbers in distinct.values()]
    for spare in range(1, max((count for count, _ in counts), default=0) + 1):
        for count, numbers in counts:
            if spare <= count:
                yield from ((spare, number) for number in numbers)


def _count(piece: Made, lines: Mapping[str, Line]) -> int:
    own = (lines[name].spare for name in piece.line.split("."))
    return max(piece.vinyl.spare if spare is None else spare for spare in own)


def _shape(pieces: Sequence[Made]) -> tuple:
    """What is equal of pieces, or units, that are cut alike for the same lines."""
    held = pieces[0].unit
    poses = [tuple(round(value, PLACES) for value in held.unit.poses[piece.unit.number]) for piece in pieces] if held else []
    return tuple(poses), *((piece.line, piece.vinyl.name, piece.flat.cut_points) for piece in pieces)
