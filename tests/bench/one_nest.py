"""One case of the nesting bench in a process of its own, so that time and memory are its alone.

Reads a request as JSON from stdin and writes what was measured as JSON; `bench_nest.py` runs it.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from cases import in_hand, pieces_of

from stripegen.errors import NestError
from stripegen.layout import (
    Blank,
    Layout,
    Placement,
    SheetLayout,
    Stock,
    bound_mm,
    tightness,
    used_length_mm,
    waste_share,
)
from stripegen.nest import nest
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order


def answer(request: dict[str, Any]) -> dict[str, Any]:
    """Nests a case (`effort`), lays it in rows, proves what a library laid (`laid`), or tells its shapes."""
    blanks, stock = pieces_of(request["case"])
    if request["do"] == "shapes":
        return shapes(blanks, stock)
    if request["do"] == "rows":
        return on_roll(lay_in_reading_order(blanks, stock), blanks, stock)
    if request["do"] == "prove":
        try:
            return on_roll(given(request["laid"], blanks), blanks, stock)
        except NestError as error:
            return {"fault": str(error)}
    effort, supply = request["effort"], in_hand(request["offcuts"]) if "offcuts" in request else stock
    # What is compiled, or fetched from the compilers' cache, is no part of nesting; it is told by itself.
    few = (blanks[:1], blanks[:3], blanks[-3:])
    ready = timed(lambda: [nest(some, stock, "normal") for some in few])[1:]
    layout, seconds, cpu = timed(lambda: nest(blanks, supply, effort))
    proof, proof_cpu = timed(lambda: prove(layout, blanks, supply))[1:]
    found = {"seconds": seconds, "cpu": cpu, "ready": ready[0], "proof": proof, "proof_cpu": proof_cpu, "mb": peak_mb()}
    return found | (on_sheets(layout, blanks, supply) if "offcuts" in request else on_roll(layout, blanks, stock))


def timed(work: Callable) -> tuple[Any, float, float]:
    """What comes of it, seconds by the clock, seconds of the processor."""
    clock, cpu = time.perf_counter(), time.process_time()
    result = work()
    return result, time.perf_counter() - clock, time.process_time() - cpu


def peak_mb() -> float:
    """The most memory this process had, Python and all libraries included."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 << 20 if sys.platform == "darwin" else 1 << 10)


def on_roll(layout: Layout, blanks: Sequence[Blank], stock: Stock) -> dict[str, Any]:
    """Measures of a layout that passes its proof."""
    prove(layout, blanks, stock)
    by_key = {blank.key: blank for blank in blanks}
    (sheet,) = layout.sheets
    return {
        "pieces": len(blanks),
        "bound": bound_mm(blanks, stock),
        "length": used_length_mm(sheet, by_key, stock),
        "tightness": tightness(sheet, by_key, stock),
        "waste": waste_share(sheet, by_key, stock),
    }


def on_sheets(layout: Layout, blanks: Sequence[Blank], supply) -> dict[str, Any]:
    new = [sheet for sheet in layout.sheets if not supply.lots[sheet.lot].is_offcut]
    by_key = {blank.key: blank for blank in blanks}
    return {
        "offcuts": sum(lot.quantity for lot in supply.lots[:-1]),
        "used": len(layout.sheets) - len(new),
        "sheets": len(new),
        "last": used_length_mm(new[-1], by_key, supply.lots[-1].stock) if new else 0.0,
    }


def shapes(blanks: Sequence[Blank], stock: Stock) -> dict[str, Any]:
    """The distinct outlines and how many there are of each; what curves bulge is in the gap and off the width."""
    slack_mm = max(blank.slack_mm for blank in blanks)
    counts = Counter(blank.outline for blank in blanks)
    return {
        "width": stock.usable_width_mm - 2 * slack_mm,
        "gap": stock.gap_mm + 2 * slack_mm,
        "first": stock.margin_mm + slack_mm,
        "shapes": [{"outline": outline, "count": count} for outline, count in counts.items()],
    }


def given(laid: Sequence[tuple[int, float, float, float]], blanks: Sequence[Blank]) -> Layout:
    """Placements of distinct outlines by number as a layout: the turn in degrees, then the move in mm.

    What is laid more often than there are pieces of it keeps no piece's name, so its proof fails.
    """
    waiting: dict[Any, list[str]] = {}
    for blank in blanks:
        waiting.setdefault(blank.outline, []).append(blank.key)
    keys = [iter(of_shape) for of_shape in waiting.values()]
    return Layout(
        (
            SheetLayout(
                tuple(
                    Placement(key=next(keys[number], f"{number} too many"), turn_deg=turn, dx_mm=x, dy_mm=y)
                    for number, turn, x, y in laid
                )
            ),
        )
    )


if __name__ == "__main__":
    json.dump(answer(json.load(sys.stdin)), sys.stdout)
