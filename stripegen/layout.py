"""Flat pieces, the vinyl they are cut from, and where each lies on it: types and measures, no search.

Frames: x to the right, y down, millimetres. On a sheet x runs across the vinyl and y along its feed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

from stripegen.errors import NestError

Point = tuple[float, float]
Ring = tuple[Point, ...]

TURNS = ("any", "upright", "upright-flip", "along", "along-flip")
OUTLINE_DECIMALS = 4
TURN_DECIMALS = 6
MOVE_DECIMALS = 4
KEPT_MM = 20.0  # what is left over is kept if so much of it, at least, lies between its margins

# Arc segments a quarter turn where a shape is grown for the bound. The polygon lies inside the true
# round corner, so the bound can only come out lower, by less than 1e-5 of a strip's area.
_BOUND_SEGMENTS = 32


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and math.isfinite(value)


def _rounded_ring(ring: Iterable[Sequence[float]], key: str) -> Ring:
    points = tuple(
        (round(float(x), OUTLINE_DECIMALS) + 0.0, round(float(y), OUTLINE_DECIMALS) + 0.0) for x, y in ring
    )
    if len(points) < 3 or not all(math.isfinite(c) for point in points for c in point):
        raise NestError(f"piece {key}: an outline needs three or more finite points")
    if points[0] == points[-1]:
        raise NestError(f"piece {key}: an outline's first point must not be repeated as its last")
    return points


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """One flat piece to be placed, in its own frame, its bounding box starting at (0, 0).

    Parameters
    ----------
    key : str
        The piece's name; each is placed once.
    outline, holes : rings of (x, y), mm
        Rounded to 1e-4 mm here; a ring's first point is not repeated.
    slack_mm : float
        How far the true curved shape may bulge past this polygon; 0 for a straight piece.
    turns : str
        ``"any"``; ``"upright"`` (turn 0), ``"upright-flip"`` (0 or 180); ``"along"`` (`lean_deg`),
        ``"along-flip"`` (`lean_deg` or that and 180).
    lean_deg : float
        The turn that lays the centre line's middle direction along the sheet's y.
    solids : rings with the rings of their holes
        What is really cut out within the outline, if that is not all of it: pieces that keep their places.
    shares_cuts : bool
        Whether the solids fill the outline side by side, each sharing a whole side with the one before.

    Raises
    ------
    NestError
        if a ring is no simple polygon, the box does not start at 0, or a value is out of its range.
    """

    key: str
    outline: Ring
    holes: tuple[Ring, ...] = ()
    slack_mm: float = 0.0
    turns: str = "any"
    lean_deg: float = 0.0
    solids: tuple[tuple[Ring, tuple[Ring, ...]], ...] = ()
    shares_cuts: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", _rounded_ring(self.outline, self.key))
        object.__setattr__(self, "holes", tuple(_rounded_ring(hole, self.key) for hole in self.holes))
        if self.turns not in TURNS:
            raise NestError(f"piece {self.key}: turns must be one of {', '.join(TURNS)}: got {self.turns!r}")
        if not (_is_number(self.slack_mm) and self.slack_mm >= 0):
            raise NestError(f"piece {self.key}: slack_mm must be finite and >= 0: got {self.slack_mm}")
        if not _is_number(self.lean_deg):
            raise NestError(f"piece {self.key}: lean_deg must be finite: got {self.lean_deg}")
        if min(x for x, _ in self.outline) != 0 or min(y for _, y in self.outline) != 0:
            raise NestError(f"piece {self.key}: the outline's bounding box must start at (0, 0)")
        if not self.polygon.is_valid:
            raise NestError(f"piece {self.key}: {shapely.is_valid_reason(self.polygon)}")

    @property
    def polygon(self) -> Polygon:
        """The blank in its own frame."""
        return _polygon(self.outline, self.holes)

    @property
    def fixed_turns_deg(self) -> tuple[float, ...] | None:
        """The turns that are allowed, in [0, 360), the preferred first; None: any."""
        if self.turns == "any":
            return None
        first = 0.0 if self.turns.startswith("upright") else rounded_turn(self.lean_deg)
        return (first, rounded_turn(first + 180.0)) if self.turns.endswith("-flip") else (first,)


@lru_cache(maxsize=4096)
def _polygon(outline: Ring, holes: tuple[Ring, ...]) -> Polygon:
    return Polygon(outline, holes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One vinyl as it is cut: sheets of one size, or a roll (`length_mm` is None).

    Nothing lies nearer than `margin_mm` to an edge; any two pieces are at least `gap_mm` apart. `by_cutter` says
    that the vinyl itself is larger, and the cutter takes no more of it.
    """

    width_mm: float
    length_mm: float | None
    margin_mm: float
    gap_mm: float
    by_cutter: bool = False

    def __post_init__(self) -> None:
        for name in ("width_mm", "length_mm"):
            value = getattr(self, name)
            if name == "length_mm" and value is None:
                continue
            if not (_is_number(value) and value > 2 * self.margin_mm):
                raise NestError(f"{name} must be finite and more than twice the margin: got {value}")
        for name in ("margin_mm", "gap_mm"):
            value = getattr(self, name)
            if not (_is_number(value) and value >= 0):
                raise NestError(f"{name} must be finite and >= 0: got {value}")

    @property
    def usable_width_mm(self) -> float:
        return self.width_mm - 2 * self.margin_mm

    @property
    def usable_length_mm(self) -> float:
        """Between the margins; infinite on a roll."""
        return math.inf if self.length_mm is None else self.length_mm - 2 * self.margin_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """How much there is of one stock: `quantity` sheets (None: any number; 0: none now), each as large as the stock.

    `total_mm` is what is left of a roll: all that is cut of it together is no longer, each run with both its margins.
    """

    stock: Stock
    quantity: int | None = None
    total_mm: float | None = None
    is_offcut: bool = False

    def __post_init__(self) -> None:
        if self.quantity is not None and self.quantity < self.is_offcut:
            raise NestError(f"quantity must be {int(self.is_offcut)} or more: got {self.quantity}")
        if self.total_mm is not None and not (_is_number(self.total_mm) and self.stock.length_mm is not None):
            raise NestError("what is left of a roll must be finite, and its runs must have a length")
        if self.is_offcut and (self.quantity is None or self.stock.length_mm is None):
            raise NestError("an offcut has a length, and there are so many of it")

    @property
    def is_limited(self) -> bool:
        return self.quantity is not None or self.total_mm is not None

    @property
    def is_roll(self) -> bool:
        """A roll whose end is not met, or what is left of one; one that is cut in runs counts as sheets."""
        return self.stock.length_mm is None or self.total_mm is not None


@dataclass(frozen=True, slots=True)
class Supply:
    """What there is of one vinyl: offcuts in hand, which are used first, then new sheets or a roll.

    Margin and gap are the same throughout; there is something new.
    """

    lots: tuple[Lot, ...]

    def __post_init__(self) -> None:
        if [lot.is_offcut for lot in self.lots] != sorted((lot.is_offcut for lot in self.lots), reverse=True):
            raise NestError("offcuts stand before new stock")
        if not self.lots or self.lots[-1].is_offcut:
            raise NestError("a supply needs new stock")
        if any(lot.is_roll for lot in self.lots) and len(self.new) > 1:
            raise NestError("a roll is all the new stock there is")
        if len({(lot.stock.margin_mm, lot.stock.gap_mm) for lot in self.lots}) > 1:
            raise NestError("margin and gap must be the same in all of a supply")

    @classmethod
    def of(cls, stock: Stock | Supply) -> Supply:
        """As much as it takes of one stock; a supply as it is."""
        return stock if isinstance(stock, Supply) else cls((Lot(stock=stock),))

    @property
    def offcuts(self) -> tuple[int, ...]:
        """The numbers of the lots that are offcuts."""
        return tuple(number for number, lot in enumerate(self.lots) if lot.is_offcut)

    @property
    def new(self) -> tuple[int, ...]:
        """The numbers of the lots that are not."""
        return tuple(number for number, lot in enumerate(self.lots) if not lot.is_offcut)

    @property
    def is_plain(self) -> bool:
        """As much as it takes of one stock."""
        return len(self.lots) == 1 and not self.lots[0].is_limited


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where one piece lies: a point (x, y) of it lands at (x cos t - y sin t, x sin t + y cos t) + (dx, dy).

    The turn t is in [0, 360) degrees, +x turning towards +y; rounded to 1e-6 degrees, moves to 1e-4 mm.
    """

    key: str
    turn_deg: float
    dx_mm: float
    dy_mm: float

    def __post_init__(self) -> None:
        for name in ("turn_deg", "dx_mm", "dy_mm"):
            if not _is_number(getattr(self, name)):
                raise NestError(f"piece {self.key}: {name} must be finite: got {getattr(self, name)}")
        object.__setattr__(self, "turn_deg", rounded_turn(self.turn_deg))
        object.__setattr__(self, "dx_mm", round(self.dx_mm, MOVE_DECIMALS) + 0.0)
        object.__setattr__(self, "dy_mm", round(self.dy_mm, MOVE_DECIMALS) + 0.0)


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """What lies on one sheet, offcut or run of a roll; `lot` says on which of the supply's lots, from 0."""

    placements: tuple[Placement, ...]
    lot: int = 0


@dataclass(frozen=True, slots=True)
class Layout:
    """Every sheet of one vinyl."""

    sheets: tuple[SheetLayout, ...]


def rounded_turn(turn_deg: float) -> float:
    """The same turn in [0, 360), rounded to 1e-6 degrees."""
    return round(turn_deg % 360.0, TURN_DECIMALS) % 360.0 + 0.0


def turn_matrix(turn_deg: float) -> tuple[float, float]:
    """Cosine and sine of a turn, exact at quarter turns."""
    quarter, rest = divmod(turn_deg % 360.0, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))


def snug_move(wanted_mm: float, least_mm: float, most_mm: float) -> float | None:
    """The move of whole 1e-4 mm nearest to the one wanted that lies between two limits; None: there is none.

    A limit is missed by less than 1e-7 mm, which only makes up for the rounding of decimals.
    """
    unit = 10.0**-MOVE_DECIMALS
    first = math.ceil((least_mm - 1e-7) / unit)
    last = math.floor((most_mm + 1e-7) / unit) if math.isfinite(most_mm) else math.inf
    if first > last:
        return None
    return round(min(max(round(wanted_mm / unit), first), last) * unit, MOVE_DECIMALS)


def placed_polygon(blank: Blank, placement: Placement) -> Polygon:
    """The blank where it lies, in its sheet's frame."""
    cos, sin = turn_matrix(placement.turn_deg)
    return affine_transform(blank.polygon, (cos, -sin, sin, cos, placement.dx_mm, placement.dy_mm))


def used_length_mm(sheet: SheetLayout, blanks: Mapping[str, Blank], stock: Stock) -> float:
    """How far along the feed the sheet is used, both margins included; 0 for an empty sheet."""
    if not sheet.placements:
        return 0.0
    laid = ((blanks[placement.key], placement) for placement in sheet.placements)
    reaches = (_far_mm(blank.outline, placed.turn_deg) + placed.dy_mm + blank.slack_mm for blank, placed in laid)
    return max(reaches) + stock.margin_mm


@lru_cache(maxsize=4096)
def _far_mm(outline: Ring, turn_deg: float) -> float:
    """How far along the feed from (0, 0) an outline reaches, so turned about that."""
    cos, sin = turn_matrix(turn_deg)
    return max(sin * x + cos * y for x, y in outline)


@lru_cache(maxsize=4096)
def _areas_mm2(solids: tuple[tuple[Ring, tuple[Ring, ...]], ...], grow_mm: float) -> tuple[float, float]:
    whole = shapely.unary_union([_polygon(*solid) for solid in solids])
    return whole.area, shapely.buffer(whole, grow_mm, quad_segs=_BOUND_SEGMENTS).area


def _solids(blank: Blank) -> tuple[tuple[Ring, tuple[Ring, ...]], ...]:
    return blank.solids or ((blank.outline, blank.holes),)


def kept_mm(length_mm: float, used_mm: float, margin_mm: float) -> float:
    """How much of a sheet's length is left over worth keeping; 0: none."""
    rest_mm = length_mm - used_mm
    return rest_mm if rest_mm >= 2 * margin_mm + KEPT_MM - 1e-6 else 0.0  # rounding takes nothing


def piece_area_mm2(blanks: Iterable[Blank]) -> float:
    """Area of the pieces themselves."""
    return math.fsum(_areas_mm2(_solids(blank), 0.0)[0] for blank in blanks)


def bound_mm(blanks: Iterable[Blank], stock: Stock) -> float:
    """The least used length that could hold these pieces, by area; 0 for none.

    Pieces a gap apart don't overlap when each is grown by half of it, and grown they lie within the
    usable part grown as much: so their areas over its width is the least length of that.
    """
    grown = [_areas_mm2(_solids(blank), stock.gap_mm / 2)[1] for blank in blanks]
    if not grown:
        return 0.0
    length_mm = math.fsum(grown) / (stock.usable_width_mm + stock.gap_mm)
    return length_mm - stock.gap_mm + 2 * stock.margin_mm


def tightness(sheet: SheetLayout, blanks: Mapping[str, Blank], stock: Stock) -> float:
    """`bound_mm` over `used_length_mm`: 1 would be a nest without a crack; 0 for an empty sheet."""
    used_mm = used_length_mm(sheet, blanks, stock)
    return bound_mm((blanks[p.key] for p in sheet.placements), stock) / used_mm if used_mm else 0.0


def waste_share(sheet: SheetLayout, blanks: Mapping[str, Blank], stock: Stock) -> float:
    """Share of the used vinyl that is thrown away, gaps and margins included; 0 for an empty sheet."""
    used_mm = used_length_mm(sheet, blanks, stock)
    if not used_mm:
        return 0.0
    return 1.0 - piece_area_mm2(blanks[p.key] for p in sheet.placements) / (stock.width_mm * used_mm)
