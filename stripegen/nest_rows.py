"""Compiled: a valley of a skyline filled with rows of strips whose lengths sum closest to it.

What nest_lanes describes, on plain arrays. A *kind* is strips of about one thickness; which sums their lengths can
make is a subset sum, kept in bits. Everything is counted and chance is seeded.
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.compiled import compiled
from stripegen.nest_row import row, up_to_unit
from stripegen.nest_sums import BITS_MM, MOST_ROW, depths_left, highest_sum, make_sums, set_of

LEVELS = 6  # heights above a valley's floor that are tried, for a lane that spans its steps
SETS = 3  # of each valley and thickness, so many sets of strips
NEAR_MM = 60.0  # from the ceiling, the rest must be made of whole lanes
MOST_LANES = 400  # that are remembered, to go on from
TOP = 1e12


@compiled()
def next_chance(state):
    """The next of a row of numbers by chance, from 0 to below 1 (Marsaglia, "Xorshift RNGs", 2003)."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return (x >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@compiled()
def _swept(edges, filled, first, last, length, top):
    """The area between a valley's floor and a lane's top, over the cells that a length from its start reaches into."""
    end = first + math.ceil(length / (edges[1] - edges[0]) - 1e-9)
    end = min(last, end)
    return top * (edges[end] - edges[first]) - (filled[end] - filled[first])


@compiled()
def _lay_lanes(height, count, laid, placed, record, lane, edges, ceiling, strips, poses, kinds, room_for, choice, state):
    """Lay lanes from lane number `lane` on until no strip is left or none fits; returns strips laid and lanes."""
    pose_from, pitch, pitch_mm, thick = strips
    pose_u, pose_v, pose_area, spacing = poses
    kind_from, members = kinds
    sums, steps, filled, leftovers = room_for
    long_first, sway, leaves, weights = choice
    heights, counts, before = record
    n_kinds = len(kind_from) - 1
    words = sums.shape[2]
    n_steps = np.zeros(n_kinds, np.int64)
    shortest, thinnest = np.zeros(n_kinds), np.zeros(n_kinds)
    thickest, longest = np.zeros(n_kinds), np.zeros(n_kinds)
    slanted = np.zeros(n_kinds, np.bool_)
    lanes = np.zeros(n_kinds, np.int64)
    chosen, rest = np.zeros(MOST_ROW, np.int64), np.zeros(MOST_ROW, np.int64)
    row_pose, trial_pose = np.zeros(MOST_ROW, np.int64), np.zeros(MOST_ROW, np.int64)
    best_pose = np.zeros(MOST_ROW, np.int64)
    row_u, trial_u, best_u = np.zeros(MOST_ROW), np.zeros(MOST_ROW), np.zeros(MOST_ROW)
    cells = len(height)
    stale = np.ones(n_kinds, np.bool_)
    renew = True
    for k in range(n_kinds):
        thickest[k] = thick[members[kind_from[k] : kind_from[k + 1]]].max()
    while True:
        for k in range(n_kinds):
            if not stale[k]:
                continue
            stale[k] = False
            mine = members[kind_from[k] : kind_from[k + 1]]
            n_steps[k] = make_sums(k, mine, count, pitch, sums, steps)
            had = shortest[k]
            shortest[k], thinnest[k], longest[k], slanted[k] = 1e18, 1e18, 0.0, False
            for s in mine:
                if count[s]:
                    for p in range(pose_from[s], pose_from[s + 1]):
                        shortest[k] = min(shortest[k], pose_u[p])
                    thinnest[k] = min(thinnest[k], thick[s])
                    longest[k] = max(longest[k], pitch_mm[s])
                    slanted[k] = slanted[k] or pose_from[s + 1] - pose_from[s] > 1
            renew = renew or (had < 1e17) != (shortest[k] < 1e17)
        if renew:
            renew = False
            n = 0
            for k in range(n_kinds):
                if shortest[k] < 1e17:
                    lanes[n] = math.ceil(thickest[k] * BITS_MM - 1e-6)
                    n += 1
            if not n:
                return laid, lane
            depths_left(lanes, n, leftovers)
        short = shortest.min()
        floor = height.argmin()
        for c in range(cells):
            filled[c + 1] = filled[c] + min(height[c], 1e6) * (edges[c + 1] - edges[c])
        if height[floor] + thinnest.min() > min(ceiling, TOP) + 1e-9:
            return laid, lane
        if lane < len(before):
            heights[lane], counts[lane], before[lane] = height, count, laid
        best_score, best_kind, best_m, best_length, best_first, best_last, best_v = -1e18, -1, 0, 0.0, 0, 0, 0.0
        level = up_to_unit(height[floor])
        low_first, low_last = 0, 0
        for step in range(LEVELS):
            first, last = floor, floor + 1
            while first > 0 and height[first - 1] <= level + 2e-7:  # rounding up forgives half as much
                first -= 1
            while last < cells and height[last] <= level + 2e-7:
                last += 1
            if step == 0:
                low_first, low_last = first, last
                if edges[last] - edges[first] < short - 1e-9:
                    break
            room = edges[last] - edges[first]
            for k in range(n_kinds):
                if level + thinnest[k] > ceiling + 1e-9 or shortest[k] > room + 1e-9:
                    continue
                seen_a, seen_b = -1, -1
                for trial in range((len(leaves) if slanted[k] else 1) * SETS + 1):
                    if trial < (len(leaves) if slanted[k] else 1) * SETS:
                        if trial % SETS == 0:
                            limit = math.floor((room - leaves[trial // SETS]) * BITS_MM) + 1
                        if limit < 1:
                            continue
                        limit = min(limit, 64 * words - 1)
                        total = highest_sum(sums[k, n_steps[k]], limit)
                        if total <= 0:
                            limit = 0
                            continue
                        limit = total - BITS_MM // 5 - 1
                        if total == seen_a or total == seen_b:
                            continue
                        seen_b, seen_a = seen_a, total
                        m = set_of(k, total, n_steps[k], sums, steps, pitch, chosen)
                        if m < 1:
                            continue
                    else:
                        # The sums are rounded, so a strip that fits to a hair is tried by itself.
                        m = 0
                        far = -1.0
                        for s in members[kind_from[k] : kind_from[k + 1]]:
                            u = pose_u[pose_from[s]]
                            if count[s] and u <= room + 1e-9 and u > far:
                                far, m = u, 1
                                chosen[0] = s
                        if not m:
                            continue
                    tall, area, far, length = 0.0, 0.0, 0.0, 0.0
                    for r in range(m):
                        p = pose_from[chosen[r]]
                        tall = max(tall, thick[chosen[r]])
                        area += pose_area[p]
                        far = max(far, pose_u[p])
                        length += pitch_mm[chosen[r]]
                    top = level + tall
                    if top > ceiling + 1e-9:
                        continue
                    lost = 0.0
                    if ceiling - top <= NEAR_MM:
                        lost = leftovers[max(0, int((ceiling - top) * BITS_MM + 1e-6))]
                    # What is left beside it counts, if nothing fits there or it spans a step to get there.
                    taken = room if step or room - length < short else length
                    swept = _swept(edges, filled, first, last, taken, top) + lost * taken
                    score = weights[k] * area / swept + long_first * far / longest[k]
                    if slanted[k]:
                        if 1.02 * score + sway <= best_score:  # however well its ends interlock
                            continue
                        length = row(
                            chosen, m, (pose_from, pitch_mm), (pose_u, spacing), row_pose, row_u, trial_pose, trial_u, rest
                        )
                    else:
                        length = 0.0
                        for r in range(m):
                            row_pose[r] = pose_from[chosen[r]]
                            at = 0.0
                            for q in range(r):
                                at = max(at, row_u[q] + spacing[row_pose[q], row_pose[r]])
                            row_u[r] = up_to_unit(at)
                            length = max(length, row_u[r] + pose_u[row_pose[r]])
                    if length > room + 1e-9:
                        continue
                    taken = room if step or room - length < short else length
                    swept = _swept(edges, filled, first, last, taken, top) + lost * taken
                    score = weights[k] * area / swept + long_first * far / longest[k]
                    if sway > 0.0:
                        score += sway * next_chance(state)
                    if score > best_score + 1e-12:
                        best_score, best_kind, best_m, best_length = score, k, m, length
                        best_first, best_last, best_v = first, last, level
                        best_pose[:m] = row_pose[:m]
                        best_u[:m] = row_u[:m]
            wall = min(height[first - 1] if first > 0 else TOP, height[last] if last < cells else TOP)
            if wall > ceiling:
                break
            level = up_to_unit(max(wall, level + edges[1] - edges[0]))
        if best_kind < 0:
            left = height[low_first - 1] if low_first > 0 else TOP
            right = height[low_last] if low_last < cells else TOP
            wall = min(left, right)
            height[low_first:low_last] = wall if wall < ceiling else TOP
            continue
        left = height[best_first - 1] if best_first > 0 else TOP
        right = height[best_last] if best_last < cells else TOP
        start = edges[best_first]
        if right > left:
            # Down to a whole unit of moves, as far as the valley allows it.
            start = max(start, up_to_unit(edges[best_last] - best_length - 1e-4))
        cell_mm = edges[1] - edges[0]
        for r in range(best_m):
            p = best_pose[r]
            u = start + best_u[r]
            placed[laid, 0], placed[laid, 1], placed[laid, 2] = p, u, best_v
            laid += 1
            begin = int(u / cell_mm + 1e-9)
            end = min(cells, math.ceil((u + pose_u[p]) / cell_mm - 1e-9))
            for c in range(begin, end):
                height[c] = max(height[c], best_v + pose_v[p])
            s = np.searchsorted(pose_from, p, side="right") - 1
            count[s] -= 1
        stale[best_kind] = True
        lane += 1


@compiled()
def fill_lanes(floor, edges, ceiling, strips, poses, kinds, choice, state, tries, most_left, placed):
    """Lay lanes in what a skyline leaves until no strip is left or none fits, as often as asked for.

    The first time from the floor on; then, from a lane by chance, all further lanes anew. What leaves no more is
    kept.

    Parameters
    ----------
    floor, edges : how far each cell is filled, and where cells begin and the last ends
    ceiling : no lane reaches past it
    strips : count, pose_from, pitch, pitch_mm, thickness of each; `count` is lowered
    poses : length, thickness and area of each, and the least step from each to each next one in a row
    kinds : kind_from into members, strips by kind, the shortest first
    choice : the shares by which a lane gains if it uses the longest strip of its kind, the first for the first time;
        most that chance adds to a lane's score; most by which it prefers a kind; lengths to leave, tried in turn,
        for slanted ends that interlock badly
    state : of chance
    tries : how often lanes are laid anew; not at all if at first more than `most_left` is left, by area
    placed : (n, 3) for pose, u and v of each strip that is laid

    Returns the number laid and the work done, in lanes.
    """
    count, pose_from, pitch, pitch_mm, thick = strips
    _, _, pose_area, _ = poses
    longs, sway, most_lean, leaves, warmth = choice
    kind_from, members = kinds
    n_kinds = len(kind_from) - 1
    words = (int(edges[-1] * BITS_MM) + 2 >> 6) + 1
    most = 1
    for k in range(n_kinds):
        mine = 0
        for s in members[kind_from[k] : kind_from[k + 1]]:
            mine += min(count[s], 64 * words // pitch[s])
        most = max(most, mine)
    room_for = (
        np.zeros((n_kinds, most + 1, words), np.uint64),
        np.zeros((n_kinds, most), np.int64),
        np.zeros(len(floor) + 1),
        np.zeros(int(NEAR_MM * BITS_MM) + 1),
    )
    rows = min(count.sum(), MOST_LANES) + 1 if tries else 1
    record = (np.zeros((rows, len(floor))), np.zeros((rows, len(count)), np.int64), np.zeros(rows, np.int64))
    trial = (np.zeros((rows, len(floor))), np.zeros((rows, len(count)), np.int64), np.zeros(rows, np.int64))
    weights = np.ones(n_kinds)
    fixed = (pose_from, pitch, pitch_mm, thick)
    height, counted = floor.copy(), count.copy()
    none = np.int64(0)  # a literal 0 would have the loop compiled once more
    laid, lanes = _lay_lanes(
        height, counted, none, placed, record, none, edges, ceiling, fixed, poses, kinds, room_for,
        (longs[0], sway, leaves, weights), state,
    )  # fmt: skip
    work = lanes
    left = 0.0
    for s in range(len(count)):
        left += counted[s] * pose_area[pose_from[s]]
    kept_count = counted.copy()
    again, kept = np.zeros_like(placed), placed.copy()
    least, best_laid = left, laid
    for t in range(tries if left <= most_left else 0):
        if least <= 0.0 or lanes < 1:  # all is laid, or none fits
            break
        lane = int(next_chance(state) * min(lanes, rows - 1))
        for k in range(n_kinds):
            weights[k] = 1.0 + most_lean * next_chance(state)
        long_first = longs[int(next_chance(state) * len(longs))]
        height[:], counted[:] = record[0][lane], record[1][lane]
        begun = record[2][lane]
        newly, to = _lay_lanes(
            height, counted, begun, again, trial, lane, edges, ceiling, fixed, poses, kinds, room_for,
            (long_first, sway, leaves, weights), state,
        )  # fmt: skip
        work += to - lane
        still = 0.0
        for s in range(len(count)):
            still += counted[s] * pose_area[pose_from[s]]
        if still <= left + warmth * (1.0 - t / tries) * next_chance(state) + 1e-9:
            left, laid, lanes = still, newly, to
            kept[begun:newly] = again[begun:newly]
            if still < least:
                least, best_laid = still, newly
                placed[:newly] = kept[:newly]
                kept_count[:] = counted
            for k in range(lane, min(to + 1, rows)):
                record[0][k], record[1][k], record[2][k] = trial[0][k], trial[1][k], trial[2][k]
    count[:] = kept_count
    return best_laid, work
