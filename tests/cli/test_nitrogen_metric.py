"""A field's nitrogen on a screen in metric units, as an assessment's."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import GOAL, POLE, ROOT, flat
from tillercount.units import lb_per_ac, t_per_ha_to_bu_per_ac

Run = Callable[..., Any]
METRIC = ("--units", "metric")
FULL = (
    "nitrogen", POLE, *GOAL, "--fall-n", "20 lb/ac", "--product", "urea", "--product", "uan28",
    "--price", "urea=420/ton", "--price", "uan28=1.55/gal", "--boom", "90 ft", "--boundary",
    "38.0400,-77.9090 38.0400,-77.9050 38.0365,-77.9050 38.0365,-77.9090", "--weather",
    ROOT / "sample_images" / "spring_visit" / "weather.csv", "--visited", "2027-03-06",
)  # fmt: skip


def said(run: Run, *ask: object) -> str:
    done = run(*ask)
    assert done.exit_code == 0, done.output
    return flat(done.stdout)


@pytest.mark.parametrize("more", [(), ("--explain",)])
def test_every_quantity_has_its_metric_figure_behind(run: Run, more: tuple[str, ...]) -> None:
    us, metric = said(run, *FULL, *more), said(run, *FULL, *more, *METRIC)
    assert us == said(run, *FULL, *more, "--units", "us")
    bare = r"\d (?:lb N/ac|bu/ac|gal|ac|lb N per bushel|(?:heads )?per ft²)(?! \(| per)\b.{9}"
    assert re.search(bare, us)
    assert not re.findall(bare, metric)
    for words in (
        "17-30 lb N/ac (19-34 kg N/ha) now",
        "whole: 80 bu/ac (5.4 t/ha) x 1.1-1.5 lb N per bushel (18-25 kg N/t)",
        "then 51-70 lb N/ac (57-78 kg N/ha) just before jointing",
        "cost 8.53-15.50 (22.52-38.90 per hectare)",
        "192-338 gal (726-1,280 L)",
        "1,250-2,200 lb (565-997 kg)",
        "34-60 lb N/ac (38-67 kg N/ha)",
    ):
        assert words in metric
        assert words not in us


def test_both_screens_say_the_ceilings_and_what_a_machine_is_set_to(run: Run) -> None:
    short, full = said(run, *FULL, *METRIC), said(run, *FULL, "--explain", *METRIC)
    assert "in all Delaware 120 lb N/ac (135 kg N/ha)" in short
    assert "urea an acre: 37-65 lb (41-75 kg/ha)" in short
    assert "UAN 28 an acre: 5.5-10 gal (55-95 L/ha) or 60-105 lb (70-120 kg/ha)" in short
    assert "25-44 heads per ft² (274-475 per m²) for the mean" in full
    assert "15 °C (59 °F), and rather later" in full
    assert "(°C-days above 0 °C)" in full


def test_one_rate_has_one_metric_figure(run: Run, tmp_path: Path) -> None:
    """Of 10 t/ha the rounded 164 lb are 184 kg, what they are rounded from 183."""
    page = tmp_path / "r.html"
    ask = (POLE, "--stage", "Feekes 4", "--rules", "uk-stand", *METRIC, "--yield-goal", "10 t/ha")
    said(run, "report", *ask, "--html", page)
    texts = [said(run, command, *ask) for command in ("assess", "nitrogen")]
    for text in (*texts, page.read_text("utf-8")):
        assert "164-223 lb N/ac (183-250 kg N/ha)" in text
        assert "(184" not in text
    assert "183 to 250" in re.sub(r"<[^>]+>", "", page.read_text("utf-8"))


def test_no_pounds_without_their_unit(run: Run) -> None:
    full = said(run, *FULL, "--explain", *METRIC)
    assert "less 20 lb N/ac (22 kg N/ha) = " in full
    assert "in all: 88-120 lb N/ac" in full
    assert not re.findall(r"\d less .{9}|\d% of \d.{9}|\d lb (?:in spring|where)\b", full)
    assert "no more than 120 lb N/ac (135 kg N/ha) in spring" in full
    for rules in ("uk-stand", "common-practice"):
        low = said(run, "nitrogen", POLE, "--rules", rules, "--yield-goal", "0.6 t/ha", *METRIC)
        assert ("was ten times that meant?" in low) == (rules == "common-practice")


def test_sulfur_too(run: Run) -> None:
    ask = ("nitrogen", POLE, *GOAL, "--product", "ams")
    assert re.search(r"with 25-41 lb sulfur (?!\()", f"{said(run, *ask)} ")
    assert "with 25-41 lb sulfur (28-46 kg/ha)" in said(run, *ask, *METRIC)


def test_the_file_keeps_what_it_kept(run: Run, tmp_path: Path) -> None:
    us, metric = tmp_path / "u.json", tmp_path / "m.json"
    said(run, *FULL, "--json", us)
    said(run, *FULL, "--json", metric, *METRIC)
    assert us.read_bytes() == metric.read_bytes()


def test_what_was_typed_in_either_unit_is_shown_alike(run: Run) -> None:
    """A rate of 20 kg/ha is 17.8 lb/ac, so both come back as they were typed."""
    ask = ("nitrogen", POLE, "--stage", "Feekes 3", *METRIC, "--yield-goal")
    metric = said(run, *ask, "5.4 t/ha", "--given", "20 kg/ha")
    assert "18 lb N/ac (20 kg N/ha) are on already" in metric
    assert "on already: 18 lb N/ac (20 kg N/ha)" in metric
    # a dose has one figure: that of its row, not the rounded pounds turned round
    assert metric.count("4-18 lb N/ac (5-21 kg N/ha)") == 3
    assert metric.count("66-84 lb N/ac (74-95 kg N/ha)") == 3
    assert "4.5-20 kg" not in metric
    assert "74-94 kg" not in metric
    goal, given = t_per_ha_to_bu_per_ac(5.4, "wheat"), lb_per_ac(20.0)
    assert metric == said(run, *ask, f"{goal!r} bu/ac", "--given", f"{given!r} lb/ac")


def test_without_counts(run: Run) -> None:
    ask = ("nitrogen", "--rules", "tri-state-nitrogen-2020", "--yield-goal", "80 bu/ac")
    metric = said(run, *ask, *METRIC)
    assert metric.startswith("93 lb N/ac (105 kg N/ha) any time from green-up")
    assert said(run, *ask).startswith("93 lb N/ac any time")


def test_a_tissue_test_says_the_unit_of_each_rate(run: Run) -> None:
    ask = ("nitrogen", POLE, "--stage", "Feekes 5", "--yield-goal", "80 bu/ac", "--tissue", "3.1")
    metric = said(run, *ask, *METRIC)
    assert "76 lb N/ac (85 kg N/ha) this spring, below the 88-120 lb N/ac (99-135 kg" in metric


def test_other_units(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "n.json"
    wrong = run("nitrogen", POLE, *GOAL, "--units", "si", "--json", file)
    assert wrong.exit_code == 2
    assert "units 'si' aren't known; use us or metric" in wrong.stderr
    assert not file.exists()
