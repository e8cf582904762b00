"""Every table and key of a job file: what its value may be, what holds where it is left out, what it means, an example."""

from __future__ import annotations

from stripegen.jobkeys.cups import CUP
from stripegen.jobkeys.forms import Either, Form, Inline, Key, Named, Rows, TableKeys
from stripegen.jobkeys.lines import LINE, PATTERN
from stripegen.jobkeys.orders import JOB, ORDER, ORDERS
from stripegen.jobkeys.vinyls import CUTTER, OFFCUT, VINYL

TABLES: tuple[TableKeys, ...] = (JOB, CUP, VINYL, PATTERN, LINE, ORDER, ORDERS, OFFCUT, CUTTER)


def inner(form: Form) -> tuple[Key, ...]:
    """The keys of the table that a value may be or may hold."""
    match form:
        case Inline(keys=keys):
            return keys
        case Rows(row=row):
            return row.keys
        case Named(form=held):
            return inner(held)
        case Either(forms=forms):
            return tuple(key for each in forms for key in inner(each))
    return ()
