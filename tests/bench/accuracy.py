"""The largest errors of lengths and of flat shapes, by kind of line and of wall, against independent numbers.

python tests/bench/accuracy.py [CASES]     so many random ones of each kind on each wall (default 3); a table in Markdown
"""

from __future__ import annotations

import math
import sys
from pathlib import Path
from random import Random

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from anywall_lines import COMMON, diagonal, length_errors, pair_on, piece_errors
from reference_walls import Turned
from turned_cups import PROFILES, SMOOTH, STRAIGHT, built, cup_through

from stripegen.errors import GeometryError
from stripegen.spec import Down, Line, Ring, Vertical

KINDS = ("vertical", "ring", "straight", "same-slant", "even-drop")


def random_ends(rng: Random, length: float, kind: str):
    turn = rng.uniform(0.2, 2.2) if kind == "straight" else rng.choice((rng.uniform(0.2, 3), math.radians(359.9), 7.5))
    around = rng.uniform(-3, 6)
    return (around, rng.uniform(0.1, 0.35) * length), (around + turn, rng.uniform(0.6, 0.9) * length)


def a_line(kind: str, start, end, stripes: int) -> Line:
    common = COMMON | {"width_mm": 4.0, "stripes": stripes}
    if kind == "vertical":
        return Vertical(around=(start[0],), start=Down(start[1]), end=Down(end[1]), **common)
    if kind == "ring":
        return Ring(downs=(Down(start[1]),), start=start[0], end=end[0], ends="upright", **common)
    return diagonal(start, end, kind, stripes=stripes)


def errors(points, smooth: bool, kind: str, seed: str, cases: int) -> tuple[float, float, float, int]:
    """The largest error of length, of length beside, and of shape; and of how many cases.

    Ways square to a meridian graze a bend and cross or part there, so that points moved along them make no line beside
    it: over bends test_charts.py checks verticals' outer stripes by each section's own line.
    """
    grazes = kind == "vertical" and not smooth and len(points) > 2
    rng, worst, done = Random(seed), [0.0, 0.0, 0.0], 0
    for number in range(20 * cases):
        if done == cases:
            break
        resin = (0.0, 0.8)[number % 2]
        wall, true = built(points, smooth, resin), Turned(points, smooth, resin)
        start, end = random_ends(rng, wall.wall_mm, kind)
        if kind == "ring":
            end = (start[0] + min(end[0] - start[0], 6.2), end[1])
        try:
            pair = pair_on(wall, true, kind, start, end)
            found = length_errors(pair, (0.0,) if grazes else (0.0, 2.75, -6.0))
            pieces = piece_errors(cup_through(points, smooth, resin), a_line(kind, start, end, 1 if grazes else 1 + number % 2))
        except GeometryError:
            continue  # no such way on this wall
        worst = [max(a, b) for a, b in zip(worst, (found[0], max(found[1:], default=0.0), max(e for _, e in pieces)), strict=True)]
        done += 1
    return *worst, done


def main() -> None:
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    print("| wall | line | length, mm | beside it, mm | flat shape, mm | cases |\n| --- | --- | --- | --- | --- | --- |")
    for name, points in (STRAIGHT | PROFILES).items():
        for kind in KINDS:
            length, beside, shape, done = errors(points, name in SMOOTH, kind, f"{name} {kind}", cases)
            print(f"| {name} | {kind} | {length:.0e} | {beside:.0e} | {shape:.4f} | {done} |", flush=True)


if __name__ == "__main__":
    main()
