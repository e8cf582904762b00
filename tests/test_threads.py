"""Work in threads: in order, drawn late, the same on any number of processors."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen import threads


@pytest.fixture(params=[1, 2, 7], ids=lambda count: f"{count} threads")
def pool(request, monkeypatch):
    made = ThreadPoolExecutor(request.param, "test", lambda: setattr(threads._in_pool, "is_here", True))
    monkeypatch.setattr(threads, "_pool", lambda: made)
    with made:
        yield made


def drawn_and_done(most: int, count: int, pauses: list[float]) -> list[tuple[int, int]]:
    """What each item knew when it was drawn: how many had been dealt with."""
    dealt = 0

    def draw():
        for number in range(count):
            yield number, dealt

    seen = []
    for (number, known), result in threads.ahead(lambda item: time.sleep(pauses[item[0] % len(pauses)]) or item[0], draw(), most):
        assert result == number
        seen.append((number, known))
        dealt += 1
    return seen


def test_items_are_drawn_when_the_one_so_many_before_is_dealt_with(pool):
    for most in (1, 2, 4):
        seen = drawn_and_done(most, 9, [0.003, 0.0, 0.001])
        assert seen == [(number, max(0, number - most + 1)) for number in range(9)]


@given(st.lists(st.integers(), max_size=30))
def test_results_come_in_the_order_of_the_items(items):
    assert threads.in_threads(lambda item: item * 2, items) == [item * 2 for item in items]


def test_they_run_side_by_side(monkeypatch):
    with ThreadPoolExecutor(2) as made:
        monkeypatch.setattr(threads, "_pool", lambda: made)
        both = threading.Barrier(2, timeout=20)  # passed only by two at once
        assert sorted(threads.in_threads(lambda _: both.wait(), range(2))) == [0, 1]


def test_work_in_a_thread_may_share_work_itself(pool):
    def work(number: int) -> list[int]:
        return threads.in_threads(lambda item: item + number, range(5))

    assert threads.in_threads(work, range(9)) == [[item + number for item in range(5)] for number in range(9)]


def test_within_a_thread_items_are_drawn_as_late(pool):
    outside = drawn_and_done(3, 8, [0.0])
    assert threads.in_threads(lambda _: drawn_and_done(3, 8, [0.0]), range(3)) == [outside] * 3


def test_a_fault_is_told_and_the_rest_is_left():
    begun = []

    def work(number: int) -> None:
        begun.append(number)
        time.sleep(0.01)
        if number == 1:
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        threads.in_threads(work, range(500))
    so_far = len(begun)
    time.sleep(0.1)
    assert so_far < 250 and len(begun) <= so_far + threads.processors()


def test_where_the_caller_stops_the_rest_is_left():
    begun = []
    coming = threads.ahead(lambda number: begun.append(number) or time.sleep(0.01), range(500), 400)
    next(coming)
    coming.close()
    time.sleep(0.1)
    assert len(begun) < 200
