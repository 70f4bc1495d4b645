"""One rounding of probabilities for the record, the page and the screen."""

from __future__ import annotations

import re

import pytest

from tests.report.fields import CLOSE, PUSH, TARGET, THIN, field, record
from tillercount.cli.verdict import show_assessment
from tillercount.report.language import load_words
from tillercount.report.sheet import make_sheet
from tillercount.report.webpage import report_html
from tillercount.stand import list_rules
from tillercount.stand.shares import band_shares, class_shares
from tillercount.stand.words import beyond

SPREAD = (16, 33, 22, 28, 19, 30, 24)


@pytest.mark.parametrize("plants", [THIN, PUSH, TARGET, CLOSE, SPREAD])
def test_the_table_adds_up_and_the_sentence_says_the_same(plants: tuple[int, ...]) -> None:
    made = record(plants)
    bands = made["evidence"][0]["bands"]
    whole = [band["shown"] for band in bands if not beyond(band["share"])]
    assert not whole or sum(round(100 * one) for one in whole) == 100
    for one in (*bands, *made["verdict"]["classes"], *made["verdict"]["options"]):
        assert abs(one["shown"] - one["share"]) < 0.01
    by_class = {one["class"]: one["shown"] for one in made["verdict"]["classes"]}
    assert made["verdict"]["likeliest"] == by_class[made["verdict"]["class"]]
    for one in made["verdict"]["options"]:
        assert one["shown"] == by_class[one["class"]]
    page = report_html(make_sheet(made, load_words()))
    assert re.findall(r'data-at="[^"]*/share" data-kind="chance"', page) == []


@pytest.mark.parametrize("plants", [PUSH, TARGET, CLOSE, SPREAD])
def test_report_and_screen_say_the_same_percent(
    plants: tuple[int, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    made = record(plants)
    show_assessment(field(plants))
    line = next(one for one in capsys.readouterr().out.splitlines() if one.startswith("class"))
    shown = line.removeprefix("class").strip().removeprefix("too close to call: ")
    on_screen = dict(re.findall(r"([a-z][a-z ]*) (\d+)\u00a0%", shown))
    for one in made["verdict"]["classes"]:
        if one["share"] >= 0.01 and not beyond(one["share"]):
            assert int(on_screen[one["name"].partition(":")[0]]) == round(100 * one["shown"])


def test_bands_of_one_class_add_up_to_it() -> None:
    """Pennsylvania and Ontario have two or three bands of one class."""
    several = 0
    for rules in list_rules():
        if rules.name not in ("pennsylvania-stand", "ontario-stand"):
            continue
        name = "ontario-stand@7.5in" if rules.name == "ontario-stand" else rules.name
        for plants in (THIN, PUSH, CLOSE, SPREAD):
            result = field(plants, name).decided_by
            for class_, shown in class_shares(result).items():
                own = [
                    share
                    for band, share in zip(result.rule.bands, band_shares(result), strict=True)
                    if band.class_ == class_
                ]
                if len(own) > 1 and not beyond(result.probabilities[class_]):
                    several += 1
                    assert round(100 * shown) == round(100 * sum(own))
    assert several
