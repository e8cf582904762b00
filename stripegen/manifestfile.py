"""An earlier result's manifest as a file: is it one, and how is told what can't be read in it."""

from __future__ import annotations

import json

from stripegen.errors import Fault, JobError, Where
from stripegen.manifest import FORMAT, VERSION
from stripegen.tables import show

# what reading values of another's JSON may raise
UNREADABLE = (KeyError, TypeError, ValueError, AttributeError, IndexError, OverflowError)


def refusal(file: str, right: str) -> JobError:
    """What is wrong with an earlier result's file, in one line."""
    return JobError(Fault(Where(file, ""), "", "", right))


def manifest_of(data: bytes, file: str) -> dict:
    """What a manifest's file holds, not yet read. Raises JobError where it is no manifest of this version."""
    try:
        manifest = json.loads(data)
    except (ValueError, RecursionError):
        raise refusal(file, "it is no manifest: it is not JSON") from None
    head = [manifest.get(key) for key in ("format", "version")] if isinstance(manifest, dict) else None
    if head != [FORMAT, VERSION]:
        raise refusal(file, "it is no manifest that this version of stripegen can read")
    return manifest


def told_of(error: Exception) -> str:
    """In a few words, why values of a manifest could not be read."""
    is_missing = isinstance(error, KeyError) and error.args
    return f"{show(error.args[0])} is missing" if is_missing else str(error).partition("\n")[0][:200]
