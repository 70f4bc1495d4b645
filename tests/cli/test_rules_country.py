"""Cautions and figures of yield of one country stay with rules for it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import POLE, flat, write_counts
from tests.stand.fields import field
from tillercount.stand import assess, load_rules, parse_stage
from tillercount.stand.actions import actions
from tillercount.stand.country import country_of, for_us, yields_from_elsewhere
from tillercount.stand.goal import beyond_most
from tillercount.stand.library import list_rules
from tillercount.stand.limits import lodging, over_half
from tillercount.stand.places import country_of_place
from tillercount.stand.topdress import topdress
from tillercount.units import t_per_ha_to_bu_per_ac

Run = Callable[..., Any]
UK = ("--stage", "GS 25", "--rules", "uk-stand")
STATES = re.compile(r"Delaware|Maryland|FSA|crop insurance agent|\b72 hours")


@pytest.fixture
def british(tmp_path: Path) -> Path:
    """About 142 plants and 459 shoots per m²."""
    path = tmp_path / "eu.csv"
    path.write_text(
        "spot;observer;plants;shoots;area\n1;KL;12,5;40;square:30,5cm\n"
        "2;KL;14;44;square:30,5cm\n3;KL;13,0;44;square:30,5cm\n"
    )
    return path


def test_every_rule_set_has_its_country() -> None:
    found = {rules.name: country_of(rules) for rules in list_rules()}
    abroad = {name: country for name, country in found.items() if country != "US"}
    assert abroad == {
        "ireland-barley-shoots": "elsewhere", "uk-stand": "elsewhere",
        "ontario-adviser-stand": "Canada", "ontario-stand": "Canada",
        "western-canada-stand": "Canada",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "country"),
    [
        ("Bavaria, Germany", "elsewhere"), ("US Mid-South", "US"), ("Western Canada", "Canada"),
        ("ON", "Canada"), ("New England", "US"), ("East Anglia, England", "elsewhere"),
        ("New South Wales", "elsewhere"), ("in the valley, or below", ""), ("our farm", ""),
    ],
)  # fmt: skip
def test_a_region_in_words(text: str, country: str) -> None:
    assert country_of_place(text) == country


def test_rules_of_ones_own() -> None:
    ours = load_rules("uk-stand").model_copy(update={"where": (), "places": ()})
    assert yields_from_elsewhere(ours) == "United Kingdom"
    nobody_knows = ours.model_copy(update={"region": "our farm"})
    assert for_us(nobody_knows)
    assert yields_from_elsewhere(nobody_knows) == ""


@pytest.mark.parametrize("goal", ["8.5 t/ha", "0.6 t/ha"])
def test_yields_from_elsewhere_cut_no_nitrogen(run: Run, british: Path, goal: str) -> None:
    for command in ("assess", "nitrogen"):
        said = flat(run(command, british, *UK, "--yield-goal", goal, "--units", "metric").stdout)
        assert "at most" not in said
        assert "would be too" not in said
        assert (
            "rest on figures from the United States and Canada, not from the region of these rules "
            "(United Kingdom), so they say nothing against the yield goal of "
        ) in said
        assert "set it by what your own fields have brought, with a local adviser" in said
    stage = parse_stage("GS 25")
    for rules, likely in (("uk-stand", False), ("common-practice", True)):
        result = assess(british, rules, yield_goal="8.5 t/ha", stage=stage)
        assert result.nitrogen is not None
        assert (result.nitrogen.likely is not None) == likely


def test_a_goal_within_them_needs_no_word_but_their_region_is_said(run: Run, british: Path) -> None:
    for more in ((), ("--explain",)):
        ask = (british, *UK, "--yield-goal", "3 t/ha", *more)
        for command in ("assess", "nitrogen"):
            said = flat(run(command, *ask).stdout)
            assert "say nothing against" not in said
            assert "igures from the United States and Canada, not from the region of" in said
    assert "from the United States" not in flat(run("nitrogen", POLE, "--yield-goal", "80").stdout)


def test_neither_do_heads_that_are_wanted_there() -> None:
    spots = field([13.0, 14.0, 13.5, 12.5, 14.0], each=2.2)
    for rules, ours in (("uk-stand", False), ("common-practice", True)):
        flags = assess(spots, rules, stage=parse_stage("GS 25")).flags
        assert any("make fewer than" in flag and "heads" in flag for flag in flags) == ours


def test_goals_that_north_america_never_sees_are_usual_elsewhere() -> None:
    eleven, twenty = (t_per_ha_to_bu_per_ac(goal) for goal in (11.0, 20.0))
    assert beyond_most(eleven, "wheat")
    assert beyond_most(eleven, "wheat", abroad=True) == ""
    assert beyond_most(twenty, "wheat", abroad=True)
    uk, home = (
        topdress(rules, goal_bu_ac=eleven).whole.doubts for rules in ("uk-stand", "common-practice")
    )
    assert (len(uk), len(home)) == (0, 1)


def test_pages_leave_cautions_of_us_states_out(run: Run, tmp_path: Path) -> None:
    counts = write_counts(tmp_path / "c.csv", [22, 24, 21, 23, 22, 24])
    goal = ("--yield-goal", "8.5 t/ha")
    for rules, ours in (("uk-stand", False), ("common-practice", True)):
        ask = (counts, "--stage", "GS 25", "--rules", rules, *goal)
        for command in ("assess", "report"):
            page = tmp_path / f"{command}.html"
            assert run(command, *ask, "--html", page).exit_code == 0
            text = page.read_text("utf-8")
            assert bool(STATES.search(text)) == ours, STATES.findall(text)
            assert ("closed periods hold" in text) == (not ours)
            assert ("from the United States and Canada, not from the" in text) == (not ours)
        said = flat(run("nitrogen", *ask).stdout)
        assert ("ceiling" in said) == ours
        assert ("limits and closed periods hold; ask locally" in said) == (not ours)


def test_whom_to_ask_before_a_stand_is_given_up() -> None:
    for rules, agent in (("uk-stand", False), ("common-practice", True)):
        for plants in ([3.0, 2.5, 3.5, 2.8, 3.2], [0.0] * 6):
            result = assess(field(plants), rules, stage=parse_stage("GS 25"))
            todo = " ".join(
                one.text for one in actions(result.rules, result.decided_by, None, result.stage)
            ).lower()
            assert ("crop insurance agent" in todo) == agent
            assert ("ask your insurer before you change anything" in todo) == (not agent)


def test_limits_of_a_state_elsewhere() -> None:
    said = " ".join(one.text for one in lodging(None, 100.0, own_most_lb=150.0, by="X", us=False))
    assert "Delaware" not in said
    assert "more than the 150 lb of the whole" in said
    (abroad,) = over_half((60.0, 70.0), (90.0, 100.0), us=False)
    assert abroad.endswith("more than half of the whole: ask locally whether that is allowed.")
    assert "Maryland" in next(over_half((60.0, 70.0), (90.0, 100.0), us=True))
