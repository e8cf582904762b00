"""The spacing of every order of a job, measured once for orders that are decorated alike."""

from __future__ import annotations

from dataclasses import replace

from stripegen.closeness import close_notices
from stripegen.decoration import Decoration
from stripegen.errors import Notice
from stripegen.production import Production, placed
from stripegen.spacing import Spacing, spacing_of
from stripegen.spec import Order


class Spacings:
    """Measured when first asked for."""

    def __init__(self, production: Production):
        self.production = production
        self._measured: list[tuple[Decoration, Spacing]] = []

    def of(self, order: str) -> Spacing:
        decoration = self.production.decorations[order]
        for known, spacing in self._measured:
            if known is decoration:
                return spacing
        self._measured.append((decoration, spacing_of(decoration)))
        return self._measured[-1][1]

    def notices(self, min_gap_mm: float = 0.0) -> list[Notice]:
        """A warning for lines of an order that come too near each other: nearer than `min_gap_mm`, or than can be weeded."""
        job = self.production.job
        return [*placed((notice for order in job.orders for notice in self.notices_of(order, min_gap_mm)), job)]

    def notices_of(self, order: Order, min_gap_mm: float = 0.0) -> list[Notice]:
        """Those of one order."""
        job = self.production.job
        lines = job.pattern_of(order).lines
        widths_mm = {line.name: job.vinyl_of(order, line.vinyl).min_width_mm for line in lines}
        notices = close_notices(self.of(order.id).pairs, lines, widths_mm, min_gap_mm, job.units)
        return [replace(notice, order=order.id) for notice in notices]
