"""Number text, read back by float() and Decimal."""

import math
from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stripegen.errors import GeometryError, StripegenError
from stripegen.writers.numbers import number_text, rounded

finite = st.floats(-1e9, 1e9)


@given(finite, st.integers(0, 8))
def test_text_is_the_nearest_number_of_so_many_decimals(value, decimals):
    text = number_text(value, decimals)
    truth = Decimal(value).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN)
    assert Decimal(text) == truth
    assert set(text) <= set("-.0123456789")
    assert text != "-0" and not text.endswith(".")
    assert "." not in text or not text.endswith("0")
    assert math.copysign(1, rounded(value, decimals)) == (-1 if truth < 0 else 1)
    assert rounded(value, decimals) == float(text)


def test_examples():
    texts = {0.1 + 0.2: "0.3", -0.00004: "0", 100: "100", 0.00005001: "0.0001", 1e7: "10000000"}
    assert {value: number_text(value) for value in texts} == texts
    assert number_text(1234.5678, 0) == "1235"
    assert number_text(np.float64(2.5)) == "2.5"
    assert type(rounded(np.float64(2.5))) is float


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_refused(value):
    for write in (number_text, rounded):
        with pytest.raises(GeometryError, match="finite") as caught:
            write(value)
        assert isinstance(caught.value, StripegenError) and isinstance(caught.value, ValueError)
