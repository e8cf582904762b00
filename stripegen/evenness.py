"""How evenly lines go round the cup: by how much the gaps at a level differ from their mean."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stripegen.levels import Gap, Level, gaps_between
from stripegen.shapes import FULL_TURN


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """The gaps between one line's crossings of a level, edge to edge; between those of all lines where `line` is None.

    `deviation_mm` is by how much the gap that differs most from the mean does.
    """

    line: str | None
    level: str
    down_mm: float
    gaps: int
    mean_mm: float
    deviation_mm: float

    @property
    def share(self) -> float | None:
        """The deviation as a share of the mean; None where the lines overlap so much that there is no mean gap."""
        return self.deviation_mm / self.mean_mm if self.mean_mm > 0 else None


def evenness_of(levels: Sequence[Level]) -> list[Evenness]:
    """For each line that crosses a level more than once, line by line, then for all lines where there are several."""
    names = dict.fromkeys(crossing.line for level in levels for crossing in level.crossings)
    found = [each for name in names for level in levels for each in _of_line(level, name)]
    if len(names) > 1:
        found += [_even(level, level.gaps, None) for level in levels if len(level.gaps) > 1]
    return found


def _of_line(level: Level, name: str) -> Iterator[Evenness]:
    own = [crossing for crossing in level.crossings if crossing.line == name]
    if len(own) > 1:
        yield _even(level, list(gaps_between(own, level.girth_mm / FULL_TURN)), name)


def _even(level: Level, gaps: Sequence[Gap], line: str | None) -> Evenness:
    mean = sum(gap.clear_mm for gap in gaps) / len(gaps)
    return Evenness(
        line=line,
        level=level.name,
        down_mm=level.down_mm,
        gaps=len(gaps),
        mean_mm=mean,
        deviation_mm=max(abs(gap.clear_mm - mean) for gap in gaps),
    )
