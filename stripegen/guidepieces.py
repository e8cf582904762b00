"""The pieces of one cup as its paper guide shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stripegen.decoration import Decoration
from stripegen.pictures import in_painting_order
from stripegen.production import Piece
from stripegen.shapes import Shape


@dataclass(frozen=True, slots=True)
class Marked:
    """A piece as the guide shows it: its mark and where it lies on the cup's own wall."""

    mark: str
    piece: Piece
    shape: Shape


def marked_pieces(decoration: Decoration, pieces: Sequence[Piece], marks: dict[str, str]) -> list[Marked]:
    """The pieces of one cup, each before those that lie over it."""
    rank = {line.name: n for n, line in enumerate(in_painting_order([laid.line for laid in decoration.lines]))}
    known: dict[int, list[Shape]] = {}

    def carried(first: Shape) -> list[Shape]:
        return [first.carried(decoration.site.wall)]

    found = [
        Marked(marks[piece.id], piece, piece.flat.strip.shape.as_first(carried, known)[0]) for piece in pieces
    ]
    # a piece made of several lines that cross has all their names
    return sorted(found, key=lambda each: max(rank[name] for name in each.piece.line.split(".")))
