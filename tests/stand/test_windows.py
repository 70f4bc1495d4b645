"""Windows of herbicides by stage: they open late, shut early, and the label decides."""

from __future__ import annotations

import pytest

from tillercount.stand import parse_stage
from tillercount.stand.windows import WINDOWS, weed_windows, windows_in_short


@pytest.mark.parametrize(
    ("stage", "dicamba", "two_four_d", "sulfonylureas"),
    [
        ("Feekes 2", "open", "not yet", "not too late"),
        ("GS22", "open", "not yet", "not too late"),  # Feekes 3: still tillering
        ("Feekes 2-5", "open", "depends", "not too late"),
        ("Feekes 3-4", "open", "depends", "not too late"),
        ("Feekes 4", "open", "open", "not too late"),
        ("GS30", "open", "open", "not too late"),
        ("Feekes 5-6", "too late", "too late", "not too late"),
        ("Feekes 2-6", "too late", "too late", "not too late"),
        ("Feekes 7", "too late", "too late", "not too late"),
        ("Feekes 8", "too late", "too late", "too late"),
    ],
)
def test_windows(stage: str, dicamba: str, two_four_d: str, sulfonylureas: str) -> None:
    """Kansas State and Penn State; the earlier side opens a window, the later one shuts it."""
    lines = [advice.text for advice in weed_windows(parse_stage(stage))]
    assert len(lines) == len(WINDOWS)
    assert all("label decides" in line for line in lines)
    for what, state in (
        ("dicamba", dicamba), ("2,4-D", two_four_d), ("several sulfonylureas", sulfonylureas)
    ):  # fmt: skip
        line = next(line for line in lines if line.startswith(what))
        assert line.startswith(f"{what}: {state}")


@pytest.mark.parametrize("stage", ["GS22", "Feekes 2-5", "Feekes 3", "GS20"])
def test_two_four_d_is_not_open_before_full_tillering(stage: str) -> None:
    short = windows_in_short(parse_stage(stage)).text
    opened = short.partition("open: ")[2].partition(";")[0]
    assert "dicamba" in opened
    assert "2,4-D" not in opened


def test_a_window_without_a_start_is_never_called_open() -> None:
    """Penn State prints for these only until when."""
    short = windows_in_short(parse_stage("Feekes 5")).text
    assert "open: dicamba, 2,4-D;" in short
    when = "not too late, the label says from when"
    assert f"{when}: other growth-regulator types, several sulfonylureas;" in short
    assert "other herbicides" not in short


def test_no_other_growth_regulator_outlives_dicamba() -> None:
    late = windows_in_short(parse_stage("Feekes 6")).text
    assert "too late: dicamba, 2,4-D, other growth-regulator types;" in late


def test_windows_are_of_herbicides_alone() -> None:
    """Trinexapac-ethyl shortens straw and kills no weed."""
    assert not any("trinexapac" in one.what for one in WINDOWS)


def test_windows_on_one_line_hold_all_of_them() -> None:
    short = windows_in_short(parse_stage("Feekes 6"))
    assert all(one.what in short.text for one in WINDOWS)
    assert "the label decides" in short.text
    assert "Penn State" in short.source
    assert "--stage" in windows_in_short(None).text
