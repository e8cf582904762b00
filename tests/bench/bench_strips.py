"""How long strips take to generate, against laying every copy by itself in the same run.

python tests/bench/bench_strips.py [PIECES]     about so many pieces of each week (default 10,000)
"""

from __future__ import annotations

import cProfile
import math
import pstats
import sys
import time
from collections.abc import Callable

from stripegen import cutting
from stripegen.decoration import decorate
from stripegen.spec import Cup, Diagonal, Down, Pattern, Repeat, Ring, Seam, Vertical


def share(value: float) -> Down:
    return Down(value, is_share=True)


def a_cup(number: int) -> Cup:
    seams = {name: Seam(name=name, rim=place, base=place) for name, place in (("front", 0.0), ("back", math.pi))}
    return Cup(
        name=f"cup-{number}",
        rim_radius_mm=40 + 0.01 * number,
        base_radius_mm=30 + 0.005 * number,
        wall_mm=140 + 0.02 * number,
        seams=seams,
    )


def pattern(tied: bool) -> Pattern:
    """Pins, rings and slants: free, or with both ends tucked under the pins."""
    common = {"vinyl": "v", "repeat": Repeat(count=12)}
    pins = Vertical(name="pin", width_mm=4.0, **common)
    ends = {"start_around": 0.0, "end_around": math.pi / 6} if tied else {"start_around": 0.1, "end_around": 0.4}
    under = ("pin",) if tied else ()
    slants = [
        Diagonal(
            name=path, path=path, width_mm=2.0, start_down=share(0.2), end_down=share(0.8), under=under, **ends, **common
        )
        for path in ("straight", "even-drop")
    ]
    ring = Ring(name="ring", vinyl="v", width_mm=3.0, downs=(share(0.0), share(1.0)), ends="upright")
    return Pattern(name="tied" if tied else "free", lines=(pins, *slants, ring))


def timed(cups: int, lines: Pattern) -> tuple[int, float]:
    began = time.process_time()
    pieces = sum(len(own) for number in range(cups) for own in decorate(a_cup(number), lines).pieces)
    return pieces, time.process_time() - began


def one_by_one(run: Callable):
    """The same with no copy known for one."""
    kept = cutting.likeness
    cutting.likeness = lambda course: (id(course),)
    try:
        return run()
    finally:
        cutting.likeness = kept


def main() -> None:
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    print("each cup another size; seconds of one core")
    for tied in (False, True):
        lines = pattern(tied)
        each = timed(1, lines)[0]
        pieces, seconds = timed(max(1, wanted // each), lines)
        few, slow = one_by_one(lambda lines=lines, each=each: timed(max(1, wanted // each // 20), lines))
        print(
            f"{lines.name}: {pieces} pieces in {seconds:.1f} s, {1000 * seconds / pieces:.2f} ms each; "
            f"{seconds / pieces / (slow / few):.2f} of laying every copy by itself ({1000 * slow / few:.1f} ms each)"
        )
    profile = cProfile.Profile()
    profile.runcall(timed, 10, pattern(True))
    pstats.Stats(profile).sort_stats("tottime").print_stats(12)


if __name__ == "__main__":
    main()
