"""A sheet's marks as a pen draws them on the pieces before they are cut: strokes alone, in the cut file's own frame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stripegen.cutforms import scaled
from stripegen.drawing import Drawing, cut_drawing
from stripegen.errors import Notice
from stripegen.keymarks import HEIGHTS_MM, Label, inside_labels
from stripegen.sheets import Sheet
from stripegen.spec import Cutter

PEN_HEIGHTS_MM = (*HEIGHTS_MM, 1.5, 1.2)


@dataclass(frozen=True)
class PenFile:
    """The marks of a sheet, and the pieces that are too narrow for one."""

    name: str
    width_mm: float
    length_mm: float
    labels: tuple[Label, ...]
    unmarked: tuple[str, ...]
    scale: tuple[float, float]

    def numbered(self, numbers_per_mm: float = 1.0) -> Drawing:
        """Each mark one path, named after its piece, in other units than millimetres."""
        paths = (
            (label.piece, [scaled(stroke, *self.scale) for stroke in (*label.letters, *label.arrow)]) for label in self.labels
        )
        return cut_drawing(self.width_mm, self.length_mm, paths, numbers_per_mm)


def pen_file(sheet: Sheet, marks: Mapping[str, str], cutter: Cutter) -> PenFile:
    """The pen file of a sheet. For a vinyl that is cut from its back the marks lie where its pieces do, to be read there."""
    labels, narrow = inside_labels(sheet.placed, marks, PEN_HEIGHTS_MM)
    if sheet.vinyl.cut_from_back:
        labels = [label.mirrored(sheet.width_mm) for label in labels]
    unmarked = tuple(placed.piece.id for placed, _ in narrow)
    return PenFile(sheet.name, sheet.width_mm, sheet.length_mm, tuple(labels), unmarked, cutter.scale)


def pen_notices(pens: Sequence[PenFile]) -> tuple[Notice, ...]:
    """What the maker should know of pen files: on which pieces nothing is drawn."""
    return tuple(
        Notice(
            code="no-pen-mark",
            message=f"{pen.name}-pen has no mark on {len(pen.unmarked):,} pieces too narrow for one, {pen.unmarked[0]} the first: "
            "see the key",
        )
        for pen in pens
        if pen.unmarked
    )
