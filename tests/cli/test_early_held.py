"""Where shoots speak against early nitrogen: why stands beside the verdict, and what to do."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import GOAL, flat
from tests.stand.fields import field
from tillercount.report.ruling import verdict_record
from tillercount.stand import assess, parse_stage

Run = Callable[..., Any]
WHY = (
    "Early nitrogen is held back because 124 shoots per ft² were counted: more than 100 per ft² is "
    "called excessive (University of Kentucky 2013)"
)
ENOUGH = "would push tillers, but enough shoots are there"


@pytest.fixture
def dense(tmp_path: Path) -> Path:
    """30 plants and 124 shoots per ft² on average: on target, or else thin."""
    rows = ((24, 120), (31, 130), (36, 128), (30, 121), (27, 122))
    path = tmp_path / "three.csv"
    path.write_text(
        "spot,observer,plants,shoots,area\n"
        + "".join(f"{n},T,{p},{s},square:12in\n" for n, (p, s) in enumerate(rows, start=1))
    )
    return path


def test_why_and_what_for_every_class_that_is_named(run: Run, dense: Path) -> None:
    screen = run("assess", dense, *GOAL).stdout
    head, _, rest = screen.partition("\n\n")
    assert WHY in flat(head)
    steps = flat(rest.partition("What to do")[2].partition("Nitrogen\n")[0])
    for name in re.findall(r"“([^”]+)”", flat(head)):
        assert f"If it is “{name}”: " in steps
    assert "“thin but worth keeping”: Put no nitrogen on early, since so many shoots are" in steps
    assert "(University of Kentucky 2013)" in steps
    assert "push spring tillers" not in screen
    metric = flat(run("assess", dense, *GOAL, "--units", "metric").stdout)
    assert "because 124 shoots per ft² (1337 per m²) were counted" in metric  # as in its table
    assert "1337 per m² (1134" in metric


def test_the_shoots_own_timing_is_the_only_one(run: Run, tmp_path: Path) -> None:
    """Kentucky above 100 tillers: one dose at Feekes 4-5, so not also "just before jointing"."""
    rows = ((19, 115), (17, 108), (21, 121), (20, 118), (18, 112), (19, 117), (22, 125), (16, 106))
    path = tmp_path / "ky.csv"
    path.write_text(
        "spot,observer,plants,shoots,area\n"
        + "".join(f"{n},T,{p},{s},square:12in\n" for n, (p, s) in enumerate(rows, start=1))
    )
    screen = run("assess", path, "--rules", "kentucky-stand", "--stage", "Feekes 3").stdout
    assert "Early nitrogen is held back" in flat(screen)
    steps = flat(screen.partition("What to do")[2].partition("Nitrogen\n")[0])
    assert "Put nothing on at Feekes 3; give one dose at Feekes 4-5." in steps
    assert "hold it until just before jointing" not in steps


def test_no_page_pushes_tillers_beside_it(run: Run, dense: Path, tmp_path: Path) -> None:
    for command in ("assess", "report"):
        page = tmp_path / f"{command}.html"
        done = run(command, dense, *GOAL, "--html", page)
        assert done.exit_code == 0, done.output
        text = page.read_text("utf-8")
        assert "push spring tillers" not in text
        assert f"thin but worth keeping: early nitrogen {ENOUGH}" in text
        assert WHY in re.sub(r"<[^>]+>", "", text)


def test_nothing_is_asked_any_more_where_nothing_is_due(
    run: Run, dense: Path, tmp_path: Path
) -> None:
    page = tmp_path / "r.html"
    assert run("report", dense, *GOAL, "--given", "130 lb/ac", "--html", page).exit_code == 0
    said = page.read_text("utf-8")
    assert "put no more on" in said
    assert "Put no nitrogen on early" not in said
    assert "held back because" not in said


def test_it_is_said_before_jointing_alone(run: Run, dense: Path) -> None:
    said = flat(run("assess", dense, "--stage", "Feekes 6").stdout)
    assert "held back because" not in said
    assert "Put no nitrogen on early" not in said


def test_few_shoots_hold_nothing_back(run: Run, tmp_path: Path) -> None:
    spots = field([24, 31, 36, 30, 27], each=2.5)
    result = assess(spots, yield_goal=80, stage=parse_stage("Feekes 3"))
    record = verdict_record(result)
    assert record["no_early"] is None
    assert "held back because" not in result.verdict.headline
    assert "thin but worth keeping: push spring tillers" in [c["name"] for c in record["classes"]]


def test_plants_that_decide_beside_tillers_plan_nothing_early() -> None:
    """Kentucky judges tillers too; plants decide while the stand itself is in question."""
    spots = field([14, 16, 19, 13, 18, 15, 17, 12], each=7.2)  # 112 shoots on average
    result = assess(spots, "kentucky-stand", yield_goal=80, stage=parse_stage("Feekes 3"))
    assert result.plants is not None
    assert result.plants.held is None
    assert result.plants.band.asks_early
    assert any(band.early == "keep first" for band in result.plants.likely)
    plan = result.nitrogen
    assert plan is not None
    assert plan.early in (None, (0.0, 0.0))
    assert not any(line.startswith("Early, ") for line in plan.lines)
    assert "held back because 112 shoots" in result.verdict.headline
