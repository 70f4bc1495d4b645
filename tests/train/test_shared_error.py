"""The part of the error that photos of one field share."""

from __future__ import annotations

import pytest

from tillercount.train.recalibrate import SHARED, shared_error


def test_half_of_the_squared_relative_error_is_shared() -> None:
    # errors of 3 and 4 on a mean of 20: rms error 3.5355, half its variance 2.5 squared
    assert shared_error([13.0, 34.0], [10.0, 30.0]) == pytest.approx(2.5 / 20)
    assert SHARED == 0.5


def test_no_error_none_shared() -> None:
    assert shared_error([5.0, 7.0], [5.0, 7.0]) == 0.0
