"""The search for one vinyl: boxes filled by recipes, the best kept and varied.

A roll is one box whose length is to be found; a long one is cut into sections, filled one after another.
Everything is counted, nothing timed, and chance is seeded: the same pieces give the same layout.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import NamedTuple

from stripegen.layout import Stock
from stripegen.nest_core import Core, within
from stripegen.nest_efforts import EFFORTS, Annealing
from stripegen.nest_fill import HOPELESS, Filled, Filler
from stripegen.nest_fit import rounded_up
from stripegen.nest_press import press
from stripegen.nest_recipes import Recipe, likely_recipes, section_recipes, varieties
from stripegen.nest_shapes import OTHER, Shape, grow_mm
from stripegen.nest_skyline import Placed, Skyline
from stripegen.threads import ahead, in_threads

_SHRINK = 0.004  # of the best length, that the next must be shorter ...
_SHORTER = (0.001, 0.013)  # ... or, once all is laid, between so much, at random
_ANEW = (0.0003, 0.006)  # and in the end, when only lanes are laid anew ...
_MORE = 15  # ... so many times as often
_PATIENCE = 60  # trials without gain before a search begins anew
_HOPELESS_COST = 0.25  # of a trial, where lanes aren't laid anew
_BENT_TRIALS = 60  # at most, where all is bent: pressing gains more than they do
_LEAST = 0.02  # of the box: what the next trials after a gain must not leave more than, to go on from them
_GROW = 0.005  # of the length, that a box in which not all found room grows at least
_SOON, _HURRY = 5, 2.0  # boxes after which the next grow by so much more each time
_RECIPES_AHEAD = 2  # that are tried at once, for each limits the next
_LONG, _LONG_STRAIGHT = 3.0, 5.0  # a roll's content longer than so many widths, if it is straight, is cut into sections ...
_SECTIONS = (2.0, 2.6, 2.3)  # ... of so many widths
_OFFERED = ((True, 6.0), (False, 24.0))  # and from so many widths of bent and of straight pieces, if there are more
_FEW = 50  # pieces: of fewer less is annealed, by the square, and straight ones are tried in lanes too
_HOPELESS_CORE = 20.0  # times as much lacking at first as of another: it isn't tried for long
_VARIED, _STACKED = 0.2, 0.4  # of a search, more or less, is done once recipes have been varied, and stacks annealed
_ROOM_MM = 1e-6  # a box is that much wider, so that rounding shuts out no piece that just fits


class Stacking(NamedTuple):
    """How two stacks are sought: rows across them, in turn; by how much less of the length they begin with, in turn; the
    share of the work that tells which way to lie, or which core, is likely."""

    crosses: tuple[int, ...]
    ahead: tuple[float, ...]
    pilot: float


_STRAIGHT = Stacking((8, 3, 6, 2, 12, 4, 1, 10, 5, 0), (0.0, 0.004, 0.002, 0.006), 0.1)
BESIDE_CORES = Stacking((2, 4, 1, 3, 0), (0.0,), 0.1)


@dataclass(frozen=True, slots=True)
class Section:
    """A filled box, and where it begins along the feed."""

    start_mm: float
    filled: Filled


class Search:
    """Fills sheets and rolls of one vinyl; lengths and widths here are those of boxes of grown shapes."""

    def __init__(self, shapes: Sequence[Shape], stock: Stock, effort: str, progress: Callable[[float], None]):
        self.shapes, self.stock = shapes, stock
        self.filler = Filler(shapes)
        around_mm = 2 * grow_mm(stock) + _ROOM_MM - (rounded_up(stock.margin_mm) - stock.margin_mm)
        self.width_mm = stock.usable_width_mm + around_mm
        self.length_mm = stock.usable_length_mm + around_mm
        self.effort = EFFORTS[effort]
        self.progress = progress
        self.all = [len(shape.keys) for shape in shapes]
        self.total = self._area(self.all)

    def holds(self, shape: Shape) -> bool:
        """Whether an empty box takes the shape; then every search ends."""
        empty = Skyline(self.width_mm, self.length_mm)
        return any(empty.holds(pose) for pose in shape.poses("across"))

    def roll(self, left: Sequence[int]) -> tuple[list[Section], Sequence[int]]:
        """Sections of a roll, each the densest found, and the rest as short as can be.

        What is short enough is also tried whole, or with fewer sections.
        """
        full: list[Filled] = []
        lasts: list[tuple[int, Filled]] = []  # after so many full ones
        while True:
            self._report(left)
            unit_mm = max(self.width_mm, *(max(shape.size) for shape in self._left_of(left)))
            widths = self._area(left) / (self.width_mm * unit_mm)
            long = _LONG if any(shape.is_bent for shape in self._left_of(left)) else _LONG_STRAIGHT
            if widths < max(long, self.effort.whole):
                lasts.append((len(full), self.shortest(left, 0.5 if widths >= long else 1.0)))
            if widths < long:
                break
            offered = self._offered(left, self.width_mm * unit_mm)
            full.append(self._densest(offered, unit_mm))
            left = tuple(a - b + c for a, b, c in zip(left, offered, full[-1].left, strict=True))
        full = in_threads(partial(self._pressed, boxes=len(full)), full)
        plans = [_in_a_row([*full[:count], last]) for count, last in lasts]
        best = min(plans, key=lambda plan: plan[-1].start_mm + plan[-1].filled.reach_mm)
        return best, best[-1].filled.left

    def _densest(self, offered: Sequence[int], unit_mm: float) -> Filled:
        """A section of some widths that is filled from these and leaves least of what it reaches over."""
        ways = itertools.product(_SECTIONS[: self.effort.sections], section_recipes(self._left_of(offered))[: self.effort.sections - 1])
        tried = in_threads(lambda way: self._fill(offered, way[0] * unit_mm, way[1]), ways)
        return max(tried, key=lambda filled: filled.area / max(filled.reach_mm, 1e-9))

    def _offered(self, left: Sequence[int], unit_mm2: float) -> Sequence[int]:
        """What a section is filled from: every so many of the shapes left, so that its time is not that of the whole job."""
        offered = list(left)
        for is_bent, widths in _OFFERED:
            shapes = [shape for shape in self._left_of(left) if shape.is_bent == is_bent]
            share = widths * unit_mm2 / max(1.0, sum(left[shape.index] * shape.area for shape in shapes))
            due = 0.0
            for shape in shapes if share < 0.7 else ():
                due += share * left[shape.index] * shape.area
                if due > 0.0:
                    due -= left[shape.index] * shape.area
                else:
                    offered[shape.index] = 0
        return tuple(offered)

    def shortest(self, counts: Sequence[int], share: float = 1.0) -> Filled | None:
        """All of these in one box as short as can be found with a share of the usual trials.

        None: a sheet does not hold them.
        """
        found = [self._shortest(counts, share)]
        if self.effort.also:
            found.append(Search(self.shapes, self.stock, self.effort.also, lambda share: None).shortest(counts, share))
        return min(filter(None, found), key=lambda filled: filled.reach_mm, default=None)

    def _shortest(self, counts: Sequence[int], share: float) -> Filled | None:
        trials = int(self._trials(counts) * share)
        best, best_recipe = None, None

        def limited() -> Iterator[tuple[float, Recipe]]:
            for number, recipe in enumerate(self._recipes(counts)):
                if best is not None and trials <= 0 and number >= self.effort.recipes:
                    return
                yield self.length_mm if best is None else best.reach_mm * (1 - _SHRINK), recipe

        for (_, recipe), (filled, used) in ahead(lambda each: self._grown(counts, *each), limited(), _RECIPES_AHEAD):
            trials -= used
            if filled is not None and (best is None or filled.reach_mm < best.reach_mm):
                best, best_recipe = filled, recipe
        if best is None:
            return None
        modes = [mode for mode in OTHER if self.filler.sides(counts, self.width_mm, best.reach_mm, mode)]
        if not modes or sum(counts) < _FEW:
            best, best_recipe = self._improved(counts, best, best_recipe, trials)
        told = self._part(counts, _VARIED, 1.0 if modes else _STACKED)
        if modes:  # all is straight
            return self._in_stacks(counts, best, [(mode, None) for mode in modes], _STRAIGHT, self.effort.straight, share, told)
        cores = [("along", core) for core in self._cores(counts, best, best_recipe)]
        best = self._in_stacks(counts, best, cores, BESIDE_CORES, self.effort.beside, share, told)
        return self._pressed(best, told=self._part(counts, _STACKED, 1.0))

    def _grown(self, counts: Sequence[int], limit_mm: float, recipe: Recipe) -> tuple[Filled | None, int]:
        """Fill longer and longer boxes until one takes all, or None; and how many were filled."""
        area = self._area(counts)
        length_mm = limit_mm if recipe.mode == "across" else min(limit_mm, 1.01 * area / self.width_mm)
        for used in itertools.count(1):
            filled = self._fill(counts, length_mm, recipe, all_or_none=True)
            if not any(filled.left):
                return filled, used
            if length_mm >= limit_mm:
                return None, used
            lacking = self._area(filled.left) / area
            hurry = _HURRY ** max(0, used - _SOON)
            length_mm = min(limit_mm, length_mm * (1.0 + hurry * max(_GROW, 0.6 * lacking)))

    def _improved(
        self, counts: Sequence[int], best: Filled, recipe: Recipe, trials: int
    ) -> tuple[Filled, Recipe]:
        """Vary the recipe; what leaves no more over is kept, what takes all makes the box shorter."""
        chance = random.Random(1)
        has_bent = any(shape.is_bent for shape in self._left_of(counts))
        is_mixed = has_bent and not all(shape.is_bent for shape in self._left_of(counts))
        least, told = math.inf, self._part(counts, 0.0, _VARIED)
        gained = 0.0
        recipes, best_recipe = self._recipes(counts), recipe
        box_mm2 = self.width_mm * best.reach_mm
        trial = 0.0

        def drawn() -> Iterator[tuple[float, Recipe]]:
            while trial < trials:
                varied = recipe.varied(chance, has_bent)
                yield best.reach_mm * (1.0 - _SHORTER[0] - (_SHORTER[1] - _SHORTER[0]) * chance.random()), varied

        for (_, varied), filled in ahead(lambda each: self._fill(counts, *each, all_or_none=True), drawn()):
            told(min(1.0, trial / trials))
            left = self._area(filled.left)
            if left <= least:
                recipe, least = varied, left
            if not any(filled.left) and filled.reach_mm < best.reach_mm:
                best, best_recipe, gained = filled, varied, trial
                least = _LEAST * box_mm2 if is_mixed else math.inf
            trial += _HOPELESS_COST if is_mixed and left > HOPELESS * box_mm2 else 1.0
            if trial - gained > _PATIENCE:
                recipe, least, gained = chance.choice([best_recipe, *recipes]), math.inf, trial
        return self._laid_anew(counts, best, best_recipe, chance), best_recipe

    def _laid_anew(self, counts: Sequence[int], best: Filled, recipe: Recipe, chance: random.Random) -> Filled:
        """The same recipe, its lanes laid anew many more times, in boxes a little shorter."""
        if all(shape.is_bent for shape in self._left_of(counts)):
            return best

        def drawn() -> Iterator[tuple[float, Recipe]]:
            for _ in range(self.effort.anew):
                varied = replace(recipe, seed=chance.randrange(1, 1 << 30))
                yield best.reach_mm * (1.0 - _ANEW[0] - (_ANEW[1] - _ANEW[0]) * chance.random()), varied

        for _, filled in ahead(lambda each: self._fill(counts, *each, True, _MORE * self.effort.tries), drawn()):
            if not any(filled.left) and filled.reach_mm < best.reach_mm:
                best = filled
        return best

    def _cores(self, counts: Sequence[int], best: Filled, recipe: Recipe) -> list[Core]:
        """What is bent, if not all is, as recipes lay it, and as it lies with what is between in the best."""
        if all(shape.is_bent for shape in self._left_of(counts)):
            return []
        likely = [each for each in dict.fromkeys((recipe, *self._recipes(counts))) if each.mode == "along"]
        drawn = [*likely[: self.effort.recipes], *varieties(likely, self.effort.beside.drawn)]
        bent_of = partial(self.filler.bent_of, counts, self.width_mm, best.reach_mm)
        cores = [core for core in in_threads(bent_of, drawn) if core]
        if best.mode == "along":
            bent = [member for member in best.placed if self.shapes[member.pose.index].is_bent]
            cores.append(within(best.placed, bent, self.width_mm))
        differing = {_apart_from_where(core): core for core in cores}.values()
        return [self.filler.core(counts, self.width_mm, best.reach_mm, core) for core in differing]

    def _in_stacks(
        self,
        counts: Sequence[int],
        best: Filled,
        bases: Sequence[tuple[str, Core | None]],
        how: Stacking,
        annealing: Annealing,
        share: float,
        told: Callable[[float], None] = lambda share: None,
    ) -> Filled:
        """Straight strips in two stacks that face each other, or the best if that is shorter.

        Bases are ways to lie and cores between the stacks; the likeliest are tried for long.
        """
        work = share * annealing.work * min(1.0, sum(counts) / _FEW) ** 2

        def sought(most_mm: float, base: tuple[str, Core | None], crosses: int, work: float, trial: int):
            return self.filler.in_sides(counts, self.width_mm, most_mm, base[0], crosses, int(work), trial, base[1])

        likely = bases
        found = [best]
        if len(bases) > annealing.likeliest:
            pilots = in_threads(lambda base: sought(best.reach_mm, base, how.crosses[0], how.pilot * work, 0), bases)
            found += (filled for filled, _ in pilots if filled)
            most_lacking = _HOPELESS_CORE * min(lacking for _, lacking in pilots)
            promised = sorted((filled.reach_mm if filled else math.inf, lacking, k) for k, (filled, lacking) in enumerate(pilots))
            likely = [bases[k] for _, lacking, k in promised[: annealing.likeliest] if lacking <= most_lacking]
        shortest_mm = min(filled.reach_mm for filled in found)

        def tried(number: int) -> Filled | None:
            turn, base = divmod(number, len(likely))
            most_mm = shortest_mm * (1.0 - how.ahead[turn % len(how.ahead)])
            return sought(most_mm, likely[base], how.crosses[turn % len(how.crosses)], work, number + 1)[0]

        trials = annealing.trials if likely else 0
        for number, filled in ahead(tried, range(trials), max(1, trials)):
            told((number + 1) / trials)
            found += [filled] if filled else []
        return min(found, key=lambda filled: filled.reach_mm)

    def _pressed(self, filled: Filled, boxes: int = 1, told: Callable[[float], None] = lambda share: None) -> Filled:
        return press(filled, self.shapes, self.stock, self.width_mm, self.effort.pressing.shared(boxes), told)

    def fullest(self, counts: Sequence[int]) -> Filled:
        """One sheet with as much on it as can be found."""
        chance = random.Random(1)
        has_bent = any(shape.is_bent for shape in self._left_of(counts))
        recipes = self._recipes(counts)
        fill = partial(self._fill, counts, self.length_mm)
        best, recipe = max(zip(in_threads(fill, recipes), recipes, strict=True), key=lambda pair: pair[0].area)
        drawn = (recipe.varied(chance, has_bent) for _ in range(self._trials(counts) - len(recipes)))
        for varied, filled in ahead(fill, drawn):
            if filled.area >= best.area:
                best, recipe = filled, varied
        return best

    def _recipes(self, counts: Sequence[int]) -> list[Recipe]:
        return likely_recipes(self._left_of(counts), counts, self.width_mm)

    def _left_of(self, counts: Sequence[int]) -> list[Shape]:
        return [shape for shape in self.shapes if counts[shape.index]]

    def _area(self, counts: Sequence[int]) -> float:
        return sum(count * shape.area for count, shape in zip(counts, self.shapes, strict=True))

    def _trials(self, counts: Sequence[int]) -> int:
        trials = max(self.effort.least, min(self.effort.most, self.effort.pieces // sum(counts)))
        is_bent = all(shape.is_bent for shape in self._left_of(counts))
        return min(trials, _BENT_TRIALS) if is_bent else trials

    def _fill(
        self,
        counts: Sequence[int],
        length_mm: float,
        recipe: Recipe,
        all_or_none: bool = False,
        tries: int | None = None,
    ) -> Filled:
        tries = self.effort.tries if tries is None else tries
        return self.filler.fill(counts, self.width_mm, length_mm, recipe, tries, all_or_none)

    def _part(self, counts: Sequence[int], begin: float, end: float) -> Callable[[float], None]:
        """What reports shares of one part of the search, which goes from `begin` to `end`, for a box of these."""
        return lambda share: self._report(counts, begin + share * (end - begin))

    def _report(self, left: Sequence[int], share: float = 0.0) -> None:
        """So much is left, of which a share is done."""
        self.progress(1.0 - (1.0 - share) * self._area(left) / self.total)


def _apart_from_where(core: Sequence[Placed]) -> tuple:
    """The same for cores that differ in nothing but where along the feed they are."""
    first_mm = min(member.u_mm for member in core)
    laid = ((member.pose.index, member.pose.turn_deg, member.u_mm - first_mm, member.v_mm) for member in core)
    return tuple(sorted((index, turn_deg, round(u_mm, 4), round(v_mm, 4)) for index, turn_deg, u_mm, v_mm in laid))


def _in_a_row(boxes: Sequence[Filled]) -> list[Section]:
    starts = itertools.accumulate((filled.reach_mm for filled in boxes[:-1]), lambda a, b: rounded_up(a + b), initial=0.0)
    return [Section(start_mm, filled) for start_mm, filled in zip(starts, boxes, strict=True)]
