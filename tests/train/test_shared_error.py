"""The part of the error that photos of one field share."""

from __future__ import annotations

import math

import pytest

from tillercount.train.recalibrate import SHARED, shared_error


def test_half_of_the_squared_relative_error_is_shared() -> None:
    # twice as many and half as many: log 2 each, half its square shared
    assert shared_error([19.0, 14.0], [9.0, 29.0]) == pytest.approx(math.log(2) / math.sqrt(2))
    assert SHARED == 0.5


def test_thick_stands_weigh_no_more_than_thin_ones() -> None:
    thin = shared_error([12.0, 90.0], [9.0, 90.0])
    assert shared_error([9.0, 129.0], [9.0, 99.0]) == pytest.approx(thin, rel=1e-9)


def test_no_error_none_shared() -> None:
    assert shared_error([5.0, 7.0], [5.0, 7.0]) == 0.0
