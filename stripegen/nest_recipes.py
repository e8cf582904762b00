"""Recipes: how a box is filled, which ways are likely, and how they are varied."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from stripegen.nest_lanes import LONG_FIRST
from stripegen.nest_shapes import Shape

_DEPTHS = (1.0, 0.5, 0.25, 0.12)
_CHOICES = (0.9, 1.0, 1.15)
_NEAT = (8.0, 2.0, 0.5)
_UNDER = (0.0, 0.3, 0.6)
_MOST_SWAPS = 24
_MOST_VARIED = 5  # choices, in which one that is drawn differs from a likely one
_DEPTH = 0.12  # of the box, of a likely recipe's piles


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a box is filled; every choice that a search may vary.

    mode: which way the box lies (see nest_shapes). whole: so many piles are as deep as the box, the
    others `depth` of it. choice: of how many piles' worth
    of the longest pieces a pile is made. neat: see `stack`. shift: where along the floor the piles begin, as a share of
    what they leave. long_first, seed: see LaneFiller. swaps: pairs of
    piles, as shares of their number, that change places in the order. under: rows of strips under bent pieces fill so
    much of what they take up at least; 0: none are laid there.
    """

    mode: str
    whole: int = 0
    depth: float = 1.0
    choice: float = 1.0
    neat: float = 8.0
    shift: float = 0.0
    long_first: float = 0.0
    seed: int = 0
    under: float = 0.3
    swaps: tuple[tuple[float, float], ...] = ()

    def varied(self, chance: random.Random, has_bent: bool) -> Recipe:
        """One of its choices changed."""
        what = chance.random() if has_bent else 1.0
        if what < 0.5:
            return replace(self, swaps=(*self.swaps, (chance.random(), chance.random()))[-_MOST_SWAPS:])
        if what < 0.75:
            return replace(self, shift=chance.random())
        if what < 0.8:
            return replace(self, depth=chance.choice(_DEPTHS), swaps=())
        if what < 0.85:
            return replace(self, choice=chance.choice(_CHOICES))
        if what < 0.88:
            return replace(self, neat=chance.choice(_NEAT))
        if what < 0.9:
            return replace(self, under=chance.choice(_UNDER))
        return replace(self, long_first=chance.choice(LONG_FIRST), seed=chance.randrange(1, 1 << 30))


def likely_recipes(shapes: Sequence[Shape], counts: Sequence[int], width_mm: float) -> list[Recipe]:
    """Those to begin with for so many of each shape in a box so wide, the likeliest first; the second takes all that there
    is, if not always shortly."""
    bent = [shape for shape in shapes if shape.is_bent]
    if not bent:
        along = [Recipe("along", long_first=share) for share in (0.05, 0.02, 0.0)]
        return [Recipe("across", long_first=0.02), *along]
    area = sum(counts[shape.index] * shape.area for shape in bent)
    piles = math.ceil(area / (width_mm * max(max(shape.size) for shape in bent)))
    shifts = (0.0,) if len(bent) == len(shapes) else (0.0, 0.4)
    along = [
        Recipe("along", whole=whole, depth=_DEPTH, shift=shift)
        for shift in shifts
        for whole in dict.fromkeys((piles, piles + 1, 1))
    ]
    return [along[0], Recipe("across", depth=0.5), *along[1:], Recipe("across", depth=_DEPTH)]


def section_recipes(shapes: Sequence[Shape]) -> list[Recipe]:
    """Those for a section of a long roll, the likelier first."""
    if any(shape.is_bent for shape in shapes):
        return [Recipe("along", whole=9, depth=_DEPTH, shift=shift) for shift in (0.0, 0.4)]
    return [Recipe("along", long_first=share) for share in (0.02, 0.05)]


def varieties(likely: Sequence[Recipe], count: int) -> list[Recipe]:
    """So many recipes that differ from likely ones in a few choices; none where nothing is likely."""
    chance = random.Random(2)
    drawn = []
    for _ in range(count if likely else 0):
        varied = chance.choice(likely)
        for _ in range(chance.randint(1, _MOST_VARIED)):
            varied = varied.varied(chance, True)
        drawn.append(varied)
    return drawn
