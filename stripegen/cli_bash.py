"""What bash needs besides click's own completion: it takes ROLE=NAME for three words. Imported only while a shell completes."""

from __future__ import annotations

import os

from click.shell_completion import BashComplete, CompletionItem, add_completion_class
from click.shell_completion import split_arg_string as words_of


class JoinedBash(BashComplete):
    """Completes a word with = in it as one, and gives bash the part behind it, which is what bash puts in."""

    def get_completion_args(self) -> tuple[list[str], str]:
        words, at = words_of(os.environ["COMP_WORDS"]), int(os.environ["COMP_CWORD"])
        joined = [""]
        for word, before in zip(words[: at + 1], ["", *words], strict=False):
            if word == "=" or before == "=":
                joined[-1] += word
            else:
                joined.append(word)
        return (joined[2:-1], joined[-1]) if at < len(words) else (joined[2:], "")

    def format_completion(self, item: CompletionItem) -> str:
        return f"{item.type},{item.value.rpartition('=')[2]}"


def register() -> None:
    """Put it in the place of click's."""
    add_completion_class(JoinedBash, "bash")
