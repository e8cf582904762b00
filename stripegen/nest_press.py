"""A filled box made shorter: its pieces pushed together, each moved and turned as its neighbours let it.

Recipes lay bent pieces at quarter turns, in piles of one outline. Here the box is made a little shorter, all overlaps that
brings are pushed apart, and so on until that fails; then pieces from the far end are taken out and laid where
there is more room. What comes of it is checked exactly against the outlines, else the box stays as it was.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely
from shapely.geometry import Polygon

from stripegen.layout import Stock
from stripegen.nest_bodies import Bodies
from stripegen.nest_contacts import come_apart
from stripegen.nest_easing import Easing
from stripegen.nest_fill import Filled
from stripegen.nest_fit import rounded_up, rounding_mm, turned
from stripegen.nest_near import listed
from stripegen.nest_shapes import Shape
from stripegen.nest_skyline import Placed
from stripegen.nest_slide import Slide
from stripegen.threads import in_threads

_WAYS = 2  # in which pieces are laid elsewhere, side by side ...
_ALONE = 3  # cycles, after which all go on from the best
_HARDLY = 0.05  # of a cycle: for less none is worth while
_USUAL = 5  # cycles, more or less
_LITTLE = 0.0005  # of the length: a cycle that gains less is fruitless
_APART_MM = (1e-3, 4e-3, 1e-2)  # so much farther apart than asked, the next where the check fails
_FIRST = 0.01  # of the length: the first step that is tried
_STEPS = 2000  # pushes at most to settle after one of them
_FEW_PIECES = 120  # of more, which take longer, fewer linear programmes are solved


@dataclass(frozen=True, slots=True)
class Pressing:
    """How hard a box is pressed.

    least: the least share of its length that is worth while. steps: in which all pieces are pushed as they lie, at most.
    cycles: in each of which pieces are laid elsewhere and then all slide, where all are bent, at most. pushes: of pieces for
    that, in all, at most. rounds: linear programmes by which all slide, at most, and half as many in each cycle. starts: of
    the cycles, each drawn otherwise.
    """

    least: float
    steps: int
    cycles: int
    pushes: int
    rounds: int
    starts: int = 1

    def shared(self, boxes: int) -> Pressing:
        """So hard that so many boxes take about as long as one."""
        cycles, rounds = math.ceil(self.cycles / boxes), math.ceil(self.rounds / boxes)
        starts = math.ceil(self.starts / boxes)
        return replace(self, cycles=cycles, pushes=self.pushes // boxes, rounds=rounds, starts=starts)


class Press:
    """Pushes the pieces of one box together; `pushes`, each step one of each body, are what it may yet do."""

    def __init__(self, bodies: Bodies, width_mm: float):
        self.bodies, self.width_mm = bodies, width_mm
        self.pushes = 0.0

    def settled(self, places: np.ndarray, length_mm: float, apart_mm: float = _APART_MM[0]) -> bool:
        """Whether all come to lie in a box of this length without overlap; places are changed."""
        thin = np.zeros(len(places))
        near = listed(places, thin, self.bodies.arrays, self.width_mm, length_mm)
        are_apart, steps, _ = come_apart(
            places, thin, 0.0, self.bodies.arrays, self.width_mm, length_mm, near, apart_mm, _STEPS, 0.0, 0.0
        )
        self.pushes -= steps * len(places)
        return are_apart and self.bodies.are_clear(places)

    def squeezed(
        self, places: np.ndarray, length_mm: float, share: float, least: float, apart_mm: float = _APART_MM[0]
    ) -> tuple[np.ndarray, float]:
        """Shorter by a share each time, half as much where that fails, down to the least."""
        while share >= least and self.pushes > 0:
            shorter = places.copy()
            shorter[:, 1] *= 1.0 - share
            if self.settled(shorter, length_mm * (1.0 - share), apart_mm):
                places, length_mm = shorter, length_mm * (1.0 - share)
            else:
                share /= 2
        return places, length_mm


def _eased(slide: Slide, pushes: float, rounds: int, way: tuple[int, np.ndarray]) -> np.ndarray:
    """What comes of laying pieces elsewhere, drawn by a way's seed, and of sliding all after it."""
    seed, places = way
    push = Press(slide.bodies, slide.width_mm)
    push.pushes = pushes
    places, _ = Easing(push, seed).eased(places, slide.bodies.reach_mm(places))
    return slide.shortened(places, rounds)


def _cycled(
    slide: Slide, places: np.ndarray, how: Pressing, share: float, rounds: int, start: int
) -> Iterator[Sequence[np.ndarray]]:
    """Where all lie in each way after each cycle, as long as that gains; share: of them is bent."""
    bodies = slide.bodies
    ways, fruitless, reach_mm = [places] * _WAYS, 0, bodies.reach_mm(places)
    for cycle in range(math.ceil(how.cycles * share - _HARDLY)):
        if fruitless >= _ALONE * share:
            return
        eased = partial(_eased, slide, how.pushes / how.cycles, rounds)
        ways = in_threads(eased, enumerate(ways, _WAYS * (cycle + start * how.cycles) + 1))
        yield ways
        shorter_mm = min(map(bodies.reach_mm, ways))
        fruitless = 0 if shorter_mm < (1.0 - _LITTLE) * reach_mm else fruitless + 1
        reach_mm = min(reach_mm, shorter_mm)
        if (cycle + 1) % _ALONE == 0:
            ways = [min(ways, key=bodies.reach_mm)] * _WAYS


def press(
    filled: Filled,
    shapes: Sequence[Shape],
    stock: Stock,
    width_mm: float,
    how: Pressing,
    told: Callable[[float], None] = lambda share: None,
) -> Filled:
    """The same pieces in a shorter box, or the same as it was, as it is where none of them is bent.

    `told` is told what share is done, as far as that is known: cycles go on as long as they gain.
    """
    bent_mm2 = math.fsum(member.pose.area for member in filled.placed if shapes[member.pose.index].is_bent)
    if not bent_mm2:
        return filled
    bodies = Bodies(shapes, filled.placed, filled.mode)
    push = Press(bodies, width_mm)
    places, length_mm = bodies.places(), filled.reach_mm
    push.pushes = how.steps * len(places)
    places, length_mm = push.squeezed(places, length_mm, _FIRST, how.least)
    if_sound = partial(_if_sound, filled, shapes, stock, width_mm)
    slide, rounds = Slide(bodies, places, width_mm), math.ceil(how.rounds * min(1.0, _FEW_PIECES / len(places)))
    tried = [places, slide.shortened(places, rounds)]
    # Straight strips lie in lanes, which leave little room to lay pieces elsewhere.
    share = bent_mm2 / filled.area if length_mm < filled.reach_mm else 0.0
    for start in range(how.starts):
        for cycle, ways in enumerate(_cycled(slide, tried[1], how, share, math.ceil(rounds / 2), start), 1):
            told((start + cycle / (cycle + _USUAL)) / how.starts)
            tried += ways
    shortest, *longer = sorted(tried, key=bodies.reach_mm)
    if box := if_sound(bodies.laid(shortest)):
        return box
    found = [next(filter(None, (if_sound(bodies.laid(each)) for each in longer)), None)]
    for apart_mm in _APART_MM:
        push.pushes = how.steps * len(shortest)
        push.settled(shortest, bodies.reach_mm(shortest) + 2 * apart_mm, apart_mm)
        found.append(if_sound(bodies.laid(shortest)))
    return min(filter(None, found), key=lambda box: box.reach_mm, default=filled)


def _if_sound(
    filled: Filled, shapes: Sequence[Shape], stock: Stock, width_mm: float, laid: Sequence[Placed]
) -> Filled | None:
    """The box with its pieces laid so; None: it is no shorter, or they don't keep their distances."""
    reach_mm = _reach_mm(laid, filled.mode)
    if reach_mm < filled.reach_mm and _is_sound(laid, shapes, stock, filled.mode, width_mm):
        return replace(filled, placed=tuple(laid), reach_mm=reach_mm)
    return None


def _reach_mm(laid: Sequence[Placed], mode: str) -> float:
    if mode == "across":
        return max(member.v_mm + member.pose.v_mm for member in laid)
    return max(member.u_mm + member.pose.u_mm for member in laid)


def _is_sound(
    laid: Sequence[Placed], shapes: Sequence[Shape], stock: Stock, mode: str, width_mm: float
) -> bool:
    """Whether all lie within the box and keep their distances, by their outlines."""
    outlines, slacks = [], []
    for member in laid:
        pose = member.pose
        x, y = (member.u_mm, member.v_mm) if mode == "across" else (member.v_mm, member.u_mm)
        across = pose.u_mm if mode == "across" else pose.v_mm
        if min(x, y) < 0.0 or x + across > width_mm:
            return False
        blank = shapes[pose.index].blank
        outlines.append(Polygon(turned(blank.outline, pose.turn_deg) - pose.corner + (x, y)))
        slacks.append(rounded_up(blank.slack_mm) + rounding_mm(pose.turn_deg))
    solid, slack = np.array(outlines), np.array(slacks)
    gap_mm = rounded_up(stock.gap_mm)
    near = shapely.STRtree(solid).query(solid, predicate="dwithin", distance=gap_mm + 2 * float(slack.max()))
    a, b = near[:, near[0] < near[1]]
    apart = shapely.distance(solid[a], solid[b])
    return bool((apart >= gap_mm + slack[a] + slack[b] - 1e-7).all() and (apart > 0.0).all())
