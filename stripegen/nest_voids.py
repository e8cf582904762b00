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
_LEAST = 0.3  # of its room: below, a place drawn by chance is not looked at
_CLIMBS = 60  # small moves that are tried from a place, each from the best so far
_STRIDE_MM = 8.0
_ENOUGH = 0.95  # of its room: when so many places as asked for have so much, no more are drawn
_TURN = 1 / 60  # of a turn, in radians, to a mm of a move


@compiled()
def _strike_out(free, ring, crossings, many):
    """Squares whose middle lies in the ring are not free; `crossings` and `many` have room for each line of squares."""
    across, along = free.shape
    x0, x1 = np.inf, -np.inf
    for k in range(len(ring)):
        x0, x1 = min(x0, ring[k, 0]), max(x1, ring[k, 0])
    first, last = max(0, int(x0 / _SQUARE_MM)), min(across - 1, int(x1 / _SQUARE_MM))
    many[first : last + 1] = 0
    for k in range(len(ring)):
        a, b = ring[k - 1], ring[k]
        low, high = min(a[0], b[0]), max(a[0], b[0])
        for i in range(max(first, math.ceil(low / _SQUARE_MM - 0.5) - 1), min(last, math.floor(high / _SQUARE_MM - 0.5) + 1) + 1):
            x = (i + 0.5) * _SQUARE_MM
            if low <= x < high:
                y = a[1] + (x - a[0]) / (b[0] - a[0]) * (b[1] - a[1])
                m = many[i]
                while m > 0 and crossings[i, m - 1] > y:
                    crossings[i, m] = crossings[i, m - 1]
                    m -= 1
                crossings[i, m] = y
                many[i] += 1
    for i in range(first, last + 1):
        for z in range(0, many[i] - 1, 2):
            y0 = max(0, math.ceil(crossings[i, z] / _SQUARE_MM - 0.5))
            for j in range(y0, min(along, math.floor(crossings[i, z + 1] / _SQUARE_MM - 0.5) + 1)):
                free[i, j] = 0.0


@compiled()
def voids(places, bodies, width, length, without):
    """How far each square of the box is from what lies there, in mm; piece `without` counts only where it lies."""
    kind, _, first, corners, _, _, _ = bodies
    across, along = int(width / _SQUARE_MM), int(length / _SQUARE_MM)
    free = np.full((across, along), 1e9)
    own = free.copy() if without >= 0 else free
    most = 0
    for k in range(len(first) - 1):
        most = max(most, first[k + 1] - first[k])
    crossings, many = np.empty((across, most)), np.zeros(across, np.int64)
    for i in range(len(places)):
        c, s = math.cos(places[i, 2]), math.sin(places[i, 2])
        mine = corners[first[kind[i]] : first[kind[i] + 1]]
        ring = np.empty_like(mine)
        for k in range(len(mine)):
            ring[k, 0] = places[i, 0] + c * mine[k, 0] - s * mine[k, 1]
            ring[k, 1] = places[i, 1] + s * mine[k, 0] + c * mine[k, 1]
        _strike_out(own if i == without else free, ring, crossings, many)
    # From the walls, then from each row to the next and along it, there and back.
    for i in range(across):
        for j in range(along):
            free[i, j] = min(free[i, j], _SQUARE_MM * (min(min(i, across - 1 - i), min(j, along - 1 - j)) + 0.5))
    for i in range(across):
        if i > 0:
            _from_beside(free[i - 1], free[i])
        for j in range(1, along):
            free[i, j] = min(free[i, j], free[i, j - 1] + _SQUARE_MM)
    for i in range(across - 1, -1, -1):
        if i < across - 1:
            _from_beside(free[i + 1], free[i])
        for j in range(along - 2, -1, -1):
            free[i, j] = min(free[i, j], free[i, j + 1] + _SQUARE_MM)
    return np.minimum(free, own) if without >= 0 else free


@compiled(quick=True)
def _from_beside(row, free):
    """Lower a row of squares to what the row beside it allows; the walls have seen to the ends."""
    for j in range(1, len(row) - 1):
        slant = min(row[j - 1], row[j + 1]) + _SLANT * _SQUARE_MM
        free[j] = min(free[j], min(row[j] + _SQUARE_MM, slant))


@compiled()
def has_room(free, middle, half, x, y, turn, least=-np.inf):
    """How much of its room a piece would have there, 0 to 1; with no more than the least, -infinite."""
    c, s, lack = math.cos(turn), math.sin(turn), 0.0
    most = (1.0 - least) ** 2 * len(middle)
    for k in range(len(middle)):
        i = math.floor((x + c * middle[k, 0] - s * middle[k, 1]) / _SQUARE_MM)
        j = math.floor((y + s * middle[k, 0] + c * middle[k, 1]) / _SQUARE_MM)
        if 0 <= i < free.shape[0] and 0 <= j < free.shape[1]:
            lack += max(1.0 - free[i, j] / half, 0.0) ** 2
        else:
            lack += 4.0
        if lack >= most:
            return -np.inf
    return 1.0 - math.sqrt(lack / len(middle))


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
        room = has_room(free, middle, half, x, y, t, _LEAST)
        if room < _LEAST:
            continue
        stride = _STRIDE_MM
        for _ in range(_CLIMBS):
            dx, dy, dt = 2 * next_chance(state) - 1, 2 * next_chance(state) - 1, 2 * next_chance(state) - 1
            dt = t + dt * stride * _TURN if turnable else t
            there = has_room(free, middle, half, x + dx * stride, y + dy * stride, dt, room)
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
