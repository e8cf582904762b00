"""A cup's wall as points and triangles in space, turned by matrices and looked at along rays: truth for the tilted pictures."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from reference_walls import Turned

EYE = np.array([0.0, 0.0, 1.0])  # after the turn; before it x is to the right, y up, z to the one who looks
ROWS, COLUMNS = 90, 144
OUT_MM = 0.06  # a ray starts so far outside the wall, which the triangles cut inside of


def turn(tilt_rad: float) -> np.ndarray:
    """The matrix that leans a cup's rim towards the one who looks."""
    c, s = math.cos(tilt_rad), math.sin(tilt_rad)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])


def in_space(space: Turned, around, down) -> np.ndarray:
    """Points of the wall (n, 3), the rim's middle at the origin, y up, around 0 in front."""
    around, down = np.broadcast_arrays(np.asarray(around, float), np.asarray(down, float))
    radius, height = space.place(down)
    rim = space.place(np.array([0.0]))[1][0]
    return np.stack([radius * np.sin(around), height - rim, radius * np.cos(around)], axis=-1)


def projected(space: Turned, around, down, tilt_rad: float) -> np.ndarray:
    """Where points of the wall are seen from far away, x to the right and y down, in mm."""
    leaned = in_space(space, around, down) @ turn(tilt_rad).T
    return leaned[..., :2] * (1.0, -1.0)


def triangles(space: Turned) -> np.ndarray:
    """The wall as triangles (n, 3, 3), a row of corners at every bend."""
    edges = [0.0, *space.bends, space.length]
    counts = [max(3, int(ROWS * (b - a) / space.length)) for a, b in pairwise(edges)]
    downs = np.unique(
        np.concatenate([np.linspace(a, b, count) for (a, b), count in zip(pairwise(edges), counts, strict=True)])
    )
    arounds = np.linspace(-math.pi, math.pi, COLUMNS + 1)
    grid = in_space(space, arounds[None, :], downs[:, None])
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    return np.concatenate([np.stack([a, b, c], axis=-2).reshape(-1, 3, 3), np.stack([a, c, d], axis=-2).reshape(-1, 3, 3)])


def meets(starts: np.ndarray, way: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """Whether rays from points (n, 3) the same way meet any of the triangles."""
    first, along, beside = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    across = np.cross(way, beside)
    size = np.einsum("ij,ij->i", along, across)
    kept = np.abs(size) > 1e-12
    first, along, beside, across, size = first[kept], along[kept], beside[kept], across[kept], size[kept]
    found = np.zeros(len(starts), bool)
    for index, start in enumerate(starts):
        from_first = start - first
        u = np.einsum("ij,ij->i", from_first, across) / size
        q = np.cross(from_first, along)
        v = q @ way / size
        t = np.einsum("ij,ij->i", beside, q) / size
        found[index] = np.any((u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0))
    return found


def hidden(space: Turned, around: np.ndarray, down: np.ndarray, tilt_rad: float) -> np.ndarray:
    """Whether the wall hides points of itself, (n,): by rays from just outside it."""
    step = 1e-5
    lower, upper = (in_space(space, around, np.clip(down + side, 0.0, space.length)) for side in (step, -step))
    left, right = (in_space(space, around + side, down) for side in (-step, step))
    outwards = np.cross(right - left, upper - lower)
    outwards /= np.linalg.norm(outwards, axis=-1, keepdims=True)
    starts = in_space(space, around, down) + OUT_MM * outwards
    return meets(starts, EYE @ turn(tilt_rad), triangles(space))
