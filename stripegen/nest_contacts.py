"""Compiled: bodies in a box pushed apart where they overlap, all at once, moved and turned.

A body is a ring of corners about its own centre, counterclockwise, a few millimetres from corner to corner at most.
A contact is a corner of one body near a side of another. Its depth is how far the corner lies within that side; the
sum of all depths squared falls step by step, each body moved by the mean of what its contacts ask, with momentum.
Bodies that overlap by less than half their width come apart the way they came together; more is not tried.

An array `places` holds x, y and turn (radians) of every body's centre. `bodies` is, as made by nest_bodies.Bodies: the
kind of each body, whether it may turn, where each kind's corners begin, the corners (x, y), the sides that begin there
(direction x, y, length), each kind's radius about its centre, and which corners are looked at. `thin` is by how much less than its width
a body counts on each side.
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.compiled import compiled
from stripegen.nest_near import NEAR_MM, relist

_HARDEST_MM = 2.0  # that a corner pushes by, however deep it lies: more would fling bodies apart
_STALE_MM = 1.4  # moved so far, what is near a body is looked for anew, and near those that moved ...
_HALF_STALE = 0.5  # ... such a share of it ...
_STALE_STEPS = 200  # ... or near all, after so many steps
_PAST_MM = 0.3  # past a side's ends
_STEP = 0.5  # of what contacts ask
_MOMENTUM = 0.97
_DONE = 0.7  # of what bodies are to be apart, in which they may overlap in the end
_FEW = 4.0  # a body with fewer contacts moves as if it had so many
_WINDOW = 60  # steps, over which ...
_FALL = 0.85  # ... the deepest overlap must fall to such a share, else it is given up ...
_DEEP_MM = 0.35  # ... as it is if it is deeper than that then
_LOOK = 20  # the same where bodies come to rest ...
_BAD = 4.0  # ... and given up if it is so much worse at first than hoped for ...
_WORST, _NEARLY = 10.0, 0.25  # ... or so much even before, when a thin one lacks no more than such a share of what it lacked


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
def _push(places, thin, bodies, apart, turns, found, wake, gone, force, weight):
    """Sum what contacts ask of each body, and half of each depth squared; returns the deepest.

    A contact with room is passed over until both bodies may have gone so far.
    """
    _, _, _, corners, sides, _, _ = bodies
    deepest = 0.0
    for m in range(len(found)):
        i, k, j, e = found[m, 0], found[m, 1], found[m, 2], found[m, 3]
        if gone[i] + gone[j] < wake[m]:
            continue
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
            wake[m] = gone[i] + gone[j] - depth
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
def _go(places, speed, force, weight, bodies, gone):
    """Move and turn each body by what its contacts ask, with momentum; adds how far any of its corners may have gone."""
    kind, turnable, _, _, _, radius, _ = bodies
    against = 0.0
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
        gone[i] += abs(speed[i, 0]) + abs(speed[i, 1]) + far * abs(speed[i, 2])


@compiled()
def _have_moved(places, since, bodies, share, has_moved):
    """Which bodies have moved so far since then that such a share of what is near may be stale; returns whether any has."""
    kind, radius, any_of_them = bodies[0], bodies[5], False
    for i in range(len(places)):
        far = abs(places[i, 0] - since[i, 0]) + abs(places[i, 1] - since[i, 1])
        far += radius[kind[i]] * abs(places[i, 2] - since[i, 2])
        has_moved[i] = far > share * _STALE_MM
        any_of_them = any_of_them or has_moved[i]
    return any_of_them


@compiled()
def come_apart(places, thin, swell, bodies, width, length, near, apart, most, settle, hopeless):
    """Move and turn bodies until they and the walls are nearly `apart` of one another, or until they are at rest.

    Parameters
    ----------
    places : changed in place
    thin, swell : see above; changed in place, each step by `swell`, to nothing
    near : contacts as nest_near.listed has them, of these places or of others; changed in place
    most : steps
    settle, hopeless : if above 0, it goes on while the strain (the sum of all depths squared) falls to less than this share
        in so many steps as are looked at at once, unless it isn't likely to come below `hopeless` so

    Returns
    -------
    tuple of whether they are apart (then none overlap), of the steps taken, and of each body's share of the strain
    """
    n = len(places)
    turns, has_moved = np.empty((n, 2)), np.ones(n, np.bool_)
    force, weight, speed = np.empty((n, 3)), np.empty((n, 3)), np.zeros((n, 3))
    laid, grid, nearest, found, m, since = near
    wake, gone = np.zeros(m), np.zeros(n)
    for i in range(n):
        turns[i, 0], turns[i, 1] = math.cos(places[i, 2]), math.sin(places[i, 2])
    walls = _walls(places, bodies, turns, width, length)
    stale, deepest = 1, 1e18
    least, before, window = 1e18, 1e18, 0
    begun = thin.max()
    span = _WINDOW if settle == 0.0 else _LOOK
    for step in range(most):
        for i in range(n):
            turns[i, 0], turns[i, 1] = math.cos(places[i, 2]), math.sin(places[i, 2])
        if stale == _STALE_STEPS or _have_moved(places, since, bodies, 1.0, has_moved):
            if stale == _STALE_STEPS:
                has_moved[:] = True
                stale = 0
            else:
                _have_moved(places, since, bodies, _HALF_STALE, has_moved)
            found, m = relist(places, thin, bodies, has_moved, laid, grid, nearest, found, m)
            walls = _walls(places, bodies, turns, width, length)
            for i in range(n):
                if has_moved[i]:
                    since[i] = places[i]
            wake = np.zeros(m)
        stale += 1
        force[:] = 0.0
        weight[:] = 0.0
        deepest = _push(places, thin, bodies, apart, turns, found[:m], wake, gone, force, weight)
        deepest = max(deepest, _push_in(places, bodies, width, length, apart, turns, walls, force, weight))
        is_thin = False
        if hopeless > 0.0 and thin.max() <= _NEARLY * begun and weight[:, 2].sum() > _WORST * hopeless:
            return False, step + 1, weight[:, 2].copy()
        for i in range(n):
            if thin[i] > 0.0:
                thin[i] = max(0.0, thin[i] - swell)
                gone[i] += swell
                is_thin = True
        if not is_thin:
            if deepest <= _DONE * apart:
                if stale == 1:
                    return True, step + 1, weight[:, 2].copy()
                stale = _STALE_STEPS  # nothing may have come near unseen
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
                elif least > _BAD * hopeless:
                    return False, step + 1, weight[:, 2].copy()
                before, least, window = least, 1e18, 0
        _go(places, speed, force, weight, bodies, gone)
    return False, most, weight[:, 2].copy()
