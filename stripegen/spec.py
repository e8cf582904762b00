"""What a job says, as checked values: cups, vinyls, patterns and orders. Millimetres and radians.

These types know nothing of files. Each keeps `where` it was read, so that a fault found later, on the
wall, can still be told by file and table.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from stripegen.errors import Notice, Where

if TYPE_CHECKING:
    from stripegen.panelspec import Panel

NOWHERE = Where("", "")
PATHS = ("straight", "same-slant", "even-drop")
FILM_LIMIT_MM = 2.0
ALIKE_MM = 1e-6
BAND_MM = 100.0


def _check_finite(**values: float) -> None:
    for name, value in values.items():
        if not math.isfinite(value):
            raise ValueError(f"{name} must be finite: got {value}")


def _check_above_zero(**values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be finite and above 0: got {value}")


def _check_not_negative(**values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not (math.isfinite(value) and value >= 0):
            raise ValueError(f"{name} must be finite and 0 or more: got {value}")


def _check_path(path: str) -> None:
    if path not in PATHS:
        raise ValueError(f"path must be one of {', '.join(PATHS)}: got {path!r}")


def _check_places(**values: Around | bool | None) -> None:
    _check_finite(**{name: value for name, value in values.items() if isinstance(value, float)})


@dataclass(frozen=True, slots=True)
class Down:
    """A place down the wall: millimetres, or a share (0 to 1 and beyond) of the decorated part.

    `from_base` counts from the base upward: mm from the wall's foot, a share from the base clearance.
    """

    value: float
    is_share: bool = False
    from_base: bool = False

    def __post_init__(self) -> None:
        _check_finite(value=self.value)

    def on(self, wall_mm: float, rim_clearance_mm: float, base_clearance_mm: float) -> float:
        """Length down the wall, mm, on a wall of this length with these clearances."""
        if self.is_share:
            decorated_mm = wall_mm - rim_clearance_mm - base_clearance_mm
            up_mm = base_clearance_mm + self.value * decorated_mm
            return wall_mm - up_mm if self.from_base else rim_clearance_mm + self.value * decorated_mm
        return wall_mm - self.value if self.from_base else self.value


@dataclass(frozen=True, slots=True)
class Along:
    """A place round the cup: so far along the girth that lies `at_mm` down."""

    along_mm: float
    at_mm: float

    def __post_init__(self) -> None:
        _check_finite(along_mm=self.along_mm)
        _check_not_negative(at_mm=self.at_mm)


# A place round the cup: radians from the zero mark, a seam's name, or a length along a girth.
Around = float | str | Along


@dataclass(frozen=True, slots=True, kw_only=True)
class Seam:
    """Where two panels meet: one place, or one at the rim and one at the base (a leaning seam).

    `opening_mm` is how far apart the panels lie there.
    """

    name: str
    rim: float | Along
    base: float | Along
    opening_mm: float = 0.0

    def __post_init__(self) -> None:
        _check_places(rim=self.rim, base=self.base)
        _check_not_negative(opening_mm=self.opening_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Keepout:
    """A part of the wall that no piece may enter, such as a handle's root: `width_mm` about a meridian."""

    around: Around
    width_mm: float
    from_mm: float
    to_mm: float

    def __post_init__(self) -> None:
        _check_places(around=self.around)
        _check_above_zero(width_mm=self.width_mm)
        _check_not_negative(from_mm=self.from_mm, to_mm=self.to_mm)
        if self.from_mm >= self.to_mm:
            raise ValueError(f"from_mm must be less than to_mm: got {self.from_mm} and {self.to_mm}")


class ProfilePoint(NamedTuple):
    """A point of a bare cup's wall: half its width there, and its upright height above any one level."""

    radius_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Misread:
    """One length that was measured on a cup, in the words of its table: `rim circumference`.

    `of` gives a cup as it would have been had that length been read 1 mm longer (the cup it is of, or that
    with other seams); None where no cup can have such measures. It works only when called.
    """

    label: str
    of: Callable[[Cup], Cup | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cup:
    """A bare cup, as measured, and what is already on it.

    Its wall is straight from rim to base where `profile` is empty. Else it runs through the profile's
    points, from the rim down: straight between them, or, if `smooth`, along a natural cubic spline of radius
    against height. `wall_mm` is the wall's length either way. `seal_mm` is the resin to come over the strips.
    """

    name: str
    rim_radius_mm: float
    base_radius_mm: float
    wall_mm: float
    profile: tuple[ProfilePoint, ...] = ()
    smooth: bool = False
    resin_mm: float = 0.0
    seal_mm: float | None = None
    rim_clearance_mm: float | None = None
    base_clearance_mm: float | None = None
    keepouts: tuple[Keepout, ...] = ()
    seams: Mapping[str, Seam] = field(default_factory=dict)
    panels: tuple[Panel, ...] = ()
    colour: str = "#e9e6df"
    misreads: tuple[Misread, ...] = field(default=(), compare=False, repr=False)
    where: Where = field(default=NOWHERE, compare=False)

    def __post_init__(self) -> None:
        _check_above_zero(
            rim_radius_mm=self.rim_radius_mm, base_radius_mm=self.base_radius_mm, wall_mm=self.wall_mm
        )
        _check_not_negative(
            resin_mm=self.resin_mm,
            seal_mm=self.seal_mm,
            rim_clearance_mm=self.rim_clearance_mm,
            base_clearance_mm=self.base_clearance_mm,
        )
        taper_mm = abs(self.base_radius_mm - self.rim_radius_mm)
        if taper_mm >= self.wall_mm:
            raise ValueError(
                f"wall_mm must be above {taper_mm}, by which the radii differ: got {self.wall_mm}"
            )
        if self.profile:
            self._check_profile()
        elif self.smooth:
            raise ValueError("smooth needs a profile")

    def with_panels(self, panels: tuple[Panel, ...]) -> Cup:
        """This cup with other panels in place of its own, if there are any."""
        return replace(self, panels=panels) if panels else self

    def with_seams(self, seams: Mapping[str, Seam]) -> Cup:
        """This cup with other seams laid over its own: one of the same name is replaced."""
        return replace(self, seams={**self.seams, **seams}) if seams else self

    def _check_profile(self) -> None:
        points = self.profile
        if len(points) < (3 if self.smooth else 2):
            raise ValueError(f"profile has too few points: got {len(points)}")
        for point in points:
            _check_above_zero(radius_mm=point.radius_mm)
            _check_finite(height_mm=point.height_mm)
        for upper, lower in pairwise(points):
            if upper.height_mm < lower.height_mm or (self.smooth and upper.height_mm == lower.height_mm):
                raise ValueError(
                    f"profile must fall from the rim to the base: got {upper.height_mm} above {lower.height_mm}"
                )
        for name, radius_mm, end in (
            ("rim_radius_mm", self.rim_radius_mm, points[0]),
            ("base_radius_mm", self.base_radius_mm, points[-1]),
        ):
            if abs(radius_mm - end.radius_mm) > ALIKE_MM:
                raise ValueError(f"{name} must be that of the profile, {end.radius_mm}: got {radius_mm}")
        chords_mm = math.fsum(math.dist(*pair) for pair in pairwise(points))
        # A smooth wall is at least as long as its chords; how long it is, its own curve knows.
        short = self.wall_mm < chords_mm - ALIKE_MM
        if short or (not self.smooth and self.wall_mm > chords_mm + ALIKE_MM):
            raise ValueError(f"wall_mm must be that of the profile, {chords_mm}: got {self.wall_mm}")


@dataclass(frozen=True, slots=True)
class SheetSize:
    """A further size in which a vinyl's sheets are to be had; `quantity` None: any number; 0: none is in hand."""

    width_mm: float
    length_mm: float
    quantity: int | None = None

    def __post_init__(self) -> None:
        _check_above_zero(width_mm=self.width_mm, length_mm=self.length_mm)
        _check_not_negative(quantity=self.quantity)


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
        _check_above_zero(
            width_mm=self.width_mm, thickness_mm=self.thickness_mm, roll_length_mm=self.roll_length_mm
        )
        _check_not_negative(length_left_mm=self.length_left_mm, quantity=self.quantity)
        if self.length_mm is None and (self.sizes or self.quantity is not None):
            raise ValueError("a roll has no sizes and no quantity")
        if self.length_mm is not None and self.length_left_mm is not None:
            raise ValueError("only a roll has a length_left_mm")
        if self.thickness_mm is not None and self.thickness_mm >= FILM_LIMIT_MM:
            raise ValueError(f"thickness_mm must be below {FILM_LIMIT_MM}: got {self.thickness_mm}")
        _check_not_negative(
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
class Repeat:
    """`count` of a line: evenly round, every `step_rad`, or spread `between` two places (to the right)."""

    count: int
    step_rad: float | None = None
    between: tuple[Around, Around] | None = None

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ValueError(f"count must be 1 or more: got {self.count}")
        if self.step_rad is not None and self.between is not None:
            raise ValueError("a repeat has a step or two places between which it lies, not both")
        if self.step_rad is not None:
            _check_finite(step_rad=self.step_rad)
        for place in self.between or ():
            _check_places(between=place)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What every kind of line has. `vinyl` is a role that an order binds to a vinyl, or a vinyl's name.

    `split`: pieces that are too long may be cut in parts that overlap; `slit`: a band that would not lie flat
    is cut as strips side by side; `together`: its pieces keep their places to each other on the sheet; `spare`: so many
    more than an order needs are cut of each of its strips; None: as many as the vinyl says.
    """

    name: str
    vinyl: str
    width_mm: float
    stripes: int = 1
    gap_mm: float = 2.0
    repeat: Repeat | None = None
    ends: str = "level"
    under: tuple[str, ...] = ()
    tuck_mm: float = 1.5
    clear_of: tuple[str, ...] = ()
    by_mm: float = 1.0
    resin_mm: float | None = None
    split: bool = False
    slit: bool = False
    together: bool = False
    spare: int | None = None
    where: Where = field(default=NOWHERE, compare=False)

    def __post_init__(self) -> None:
        _check_above_zero(width_mm=self.width_mm)
        _check_not_negative(
            gap_mm=self.gap_mm, tuck_mm=self.tuck_mm, by_mm=self.by_mm, resin_mm=self.resin_mm, spare=self.spare
        )
        if self.stripes < 1:
            raise ValueError(f"stripes must be 1 or more: got {self.stripes}")
        if self.ends not in ("level", "upright", "square"):
            raise ValueError(f"ends must be level, upright or square: got {self.ends!r}")

    @property
    def full_width_mm(self) -> float:
        """From the outer edge of the first stripe to the outer edge of the last."""
        return self.stripes * self.width_mm + (self.stripes - 1) * self.gap_mm

    @property
    def strips(self) -> int:
        """How many strips it is on a cup before anything is cut, mirror images left out."""
        return self.stripes * self._places * (self.repeat.count if self.repeat else 1)

    @property
    def _places(self) -> int:
        """At how many places it is asked for."""
        return 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Vertical(Line):
    """Lines down the wall along meridians, or along leaning seams."""

    around: tuple[Around, ...] = ()
    start: Down | None = None  # key `from`; None: the rim clearance
    end: Down | None = None  # key `to`; None: the base clearance
    narrows: bool = False
    mirror: Around | None = None

    def __post_init__(self) -> None:
        Line.__post_init__(self)
        for place in self.around:
            _check_places(around=place)
        _check_places(mirror=self.mirror)
        if self.slit and self.narrows:
            raise ValueError("a line that narrows can't be slit")

    @property
    def _places(self) -> int:
        return max(1, len(self.around))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring(Line):
    """Parallels: once round from the joint, or from `start` to the right as far as `end`."""

    downs: tuple[Down, ...]
    start: Around | None = None
    end: Around | None = None
    joint: Around = "back"
    overlap_mm: float = 3.0

    def __post_init__(self) -> None:
        Line.__post_init__(self)
        _check_places(start=self.start, end=self.end, joint=self.joint)
        _check_not_negative(overlap_mm=self.overlap_mm)
        if not self.downs:
            raise ValueError("a ring has at least one place down the wall")
        if (self.start is None) != (self.end is None):
            raise ValueError("a part of a ring has both a start and an end")

    @property
    def _places(self) -> int:
        return len(self.downs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagonal(Line):
    """A line from one place to another by `path`: "straight", "same-slant" or "even-drop".

    `mirror` is True (its image in the meridian half way between start and end), a meridian, or None.
    """

    start_around: Around
    start_down: Down
    end_around: Around
    end_down: Down
    path: str = "straight"
    mirror: Around | bool | None = None

    def __post_init__(self) -> None:
        Line.__post_init__(self)
        _check_places(start_around=self.start_around, end_around=self.end_around, mirror=self.mirror)
        _check_path(self.path)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chevron(Line):
    """A zigzag once round of 2 x `points` diagonals, its upper points starting at `start`."""

    top: Down
    bottom: Down
    points: int
    start: Around = 0.0
    joint: Around = "back"
    overlap_mm: float = 0.0
    path: str = "straight"

    def __post_init__(self) -> None:
        Line.__post_init__(self)
        _check_places(start=self.start, joint=self.joint)
        _check_not_negative(overlap_mm=self.overlap_mm)
        _check_path(self.path)
        if self.points < 1:
            raise ValueError(f"points must be 1 or more: got {self.points}")
        if self.slit:
            raise ValueError("a chevron can't be slit")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """A named set of lines, in the order in which the job lists them.

    `together`: all its pieces keep their places to each other on the sheet, as a line's do. `changes` are the words for
    what differs in an order's own copy.
    """

    name: str
    lines: tuple[Line, ...]
    rim_clearance_mm: float | None = None
    base_clearance_mm: float | None = None
    together: bool = False
    changes: tuple[str, ...] = ()
    where: Where = field(default=NOWHERE, compare=False)

    @property
    def title(self) -> str:
        """Its name, with what an order has changed in it."""
        return f"{self.name} (changed: {', '.join(self.changes)})" if self.changes else self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """So many cups of one kind with one pattern. `bindings` maps a role to a vinyl's name;
    `every_role` binds every role that is not itself the name of a vinyl of this job; `seams` replace those
    of the cup that have the same name, or add to them; `panels` replace all of the cup's; `changed` is its own copy of
    the pattern, where it asks for one that differs."""

    id: str
    cup: str
    pattern: str
    quantity: int = 1
    bindings: Mapping[str, str] = field(default_factory=dict)
    every_role: str | None = None
    seams: Mapping[str, Seam] = field(default_factory=dict)
    panels: tuple[Panel, ...] = ()
    due: datetime.date | None = None
    changed: Pattern | None = None
    where: Where = field(default=NOWHERE, compare=False)

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise ValueError(f"quantity must be 1 or more: got {self.quantity}")
        if self.every_role is not None and self.bindings:
            raise ValueError("an order binds every role or some by name, not both")


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
        _check_above_zero(width_mm=self.width_mm, length_mm=self.length_mm, quantity=self.quantity)


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
        _check_above_zero(cut_width_mm=self.cut_width_mm, longest_run_mm=self.longest_run_mm, band_mm=self.band_mm)
        _check_above_zero(across=self.scale[0], along=self.scale[1])
        _check_not_negative(cut_past_mm=self.cut_past_mm)
        limits = (self.cut_width_mm, self.longest_run_mm)
        for name, size_mm, most_mm in zip(("width", "length"), self.mat_mm or (), limits, strict=False):
            _check_above_zero(**{f"mat's {name}": size_mm})
            if most_mm is not None and size_mm > most_mm:
                raise ValueError(f"the mat's {name} must be at most {most_mm}: got {size_mm}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A whole job: every cup, vinyl and pattern that its orders name, presets included. `notices` are of its reading.

    `stock` names the file that says what is in hand, if one does.
    """

    file: str
    title: str = ""
    units: str = "mm"
    cups: Mapping[str, Cup]
    vinyls: Mapping[str, Vinyl]
    patterns: Mapping[str, Pattern]
    orders: tuple[Order, ...]
    own_vinyls: frozenset[str] = frozenset()
    cutter: Cutter = Cutter()
    offcuts: tuple[Offcut, ...] = ()
    stock: str | None = None
    notices: tuple[Notice, ...] = ()

    def cup_of(self, order: Order) -> Cup:
        """The cup of an order, with the order's own seams laid over those that the cup has, and its own panels."""
        return self.cups[order.cup].with_seams(order.seams).with_panels(order.panels)

    def pattern_of(self, order: Order) -> Pattern:
        """The pattern of an order, as the order has changed it."""
        return order.changed or self.patterns[order.pattern]

    def vinyl_of(self, order: Order, role: str) -> Vinyl | None:
        """The vinyl that an order cuts a line of this role from; None where nothing binds it."""
        if order.every_role is not None:
            name = role if role in self.own_vinyls else order.every_role
        else:
            name = order.bindings.get(role, role)
        return self.vinyls.get(name)

    def unused_roles(self, order: Order) -> tuple[str, ...]:
        """Roles that an order binds and no line of its pattern has: harmless, but likely a slip."""
        used = {line.vinyl for line in self.pattern_of(order).lines}
        return tuple(role for role in order.bindings if role not in used)
