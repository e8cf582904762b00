"""How hard a nest is sought, by name."""

from __future__ import annotations

from dataclasses import dataclass

from stripegen.nest_press import Pressing


@dataclass(frozen=True, slots=True)
class Annealing:
    """How hard rows of straight strips in two stacks are sought.

    trials: in which `work` rows are looked at each. likeliest: of several ways to lie, or cores between the stacks, so many
    are tried, after a short trial of each. drawn: so many cores are drawn by recipes.
    """

    work: int
    trials: int
    likeliest: int
    drawn: int = 0


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard is searched; all of it is counted.

    most, pieces, least: a box is filled on trial so often at most, or with so many pieces in all, but at least so often.
    recipes: so many are tried at least, and more until one holds all. tries: lanes are laid anew so often each time; anew: and
    those of the best so often more. sections: of so many lengths, by one recipe fewer, a section is the best. whole: what is
    so many widths long is also tried uncut. straight, beside: how two stacks are annealed where
    all is straight, and beside a core. pressing: how a box is pressed. also: another effort,
    than which it finds nothing longer, whatever chance does.
    """

    most: int
    pieces: int
    least: int
    recipes: int
    tries: int
    sections: int
    whole: float
    anew: int
    straight: Annealing
    beside: Annealing
    pressing: Pressing
    also: str = ""


EFFORTS = {
    "quick": Effort(
        0, 0, 0, 3, 4, 2, 0.0, 0, Annealing(8_000_000, 2, 1), Annealing(12_000_000, 2, 2, 6), Pressing(0.0012, 1_500, 1, 1_000_000, 0)
    ),
    "normal": Effort(
        600, 32_000, 12, 3, 8, 3, 5.0, 8, Annealing(80_000_000, 4, 1), Annealing(20_000_000, 8, 3, 24),
        Pressing(0.0003, 15_000, 14, 12_840_000, 8),
    ),
    "thorough": Effort(
        1_500, 120_000, 60, 3, 30, 3, 5.0, 20, Annealing(300_000_000, 10, 1), Annealing(200_000_000, 32, 4, 400),
        Pressing(0.0001, 60_000, 40, 66_000_000, 16, 12), "normal",
    ),
}  # fmt: skip
