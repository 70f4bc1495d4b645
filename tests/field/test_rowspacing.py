"""The row spacing that photos show, against the drill's."""

from __future__ import annotations

from typing import Any

import pytest

from tillercount.field.rowspacing import rows_seen
from tillercount.units import MM_PER_IN


def seen(*inches: float | None, kind: str = "square") -> list[dict[str, Any]]:
    rows = [
        {"found": False, "reason": "none"}
        if one is None
        else {"found": True, "spacing_mm": one * MM_PER_IN}
        for one in inches
    ]
    return [{"area": {"kind": kind}, "rows": one} for one in rows] + [{"status": "refused"}]


def test_median_of_the_photos_that_show_rows() -> None:
    found = rows_seen(seen(7.2, None, 7.4, 9.0))
    assert found is not None
    assert (found.spacing_mm, found.photos) == (pytest.approx(7.4 * MM_PER_IN), 3)
    assert "Rows stand 7.4 in (19 cm) apart in 3 photos" in found.line()


def test_one_photo_or_a_typed_spacing_tells_nothing() -> None:
    assert rows_seen(seen(7.2, None)) is None
    assert rows_seen(seen(7.2, 7.4, 7.3, kind="row")) is None


@pytest.mark.parametrize(
    ("inches", "says"),
    [(7.5, ""), (8.2, ""), (6.8, ""), (9.375, "25% too large"), (6.0, "20% too small")],
)
def test_against_the_drill(inches: float, says: str) -> None:
    found = rows_seen(seen(inches, inches))
    assert found is not None
    line = found.line(7.5 * MM_PER_IN)
    assert (says in line) if says else line == ""
