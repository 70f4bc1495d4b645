"""``tillercount assess`` of a field with photos and hand counts of the same spots."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tillercount.cli.verdict import _stop
from tillercount.field import SpotDensity
from tillercount.stand import assess
from tillercount.stand.words import number_text
from tillercount.units import per_m2

Run = Callable[..., Any]


def write_field(folder: Path, pairs: int) -> tuple[Path, Path]:
    """Twenty photos that read two plants too few, the first ones also counted by hand."""
    rng = np.random.default_rng(12)
    spots, rows = [], ["spot,observer,plants,shoots,area,zone"]
    for i in range(20):
        plants = int(rng.integers(17, 28))
        read = plants - 2 + float(rng.normal(0, 0.8))
        spots.append(
            {
                "photo": f"p{i}.jpg",
                "status": "counted",
                "area": {"kind": "square", "ft2": 1.0},
                "plants": {"count": read, "low": read - 3, "high": read + 3},
                "shoots": {"count": 3 * read, "low": 3 * read - 9, "high": 3 * read + 9},
                "flags": [],
            }
        )
        if i < pairs:
            rows.append(f"p{i},Ash,{plants},{3 * plants},1 ft2,{'hill' if i % 2 else 'flat'}")
    counts, hand = folder / "c.json", folder / "hand.csv"
    record = {
        "schema": "tillercount.counts/1",
        "model": {"name": "m", "sha256": "ab", "bias_rel": 0.15},
        "interval_level": 0.9,
        "spots": spots,
    }
    counts.write_text(json.dumps(record), encoding="utf-8")
    hand.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return counts, hand


def test_spots_that_settle_nothing_are_not_said_to_be_enough() -> None:
    """No class is even half likely, and further spots aren't worth the walk."""
    spots = [
        SpotDensity(f"s{i}", "photo", per_m2(p), per_m2(3 * p), plants_bias_rel=0.22)
        for i, p in enumerate((14.0, 25.0, 26.0, 24.0, 36.0))
    ]
    result = assess(spots)
    record = result.to_json()
    stop = next(t["stop"] for t in record["thresholds"] if t["measures"] == "plants")
    assert max(record["verdict"]["probabilities"].values()) < 0.5
    assert not record["verdict"]["counting_helps"]
    said = _stop(stop, record["verdict"], False, result.decided_by)
    assert said.startswith("they don't settle it")


@pytest.mark.parametrize(
    ("pairs", "method"), [(2, "as counted"), (6, "difference"), (12, "regression")]
)
def test_each_way_and_together(run: Run, tmp_path: Path, pairs: int, method: str) -> None:
    out, page = tmp_path / "a.json", tmp_path / "a.html"
    given = (*write_field(tmp_path, pairs), "--json", out, "--html", page)
    done = run("assess", *given, "--explain")
    assert done.exit_code == 0, done.output
    record = json.loads(out.read_text("utf-8"))
    both = record["sampling"]["photo_and_hand"]["plants"]
    assert both["method"] == method
    assert both["pairs"] == pairs
    for row in ("by hand alone", "by photo alone", f"{method}: "):
        assert row in done.stdout
    assert ("  together" in done.stdout) == (method != "as counted")
    for key in ("hand_per_ft2", "photo_per_ft2", "combined_per_ft2"):
        if both[key] is not None:
            assert f"{number_text(both[key]['mean'], ())} per ft²" in done.stdout
    assert "zone flat" in done.stdout
    assert "unevenness" in done.stdout
    assert "enough spots?" in done.stdout
    assert record["thresholds"][0]["stop"]["method"]
    short = run("assess", *given).stdout
    assert "zone flat" in short
    assert "enough spots?" in short
    assert "unevenness" not in short
    assert "by hand alone" not in short
    assert "both ways" in page.read_text("utf-8")


def test_photos_alone_say_what_would_settle_it(run: Run, tmp_path: Path) -> None:
    counts, _hand = write_field(tmp_path, 0)
    out = tmp_path / "a.json"
    done = run("assess", counts, "--json", out)
    assert done.exit_code == 0, done.output
    record = json.loads(out.read_text("utf-8"))
    assert record["sampling"]["photo_and_hand"] == {}
    assert "by hand alone" not in done.stdout
    verdict = record["verdict"]
    assert not verdict["clear"]
    assert "by hand" in verdict["settle"]
    further = {one["kind"]: one for one in record["thresholds"][0]["further"]}
    assert set(further) == {"photo", "hand"}
    assert further["hand"]["minutes"] == further["hand"]["spots"] * 15
