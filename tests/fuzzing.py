"""What any text must come to: a result, or errors that say in whole printable lines what is wrong; shared by fuzzer and tests."""

from __future__ import annotations

import json
import warnings
from collections.abc import Callable, Iterable
from xml.etree import ElementTree

from stripegen.errors import JobError, Notice, StripegenError
from stripegen.jobfile import parse_job
from stripegen.presets import find_preset, preset_names
from stripegen.spec import Job
from stripegen.stockspec import InHand, parse_stock
from stripegen.stocktext import statements

CHEAP_PIECES = 60


def check_told(error: StripegenError) -> None:
    """Assert that an error is told in lines that a terminal can show, each of which says something."""
    told = [str(fault) for fault in error.faults] if isinstance(error, JobError) else str(error).split("\n")
    assert told, "no fault told"
    for line in told:
        assert line.strip() and line.isprintable(), f"not one printable line: {line!r}"
        assert len(line) < 2000, f"{len(line)} characters: {line[:200]!r}..."


def parsed(text: str, sheet: bytes = b"") -> Job | None:
    """The job of a text; None if it was refused as it should be. Anything else is raised. `sheet` is any that it names."""
    try:
        return parse_job(text, "fuzz.toml", find_preset, preset_names, lambda name: sheet)
    except JobError as error:
        check_told(error)
        return None


def stock(text: str) -> InHand | None:
    """What a stock file says; None if it was refused as it should be. Its statements put together give the text again."""
    try:
        found = parse_stock(text, "stock.toml")
    except JobError as error:
        check_told(error)
        return None
    assert "".join(text[each.start : each.end] for each in statements(text)) == text
    return found


def is_cheap(job: Job) -> bool:
    """Whether a job has so few pieces that it is laid out in a moment."""
    pieces = 0
    for order in job.orders:
        for line in (order.changed or job.patterns[order.pattern]).lines:
            places = max(len(getattr(line, "around", ())), len(getattr(line, "downs", ())), 1)
            turns = getattr(line, "points", 1) * (2 if getattr(line, "mirror", None) else 1)
            bends = 4 if job.cups[order.cup].profile else 1  # lines over bends take so much longer
            pieces += bends * order.quantity * line.stripes * places * turns * (line.repeat.count if line.repeat else 1)
    return pieces <= CHEAP_PIECES


def laid(job: Job) -> dict[str, bytes] | None:
    """The files of a job's strips, made in memory and read back; None if it was refused as it should be."""
    from stripegen.production import produce
    from stripegen.proof import prove
    from stripegen.reading import lay_in_reading_order
    from stripegen.results import sheets_result
    from stripegen.sheets import lay_out

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            production = produce(job)
            result = sheets_result("strips", production, lay_out(production, "strips", lay_in_reading_order, prove), None)
        except StripegenError as error:
            check_told(error)
            return None
    check_notices(result.notices)
    for name, data in result.files.items():
        if name.endswith(".svg"):
            ElementTree.fromstring(data)
        elif name.endswith(".json"):
            json.loads(data, parse_constant=_refuse)
    return result.files


def check_notices(notices: Iterable[Notice]) -> None:
    for notice in notices:
        assert str(notice).isprintable(), f"not one printable line: {str(notice)!r}"


def _refuse(constant: str) -> None:
    raise AssertionError(f"{constant} in a manifest")


def try_text(text: str, whole: Callable[[Job], bool] | None = None) -> str:
    """Take a text as far as it goes, and give how far that was. `whole` says of a job whether to lay it out too."""
    job = parsed(text)
    if job is None:
        return "refused"
    if whole is None or not whole(job):
        return "parsed"
    return "laid out" if laid(job) else "refused where it was laid out"
