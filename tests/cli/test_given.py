"""Spring nitrogen that is on already, where a field is judged: not put on again."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import GOAL, POLE, flat

Run = Callable[..., Any]


def test_a_part_of_the_early_dose(judged: Callable[..., Any]) -> None:
    before = flat(judged(*GOAL).stdout)
    assert "Early, once growth has started and not before: 22-36 lb N/ac" in before
    assert "on already" not in before
    said = flat(judged(*GOAL, "--given", "20 lb/ac").stdout)
    assert (
        "1. 20 lb N/ac are on already, not yet all of the early part: put on only the 2-16 lb N/ac"
        in said
    )
    for line in ("on already: 20 lb N/ac", "early: 2-16 lb N/ac", "main: 66-84 lb N/ac"):
        assert line in said
    assert "22-36" not in said
    assert "Put on the early part" not in said


def test_all_of_it(judged: Callable[..., Any]) -> None:
    said = flat(judged(*GOAL, "--given", "30 lb/ac").stdout)
    assert "30 lb N/ac are on already and taken for the early part: put no more on early." in said
    assert "main: " in said
    assert "early: " not in said


def test_more_than_the_whole(judged: Callable[..., Any]) -> None:
    """88-120 lb in all: nothing beside the caution tells to put more on."""
    said = flat(judged(*GOAL, "--given", "200 lb/ac").stdout)
    assert "check that they are pounds per acre" in said
    more = "200 lb N/ac are on already, more than the whole of 88-120 lb N/ac: put no more on."
    assert f"1. {more}" in said
    assert f"By the count the stand is “thin but worth keeping”. {more}" in said
    assert "main: none; nothing is left to put on" in said
    for word in ("Keep the larger part", "push spring tillers", "just before jointing"):
        assert word not in said


def test_without_a_yield_goal(judged: Callable[..., Any]) -> None:
    said = flat(judged("--stage", "Feekes 3", "--given", "20 lb/ac").stdout)
    assert "20 lb N/ac are on already: take them off what would go on early." in said
    assert "Put on the early part" not in said


def test_a_rate_without_its_unit(judged: Callable[..., Any]) -> None:
    wrong = judged("--given", "20")
    assert wrong.exit_code == 2
    assert "--given '20' has no unit; write '20 lb/ac'" in wrong.stderr


@pytest.mark.parametrize("stage", ["Feekes 5", "Feekes 6", "Feekes 8"])
def test_once_the_early_part_is_over_it_is_in_files_all_the_same(
    run: Run, tmp_path: Path, stage: str
) -> None:
    page, values = tmp_path / "a.html", tmp_path / "a.json"
    at = ("--stage", stage, *GOAL[2:], "--given", "20 lb/ac")
    said = run("assess", POLE, *at, "--html", page, "--json", values)
    assert "main: 68-100 lb N/ac" in flat(said.stdout)
    plan = json.loads(values.read_text("utf-8"))["nitrogen"]
    assert (plan["given"], plan["before_jointing"]) == (20, pytest.approx([68, 100]))
    text = flat(re.sub(r"<[^>]+>", " ", page.read_text("utf-8")))
    assert "On already this spring 20 22 In all, nothing taken off yet 88-120" in text


def test_files_and_what_a_season_keeps(run: Run, tmp_path: Path) -> None:
    from tillercount.store import Season, Where

    page, values, season = (tmp_path / name for name in ("a.html", "a.json", "s.sqlite"))
    given = (*GOAL, "--given", "20 lb/ac")
    run("assess", POLE, *given, "--html", page, "--json", values, "--field", "Pole")
    text = re.sub(r"<[^>]+>", " ", page.read_text("utf-8"))
    assert "On already this spring 20 22 Early, once growth has started and not before 2-16" in (
        flat(text)
    )
    plan = json.loads(values.read_text("utf-8"))["nitrogen"]
    assert (plan["given"], plan["early"]) == (20, pytest.approx([2, 16]))
    run("season", "new", season)
    run("season", "add", season, POLE, "--farm", "Elm Hill", "--field", "Pole")
    run("season", "assess", season, *given)
    with Season.open(season, who="Ash") as kept:
        (one,) = kept.assessments(Where("Elm Hill", "Pole"))
    assert one["record"]["nitrogen"]["given"] == 20
    assert "20 lb N/ac are on already" in json.dumps(one["record"]["verdict"]["actions"])


def test_nothing_to_spread_needs_no_product(run: Run, tmp_path: Path) -> None:
    """115 of 88-120 lb are on: no amount of urea to work out, nothing to mind at work."""
    urea = ("nitrogen", POLE, *GOAL, "--product", "urea")
    before, explained = (run(*urea, *more).stdout for more in ((), ("--explain",)))
    assert "urea: lb N / 0.46 = lb" in before
    assert "While it goes on" in before
    assert "How much of what" in explained
    for more in ((), ("--explain",)):
        said = run(*urea, "--given", "115 lb/ac", *more).stdout
        assert "put no more on" in flat(said)
        for line in ("0.46", "While it goes on", "oggles", "How much of what"):
            assert line not in said
    values, report = tmp_path / "n.json", tmp_path / "r.json"
    for given, amounts in (("115 lb/ac", 0), ("20 lb/ac", 2)):
        run(*urea, "--price", "420/ton", "--given", given, "--json", values)
        doses = json.loads(values.read_text("utf-8"))["doses"]
        assert sum(len(dose["amounts"]) for dose in doses if not dose["lb_ac"][1]) == 0
        run("report", *urea[1:], "--given", given, "--json", report)
        plan = json.loads(report.read_text("utf-8"))["nitrogen"]
        assert sum(len(dose["products"]) for dose in plan["doses"]) == amounts


def test_pounds_to_check_have_their_unit(run: Run, judged: Callable[..., Any]) -> None:
    said = flat(judged(*GOAL, "--given", "200 lb/ac").stdout)
    assert "more than the whole of 88-120 lb N/ac: check that they are pounds per acre" in said


def test_a_small_early_part_heads_no_screen_and_no_report(run: Run, tmp_path: Path) -> None:
    """20 bu/ac: 6-9 lb early are no pass."""
    small = ("--stage", "Feekes 3", "--yield-goal", "20 bu/ac")
    for command in ("assess", "nitrogen"):
        said = flat(run(command, POLE, *small).stdout)
        assert "By the count the stand is “thin but worth keeping”. The early part is only" in said
        assert "push spring tillers" not in said
        assert "Keep the larger part" not in said
    page, values = tmp_path / "r.html", tmp_path / "r.json"
    run("report", POLE, *small, "--html", page, "--json", values)
    assert json.loads(values.read_text("utf-8"))["verdict"]["kind"] == "early_little"
    text = flat(re.sub(r"<[^>]+>", " ", page.read_text("utf-8")))
    assert "too little for a pass of its own and goes on with the main part" in text
    assert "put some nitrogen on early" not in text
