"""What is placed of a vinyl's pieces: each by itself, units or planks; and where each piece lies then."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stripegen.layout import Blank, Placement, turn_matrix
from stripegen.outline import Outline, Ring, Stroke
from stripegen.planks import Plank
from stripegen.production import Piece
from stripegen.sharing import Joined
from stripegen.spec import Vinyl
from stripegen.stock import blank_of, plank_blank, unit_blank


@dataclass(frozen=True)
class SharedPlace:
    """Where a strip lies that shares cuts: its ring on the sheet, so that shared sides are the same numbers.

    The ring ends with the side that it shares with the strip `before`, if there is one; `after` is the next.
    """

    ring: Ring
    before: str | None
    after: str | None

    @property
    def saved_mm(self) -> float:
        """How much of it is cut with the strip before."""
        last = [*self.ring.walk()][-1]
        return math.dist(last[0], last[1].end) if self.before else 0.0


@dataclass(frozen=True)
class Placed:
    """A piece on a sheet."""

    piece: Piece
    placement: Placement
    shared: SharedPlace | None = None

    @property
    def outline(self) -> Outline:
        """The true outline where it lies on the sheet."""
        if self.shared:
            return Outline(self.shared.ring)
        place = self.placement
        return self.piece.flat.cut_outline.moved(math.radians(place.turn_deg), place.dx_mm, place.dy_mm)

    @property
    def cut(self) -> Outline | Stroke:
        """What is cut of the outline: all, but for a side that is cut with the strip before."""
        if self.shared and self.shared.before:
            return Stroke(self.shared.ring.start, self.shared.ring.edges[:-1])
        return self.outline

    @property
    def shares_cut_with(self) -> tuple[str, ...]:
        """The pieces with which it shares a cut."""
        both = (self.shared.before, self.shared.after) if self.shared else ()
        return tuple(other for other in both if other)

    def moved(self, dx_mm: float, dy_mm: float) -> Placed:
        place, shared = self.placement, self.shared
        if shared:
            shared = replace(shared, ring=shared.ring.moved(0.0, dx_mm, dy_mm))
        return replace(
            self, placement=replace(place, dx_mm=place.dx_mm + dx_mm, dy_mm=place.dy_mm + dy_mm), shared=shared
        )


@dataclass(frozen=True)
class Whole:
    """Pieces that are placed as one, where each lies in their common frame, and the shift from that to the blank's.

    `plank`: they share cuts, and lie there.
    """

    pieces: list[Piece]
    poses: list[tuple[float, float, float]]
    shift: tuple[float, float]
    plank: Plank | None = None


@dataclass(frozen=True)
class Way:
    """What is placed, by name: a piece by itself, a unit or a plank."""

    blanks: dict[str, Blank]
    wholes: dict[str, Whole]


def plain_way(pieces: Sequence[Piece], vinyl: Vinyl) -> Way:
    """Each piece by itself, or with its unit."""
    blanks: dict[str, Blank] = {}
    wholes: dict[str, Whole] = {}
    for piece in pieces:
        if piece.unit is None:
            blanks[piece.id] = blank_of(piece.id, piece.flat, vinyl)
            continue
        key, unit = piece.unit.id, piece.unit.unit
        if key not in wholes:
            blanks[key], shift = unit_blank(key, unit, vinyl)
            wholes[key] = Whole([], [], shift)
        wholes[key].pieces.append(piece)
        wholes[key].poses.append(unit.poses[piece.unit.number])
    return Way(blanks, wholes)


def shared_way(plain: Way, planks: Sequence[Joined], vinyl: Vinyl) -> Way:
    """The same, but for the pieces that lie in planks."""
    blanks, wholes = dict(plain.blanks), dict(plain.wholes)
    for joined in planks:
        for piece in joined.pieces[1:]:
            del blanks[piece.id]
        blanks[joined.key], shift = plank_blank(joined.key, joined.plank, vinyl)
        wholes[joined.key] = Whole(list(joined.pieces), list(joined.plank.poses), shift, joined.plank)
    return Way(blanks, wholes)


def placed_pieces(place: Placement, pieces: Mapping[str, Piece], wholes: Mapping[str, Whole]) -> list[Placed]:
    """The pieces that lie where a blank does."""
    if place.key not in wholes:
        return [Placed(pieces[place.key], place)]
    whole, found = wholes[place.key], []
    for number, (piece, (own_turn, x, y)) in enumerate(zip(whole.pieces, whole.poses, strict=True)):
        dx, dy = _on_sheet(place, (x + whole.shift[0], y + whole.shift[1]))
        turn_deg = place.turn_deg + math.degrees(own_turn)
        own = Placement(key=piece.id, turn_deg=turn_deg, dx_mm=dx, dy_mm=dy)
        found.append(Placed(piece, own, _shared_place(whole, number, place) if whole.plank else None))
    return found


def _shared_place(whole: Whole, number: int, place: Placement) -> SharedPlace:
    ring = whole.plank.rings[number].moved(math.radians(place.turn_deg), *_on_sheet(place, whole.shift))
    before, after = (
        whole.pieces[other].id if 0 <= other < len(whole.pieces) else None for other in (number - 1, number + 1)
    )
    return SharedPlace(ring, before, after)


def _on_sheet(place: Placement, point: tuple[float, float]) -> tuple[float, float]:
    """Where a point of a blank lies."""
    cos, sin = turn_matrix(place.turn_deg)
    x, y = point
    return x * cos - y * sin + place.dx_mm, x * sin + y * cos + place.dy_mm
