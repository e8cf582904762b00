"""What is checked of numbers as a value is made; each raises ValueError."""

from __future__ import annotations

import math

from stripegen.errors import Where

NOWHERE = Where("", "")


def check_finite(**values: float) -> None:
    for name, value in values.items():
        if not math.isfinite(value):
            raise ValueError(f"{name} must be finite: got {value}")


def check_above_zero(**values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be finite and above 0: got {value}")


def check_not_negative(**values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not (math.isfinite(value) and value >= 0):
            raise ValueError(f"{name} must be finite and 0 or more: got {value}")
