"""Cautions and figures of yield of one country stay with rules for it."""

from __future__ import annotations

import datetime as dt
import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import POLE, flat, write_counts
from tests.stand.fields import field
from tillercount.errors import InputError
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
        ("Norway, Maine", "US"), ("Poland, Ohio", "US"), ("Wales, Wisconsin", "US"),
        ("Victoria, British Columbia", "Canada"), ("Wales", "elsewhere"),
        ("Georgia", "US"), ("Georgia (country)", "elsewhere"),
        ("Kakheti, Republic of Georgia", "elsewhere"),
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
    assert beyond_most(1.0, "wheat")
    assert beyond_most(1.0, "wheat", abroad=True) == ""  # the lower limit is North America's
    uk, home = (
        topdress(rules, goal_bu_ac=eleven).whole.doubts for rules in ("uk-stand", "common-practice")
    )
    assert ["nearly any wheat field" in one for one in (*uk, *home)] == [False, True]


GREEN_UP = re.compile(r"[Gg]reen-up by the weather|by the weather \(green-up\)")
REST = "amounts rest on a US figure of nitrogen"
LEGAL = "your country's legal maximum may be lower: ask a local adviser before anything is spread"


@pytest.mark.parametrize("goal", ["15.5 t/ha", "8 t/ha"])
def test_us_pounds_elsewhere_say_so_before_them(
    run: Run, british: Path, tmp_path: Path, goal: str
) -> None:
    page = tmp_path / "page.html"
    for rules, abroad in (("uk-stand", True), ("common-practice", False)):
        ask = (british, "--stage", "GS 25", "--rules", rules, "--yield-goal", goal)
        assert run("report", *ask, "--html", page).exit_code == 0
        texts = [flat(run(command, *ask).stdout) for command in ("nitrogen", "assess")]
        texts.append(html.unescape(re.sub(r"<[^>]+>", " ", page.read_text("utf-8"))))
        for text in texts:
            assert (REST in text) == abroad
            assert (LEGAL in text) == abroad
            if abroad:
                pounds = re.search(r"\d lb N/ac", text)
                table = re.search(r"In all, nothing", text)
                first = min(one.start() for one in (pounds, table) if one is not None)
                assert text.index(REST) < first


def test_whole_by_a_us_publisher_is_a_us_figure_too() -> None:
    def first(rules: str, giver: str | None) -> str:
        return " ".join(topdress(rules, goal_bu_ac=80.0, whole_by=giver).first)

    assert f"{REST}; {LEGAL}" in first("uk-stand", "kentucky-stand")  # in print without bushels
    assert f"{REST} per bushel; {LEGAL}" in first("uk-stand", None)
    assert REST not in first("ontario-stand", None)
    assert REST not in first("common-practice", "kentucky-stand")


def test_a_tissue_test_gives_no_pounds_elsewhere(run: Run, british: Path, tmp_path: Path) -> None:
    """Its table is Virginia's; it would take the place of the field's own yield goal."""
    page = tmp_path / "page.html"
    for rules, abroad in (("uk-stand", True), ("common-practice", False)):
        ask = (british, "--stage", "GS 30", "--rules", rules, "--tissue", "3.5")
        assert run("report", *ask, "--html", page).exit_code == 0
        texts = [flat(run("nitrogen", *ask, *more).stdout) for more in ((), ("--explain",))]
        seen = html.unescape(re.sub(r"<[^>]+>", " ", page.read_text("utf-8")))
        for text in (*texts, " ".join(seen.split())):
            assert ("The tissue test of 3.5 % gives no amount here" in text) == abroad
            if abroad:
                assert re.search(r"60 lb N/ac|not by date 60\b", text) is None
    both = topdress("uk-stand", goal_bu_ac=80.0, tissue_percent=3.5, stage=parse_stage("GS 30"))
    goal = topdress("uk-stand", goal_bu_ac=80.0, stage=parse_stage("GS 30"))
    assert both.tissue is None
    assert [d.lb_ac for d in both.doses] == [d.lb_ac for d in goal.doses] != []
    assert both.first[0].startswith("The tissue test of 3.5 % gives no amount here")
    assert both.first[1:] == goal.first
    home = topdress("common-practice", tissue_percent=3.5, stage=parse_stage("GS 30"))
    assert [d.lb_ac for d in home.doses] == [(60.0, 60.0)]
    with pytest.raises(InputError, match="isn't what young plants have"):
        topdress("uk-stand", goal_bu_ac=80.0, tissue_percent=35.0)


def test_dates_by_a_state_elsewhere(run: Run, british: Path, tmp_path: Path) -> None:
    day, rows = dt.date(2022, 9, 1), ["date,tmax_f,tmin_f"]
    while day <= dt.date(2026, 3, 5):
        warm = 48 + 20 * (day.timetuple().tm_yday in range(90, 280)) + day.year % 5
        rows.append(f"{day},{warm},{warm - 8}")
        day += dt.timedelta(1)
    weather, page = tmp_path / "w.csv", tmp_path / "page.html"
    weather.write_text("\n".join(rows) + "\n")
    for rules, ours in (("uk-stand", False), ("common-practice", True)):
        ask = (
            british, "--stage", "GS 25", "--rules", rules, "--yield-goal", "8 t/ha",
            "--weather", weather, "--visited", "2026-03-05",
        )  # fmt: skip
        short, full = run("nitrogen", *ask).stdout, run("nitrogen", *ask, "--explain").stdout
        assert run("report", *ask, "--html", page).exit_code == 0
        for text in (short, full, page.read_text("utf-8")):
            assert bool(STATES.search(text)) == ours, STATES.findall(text)
            assert bool(GREEN_UP.search(flat(text))) == ours
        assert ("first nitrogen since" in flat(full)) == ours
        assert ("US states' sums of warmth don't hold for your country" in flat(full)) == (not ours)
        assert ("jointing between" in flat(short)) == ours


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
    assert "more than the 150 lb N/ac of the whole" in said
    (abroad,) = over_half((60.0, 70.0), (90.0, 100.0), us=False)
    assert abroad.endswith("more than half of the whole: ask locally whether that is allowed.")
    assert "Maryland" in next(over_half((60.0, 70.0), (90.0, 100.0), us=True))
