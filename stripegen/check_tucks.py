"""Whether tucks are deep enough for strips that are laid by hand."""

from __future__ import annotations

from stripegen.decoration import Decoration
from stripegen.errors import Figure, Notice
from stripegen.spec import Job, Order
from stripegen.units import show_length

LEAST_MM = 1.0  # a hand lays a strip no truer than within a millimetre
SAME_MM = 1e-6


def tuck_notices(job: Job, order: Order, decoration: Decoration) -> list[Notice]:
    """A warning for each line that goes under others by too little; not where they are one piece."""
    lines = {laid.line.name: laid.line for laid in decoration.lines}
    found = []
    for line in lines.values():
        own = job.vinyl_of(order, line.vinyl).name, line.resin_mm
        by_hand = [
            name
            for name in line.under
            if not decoration.pattern.together or (job.vinyl_of(order, lines[name].vinyl).name, lines[name].resin_mm) != own
        ]
        if not by_hand or line.tuck_mm >= LEAST_MM - SAME_MM:
            continue
        unit = job.units
        message = (
            f"its tuck under {' and '.join(by_hand)} is {show_length(line.tuck_mm, unit, 1)} {unit}, less than the "
            f"{show_length(LEAST_MM, unit, 1)} {unit} by which a strip strays that is laid by hand"
        )
        figures = Figure("tuck", line.tuck_mm), Figure("least", LEAST_MM)
        found.append(Notice(code="small-tuck", line=line.name, message=message, figures=figures))
    return found
