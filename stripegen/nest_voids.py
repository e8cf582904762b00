"""Compiled: what a layout leaves free, and where in that a piece would lie best, however turned.

The box is a grid of squares; each free one knows how far it is from anything that lies there and from the walls. A piece
lies the better the more room there is about its middle line, up to half its width.
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.compiled import compiled
from stripegen.nest_rows import next_chance

_SQUARE_MM = 1.0
_SLANT = math.sqrt(2.0)
_LEAST = 0.1  # of its room: below, a place drawn by chance is not looked at
_CLIMBS = 60  # small moves that are tried from a place, each from the best so far
_STRIDE_MM = 8.0
_ENOUGH = 0.95  # of its room: when so many places as asked for have so much, no more are drawn
_TURN = 1 / 60  # of a turn, in radians, to a mm of a move


@compiled()
def _strike_out(free, ring):
    """Squares whose middle lies in the ring are not free."""
    across, along = free.shape
    crossings = np.empty(len(ring))
    x0 = max(0, int(ring[:, 0].min() / _SQUARE_MM))
    x1 = min(across - 1, int(ring[:, 0].max() / _SQUARE_MM))
    for i in range(x0, x1 + 1):
        x, m = (i + 0.5) * _SQUARE_MM, 0
        for k in range(len(ring)):
            a, b = ring[k - 1], ring[k]
            if (a[0] <= x) != (b[0] <= x):
                crossings[m] = a[1] + (x - a[0]) / (b[0] - a[0]) * (b[1] - a[1])
                m += 1
        ordered = np.sort(crossings[:m])
        for z in range(0, m - 1, 2):
            y0 = max(0, math.ceil(ordered[z] / _SQUARE_MM - 0.5))
            for j in range(y0, min(along, math.floor(ordered[z + 1] / _SQUARE_MM - 0.5) + 1)):
                free[i, j] = 0.0


@compiled()
def voids(places, bodies, width, length, without):
    """How far each square of the box is from what lies there, in mm; piece `without` counts only where it lies."""
    kind, _, first, corners, _, _, _ = bodies
    free = np.full((int(width / _SQUARE_MM), int(length / _SQUARE_MM)), 1e9)
    own = free.copy()
    for i in range(len(places)):
        c, s = math.cos(places[i, 2]), math.sin(places[i, 2])
        mine = corners[first[kind[i]] : first[kind[i] + 1]]
        ring = np.empty_like(mine)
        for k in range(len(mine)):
            ring[k, 0] = places[i, 0] + c * mine[k, 0] - s * mine[k, 1]
            ring[k, 1] = places[i, 1] + s * mine[k, 0] + c * mine[k, 1]
        _strike_out(own if i == without else free, ring)
    across, along = free.shape
    for i in range(across):
        for j in range(along):
            v = min(free[i, j], _SQUARE_MM * (min(i, j, across - 1 - i, along - 1 - j) + 0.5))
            if i > 0:
                v = min(v, free[i - 1, j] + _SQUARE_MM)
                if j > 0:
                    v = min(v, free[i - 1, j - 1] + _SLANT * _SQUARE_MM)
                if j < along - 1:
                    v = min(v, free[i - 1, j + 1] + _SLANT * _SQUARE_MM)
            if j > 0:
                v = min(v, free[i, j - 1] + _SQUARE_MM)
            free[i, j] = v
    for i in range(across - 1, -1, -1):
        for j in range(along - 1, -1, -1):
            v = free[i, j]
            if i < across - 1:
                v = min(v, free[i + 1, j] + _SQUARE_MM)
                if j > 0:
                    v = min(v, free[i + 1, j - 1] + _SLANT * _SQUARE_MM)
                if j < along - 1:
                    v = min(v, free[i + 1, j + 1] + _SLANT * _SQUARE_MM)
            if j < along - 1:
                v = min(v, free[i, j + 1] + _SQUARE_MM)
            free[i, j] = v
    return np.minimum(free, own)


@compiled()
def has_room(free, middle, half, x, y, turn):
    """How much of its room a piece would have there, 0 to 1."""
    c, s, room = math.cos(turn), math.sin(turn), 0.0
    for k in range(len(middle)):
        i = math.floor((x + c * middle[k, 0] - s * middle[k, 1]) / _SQUARE_MM)
        j = math.floor((y + s * middle[k, 0] + c * middle[k, 1]) / _SQUARE_MM)
        if 0 <= i < free.shape[0] and 0 <= j < free.shape[1]:
            room += max(1.0 - free[i, j] / half, 0.0) ** 2
        else:
            room += 4.0
    return 1.0 - math.sqrt(room / len(middle))


@compiled()
def roomiest(free, middle, half, turn, turnable, tried, state, found):
    """The places where a piece would have most room, of many by chance.

    Parameters
    ----------
    middle, half : points of its middle line about its centre, and half its width
    turn, turnable : how it is turned now, and whether it may be turned
    found : (m, 4), filled with room, x, y, turn; a room of 0: nothing

    Returns how many were tried.
    """
    found[:] = 0.0
    across, along = free.shape[0] * _SQUARE_MM, free.shape[1] * _SQUARE_MM
    for drawn in range(tried):
        if found[:, 0].min() > _ENOUGH:
            return drawn
        x, y = next_chance(state) * across, next_chance(state) * along
        t = next_chance(state) * 2 * math.pi if turnable else turn
        room = has_room(free, middle, half, x, y, t)
        if room < _LEAST:
            continue
        stride = _STRIDE_MM
        for _ in range(_CLIMBS):
            dx, dy, dt = 2 * next_chance(state) - 1, 2 * next_chance(state) - 1, 2 * next_chance(state) - 1
            dt = t + dt * stride * _TURN if turnable else t
            there = has_room(free, middle, half, x + dx * stride, y + dy * stride, dt)
            if there > room:
                room, x, y, t = there, x + dx * stride, y + dy * stride, dt
            else:
                stride = max(_SQUARE_MM, 0.95 * stride)
        w = 0
        for k in range(len(found)):
            if found[k, 0] < found[w, 0]:
                w = k
        if room > found[w, 0]:
            found[w, 0], found[w, 1], found[w, 2], found[w, 3] = room, x, y, t
    return tried
