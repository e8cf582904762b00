"""A strip that is too long for its vinyl, cut into parts that overlap.

Places are lengths along the strip's centre line from its start, in mm. A joint stands at the place where the
next part begins; the part before it runs on from there by the overlap.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import shapely

from stripegen.errors import Figure, GeometryError, NestError
from stripegen.flat import FlatPiece, lay_flat
from stripegen.lengthwise import KNIFE_MM, Sections, Span, Way, part_of, stretch_of
from stripegen.sketching import Sketch

OVERLAP_MM = 3.0
LEAST_MM = 5.0  # what every part shows at least
FIT_MM = 0.25  # the longest part that fits is found so closely
STEP_MM = 0.5  # between places that are tried for a joint ...
STEPS = 400  # ... but no more than about so many
ROUNDS = 50
CLOSE_MM = 20.0
LOST_MM2 = 0.2  # by so much samples of parts and whole may differ at each joint

# What a joint costs, each outweighing any sum of what comes after it: not hidden; where the outline is not
# that of a plain strip; a square millimetre of unevenness.
SEEN, ROUGH = 1e12, 1e9


def split(
    flat: FlatPiece,
    fits: Callable[[FlatPiece], bool],
    overlap_mm: float = OVERLAP_MM,
    hidden: Sequence[Span] = (),
    forbidden: Sequence[Span] = (),
    upright: bool = False,
) -> list[FlatPiece]:
    """Cut a strip into as few parts as fit, laid flat in their order along it; itself, if it fits whole.

    Parameters
    ----------
    flat : the strip, laid flat
    fits : whether a part, laid flat, fits its vinyl
    overlap_mm : by how much neighbouring parts overlap, along the strip's own centre line
    hidden : stretches under covering lines; as many joints as can be lie wholly in one of them
    forbidden : stretches that no joint may reach into
    upright : the cuts run along meridians, not squarely across the strip

    The other joints are spread evenly. What is seen of the parts adds up to what is seen of the strip: an
    overlap counts for the part that begins there.

    Raises
    ------
    GeometryError
        where no part fits, or no joints can be placed clear of what is forbidden.
    """
    return _Splitter(flat, fits, overlap_mm, hidden, forbidden, upright).parts()


class _Splitter:
    def __init__(self, flat: FlatPiece, fits, overlap_mm: float, hidden, forbidden, upright: bool):
        self.flat, self.strip, self.fits, self.overlap_mm = flat, flat.strip, fits, overlap_mm
        self.hidden, self.forbidden, self.upright = hidden, forbidden, upright
        self.way = Way(self.strip.middle)
        self.sketch = Sketch(flat, self.way, upright)
        self.whole_mm = self.way.length_mm
        self.least_mm = max(LEAST_MM, overlap_mm)
        self.fitting: dict[Span, bool] = {}
        self.knots: dict[float, float] = {}  # place: length of the longest part from there on that fits; inf: all of it

    def parts(self) -> list[FlatPiece]:
        joints: list[float] = []  # those with which every part is as long as can be
        end = self._reach(0.0)
        while end < self.whole_mm:
            joints.append(end - self.overlap_mm)
            end = self._reach(joints[-1])
        if not joints:
            return [self.flat]
        places, costs = self._places(joints)
        for _ in range(ROUNDS):
            best = self._best(places, costs)
            if best is None:
                if not self._looked_closer():
                    break
                continue
            spans = self._spans(best)
            wrong = [start for start, end in spans if not self._fits(start, end)]
            if wrong:
                self._reach(wrong[0])
                continue
            parts = self._cut(best)
            wrong = [span for span, part in zip(spans, parts, strict=True) if not self.fits(part)]
            if not wrong:
                return parts
            for start, end in wrong:
                self.knots[start] = end - start - FIT_MM
        where = "clear of the lines that it crosses" if self.forbidden else "where its parts would fit"
        helps = ", or lay it under one of those lines" if self.forbidden else ""
        raise GeometryError(
            f"it is {self.whole_mm:.1f} mm long, more than its vinyl takes, and no joint can be placed {where}",
            f"use a longer or wider vinyl{helps}",
            Figure("length", self.whole_mm),
        )

    # ---- what fits

    def _fits(self, from_mm: float, to_mm: float) -> bool:
        """Whether the part between two places fits, as sketched."""
        span = from_mm, to_mm
        if span not in self.fitting:
            try:
                whole = from_mm <= 0 and to_mm >= self.whole_mm
                self.fitting[span] = self.fits(self.flat if whole else self.sketch.part(from_mm, to_mm))
            except NestError:  # its outline is none
                self.fitting[span] = False
        return self.fitting[span]

    def _reach(self, from_mm: float) -> float:
        """How far the longest part reaches that begins at a place and fits."""
        end, length = self.whole_mm, math.inf
        if not self._fits(from_mm, self.whole_mm):
            low, high = min(from_mm + self.least_mm + self.overlap_mm, self.whole_mm), self.whole_mm
            if not self._fits(from_mm, low):
                raise GeometryError(
                    f"even {low - from_mm:g} mm of it, {self.strip.width_mm:g} mm wide, fit no sheet of its vinyl",
                    "use a wider vinyl or a narrower line",
                    Figure("width", self.strip.width_mm),
                )
            # most parts of a strip reach as far as another does
            other = next(reversed(self.knots.values()), math.inf)
            guesses = [guess for guess in (from_mm + other, from_mm + other + FIT_MM) if low < guess < high]
            while guesses or high - low > FIT_MM * 1.001:
                guess = guesses.pop(0) if guesses else (low + high) / 2
                if low < guess < high:
                    low, high = (guess, high) if self._fits(from_mm, guess) else (low, guess)
            end, length = low, low - from_mm
        self.knots[from_mm] = length
        return end

    def _looked_closer(self) -> bool:
        """Find more of the longest parts, between places where they are known; False if that tells nothing new."""
        lengths = [length for length in self.knots.values() if length < math.inf]
        if max(lengths) - min(lengths) < 2 * FIT_MM:
            return False
        known = sorted(self.knots)
        wide = [(low + high) / 2 for low, high in pairwise(known) if high - low > CLOSE_MM]
        for place in wide:
            self._reach(place)
        return bool(wide)

    def _longest(self, places: np.ndarray) -> np.ndarray:
        """How long a part that begins at each place may be: between places where that is known, the less of both."""
        known = np.array(sorted(self.knots))
        lengths = np.array([self.knots[at] for at in known])
        after = np.searchsorted(known, places)
        return np.minimum(
            lengths[np.maximum(np.searchsorted(known, places, side="right") - 1, 0)],
            lengths[np.minimum(after, len(known) - 1)],
        )

    # ---- where joints stand

    def _places(self, longest: list[float]) -> tuple[np.ndarray, np.ndarray]:
        """Where a joint may stand, and what one costs there."""
        lap, least = self.overlap_mm, self.least_mm
        tried = [longest, np.arange(least, self.whole_mm - least, max(STEP_MM, self.whole_mm / STEPS))]
        for count in (len(longest) + 1, len(longest) + 2):
            tried.append(np.arange(1, count) * (self._even(count) - lap))
        for low, high in self.hidden:
            tried.append([low, (low + high - lap) / 2, high - lap])
        for low, high in self.forbidden:
            tried.append([low - lap, high])
        places = np.unique(np.concatenate([np.asarray(some, dtype=float) for some in tried]))
        places = places[(places >= least) & (places <= self.whole_mm - least)]
        for low, high in self.forbidden:
            places = places[(places + lap <= low + 1e-9) | (places >= high - 1e-9)]
        seen = np.ones(len(places), bool)
        for low, high in self.hidden:
            seen &= (places < low - 1e-9) | (places + lap > high + 1e-9)
        sections = Sections(self.strip, self.way, self.upright)
        rough = sections.rough(places - KNIFE_MM, places + lap + KNIFE_MM)
        return places, SEEN * seen + ROUGH * rough

    def _even(self, count: int) -> float:
        """The length of each of so many equal parts."""
        return (self.whole_mm + (count - 1) * self.overlap_mm) / count

    def _best(self, places: np.ndarray, costs: np.ndarray) -> list[float] | None:
        """The joints between the fewest parts that fit, so far as is known; of such the cheapest. None: there are none."""
        starts = np.concatenate([[0.0], places])
        stops = np.concatenate([places + self.overlap_mm, [self.whole_mm]])
        lengths = stops - starts[:, None]
        shown = self._shown(np.concatenate([places, [self.whole_mm]])) - self._shown(starts)[:, None]
        may = (lengths <= self._longest(starts)[:, None] + 1e-9) & (shown >= self.least_mm - 1e-9)
        count = self._fewest(may)
        if count is None:
            return None
        cost = np.where(may, (lengths - self._even(count)) ** 2 + np.append(costs, 0.0), np.inf)
        total, before = cost[0], []
        for _ in range(count - 1):
            through = total[:-1, None] + cost[1:]
            before.append(np.argmin(through, axis=0))
            total = np.min(through, axis=0)
        joints, at = [], len(places)
        for best in reversed(before):
            at = int(best[at])
            joints.append(float(places[at]))
        return joints[::-1]

    def _fewest(self, may: np.ndarray) -> int | None:
        """How many parts it takes; `may[i, j]`: one from the i-th start to the j-th stop fits."""
        reached, count = may[0], 1
        while not reached[-1]:
            further = reached | may[1:][reached[:-1]].any(axis=0)
            if (further == reached).all():
                return None
            reached, count = further, count + 1
        return count

    def _shown(self, places: np.ndarray) -> np.ndarray:
        """How much of the strip is seen before each place."""
        hidden = sum((np.clip(places, low, high) - low for low, high in self.strip.hidden), np.zeros(len(places)))
        return places - hidden

    # ---- the parts

    def _spans(self, joints: Sequence[float]) -> list[Span]:
        return list(zip([0.0, *joints], [*(at + self.overlap_mm for at in joints), self.whole_mm], strict=True))

    def _cut(self, joints: Sequence[float]) -> list[FlatPiece]:
        """The parts between joints, laid flat. Raises GeometryError where they would not make the strip."""
        parts = []
        for (start, end), seen_to in zip(self._spans(joints), [*joints, math.inf], strict=True):
            shape = part_of(self.strip, self.way, start, end, self.upright)
            parts.append(stretch_of(self.strip, self.way, shape, start, end, seen_to))
        whole = shapely.union_all([part.shape.polygon for part in parts])
        if shapely.symmetric_difference(whole, self.strip.shape.polygon).area > LOST_MM2 * len(parts):
            raise GeometryError(
                "it is too long for its vinyl, and too broken by what cuts it to be cut in sound parts", "use a longer or wider vinyl"
            )
        return [lay_flat(part) for part in parts]
