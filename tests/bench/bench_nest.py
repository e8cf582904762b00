"""How tight the nest is and how long it takes, on made-up weeks.

With the package installed: python tests/bench/bench_nest.py [quick|normal|thorough]

Each week is nested onto a roll and, for comparison in the same run, laid in plain rows of boxes. The
last column is the length that the nest uses over the length that the rows use. Then some are nested onto
sheets, with offcuts in hand and without.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Callable
from dataclasses import replace

from stripegen.layout import Blank, Lot, Stock, Supply, tightness, used_length_mm, waste_share
from stripegen.nest import nest
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)
Points = list[tuple[float, float]]


def straight(chance: random.Random) -> Points:
    width, length = chance.choice((3, 4, 5, 8)), chance.randrange(180, 520) / 2
    return [(0, 0), (width, 0), (width, length), (0, length)]


def mitred(chance: random.Random) -> Points:
    width, length = chance.choice((3, 4, 5, 8)), chance.randrange(120, 420) / 2
    a, b = (chance.uniform(-1.3, 1.3) * width for _ in range(2))
    return [(0, max(0, -a)), (width, max(0, a)), (width, length + min(0, b)), (0, length - max(0, b))]


def slanted(chance: random.Random) -> Points:
    turn = math.radians(chance.uniform(20, 70))
    cos, sin = math.cos(turn), math.sin(turn)
    return [(x * cos - y * sin, x * sin + y * cos) for x, y in mitred(chance)]


def arc(chance: random.Random) -> Points:
    width, radius = chance.choice((3, 4, 5)), chance.uniform(130, 700)
    half = min(chance.uniform(100, 250) / radius, 2.2) / 2
    turns = [half * (2 * k / 24 - 1) for k in range(25)]
    outer = [(radius * math.sin(t), -radius * math.cos(t)) for t in turns]
    inner = [((radius - width) * math.sin(t), -(radius - width) * math.cos(t)) for t in reversed(turns)]
    return outer + inner


def spiral(chance: random.Random) -> Points:
    width, rate, start = chance.choice((3, 4, 5)), chance.uniform(0.2, 0.6), chance.uniform(90, 180)
    turns = [chance.uniform(120, 220) / start * k / 24 for k in range(25)]
    turns.sort()
    radii = [start * math.exp(rate * t) for t in turns]
    outer = [((r + width / 2) * math.cos(t), (r + width / 2) * math.sin(t)) for r, t in zip(radii, turns)]
    inner = [((r - width / 2) * math.cos(t), (r - width / 2) * math.sin(t)) for r, t in zip(radii, turns)]
    return outer + inner[::-1]


def week(seed: int, pieces: int, copies: int, kinds: list[Callable[[random.Random], Points]]) -> list[Blank]:
    """So many pieces of these kinds, each shape about `copies` times."""
    chance = random.Random(seed)
    blanks: list[Blank] = []
    while len(blanks) < pieces:
        points = chance.choice(kinds)(chance)
        left, top = (min(round(point[axis], 4) for point in points) for axis in (0, 1))
        outline = tuple((round(x, 4) - left, round(y, 4) - top) for x, y in points)
        for _ in range(min(pieces - len(blanks), chance.randint(1, 2 * copies - 1))):
            blanks.append(Blank(key=f"{len(blanks)}", outline=outline))
    return blanks


WEEKS = {
    "straight": week(1, 120, 4, [straight]),
    "alike": week(2, 300, 40, [straight, mitred]),
    "mixed": week(3, 300, 6, [straight, straight, mitred, slanted, arc]),
    "curvy": week(4, 120, 4, [arc, arc, spiral]),
    "large": week(5, 2000, 10, [straight, straight, mitred, arc]),
}


def main(effort: str = "normal") -> None:
    print(f"{'week':10}{'pieces':>8}{'tightness':>11}{'waste':>8}{'seconds':>9}{'of rows':>9}")
    for name, blanks in WEEKS.items():
        by_key = {blank.key: blank for blank in blanks}
        began = time.perf_counter()
        layout = nest(blanks, ROLL, effort)
        seconds = time.perf_counter() - began
        prove(layout, blanks, ROLL)
        rows = lay_in_reading_order(blanks, ROLL)
        (sheet,), (plain,) = layout.sheets, rows.sheets
        ratio = used_length_mm(sheet, by_key, ROLL) / used_length_mm(plain, by_key, ROLL)
        print(
            f"{name:10}{len(blanks):8}{tightness(sheet, by_key, ROLL):11.3f}"
            f"{waste_share(sheet, by_key, ROLL):8.3f}{seconds:9.1f}{ratio:9.3f}",
            flush=True,
        )
    print(f"\n{'week':10}{'offcuts':>8}{'used':>6}{'sheets':>8}{'last mm':>9}{'seconds':>9}")
    for name, kinds in (("mixed", 0), ("mixed", 5), ("mixed", 30), ("large", 0), ("large", 30)):
        supply = in_hand(kinds)
        began = time.perf_counter()
        layout = nest(WEEKS[name], supply, effort)
        seconds = time.perf_counter() - began
        prove(layout, WEEKS[name], supply)
        new = [sheet for sheet in layout.sheets if not supply.lots[sheet.lot].is_offcut]
        by_key = {blank.key: blank for blank in WEEKS[name]}
        last = used_length_mm(new[-1], by_key, supply.lots[-1].stock) if new else 0.0
        count = sum(lot.quantity for lot in supply.lots[:-1])
        print(f"{name:10}{count:8}{len(layout.sheets) - len(new):6}{len(new):8}{last:9.1f}{seconds:9.1f}", flush=True)


def in_hand(kinds: int) -> Supply:
    """Sheets of 305 x 400 mm, and offcuts of so many sizes, one or two of each."""
    chance = random.Random(4)
    sizes = [(chance.randint(60, 305), chance.randint(40, 150), chance.randint(1, 2)) for _ in range(kinds)]
    offcuts = [Lot(stock=replace(ROLL, width_mm=w, length_mm=l), quantity=n, is_offcut=True) for w, l, n in sizes]
    return Supply((*offcuts, Lot(stock=replace(ROLL, length_mm=400))))


if __name__ == "__main__":
    main(*sys.argv[1:])
