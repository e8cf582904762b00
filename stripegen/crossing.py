"""Where two curves on a wall cross, solved on the curves themselves."""

from __future__ import annotations

import math

from stripegen.curves import Curve


def meet(
    first: Curve, t: float, second: Curve, u: float, within_mm: float = 0.5
) -> tuple[float, float] | None:
    """Where two curves cross, near t on the one and u on the other; None where they run on side by side.

    Newton's method in (around, down), each scaled to millimetres.
    """
    start, t_now, u_now = None, t, u
    for _ in range(20):
        (x, y), (a, c) = moving(first, t_now)
        (z, w), (b, d) = moving(second, u_now)
        start = start or (x, y)
        gap = z - x, w - y
        if max(map(abs, gap)) < 1e-12:
            break
        determinant = b * c - a * d
        if not abs(determinant) > 1e-7 * math.hypot(a, c) * math.hypot(b, d):
            return None
        t_now += (b * gap[1] - d * gap[0]) / determinant
        u_now += (a * gap[1] - c * gap[0]) / determinant
    if not (max(map(abs, gap)) < 1e-9 and max(abs(x - start[0]), abs(y - start[1])) < within_mm):
        return None
    return t_now, u_now


def moving(curve: Curve, t: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """A curve's place at t and how that changes with t, in (mean radius x around, down)."""
    around, down, heading = (float(value) for value in curve.along(t))
    speed, scale = float(curve.speed(t)), curve.wall.mean_radius_mm
    across = scale / float(curve.wall.radius_mm(down))
    return (scale * around, down), (speed * math.sin(heading) * across, speed * math.cos(heading))
