"""Compiled: bodies in a box pushed apart where they overlap, all at once, moved and turned.

A body is a ring of corners about its own centre, counterclockwise, a few millimetres from corner to corner at most.
A contact is a corner of one body near a side of another. Its depth is how far the corner lies within that side; the
sum of all depths squared falls step by step, each body moved by the mean of what its contacts ask, with momentum.
Bodies that overlap by less than half their width come apart the way they came together; more is not tried.

An array `places` holds x, y and turn (radians) of every body's centre. `bodies` is, as made by nest_press.Bodies: the
kind of each body, whether it may turn, where each kind's corners begin, the corners (x, y), the sides that begin there
(direction x, y, length), each kind's radius about its centre, and which corners are looked at. `thin` is by how much less than its width
a body counts on each side.
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.compiled import compiled

NEAR_MM = 2.0  # corners so near a side are watched,
_DEEPEST_MM = 4.0  # and those so deep within it
_HARDEST_MM = 2.0  # that a corner pushes by, however deep it lies: more would fling bodies apart
_STALE_MM = 0.9  # moved so far, what is near is looked for anew ...
_STALE_STEPS = 80  # ... or after so many steps
_CELL_MM = 6.0
_MOST_AT_ONCE = 12  # bodies near one corner
_PAST_MM = 0.3  # past a side's ends
_STEP = 0.5  # of what contacts ask
_MOMENTUM = 0.97
_DONE = 0.7  # of what bodies are to be apart, in which they may overlap in the end
_FEW = 4.0  # a body with fewer contacts moves as if it had so many
_WINDOW = 60  # steps, over which ...
_FALL = 0.85  # ... the deepest overlap must fall to such a share, else it is given up ...
_DEEP_MM = 0.35  # ... as it is if it is deeper than that then
_LOOK = 20  # the same where bodies come to rest ...
_WORST = 100.0  # ... and given up if it is so much worse at first than hoped for


@compiled()
def _lay_out(places, bodies, turns, world):
    """Every body's corners in the box, and the cosine and sine of its turn; returns how many corners."""
    kind, _, first, corners, _, _, _ = bodies
    n = 0
    for i in range(len(places)):
        c, s = math.cos(places[i, 2]), math.sin(places[i, 2])
        turns[i, 0], turns[i, 1] = c, s
        for k in range(first[kind[i]], first[kind[i] + 1]):
            world[n, 0] = places[i, 0] + c * corners[k, 0] - s * corners[k, 1]
            world[n, 1] = places[i, 1] + s * corners[k, 0] + c * corners[k, 1]
            n += 1
    return n


@compiled()
def _span(low, high, near, cells):
    return max(0, int((low - near) / _CELL_MM)), min(cells - 1, int((high + near) / _CELL_MM))


@compiled()
def contacts(places, thin, bodies, turns, world, width, length):
    """All corners near sides: rows of body, corner, other body, side."""
    kind, _, first, _, sides, _, touches = bodies
    n = _lay_out(places, bodies, turns, world)
    across, along = int(width / _CELL_MM) + 1, int(length / _CELL_MM) + 1
    begins = np.zeros(across * along + 1, np.int64)
    owner, side_of = np.empty(n, np.int32), np.empty(n, np.int32)
    at = 0
    # Sides by the cells that they are near to: counted first, then sorted in.
    for i in range(len(places)):
        k0, k1, near = first[kind[i]], first[kind[i] + 1], NEAR_MM + thin[i]
        for k in range(k0, k1):
            owner[at + k - k0], side_of[at + k - k0] = i, k
            p, q = at + k - k0, at + (k + 1 - k0 if k + 1 < k1 else 0)
            x0, x1 = _span(min(world[p, 0], world[q, 0]), max(world[p, 0], world[q, 0]), near, across)
            y0, y1 = _span(min(world[p, 1], world[q, 1]), max(world[p, 1], world[q, 1]), near, along)
            for x in range(x0, x1 + 1):
                for y in range(y0, y1 + 1):
                    begins[x * along + y + 1] += 1
        at += k1 - k0
    for cell in range(across * along):
        begins[cell + 1] += begins[cell]
    there = np.empty(begins[-1], np.int32)
    filled = begins[:-1].copy()
    at = 0
    for i in range(len(places)):
        count, near = first[kind[i] + 1] - first[kind[i]], NEAR_MM + thin[i]
        for k in range(count):
            p, q = at + k, at + (k + 1 if k + 1 < count else 0)
            x0, x1 = _span(min(world[p, 0], world[q, 0]), max(world[p, 0], world[q, 0]), near, across)
            y0, y1 = _span(min(world[p, 1], world[q, 1]), max(world[p, 1], world[q, 1]), near, along)
            for x in range(x0, x1 + 1):
                for y in range(y0, y1 + 1):
                    there[filled[x * along + y]] = p
                    filled[x * along + y] += 1
        at += count
    found = np.empty((4 * n + 16, 4), np.int32)
    others, chosen, inside = (
        np.empty(_MOST_AT_ONCE, np.int32),
        np.empty(_MOST_AT_ONCE, np.int32),
        np.empty(_MOST_AT_ONCE, np.bool_),
    )
    bests, lines = np.empty(_MOST_AT_ONCE), np.empty(_MOST_AT_ONCE)
    m = 0
    for p in range(n):
        i = owner[p]
        if not touches[side_of[p]]:
            continue
        x, y = int(world[p, 0] / _CELL_MM), int(world[p, 1] / _CELL_MM)
        if x < 0 or y < 0 or x >= across or y >= along:
            continue
        near_by = 0
        # A thin body looks as far around as it is thinner; no side found twice does harm.
        more = min(1, math.ceil(thin[i]))
        for cx in range(max(0, x - more), min(across, x + more + 1)):
            for cy in range(max(0, y - more), min(along, y + more + 1)):
                for z in range(begins[cx * along + cy], begins[cx * along + cy + 1]):
                    q = there[z]
                    j = owner[q]
                    if j == i:
                        continue
                    k = side_of[q]
                    c, s = turns[j, 0], turns[j, 1]
                    ux, uy = c * sides[k, 0] - s * sides[k, 1], s * sides[k, 0] + c * sides[k, 1]
                    rx, ry = world[p, 0] - world[q, 0], world[p, 1] - world[q, 1]
                    off, past = rx * uy - ry * ux, rx * ux + ry * uy
                    past = past if past < 0.0 else max(0.0, past - sides[k, 2])
                    far = off * off + past * past
                    reach = max(NEAR_MM + thin[i] + thin[j], _DEEPEST_MM)
                    if far > reach * reach:
                        continue
                    w = 0
                    while w < near_by and others[w] != j:
                        w += 1
                    if w == _MOST_AT_ONCE:
                        continue
                    if w == near_by:
                        others[w], bests[w], lines[w] = j, 1e18, 0.0
                        near_by += 1
                    # Where a corner of the other is nearest, that one of its sides tells which the corner lies outside of.
                    if far < bests[w] - 1e-12 or (far < bests[w] + 1e-12 and abs(off) > lines[w]):
                        bests[w], lines[w], chosen[w], inside[w] = far, abs(off), k, off < 0.0
        for w in range(near_by):
            reach = NEAR_MM + thin[i] + thin[others[w]]
            if not inside[w] and bests[w] > reach * reach:
                continue
            if m == len(found):
                found = np.concatenate((found, np.empty_like(found)))
            found[m, 0], found[m, 1], found[m, 2], found[m, 3] = i, side_of[p], others[w], chosen[w]
            m += 1
    return found[:m]


@compiled()
def _walls(places, bodies, turns, width, length):
    """All corners near a wall: rows of body, corner."""
    kind, _, first, corners, _, radius, touches = bodies
    found, m = np.empty((256, 2), np.int32), 0
    for i in range(len(places)):
        x, y, far = places[i, 0], places[i, 1], radius[kind[i]]
        if min(x, width - x, y, length - y) > far + NEAR_MM:
            continue
        for k in range(first[kind[i]], first[kind[i] + 1]):
            if not touches[k]:
                continue
            ax, ay = (
                turns[i, 0] * corners[k, 0] - turns[i, 1] * corners[k, 1],
                turns[i, 1] * corners[k, 0] + turns[i, 0] * corners[k, 1],
            )
            if min(x + ax, width - x - ax, y + ay, length - y - ay) > NEAR_MM:
                continue
            if m == len(found):
                found = np.concatenate((found, np.empty_like(found)))
            found[m, 0], found[m, 1] = i, k
            m += 1
    return found[:m]


@compiled()
def _push(places, thin, bodies, apart, turns, found, force, weight):
    """Sum what contacts ask of each body, and half of each depth squared; returns the deepest."""
    _, _, _, corners, sides, _, _ = bodies
    deepest = 0.0
    for m in range(len(found)):
        i, k, j, e = found[m, 0], found[m, 1], found[m, 2], found[m, 3]
        ax, ay = (
            turns[i, 0] * corners[k, 0] - turns[i, 1] * corners[k, 1],
            turns[i, 1] * corners[k, 0] + turns[i, 0] * corners[k, 1],
        )
        bx, by = places[i, 0] + ax - places[j, 0], places[i, 1] + ay - places[j, 1]
        c, s = turns[j, 0], turns[j, 1]
        rx, ry = c * bx + s * by - corners[e, 0], c * by - s * bx - corners[e, 1]
        ux, uy = sides[e, 0], sides[e, 1]
        depth = apart - thin[i] - thin[j] - rx * uy + ry * ux
        if depth <= 0.0:
            continue
        along = rx * ux + ry * uy
        if along < -_PAST_MM or along > sides[e, 2] + _PAST_MM:
            continue
        deepest = max(deepest, depth)
        nx, ny = c * uy + s * ux, s * uy - c * ux  # out of the other body
        mine, other = ax * ny - ay * nx, bx * ny - by * nx
        push = min(depth, _HARDEST_MM)
        force[i, 0] += push * nx
        force[i, 1] += push * ny
        force[i, 2] += push * mine
        force[j, 0] -= push * nx
        force[j, 1] -= push * ny
        force[j, 2] -= push * other
        weight[i, 0] += 1.0
        weight[i, 1] += mine * mine
        weight[i, 2] += 0.5 * depth * depth
        weight[j, 0] += 1.0
        weight[j, 1] += other * other
        weight[j, 2] += 0.5 * depth * depth
    return deepest


@compiled()
def _push_in(places, bodies, width, length, apart, turns, found, force, weight):
    """The same at the walls of the box."""
    corners = bodies[3]
    deepest = 0.0
    for m in range(len(found)):
        i, k = found[m, 0], found[m, 1]
        x, y = places[i, 0], places[i, 1]
        ax, ay = (
            turns[i, 0] * corners[k, 0] - turns[i, 1] * corners[k, 1],
            turns[i, 1] * corners[k, 0] + turns[i, 0] * corners[k, 1],
        )
        over = max(apart - x - ax, 0.0) - max(apart + x + ax - width, 0.0)
        if over != 0.0:
            deepest = max(deepest, abs(over))
            force[i, 0] += over
            force[i, 2] -= over * ay
            weight[i, 0] += 1.0
            weight[i, 1] += ay * ay
            weight[i, 2] += over * over
        over = max(apart - y - ay, 0.0) - max(apart + y + ay - length, 0.0)
        if over != 0.0:
            deepest = max(deepest, abs(over))
            force[i, 1] += over
            force[i, 2] += over * ax
            weight[i, 0] += 1.0
            weight[i, 1] += ax * ax
            weight[i, 2] += over * over
    return deepest


@compiled()
def _go(places, speed, force, weight, bodies, since):
    """Move and turn each body by what its contacts ask, with momentum; returns the farthest any has gone since."""
    kind, turnable, _, _, _, radius, _ = bodies
    against, moved = 0.0, 0.0
    for i in range(len(places)):
        against += speed[i, 0] * force[i, 0] + speed[i, 1] * force[i, 1] + speed[i, 2] * force[i, 2]
    keep = _MOMENTUM if against >= 0.0 else 0.0
    for i in range(len(places)):
        far = radius[kind[i]]
        by, turn_by = max(weight[i, 0], _FEW), max(weight[i, 1], _FEW * far * far / 3.0)
        speed[i, 0] = keep * speed[i, 0] + _STEP * force[i, 0] / by
        speed[i, 1] = keep * speed[i, 1] + _STEP * force[i, 1] / by
        speed[i, 2] = keep * speed[i, 2] + _STEP * force[i, 2] / turn_by if turnable[i] else 0.0
        for axis in range(3):
            places[i, axis] += speed[i, axis]
        gone = (
            abs(places[i, 0] - since[i, 0])
            + abs(places[i, 1] - since[i, 1])
            + far * abs(places[i, 2] - since[i, 2])
        )
        moved = max(moved, gone)
    return moved


@compiled()
def come_apart(places, thin, swell, bodies, width, length, apart, most, settle=0.0, hopeless=0.0):
    """Move and turn bodies until they and the walls are nearly `apart` of one another, or until they are at rest.

    Parameters
    ----------
    places : changed in place
    thin, swell : see above; changed in place, each step by `swell`, to nothing
    most : steps
    settle, hopeless : if above 0, it goes on while the strain (the sum of all depths squared) falls to less than this share
        in so many steps as are looked at at once, unless it isn't likely to come below `hopeless` so

    Returns
    -------
    tuple of whether they are apart (then none overlap), of the steps taken, and of each body's share of the strain
    """
    kind, _, first, _, _, _, _ = bodies
    n = len(places)
    corners = 0
    for i in range(n):
        corners += first[kind[i] + 1] - first[kind[i]]
    world, turns = np.empty((corners, 2)), np.empty((n, 2))
    force, weight, speed, since = np.empty((n, 3)), np.empty((n, 3)), np.zeros((n, 3)), places.copy()
    found, walls = np.empty((0, 4), np.int32), np.empty((0, 2), np.int32)
    moved, stale, deepest = 1e18, 0, 1e18
    least, before, window = 1e18, 1e18, 0
    span = _WINDOW if settle == 0.0 else _LOOK
    for step in range(most):
        if moved > _STALE_MM or stale >= _STALE_STEPS:
            found = contacts(places, thin, bodies, turns, world, width, length)
            walls = _walls(places, bodies, turns, width, length)
            since[:] = places
            moved, stale = 0.0, 0
        stale += 1
        for i in range(n):
            turns[i, 0], turns[i, 1] = math.cos(places[i, 2]), math.sin(places[i, 2])
        force[:] = 0.0
        weight[:] = 0.0
        deepest = _push(places, thin, bodies, apart, turns, found, force, weight)
        deepest = max(deepest, _push_in(places, bodies, width, length, apart, turns, walls, force, weight))
        is_thin = False
        for i in range(n):
            if thin[i] > 0.0:
                thin[i] = max(0.0, thin[i] - swell)
                is_thin = True
        if not is_thin:
            if deepest <= _DONE * apart:
                if stale == 1:
                    return True, step + 1, weight[:, 2].copy()
                moved = 1e18  # nothing may have come near unseen
                continue
            least, window = min(least, deepest if settle == 0.0 else weight[:, 2].sum()), window + 1
            if window == span:
                if settle == 0.0:
                    if least > min(_FALL * before, _DEEP_MM):
                        return False, step + 1, weight[:, 2].copy()
                elif before < 1e18:
                    share = least / before
                    if share > settle or least * share ** ((most - step) / span) > hopeless:
                        return False, step + 1, weight[:, 2].copy()
                elif least > _WORST * hopeless:
                    return False, step + 1, weight[:, 2].copy()
                before, least, window = least, 1e18, 0
        moved = _go(places, speed, force, weight, bodies, since)
    return False, most, weight[:, 2].copy()
