"""The shortest way between two points of any wall, found by solving for the angle at which it starts.

Ways are followed round the cup: with f the heading, d(down)/d(around) = r cot f and df/d(around) = -dr/d(down)
(Clairaut's relation, differentiated). A fan of them from the start shows between which headings a way meets
the end; Newton's method on the wall's own ways then makes it exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stripegen.errors import GeometryError
from stripegen.surface import Wall

FAN = 400  # ways in the first fan
FINER = 24  # and in each narrower one between two of them
STEP_RAD = 0.02  # they are followed round the cup by such steps
ADVICE = 'move its ends, or use path = "even-drop"'


@dataclass(frozen=True, slots=True)
class _Fan:
    """Ways from one place, by heading: where each is down the wall a turn further on, and its length."""

    headings: np.ndarray
    downs: np.ndarray
    lengths: np.ndarray


def shortest_way(wall: Wall, down_mm: float, end_mm: float, turn_rad: float) -> tuple[float, float]:
    """Heading at the start and length of the shortest way from one place down to another, so far round.

    Raises GeometryError where no straightest way joins them, or where the shortest one leaves the wall.
    """
    if abs(turn_rad) * wall.radius_mm(down_mm) < 1e-9:
        return (0.0 if end_mm >= down_mm else math.pi), abs(end_mm - down_mm)
    turn, side = abs(turn_rad), math.copysign(1.0, turn_rad)
    ways, torn_mm = [], []
    across = turn * wall.mean_radius_mm
    along = np.linspace(-3, 3, FAN) * wall.wall_mm
    first = _fan(wall, down_mm, turn, np.arctan2(across, along)[::-1])
    for low, high in _straddling(first, end_mm):
        heading, length, gap = _narrowed(wall, down_mm, end_mm, turn, low, high)
        way = _solved(wall, (down_mm, end_mm), turn, heading, length)
        if way:
            ways.append(way)
        elif gap > 1.0:
            torn_mm.append(heading)
    if not ways:
        where = ""
        if torn_mm:
            bend = _waist(wall, down_mm, torn_mm[0], turn)
            where = f": the shortest would follow the narrow part of the wall {bend:.1f} mm down"
        raise GeometryError(
            f"no straight way goes {math.degrees(turn):.1f} degrees round between these places{where}", ADVICE
        )
    heading, length = min(ways, key=lambda way: way[1])
    low, high = _extent(wall, down_mm, heading, length)
    if low < -1e-9 or high > wall.wall_mm + 1e-9:
        where = f"{-low:.1f} mm over the rim" if low < -1e-9 else f"{high - wall.wall_mm:.1f} mm below the base"
        raise GeometryError(f"the straight way runs off the wall ({where})", ADVICE)
    return side * heading, length


def _fan(wall: Wall, down_mm: float, turn_rad: float, headings: np.ndarray) -> _Fan:
    """Runge and Kutta's fourth order in the turn, for every heading at once; far off the wall a way is let go."""
    count = max(32, math.ceil(turn_rad / STEP_RAD))
    step = turn_rad / count
    state = np.stack([np.full_like(headings, down_mm), headings, np.zeros_like(headings)])
    low, high = -wall.wall_mm, 2 * wall.wall_mm

    def change(state: np.ndarray) -> np.ndarray:
        down, heading, _ = state
        sine = np.maximum(np.sin(heading), 1e-9)
        radius = np.maximum(wall.radius_mm(down), 1e-9)
        return np.stack([radius * np.cos(heading) / sine, -wall.slope_at(down), radius / sine])

    for _ in range(count):
        k1 = change(state)
        k2 = change(state + step / 2 * k1)
        k3 = change(state + step / 2 * k2)
        k4 = change(state + step * k3)
        new = state + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        there = (state[0] > low) & (state[0] < high) & np.isfinite(new).all(axis=0)
        state = np.where(there, new, state)
        state[0] = np.clip(state[0], low, high)
    return _Fan(headings, state[0], state[2])


def _straddling(fan: _Fan, end_mm: float) -> list[tuple[float, float]]:
    """The neighbouring headings between which the ways pass the end on either side."""
    above = fan.downs < end_mm
    return [(fan.headings[n], fan.headings[n + 1]) for n in np.flatnonzero(above[:-1] != above[1:])]


def _narrowed(
    wall: Wall, down_mm: float, end_mm: float, turn: float, low: float, high: float
) -> tuple[float, float, float]:
    """A heading between two at which a way nearly meets the end, its length, and how far ways still part there."""
    for _ in range(6):
        fan = _fan(wall, down_mm, turn, np.linspace(low, high, FINER))
        at = np.flatnonzero((fan.downs[:-1] < end_mm) != (fan.downs[1:] < end_mm))[0]
        low, high = fan.headings[at], fan.headings[at + 1]
        gap = abs(fan.downs[at + 1] - fan.downs[at])
        if gap < 1e-3:
            break
    near = at if abs(fan.downs[at] - end_mm) < abs(fan.downs[at + 1] - end_mm) else at + 1
    return float(fan.headings[near]), float(fan.lengths[near]), float(gap)


def _solved(
    wall: Wall, downs: tuple[float, float], turn: float, heading: float, length: float
) -> tuple[float, float] | None:
    """Newton's method for heading and length: the end moves by one along the way, and by the ways' spread."""
    radius = float(wall.radius_mm(downs[1]))
    for _ in range(30):
        a, v, f = (float(value) for value in wall.reach(0.0, downs[0], heading, length))
        if not math.isfinite(a):
            return None
        across, along = (turn - a) * radius, downs[1] - v
        if math.hypot(across, along) < 1e-11 * (1 + length):
            break
        spread = float(wall.spread(downs[0], heading, length)[1])
        if abs(spread) < 1e-9:
            return None
        ahead = across * math.sin(f) + along * math.cos(f)
        aside = across * math.cos(f) - along * math.sin(f)
        if math.hypot(ahead, aside) > 50.0:
            return None
        heading, length = heading + aside / spread, length + ahead
    if math.hypot(across, along) > 1e-8 or not 0 < heading < math.pi or length <= 0:
        return None
    return heading, length


def _extent(wall: Wall, down_mm: float, heading: float, length: float) -> tuple[float, float]:
    """The least and greatest place down of a way; between samples its level places are solved for."""
    t = np.linspace(0.0, length, 401)
    _, v, f = wall.reach(0.0, down_mm, heading, t)
    extremes = [float(v.min()), float(v.max())]
    level = np.cos(f)
    for n in np.flatnonzero(level[:-1] * level[1:] < 0):
        low, high = t[n], t[n + 1]
        for _ in range(50):
            middle = (low + high) / 2
            _, place, way = (float(x) for x in wall.reach(0.0, down_mm, heading, middle))
            low, high = (middle, high) if math.cos(way) * level[n] > 0 else (low, middle)
        extremes.append(place)
    return min(extremes), max(extremes)


def _waist(wall: Wall, down_mm: float, heading: float, turn: float) -> float:
    """Where the ways between which no other lies run most nearly level."""
    t = np.linspace(0.0, turn * wall.greatest_radius_mm, 801)
    _, v, f = wall.reach(0.0, down_mm, heading, t)
    on = np.isfinite(v) & (v >= 0) & (v <= wall.wall_mm)
    return float(v[on][np.argmin(np.abs(np.cos(f[on])))])
