"""Whole photos with hardly any crop: said before the verdict, and none is built on them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.store.helpers import counts, entry
from tillercount import assess

FLAG = (
    "hardly any crop is seen (0 % of the photo): look whether it shows ground of the field at all, "
    "and leave it out if it doesn't"
)


def bare(number: int) -> dict[str, object]:
    none = {"count": 0.0, "low": 0.0, "high": 1.5}
    return entry(number, flags=[FLAG], plants=none, shoots=none)


@pytest.mark.parametrize(("empty", "held"), [(0, False), (1, False), (3, True), (6, True)])
def test_a_verdict_by_such_photos_is_held(tmp_path: Path, empty: int, held: bool) -> None:
    photos = [bare(n) if n <= empty else entry(n) for n in range(1, 7)]
    path = tmp_path / "c.json"
    path.write_text(json.dumps(counts(photos)))
    result = assess([path], "common-practice")
    said = [line for line in result.verdict.warnings if line.startswith("hardly any crop is seen")]
    assert len(said) == (empty > 0)
    assert not any("photos flagged" in flag for flag in result.flags)
    hold = result.plants.held if result.plants is not None else None
    assert (hold is not None and "hardly any crop is seen" in hold.why) == held
    assert not (held and result.verdict.clear)


@pytest.mark.parametrize("dug", [4, 6])
def test_hand_counts_of_the_same_spots_settle_it(tmp_path: Path, dug: int) -> None:
    path, hand = tmp_path / "c.json", tmp_path / "h.csv"
    path.write_text(json.dumps(counts([bare(n) for n in range(1, 7)])))
    hand.write_text(
        "spot,plants,shoots,area\n" + "".join(f"IMG_{n},0,0,1 ft2\n" for n in range(1, dug + 1))
    )
    result = assess([path, hand], "common-practice")
    assert result.plants is not None
    assert result.plants.held is None
    said = [line for line in result.verdict.warnings if line.startswith("hardly any crop is seen")]
    assert len(said) == (dug < 6)
    assert result.field.plants is not None
    assert result.field.plants.mean == 0
    assert 0 < result.field.plants.high < 40  # per m²: six empty spots don't say that there is none
    assert sum(result.plants.probabilities.values()) == pytest.approx(1.0)
