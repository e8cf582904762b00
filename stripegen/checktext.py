"""What a check found, as lines of plain text grouped by order, and as JSON-able values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from stripegen.findings import Finding
from stripegen.preflight import Preflight
from stripegen.spec import Job, Order
from stripegen.sureness import Sureness

FORMAT, VERSION = "stripegen-check", 1
MOST_NAMED = 5  # other orders that are named


def finding_lines(findings: Sequence[Finding], job: Job | None = None) -> Iterator[str]:
    """Each finding in one line or two, under the order that has it; those of the job and its vinyls before and after.

    `job` is None where its text could not be read.
    """
    orders = {order.id: order for order in job.orders} if job else {}
    rank = {id: number for number, id in enumerate(orders)}
    groups: dict[str, list[Finding]] = {}
    for found in sorted(findings, key=lambda found: rank.get(found.order, len(rank) if found.vinyl else -1)):
        groups.setdefault(_heading(found, orders), []).append(found)
    for heading, own in groups.items():
        yield heading
        for found in own:
            yield from _lines(found)


def _heading(found: Finding, orders: Mapping[str, Order]) -> str:
    if found.order is None:
        return f"vinyl {found.vinyl}" if found.vinyl else f"in {found.where.file}"
    order = orders[found.order]
    return f"order {order.id}: {order.cup}, {order.pattern}"


def _lines(found: Finding) -> Iterator[str]:
    also = ""
    if found.others:
        named = ", ".join(found.others[:MOST_NAMED])
        more = len(found.others) - MOST_NAMED
        also = f" (and so {named}{f' and {more} more' if more > 0 else ''})"
    # what is wrong with the text is told in one line with what would be right, as by every other command
    message = found.message if found.message == found.remedy else f"{found.message}; {found.remedy}"
    if found.code in ("job-text", "picture"):
        yield f"  {found.severity} {found.code}: {found.stands}: {message}"
        return
    yield f"  {found.severity} {found.code}: {found.stands}: {found.message}{also}"
    yield f"    {found.remedy}"


def check_rows(name: str, findings: Iterable[Finding], done: Preflight | None, is_strict: bool) -> dict:
    """The whole check of the job of this name as values; `done` is None where its text has faults."""
    found = list(findings)
    job, production = (done.job, done.production) if done else (None, None)
    faults = sum(each.is_fault for each in found)
    orders = job.orders if job else ()
    return {
        "format": FORMAT,
        "version": VERSION,
        "units": "mm",
        "job": name,
        "passed": not (found if is_strict else faults),
        "counts": {
            "orders": len(orders),
            "cups": sum(order.quantity for order in orders),
            "pieces": len(production.pieces) if production else 0,
            "faults": faults,
            "warnings": len(found) - faults,
        },
        "findings": [_finding_row(each) for each in found],
        "sureness": [_sure_row(each) for each in (done.sure if done else ())],
    }


def _finding_row(found: Finding) -> dict:
    place = found.place
    return {
        "severity": found.severity,
        "code": found.code,
        "file": found.where.file,
        "line": place.line,
        "column": place.column,
        "table": found.where.table,
        "key": found.key or None,
        "order": found.order,
        "other_orders": list(found.others),
        "vinyl": found.vinyl,
        "line_name": found.line,
        "piece": found.piece,
        "figures": [
            {"name": figure.name, "value": _rounded(figure.value), "unit": figure.unit} for figure in found.figures
        ],
        "message": found.message,
        "remedy": found.remedy,
    }


def _sure_row(sure: Sureness) -> dict:
    line, length_mm = sure.longest
    return {
        "cup": sure.cup,
        "pattern": sure.pattern,
        "tapes": [{"down": _rounded(tape.down_mm), "girth": _rounded(tape.girth_mm)} for tape in sure.tapes],
        "longest": {"line": line, "length": _rounded(length_mm)},
        "effects": [
            {
                "measure": effect.measure,
                "possible": effect.possible,
                "longest": _rounded(effect.longest_mm),
                "joint": _rounded(effect.joint_mm),
            }
            for effect in sure.effects
        ],
        "joints": [
            {
                "line": joint.line,
                "overlap": _rounded(joint.overlap_mm),
                "opens": _rounded(joint.opens_mm),
                "measure": joint.measure or None,
            }
            for joint in sure.joints
        ],
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6) + 0.0
