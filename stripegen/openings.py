"""Whether the stripes over open seams are wide enough to close them."""

from __future__ import annotations

from stripegen.errors import Figure, Notice
from stripegen.spec import Cup, Pattern, Seam, Vertical

PAST_MM = 3.0  # so much wider than the opening must the stripe over it be


def opening_notices(cup: Cup, pattern: Pattern) -> list[Notice]:
    """A warning for each seam of a cup that gapes, and over which no stripe of the pattern is wide enough."""
    found = []
    for seam in cup.seams.values():
        over = {line.name: _over(line, seam) for line in pattern.lines if _follows(line, seam)}
        if seam.opening_mm and max(over.values(), default=0.0) < seam.opening_mm + PAST_MM - 1e-9:
            widest = max(over, key=over.get, default=None)
            message, remedy = _told(seam, widest, over)
            figures = (Figure("opening", seam.opening_mm), Figure("width", over.get(widest, 0.0)))
            found.append(Notice(code="open-seam", line=widest, message=message, remedy=remedy, figures=figures))
    return found


def _follows(line: object, seam: Seam) -> bool:
    return isinstance(line, Vertical) and seam.name in line.around


def _over(line: Vertical, seam: Seam) -> float:
    """The width of the vinyl that lies over the middle of the seam; of an even number of stripes there is none."""
    if line.stripes % 2:
        return line.width_mm
    return line.full_width_mm if not line.gap_mm else 0.0


def _told(seam: Seam, widest: str | None, over: dict[str, float]) -> tuple[str, str]:
    wide = f"{seam.opening_mm + PAST_MM:g} mm wide or more"
    opening = f"the seam {seam.name} is open by {seam.opening_mm:g} mm"
    if widest is None:
        return f"{opening} and no vertical line lies over it", f"one must, {wide}"
    if not over[widest]:
        return f"{opening} and would show between its stripes", f"use an odd number of them, the middle one {wide}"
    return f"{opening} and the stripe over it is {over[widest]:g} mm wide", f"it must be {wide}"
