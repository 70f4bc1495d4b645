"""Short screens of ``assess``; ``--explain`` with every step; names of rules nearly right."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.helpers import write_counts

Run = Callable[..., Any]


def squeezed(text: str) -> str:
    """Without what folding over lines adds."""
    return re.sub(r"\s+", "", text)


def test_explain_prints_every_step_with_its_figure_and_source(run: Run, tmp_path: Path) -> None:
    counts, out = write_counts(tmp_path / "c.csv", [21, 23, 19, 25, 22]), tmp_path / "a.json"
    done = run("assess", counts, "--yield-goal", "80 bu/ac", "--stage", "Feekes 3",
               "--explain", "--json", out)  # fmt: skip
    assert done.exit_code == 0, done.output
    said = squeezed(done.output)
    record = json.loads(out.read_text("utf-8"))
    names = [step["what"] for step in record["steps"]]
    assert names[0] == "Spots"
    for earlier, later in (("Spots", "Plants per ft²"), ("Plants per ft²", "Bands of plants"),
                           ("Bands of plants", "Class by plants"), ("Class by plants", "Verdict"),
                           ("Heads expected", "Yield expected"),
                           ("Nitrogen, worked out", "Nitrogen")):  # fmt: skip
        assert names.index(earlier) < names.index(later)
    at = 0
    for step in record["steps"]:  # in the same order on the screen
        at = said.index(squeezed(f"{step['what']}: {step['value']} ({step['why']})"), at)
    for line in (*record["verdict"]["actions"], *record["verdict"]["cautions"]):
        assert squeezed(line) in said
    short = run("assess", counts, "--yield-goal", "80 bu/ac", "--stage", "Feekes 3").output
    assert "How it came about" not in short
    assert len(short.splitlines()) < 42


def test_one_spot_says_one_thing(run: Run, tmp_path: Path) -> None:
    counts = write_counts(tmp_path / "one.csv", [27])
    done = run("assess", counts, "--yield-goal", "80 bu/ac", "--html", tmp_path / "p.html")
    said = " ".join(done.output.split())
    assert "1. Count 5 more spots" in said
    assert "won't settle" not in said
    assert "Count more spots before spreading" in said
    assert re.findall(r"^ +(\d)\. ", done.output, re.M) == ["1", "2", "3", "4", "5"]
    assert "With --explain: 1 more to do, 2 more to mind" in said
    page = (tmp_path / "p.html").read_text("utf-8")
    assert page.count("Count 5 more spots") == 1
    assert "Also (1 more)" in page


def test_the_whole_in_pounds_as_on_the_page(run: Run, tmp_path: Path) -> None:
    """Once jointed nothing is split: the screen says the whole as the page does."""
    counts, page = write_counts(tmp_path / "c.csv", [22, 23, 22, 21, 22]), tmp_path / "p.html"
    done = run("assess", counts, "--yield-goal", "80 bu/ac", "--stage", "Feekes 6",
               "--explain", "--html", page)  # fmt: skip
    assert "The whole: 88-120 lb N/ac; nothing taken off yet" in done.output
    assert "the whole is 99-135 kg N/ha" in done.output
    assert ">88-120<" in page.read_text("utf-8")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("ohio", ["ohio-stand", "ohio-stems", "tri-state-nitrogen-2020"]),
        ("Virginia", ["virginia-nitrogen"]),
        ("virgina", ["virginia-nitrogen"]),
        ("north carolina", ["north-carolina-ncdacs-nitrogen"]),
        ("PA", ["pennsylvania-stand"]),
        ("ohio_stand", ["ohio-stand"]),
    ],
)
def test_rules_nearly_named(run: Run, typed: str, meant: list[str]) -> None:
    done = run("rules", "show", typed)
    assert done.exit_code == 2
    (line,) = done.output.strip().splitlines()
    suggested = line.split("did you mean ")[1].split("?")[0]
    for name in meant:
        assert repr(name) in suggested
    assert "washington-nitrogen" not in line


def test_no_bookkeeping_words_on_screens(run: Run, tmp_path: Path) -> None:
    counts = write_counts(tmp_path / "c.csv", [22, 23, 22, 21, 22])
    page = tmp_path / "p.html"
    screens = [
        run("rules", "show", "pennsylvania-stand"),
        run("assess", counts, "--rules", "pennsylvania-stand", "--yield-goal", "80 bu/ac",
            "--explain", "--html", page),
        run("nitrogen", counts, "--yield-goal", "80 bu/ac", "--product", "uan32", "--explain",
            "--stage", "Feekes 3", "--weed", "henbit=40/m2"),
        run("rules", "compare", counts, "--region", "Pennsylvania"),
    ]  # fmt: skip
    for text in (*(screen.output for screen in screens), page.read_text("utf-8")):
        assert "(seen)" not in text
        assert ", seen" not in text
        assert not re.search(r"(?i)figures +seen", text)
    assert "read in the source named" in screens[0].output
    urea = run("nitrogen", counts, "--yield-goal", "80 bu/ac", "--product", "urea", "--explain")
    assert "46 % N (from memory)" in urea.output  # the exception is still marked


@pytest.mark.parametrize("plants", [[22, 27, 17, 24, 18, 29, 20, 25], [31, 25, 36, 30, 27, 34, 32]])
def test_an_ordinary_field_is_a_screenful(run: Run, tmp_path: Path, plants: list[float]) -> None:
    counts = write_counts(tmp_path / "c.csv", plants)
    asked = ("assess", counts, "--rules", "common-practice", "--yield-goal", "80 bu/ac", "--stage",
             "Feekes 3")  # fmt: skip
    short, full = run(*asked).output, run(*asked, "--explain").output
    assert len(short.splitlines()) <= 25
    first = short.splitlines()[0]
    assert first.startswith("The stand is")
    assert full.startswith(first)
    # What can hurt is on the short screen, once, and in few lines.
    said = " ".join(short.split())
    for words in (
        "not an insurance appraisal; do not destroy a stand before release",
        "nutrient-management plan", "the dates in this year's notice",
        "nothing on frozen, snow-covered or saturated ground", "the label is the law",
        "protective equipment", "keep to your",
        "licensed or certified crop adviser",
    ):  # fmt: skip
        assert said.count(words) == 1, words
    mind = short.split("\nMind\n")[1].split("\nWith --explain")[0]
    assert len(re.findall(r"^  - ", mind, re.M)) <= 4, mind
    assert "With --explain: 2 more to mind, sources, every step." in short
    for behind in ("Sources", "unevenness", "winter injury", "kg N/ha"):
        assert behind not in short
        assert behind in full


def test_a_refused_photo_is_told_once(run: Run, tmp_path: Path) -> None:
    one = {
        "photo": "creek/spot_01.jpg", "status": "counted", "area": {"ft2": 1.0},
        "plants": {"count": 22.0, "low": 18.0, "high": 26.0},
        "shoots": {"count": 66.0, "low": 55.0, "high": 80.0},
    }  # fmt: skip
    spots = [
        *({**one, "photo": f"creek/spot_0{i}.jpg"} for i in range(1, 5)),
        {"photo": "creek/spot_06.jpg", "status": "refused", "reason": "no square can be seen"},
    ]
    counts = tmp_path / "c.json"
    counts.write_text(json.dumps({"schema": "tillercount.counts/1", "spots": spots}))
    done = run("assess", counts)
    assert done.exit_code == 0, done.output
    assert done.output.count("spot_06.jpg") == 1
    assert "refused: no square can be seen" in done.output
