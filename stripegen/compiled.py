"""How the loops of a nest are compiled, and where that is kept."""

from __future__ import annotations

from collections.abc import Callable

from numba import njit

# No numbers that aren't, no sign of zero: then several values are compared at once.
_QUICK = {"nnan", "nsz", "ninf"}


def compiled(quick: bool = False, any_order: bool = False) -> Callable[[Callable], Callable]:
    """Compile a function at its first call and keep that beside it, or in the user's cache; if neither can be
    written, it is compiled anew in each process.

    `quick`: it meets no infinities. `any_order`: sums may be taken in any order, too.
    """
    how = {"nogil": True, "fastmath": _QUICK | ({"reassoc"} if any_order else set()) if quick else False}

    def compile_(function: Callable) -> Callable:
        try:
            return njit(cache=True, **how)(function)
        except RuntimeError:  # nowhere to keep it
            return njit(**how)(function)

    return compile_
