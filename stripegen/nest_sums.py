"""Compiled: which sums lengths can make, kept in bits, and what whole lanes leave of a depth.

Lengths are whole numbers, `BITS_MM` to the millimetre. A sum's bit is set where some of the lengths make it.
"""

from __future__ import annotations

import numpy as np

from stripegen.compiled import compiled

BITS_MM = 10  # bits to the millimetre in the subset sums
MOST_ROW = 64  # strips in a row


@compiled()
def add_shifted(sums, shift, out):
    """out = sums | sums << shift, as far as there are words."""
    words, bits = shift >> 6, np.uint64(shift & 63)
    for w in range(len(sums) - 1, -1, -1):
        moved = np.uint64(0)
        if w >= words:
            moved = sums[w - words] << bits
            if bits and w > words:
                moved |= sums[w - words - 1] >> (np.uint64(64) - bits)
        out[w] = sums[w] | moved


@compiled()
def make_sums(kind, members, count, pitch, sums, steps):
    """Which sums the strips of a kind can make: row k of `sums` before step k; returns the number of steps."""
    sums[kind, 0, :] = np.uint64(0)
    sums[kind, 0, 0] = np.uint64(1)
    bits = 64 * sums.shape[2]
    n = 0
    for s in members:
        most = min(count[s], bits // pitch[s])
        for _ in range(most):
            add_shifted(sums[kind, n], pitch[s], sums[kind, n + 1])
            steps[kind, n] = s
            n += 1
    return n


@compiled()
def highest_sum(sums, limit):
    """The greatest sum up to a limit that can be made."""
    w = limit >> 6
    word = sums[w]
    keep = np.uint64(limit & 63)
    if keep < np.uint64(63):
        word &= (np.uint64(1) << (keep + np.uint64(1))) - np.uint64(1)
    while True:
        if word:
            for b in range(63, -1, -1):
                if word >> np.uint64(b) & np.uint64(1):
                    return 64 * w + b
        w -= 1
        if w < 0:
            return 0
        word = sums[w]


@compiled()
def set_of(kind, total, n, sums, steps, pitch, chosen):
    """The strips that make a sum, the last steps first; returns how many, -1 if too many for a row."""
    m = 0
    for k in range(n - 1, -1, -1):
        s = steps[kind, k]
        rest = total - pitch[s]
        if rest >= 0 and sums[kind, k, rest >> 6] >> np.uint64(rest & 63) & np.uint64(1):
            if m == MOST_ROW:
                return -1
            chosen[m] = s
            m += 1
            total = rest
            if not total:
                break
    return m


@compiled()
def depths_left(lanes, n, out):
    """For each depth under the ceiling, in tenths of a millimetre, what no whole lanes can fill of it."""
    filled = 0
    for depth in range(len(out)):
        out[depth] = depth == 0
        for k in range(n):
            if depth >= lanes[k] and out[depth - lanes[k]] == 1.0:
                out[depth] = 1.0
    for depth in range(len(out)):
        if out[depth] == 1.0:
            filled = depth
        out[depth] = 2.0 + (depth - filled) / BITS_MM  # apart from the marks above
    for depth in range(len(out)):
        out[depth] -= 2.0
