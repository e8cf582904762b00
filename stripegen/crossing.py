"""Where two curves on a wall cross, and where straight ways are level or meet a meridian, solved on the curves."""

from __future__ import annotations

import math

import numpy as np

from stripegen.curves import Curve, Parallel, Straight
from stripegen.surface import Frustum


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


def level_t(curve: Curve, down_mm, near_t: float | None = None):
    """Where a curve is `down_mm` down; NaN where it is not, or runs along that parallel.

    Of several places that nearest to `near_t`. A straight way may be asked for many places at once, without
    `near_t`: on a straight wall, with r0 and c = cos f at its start, laid flat
    k t^2 + 2 r0 c t = (down - down0) (r + r0); all else by Newton's method.
    """
    if not isinstance(curve, Straight):
        near_t = float(down_mm) if near_t is None else near_t
        met = meet(curve, near_t, Parallel(curve.wall, down_mm, float(curve.at(near_t)[0])), 0.0, math.inf)
        return met[0] if met else math.nan
    if curve.heading_rad == 0:
        return down_mm - curve.down_mm
    if isinstance(curve.wall, Frustum):
        return _level_laid_flat(curve, down_mm, near_t)
    drop = down_mm - curve.down_mm
    t = drop / math.cos(curve.heading_rad) if near_t is None else near_t + 0 * drop
    for _ in range(60):
        _, v, f = curve.along(t)
        slant = np.cos(f)
        if np.any(np.abs(slant) < 1e-9):
            return math.nan + 0 * t
        step = (down_mm - v) / slant
        t = t + step
        if np.all(np.abs(step) < 1e-11) or not np.all(np.isfinite(t)):
            break
    return t


def _level_laid_flat(curve: Straight, down_mm, near_t: float | None):
    k, b = curve.wall.slope, curve.wall.radius_mm(curve.down_mm) * math.cos(curve.heading_rad)
    c = (down_mm - curve.down_mm) * (curve.wall.radius_mm(down_mm) + curve.wall.radius_mm(curve.down_mm))
    with np.errstate(divide="ignore", invalid="ignore"):
        larger = b + np.copysign(np.sqrt(b * b + k * c), b)
        first, second = np.divide(c, larger), -larger / np.float64(k)
    if near_t is None:
        return np.where(np.isfinite(first), first, second)
    roots = [float(root) for root in (first, second) if math.isfinite(root)]
    return min(roots, key=lambda t: abs(t - near_t), default=math.nan)


def upright_t(curve: Curve, around_rad: float, near_t: float | None = None) -> float:
    """Where a curve meets a meridian, near a place on it; NaN where it does not, or runs along it.

    On a straight wall a straight way and a meridian are straight in the development, and the law of sines gives the
    way's part of their triangle; all else by Newton's method.
    """
    if isinstance(curve, Parallel):
        return around_rad - curve.around_rad
    if not isinstance(curve, Straight):
        near_t = 0.0 if near_t is None else near_t
        met = meet(curve, near_t, Straight(curve.wall, around_rad, 0.0, 0.0), float(curve.at(near_t)[1]), math.inf)
        return met[0] if met else math.nan
    turn = around_rad - curve.around_rad
    if not isinstance(curve.wall, Frustum):
        return _upright_solved(curve, turn)
    swing = curve.wall.slope * turn
    ahead, across = math.sin(curve.heading_rad - swing), math.sin(curve.heading_rad)
    if abs(swing) >= math.pi or not ahead * across > 0:  # only past the point to which the wall tapers
        return math.nan
    return float(curve.wall.radius_mm(curve.down_mm) * turn * np.sinc(swing / math.pi) / ahead)


def _upright_solved(curve: Straight, turn_rad: float) -> float:
    """A straight way never turns back round the cup; far off, it is approached by steps."""
    wall, sine = curve.wall, math.sin(curve.heading_rad)
    if sine == 0:
        return math.nan
    t = turn_rad * float(wall.radius_mm(curve.down_mm)) / sine
    for _ in range(60):
        a, v, f = (float(value) for value in curve.along(t))
        if not (math.isfinite(a) and abs(math.sin(f)) > 1e-9):
            return math.nan
        step = (curve.around_rad + turn_rad - a) * float(wall.radius_mm(v)) / math.sin(f)
        t += max(-30.0, min(30.0, step))
        if abs(step) < 1e-11:
            return t
    return math.nan
