"""A task for each vinyl: its blanks laid out and proved, here or by an executor that is handed in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from functools import partial
from typing import NamedTuple

from stripegen.errors import NestError
from stripegen.layout import Blank, Layout, Supply

Lay = Callable[..., Layout]  # of blanks and a supply; of progress too, where that is asked for
Prove = Callable[[Layout, Sequence[Blank], Supply], None]


class Task(NamedTuple):
    """What is to be laid out, and on what."""

    blanks: tuple[Blank, ...]
    supply: Supply


def lay_one(lay: Lay, prove: Prove, task: Task) -> Layout:
    """One vinyl laid out and proved: all that an executor is asked to run."""
    layout = lay(*task)
    prove(layout, *task)
    return layout


def outcomes(
    tasks: Sequence[Task],
    lay: Lay,
    prove: Prove,
    executor: Executor | None,
    progress: Callable[[float], None] | None,
) -> list[Layout | NestError]:
    """Each task's layout, or why there is none, in the tasks' order; arguments as for `sheets.lay_out`."""
    total, done = sum(len(task.blanks) for task in tasks), 0
    found: dict[int, Layout | NestError] = {}
    if executor is None:
        for number, task in enumerate(tasks):
            own = lay
            if progress:
                own = partial(lay, progress=partial(_tell, progress, done / total, len(task.blanks) / total))
            found[number] = _outcome(partial(lay_one, own, prove, task))
            done += len(task.blanks)
        return list(found.values())
    futures: dict[Future, int] = {}
    try:
        for number in sorted(range(len(tasks)), key=lambda number: -len(tasks[number].blanks)):  # the longest first
            futures[executor.submit(lay_one, lay, prove, tasks[number])] = number
        for future in as_completed(futures):
            number = futures[future]
            found[number] = _outcome(future.result)
            done += len(tasks[number].blanks)
            if progress:
                progress(done / total)
    except BrokenExecutor:
        raise NestError("a process that nested ended before it was done: is there too little memory?") from None
    finally:
        for future in futures:
            future.cancel()
    return [found[number] for number in range(len(tasks))]


def _outcome(run: Callable[[], Layout]) -> Layout | NestError:
    try:
        return run()
    except NestError as error:
        return error


def _tell(progress: Callable[[float], None], before: float, part: float, share: float) -> None:
    """Tell a task's share as one of the whole."""
    progress(before + part * share)
