"""Photos of two visits in one counts file are no stand, and the first line says so."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.store.helpers import counts, entry
from tillercount.field import collect
from tillercount.stand import assess


def judged(*days: str | None, placed: bool = False) -> Any:
    file = counts(
        [
            entry(n, plants={"count": 9.0, "low": 8.0, "high": 10.0},
                  taken_at=None if day is None else f"{day}T10:00:00")
            for n, day in enumerate(days)
        ]
    )
    found = collect(file)
    spots = tuple(replace(one, placed=placed) for one in found.spots)
    return assess(replace(found, spots=spots), "common-practice", stage="Feekes 3")


FIRST, LATER = ["2026-03-04"] * 4, ["2026-03-20"] * 4


def test_two_visits_are_held_and_said_first() -> None:
    found = judged(*FIRST, *LATER)
    assert not found.verdict.clear
    assert found.verdict.headline.startswith(
        "Not settled: by their own clocks the photos are of two visits (2026-03-04 and 2026-03-20, "
        "16 days apart), which aren't one stand"
    )
    assert "judge one visit at a time" in found.verdict.actions[0].text
    assert len(found.verdict.actions) == 1


def test_more_than_two() -> None:
    said = judged(*FIRST, *LATER, "2026-04-09", "2026-04-09").verdict.headline
    assert "are of 3 visits (2026-03-04 to 2026-04-09, at least 16 days apart)" in said


def test_days_that_chain_are_held_too() -> None:
    said = judged(*FIRST, *["2026-03-07"] * 4, *["2026-03-10"] * 4).verdict.headline
    assert "the photos were taken over 7 days (2026-03-04 to 2026-03-10), which aren't" in said


@pytest.mark.parametrize(
    "days",
    [
        FIRST * 2,
        [*FIRST, *["2026-03-07"] * 4],  # a walk on following days
        [*FIRST, *[None] * 4],
        [*FIRST, *["2000-01-01"] * 4],  # a clock that was never set
        [*FIRST, *["2099-03-20"] * 4],
    ],
)
def test_one_visit_is_not_held(days: list[str | None]) -> None:
    assert judged(*days).verdict.clear


def test_what_a_season_has_in_one_visit_was_looked_at_there() -> None:
    assert judged(*FIRST, *LATER, placed=True).verdict.clear
