"""What has to be read before a verdict stands first on every screen, in page, record and report."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tillercount.stand.shares import percents

Run = Callable[..., Any]
HEAD = "spot,observer,plants,shoots,area,lat,lon\n"
OUTLINE = "38.0300,-98.7100 38.0300,-98.7050 38.0270,-98.7050 38.0270,-98.7100"
SCALE = "one pixel is 0.98 mm wide on the ground (limit 0.8 mm): go closer"


def hand_file(folder: Path, rows: list[str], name: str = "hand.csv") -> Path:
    path = folder / name
    path.write_text(HEAD + "\n".join(rows) + "\n")
    return path


@pytest.fixture
def even(tmp_path: Path) -> Path:
    """Five spots without a position."""
    return hand_file(
        tmp_path, [f"{i},JM,{p},{3 * p},square:12in,," for i, p in enumerate((22, 23, 21, 24, 22))]
    )


@pytest.fixture
def in_kansas(tmp_path: Path) -> Path:
    rows = [
        f"{i},JM,{p},{3 * p},square:12in,38.03,-98.71" for i, p in enumerate((22, 23, 21, 24, 22))
    ]
    return hand_file(tmp_path, rows, "kansas.csv")


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_wrong_unit_is_refused_with_file_and_row(run: Run, tmp_path: Path) -> None:
    path = hand_file(tmp_path, ["1,JM,27,66,square:12cm,,"])
    result = run("assess", path)
    assert result.exit_code == 2
    assert "hand.csv, row 2" in result.output
    assert "was square:12in meant?" in one_line(result.output)


def test_wrong_unit_is_refused_by_a_season_too(run: Run, tmp_path: Path) -> None:
    path = hand_file(tmp_path, ["1,JM,27,66,square:12cm,,"])
    season = tmp_path / "s.sqlite"
    assert run("season", "new", season).exit_code == 0
    result = run("season", "add", season, path, "--farm", "F", "--field", "N")
    assert result.exit_code == 2
    assert "was square:12in meant?" in one_line(result.output)


def test_a_flagged_photo_and_one_spot_stand_before_the_figures(run: Run, tmp_path: Path) -> None:
    counts = tmp_path / "counts.json"
    spot = {
        "photo": "far/spot_01.jpg", "status": "counted", "flags": [SCALE], "area": {"ft2": 4.0},
        "plants": {"count": 28, "low": 22, "high": 34},
        "shoots": {"count": 84, "low": 70, "high": 98},
    }  # fmt: skip
    counts.write_text(json.dumps({"schema": "tillercount.counts/1", "spots": [spot]}))
    record = tmp_path / "a.json"
    result = run("assess", counts, "--stage", "Feekes 3", "--json", record)
    said = one_line(result.output)
    assert said.startswith("Not settled: one spot can't speak for a field")
    before = said[: said.index(" plants 7.0 per ft²")]
    assert "Check the size in --area and its unit" in before
    assert "scale: spot_01.jpg" in before
    assert "n = 1" in before
    verdict = json.loads(record.read_text())["verdict"]
    assert not verdict["clear"]
    assert len(verdict["warnings"]) == 2
    shares = verdict["probabilities"]
    assert shares["rotate"] >= 0.8  # clear by the count alone, and held back all the same
    shown = dict(zip(shares, percents(list(shares.values())), strict=True))["rotate"]
    assert f"not settled: too thin {shown}" in result.output
    assert "yield can't be told from 1 spot; after 6 spots it can be narrowed" in said
    assert "bu/ac likely" not in said
    assert json.loads(record.read_text())["yield"] is None


def test_rules_taken_by_default_are_named_once(run: Run, even: Path) -> None:
    said = one_line(run("assess", even).output)
    assert said.count("no --rules given, so common-practice was taken, which is for Delaware") == 1
    assert "no --rules given" not in run("assess", even, "--rules", "common-practice").output


def test_a_field_in_kansas_is_told_on_screen_nitrogen_report_and_season(
    run: Run, in_kansas: Path, even: Path, tmp_path: Path
) -> None:
    said = one_line(run("assess", in_kansas).output)
    assert "this field lies outside" in said[: said.index(" plants 22 per")]
    assert "--region Kansas" in said
    nitrogen = one_line(
        run("nitrogen", even, "--yield-goal", "80 bu/ac", "--boundary", OUTLINE).output
    )
    assert "lies outside" in nitrogen[: nitrogen.index(" Rates ")]
    report = tmp_path / "r.json"
    run("report", even, "--boundary", OUTLINE, "--json", report)
    assert "lies outside" in json.loads(report.read_text())["verdict"]["warning"]
    season = tmp_path / "s.sqlite"
    run("season", "new", season)
    run("season", "add", season, in_kansas, "--farm", "F", "--field", "N")
    assert "lies outside" in one_line(run("season", "assess", season).output)


def test_compare_gives_the_command_for_rules_that_need_a_value(run: Run, even: Path) -> None:
    said = one_line(
        run("rules", "compare", even, "--region", "Kansas", "--stage", "Feekes 3").output
    )
    assert "kansas-replant would fit this field" in said
    command = f"tillercount assess {even} --rules kansas-replant@25/ft2 --stage 'Feekes 3'"
    assert command.replace(" ", "") in said.replace(" ", "")
    kansas = run("assess", even, "--rules", "kansas-replant@25/ft2", "--stage", "Feekes 4")
    assert kansas.exit_code == 0
    assert "written for the fall" in kansas.output


def test_pounds_from_memory_say_so_first(run: Run) -> None:
    said = one_line(
        run("nitrogen", "--rules", "kansas-nitrogen", "--yield-goal", "60 bu/ac").output
    )
    assert said.count("are from memory, not checked against the publication") == 1
    assert said.index("from memory, not checked") < said.index(" Rates ")
    other = one_line(
        run(
            "nitrogen", "--rules", "common-practice", "--whole-by", "kansas-nitrogen",
            "--yield-goal", "60 bu/ac",
        ).output
    )  # fmt: skip
    assert "are from memory, not checked against the publication" in other


def test_rules_check_shows_the_boxes_it_reads(run: Run) -> None:
    source = Path(__file__).parents[2] / "tillercount" / "stand" / "rules" / "kansas-replant.toml"
    assert "Kansas: 36.5 to 40.5, -102.5 to -94.5" in one_line(run("rules", "check", source).output)
