"""Places on a wall, down and round, as a job says them."""

from __future__ import annotations

from dataclasses import dataclass

from stripegen.spec.checks import check_finite, check_not_negative


@dataclass(frozen=True, slots=True)
class Down:
    """A place down the wall: millimetres, or a share (0 to 1 and beyond) of the decorated part.

    `from_base` counts from the base upward: mm from the wall's foot, a share from the base clearance.
    """

    value: float
    is_share: bool = False
    from_base: bool = False

    def __post_init__(self) -> None:
        check_finite(value=self.value)

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
        check_finite(along_mm=self.along_mm)
        check_not_negative(at_mm=self.at_mm)


# A place round the cup: radians from the zero mark, a seam's name, or a length along a girth.
Around = float | str | Along


def check_places(**values: Around | bool | None) -> None:
    check_finite(**{name: value for name, value in values.items() if isinstance(value, float)})
