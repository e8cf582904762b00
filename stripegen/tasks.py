"""A task for each vinyl: its blanks laid out and proved, here or by an executor that is handed in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

from stripegen.errors import NestError
from stripegen.layout import Blank, Layout, Supply

Lay = Callable[..., Layout]  # of blanks and a supply; of progress too, where that is asked for
Prove = Callable[[Layout, Sequence[Blank], Supply], None]


@dataclass(frozen=True)
class Sharing:
    """How a vinyl whose strips may share cuts is laid out; `by_order`: no two orders' strips share one.

    `lay` takes several ways to have the same pieces in blanks, the first of which shares none, and a supply; of progress
    too, where that is asked for. It gives the number of a way and its layout. To cross to another process it must be
    picklable.
    """

    lay: Callable[..., tuple[int, Layout]]
    by_order: bool = False


class Task(NamedTuple):
    """What is to be laid out, and on what; `others` are the same pieces in other blanks, some of which share cuts."""

    blanks: tuple[Blank, ...]
    supply: Supply
    others: tuple[tuple[Blank, ...], ...] = ()


class Laid(NamedTuple):
    """A vinyl's layout, and of what: its blanks, or the others of this number from 1 on."""

    layout: Layout
    number: int = 0


def lay_one(lay: Lay, prove: Prove, task: Task, sharing: Sharing | None = None, **told) -> Laid:
    """One vinyl laid out and proved: all that an executor is asked to run."""
    ways = (task.blanks, *task.others)
    if sharing and task.others:
        number, layout = sharing.lay(ways, task.supply, **told)
    else:
        number, layout = 0, lay(task.blanks, task.supply, **told)
    prove(layout, ways[number], task.supply)
    return Laid(layout, number)


def outcomes(
    tasks: Sequence[Task],
    lay: Lay,
    prove: Prove,
    executor: Executor | None,
    progress: Callable[[float], None] | None,
    sharing: Sharing | None = None,
) -> list[Laid | NestError]:
    """Each task's layout, or why there is none, in the tasks' order; arguments as for `sheets.lay_out`."""
    total, done = sum(len(task.blanks) for task in tasks), 0
    found: dict[int, Laid | NestError] = {}
    if executor is None:
        for number, task in enumerate(tasks):
            told = {}
            if progress:
                told["progress"] = partial(_tell, progress, done / total, len(task.blanks) / total)
            found[number] = _outcome(partial(lay_one, lay, prove, task, sharing, **told))
            done += len(task.blanks)
        return list(found.values())
    futures: dict[Future, int] = {}
    try:
        for number in sorted(range(len(tasks)), key=lambda number: -len(tasks[number].blanks)):  # the longest first
            futures[executor.submit(lay_one, lay, prove, tasks[number], sharing)] = number
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


def _outcome(run: Callable[[], Laid]) -> Laid | NestError:
    try:
        return run()
    except NestError as error:
        return error


def _tell(progress: Callable[[float], None], before: float, part: float, share: float) -> None:
    """Tell a task's share as one of the whole."""
    progress(before + part * share)
