"""A box made shorter than its pieces allow, and the pieces that are squeezed most laid where there is more room.

The box is made a little shorter and its pieces come to rest, each a little within its neighbours: the strain, the sum of
all depths squared, tells how far it is from a layout. A piece is taken out, laid as a thin line where most room
is and swells; or two that are much alike are laid in each other's stead. That is kept if the strain at rest is less
than before. Without strain the box is made shorter again.
"""

from __future__ import annotations

import random
from typing import NamedTuple, Protocol

import numpy as np

from stripegen.nest_bodies import Bodies
from stripegen.nest_contacts import come_apart
from stripegen.nest_near import copied, listed
from stripegen.nest_voids import has_room, roomiest, voids

_SHORTER = 0.004  # of the length, each time
_LONGER = 0.001  # of the length, by which a box is made longer until what is squeezed settles
_TIMES_LONGER = 5  # at most
_LEAST = 0.02  # strain, in mm2, below which all will settle
_REST_STEPS, _REST_FALL = 600, 0.97  # pushes to come to rest in a shorter box, and how little the strain then falls
_STEPS, _FALL = 450, 0.99  # the same where a piece has been laid elsewhere
_SWELL_STEPS = 40  # pushes in which that comes to its width
_WIDEST_MM = 6.0  # half the width of a piece that is laid elsewhere, at most
_PLACES = 2  # for a piece, of the best
_DRAWN = 1600  # that are tried to find them
_ROOM = 0.75  # of its room: with less, a place is not tried
_CHANCE = 0.1  # of its room, by which the order of places is drawn
_QUEUE = 30  # places that are tried before others are drawn
_SWAPS = 20  # of pieces for each other, that are tried before places are drawn anew ...
_ALIKE_MM = 4.0  # ... if their middle lines lie no farther apart, as a root of mean squares
_GOOD, _PLENTY = 0.9, 5  # of its room; when so many places have so much, no more pieces are looked at
_TRIAL_COSTS, _PLACE_COSTS, _VOIDS_COST = 5, 0.7, 6_000  # as many pushes as take so long: of each piece, once, once
_MEAN = 0.05  # of the mean strain is added to each piece's, so that any may be taken out
_APART_MM = 1e-3


class Pushing(Protocol):
    """What of nest_press.Press is needed here."""

    bodies: Bodies
    width_mm: float
    pushes: float

    def settled(self, places: np.ndarray, length_mm: float) -> bool: ...


class Trial(NamedTuple):
    """Pieces laid at places (x, y, turn)."""

    pieces: tuple[int, ...]
    places: tuple[tuple[float, float, float], ...]


class Easing:
    """Lays pieces of one box elsewhere as long as the push has pushes."""

    def __init__(self, push: Pushing, seed: int):
        self.push = push
        self.bodies, self.width_mm = push.bodies, push.width_mm
        self._chance = random.Random(seed)
        self._state = np.array([self._chance.getrandbits(63) | 1], np.uint64)

    def eased(self, places: np.ndarray, length_mm: float) -> tuple[np.ndarray, float]:
        """Places in the shortest box that was found, and its length."""
        best, shortest = places, length_mm
        strain = np.zeros(len(places))
        waiting: list[Trial] = []
        have_moved = False  # since the shortest
        while self.push.pushes > 0:
            if strain.sum() < _LEAST:
                if length_mm < shortest:
                    settled, settled_mm = self._settled(places, length_mm, shortest)
                    if settled_mm < shortest:
                        best, shortest, have_moved = settled, settled_mm, False
                    elif length_mm < (1.0 - 2 * _SHORTER) * shortest and have_moved:  # something lies across another
                        places, length_mm, have_moved = best, shortest, False
                places, length_mm, strain = self._shorter(places, length_mm)
                waiting = []
                continue
            waiting = self._with_room(waiting, places, length_mm) or self._drawn(places, length_mm, strain)
            self.push.pushes -= _VOIDS_COST
            trials = waiting + self._swaps(places, strain)
            tried, places, strain = self._first_gain(trials, places, length_mm, strain)
            waiting, have_moved = waiting[tried:], True
        settled, settled_mm = self._settled(places, length_mm, shortest)
        return (settled, settled_mm) if settled_mm < shortest else (best, shortest)

    def _settled(self, places: np.ndarray, length_mm: float, most_mm: float) -> tuple[np.ndarray, float]:
        """What is squeezed in a box only so much longer that none overlaps another, if it is shorter than that at most."""
        for _ in range(_TIMES_LONGER):
            settled = places.copy()
            if length_mm >= most_mm or self.push.settled(settled, length_mm):
                return settled, length_mm
            places, length_mm = places * (1.0, 1.0 + _LONGER, 1.0), length_mm * (1.0 + _LONGER)
        return places, most_mm

    def _shorter(self, places: np.ndarray, length_mm: float) -> tuple[np.ndarray, float, np.ndarray]:
        """The same at rest in a box shorter by a share."""
        places, length_mm = places * (1.0, 1.0 - _SHORTER, 1.0), length_mm * (1.0 - _SHORTER)
        thin = np.zeros(len(places))
        near = listed(places, thin, self.bodies.plain, self.width_mm, length_mm)
        _, steps, strain = come_apart(
            places, thin, 0.0, self.bodies.plain, self.width_mm, length_mm, near,
            _APART_MM, _REST_STEPS, _REST_FALL, 1e18,
        )  # fmt: skip
        self.push.pushes -= steps * len(places)
        return places, length_mm, strain

    def _drawn(self, places: np.ndarray, length_mm: float, strain: np.ndarray) -> list[Trial]:
        """Places with room for pieces of every kind, about the best first; of each kind what is squeezed most, most likely."""
        bodies, chance = self.bodies, self._chance
        free = voids(places, bodies.plain, self.width_mm, length_mm, -1)
        found = np.empty((_PLACES, 4))
        weights = strain + _MEAN * strain.mean()
        chosen = []
        for kind, half in enumerate(bodies.half):
            if half <= _WIDEST_MM:
                alike = np.flatnonzero(bodies.kind == kind)
                chosen += chance.choices(alike.tolist(), weights[alike].tolist())
        drawn, good = [], 0
        for k in sorted(chosen, key=lambda k: -weights[k]):
            kind = bodies.kind[k]
            tried = roomiest(
                free, bodies.middles[kind], bodies.half[kind], places[k, 2], bodies.turnable[k], _DRAWN, self._state, found
            )  # fmt: skip
            self.push.pushes -= _PLACE_COSTS * tried
            for room, *place in found.tolist():
                if room > _ROOM:
                    drawn.append((room + _CHANCE * chance.random(), Trial((k,), (tuple(place),))))
                good += room > _GOOD
            if good >= _PLENTY:
                break
        drawn.sort(key=lambda pair: -pair[0])
        return [trial for _, trial in drawn[:_QUEUE]]

    def _swaps(self, places: np.ndarray, strain: np.ndarray) -> list[Trial]:
        """Pieces laid in each other's stead that lie much alike so; what is squeezed most, most likely."""
        bodies, chance = self.bodies, self._chance
        weights = (strain + _MEAN * strain.mean()) * bodies.turnable
        drawn = []
        for k in chance.choices(range(len(places)), weights.tolist(), k=_SWAPS) if weights.any() else ():
            off_mm, _ = bodies.likeness(bodies.kind[k])
            alike = (off_mm < _ALIKE_MM)[bodies.kind] & (bodies.kind != bodies.kind[k]) & bodies.turnable
            if alike.any():
                j = chance.choice(np.flatnonzero(alike).tolist())
                drawn.append(Trial((k, j), (bodies.in_stead(places, j, k), bodies.in_stead(places, k, j))))
        return drawn

    def _with_room(self, waiting: list[Trial], places: np.ndarray, length_mm: float) -> list[Trial]:
        """Those that still have room after a gain."""
        if not waiting:
            return waiting
        free = voids(places, self.bodies.plain, self.width_mm, length_mm, -1)
        left = []
        for trial in waiting:
            kind = self.bodies.kind[trial.pieces[0]]
            if has_room(free, self.bodies.middles[kind], self.bodies.half[kind], *trial.places[0]) > _ROOM:
                left.append(trial)
        return left

    def _first_gain(
        self, trials: list[Trial], places: np.ndarray, length_mm: float, strain: np.ndarray
    ) -> tuple[int, np.ndarray, np.ndarray]:
        """How many were tried until one gained, and what came of that."""
        hopeless = float(strain.sum())
        near = listed(places, np.zeros(len(places)), self.bodies.plain, self.width_mm, length_mm)

        for count, trial in enumerate(trials, 1):
            laid, thin = places.copy(), np.zeros(len(places))
            for k, place in zip(trial.pieces, trial.places, strict=True):
                laid[k], thin[k] = place, self.bodies.half[self.bodies.kind[k]]
            _, steps, left = come_apart(
                laid, thin, thin.max() / _SWELL_STEPS, self.bodies.plain, self.width_mm, length_mm,
                copied(near), _APART_MM, _STEPS, _FALL, hopeless,
            )  # fmt: skip
            self.push.pushes -= (steps + _TRIAL_COSTS) * len(places)
            if left.sum() < hopeless and self.bodies.are_shallow(laid):
                return count, laid, left
            if self.push.pushes <= 0:
                return count, places, strain
        return len(trials), places, strain
