"""Short marks for pieces: those that are cut alike of one vinyl share one."""

from __future__ import annotations

from collections.abc import Iterable

from stripegen.production import Piece

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # no I and no O, which are read as figures


def marks_of(pieces: Iterable[Piece]) -> dict[str, str]:
    """Each piece's id -> its mark: A, B, ... in the order of the first piece of each shape and vinyl."""
    shapes: dict[tuple, str] = {}
    found = {}
    for piece in pieces:
        shape = piece.vinyl, *piece.flat.cut_points
        if shape not in shapes:
            shapes[shape] = nth_mark(len(shapes))
        found[piece.id] = shapes[shape]
    return found


def nth_mark(number: int) -> str:
    """The marks in order, from 0: A to Z, then AA and so on."""
    mark = ""
    number += 1
    while number:
        number, place = divmod(number - 1, len(LETTERS))
        mark = LETTERS[place] + mark
    return mark
