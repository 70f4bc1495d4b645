"""Short screens of ``assess``; ``--explain`` with every step; names of rules nearly right."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]


def write(path: Path, plants: list[float]) -> Path:
    rows = "".join(f"{n},ann,{p},{3 * p},square:12in\n" for n, p in enumerate(plants))
    path.write_text("spot,observer,plants,shoots,area\n" + rows, encoding="utf-8")
    return path


def squeezed(text: str) -> str:
    """Without what folding over lines adds."""
    return re.sub(r"\s+", "", text)


def test_explain_prints_every_step_with_its_figure_and_source(run: Run, tmp_path: Path) -> None:
    counts, out = write(tmp_path / "c.csv", [21, 23, 19, 25, 22]), tmp_path / "a.json"
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
    counts = write(tmp_path / "one.csv", [27])
    done = run("assess", counts, "--yield-goal", "80 bu/ac", "--html", tmp_path / "p.html")
    said = " ".join(done.output.split())
    assert "1. Count 5 more spots" in said
    assert "won't settle" not in said
    assert "Count more spots before spreading" in said
    assert re.findall(r"^ +(\d)\. ", done.output, re.M) == ["1", "2", "3", "4", "5"]
    assert "also 1 more: see --explain" in said
    page = (tmp_path / "p.html").read_text("utf-8")
    assert page.count("Count 5 more spots") == 1
    assert "Also (1 more)" in page


def test_the_whole_in_pounds_as_on_the_page(run: Run, tmp_path: Path) -> None:
    """Once jointed nothing is split: the screen says the whole as the page does."""
    counts, page = write(tmp_path / "c.csv", [22, 23, 22, 21, 22]), tmp_path / "p.html"
    done = run("assess", counts, "--yield-goal", "80 bu/ac", "--stage", "Feekes 6",
               "--html", page)  # fmt: skip
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
    counts = write(tmp_path / "c.csv", [22, 23, 22, 21, 22])
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
