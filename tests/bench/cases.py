"""What the nesting bench nests: the fixed instances, made-up weeks, job files of shipped presets, ever larger weeks."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import replace

from instances import STOCK, Points, from_corner, instance

from stripegen.jobfile import parse_job
from stripegen.layout import Blank, Layout, Lot, Stock, Supply
from stripegen.presets import find_preset, preset_names
from stripegen.production import produce
from stripegen.proof import prove
from stripegen.reading import lay_in_reading_order
from stripegen.sheets import lay_out

ROLL = Stock(width_mm=305, length_mm=None, margin_mm=5, gap_mm=1.5)
Kind = Callable[[random.Random], Points]

_FILM = """
[vinyl.film]
colour    = "#335577"
width     = 305
margin    = 5
piece_gap = 1.5
"""


def straight(chance: random.Random) -> Points:
    width, length = chance.choice((3, 4, 5, 8)), chance.randrange(180, 520) / 2
    return [(0, 0), (width, 0), (width, length), (0, length)]


def mitred(chance: random.Random) -> Points:
    width, length = chance.choice((3, 4, 5, 8)), chance.randrange(120, 420) / 2
    a, b = (chance.uniform(-1.3, 1.3) * width for _ in range(2))
    return [(0, max(0, -a)), (width, max(0, a)), (width, length + min(0, b)), (0, length - max(0, b))]


def slanted(chance: random.Random) -> Points:
    turn = math.radians(chance.uniform(20, 70))
    cos, sin = math.cos(turn), math.sin(turn)
    return [(x * cos - y * sin, x * sin + y * cos) for x, y in mitred(chance)]


def arc(chance: random.Random) -> Points:
    width, radius = chance.choice((3, 4, 5)), chance.uniform(130, 700)
    half = min(chance.uniform(100, 250) / radius, 2.2) / 2
    turns = [half * (2 * k / 24 - 1) for k in range(25)]
    outer = [(radius * math.sin(t), -radius * math.cos(t)) for t in turns]
    inner = [((radius - width) * math.sin(t), -(radius - width) * math.cos(t)) for t in reversed(turns)]
    return outer + inner


def spiral(chance: random.Random) -> Points:
    width, rate, start = chance.choice((3, 4, 5)), chance.uniform(0.2, 0.6), chance.uniform(90, 180)
    turns = [chance.uniform(120, 220) / start * k / 24 for k in range(25)]
    turns.sort()
    radii = [start * math.exp(rate * t) for t in turns]
    outer = [((r + width / 2) * math.cos(t), (r + width / 2) * math.sin(t)) for r, t in zip(radii, turns)]
    inner = [((r - width / 2) * math.cos(t), (r - width / 2) * math.sin(t)) for r, t in zip(radii, turns)]
    return outer + inner[::-1]


def week(seed: int, pieces: int, copies: int, kinds: Sequence[Kind]) -> list[Blank]:
    """So many pieces of these kinds, each shape about `copies` times."""
    chance = random.Random(seed)
    blanks: list[Blank] = []
    while len(blanks) < pieces:
        outline = from_corner(chance.choice(kinds)(chance))
        for _ in range(min(pieces - len(blanks), chance.randint(1, 2 * copies - 1))):
            blanks.append(Blank(key=f"{len(blanks)}", outline=outline))
    return blanks


def studio() -> str:
    """A job file: an order of each shipped cup, the patterns in turn, one to six cups of it."""
    chance = random.Random(7)
    patterns = preset_names("pattern")
    chance.shuffle(patterns)
    return _job((cup, patterns[k % len(patterns)], chance.randint(1, 6)) for k, cup in enumerate(preset_names("cup")))


def presets() -> str:
    """A job file: every shipped pattern on every shipped cup, one of each."""
    return _job((cup, pattern, 1) for cup in preset_names("cup") for pattern in preset_names("pattern"))


def _job(orders: Sequence[tuple[str, str, int]]) -> str:
    told = (
        f'[[order]]\nid = "{number}"\ncup = "{cup}"\npattern = "{pattern}"\nvinyl = "film"\nquantity = {count}\n'
        for number, (cup, pattern, count) in enumerate(orders, 1)
    )
    return "\n".join([_FILM, *told])


def laid_by(text: str, name: str = "week.toml") -> list[tuple[list[Blank], Supply]]:
    """What the job's pieces of each vinyl are to the nest, the whole way from its text, and what they are laid on."""
    taken: list[tuple[list[Blank], Supply]] = []

    def lay(blanks: Sequence[Blank], supply: Supply) -> Layout:
        taken.append((list(blanks), supply))
        return lay_in_reading_order(blanks, supply)

    lay_out(produce(parse_job(text, name, find_preset)), "sheet", lay, prove)
    return taken


def from_job(text: str) -> list[Blank]:
    ((blanks, supply),) = laid_by(text)
    assert supply == Supply.of(ROLL), "the film is the roll that the other weeks are laid on"
    return blanks


WEEKS: dict[str, Callable[[], list[Blank]]] = {
    "straight": lambda: week(1, 120, 4, [straight]),
    "alike": lambda: week(2, 300, 40, [straight, mitred]),
    "mixed": lambda: week(3, 300, 6, [straight, straight, mitred, slanted, arc]),
    "curvy": lambda: week(4, 120, 4, [arc, arc, spiral]),
    "studio": lambda: from_job(studio()),
    "presets": lambda: from_job(presets()),
    "large": lambda: week(5, 2000, 10, [straight, straight, mitred, arc]),
}


def pieces_of(case: str) -> tuple[list[Blank], Stock]:
    """A to D, a week, or as many pieces as the name says."""
    if case in WEEKS:
        return WEEKS[case](), ROLL
    if case.isdigit():
        return week(6, int(case), 10, [straight, straight, mitred, arc]), ROLL
    return instance(case), STOCK


def in_hand(kinds: int) -> Supply:
    """Sheets of 305 x 400 mm, and offcuts of so many sizes, one or two of each."""
    chance = random.Random(4)
    sizes = [(chance.randint(60, 305), chance.randint(40, 150), chance.randint(1, 2)) for _ in range(kinds)]
    offcuts = [Lot(stock=replace(ROLL, width_mm=w, length_mm=l), quantity=n, is_offcut=True) for w, l, n in sizes]
    return Supply((*offcuts, Lot(stock=replace(ROLL, length_mm=400))))
