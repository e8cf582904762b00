"""Compiled: which corners of bodies are near which sides of others, kept true as bodies move.

A contact is a corner of one body near a side of another, of whose sides it is the nearest. Both lie in a grid of cells; what a
body that has moved was entered as is passed over from then on, and its contacts alone are sought anew.

`bodies` is as nest_contacts has it; `places` holds x, y and turn (radians) of every body's centre, `thin` by how much less than
its width a body counts on each side.
"""

from __future__ import annotations

import math

import numpy as np

from stripegen.compiled import compiled

NEAR_MM = 3.0  # corners so near a side are watched,
_DEEPEST_MM = 4.0  # and those so deep within it
_CELL_MM = 6.0
_MOST_AT_ONCE = 12  # bodies near one corner
_SIDES, _CORNERS = 0, 1  # what is entered
_SPARE = 2  # so often as many entries as all bodies ever need find room


@compiled()
def _span(low, high, near, cells):
    return max(0, int((low - near) / _CELL_MM)), min(cells - 1, int((high + near) / _CELL_MM))


@compiled()
def _lay_out(i, places, bodies, world, ahead, at):
    """A body's corners in the box, and the direction of the side that begins at each."""
    kind, _, first, corners, sides, _, _ = bodies
    c, s = math.cos(places[i, 2]), math.sin(places[i, 2])
    p = at[i]
    for k in range(first[kind[i]], first[kind[i] + 1]):
        world[p, 0] = places[i, 0] + c * corners[k, 0] - s * corners[k, 1]
        world[p, 1] = places[i, 1] + s * corners[k, 0] + c * corners[k, 1]
        ahead[p, 0], ahead[p, 1] = c * sides[k, 0] - s * sides[k, 1], s * sides[k, 0] + c * sides[k, 1]
        p += 1


@compiled()
def _cells_of(p, at, i, world, near, across, along):
    q = p + 1 if p + 1 < at[i + 1] else at[i]
    x0, x1 = _span(min(world[p, 0], world[q, 0]), max(world[p, 0], world[q, 0]), near, across)
    y0, y1 = _span(min(world[p, 1], world[q, 1]), max(world[p, 1], world[q, 1]), near, along)
    return x0, x1, y0, y1


@compiled()
def _most_entries(i, thin, bodies, at):
    """That a body ever needs."""
    kind, _, first, _, sides, _, _ = bodies
    entries = 0
    for k in range(first[kind[i]], first[kind[i] + 1]):
        cells = int((sides[k, 2] + 2 * (NEAR_MM + thin[i])) / _CELL_MM) + 2
        entries += 1 + cells * cells
    return entries


@compiled()
def _empty(places, thin, bodies, width, length):
    """An empty grid, to be handed to `relist` with all bodies."""
    kind, _, first, _, _, _, _ = bodies
    n = len(places)
    at = np.zeros(n + 1, np.int64)
    for i in range(n):
        at[i + 1] = at[i] + first[kind[i] + 1] - first[kind[i]]
    world, ahead, owner = np.empty((at[n], 2)), np.empty((at[n], 2)), np.empty(at[n], np.int32)
    across, along = int(width / _CELL_MM) + 1, int(length / _CELL_MM) + 1
    entries = 0
    for i in range(n):
        _lay_out(i, places, bodies, world, ahead, at)
        owner[at[i] : at[i + 1]] = i
        entries += _most_entries(i, thin, bodies, at)
    heads = np.full((2, across * along), -1, np.int32)
    links = np.empty((_SPARE * entries, 3), np.int32)  # the next in the cell, corner, number of the body's listing
    numbers, used = np.zeros(n, np.int32), np.zeros(1, np.int64)
    best, line, side, last = np.empty(at[n]), np.empty(at[n]), np.empty(at[n], np.int32), np.full(at[n], -1, np.int32)
    return (at, world, ahead, owner), (heads, links, numbers, used, along), (best, line, side, last)


@compiled()
def _enter(i, thin, bodies, laid, grid):
    """A body's sides into all cells that they are near to, and its corners; what it was entered as is passed over."""
    kind, _, first, _, _, _, touches = bodies
    at, world, _, _ = laid
    heads, links, numbers, used, along = grid
    across = heads.shape[1] // along
    numbers[i] += 1
    n = used[0]
    for p in range(at[i], at[i + 1]):
        x0, x1, y0, y1 = _cells_of(p, at, i, world, NEAR_MM + thin[i], across, along)
        for x in range(x0, x1 + 1):
            for y in range(y0, y1 + 1):
                cell = x * along + y
                links[n, 0], links[n, 1], links[n, 2] = heads[_SIDES, cell], p, numbers[i]
                heads[_SIDES, cell] = n
                n += 1
        x, y = int(world[p, 0] / _CELL_MM), int(world[p, 1] / _CELL_MM)
        if touches[first[kind[i]] + p - at[i]] and 0 <= x < across and 0 <= y < along:
            cell = x * along + y
            links[n, 0], links[n, 1], links[n, 2] = heads[_CORNERS, cell], p, numbers[i]
            heads[_CORNERS, cell] = n
            n += 1
    used[0] = n


@compiled()
def _far(p, q, k, laid, sides):
    """How far a corner is from a side, squared, and how far out of its line."""
    _, world, ahead, _ = laid
    rx, ry = world[p, 0] - world[q, 0], world[p, 1] - world[q, 1]
    off, past = rx * ahead[q, 1] - ry * ahead[q, 0], rx * ahead[q, 0] + ry * ahead[q, 1]
    past = past if past < 0.0 else max(0.0, past - sides[k, 2])
    return off * off + past * past, off


@compiled()
def _add(found, m, i, k, j, e):
    if m == len(found):
        found = np.concatenate((found, np.empty_like(found)))
    found[m, 0], found[m, 1], found[m, 2], found[m, 3] = i, k, j, e
    return found, m + 1


@compiled()
def _corners_near_sides(i, thin, bodies, laid, grid, found, m):
    """Of each of a body's corners the nearest sides."""
    kind, _, first, _, sides, _, touches = bodies
    at, world, _, owner = laid
    heads, links, numbers, _, along = grid
    across = heads.shape[1] // along
    others, chosen = np.empty(_MOST_AT_ONCE, np.int32), np.empty(_MOST_AT_ONCE, np.int32)
    bests, lines = np.empty(_MOST_AT_ONCE), np.empty(_MOST_AT_ONCE)
    inside = np.empty(_MOST_AT_ONCE, np.bool_)
    # A thin body looks as far around as it is thinner; no side found twice does harm.
    more = min(1, math.ceil(thin[i]))
    for p in range(at[i], at[i + 1]):
        mine = first[kind[i]] + p - at[i]
        if not touches[mine]:
            continue
        x, y = int(world[p, 0] / _CELL_MM), int(world[p, 1] / _CELL_MM)
        if x < 0 or y < 0 or x >= across or y >= along:
            continue
        near_by = 0
        for cx in range(max(0, x - more), min(across, x + more + 1)):
            for cy in range(max(0, y - more), min(along, y + more + 1)):
                z = heads[_SIDES, cx * along + cy]
                while z >= 0:
                    q, number = links[z, 1], links[z, 2]
                    z = links[z, 0]
                    j = owner[q]
                    if j == i or number != numbers[j]:
                        continue
                    k = first[kind[j]] + q - at[j]
                    far, off = _far(p, q, k, laid, sides)
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
            if inside[w] or bests[w] <= reach * reach:
                found, m = _add(found, m, i, mine, others[w], chosen[w])
    return found, m


@compiled()
def _sides_near_corners(j, thin, thinnest, bodies, has_moved, laid, grid, nearest, found, m):
    """Of each corner of bodies that have not moved the nearest of this one's sides."""
    kind, _, first, _, sides, _, _ = bodies
    at, world, _, owner = laid
    heads, links, numbers, _, along = grid
    best, line, side, last = nearest
    across = heads.shape[1] // along
    head = -2  # of the corners that are near, each of which holds the next in `last`; -1: it is none of them
    for q in range(at[j], at[j + 1]):
        k = first[kind[j]] + q - at[j]
        x0, x1, y0, y1 = _cells_of(q, at, j, world, NEAR_MM + thin[j] + thinnest, across, along)
        for x in range(x0, x1 + 1):
            for y in range(y0, y1 + 1):
                z = heads[_CORNERS, x * along + y]
                while z >= 0:
                    p, number = links[z, 1], links[z, 2]
                    z = links[z, 0]
                    i = owner[p]
                    if has_moved[i] or number != numbers[i]:
                        continue
                    far, off = _far(p, q, k, laid, sides)
                    reach = max(NEAR_MM + thin[i] + thin[j], _DEEPEST_MM)
                    if far > reach * reach:
                        continue
                    if last[p] == -1:
                        best[p], line[p], last[p] = 1e18, 0.0, head
                        head = p
                    if far < best[p] - 1e-12 or (far < best[p] + 1e-12 and abs(off) > abs(line[p])):
                        best[p], line[p], side[p] = far, off, k
    while head != -2:
        i = owner[head]
        reach = NEAR_MM + thin[i] + thin[j]
        if line[head] < 0.0 or best[head] <= reach * reach:
            found, m = _add(found, m, i, first[kind[i]] + head - at[i], j, side[head])
        following = last[head]
        last[head] = -1
        head = following
    return found, m


@compiled()
def relist(places, thin, bodies, has_moved, laid, grid, nearest, found, m):
    """Seek the contacts of bodies that have moved anew; `found` holds m, rows of body, corner, other body, side.

    Returns `found` and m. Where the grid has no room left, all bodies are taken as moved.
    """
    at, world, ahead, _ = laid
    heads, links, _, used, _ = grid
    entries = 0
    for i in range(len(places)):
        if has_moved[i]:
            entries += _most_entries(i, thin, bodies, at)
    if used[0] + entries > len(links):
        has_moved[:] = True
    all_moved = has_moved.all()
    if all_moved:
        heads[:] = -1
        used[0] = 0
    for i in range(len(places)):
        if has_moved[i]:
            _lay_out(i, places, bodies, world, ahead, at)
            _enter(i, thin, bodies, laid, grid)
    kept = np.int64(0)
    for row in range(m):
        if not has_moved[found[row, 0]] and not has_moved[found[row, 2]]:
            if kept < row:
                for column in range(4):
                    found[kept, column] = found[row, column]
            kept += 1
    m = kept
    thinnest = thin.max()
    for i in range(len(places)):
        if has_moved[i]:
            found, m = _corners_near_sides(i, thin, bodies, laid, grid, found, m)
            if not all_moved:
                found, m = _sides_near_corners(i, thin, thinnest, bodies, has_moved, laid, grid, nearest, found, m)
    return found, m


@compiled()
def listed(places, thin, bodies, width, length):
    """All contacts as they are, to be kept true by `relist`: what was laid out, grid, nearest, `found` and m; and the places."""
    laid, grid, nearest = _empty(places, thin, bodies, width, length)
    all_of_them = np.ones(len(places), np.bool_)
    found = np.empty((2 * len(laid[1]) + 16, 4), np.int32)
    none = np.int64(0)  # a literal 0 would have the loop compiled once more
    found, m = relist(places, thin, bodies, all_of_them, laid, grid, nearest, found, none)
    return laid, grid, nearest, found, m, places.copy()


@compiled()
def copied(near):
    """The same, to be changed by itself."""
    (at, world, ahead, owner), (heads, links, numbers, used, along), (best, line, side, last), found, m, since = near
    own_links, own_found = np.empty_like(links), np.empty_like(found)
    own_links[: used[0]], own_found[:m] = links[: used[0]], found[:m]
    return (
        (at, world.copy(), ahead.copy(), owner),
        (heads.copy(), own_links, numbers.copy(), used.copy(), along),
        (best.copy(), line.copy(), side.copy(), last.copy()),
        own_found,
        m,
        since.copy(),
    )


def contacts(places, thin, bodies, width, length):
    """All corners near sides: rows of body, corner, other body, side."""
    _, _, _, found, m, _ = listed(places, thin, bodies, width, length)
    return found[:m]
