"""How hard a nest is sought, by name."""

from __future__ import annotations

from dataclasses import dataclass

from stripegen.nest_press import Pressing


@dataclass(frozen=True, slots=True)
class Annealing:
    """How hard rows of straight strips in two stacks are sought.

    trials: in which `work` rows are looked at each. likeliest: of several ways to lie, or cores between the stacks, so many
    are tried, after a short trial of each. drawn: cores of so many varied recipes are tried too.
    """

    work: int
    trials: int
    likeliest: int
    drawn: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard is searched; all of it is counted.

    recipes: so many are tried at least, and more until one holds all. most, pieces, least: with what is varied of them a box
    is filled so often at most, or with so many pieces in all, but at least so often. tries: lanes are laid anew so often each
    time; anew: and those of the best so often more. sections: of so many lengths, by one recipe fewer, a section is the best.
    whole: what is so many widths long is also tried uncut. straight, beside: how two stacks are annealed where all is
    straight, and beside a core. pressing: how a box is pressed. also: another effort, than which it finds nothing longer,
    whatever chance does.
    """

    recipes: int
    most: int
    pieces: int
    least: int
    tries: int
    anew: int
    sections: int
    whole: float
    straight: Annealing
    beside: Annealing
    pressing: Pressing
    also: str = ""


EFFORTS = {
    "quick": Effort(
        recipes=3, most=24, pieces=400, least=0, tries=4, anew=0, sections=2, whole=0.0,
        straight=Annealing(8_000_000, 2, 1), beside=Annealing(12_000_000, 2, 2, 3),
        pressing=Pressing(0.0012, 1_500, 1, 1_000_000, 0),
    ),
    "normal": Effort(
        recipes=3, most=600, pieces=32_000, least=12, tries=8, anew=8, sections=3, whole=5.0,
        straight=Annealing(80_000_000, 4, 1), beside=Annealing(20_000_000, 8, 3, 21),
        pressing=Pressing(0.0003, 15_000, 14, 12_840_000, 8),
    ),
    "thorough": Effort(
        recipes=3, most=1_500, pieces=120_000, least=60, tries=30, anew=20, sections=3, whole=5.0,
        straight=Annealing(300_000_000, 10, 1), beside=Annealing(200_000_000, 32, 4, 117),
        pressing=Pressing(0.0001, 60_000, 40, 66_000_000, 16, 12), also="normal",
    ),
}  # fmt: skip
