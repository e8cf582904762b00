"""Everything that is wrong with a job, in one go: each order and each vinyl is tried by itself.

Faults of the text come first, since nothing can be laid before it is sound. Orders without a fault are laid out whatever
is wrong with the others, and looked at for warnings; then room is looked for on each vinyl.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from stripegen.check_colours import colour_notices
from stripegen.check_gaps import gap_notices
from stripegen.check_limits import limit_notices
from stripegen.check_overlaps import overlap_notices
from stripegen.check_tucks import tuck_notices
from stripegen.codes import CODES
from stripegen.decoration import Decoration
from stripegen.errors import GeometryError, NestError, Notice
from stripegen.findings import Finding, gathered, of_notice, of_order_fault, of_shortfall
from stripegen.nest import lay_to_check
from stripegen.nest_shared import share_to_check
from stripegen.production import Production, placed, try_orders
from stripegen.proof import prove
from stripegen.sheets import lay_out
from stripegen.spacings import Spacings
from stripegen.spec import Job, Order, Vinyl
from stripegen.sureness import Sureness, joint_notices, surenesses
from stripegen.tasks import Sharing

NO_LAYOUT = CODES["no-layout"].remedy


@dataclass(frozen=True)
class Preflight:
    """What a check found of a job whose text is sound. `production` is that of the orders without a fault, None if none
    is without; `sure` how sure their measures are."""

    job: Job
    findings: tuple[Finding, ...]
    production: Production | None
    sure: tuple[Sureness, ...]


def preflight(
    job: Job, min_gap_mm: float = 0.0, progress: Callable[[float], None] | None = None
) -> Preflight:
    """Try a job. `min_gap_mm`: the least gap between lines that the maker asks for."""
    told = progress or (lambda share: None)
    attempt = try_orders(job, lambda share: told(0.6 * share))
    orders = {order.id: order for order in job.orders}
    findings = [of_order_fault(fault, job.pattern_of(orders[fault.orders[0]])) for fault in attempt.faults]
    production, sure = attempt.production, ()
    notices = list(attempt.notices)
    if production:
        sure = surenesses(production)
        notices += _warnings(production, min_gap_mm)
        notices += _joints(production.job, sure)
    told(0.8)
    # a stripe that narrows too far has no tips to be told of besides
    narrow = {(notice.order, notice.line) for notice in notices if notice.code == "narrow-end"}
    notices = [each for each in notices if each.code != "thin-tip" or (each.order, each.line) not in narrow]
    # a warning of any kind stands with its order: they come from several looks at the whole job
    place = {id: number for number, id in enumerate(orders)}
    notices.sort(key=lambda notice: place.get(notice.order, -1))
    findings += [of_notice(notice, job) for notice in placed(notices, job)]
    for number, vinyl in enumerate(production.vinyls if production else (), 1):
        findings += _without_room(production, vinyl)
        told(0.8 + 0.2 * number / len(production.vinyls))
    return Preflight(job, tuple(gathered(findings, job)), production, sure)


def _warnings(production: Production, min_gap_mm: float) -> Iterator[Notice]:
    """What the finished orders are looked at for, once for those that are decorated alike of the same vinyls."""
    job, spacings = production.job, Spacings(production)
    known: dict[tuple, list[Notice]] = {}
    for order in job.orders:
        decoration = production.decorations[order.id]
        vinyls = (job.vinyl_of(order, laid.line.vinyl).name for laid in decoration.lines)
        key = (id(decoration), bool(order.panels), *vinyls)
        if key not in known:
            known[key] = list(_of_order(job, order, decoration, spacings, min_gap_mm))
        yield from (replace(notice, order=order.id) for notice in known[key])


def _of_order(
    job: Job, order: Order, decoration: Decoration, spacings: Spacings, min_gap_mm: float
) -> Iterator[Notice]:
    yield from gap_notices(job, order, decoration, min_gap_mm)
    yield from tuck_notices(job, order, decoration)
    yield from colour_notices(job, order, decoration)
    try:
        spacing = spacings.of(order.id)
    except GeometryError as error:
        yield Notice(code="not-measured", message=f"the distances between its lines can't be measured: {error}")
        return
    yield from spacings.notices_of(order, min_gap_mm)
    yield from limit_notices(spacing.clearances, job.units)
    yield from overlap_notices(decoration, spacing.crossings, job.units)


def _joints(job: Job, sure: tuple[Sureness, ...]) -> Iterator[Notice]:
    notices = {(each.cup, each.pattern): joint_notices(each, job.units) for each in sure}
    for order in job.orders:
        yield from (replace(notice, order=order.id) for notice in notices[order.cup, job.pattern_of(order).name])


def _without_room(production: Production, vinyl: Vinyl) -> Iterator[Finding]:
    """What of a vinyl's pieces fits nothing, and whether there is enough of it for the others."""
    pieces = production.of_vinyl(vinyl.name)
    while pieces:
        try:
            lay_out(replace(production, pieces=tuple(pieces)), "check", lay_to_check, prove, sharing=Sharing(share_to_check))
        except NestError as error:
            if not error.shortfalls:
                yield Finding(code="no-layout", where=vinyl.where, vinyl=vinyl.name, message=_line(error), remedy=NO_LAYOUT)
                return
            yield from (of_shortfall(short, vinyl, pieces) for short in error.shortfalls)
            keys = {key for short in error.shortfalls for key in short.keys if short.code == "no-fit"}
            left = [piece for piece in pieces if piece.id not in keys and not (piece.unit and piece.unit.id in keys)]
            if len(left) == len(pieces):
                return
            pieces = left
        else:
            return


def _line(error: NestError) -> str:
    return str(error).splitlines()[0]
