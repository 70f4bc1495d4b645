"""An assessment's screen in metric units, as the report has them."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import GOAL, flat
from tillercount.units import per_ft2

Run = Callable[..., Any]


def test_metric_on_the_screen(judged: Callable[..., Any]) -> None:
    us, metric = (flat(judged(*GOAL, *more).stdout) for more in ((), ("--units", "metric")))
    assert us == flat(judged(*GOAL, "--units", "us").stdout)
    for word in ("per m²", "kg N/ha", "t/ha"):
        assert word not in us
    assert "22-36 lb N/ac (25-40 kg N/ha)" in metric
    assert re.search(r"bu/ac \([\d.]+ to [\d.]+ t/ha\)", metric)
    found = re.compile(r"plants (\d+) per (ft|m)² \((\d+)–(\d+), ")
    here, there = found.search(us), found.search(metric)
    assert here is not None
    assert there is not None
    assert there[2] == "m"
    for end in (1, 3, 4):
        assert per_ft2(float(there[end])) == pytest.approx(float(here[end]), abs=0.6)


def test_every_density_below_it_goes_along(judged: Callable[..., Any]) -> None:
    us, metric = (judged(*GOAL, "--explain", *more).stdout for more in ((), ("--units", "metric")))
    assert "below 18 per ft²" in us
    assert "below 194 per m²" in metric
    assert "In metric units the whole" in us
    assert "In metric units the whole" not in metric  # it stands behind each rate


def test_changes_between_visits_too(run: Run, tmp_path: Path) -> None:
    season = tmp_path / "s.sqlite"
    run("season", "new", season)
    where = ("--farm", "Elm Hill", "--field", "Pole")
    for visit, plants in (("first", 20), ("second", 24)):
        sheet = tmp_path / f"{visit}.csv"
        rows = "".join(f"s{n},{plants + n},60,1 ft2\n" for n in range(4))
        sheet.write_text("spot,plants,shoots,area\n" + rows)
        run("season", "add", season, sheet, *where, "--visit", visit)
    us, metric = (
        flat(run("season", "assess", season, *GOAL, *more).stdout)
        for more in ((), ("--units", "metric"))
    )
    assert "plants +4.0 per ft²" in us
    assert "plants +43 per m²" in metric
    assert "ft²" not in metric.partition("since first")[2]


def test_other_units(judged: Callable[..., Any]) -> None:
    wrong = judged(*GOAL, "--units", "si")
    assert wrong.exit_code == 2
    assert "units 'si' aren't known; use us or metric" in wrong.stderr
