"""Work shared among the processors by threads: what is compiled lets go of Python's lock.

What comes of it must not hang on how many there are, so results are always taken in the order in which work was begun.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache
from itertools import islice
from typing import TypeVar

from stripegen.pool import processors

AHEAD = 4

Item = TypeVar("Item")
Result = TypeVar("Result")


_in_pool = threading.local()


@cache
def _pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(processors(), "stripegen", lambda: setattr(_in_pool, "is_here", True))


def _begin(work: Callable[[Item], Result], item: Item) -> Future[Result]:
    if not hasattr(_in_pool, "is_here"):
        return _pool().submit(work, item)
    done: Future[Result] = Future()  # one of the pool's threads must not wait for the others
    done.set_result(work(item))
    return done


def ahead(
    work: Callable[[Item], Result], items: Iterable[Item], most: int = AHEAD
) -> Iterator[tuple[Item, Result]]:
    """Items and what comes of them, in their order; the next `most` are worked on meanwhile.

    An item is asked for when the one `most` before it has been dealt with, however many processors there are, so it may
    hang on what came of that. Where the caller stops, or work fails, what has not begun is not done.
    """
    coming, begun = iter(items), deque[tuple[Item, Future[Result]]]()
    try:
        while True:
            begun.extend((item, _begin(work, item)) for item in islice(coming, most - len(begun)))
            if not begun:
                return
            item, future = begun.popleft()
            yield item, future.result()
    finally:
        for _, future in begun:
            future.cancel()


def in_threads(work: Callable[[Item], Result], items: Iterable[Item]) -> list[Result]:
    """What comes of each item, in their order."""
    waiting = list(items)
    return [result for _, result in ahead(work, waiting, max(1, len(waiting)))]
