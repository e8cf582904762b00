"""Nesting where strips may share cuts: which of several ways to lay them in planks takes least vinyl."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from stripegen.errors import NestError
from stripegen.layout import Blank, Layout, Supply
from stripegen.nest import cost_of, lay_to_check, nest

BEST = 2  # so many of the ways are nested again with more effort

Ways = Sequence[Sequence[Blank]]
Chosen = tuple[int, Layout]  # which of the ways, and its layout


def nest_sharing(
    ways: Ways,
    supply: Supply,
    effort: str = "normal",
    progress: Callable[[float], None] | None = None,
    way_to_nest: Callable[..., Layout] = nest,
) -> Chosen:
    """Nest the same pieces in one of several ways, the first of which shares no cut.

    Each way is nested quickly and the two best of them at the effort asked, and so is the first. Never takes more than the
    first way does at that effort; of ways that take the same, that with the fewest blanks is used.

    Raises NestError as the first way does, where none has room.
    """
    told = progress or (lambda share: None)
    found: list[tuple[tuple, int, Layout]] = []

    def tried(number: int, effort: str, start: float, end: float) -> NestError | None:
        def tell(share: float) -> None:
            told(start + (end - start) * share)

        try:
            layout = way_to_nest(ways[number], supply, effort, tell)
        except NestError as error:
            return error
        by_key = {blank.key: blank for blank in ways[number]}
        cost = tuple(round(part, 6) for part in cost_of(layout, by_key, supply))
        found.append(((*cost, len(ways[number])), number, layout))
        return None

    error = tried(0, effort, 0.0, 0.4)
    first = list(found)
    step = 0.3 / (len(ways) - 1)
    for number in range(1, len(ways)):
        tried(number, "quick", 0.4 + step * (number - 1), 0.4 + step * number)
    quick = [each for each in found if each not in first]
    best = sorted(quick, key=_rank)[:BEST] if effort != "quick" else []
    for place, (_, number, _) in enumerate(best):
        tried(number, effort, 0.7 + 0.3 * place / len(best), 0.7 + 0.3 * (place + 1) / len(best))
    if not found:
        raise error
    told(1.0)
    _, number, layout = min(found, key=_rank)
    return number, layout


def _rank(found: tuple[tuple, int, Layout]) -> tuple:
    cost, number, _ = found
    return *cost, number


def share_to_check(ways: Ways, supply: Supply) -> Chosen:
    """A layout that shows whether there is room for all, sharing cuts only if there is none without.

    Raises NestError as the first way does, where none has room.
    """
    faults: list[NestError] = []
    for number, blanks in enumerate(ways):
        try:
            return number, lay_to_check(blanks, supply)
        except NestError as error:
            faults.append(error)
    raise faults[0]
