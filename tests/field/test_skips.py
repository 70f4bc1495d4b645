"""Row gaps of a field's photos added up."""

from __future__ import annotations

from typing import Any

import pytest

from tillercount.field import SpotDensity, collect, estimate_field
from tillercount.field.record import sampling_record
from tillercount.field.skips import row_skips


def counts(*rows: dict[str, Any] | None) -> dict[str, Any]:
    return {
        "schema": "tillercount.counts/1",
        "spots": [
            {
                "photo": f"spot_{i}.jpg",
                "area": {"ft2": 1.0},
                "plants": {"count": 20.0 + i, "low": 16, "high": 30},
                "shoots": None,
                **({} if row is None else {"rows": row}),
            }
            for i, row in enumerate(rows)
        ],
    }


def seen(length: float, gaps: float, over: float = 152.4) -> dict[str, Any]:
    return {"found": True, "row_length_mm": length, "gap_length_mm": gaps, "gap_over_mm": over}


def test_lengths_add_up() -> None:
    nothing = {"found": False, "reason": "7 plants are seen, too few"}
    found = estimate_field(collect(counts(seen(600, 0), seen(300, 180), nothing, None)).spots)
    assert found.row_skips is not None
    assert found.row_skips.share == pytest.approx(0.2)
    record = sampling_record(found)["row_gaps"]
    assert record["photos"] == 2
    assert record["photos_with_gaps"] == 1
    assert record["row_length_ft"] == pytest.approx(900 / 304.8)
    assert record["gap_over_in"] == pytest.approx(6.0)


def test_without_rows_nothing_is_said() -> None:
    found = estimate_field(collect(counts(None, None)).spots)
    assert found.row_skips is None
    assert sampling_record(found)["row_gaps"] is None


def test_two_limits_are_not_mixed() -> None:
    assert row_skips(collect(counts(seen(600, 0), seen(600, 300, 100.0))).spots) is None


@pytest.mark.parametrize(
    "row", [{"found": True}, seen(0, 0), seen(100, 200), seen(-100, 0), "rows"]
)
def test_a_record_that_cannot_be_is_left_out(row: Any) -> None:
    spots = collect(counts(row)).spots
    assert isinstance(spots[0], SpotDensity)
    assert spots[0].rows is None
