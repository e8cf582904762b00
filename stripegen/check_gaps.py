"""Whether the gaps between a line's own stripes, and the stripes, stay wide enough where the cup is narrowest."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from stripegen.decoration import Decoration
from stripegen.errors import Figure, Notice
from stripegen.laid import LaidLine
from stripegen.spec import Job, Order, Vertical
from stripegen.units import show_length

SAMPLES = 65  # of the wall, between which a smooth one narrows little more
SAME_MM = 1e-3


def gap_notices(job: Job, order: Order, decoration: Decoration, min_gap_mm: float = 0.0) -> list[Notice]:
    """A warning for each line whose gap is less than its vinyl can be weeded at, or closes to less than that or `min_gap_mm`.

    Stripes side by side keep their gap; those that narrow with the cup do not, nor their width.
    """
    found: list[Notice] = []
    for laid in decoration.lines:
        least_mm = job.vinyl_of(order, laid.line.vinyl).min_width_mm
        found += _of_line(laid, least_mm, min_gap_mm, job.units)
    return found


def _of_line(laid: LaidLine, least_mm: float, min_gap_mm: float, unit: str) -> Iterator[Notice]:
    line = laid.line
    share, down_mm = _narrowing(laid)
    limit_mm = max(least_mm, min_gap_mm)
    gap_mm, width_mm = line.gap_mm * share, line.width_mm * share

    def shown(length_mm: float) -> str:
        return f"{show_length(length_mm, unit, 1)} {unit}"

    def told(code: str, message: str, now_mm: float, least_mm: float) -> Notice:
        figures = Figure("now", now_mm), Figure("least", least_mm), Figure("down", down_mm)
        return Notice(code=code, line=line.name, message=message, figures=figures)

    if line.stripes > 1 and line.gap_mm:
        if line.gap_mm < least_mm - SAME_MM:
            why = "waste so narrow can't be weeded" if line.together else "no hand lays strips so evenly"
            message = f"the gap between its stripes is {shown(line.gap_mm)}, less than {shown(least_mm)}: {why}"
            yield told("thin-gap", message, line.gap_mm, least_mm)
        elif gap_mm < limit_mm - SAME_MM <= line.gap_mm:
            message = (
                f"the gap between its stripes is {shown(line.gap_mm)} at the rim and narrows with the cup to "
                f"{shown(gap_mm)}, {shown(down_mm)} down, less than {shown(limit_mm)}"
            )
            yield told("gap-closes", message, gap_mm, limit_mm)
    if width_mm < least_mm - SAME_MM <= line.width_mm:
        message = (
            f"its stripes are {shown(line.width_mm)} wide at the rim and narrow with the cup to {shown(width_mm)}, "
            f"{shown(down_mm)} down, less than {shown(least_mm)}, the least that can be weeded"
        )
        yield told("narrow-end", message, width_mm, least_mm)


def _narrowing(laid: LaidLine) -> tuple[float, float]:
    """The share of its width that a line has where it is narrowest, and how far down that is."""
    if not (isinstance(laid.line, Vertical) and laid.line.narrows):
        return 1.0, 0.0
    wall = laid.site.wall
    boxes = np.array([strip.shape.polygon.bounds for strip in laid.strips])
    top_mm, bottom_mm = boxes[:, 1].min(), boxes[:, 3].max()
    bends = [bend for bend in wall.bends_mm if top_mm < bend < bottom_mm]
    downs = np.concatenate([np.linspace(top_mm, bottom_mm, SAMPLES), bends])
    radii = np.array([float(wall.radius_mm(down)) for down in downs])
    at = int(np.argmin(radii))
    return float(radii[at]) / wall.rim_radius_mm, float(downs[at])
