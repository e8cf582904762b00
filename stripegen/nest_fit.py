"""Whether a piece fits its vinyl at all, at which turn, and moves that keep it within the margins."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon

from stripegen.errors import Figure, NestError, Shortfall
from stripegen.layout import Blank, Stock, Supply, rounded_turn, snug_move, turn_matrix

_FIT_STEPS = 720  # turns tried over a half turn, for a piece that fits only askew


_UNIT_MM = 1e-4  # of moves


def rounded_up(length_mm: float) -> float:
    """To whole units of moves; less than 1e-7 mm too much is taken for the rounding of decimals."""
    return math.ceil(length_mm / _UNIT_MM - 1e-3) * _UNIT_MM


def rounding_mm(turn_deg: float) -> float:
    """How far rounding a move may take a shape from where it was meant: not at all at quarter turns.

    There every corner lies on whole units, as outlines are rounded to them.
    """
    return 0.0 if turn_deg % 90.0 == 0.0 else _UNIT_MM


def turned(points: Sequence[Sequence[float]], turn_deg: float) -> np.ndarray:
    """The (n, 2) points turned about (0, 0)."""
    cos, sin = turn_matrix(turn_deg)
    return np.asarray(points, float) @ np.array([[cos, sin], [-sin, cos]])


def fits(blank: Blank, turn_deg: float, stock: Stock) -> bool:
    """Whether the blank, so turned, can lie within the margins."""
    points = turned(blank.outline, turn_deg)
    rim_mm = stock.margin_mm + rounded_up(blank.slack_mm) + rounding_mm(turn_deg)
    least = rim_mm - points.min(axis=0)
    most = np.array([stock.width_mm, stock.length_mm or math.inf]) - rim_mm - points.max(axis=0)
    return all(snug_move(low, low, high) is not None for low, high in zip(least, most, strict=True))


def fitting_turns(blank: Blank, stock: Stock, preferred_deg: Sequence[float]) -> list[float]:
    """Of the turns that the blank may take those at which it fits; of a free one's, those preferred.

    A free piece that fits at none of the preferred turns is tried askew.
    """
    fixed = blank.fixed_turns_deg
    turns = [rounded_turn(turn) for turn in (preferred_deg if fixed is None else fixed)]
    fitting = [turn for turn in turns if fits(blank, turn, stock)]
    if not fitting and fixed is None:
        askew = _roomiest_turn(blank, stock)
        askew_turns = (rounded_turn(askew), rounded_turn(askew + 180.0))
        fitting = [turn for turn in askew_turns if fits(blank, turn, stock)]
    return fitting


def misfits(blanks: Sequence[Blank], stock: Stock | Supply) -> NestError:
    """The error for blanks that fit nothing: a line for each shape, naming its first and how many more."""
    supply = Supply.of(stock)
    alike: dict[tuple, list[Blank]] = {}
    for blank in blanks:
        alike.setdefault((blank.outline, blank.holes, blank.turns), []).append(blank)
    return NestError.of(*(_misfit(same, supply) for same in alike.values()))


def _misfit(alike: Sequence[Blank], supply: Supply) -> Shortfall:
    blank, more = alike[0], len(alike) - 1
    stock = supply.lots[supply.new[0]].stock
    width_mm, height_mm = np.max(blank.outline, axis=0)
    is_roll = supply.lots[-1].is_roll
    what = "cutter" if stock.by_cutter else "roll" if is_roll else "sheet"
    across = f"{stock.usable_width_mm:.1f} mm across"
    size = across if stock.length_mm is None else f"{stock.usable_width_mm:.1f} x {stock.usable_length_mm:.1f} mm"
    how = "whichever way it is turned" if blank.turns == "any" else "lying as its grain asks"
    others = ", and nothing else there is holds it" if len(supply.lots) > 1 else ""
    like_it = f" (with {more} more like it)" if more else ""
    larger = "a larger cutter" if stock.by_cutter else "a new roll" if is_roll and supply.lots[-1].is_limited else "a larger sheet or a roll"
    figures = [Figure("piece width", float(width_mm)), Figure("piece length", float(height_mm))]
    figures.append(Figure("usable width", stock.usable_width_mm))
    if stock.length_mm is not None:
        figures.append(Figure("usable length", stock.usable_length_mm))
    return Shortfall(
        code="no-fit",
        message=f"piece {blank.key}{like_it} is {width_mm:.1f} x {height_mm:.1f} mm; the {what} takes {size} {how}{others}",
        remedy=f"use {larger}, or split = true on its line, which cuts it in parts that overlap",
        keys=tuple(each.key for each in alike),
        figures=tuple(figures),
    )


def check_keys(blanks: Sequence[Blank]) -> None:
    """Raise NestError if two blanks have the same key."""
    seen: set[str] = set()
    for blank in blanks:
        if blank.key in seen:
            raise NestError(f"piece {blank.key} is there twice")
        seen.add(blank.key)


def _roomiest_turn(blank: Blank, stock: Stock) -> float:
    """The turn at which the blank reaches least past what is usable of the stock."""
    corners = shapely.get_coordinates(shapely.convex_hull(Polygon(blank.outline)))
    room = np.array([stock.usable_width_mm, stock.usable_length_mm])

    def excess(turns_deg: np.ndarray) -> np.ndarray:
        turns = np.radians(turns_deg)[:, None]
        x, y = corners[:, 0], corners[:, 1]
        sides = x * np.cos(turns) - y * np.sin(turns), x * np.sin(turns) + y * np.cos(turns)
        return np.max([np.ptp(side, axis=1) - most for side, most in zip(sides, room, strict=True)], axis=0)

    middle, step = 90.0, 180.0 / _FIT_STEPS
    tried = np.arange(-_FIT_STEPS // 2, _FIT_STEPS // 2)
    for _ in range(4):  # each time about the best, ten times finer
        turns_deg = middle + step * tried
        middle = float(turns_deg[np.argmin(excess(turns_deg))])
        step, tried = step / 10, np.arange(-10, 11)
    return middle
