"""How much vinyl shared cuts save, on made-up weeks of seam stripes.

With the package installed: python tests/bench/bench_shared.py [quick|normal|thorough]

Each week is twenty orders on eight sizes of cup, with two stripes of 6 mm on the seams and two of 3 mm between them; it
is nested without shared cuts and with, in the same run.
"""

from __future__ import annotations

import random
import sys
import time
from functools import partial

from stripegen.jobfile import parse_job
from stripegen.nest import nest
from stripegen.nest_shared import nest_sharing
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.sheets import lay_out
from stripegen.tasks import Sharing

STOCKS = {
    "roll": "width = 305",
    "roll, grain along the strips": 'width = 305\ngrain = "strip"',
    "sheets of 305 x 250": "width = 305\nlength = 250",
}
LINES = """
[pattern.seams]
[[pattern.seams.line]]
name = "seam"
kind = "vertical"
around = ["front", "back"]
width = 6
vinyl = "tin"
[[pattern.seams.line]]
name = "thin"
kind = "vertical"
around = [90, 270]
width = 3
vinyl = "tin"
"""


def week(seed: int, stock: str) -> str:
    chance = random.Random(seed)
    text = f'[vinyl.tin]\ncolour = "#a8adb3"\nshared_cuts = true\n{stock}\n{LINES}'
    for number in range(8):
        rim, less, height = chance.randrange(76, 96, 2), chance.choice([0, 8, 14, 20, 24]), chance.randrange(95, 175, 5)
        text += f"[cup.c{number}]\nrim = {{ diameter = {rim} }}\nbase = {{ diameter = {rim - less} }}\nheight = {height}\n"
    for number in range(20):
        cup, quantity = chance.randrange(8), chance.choice([1, 2, 2, 3, 4, 6])
        text += f'[[order]]\nid = "W-{number}"\ncup = "c{cup}"\npattern = "seams"\nquantity = {quantity}\n'
    return text


def main(effort: str) -> None:
    print("| vinyl | pieces | sheets, used mm without | with | length over that without | cuts mm | of which shared | seconds |")
    for name, stock in STOCKS.items():
        for seed in (7, 8):
            production = produce(parse_job(week(seed, stock), "week.toml", lambda kind, name: None))
            row = []
            for sharing in (None, Sharing(partial(nest_sharing, effort=effort))):
                start = time.perf_counter()
                sheets = lay_out(production, "sheet", partial(nest, effort=effort), prove, sharing=sharing)
                row.append((sheets, sum(sheet.used_length_mm for sheet in sheets), time.perf_counter() - start))
            (plain, plain_mm, plain_s), (shared, shared_mm, shared_s) = row
            cuts_mm = sum(2 * (piece.flat.cut_mm + piece.flat.width_mm) for piece in production.pieces)
            print(
                f"| {name} | {len(production.pieces)} | {len(plain)}, {plain_mm:.0f} | {len(shared)}, {shared_mm:.0f} "
                f"| {shared_mm / plain_mm:.2f} | {cuts_mm:.0f} | {sum(sheet.shared_mm for sheet in shared):.0f} "
                f"| {plain_s:.0f}, {shared_s:.0f} |"
            )


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "normal")
