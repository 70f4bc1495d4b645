"""What a report says of nitrogen: the arithmetic that was used, what came off, rough dates."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import write_counts

Run = Callable[..., Any]
VISIT = Path(__file__).parents[2] / "sample_images" / "spring_visit"


@pytest.fixture
def report(run: Run, tmp_path: Path) -> Callable[..., tuple[str, dict[str, Any]]]:
    """Text of the page, and the record, of the Pole field."""

    def go(*more: object, counts: Path = VISIT / "pole_field.csv") -> tuple[str, dict[str, Any]]:
        page, values = tmp_path / "r.html", tmp_path / "r.json"
        result = run(
            "report", counts, "--stage", "Feekes 3", "--yield-goal", "80 bu/ac", "--weather",
            VISIT / "weather.csv", "--html", page, "--json", values, *more,
        )  # fmt: skip
        assert result.exit_code == 0, result.output
        text = re.sub(r"</?(span|b|strong|em)\b[^>]*>", "", page.read_text("utf-8"))
        text = re.sub(r"<style.*?</style>|<[^>]+>", " ", text, flags=re.S)
        return " ".join(html.unescape(text).split()), json.loads(values.read_text("utf-8"))

    return go


def test_credits_are_listed_and_taken_off_once(
    report: Callable[..., tuple[str, dict[str, Any]]],
) -> None:
    text, kept = report("--fall-n", "30 lb/ac", "--manure", "20 lb/ac")
    assert "In all, credits already taken off" in text
    assert (
        "88-120 lb N/ac minus 30 lb N/ac of fall nitrogen minus 20 lb N/ac of manure = 38-70"
        in text
    )
    for wrong in ("ake off what", "nothing taken off", "22-36", "66-84"):
        assert wrong not in text
        assert wrong not in json.dumps(kept)  # in no list of it, the assessment's own included
    plain, _ = report()
    assert "In all, nothing taken off yet" in plain
    assert "credits already" not in plain


def test_the_arithmetic_is_the_one_that_was_used(
    report: Callable[..., tuple[str, dict[str, Any]]],
) -> None:
    """Kansas: 2.4 lb/bu, 10 lb per percent of organic matter (from memory)."""
    text, kept = report(
        "--whole-by", "kansas-nitrogen", "--nitrate", "15 lb/ac", "--organic-matter", "2"
    )
    assert "80 bu/ac x 2.4 lb N per bushel = 192 lb N/ac" in text
    assert "less organic matter 2 % x 10 lb = 20 lb N/ac" in text
    assert "less soil nitrate 15 lb" in text
    assert "1.1-1.5" not in text
    assert "1.1-1.5" not in json.dumps(kept)


def test_a_figure_of_another_publisher_is_named(
    report: Callable[..., tuple[str, dict[str, Any]]],
) -> None:
    text, _ = report("--rules", "kansas-replant@25/ft2")
    said = "The whole is by common practice (US mid-Atlantic), not by Kansas State University."
    assert said in text
    assert "not by" not in report()[1]["nitrogen"]["whole_by"]


def test_rough_dates_and_now(report: Callable[..., tuple[str, dict[str, Any]]]) -> None:
    text, kept = report("--product", "uan28", "--price", "320/ton", "--visited", "2027-03-04")
    early, main = kept["nitrogen"]["doses"]
    assert early["now"]
    assert early["from"] is None
    assert "from 19 February" not in text
    row = text[text.index("Early, since growth has started") : text.index("Main, just before")]
    assert row.startswith("Early, since growth has started (weather up to 6 March 2027) now 22")
    assert row.count("now") == 1
    assert early["started"] == "2027-03-06"
    assert main["before"] is None  # a sum of warmth that may be weeks late gives no date
    assert "before 25 April 2027" not in text
    assert "split a stem, no node above the ground yet" in main["when"]
    assert "Costs are of the amounts in the table, rounded as they stand there, in the" in text
    assert text.count("by the weather (green-up).") == 1
    # the sum may come after jointing, and products mustn't go on then
    assert "Jointing roughly" not in text
    assert text.count("No date is given for jointing") == 1
    assert "not yet when nitrogen is due" not in text


def test_old_weather_says_nothing_of_now(
    report: Callable[..., tuple[str, dict[str, Any]]],
) -> None:
    """The weather ends on 6 March, eleven days before the visit."""
    text, kept = report("--visited", "2027-03-17")
    early = kept["nitrogen"]["doses"][0]
    assert not early["now"]
    assert early["started"] is None
    row = text[text.index("Early, once growth has started") : text.index("Main, just before")]
    assert row.startswith(
        "Early, once growth has started; by the weather up to 6 March 2027 it had started then: "
        "look again by growth, not by date 22"
    )
    assert "now" not in row.split()
    assert "not yet when nitrogen is due" not in text


def test_one_spot_has_no_plan(
    report: Callable[..., tuple[str, dict[str, Any]]], tmp_path: Path
) -> None:
    one = tmp_path / "one.csv"
    one.write_text("spot,observer,plants,shoots,area\n1,ann,31,93,square:12in\n", encoding="utf-8")
    text, kept = report(counts=one)
    assert kept["nitrogen"]["doses"] == []
    assert kept["nitrogen"]["why_none"].startswith("No rates yet: ")
    assert "No rates yet: " in text
    assert "This plan is for" not in text


@pytest.mark.parametrize("each", [[27], [9, 10, 10, 9, 10, 9]])
def test_that_time_is_short_stands_where_rates_are_withheld(
    report: Callable[..., tuple[str, dict[str, Any]]], tmp_path: Path, each: list[float]
) -> None:
    counts = write_counts(tmp_path / "c.csv", each)
    text, kept = report("--stage", "Feekes 6", counts=counts)
    assert text.count("the last useful time is about Feekes 6") == 1
    assert kept["nitrogen"]["doses"] == []
    text, _ = report("--stage", "Feekes 9", counts=counts)
    assert "is late for nitrogen" in text
    assert "last useful time" not in report(counts=counts)[0]  # at Feekes 3


@pytest.mark.parametrize("each", [[0, 0, 0, 0], [27], [9, 10, 10, 9, 10, 9]])
def test_no_pounds_on_paper_where_rates_are_withheld(
    run: Run, tmp_path: Path, each: list[float]
) -> None:
    """Bare ground, one spot, a stand to be decided: the whole stays in the JSON alone."""
    counts = write_counts(tmp_path / "c.csv", each)
    page, report, kept = (tmp_path / name for name in ("p.html", "r.html", "r.json"))
    ask = ("--yield-goal", "80 bu/ac", "--stage", "Feekes 3")
    assert run("assess", counts, *ask, "--html", page).exit_code == 0
    done = run("report", counts, *ask, "--product", "uan28", "--html", report, "--json", kept)
    assert done.exit_code == 0, done.output
    for path in (page, report):
        text = re.sub(r"<style.*?</style>|<svg.*?</svg>", "", path.read_text("utf-8"), flags=re.S)
        said = " ".join(re.sub(r"<[^>]+>", " ", text).split())
        assert not re.search(r"88.120|99.135|UAN|lb N|per bushel|In all", said)
    whole = json.loads(kept.read_text("utf-8"))["nitrogen"]["all"]["whole"]["net"]
    assert whole == pytest.approx([88, 120])


@pytest.mark.parametrize("stage", ["Feekes 6", "Feekes 7", "GS39"])
def test_a_crop_that_has_jointed_gets_no_date_of_jointing(
    report: Callable[..., tuple[str, dict[str, Any]]], stage: str
) -> None:
    outline = ("--boundary", VISIT.parent / "alder_bend_fields.geojson", "--field", "Pole field")
    text, kept = report("--stage", stage, "--product", "uan28", *outline)
    plan = text[text.index("Nitrogen plan") : text.index("What could change this")]
    for word in (
        "No date is given for jointing",
        "not yet when nitrogen is due",
        "Dates would come from",
    ):
        assert word not in plan
    assert "88 to 120" in plan
    late = stage != "Feekes 6"
    assert kept["nitrogen"]["late"] == late
    # the table goes no further than the screen: by the goal, if at all, not without an adviser
    row = "By the yield goal alone, late: after jointing, if at all not without a local adviser 88"
    assert (row in plan) == late
    assert ("Main" in plan) != late
    assert ("For the whole field" in plan) != late


def test_before_jointing_it_is_to_be_looked_for(
    report: Callable[..., tuple[str, dict[str, Any]]],
) -> None:
    text, _ = report("--stage", "Feekes 3")
    assert "Jointing roughly" not in text
    assert "split a few stems every week and look for the first node" in text
    assert "Main, just before jointing" in text


def test_what_is_on_already_is_in_every_place(
    report: Callable[..., tuple[str, dict[str, Any]]],
) -> None:
    """Verdict, steps and table: a grower who reads one of them puts nothing on twice."""
    page, record = report("--given", "25 lb/ac")
    assert record["verdict"]["kind"] == "early_on"
    assert "Keep this stand; the nitrogen that it asks for early is on already:" in page
    assert "25 lb N/ac are on already and taken for the early part: put no more on early." in page
    assert "Put on the early part" not in page
    assert record["nitrogen"]["on_already"]["us"] == [25.0, 25.0]
    assert "On already this spring" in page
    assert "In all, with what is on already" in page
    assert "In all, nothing taken off yet" not in page
    page, record = report("--given", "8 lb/ac")
    assert record["verdict"]["kind"] == "early_rest"
    assert "Put on the early part" not in page
    assert [one["name"] for one in record["nitrogen"]["doses"]] == ["early", "main"]
    page, record = report("--given", "200 lb/ac")
    assert record["nitrogen"]["total"]["us"] == [200.0, 200.0]  # the rows add up
    assert record["verdict"]["kind"] == "all_on"
    assert "Keep this stand; no more nitrogen is due on it this spring:" in page
    assert "more than the whole of 88-120 lb N/ac: put no more on." in page
    assert "Main, nothing is left to put on – none" in page
    assert "Keep the larger part" not in page
    page, _ = report("--given", "200 lb/ac", "--stage", "Feekes 8")
    assert "put no more on." in page
    assert "Ask a local adviser whether a pass pays" not in page
    page, record = report()
    assert record["verdict"]["kind"] == "push"
    assert "On already this spring" not in page
