"""What the orders of a job look like: those with the same cup, seams, pattern and colours look alike.

What is shown of a look are the finished pieces of one cup, each before those that lie over it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from stripegen.artwork import Artwork
from stripegen.decoration import Decoration
from stripegen.panels import LaidPanel, laid_panels
from stripegen.pictures import Painted, in_painting_order
from stripegen.production import Piece, Production
from stripegen.spec import Job, Order


@dataclass(frozen=True)
class Seen:
    """A piece on the cup. `name` is its id without the order's and the cup's number: what a piece of each cup is called."""

    name: str
    piece: Piece
    painted: Painted


@dataclass(frozen=True)
class Look:
    """Orders that look alike, the first of them for all, and its pieces in painting order."""

    job: Job
    orders: tuple[Order, ...]
    decoration: Decoration
    strips: tuple[Seen, ...]
    panels: tuple[LaidPanel, ...] = ()

    @property
    def order(self) -> Order:
        return self.orders[0]

    @property
    def painted(self) -> list[Painted]:
        return [seen.painted for seen in self.strips]

    def colour_of_role(self, role: str) -> tuple[str, str]:
        """The name and colour of the vinyl that a line of this role is cut from."""
        vinyl = self.job.vinyl_of(self.order, role)
        return vinyl.name, vinyl.colour


def looks_of(production: Production, artworks: Mapping[str, Artwork] | None = None) -> list[Look]:
    """The looks of a job, in the order of the first order of each. `artworks` are by their files' names."""
    job = production.job
    orders: dict[tuple, list[Order]] = {}
    for order in job.orders:
        orders.setdefault(_key(job, order), []).append(order)
    pieces: dict[str, list[Piece]] = {}
    for piece in production.pieces:
        if piece.cup_no == 1:
            pieces.setdefault(piece.order, []).append(piece)
    found = []
    for alike in orders.values():
        first = alike[0]
        decoration = production.decorations[first.id]
        panels = laid_panels(job.cup_of(first).panels, decoration.site, artworks or {})
        strips = _seen(production, first, pieces[first.id])
        found.append(Look(job, tuple(alike), decoration, tuple(strips), tuple(panels)))
    return found


def _key(job: Job, order: Order) -> tuple:
    vinyls = [(line.vinyl, job.vinyl_of(order, line.vinyl)) for line in job.pattern_of(order).lines]
    seams = tuple(sorted((seam.name, seam.rim, seam.base) for seam in order.seams.values()))
    colours = tuple((role, vinyl.name, vinyl.colour) for role, vinyl in vinyls)
    return order.cup, seams, order.panels, order.pattern, order.changed, colours


def _seen(production: Production, order: Order, pieces: Iterable[Piece]) -> list[Seen]:
    decoration = production.decorations[order.id]
    lines = in_painting_order([laid.line for laid in decoration.lines])
    place = {line.name: number for number, line in enumerate(lines)}
    found = []
    for piece in pieces:
        shape = piece.flat.strip.shape.carried(decoration.site.wall)
        colour = production.job.vinyls[piece.vinyl].colour
        # a piece joined of several lines lies over all that any of them lies over
        depth = max(place[line] for line in piece.line.split("."))
        found.append((depth, Seen(piece.name, piece, Painted(piece.line, shape, colour, f"strip-{len(found)}"))))
    return [seen for _, seen in sorted(found, key=lambda each: each[0])]
