"""The example farm, small: the installed commands from boundary to decision."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
COMMAND = Path(sys.executable).with_name("tillercount")


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
