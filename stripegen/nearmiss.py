"""What a name was most likely meant to be."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

NEAR = 0.6


def near_miss(name: str, names: Iterable[str], near: float = NEAR) -> str | None:
    """The one of `names` that `name` was most likely meant to be, if any is near."""
    by_folded = {known.casefold(): known for known in names}
    found = difflib.get_close_matches(name[:80].casefold(), by_folded, n=1, cutoff=near)
    return by_folded[found[0]] if found else None


def did_you_mean(name: str, names: Iterable[str], near: float = NEAR) -> str:
    """A tail for a message: `; did you mean "height"?`, or nothing where no name is near."""
    found = near_miss(name, names, near)
    return f'; did you mean "{found}"?' if found else ""
