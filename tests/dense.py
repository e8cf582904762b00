"""Borders of lines as dense points, and distances between them by brute force on a straight wall."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from scipy.spatial import cKDTree

from stripegen.shapes import Shape
from stripegen.surface import Frustum


def dense(shapes: Iterable[Shape], step_mm: float = 0.05) -> np.ndarray:
    """Points (around, down) of borders, (n, 2), about so far apart."""
    rows = []
    for shape in shapes:
        for loop in shape.loops:
            for edge in loop:
                count = max(2, math.ceil(abs(edge.curve.length_mm(edge.t0, edge.t1)) / step_mm))
                points = edge.curve.at(np.linspace(edge.t0, edge.t1, count + 1))
                rows.append(np.stack(np.broadcast_arrays(*points), axis=-1))
    return np.concatenate(rows)


def unrolled(points: np.ndarray, wall: Frustum) -> np.ndarray:
    """On the flat sector about the apex, or the plane where there is no taper."""
    around, down = points.T
    radius = wall.rim_radius_mm + wall.slope * down
    if abs(wall.slope) < 1e-9:
        return np.stack([radius * around, down], axis=-1)
    arm = radius / wall.slope
    return np.stack([arm * np.sin(wall.slope * around), arm * np.cos(wall.slope * around)], axis=-1)


def nearest_mm(points: np.ndarray, others: np.ndarray, wall: Frustum) -> np.ndarray:
    """For each point how near the others come, on the side on which they are."""
    return cKDTree(unrolled(others, wall)).query(unrolled(points, wall))[0]
