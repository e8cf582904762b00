"""Compiled: rows of straight strips under bent pieces, where lanes, which lie on the skyline, never come.

A hollow is what is free directly under one piece: over each cell from what lies below, or from the box's floor, up to
the piece. Rows lie level in it. The next is each time that which covers most and wastes least, of those that the kinds
of strips make at several levels.
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.compiled import compiled
from stripegen.nest_row import row, up_to_unit
from stripegen.nest_sums import BITS_MM, MOST_ROW, highest_sum, make_sums, set_of

_LEVELS = 24  # heights above a hollow's floor that are tried
_STEP_MM = 0.5  # between them, at least


@compiled()
def _longest_run(floor, ceiling, level, thick):
    """The longest row of cells in which a strip so thick can lie at this level: the first, and that past the last."""
    best, best_past, begun = 0, 0, 0
    for c in range(len(floor) + 1):
        if c == len(floor) or floor[c] > level + 2e-7 or ceiling[c] < level + thick - 1e-9:
            if c - begun > best_past - best:
                best, best_past = begun, c
            begun = c + 1
    return best, best_past


@compiled()
def _fill(floor, ceiling, first, cell_mm, u_mm, least, strips, poses, kinds, room_for, placed, laid):
    """Lay rows in one hollow, that begins at cell `first`, until none fits; returns how many strips are laid."""
    count, pose_from, pitch, pitch_mm, _ = strips
    pose_u, pose_v, pose_area, spacing = poses
    sums, steps, n_steps, shortest, thickest = room_for
    words = sums.shape[2]
    n_kinds = len(shortest)
    chosen, rest = np.zeros(MOST_ROW, np.int64), np.zeros(MOST_ROW, np.int64)
    row_pose, trial_pose, best_pose = np.zeros(MOST_ROW, np.int64), np.zeros(MOST_ROW, np.int64), np.zeros(MOST_ROW, np.int64)
    row_u, trial_u, best_u = np.zeros(MOST_ROW), np.zeros(MOST_ROW), np.zeros(MOST_ROW)
    deepest, thinnest = 0.0, 1e18
    for k in range(n_kinds):
        if shortest[k] < 1e17:
            thinnest = min(thinnest, thickest[k])
    for c in range(len(floor)):
        deepest = max(deepest, ceiling[c] - floor[c])
    if deepest < thinnest - 1e-9:
        return laid
    while True:
        best_score, best_m, best_kind, best_first, best_v = 0.0, 0, 0, 0, 0.0
        level = floor.min()
        for _ in range(_LEVELS):
            level = up_to_unit(level)
            for k in range(n_kinds):
                if shortest[k] > 1e17:
                    continue
                begin, past = _longest_run(floor, ceiling, level, thickest[k])
                room = min((past - begin) * cell_mm, u_mm - (first + begin) * cell_mm)
                if room < shortest[k] - 1e-9:
                    continue
                # However full, it is no better.
                if room * thickest[k] <= best_score:
                    continue
                total = highest_sum(sums[k, n_steps[k]], min(math.floor(room * BITS_MM) + 1, 64 * words - 1))
                m = set_of(k, total, n_steps[k], sums, steps, pitch, chosen) if total > 0 else 0
                if m < 1:
                    continue
                length = row(chosen, m, (pose_from, pitch_mm), (pose_u, spacing), row_pose, row_u, trial_pose, trial_u, rest)
                if length > room + 1e-9:
                    continue
                area, tall, under = 0.0, 0.0, 0.0
                for r in range(m):
                    area += pose_area[row_pose[r]]
                    tall = max(tall, pose_v[row_pose[r]])
                for c in range(begin, min(past, begin + math.ceil(length / cell_mm - 1e-9))):
                    under += (level - floor[c]) * cell_mm
                taken = room if room - length < shortest[k] else length
                filled = area / (taken * tall + under)
                score = area * filled
                if filled >= least and score > best_score + 1e-9:
                    best_score, best_m, best_kind, best_first, best_v = score, m, k, begin, level
                    best_pose[:m] = row_pose[:m]
                    best_u[:m] = row_u[:m]
            wall = 1e18
            for c in range(len(floor)):
                if floor[c] >= level + _STEP_MM:
                    wall = min(wall, floor[c])
            if wall > 1e17:
                break
            level = wall
        if not best_m:
            return laid
        for r in range(best_m):
            p = best_pose[r]
            u = best_first * cell_mm + best_u[r]
            for c in range(int(u / cell_mm + 1e-9), min(len(floor), math.ceil((u + pose_u[p]) / cell_mm - 1e-9))):
                floor[c] = max(floor[c], best_v + pose_v[p])
            placed[laid, 0], placed[laid, 1], placed[laid, 2] = p, first * cell_mm + u, best_v
            laid += 1
            count[np.searchsorted(pose_from, p, side="right") - 1] -= 1
        _renew(best_kind, strips, poses, kinds, room_for)


@compiled()
def _renew(k, strips, poses, kinds, room_for):
    """What sums a kind's strips still make, and the least it takes to lay one."""
    count, pose_from, pitch, _, thick = strips
    kind_from, members = kinds
    sums, steps, n_steps, shortest, thickest = room_for
    mine = members[kind_from[k] : kind_from[k + 1]]
    n_steps[k] = make_sums(k, mine, count, pitch, sums, steps)
    shortest[k], thickest[k] = 1e18, 0.0
    for s in mine:
        if count[s]:
            thickest[k] = max(thickest[k], thick[s])
            for p in range(pose_from[s], pose_from[s + 1]):
                shortest[k] = min(shortest[k], poses[0][p])


@compiled()
def _under(q, begins, froms, lows, highs, lowest, floor, ceiling):
    """Floor and ceiling, cell by cell, of what is free directly under piece q."""
    cells = (froms[q + 1] - froms[q]) // 2
    top = 0.0
    for c in range(cells):
        at = froms[q] + 2 * c
        ceiling[c] = min(lows[at], lows[at + 1])
        floor[c] = 0.0
        top = max(top, ceiling[c])
    for other in range(len(begins)):
        if other == q or lowest[other] > top:
            continue
        shift = begins[other] - begins[q]
        for c in range(max(shift, 0), min(cells, shift + (froms[other + 1] - froms[other]) // 2)):
            at = froms[other] + 2 * (c - shift)
            if min(lows[at], lows[at + 1]) <= ceiling[c]:
                floor[c] = max(floor[c], highs[at], highs[at + 1])


@compiled()
def fill_hollows(begins, froms, lows, highs, cell_mm, u_mm, least, strips, poses, kinds, placed):
    """Lay rows of strips under pieces that lie there; returns how many strips are laid.

    Parameters
    ----------
    begins, froms, lows, highs : the first cell of each piece that lies there, where its values begin, the values
    least : of what a row takes up it fills so much
    strips, poses, kinds, placed : as for `fill_lanes`
    """
    count, _, pitch, _, _ = strips
    kind_from, members = kinds
    n_kinds = len(kind_from) - 1
    longest = 0
    for q in range(len(begins)):
        longest = max(longest, (froms[q + 1] - froms[q]) // 2)
    words = (int(longest * cell_mm * BITS_MM) + 2 >> 6) + 1
    most = 1
    for k in range(n_kinds):
        mine = 0
        for s in members[kind_from[k] : kind_from[k + 1]]:
            mine += min(count[s], 64 * words // pitch[s])
        most = max(most, mine)
    room_for = (
        np.zeros((n_kinds, most + 1, words), np.uint64), np.zeros((n_kinds, most), np.int64),
        np.zeros(n_kinds, np.int64), np.zeros(n_kinds), np.zeros(n_kinds),
    )  # fmt: skip
    for k in range(n_kinds):
        _renew(k, strips, poses, kinds, room_for)
    lowest = np.zeros(len(begins))
    for q in range(len(begins)):
        lowest[q] = lows[froms[q] : froms[q + 1]].min()
    laid = 0
    for q in range(len(begins)):
        cells = (froms[q + 1] - froms[q]) // 2
        floor, ceiling = np.zeros(cells), np.zeros(cells)
        _under(q, begins, froms, lows, highs, lowest, floor, ceiling)
        laid = _fill(floor, ceiling, begins[q], cell_mm, u_mm, least, strips, poses, kinds, room_for, placed, laid)
    return laid
