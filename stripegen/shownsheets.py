"""Where each piece lies on its sheet, to be shown: of a layout, or of an earlier nest's manifest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stripegen.production import Piece
from stripegen.sheets import Sheet


@dataclass(frozen=True)
class ShownSheet:
    """A sheet and what lies on it: each piece's id, its turn in degrees and its place."""

    name: str
    vinyl: str
    width_mm: float
    length_mm: float
    placed: tuple[tuple[str, float, float, float], ...]


def shown_sheets(sheets: Sequence[Sheet]) -> list[ShownSheet]:
    """The sheets of a layout."""
    return [
        ShownSheet(
            sheet.name,
            sheet.vinyl.name,
            sheet.width_mm,
            sheet.length_mm,
            tuple(
                (placed.piece.id, placed.placement.turn_deg, placed.placement.dx_mm, placed.placement.dy_mm)
                for placed in sheet.placed
            ),
        )
        for sheet in sheets
    ]


def sheets_of_manifest(
    manifest: object, pieces: Sequence[Piece], others_too: bool = False
) -> list[ShownSheet] | None:
    """The sheets of a manifest; None where it does not hold these pieces, each of the same shape and vinyl.

    Nor may it hold others, unless they may be there too.
    """
    try:
        rows = {row["id"]: row for row in manifest["pieces"]}
        ids = {piece.id for piece in pieces}
        if not ids <= set(rows) or (len(ids) < len(rows) and not others_too):
            return None
        if not all(_is_of(rows[piece.id], piece) for piece in pieces):
            return None
        return [
            ShownSheet(
                str(sheet["name"]),
                str(sheet["vinyl"]),
                float(sheet["width"]),
                float(sheet["length"]),
                tuple(_place(rows[piece_id]) for piece_id in sheet["pieces"]),
            )
            for sheet in manifest["sheets"]
        ]
    except (KeyError, TypeError, ValueError, IndexError):
        return None


def _is_of(row: Mapping, piece: Piece) -> bool:
    return row["vinyl"] == piece.vinyl and tuple(map(tuple, row["outline"])) == piece.flat.cut_points[0]


def _place(row: Mapping) -> tuple[str, float, float, float]:
    place = row["placement"]
    return str(row["id"]), float(place["turn"]), float(place["move"][0]), float(place["move"][1])
