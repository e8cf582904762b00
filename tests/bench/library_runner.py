"""Lays an instance with a general packing library; run by `libraries.py` where that is installed.

    library_runner.py rectpack|spyrrow SECONDS

Reads the shapes as JSON from stdin, {"width", "gap", "first", "shapes": [{"outline", "count"}]}, and writes
{"laid": [[shape, turn in degrees, x, y]], "seconds", "cpu", "mb"}: x runs across the roll, y along it, and a
point is turned first, then moved.
"""

from __future__ import annotations

import itertools
import json
import math
import resource
import sys
import time
from collections.abc import Iterator

Laid = list[tuple[int, float, float, float]]

_UNIT_MM = 1e-4  # rectpack reckons in whole ones of it
_SPARE_MM = 0.002  # spyrrow reckons in 32 bits: so much more gap is asked of it, to be proved to 1e-6 mm


def by_rectpack(asked: dict, seconds: float) -> Laid:
    """Boxes along skylines, by every rule and order of the library; the shortest in the time, at least of one."""
    from rectpack import skyline

    began = time.monotonic()
    boxes = [tuple(math.ceil((side + asked["gap"]) / _UNIT_MM - 1e-6) for side in size_of(shape)) for shape in asked["shapes"]]
    every = [(*box, number) for number, box in enumerate(boxes) for _ in range(asked["shapes"][number]["count"])]
    across = math.floor((asked["width"] + asked["gap"]) / _UNIT_MM + 1e-6)
    length = sum(max(box[:2]) for box in every)
    best: Laid = []
    for name, order, lying in trials():
        if best and time.monotonic() - began > seconds:
            break
        # Lying: the roll across the skyline's columns, no longer than the best so far.
        rule = getattr(skyline, name)(*((length - 1, across) if lying else (across, length)), True)
        found = []
        for wide, high, number in sorted(every, key=order, reverse=True):
            laid = rule.add_rect(wide, high)
            if laid is None or best and time.monotonic() - began > seconds:
                break
            x, y, w, h = (laid.y, laid.x, laid.height, laid.width) if lying else (laid.x, laid.y, laid.width, laid.height)
            found.append((x, y, w, h, number))
        reach = max(y + h for x, y, w, h, number in found) if found else 0
        if len(found) == len(every) and reach < length:
            best, length = [in_box(asked, boxes, *each) for each in found], reach
    return best


def trials() -> Iterator:
    """Rule, order, and whether the roll lies: what is best on most comes first."""
    names = ("SkylineBlWm", "SkylineMwflWm", "SkylineMwfWm", "SkylineBl", "SkylineMwfl", "SkylineMwf")
    orders = (
        lambda box: (max(box[:2]), min(box[:2])),
        lambda box: (min(box[:2]), max(box[:2])),
        lambda box: box[0] * box[1],
        lambda box: box[0] + box[1],
        lambda box: max(box[:2]) / min(box[:2]),
    )
    yield from itertools.product(names, orders, (False,))
    while True:  # ever shorter
        yield from itertools.product(names, orders, (True,))


def in_box(asked: dict, boxes: list, x: int, y: int, w: int, h: int, number: int) -> tuple[int, float, float, float]:
    is_turned = (w, h) != boxes[number]
    left, top, _, bottom = bounds_of(asked["shapes"][number])
    x_mm, y_mm = (asked["first"] + value * _UNIT_MM for value in (x, y))
    return (number, 90.0, x_mm + bottom, y_mm - left) if is_turned else (number, 0.0, x_mm - left, y_mm - top)


def by_spyrrow(asked: dict, seconds: float) -> Laid:
    """Shapes as they are, at quarter turns, on all processors."""
    import spyrrow

    items = [
        spyrrow.Item(str(number), [tuple(point) for point in shape["outline"]], shape["count"], [0, 90, 180, 270])
        for number, shape in enumerate(asked["shapes"])
    ]
    across = asked["width"] - _SPARE_MM
    problem = spyrrow.StripPackingInstance("week", across, items)
    gap = asked["gap"] + _SPARE_MM
    told = spyrrow.StripPackingConfig(
        early_termination=False, min_items_separation=gap, total_computation_time=max(1, round(seconds)), seed=1
    )
    # Its strip runs along x: a quarter turn lays it along the roll.
    right, top = asked["first"] + across + _SPARE_MM / 2, asked["first"] + _SPARE_MM / 2
    return [
        (int(item.id), item.rotation + 90.0, right - item.translation[1], top + item.translation[0])
        for item in problem.solve(told).placed_items
    ]


def bounds_of(shape: dict) -> tuple[float, float, float, float]:
    xs, ys = zip(*shape["outline"])
    return min(xs), min(ys), max(xs), max(ys)


def size_of(shape: dict) -> tuple[float, float]:
    left, top, right, bottom = bounds_of(shape)
    return right - left, bottom - top


def main(name: str, seconds: str) -> None:
    asked = json.load(sys.stdin)
    began, cpu = time.perf_counter(), time.process_time()
    laid = {"rectpack": by_rectpack, "spyrrow": by_spyrrow}[name](asked, float(seconds))
    took = {"seconds": time.perf_counter() - began, "cpu": time.process_time() - cpu}
    mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 << 20 if sys.platform == "darwin" else 1 << 10)
    json.dump({"laid": laid, **took, "mb": mb}, sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
