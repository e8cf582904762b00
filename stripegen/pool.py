"""Processes for the vinyls of a job: whether they repay their start, and how many."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager

# So many pieces take about as long to nest as processes to start (0.6 s, imports included, measured on 2 cores).
REPAID_PIECES = {"quick": 50, "normal": 20, "thorough": 6}


def processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def worth_processes(counts: Sequence[int], effort: str, most: int) -> int:
    """How many processes to nest vinyls of so many pieces each with, at most `most`; 1: not worth a start.

    One vinyl is never nested by two, so what is saved is at most all but the largest.
    """
    number = min(most, len(counts))
    if number < 2:
        return 1
    saved = min(sum(counts) - max(counts), sum(counts) * (number - 1) / number)
    return number if saved >= REPAID_PIECES[effort] else 1


@contextmanager
def executor_for(counts: Sequence[int], effort: str, most: int) -> Iterator[Executor | None]:
    """A pool of processes where it is worth one (see `worth_processes`), else None.

    They begin afresh, not as copies of this process, which may have threads that hold locks.
    """
    number = worth_processes(counts, effort, most)
    if number == 1:
        yield None
        return
    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(method)
    with ProcessPoolExecutor(number, mp_context=context, initializer=_begin) as executor:
        try:
            _start_deaf(executor)
            yield executor
        except BaseException:
            for process in multiprocessing.active_children():  # what they are at is of no use any more
                process.terminate()
            raise


def _start_deaf(executor: Executor) -> None:
    """Start a process, and those that start it, deaf to Ctrl-C, which would print a traceback until they are ready for it."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        return
    heard = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        executor.submit(int)
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, heard)


def _begin() -> None:
    """End without a word on Ctrl-C, for the process that waits for us tells the user; and end if that one is killed."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    multiprocessing.parent_process().join()
    os._exit(1)
