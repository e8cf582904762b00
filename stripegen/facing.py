"""Which lines of a decoration face each other: where a way leads from the edge of one to that of the next.

Ways run round the cup and straight down the wall; for lines that face each other by none of those, as do the opposite
sides of a lattice's openings, half way between, falling to the right or to the left. A way counts where it meets neither
edge at a glancing angle. Many of each kind are tried, among them those that just pass a corner of a line or a place where
two lines' edges cross, so that the ends of each stretch are met within EITHER_SIDE_MM.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields

import numpy as np
import shapely

from stripegen.shapes import FULL_TURN, Shape

LEVEL_STEP_MM = 1.5
MERIDIANS = 360
SLANTING = 120  # ways of each slanting kind
GLANCING, ASKEW = (math.sin(math.radians(degrees)) for degrees in (20, 50))  # least sines of the angle at which a way
# meets an edge: of a straight way, and of a slanting one
EITHER_SIDE_MM = 0.01
MOST_CORNERS = 600  # so many levels, and ways of a kind down the wall, are tried for corners, evenly chosen of more
NEAR_MM = 10.0  # what is nearer, nothing lying between, is a neighbour too, though it may face nothing


@dataclass
class Facing:
    """Where one line faces another: places of the first, and those of the second, as turned.

    `beside` counts the ways that lead to the right from the first to the second, less those from the second to the
    first; `below` those that lead down. `round_ways` and `down_ways` count them whichever way they lead.
    """

    first: list[tuple[float, float]] = field(default_factory=list)
    second: list[tuple[float, float]] = field(default_factory=list)
    beside: int = 0
    below: int = 0
    round_ways: int = 0
    down_ways: int = 0

    def take(self, other: Facing) -> None:
        """Add what another tells of the same two lines."""
        for each in fields(self):
            setattr(self, each.name, getattr(self, each.name) + getattr(other, each.name))


Key = tuple[int, int, int]  # two lines, and by how many turns the second is turned to where it faces the first


@dataclass(frozen=True)
class _Part:
    """A part of a line: its samples' loops in the plane, x in radians."""

    line: int
    shape: Shape
    loops: tuple[np.ndarray, ...]
    box: tuple[float, float, float, float]

    @classmethod
    def of(cls, line: int, shape: Shape, scale_mm: float) -> _Part:
        x0, y0, x1, y1 = shape.polygon.bounds
        loops = tuple(trace.points / (scale_mm, 1.0) for trace in shape.traces)
        return cls(line, shape, loops, (x0 / scale_mm, y0, x1 / scale_mm, y1))

    def corners(self) -> np.ndarray:
        """Where its edges meet."""
        return np.array(
            [[float(value) for value in edge.curve.at(edge.t0)] for loop in self.shape.loops for edge in loop]
        )


def facing(
    lines: Sequence[Sequence[Shape]], scale_mm: float, closed: Collection[int] = ()
) -> tuple[dict[Key, Facing], set[Key]]:
    """Which lines face each other, each given by its shapes; and which touch or overlap.

    A line faces itself where it winds past itself, one winding below the other. `closed` are those that close round
    the cup.
    """
    parts = [_Part.of(number, shape, scale_mm) for number, shapes in enumerate(lines) for shape in shapes]
    touching, near, crossed = _near(parts, scale_mm)
    corners = np.concatenate([crossed, *(part.corners() for part in parts)])
    found: dict[Key, Facing] = defaultdict(Facing)
    for key, first, second in _beside(parts, corners[:, 1], scale_mm):
        _note(found, key, first, second, beside=1)
    for key, first, second in _below(parts, corners, scale_mm, 0, MERIDIANS):
        _note(found, key, first, second, below=1)
    slanting: dict[Key, Facing] = defaultdict(Facing)
    for side in (1, -1):
        for key, first, second in _below(parts, corners, scale_mm, side, SLANTING):
            _note(slanting, key, first, second, beside=side, below=1)
    found = {**slanting, **found}
    for key, first, second in near:
        if _canonical(key) not in found:
            found[_canonical(key)] = Facing()
            _note(found, key, first, second, below=1 if second[1] > first[1] else -1)
    return _once_round(found, closed), {_canonical(key) for key in touching}


def _once_round(found: dict[Key, Facing], closed: Collection[int]) -> dict[Key, Facing]:
    """The same, two lines that close round the cup told once, however turned."""
    kept: dict[Key, Facing] = {}
    for key, faces in found.items():
        if not {key[0], key[1]} <= set(closed):
            kept[key] = faces
        else:
            whole = kept.setdefault((key[0], key[1], 0), Facing())
            whole.take(faces)
    return kept


def _canonical(key: Key) -> Key:
    one, other, turns = key
    return key if (one, 0) < (other, turns) else (other, one, -turns)


def _note(found: dict[Key, Facing], key: Key, first, second, beside: int = 0, below: int = 0) -> None:
    kept = _canonical(key)
    if kept != key:
        back = -key[2] * FULL_TURN
        first, second = (second[0] + back, second[1]), (first[0] + back, first[1])
        beside, below = -beside, -below
    facing = found[kept]
    facing.first.append(first)
    facing.second.append(second)
    facing.beside += beside
    facing.below += below
    facing.round_ways += abs(beside)
    facing.down_ways += abs(below)


def _spans(loops: Iterable[np.ndarray], values: np.ndarray, axis: int, way: tuple[float, float], scale_mm: float) -> Iterator:
    """Where ways at some values of one axis run inside loops: rows of which way, from, to, and whether both edges,
    met by ways in a direction of the plane, are met squarely enough."""
    least = math.hypot(*way) * (GLANCING if 0.0 in way else ASKEW)
    at, places, square = [], [], []
    for loop in loops:
        start, end = loop, np.roll(loop, -1, axis=0)
        segment, index = np.nonzero((start[:, axis, None] <= values) != (end[:, axis, None] <= values))
        low, along = start[segment], (end - start)[segment]
        share = (values[index] - low[:, axis]) / along[:, axis]
        at.append(index)
        places.append(low[:, 1 - axis] + share * along[:, 1 - axis])
        # the plane's own direction of a segment, from that of the slanting frame
        run, drop = along[:, 0] * scale_mm + (along[:, 1] * way[0] if axis == 0 else 0.0), along[:, 1]
        square.append(np.abs(run * way[1] - drop * way[0]) > least * np.hypot(run, drop))
    at, places, square = np.concatenate(at), np.concatenate(places), np.concatenate(square)
    order = np.lexsort((places, at))
    columns = (at[order][::2], places[order][::2], places[order][1::2], square[order][::2], square[order][1::2])
    return zip(*(column.tolist() for column in columns), strict=True)


def _tried(grid: np.ndarray, corners: np.ndarray, aside: float) -> np.ndarray:
    """The values of a grid, and those just either side of corners."""
    near = np.unique(np.round(corners / aside)) * aside
    if len(near) > MOST_CORNERS:
        near = near[np.linspace(0, len(near) - 1, MOST_CORNERS).astype(int)]
    return np.unique(np.concatenate([grid, near - aside, near + aside]))


def _beside(parts: Sequence[_Part], corners: np.ndarray, scale_mm: float) -> Iterator[tuple]:
    """Each way to the right from a line to the next, at each level: key, place of the first, place of the second."""
    low, high = min(part.box[1] for part in parts), max(part.box[3] for part in parts)
    levels = _tried(np.arange(low + LEVEL_STEP_MM / 2, high, LEVEL_STEP_MM), corners, EITHER_SIDE_MM)
    rows: list[list[tuple]] = [[] for _ in levels]
    for part in parts:
        for index, start, end, square_start, square_end in _spans(part.loops, levels, 1, (1.0, 0.0), scale_mm):
            turn = math.floor(start / FULL_TURN)
            back = turn * FULL_TURN
            rows[index].append((start - back, end - back, part.line, -turn, square_start, square_end))
    for level, row in zip(levels.tolist(), rows, strict=True):
        if len(row) < 2:
            continue
        row.sort()
        _, end, line, turns, _, square_end = max(row, key=lambda span: span[1])
        reached, turns = end - FULL_TURN, turns - 1  # what reaches furthest into the next turn
        for start, end, other, other_turns, square_start, other_square_end in row:
            if start > reached and other != line and square_start and square_end:
                back = -turns * FULL_TURN
                yield (line, other, other_turns - turns), (reached + back, level), (start + back, level)
            if end > reached:
                reached, line, turns, square_end = end, other, other_turns, other_square_end


def _below(parts: Sequence[_Part], corners: np.ndarray, scale_mm: float, side: int, count: int) -> Iterator[tuple]:
    """The same for ways down the wall: straight down, or falling as much to one side (1: to the right) as down.

    Slanting ways are upright in a frame that slants as they do.
    """
    slant = side / scale_mm
    aside = EITHER_SIDE_MM / scale_mm
    grid = np.arange(count) * FULL_TURN / count + aside
    arounds = _tried(grid, (corners[:, 0] - slant * corners[:, 1]) % FULL_TURN, aside)
    columns: list[list[tuple]] = [[] for _ in arounds]
    for number, part in enumerate(parts):
        loops = [loop - np.outer(loop[:, 1], (slant, 0.0)) for loop in part.loops]
        first, last = (
            int(edge // FULL_TURN) for edge in (min(loop[:, 0].min() for loop in loops), max(loop[:, 0].max() for loop in loops))
        )
        for turn in range(first, last + 1):
            spans = _spans(loops, arounds + turn * FULL_TURN, 0, (float(side), 1.0), scale_mm)
            for index, start, end, square_start, square_end in spans:
                columns[index].append((start, end, number, turn, square_start, square_end))
    for around, column in zip(arounds.tolist(), columns, strict=True):
        if len(column) < 2:
            continue
        column.sort()
        _, reached, part, turn, _, square_end = column[0]
        for start, end, other, other_turn, square_start, other_square_end in column[1:]:
            line, other_line = parts[part].line, parts[other].line
            apart = other_line != line or (other == part and turn != other_turn)  # or a winding of one
            if start > reached and apart and square_start and square_end:
                own = around + turn * FULL_TURN
                first, second = ((own + slant * down, down) for down in (reached, start))
                yield (line, other_line, turn - other_turn), first, second
            if end > reached:
                reached, part, turn, square_end = end, other, other_turn, other_square_end


def _near(parts: Sequence[_Part], scale_mm: float) -> tuple[set[Key], list[tuple], np.ndarray]:
    """Which lines touch, which are near with nothing between (with the ends of the way), and where edges cross."""
    shapes = np.array([part.shape.polygon for part in parts], dtype=object)
    lines = np.array([part.line for part in parts])
    tree = shapely.STRtree(shapes)
    low, high = min(part.box[0] for part in parts), max(part.box[2] for part in parts)
    touching: set[Key] = set()
    near, corners = {}, []
    for turns in range(int((high - low) // FULL_TURN) + 2):
        turned = shapes
        if turns:
            turned = shapely.transform(shapes, lambda xy, by=turns * FULL_TURN * scale_mm: xy + (by, 0.0))
        there, here = tree.query(turned, predicate="dwithin", distance=NEAR_MM)
        others = lines[here] != lines[there] if turns else lines[here] < lines[there]
        kept = others | ((here == there) & bool(turns))
        there, here = there[kept], here[kept]
        meet = shapely.intersects(shapes[here], turned[there])
        touching |= {(int(lines[n]), int(lines[m]), turns) for n, m in zip(here[meet], there[meet], strict=True)}
        crossed = shapely.intersection(shapely.boundary(shapes[here[meet]]), shapely.boundary(turned[there[meet]]))
        corners.append(shapely.get_coordinates(crossed) / (scale_mm, 1.0))
        there, here = there[~meet], here[~meet]
        ways = shapely.shortest_line(shapes[here], turned[there])
        between = np.zeros(len(ways), dtype=bool)
        for further in range(-1, turns + 2):
            moved = shapely.transform(ways, lambda xy, by=further * FULL_TURN * scale_mm: xy - (by, 0.0))
            way, third = tree.query(moved, predicate="intersects")
            strange = (lines[third] != lines[here[way]]) & (lines[third] != lines[there[way]])
            between[way[strange]] = True
        for n, m, way in zip(here[~between], there[~between], ways[~between], strict=True):
            key = (int(lines[n]), int(lines[m]), turns)
            if key not in near or way.length < near[key].length:
                near[key] = way
    found = []
    for key, way in near.items():
        first, second = (shapely.get_coordinates(way) / (scale_mm, 1.0)).tolist()
        found.append((key, tuple(first), tuple(second)))
    return touching, found, np.concatenate(corners)
