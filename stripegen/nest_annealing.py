"""Compiled: rows of strips in two stacks that face each other, annealed until the stacks fit into a box.

How far the rows overlap (nest_overlap) is the cost, which strips lower as they change rows and rows sides (Kirkpatrick,
Gelatt, Vecchi, "Optimization by Simulated Annealing", 1983). All strips are always laid, so the cost tells small gains
apart, which what finds no place does not. Everything is counted and chance is seeded.
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.compiled import compiled
from stripegen.nest_overlap import CROSS, LEFT, RIGHT, beside, overlap
from stripegen.nest_row import UNIT_MM, row, up_to_unit
from stripegen.nest_rows import next_chance
from stripegen.nest_sums import MOST_ROW

NONE = -1
_SWAP, _MOVE, _FLIP = 0.4, 0.8, 0.88  # below: two strips change places, one moves, a row changes sides; else two rows do
_SHIFT, _SHIFT_MM, _FAR_MM = 0.95, 4.0, 60.0  # above, if there is a core: it moves so far, or so far, at most
_NEW = 0.2  # of the strips that move, the share that begins a row
_ANY = 0.2  # of the partners, the share that may be of another thickness
_HOT, _COLD = 0.04, 0.001  # first and last temperature, in a strip's mean area
_RAGGED = 0.005  # of a strip's mean length: by so much more an overlap counts, however small it is
SHORTER = 0.0001  # of a box that all fits into, that the next is smaller
_STEADY = 256  # trials at one temperature
_EXACT_MM2 = 1e-6


@compiled()
def _take(order, many, side, which):
    at = 0
    while order[side, at] != which:
        at += 1
    many[side] -= 1
    for k in range(at, many[side]):
        order[side, k] = order[side, k + 1]


@compiled()
def _put(order, many, side, which, length, falls):
    at = many[side]
    while at > 0 and falls[side] * length[order[side, at - 1]] < falls[side] * length[which]:
        order[side, at] = order[side, at - 1]
        at -= 1
    order[side, at] = which
    many[side] += 1


@compiled()
def _copy(order, many, order_to, many_to):
    for side in range(len(many)):
        many_to[side] = many[side]
        for k in range(many[side]):
            order_to[side, k] = order[side, k]


@compiled()
def measure(members, m, strips, poses, rooms):
    """Length and thickness of a row of `m` strips, and whether ends slant; `rooms` then holds poses and where each begins.

    `members` are sorted, so that the same strips make the same row.
    """
    pose_from, pitch_mm, thick = strips
    row_pose, row_u, trial_pose, trial_u, rest = rooms
    tall, length, slanted = 0.0, 0.0, False
    for k in range(1, m):
        s, at = members[k], k
        while at > 0 and members[at - 1] > s:
            members[at] = members[at - 1]
            at -= 1
        members[at] = s
    for k in range(m):
        s = members[k]
        row_pose[k], row_u[k] = pose_from[s], length
        length += up_to_unit(pitch_mm[s])
        tall = max(tall, thick[s])
        slanted = slanted or pose_from[s + 1] - pose_from[s] > 1 or poses[0][pose_from[s]] > pitch_mm[s] + 1e-9
    if slanted:
        length = row(members, m, (pose_from, pitch_mm), poses, row_pose, row_u, trial_pose, trial_u, rest)
    return up_to_unit(length), up_to_unit(tall), slanted


@compiled()
def _partner(copies, kinds, which, state):
    """A copy by chance, mostly of the same kind."""
    kind_from, kind_of = kinds
    if next_chance(state) < _ANY:
        return int(next_chance(state) * len(copies))
    begin, end = kind_from[kind_of[which]], kind_from[kind_of[which] + 1]
    return begin + int(next_chance(state) * (end - begin))


@compiled()
def _exchanged(members, number, row_of, a, b):
    """Two copies of strips change places in their rows."""
    first, second = row_of[a], row_of[b]
    for k in range(number[first]):
        if members[first, k] == a:
            members[first, k] = b
            break
    for k in range(number[second]):
        if members[second, k] == b:
            members[second, k] = a
            break
    row_of[a], row_of[b] = second, first


@compiled()
def _moved(members, number, row_of, a, to):
    """A copy of a strip leaves its row for another."""
    was = row_of[a]
    for k in range(number[was]):
        if members[was, k] == a:
            members[was, k] = members[was, number[was] - 1]
            break
    number[was] -= 1
    members[to, number[to]] = a
    number[to] += 1
    row_of[a] = to


@compiled()
def _measured(members, number, copies, ways, side, rooms, chosen):
    """Length, thickness and whether ends slant, of a row on a side."""
    for k in range(number):
        chosen[k] = copies[members[k]]
    return measure(chosen, number, ways[side][0], ways[side][1], rooms)


@compiled()
def _cost(order, many, length, thick, u_mm, v_mm, ragged, most, core, shift):
    if len(core[0]):
        return beside(order, many, length, thick, u_mm, v_mm, ragged, most, core, shift)
    return overlap(order, many, length, thick, u_mm, v_mm, ragged, most)


@compiled()
def anneal(copies, kinds, ways, crosses, core, box, shrinks_u, work, seed):
    """Lay all copies in two stacks of a box, then in a smaller one, as long as there is work to do.

    Parameters
    ----------
    copies : the strip of each copy, by kind
    kinds : where the copies of each kind begin, and the last end; the kind of each copy
    ways : for rows of each side, pose_from, pitch and thickness of each strip, in mm; and the length of each pose, and
        the least step from each to each next one in a row
    crosses : how many cross rows there are, if there are as many rows
    core : what `beside` asks of one that is between the stacks; without rows: there is none
    box : its length along the rows and across them; sought is one that is smaller across, or along if `shrinks_u`
    work : about how many rows may be looked at
    seed : of chance, not 0

    Returns the row of each copy, its side, the place of each row in its stack, how far the core is moved, and the length
    of that side of the box into which they fit (infinite: into none); then the least cost met in the last box.
    """
    n = len(copies)
    state = np.array([seed], np.uint64)
    members, number = np.zeros((n + 1, MOST_ROW), np.int64), np.zeros(n + 1, np.int64)
    length, thick = np.zeros(n + 1), np.zeros(n + 1)
    side, row_of = np.full(n + 1, NONE), np.zeros(n, np.int64)
    order, many = np.zeros((3, n + 1), np.int64), np.zeros(3, np.int64)
    order_was, many_was = np.zeros((3, n + 1), np.int64), np.zeros(3, np.int64)
    rows_best, sides_best, places_best = np.zeros(n, np.int64), np.zeros(n, np.int64), np.zeros(n + 1, np.int64)
    fits_mm = np.inf
    chosen = np.zeros(MOST_ROW, np.int64)
    rooms = (
        np.zeros(MOST_ROW, np.int64), np.zeros(MOST_ROW), np.zeros(MOST_ROW, np.int64), np.zeros(MOST_ROW),
        np.zeros(MOST_ROW, np.int64),
    )  # fmt: skip
    u_mm, v_mm = box
    strips = ways[LEFT][0]
    has_core = len(core[0]) > 0
    falls = np.array([1.0, 1.0 if has_core else -1.0, 1.0])
    half_mm, shift, shift_best = u_mm / 2, 0.0, 0.0
    if has_core:
        shift = math.floor((u_mm - core[1][1].max() - core[0][1].min()) / 2 / UNIT_MM) * UNIT_MM
        half_mm = core[0][1].max() + shift
    area, mean_mm = 0.0, 0.0
    # To begin with, each strip joins the first row of its kind that stays in its half, or in its cross row.
    for a in range(n):
        mine = strips[1][copies[a]]
        area += mine * strips[2][copies[a]] / n
        mean_mm += mine / n
        at = 0
        while side[at] != NONE:
            same = kinds[1][members[at, 0]] == kinds[1][a]
            if same and length[at] + mine <= (v_mm if side[at] == CROSS else half_mm) and number[at] < MOST_ROW:
                break
            at += 1
        if side[at] == NONE:
            side[at] = CROSS if at < crosses else LEFT if next_chance(state) < 0.5 else RIGHT
        members[at, number[at]], row_of[a] = a, at
        number[at] += 1
        length[at] += mine
    for at in range(n + 1):
        if number[at]:
            length[at], thick[at], _ = _measured(members[at], number[at], copies, ways, side[at], rooms, chosen)
            _put(order, many, side[at], at, length, falls)
    ragged = _RAGGED * mean_mm
    cost = _cost(order, many, length, thick, u_mm, v_mm, ragged, np.inf, core, shift)
    least = cost
    trial, done, heat = 0, 0, 0.0
    while done < work:
        if trial % _STEADY == 0:
            heat = area * _HOT * (_COLD / _HOT) ** (done / work)
        trial += 1
        done += 8 + many[LEFT] + many[RIGHT]
        what = next_chance(state)
        if has_core and what >= _SHIFT:
            most_mm = _SHIFT_MM if next_chance(state) < 0.5 else _FAR_MM
            moved = shift + math.floor(most_mm * (2.0 * next_chance(state) - 1.0) / UNIT_MM) * UNIT_MM
            most = cost - heat * math.log(1.0 - next_chance(state))
            now = _cost(order, many, length, thick, u_mm, v_mm, ragged, most, core, moved)
            if now <= most:
                shift, cost = moved, now
            continue
        a = int(next_chance(state) * n)
        first, second, b = row_of[a], -1, -1
        if what < _MOVE:
            if what >= _SWAP and number[first] == 1 and side[first] == CROSS:
                continue
            if what >= _SWAP and next_chance(state) < _NEW:
                if number[first] == 1:
                    continue
                second = 0
                while side[second] != NONE:
                    second += 1
            else:
                b = _partner(copies, kinds, a, state)
                second = row_of[b]
                if second == first or copies[a] == copies[b] and what < _SWAP or number[second] == MOST_ROW:
                    continue
        elif what < _FLIP:
            if side[first] == CROSS:
                continue
        else:
            second = row_of[int(next_chance(state) * n)]
            if side[second] == side[first]:
                continue
        _copy(order, many, order_was, many_was)
        first_was, second_was = (length[first], thick[first], side[first]), (length[second], thick[second], side[second])
        _take(order, many, side[first], first)
        if second >= 0 and side[second] != NONE:
            _take(order, many, side[second], second)
        if what < _SWAP:
            _exchanged(members, number, row_of, a, b)
        elif what < _MOVE:
            _moved(members, number, row_of, a, second)
            if side[second] == NONE:
                side[second] = LEFT if next_chance(state) < 0.5 else RIGHT
            if not number[first]:
                side[first] = NONE
        elif what < _FLIP:
            side[first] = LEFT + RIGHT - side[first]
        else:
            side[first], side[second] = side[second], side[first]
        has_crossed = what >= _FLIP and CROSS in (side[first], side[second])
        for at in (first, second):
            if at >= 0 and side[at] != NONE:
                if what < _MOVE or has_crossed:
                    length[at], thick[at], slanted = _measured(
                        members[at], number[at], copies, ways, side[at], rooms, chosen
                    )
                    done += 6 * number[at] * number[at] if slanted else 0
                _put(order, many, side[at], at, length, falls)
        most = cost - heat * math.log(1.0 - next_chance(state))
        now = _cost(order, many, length, thick, u_mm, v_mm, ragged, most, core, shift)
        if now > most:
            _copy(order_was, many_was, order, many)
            if what < _SWAP:
                _exchanged(members, number, row_of, a, b)
            elif what < _MOVE:
                _moved(members, number, row_of, a, first)
            length[first], thick[first], side[first] = first_was
            if second >= 0:
                length[second], thick[second], side[second] = second_was
            continue
        cost = now
        least = min(least, cost)
        if cost <= _EXACT_MM2:
            rows_best[:], shift_best = row_of, shift
            for k in range(n):
                sides_best[k] = side[row_of[k]]
            for stack in (LEFT, RIGHT, CROSS):
                for k in range(many[stack]):
                    places_best[order[stack, k]] = k
            while cost <= _EXACT_MM2:
                fits_mm = u_mm if shrinks_u else v_mm
                smaller = math.floor(fits_mm * (1.0 - SHORTER) / UNIT_MM) * UNIT_MM
                if shrinks_u:
                    u_mm = smaller
                else:
                    v_mm = smaller
                cost = _cost(order, many, length, thick, u_mm, v_mm, ragged, np.inf, core, shift)
            least = cost
    return rows_best, sides_best, places_best, shift_best, fits_mm, least
