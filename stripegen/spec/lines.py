"""Lines of a pattern, of each kind, and the pattern."""

from __future__ import annotations

from dataclasses import dataclass, field

from stripegen.errors import Where
from stripegen.spec.checks import NOWHERE, check_above_zero, check_finite, check_not_negative
from stripegen.spec.places import Around, Down, check_places

PATHS = ("straight", "same-slant", "even-drop")


def check_path(path: str) -> None:
    if path not in PATHS:
        raise ValueError(f"path must be one of {', '.join(PATHS)}: got {path!r}")


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
            check_finite(step_rad=self.step_rad)
        for place in self.between or ():
            check_places(between=place)


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
        check_above_zero(width_mm=self.width_mm)
        check_not_negative(
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
            check_places(around=place)
        check_places(mirror=self.mirror)
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
        check_places(start=self.start, end=self.end, joint=self.joint)
        check_not_negative(overlap_mm=self.overlap_mm)
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
        check_places(start_around=self.start_around, end_around=self.end_around, mirror=self.mirror)
        check_path(self.path)


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
        check_places(start=self.start, joint=self.joint)
        check_not_negative(overlap_mm=self.overlap_mm)
        check_path(self.path)
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
