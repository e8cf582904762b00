"""The options that take some of a job's orders alone."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

import click

from stripegen.cli_completing import orders


def order_options(command: Callable) -> Callable:
    """--only and --due; the command gets what is `chosen`, None where neither is given."""

    @click.option(
        "--only",
        metavar="ORDER",
        multiple=True,
        shell_complete=orders,
        help="This order of the JOB alone; may be given several times.",
    )
    @click.option(
        "--due",
        metavar="WHEN",
        help="Orders of the JOB due then: a day (2027-06-14), a week (2027-W24), or FIRST..LAST.",
    )
    @wraps(command)
    def with_orders(only: tuple[str, ...], due: str | None, **rest):
        if not only and due is None:
            return command(chosen=None, **rest)
        from stripegen.orders import Chosen, parse_due
        from stripegen.tables import show

        try:
            days = None if due is None else parse_due(due)
        except ValueError as error:
            raise click.UsageError(f"--due: read {show(due)}; {error}") from None
        return command(chosen=Chosen(tuple(dict.fromkeys(only)), days), **rest)

    return with_orders
