"""Offcuts laid side by side on a carrier mat, never turned, to be cut as one."""

from __future__ import annotations

import math
from collections.abc import Sequence

APART_MM = 2.0  # least distance of offcuts on a mat, so that a blade or a hand's error in one spares the next
_PLACE_MM = 0.1  # places are whole tenths, as a ruler reads

Size = tuple[float, float]  # width and length
Place = tuple[int, float, float]  # which offcut, and its corner x, y on the mat


def fits_mat(size: Size, mat: Size) -> bool:
    return size[0] <= mat[0] and size[1] <= mat[1]


def pack(sizes: Sequence[Size], mat: Size) -> list[list[Place]]:
    """Lay rectangles on as few mats as rows of them take, the longest first; each must fit a mat."""
    mats: list[tuple[list[list[float]], list[Place]]] = []  # each with its rows: x where the next begins, y, length
    for index in sorted(range(len(sizes)), key=lambda index: (-sizes[index][1], -sizes[index][0], index)):
        if not any(_take(rows, places, index, sizes[index], mat) for rows, places in mats):
            mats.append(([], []))
            _take(*mats[-1], index, sizes[index], mat)
    return [places for _, places in mats]


def _take(rows: list[list[float]], places: list[Place], index: int, size: Size, mat: Size) -> bool:
    width, length = size
    for row in rows:
        if row[0] + width <= mat[0] and length <= row[2]:
            places.append((index, row[0], row[1]))
            row[0] = _next(row[0] + width)
            return True
    y = _next(rows[-1][1] + rows[-1][2]) if rows else 0.0
    if y + length > mat[1]:
        return False
    rows.append([_next(width), y, length])
    places.append((index, 0.0, y))
    return True


def _next(end_mm: float) -> float:
    """The first place for an offcut's corner past the end of another."""
    return round(math.ceil((end_mm + APART_MM) / _PLACE_MM - 1e-6) * _PLACE_MM, 1)
