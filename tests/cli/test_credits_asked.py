"""What is said to be there already, where it is more than the whole: asked about, never silent."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.cli.helpers import GOAL, POLE, flat
from tillercount.stand.already import AlreadyThere, check_credits

Run = Callable[..., Any]


@pytest.mark.parametrize(
    ("option", "asked"),
    [
        ("--manure", "of manure is more than the whole of 88-120 lb N/ac: check that this is the "
         "nitrogen that it makes available this season, per acre or hectare, and not the weight"),
        ("--fall-n", "of fall nitrogen is more than the whole of 88-120 lb N/ac: check that this "
         "is nitrogen, per acre or hectare, and not the weight of fertilizer"),
        ("--nitrate", "of soil nitrate is more than the whole of 88-120 lb N/ac: check that this "
         "is nitrogen, per acre or hectare, and not nitrate itself, which weighs 4.4 times"),
    ],
)  # fmt: skip
def test_more_than_the_whole_is_asked_about_before_nothing_is_due(
    run: Run, option: str, asked: str
) -> None:
    said = flat(run("nitrogen", POLE, *GOAL, option, "400 lb/ac").stdout)
    assert f"400 lb N/ac {asked}" in said
    assert said.index("check that this") < said.index("Nothing is due")
    metric = ("--units", "metric")
    said = flat(run("nitrogen", POLE, *GOAL, option, "450 kg/ha", *metric).stdout)
    assert "401 lb N/ac (450 kg N/ha) of " in said  # as typed, though 401 lb are 449
    assert "more than the whole of 88-120 lb N/ac (99-135 kg N/ha): check that this is" in said


def test_a_report_asks_too(run: Run, tmp_path: Any) -> None:
    page = tmp_path / "r.html"
    done = run("report", POLE, *GOAL, "--manure", "400 lb/ac", "--html", page)
    assert done.exit_code == 0, done.output
    assert "and not the weight of the manure" in page.read_text("utf-8")


def test_several_that_are_too_much_together() -> None:
    (asked,) = check_credits(AlreadyThere(nitrate_lb_ac=70, manure_lb_ac=60), (88.0, 120.0))
    assert asked.startswith(
        "130 lb N/ac said to be there already (70 lb N/ac of soil nitrate and 60 lb N/ac of manure)"
    )


def test_what_may_be_right_is_no_question() -> None:
    whole = (88.0, 120.0)
    assert check_credits(AlreadyThere(manure_lb_ac=120.0), whole) == []
    assert check_credits(AlreadyThere(fall_lb_ac=40, nitrate_lb_ac=30), whole) == []
    assert check_credits(AlreadyThere(), whole) == []
