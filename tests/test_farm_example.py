"""The example farm, small: the installed commands from boundary to decision."""

from __future__ import annotations

import csv
import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
COMMAND = Path(sys.executable).with_name("tillercount")


def loaded() -> Any:
    """The script as a module."""
    path = ROOT / "scripts" / "farm_example.py"
    spec = importlib.util.spec_from_file_location("farm_example", path)
    assert spec is not None
    assert spec.loader is not None
    example = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(example)
    return example


@pytest.mark.slow
def test_two_fields_to_a_decision(tmp_path: Path) -> None:
    if not COMMAND.exists():
        pytest.skip("tillercount isn't installed beside this Python")
    done = subprocess.run(
        [sys.executable, ROOT / "scripts" / "farm_example.py", "--command", COMMAND, "--fields",
         "2", "--no-photos", "--out", tmp_path],
        capture_output=True, text=True, check=False, env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert "invented" in lines[0]
    decisions = {line[:15].strip(): line[16:] for line in lines if line.startswith(("Cre", "Bar"))}
    assert set(decisions) == {"Creek field", "Barn field"}
    assert all(len(text) > 20 for text in decisions.values())
    # the thin field and the thick one don't come out alike
    assert decisions["Creek field"] != decisions["Barn field"]
    made = json.loads((tmp_path / "creek_field.geojson").read_text(encoding="utf-8"))
    by_hand = [f["properties"]["spot"] for f in made["features"] if f["properties"].get("by_hand")]
    with (tmp_path / "creek_field.hand.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [int(row["spot"]) for row in rows] == by_hand
    assert {row["observer"] for row in rows} == {"invented"}
    assert (tmp_path / "barn_field.pdf").read_bytes().startswith(b"%PDF")
    with (tmp_path / "alder_bend_2027.csv").open(encoding="utf-8", newline="") as file:
        kept = list(csv.DictReader(file))
    assert {row["field"] for row in kept} == set(decisions)
    assert all(row["placed"] == "place" for row in kept if row["source"] == "photo")


def test_a_decision_is_told_in_whole_sentences(tmp_path: Path) -> None:
    example = loaded()
    said = (
        "Too close to call: “on target” or “thin”. The count of plants doesn't tell them \n"
        "apart yet.\n\nplants         29 per ft²\n"
    )
    decision = example.decided(lambda *words: said, tmp_path, tmp_path / "f", ())
    assert decision.endswith("The count of plants doesn't tell them apart yet.")
    lines = example.listed("Creek field", f"{decision} {decision}").splitlines()
    assert lines[0].startswith("Creek field     Too close to call")
    assert len(lines) > 1
    assert all(line[:16].isspace() and len(line) <= example.WIDTH for line in lines[1:])
    assert " ".join(" ".join(line[16:] for line in lines).split()) == f"{decision} {decision}"


def test_fields_counted_by_hand_are_those_of_the_samples(tmp_path: Path) -> None:
    """A field must not be "keep" in one example and "rotate" in another."""
    example = loaded()
    assert set(example.COUNTED) == {name for name, stand in example.FIELDS.items() if not stand}
    visit = ROOT / "sample_images" / "spring_visit"
    # Creek field has sample photos of its own, which are what is counted there
    assert {*example.COUNTED.values(), "creek_field.csv", "weather.csv"} == {
        one.name for one in visit.glob("*.csv")
    }
    for field, name in example.COUNTED.items():
        told: list[tuple[object, ...]] = []

        def run(*words: object, told: list[tuple[object, ...]] = told) -> str:
            told.append(words)
            return "a decision"

        said = example.one_field(run, field, tmp_path, tmp_path / "s.sqlite", 1, True)
        assert said == "a decision"
        added = [words[3] for words in told if words[:2] == ("season", "add")]
        assert added == [visit / name]
