"""What is told of faults, without line and column: for tests of what is wrong, not of where."""

import re


def placeless(told: str) -> str:
    """Lines as they are where only the file is known: `week.toml: [cup.tall] rim: ...`, `week.toml title: ...`."""
    return re.sub(r"(\.toml):\d+:\d+: (?=(\[)|(\S+: ))?", lambda found: found[1] + (": " if found[2] or not found[3] else " "), told)
