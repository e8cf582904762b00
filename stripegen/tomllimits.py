"""What a text must keep before a TOML parser may see it, and where it stops being TOML.

Tables within tables cost `tomllib` memory that grows with the square of their depth, so that a dotted key of a few
hundred kilobytes takes all there is. Depth and digits are therefore counted on the bare text.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from stripegen.tomlplaces import Spot

DEEPEST = 20  # a job needs 8
WORD_MOST = 1_000  # a job needs 64

# What is in quotes, and comments; one that is not closed ends with its line or the text. No way back is kept: a text may be long.
_QUOTED = re.compile(
    r'"""(?:[^"\\]++|\\.|"{1,2}(?!"))*+"{0,5}'
    r"|'''(?:[^']++|'{1,2}(?!'))*+'{0,5}"
    r'|"(?:[^"\\\n]++|\\[^\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|#[^\n]*+",
    re.DOTALL,
)
_LONG_WORD = re.compile(rf"[\w.-]{{{WORD_MOST + 1}}}")
_DEEP_KEY = re.compile(rf"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){{{DEEPEST}}}")
_BRACKET = re.compile(r"[\[{\]}]")


class Refusal(NamedTuple):
    """Why a text is not given to the parser, and where."""

    spot: Spot
    right: str


def refusal(text: str) -> Refusal | None:
    """What stands in a text that only a mistake or ill will can have put there; None where nothing does."""
    bare = _QUOTED.sub(_blanked, text)
    if key := _DEEP_KEY.search(bare):
        return Refusal(_spot(text, key.start()), f"holds a key of more than {DEEPEST} parts")
    if word := _LONG_WORD.search(bare):
        return Refusal(_spot(text, word.start()), f"holds a name or a number of more than {WORD_MOST:,} characters")
    depth = 0
    for bracket in _BRACKET.finditer(bare):
        depth += 1 if bracket[0] in "[{" else -1
        if depth > DEEPEST:
            return Refusal(_spot(text, bracket.start()), f"is nested more than {DEEPEST} deep")
    return None


def _blanked(quoted: re.Match) -> str:
    """As long as what is quoted; a key in quotes still counts as a part of one."""
    return (" " if quoted[0][0] == "#" else "x").ljust(len(quoted[0]))


def syntax_error(error: ValueError, text: str) -> tuple[Spot, str]:
    """Where the parser stopped, and why, in lower case."""
    reason, _, place = str(error).removesuffix(")").rpartition(" (at ")
    numbers = re.findall(r"\d+", place)
    spot = Spot(*map(int, numbers)) if len(numbers) == 2 else _spot(text, len(text))
    reason = " ".join((reason or str(error)).split())
    return spot, reason[:1].lower() + reason[1:]


def _spot(text: str, at: int) -> Spot:
    return Spot(text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
