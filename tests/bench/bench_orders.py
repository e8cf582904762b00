"""What keeping orders together costs in vinyl: the demo week, each vinyl on a roll as wide as it.

With the package installed: python tests/bench/bench_orders.py [quick|normal|thorough]

Used lengths: each order nested by itself over the whole width, one after the other; by order; ungrouped, in the same run.
Every layout by order and ungrouped is proved.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from cases import laid_by

from stripegen.layout import Blank, Layout, Stock, used_length_mm
from stripegen.nest import nest
from stripegen.nest_groups import nest_by_order, nest_ungrouped, order_of
from stripegen.proof import prove

_WEEK = Path(__file__).parents[2] / "presets" / "jobs" / "demo-week.toml"


def long_mm(layout: Layout, blanks: Sequence[Blank], stock: Stock) -> float:
    by_key = {blank.key: blank for blank in blanks}
    return sum(used_length_mm(sheet, by_key, stock) for sheet in layout.sheets)


def main(effort: str) -> None:
    print("| pieces | orders | one after the other | by order | ungrouped | seconds by order, ungrouped |")
    for blanks, supply in laid_by(_WEEK.read_text(encoding="utf-8"), _WEEK.name):
        stock = replace(supply.lots[supply.new[0]].stock, length_mm=None)
        orders: dict[str, list[Blank]] = defaultdict(list)
        for blank in blanks:
            orders[order_of(blank.key)].append(blank)
        apart_mm = 2 * stock.margin_mm - stock.gap_mm
        for own in orders.values():
            apart_mm += long_mm(nest(own, stock, effort), own, stock) - 2 * stock.margin_mm + stock.gap_mm
        row = []
        for way in (nest_by_order, nest_ungrouped):
            start = time.perf_counter()
            layout = way(blanks, stock, effort)
            seconds = time.perf_counter() - start
            prove(layout, blanks, stock)
            row.append((long_mm(layout, blanks, stock), seconds))
        (grouped_mm, grouped_s), (free_mm, free_s) = row
        print(
            f"| {len(blanks)} | {len(orders)} | {apart_mm:.0f} | {grouped_mm:.0f} | {free_mm:.0f} "
            f"| {grouped_s:.0f}, {free_s:.0f} |",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "normal")
