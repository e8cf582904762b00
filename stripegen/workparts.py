"""Which pieces are parts of one strip that was too long for its vinyl, and how far each laps over the one before."""

from __future__ import annotations

import math
from collections.abc import Sequence

from stripegen.production import Piece

SAME_MM = 1e-6


def parts_of(pieces: Sequence[Piece]) -> dict[str, tuple[tuple[int, int], float]]:
    """Of pieces that are parts of one strip, told one after the other: which of how many, and the lap on the one before."""
    found: dict[str, tuple[tuple[int, int], float]] = {}
    run: list[tuple[Piece, float]] = []

    def close() -> None:
        if len(run) > 1:
            found.update({piece.id: ((n, len(run)), lap) for n, (piece, lap) in enumerate(run, 1)})

    for piece in pieces:
        lap_mm = _lap_mm(run[-1][0], piece) if run else None
        if lap_mm is None:
            close()
            run.clear()
        run.append((piece, lap_mm or 0.0))
    close()
    return found


def _lap_mm(before: Piece, after: Piece) -> float | None:
    """How far a piece begins before the end of another, on its centre line; None if it does not run on from it."""
    if before.line != after.line or before.unit or after.unit:
        return None
    first = after.flat.strip.middle[0]
    place = after.flat.start
    left_mm = 0.0
    for edge in reversed(before.flat.strip.middle):
        low, high = sorted((edge.t0, edge.t1))
        length_mm = edge.curve.length_mm(edge.t0, edge.t1)
        if edge.curve == first.curve and low - SAME_MM <= first.t0 <= high + SAME_MM:
            goes_on = (first.t1 - first.t0) * (edge.t1 - edge.t0) > 0 and first.t0 != edge.t0
            return left_mm + edge.curve.length_mm(first.t0, edge.t1) if goes_on else None
        left_mm += length_mm
    end = before.flat.end
    return 0.0 if math.dist(place, end) < SAME_MM else None
