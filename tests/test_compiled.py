"""Compiled functions: the same results, kept or not."""

from __future__ import annotations

import numba
import numpy as np
import pytest

from stripegen import compiled as module
from stripegen.compiled import compiled


def total(values):
    result = 0.0
    for value in values:
        result += value
    return result


@pytest.mark.parametrize("how", [{}, {"quick": True}, {"quick": True, "any_order": True}])
def test_what_is_compiled_counts_as_before(how):
    values = np.arange(1000) / 7
    assert compiled(**how)(total)(values) == pytest.approx(total(values), rel=1e-12)


def test_where_nothing_can_be_kept_it_is_compiled_all_the_same(monkeypatch):
    def nowhere(cache=False, **how):
        if cache:
            raise RuntimeError("no place for a cache")
        return numba.njit(**how)

    monkeypatch.setattr(module, "njit", nowhere)
    assert compiled()(total)(np.ones(3)) == 3.0
