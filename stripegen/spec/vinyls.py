"""Vinyls as bought, what is left of them, and what cuts them."""

from __future__ import annotations

from dataclasses import dataclass, field

from stripegen.errors import Where
from stripegen.spec.checks import NOWHERE, check_above_zero, check_not_negative

FILM_LIMIT_MM = 2.0
BAND_MM = 100.0


@dataclass(frozen=True, slots=True)
class SheetSize:
    """A further size in which a vinyl's sheets are to be had; `quantity` None: any number; 0: none is in hand."""

    width_mm: float
    length_mm: float
    quantity: int | None = None

    def __post_init__(self) -> None:
        check_above_zero(width_mm=self.width_mm, length_mm=self.length_mm)
        check_not_negative(quantity=self.quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Vinyl:
    """A vinyl as bought: sheets of one size, or a roll (`length_mm` is None).

    `length_left_mm` of a roll and `quantity` of sheets are what is in hand, 0 where nothing is; None: any. It has one price or
    none: of a square metre, of a sheet, or of a roll of `roll_length_mm`. `spare`: so many more than an order needs are cut of
    each strip from it.
    """

    name: str
    colour: str
    width_mm: float
    length_mm: float | None = None
    margin_mm: float = 5.0
    piece_gap_mm: float = 1.5
    grain: str = "none"
    flip: bool = True
    shared_cuts: bool = False
    cut_from_back: bool = False
    weed: bool = False
    price_square_metre: float | None = None
    price_sheet: float | None = None
    price_roll: float | None = None
    roll_length_mm: float | None = None
    stretch: float = 0.005
    min_width_mm: float = 1.0
    corner_radius_mm: float = 0.0
    thickness_mm: float | None = None
    length_left_mm: float | None = None
    quantity: int | None = None
    sizes: tuple[SheetSize, ...] = ()
    spare: int = 0
    where: Where = field(default=NOWHERE, compare=False)

    def __post_init__(self) -> None:
        check_above_zero(
            width_mm=self.width_mm, thickness_mm=self.thickness_mm, roll_length_mm=self.roll_length_mm
        )
        check_not_negative(length_left_mm=self.length_left_mm, quantity=self.quantity)
        if self.length_mm is None and (self.sizes or self.quantity is not None):
            raise ValueError("a roll has no sizes and no quantity")
        if self.length_mm is not None and self.length_left_mm is not None:
            raise ValueError("only a roll has a length_left_mm")
        if self.thickness_mm is not None and self.thickness_mm >= FILM_LIMIT_MM:
            raise ValueError(f"thickness_mm must be below {FILM_LIMIT_MM}: got {self.thickness_mm}")
        check_not_negative(
            length_mm=self.length_mm,
            margin_mm=self.margin_mm,
            piece_gap_mm=self.piece_gap_mm,
            price_square_metre=self.price_square_metre,
            price_sheet=self.price_sheet,
            price_roll=self.price_roll,
            stretch=self.stretch,
            min_width_mm=self.min_width_mm,
            corner_radius_mm=self.corner_radius_mm,
            spare=self.spare,
        )
        prices = (self.price_square_metre, self.price_sheet, self.price_roll)
        if sum(price is not None for price in prices) > 1:
            raise ValueError("a vinyl has one price: of a square metre, of a sheet or of a roll")
        if (self.price_roll is None) != (self.roll_length_mm is None):
            raise ValueError("a roll's price and the length that is bought for it go together")
        if self.price_sheet is not None and self.length_mm is None:
            raise ValueError("a roll has no price of a sheet")
        if self.price_roll is not None and self.length_mm is not None:
            raise ValueError("a sheet has no price of a roll")
        if self.grain not in ("none", "cup", "strip"):
            raise ValueError(f"grain must be none, cup or strip: got {self.grain!r}")
        sizes = {"width_mm": self.width_mm, "length_mm": self.length_mm}
        sizes |= {f"width {n}": size.width_mm for n, size in enumerate(self.sizes, 2)}
        sizes |= {f"length {n}": size.length_mm for n, size in enumerate(self.sizes, 2)}
        for name, size_mm in sizes.items():
            if size_mm is not None and size_mm <= 2 * self.margin_mm:
                raise ValueError(f"{name} must be above two margins of {self.margin_mm}: got {size_mm}")

    @property
    def edge_mm(self) -> float:
        """Where pieces may begin: at the margin; with weed lines a gap more, so that their frame lies no nearer to the edge."""
        return self.margin_mm + self.weed * self.piece_gap_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """What is left of a vinyl from earlier work: `quantity` rectangles, the width across the cutter.

    `shelf` is where they lie, in the maker's words, if a stock file says so.
    """

    vinyl: str
    width_mm: float
    length_mm: float
    quantity: int = 1
    shelf: str = ""
    where: Where = field(default=NOWHERE, compare=False)

    def __post_init__(self) -> None:
        check_above_zero(width_mm=self.width_mm, length_mm=self.length_mm, quantity=self.quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """What the cutter can do: how wide it cuts, and how long in one run. None: no limit is known.

    `mat_mm` is the width and length of a mat that carries offcuts through it. Pieces are cut along the feed, none so much
    as `band_mm` farther back than one before it; each is cut on past its start by `cut_past_mm`. What is drawn is `scale`
    times as long, across and along the feed, as it is to be cut.
    """

    cut_width_mm: float | None = None
    longest_run_mm: float | None = None
    mat_mm: tuple[float, float] | None = None
    band_mm: float = BAND_MM
    cut_past_mm: float = 0.0
    scale: tuple[float, float] = (1.0, 1.0)
    where: Where = field(default=NOWHERE, compare=False)

    def __post_init__(self) -> None:
        check_above_zero(cut_width_mm=self.cut_width_mm, longest_run_mm=self.longest_run_mm, band_mm=self.band_mm)
        check_above_zero(across=self.scale[0], along=self.scale[1])
        check_not_negative(cut_past_mm=self.cut_past_mm)
        limits = (self.cut_width_mm, self.longest_run_mm)
        for name, size_mm, most_mm in zip(("width", "length"), self.mat_mm or (), limits, strict=False):
            check_above_zero(**{f"mat's {name}": size_mm})
            if most_mm is not None and size_mm > most_mm:
                raise ValueError(f"the mat's {name} must be at most {most_mm}: got {size_mm}")
