"""Figures on screens: three significant digits at most, shoots over 20 whole."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tillercount.rounding import figure


@pytest.mark.parametrize(
    ("value", "plants", "shoots", "whole"),
    [
        (0.0, "0.0", "0.0", "0"),
        (3.24, "3.2", "3.2", "3"),
        (19.94, "19.9", "19.9", "20"),
        (19.96, "20.0", "20", "20"),
        (24.16, "24.2", "24", "24"),
        (99.94, "99.9", "100", "100"),
        (99.96, "100", "100", "100"),
        (103.8, "104", "104", "104"),
        (1234.4, "1230", "1230", "1230"),
    ],
)
def test_known(value: float, plants: str, shoots: str, whole: str) -> None:
    assert figure(value) == plants
    assert figure(value, "shoots") == shoots
    assert figure(value, whole=True) == whole


def test_not_a_number() -> None:
    assert figure(float("nan")) == "unknown"


@given(st.floats(0, 1e7), st.sampled_from(["plants", "shoots"]), st.booleans())
def test_never_finer_and_never_far_off(value: float, what: str, whole: bool) -> None:
    text = figure(value, what, whole=whole)
    assert len(text.replace(".", "").strip("0")) <= 3
    assert abs(float(text) - value) <= max(0.5, 0.005 * value) + 1e-9
