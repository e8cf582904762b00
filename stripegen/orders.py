"""Some of a job's orders alone: by id, or by the days on which they are due."""

from __future__ import annotations

import datetime
import re
from collections.abc import Collection
from dataclasses import dataclass, replace

from stripegen.errors import Fault, JobError, Where
from stripegen.nearmiss import did_you_mean
from stripegen.spec import Job
from stripegen.tables import show

_DAY = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
_WEEK = re.compile(r"([0-9]{4})-W([0-9]{2})")
_FORMS = "must be a day such as 2027-06-14, a week such as 2027-W24, or two of them such as 2027-06-14..2027-06-18"

Days = tuple[datetime.date, datetime.date]


def job_of_orders(job: Job, ids: Collection[str]) -> Job:
    """The job with those orders alone, in its own order, and of cups and patterns those that they name.

    Raises JobError with a line for each id that no order has.
    """
    known = [order.id for order in job.orders]
    unknown = [name for name in dict.fromkeys(ids) if name not in known]
    if unknown:
        where = Where(job.file, "")
        right = "no order of the job has this id"
        raise JobError(*(Fault(where, "--only", show(name), right + did_you_mean(name, known)) for name in unknown))
    wanted = set(ids)
    orders = tuple(order for order in job.orders if order.id in wanted)
    cups, patterns = ({getattr(order, kind) for order in orders} for kind in ("cup", "pattern"))
    return replace(
        job,
        orders=orders,
        cups={name: cup for name, cup in job.cups.items() if name in cups},
        patterns={name: pattern for name, pattern in job.patterns.items() if name in patterns},
    )


def orders_due(job: Job, first: datetime.date, last: datetime.date) -> list[str]:
    """The ids of the orders that are due from the first to the last of these days; those without a due date are not."""
    return [order.id for order in job.orders if order.due is not None and first <= order.due <= last]


def parse_due(text: str) -> Days:
    """The first and last day that are meant. Raises ValueError with what would be right."""
    first, mark, last = text.partition("..")
    days = _days(first)[0], _days(last if mark else first)[1]
    if days[0] > days[1]:
        raise ValueError("the first day must not be after the last")
    return days


def _days(text: str) -> Days:
    day, week = _DAY.fullmatch(text), _WEEK.fullmatch(text)
    try:
        if day:
            only = datetime.date(*map(int, day.groups()))
            return only, only
        if week:
            monday = datetime.date.fromisocalendar(*map(int, week.groups()), 1)
            return monday, monday + datetime.timedelta(days=6)
    except (ValueError, OverflowError):
        raise ValueError(f"there is no such {'day' if day else 'week'}") from None
    raise ValueError(_FORMS)


@dataclass(frozen=True)
class Chosen:
    """Which of a job's orders are taken: those that are named, those that are due then; of both, what is in both."""

    only: tuple[str, ...] = ()
    due: Days | None = None

    @property
    def selection(self) -> dict:
        """As a manifest holds it, however it was written."""
        return {"only": sorted(set(self.only)), "due": self.due and "..".join(day.isoformat() for day in self.due)}

    def of(self, job: Job) -> Job:
        """The job with those orders alone. Raises JobError where an id is no order's, or none is left."""
        if self.only:
            job = job_of_orders(job, self.only)
        if self.due is None:
            return job
        ids = orders_due(job, *self.due)
        if not ids:
            dues = sorted(order.due for order in job.orders if order.due)
            had = f"they are due from {dues[0]} to {dues[-1]}" if dues else "none has a due date"
            which = "of those orders" if self.only else "of its orders"
            read = "..".join(day.isoformat() for day in dict.fromkeys(self.due))
            raise JobError(Fault(Where(job.file, ""), "--due", read, f"none {which} is due then; {had}"))
        return job_of_orders(job, ids)
