"""What is left to cut of a job after earlier nests of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from stripegen.errors import Fault, JobError, Notice, Where
from stripegen.orders import job_of_orders
from stripegen.production import Piece, Production, placed
from stripegen.readback import Earlier
from stripegen.spec import Vinyl


def left_to_cut(production: Production, earlier: Sequence[Earlier]) -> Production:
    """The pieces that no earlier result holds, with the orders that they are of.

    A piece is held by its id, of the same vinyl and shape; one that has changed since is cut again, and told. Of a unit
    all is cut again if any of it is. Raises JobError where nothing is left.
    """
    held: dict[str, set[tuple]] = {}
    for result in earlier:
        for piece in result.pieces:
            held.setdefault(piece.id, set()).add(_shape(piece))
    missing = [piece for piece in production.pieces if _shape(piece) not in held.get(piece.id, ())]
    changed = [piece for piece in missing if piece.id in held]
    units = {piece.unit.id for piece in missing if piece.unit}
    left = [
        piece
        for piece in production.pieces
        if (piece.unit.id in units if piece.unit else _shape(piece) not in held.get(piece.id, ()))
    ]
    files = " and ".join(result.file for result in earlier)
    if not left:
        where = Where(production.job.file, "")
        raise JobError(Fault(where, "--after", "", f"nothing is left to cut: {files} holds every piece"))
    job = job_of_orders(production.job, {piece.order for piece in left})
    orders = {order.id for order in job.orders}
    kept = [notice for notice in production.notices if notice.order is None or notice.order in orders]
    kept += [
        Notice(
            code="changed",
            order=order,
            line=line,
            message=f"{count} piece{'' if count == 1 else 's'} of another shape or vinyl than in {files}: cut again",
        )
        for (order, line), count in Counter((piece.order, piece.line) for piece in changed).items()
    ]
    decorations = {name: each for name, each in production.decorations.items() if name in orders}
    return Production(job, tuple(left), decorations, (*placed(kept, job), *_in_hand(production, left, files)))


def _shape(piece: Piece) -> tuple:
    return piece.vinyl, piece.flat.cut_points


def _in_hand(production: Production, left: Sequence[Piece], files: str) -> list[Notice]:
    """A word on vinyls of which the job itself says how much is there: the earlier results may have used some of it."""
    job = production.job
    used = dict.fromkeys(piece.vinyl for piece in left)
    if job.stock:  # what unbooked results take of it is counted off already
        return []
    limited = [name for name in used if _is_limited(job.vinyls[name])]
    limited += [name for name in used if name not in limited and any(each.vinyl == name for each in job.offcuts)]
    return [
        Notice(
            code="in-hand",
            message=f"what the job says is in hand of {name} is taken to be there after {files} is cut: "
            "paste the offcuts.toml beside it, or keep a stock file, from which it is counted off",
        )
        for name in limited
    ]


def _is_limited(vinyl: Vinyl) -> bool:
    return vinyl.quantity is not None or vinyl.length_left_mm is not None
