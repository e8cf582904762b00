"""Compiled: one row of strips, ordered and turned so that their ends interlock."""

from __future__ import annotations

import math

from stripegen.compiled import compiled

STARTS = 4  # strips that a row of slanted ones is begun with, in turn
UNIT_MM = 1e-4  # of moves


@compiled()
def up_to_unit(length_mm):
    """As nest_fit.rounded_up."""
    return math.ceil(length_mm / UNIT_MM - 1e-3) * UNIT_MM


@compiled()
def row(chosen, m, strips, poses, row_pose, row_u, trial_pose, trial_u, rest):
    """Order and turn chosen strips so that each one's end interlocks with the next; returns the row's length."""
    pose_from, pitch_mm = strips
    pose_u, spacing = poses
    best = 1e18
    starts = 0
    for first in range(m):
        again = False
        for k in range(first):
            again = again or chosen[k] == chosen[first]
        if again:
            continue
        starts += 1
        if starts > STARTS:
            break
        for pose in range(pose_from[chosen[first]], pose_from[chosen[first] + 1]):
            rest[:m] = chosen[:m]
            rest[first] = rest[m - 1]
            left = m - 1
            trial_pose[0], trial_u[0] = pose, 0.0
            length = pose_u[pose]
            for k in range(1, m):
                least, take, turn = 1e18, 0, 0
                last = trial_pose[k - 1]
                for r in range(left):
                    for q in range(pose_from[rest[r]], pose_from[rest[r] + 1]):
                        loss = spacing[last, q] - pitch_mm[rest[r]] + (0.0 if left > 1 else pose_u[q])
                        if loss < least - 1e-12:
                            least, take, turn = loss, r, q
                rest[take] = rest[left - 1]
                left -= 1
                at = 0.0
                for j in range(k):
                    at = max(at, trial_u[j] + spacing[trial_pose[j], turn])
                trial_pose[k], trial_u[k] = turn, up_to_unit(at)
                length = max(length, trial_u[k] + pose_u[turn])
            if length < best - 1e-9:
                best = length
                row_pose[:m] = trial_pose[:m]
                row_u[:m] = trial_u[:m]
    return best
