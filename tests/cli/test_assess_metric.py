"""An assessment's screen in metric units, as the report has them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import GOAL, POLE, flat, write_counts
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


def steps_of(screen: str) -> str:
    """What ``--explain`` says of how it came about."""
    return flat(screen.partition("How it came about")[2].partition("Sources")[0])


def test_every_step_has_this_fields_densities_per_square_metre(judged: Callable[..., Any]) -> None:
    us, metric = (
        steps_of(judged(*GOAL, "--explain", *more).stdout)
        for more in ((), ("--units", "metric"))
    )
    assert "per ft²: 1 22 plants and 55 shoots" in us
    assert "per m²: 1 237 plants and 592 shoots; 2 291 plants and 764 shoots" in metric
    for what in ("Plants", "Shoots"):
        assert f"{what} per m²: " in metric
        assert f"{what} per ft²" not in metric
    # the same spots, means, ends of the stop rule and reckoning, in the other unit
    for pattern in (
        r"(\d+) plants and (\d+) shoots",
        r"per (?:ft|m)²: (\d+) \((\d+)-(\d+) at 90%\)",
        r"after every spot \((\d+\.\d)-(\d+\.\d)\)",
        r"(\d+) x 0\.6 to \1 x 0\.75 = (\d+)-(\d+) by Georgia",
    ):
        here, there = re.findall(pattern, us), re.findall(pattern, metric)
        assert len(here) == len(there) > 0, pattern
        for one, other in zip(here, there, strict=True):
            back = [per_ft2(float(end)) for end in other]
            assert back == pytest.approx([float(end) for end in one], abs=0.6), pattern
    # the yield goes on from these heads, so they stay, with their own figure behind
    heads = re.search(r"(\d+)-(\d+) heads/ft² \((\d+)-(\d+) per m²\)", metric)
    assert heads is not None
    ends = re.findall(r"= (\d+)(?:-(\d+))? by [GfU]", metric)  # of the three in print
    assert int(heads[3]) == min(int(low) for low, _ in ends)
    assert int(heads[4]) == max(int(high or low) for low, high in ends)


def test_photo_and_hand_too(run: Run, tmp_path: Path) -> None:
    one = {
        "status": "counted", "area": {"ft2": 1.0}, "shoots": {"count": 66, "low": 55, "high": 80},
        "plants": {"count": 22, "low": 18, "high": 26},
    }  # fmt: skip
    spots = [{**one, "photo": f"spot_{n:02}.jpg"} for n in range(1, 7)]
    photos, hand = tmp_path / "c.json", tmp_path / "h.csv"
    photos.write_text(json.dumps({"schema": "tillercount.counts/1", "spots": spots}))
    rows = "".join(f"{n},{plants},66,1 ft2\n" for n, plants in enumerate((23, 20, 25), start=1))
    hand.write_text("spot,plants,shoots,area\n" + rows)
    us, metric = (
        steps_of(run("assess", photos, hand, *GOAL, "--explain", *more).stdout)
        for more in ((), ("--units", "metric"))
    )
    pattern = r"Plants both ways: by hand alone (\d+) \((\d+)-(\d+)\); by photo alone (\d+)"
    here, there = re.search(pattern, us), re.search(pattern, metric)
    assert here is not None
    assert there is not None
    for first, second in zip(here.groups(), there.groups(), strict=True):
        assert per_ft2(float(second)) == pytest.approx(float(first), abs=0.6)


def test_the_assessment_that_is_kept_stays_as_it_is(run: Run, tmp_path: Path) -> None:
    kept = []
    for units in ("us", "metric"):
        file = tmp_path / f"{units}.json"
        assert run("assess", POLE, *GOAL, "--units", units, "--json", file).exit_code == 0
        kept.append(file.read_text("utf-8"))
    assert kept[0] == kept[1]


def test_a_border_says_its_unit(run: Run, tmp_path: Path) -> None:
    close = write_counts(tmp_path / "c.csv", [27, 22, 31, 26, 29, 25])
    us, metric = (
        steps_of(run("assess", close, *GOAL, "--explain", *more).stdout)
        for more in ((), ("--units", "metric"))
    )
    assert "to bring the interval clear of 27 per ft²: " in us
    assert "to bring the interval clear of 27 per ft² (290.6 per m²): " in metric


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
