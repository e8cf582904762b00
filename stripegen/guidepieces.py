"""A piece as a paper guide shows it."""

from __future__ import annotations

from dataclasses import dataclass

from stripegen.production import Piece
from stripegen.shapes import Shape


@dataclass(frozen=True, slots=True)
class Marked:
    """A piece of one cup: its mark and where it lies on the cup's own wall."""

    mark: str
    piece: Piece
    shape: Shape
