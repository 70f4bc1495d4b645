"""What the screen says of the rows that photos show."""

from __future__ import annotations

from typing import Any

import pytest
from typer.testing import CliRunner

from tillercount.cli.app import app
from tillercount.cli.counting import CountRun
from tillercount.cli.show import show_counts


def run(spacing_mm: float) -> CountRun:
    """Two photos with such rows."""
    both = {"count": 20.0, "low": 15.0, "high": 28.0}
    record: dict[str, Any] = {
        "status": "counted", "area": {"kind": "square", "ft2": 1.0}, "plants": both,
        "shoots": both, "rows": {"found": True, "spacing_mm": spacing_mm},
    }  # fmt: skip
    return CountRun(tuple({"photo": f"{n}.jpg", **record} for n in (1, 2)), {})


@pytest.mark.parametrize(
    ("drill_mm", "says"),
    [(None, "Rows stand 9.4 in (24 cm) apart in 2 photos. If"), (190.5, "25% too large")],
)
def test_rows_stand_under_the_table(
    capsys: pytest.CaptureFixture[str], drill_mm: float | None, says: str
) -> None:
    show_counts(run(238.1), row_spacing_mm=drill_mm)
    assert says in capsys.readouterr().out


def test_nothing_where_rows_are_as_they_were_sown(capsys: pytest.CaptureFixture[str]) -> None:
    show_counts(run(187.0), row_spacing_mm=190.5)
    assert "Rows" not in capsys.readouterr().out


def test_a_spacing_needs_its_unit() -> None:
    given = ["count", "x.jpg", "--area", "square:12in", "--row-spacing", "7.5"]
    result = CliRunner().invoke(app, given)
    assert result.exit_code == 2
    assert "--row-spacing '7.5' has no unit" in " ".join(result.output.split())
