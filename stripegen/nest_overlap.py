"""Compiled: how far rows of strips in two stacks overlap, and the core that may be between them.

A row begins at the left or at the right wall. Left rows stand on the floor, the longest first; right rows hang
from the ceiling, the longest last. Cross rows, a given number, stand between the right wall and the right rows, quarter
turned, and reach down from the ceiling. Where a left and a right row at one height are together longer than the room
between the left wall and the cross rows, they overlap.

Beside a core both stacks begin where most room is beside it, with their longest rows; cross rows reach there from the
other end. Heights are then measured from that side: depths.
"""

from __future__ import annotations

import math

from stripegen.compiled import compiled
from stripegen.nest_shapes import BAND_MM

LEFT, RIGHT, CROSS = 0, 1, 2


@compiled()
def overlap(order, many, length, thick, u_mm, v_mm, ragged, most):
    """The area that rows of both stacks share, and that sticks out of the box; each mm of height counts `ragged` more.

    A right row ends where the cross rows begin at its upper side. More than `most` is not counted any further.
    """
    hanging = v_mm
    for k in range(many[RIGHT]):
        hanging -= thick[order[RIGHT, k]]
    v = min(0.0, hanging)
    cross_from = 1e18
    if many[CROSS]:
        cross_from = v_mm - length[order[CROSS, 0]]
        v = min(v, cross_from)
    i, j, c = 0, 0, 0
    left, right, cross = 0.0, 0.0, 0.0
    left_to, right_to = 0.0, hanging
    total = 0.0
    while True:
        while left_to <= v + 1e-9:
            left, i = (length[order[LEFT, i]], i + 1) if i < many[LEFT] else (0.0, i + 1)
            left_to = left_to + thick[order[LEFT, i - 1]] if i <= many[LEFT] else 1e18
        while right_to <= v + 1e-9:
            right, j = (length[order[RIGHT, j]], j + 1) if j < many[RIGHT] else (0.0, j + 1)
            right_to = right_to + thick[order[RIGHT, j - 1]] if j <= many[RIGHT] else 1e18
        beside = right_to - 1e-9 if 0 < j <= many[RIGHT] else v + 1e-9
        while cross_from < beside:
            cross, c = cross + thick[order[CROSS, c]], c + 1
            cross_from = v_mm - length[order[CROSS, c]] if c < many[CROSS] else 1e18
        to = min(left_to, right_to)
        if to > 1e17:
            return total
        if j == 0:
            to = min(to, cross_from)
        over = left + right
        if v < -1e-9:
            to = min(to, 0.0)
            over += cross
        elif v < v_mm - 1e-9:
            to = min(to, v_mm)
            over += cross - u_mm
        if over > 1e-6:
            total += (to - v) * (over + ragged)
            if total > most:
                return total
        v = to


@compiled()
def beside(order, many, length, thick, u_mm, v_mm, ragged, most, core, shift):
    """The same beside a core, moved by `shift`: the area that rows share with it and that sticks out of the box.

    `core` : see nest_core: `near` and `far`, then the greatest `far` from each band to the last and the least `near`.
    """
    near, far, far_on, least = core
    total = 0.0
    cross, c, cross_from = 0.0, 0, 1e18
    if many[CROSS]:
        cross_from = v_mm - length[order[CROSS, 0]]
    for side in (LEFT, RIGHT):
        depth = 0.0
        for k in range(many[side]):
            which = order[side, k]
            to = depth + thick[which]
            over = length[which]
            if to <= v_mm + 1e-9:
                first = int(depth / BAND_MM + 1e-6)
                bands = math.ceil(to / BAND_MM - 1e-6) - first
                if side == LEFT:
                    over -= near[bands, first] + shift
                else:
                    while cross_from < to - 1e-9:
                        cross, c = cross + thick[order[CROSS, c]], c + 1
                        cross_from = v_mm - length[order[CROSS, c]] if c < many[CROSS] else 1e18
                    over += cross + far[bands, first] + shift - u_mm
            if over > 1e-6:
                total += thick[which] * (over + ragged)
                if total > most:
                    return total
            depth = to
    cross = 0.0
    for k in range(many[CROSS]):
        which = order[CROSS, k]
        cross += thick[which]
        over = cross + far_on[max(0, int((v_mm - length[which]) / BAND_MM + 1e-6))] + shift - u_mm
        if over > 1e-6:
            total += length[which] * (over + ragged)
        if length[which] > v_mm + 1e-6:
            total += thick[which] * (length[which] - v_mm + ragged)
    over = max(far_on[0] + shift - u_mm, -least - shift)
    if over > 1e-6:
        total += v_mm * (over + ragged)
    return total
