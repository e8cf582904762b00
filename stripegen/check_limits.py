"""Whether lines keep off the lip, the foot and what stands on the wall, and end where others do."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from stripegen.clearances import Clearance
from stripegen.errors import Figure, Notice
from stripegen.units import show_length

LIP_MM = 6.0  # half of what is kept clear if nothing is said
BASE_MM = 2.0
KEEPOUT_MM = 1.0  # a hand lays a strip no truer
HAIR_MM = 0.3  # narrower bare edges look like a slip
ON_MM = 0.02  # what misses a limit by no more ends on it


def limit_notices(clearances: Sequence[Clearance], unit: str = "mm") -> list[Notice]:
    """A warning for each line of which a copy comes too near to an end of the wall or a keepout, or ends a hair off."""
    return [notice for check in (_lips, _bases, _keepouts, _hairs) for notice in check(clearances, _shown(unit))]


def _shown(unit: str) -> Callable[[float], str]:
    return lambda length_mm: f"{show_length(length_mm, unit, 1)} {unit}"


def _lips(clearances: Sequence[Clearance], shown: Callable) -> Iterator[Notice]:
    for line, (near_mm, count) in _nearest((each.line, each.rim_mm) for each in clearances if each.rim_mm < LIP_MM - ON_MM):
        message = f"{_named(count)} as near to the rim as {shown(near_mm)}, less than {shown(LIP_MM)}: lips touch there"
        yield _notice("near-lip", line, message, near_mm, LIP_MM)


def _bases(clearances: Sequence[Clearance], shown: Callable) -> Iterator[Notice]:
    for line, (near_mm, count) in _nearest(
        (each.line, each.base_mm) for each in clearances if each.base_mm < BASE_MM - ON_MM
    ):
        message = f"{_named(count)} as near to the foot of the wall as {shown(near_mm)}, less than {shown(BASE_MM)}"
        yield _notice("near-base", line, message, near_mm, BASE_MM)


def _keepouts(clearances: Sequence[Clearance], shown: Callable) -> Iterator[Notice]:
    for line, (near_mm, count) in _nearest(
        (each.line, near_mm) for each in clearances for near_mm in each.keepouts_mm if ON_MM < near_mm < KEEPOUT_MM - ON_MM
    ):
        message = f"{_named(count)} past a keepout by {shown(near_mm)}, less than {shown(KEEPOUT_MM)}"
        yield _notice("near-keepout", line, message, near_mm, KEEPOUT_MM)


def _hairs(clearances: Sequence[Clearance], shown: Callable) -> Iterator[Notice]:
    for what, limit_of in (("rim", lambda each: each.rim_limit_mm), ("base", lambda each: each.base_limit_mm)):
        ends_on = [each.line for each in clearances if abs(limit_of(each)) <= ON_MM]
        if not ends_on:
            continue
        for line, (off_mm, _) in _nearest(
            (each.line, limit_of(each)) for each in clearances if ON_MM < limit_of(each) < HAIR_MM
        ):
            message = f"it ends {shown(off_mm)} short of the {what} clearance, on which {ends_on[0]} ends"
            yield _notice("hair-off", line, message, off_mm, HAIR_MM)


def _nearest(found) -> list[tuple[str, tuple[float, int]]]:
    """For each line the least of its distances, and how many there are."""
    by_line: dict[str, list[float]] = {}
    for line, near_mm in found:
        by_line.setdefault(line, []).append(near_mm)
    return [(line, (min(values), len(values))) for line, values in by_line.items()]


def _named(count: int) -> str:
    return "it comes" if count == 1 else f"{count} of its copies come"


def _notice(code: str, line: str, message: str, now_mm: float, least_mm: float) -> Notice:
    return Notice(code=code, line=line, message=message, figures=(Figure("now", now_mm), Figure("least", least_mm)))
