"""The page to turn the cup: one HTML file that holds its data, its style and its scripts, and asks for nothing else."""

from __future__ import annotations

import html
import json
from importlib.resources import files

SCRIPTS = ("words.js", "cup.js", "page.js")


def page_html(data: dict, version: int | None = None) -> str:
    """The page of such data, see pagedata.py. One with a version is live: see live.js and watching.py."""
    live = version is not None
    if live:
        data = data | {"version": version}
    parts = {
        "title": html.escape(data["title"]),
        "style": _read("page.css"),
        # a script's text ends at the first "</" that closes it, whatever it stands in
        "data": json.dumps(data, allow_nan=False, separators=(",", ":")).replace("<", "\\u003c"),
        "script": "\n".join(_read(name) for name in (*SCRIPTS, *(("live.js",) if live else ()))),
        "connect": "'self'" if live else "'none'",
    }
    text, *pieces = _read("page.html").split("{{")
    for piece in pieces:
        name, _, rest = piece.partition("}}")
        text += parts[name] + rest
    return text


def _read(name: str) -> str:
    return files(__name__).joinpath(name).read_text(encoding="utf-8")
