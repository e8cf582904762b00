"""Offcuts laid side by side on a carrier mat, never turned, to be cut as one."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

APART_MM = 2.0  # least distance of offcuts on a mat, so that a blade or a hand's error in one spares the next
_ROUNDING_MM = 1e-7
_PLACE_MM = 0.1  # places are whole tenths, as a ruler reads

Size = tuple[float, float]  # width and length
Box = tuple[float, float, float, float]  # x, y, width, length
Place = tuple[int, float, float]  # which offcut, and its corner x, y on the mat


def fits_mat(size: Size, mat: Size) -> bool:
    return size[0] <= mat[0] and size[1] <= mat[1]


def pack(sizes: Sequence[Size], mat: Size) -> list[list[Place]]:
    """Lay rectangles on mats, the longest first, each as near to a mat's beginning as it goes; each must fit a mat."""
    mats: list[list[Place]] = []
    for index in sorted(range(len(sizes)), key=lambda index: (-sizes[index][1], -sizes[index][0], index)):
        for places in mats:
            corner = _corner(sizes[index], [(x, y, *sizes[other]) for other, x, y in places], mat)
            if corner:
                places.append((index, *corner))
                break
        else:
            mats.append([(index, 0.0, 0.0)])
    return mats


def _corner(size: Size, others: Sequence[Box], mat: Size) -> tuple[float, float] | None:
    """Where a rectangle may lie beside or below others; None: nowhere."""
    ends = [(x, y, _next(x + width), _next(y + length)) for x, y, width, length in others]
    corners = {place for x, y, right, below in ends for place in ((right, y), (right, 0.0), (x, below), (0.0, below))}
    corners = [(x, y) for x, y in corners if x + size[0] <= mat[0] and y + size[1] <= mat[1]]
    if not corners:
        return None
    corners.sort(key=lambda corner: corner[::-1])
    x, y = np.array(corners).T[:, :, None]
    left, top, right, below = np.array(ends).T
    next_x, next_y = (x + size[0] + APART_MM - _ROUNDING_MM, y + size[1] + APART_MM - _ROUNDING_MM)
    clash = (x < right) & (left < next_x) & (y < below) & (top < next_y)
    free = np.flatnonzero(~clash.any(axis=1))
    return corners[free[0]] if len(free) else None


def _next(end_mm: float) -> float:
    """The first place for an offcut's corner past the end of another."""
    return round(math.ceil((end_mm + APART_MM) / _PLACE_MM - 1e-6) * _PLACE_MM, 1)
