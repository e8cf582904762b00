"""Short marks for pieces: those that are cut alike of one vinyl share one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

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


@dataclass(frozen=True)
class Marked:
    """What has one mark: how many pieces, how wide and long, and whose they are, a text for each order."""

    mark: str
    vinyl: str
    count: int
    width_mm: float
    length_mm: float
    owners: tuple[str, ...]


def marked(pieces: Sequence[Piece], marks: Mapping[str, str]) -> list[Marked]:
    """What each mark stands for among some pieces, A first."""
    by_mark: dict[str, list[Piece]] = {}
    for piece in pieces:
        by_mark.setdefault(marks[piece.id], []).append(piece)
    return [
        Marked(mark, own[0].vinyl, len(own), own[0].flat.width_mm, own[0].flat.cut_mm, tuple(_owners(own)))
        for mark, own in sorted(by_mark.items(), key=lambda each: (len(each[0]), each[0]))
    ]


def _owners(pieces: Sequence[Piece]) -> list[str]:
    """Whose the pieces are: "D-03 sash.1-2 cups 1-4; sash.1 spare 1"; pieces of a line that all the same cups have are told
    together."""
    # order -> (is a spare, line) -> number -> cups, or the spares' own numbers
    orders: dict[str, dict[tuple[bool, str], dict[int, set[int]]]] = {}
    for piece in pieces:
        numbers = orders.setdefault(piece.order, {}).setdefault((piece.spare_no > 0, piece.line), {})
        numbers.setdefault(int(piece.id.rpartition(".")[2]), set()).add(piece.spare_no or piece.cup_no)
    found = []
    for order, lines in orders.items():
        by_cups: dict[str, list[str]] = {}
        for (is_spare, line), numbers in lines.items():
            alike: dict[tuple[int, ...], list[int]] = {}
            for number, cups in numbers.items():
                alike.setdefault(tuple(sorted(cups)), []).append(number)
            for cups, own in alike.items():
                whose = f"spare {_ranges(cups)}" if is_spare else _cups_text(cups)
                by_cups.setdefault(whose, []).append(f"{line}.{_ranges(sorted(own))}")
        found.append(f"{order} " + "; ".join(f"{', '.join(names)} {cups}" for cups, names in by_cups.items()))
    return found


def _cups_text(cups: Sequence[int]) -> str:
    return f"cup{'' if len(cups) == 1 else 's'} {_ranges(cups)}"


def _ranges(numbers: Sequence[int]) -> str:
    """Sorted numbers as "1-4, 7"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][1] == number - 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{first}" if first == last else f"{first}-{last}" for first, last in runs)
