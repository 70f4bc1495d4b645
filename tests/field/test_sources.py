"""Counts of every origin as spots."""

from __future__ import annotations

import copy
import json
import math
from pathlib import Path
from typing import Any

import pytest
from scipy import stats

from tillercount.area import SquareArea
from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.field import SpotDensity, collect
from tillercount.hand import HandCount
from tillercount.units import per_ft2

COUNTS: dict[str, Any] = {
    "schema": "tillercount.counts/1",
    "model": {"name": "m", "sha256": "ab", "bias_rel": 0.05},
    "interval_level": 0.9,
    "spots": [
        {
            "photo": "field/a.jpg",
            "status": "counted",
            "reason": None,
            "area": {"kind": "square", "ft2": 2.0, "outline_px": []},
            "plants": {"count": 48.2, "low": 40.0, "high": 57.6},
            "shoots": {"count": 142.0, "low": 120.4, "high": 167.0},
            "cover": {"crop": 0.2, "other_plants": 0.0, "residue": 0.1, "soil": 0.7},
            "flags": ["glare"],
        },
        {"photo": "b.jpg", "status": "refused", "reason": "blurred"},
    ],
}


def changed(**values: Any) -> dict[str, Any]:
    counts = copy.deepcopy(COUNTS)
    counts["spots"][0].update(values)
    return counts


def test_a_counts_file(tmp_path: Path) -> None:
    path = tmp_path / "counts.json"
    path.write_text(json.dumps(COUNTS))
    for given in (path, str(path), COUNTS, [COUNTS]):
        found = collect(given)
        (spot,) = found.spots
        assert spot.spot == "a"
        assert spot.photo == "field/a.jpg"
        assert per_ft2(spot.plants_per_m2 or 0) == pytest.approx(24.1)
        assert per_ft2(spot.shoots_per_m2 or 0) == pytest.approx(71.0)
        z = stats.norm.ppf(0.95)
        assert per_ft2(spot.plants_se) == pytest.approx((57.6 - 40.0) / 2 / z / 2)
        assert spot.plants_bias_rel == 0.05
        assert spot.definition is Definition.STEMS
        assert spot.flags == ("glare",)
        assert found.refused == (("b.jpg", "blurred"),)
        assert found.model["name"] == "m"


def test_mixture_and_hand_counts(tmp_path: Path) -> None:
    csv = tmp_path / "hand.csv"
    csv.write_text("spot,observer,plants,shoots,area,definition\na.jpg,Ash,20,41,1 ft2,tillers\n")
    hand = HandCount("z", "Ash", 10, None, SquareArea(304.8))
    found = collect([COUNTS, csv, hand])
    assert [(s.spot, s.source) for s in found.spots] == [
        ("a", "photo"),
        ("a", "hand"),  # named by its photo
        ("z", "hand"),
    ]
    assert per_ft2(found.spots[1].shoots_per_m2 or 0) == pytest.approx(61.0)
    assert collect([hand]).model == {}


def test_objects_that_tell_their_json() -> None:
    class Spot:
        def to_json(self) -> dict[str, Any]:
            return COUNTS["spots"][0]

    found = collect([Spot()], model={"name": "m", "plants_bias_rel": 0.07})
    assert found.spots[0].plants_bias_rel == 0.07
    assert found.spots[0].shoots_bias_rel == 0.0


def test_photos_called_alike_are_two_places() -> None:
    counts = copy.deepcopy(COUNTS)
    counts["spots"][1] = {**counts["spots"][0], "photo": "other/a.jpg"}
    counts["spots"].append(counts["spots"][0])  # and one given twice is one
    assert [s.spot for s in collect(counts).spots] == ["field/a.jpg", "other/a.jpg"]


@pytest.mark.parametrize(
    ("counts", "says"),
    [
        ([], "no counts to assess"),
        ({**COUNTS, "schema": "x/2"}, "schema is 'x/2'"),
        ({**COUNTS, "spots": None}, "no list of spots"),
        ({**COUNTS, "spots": [3]}, "isn't a record"),
        ({**COUNTS, "interval_level": 2}, "interval_level"),
        ({**COUNTS, "spots": COUNTS["spots"][1:]}, r"all 1 photos were refused.*b\.jpg: blurred"),
        (changed(status="odd"), "status is 'odd'"),
        (changed(area={"kind": "square"}), r"area\.ft2: None isn't a finite number"),
        (changed(area={"ft2": 0.0}), r"area\.ft2: 0 must be above zero"),
        (changed(plants={"count": float("nan")}), r"plants\.count: nan"),
        (changed(plants={"count": -1.0}), "below zero"),
        (changed(plants={"count": 5.0, "low": 6.0, "high": 7.0}), "outside its own interval"),
        (changed(plants=4), "not a count with low and high"),
        (changed(plants=None, shoots=None), "neither plants nor shoots"),
        (3, "isn't a count"),
        ("x.pdf", "neither a counts file"),
        ("none.json", "can't be read"),
    ],
)
def test_counts_refused(counts: Any, says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        collect(counts)
    assert "\n" not in str(caught.value)


def test_broken_json(tmp_path: Path) -> None:
    path = tmp_path / "c.json"
    path.write_text('{"schema": "tillercount.counts/1",\n oops}')
    with pytest.raises(InputError, match=r"c\.json, line 2: not readable JSON"):
        collect(path)


def test_two_models_are_not_mixed() -> None:
    other = copy.deepcopy(COUNTS)
    other["model"] = {"name": "n", "sha256": "cd"}
    with pytest.raises(InputError, match="another model"):
        collect([COUNTS, other])


def test_photos_put_to_one_spot_share_it_with_all_that_is_called_so() -> None:
    """A hand count and a further photo of that name are of the spot, not of the photos' paths."""
    placed = [
        SpotDensity("4", "photo", 100.0, 300.0, photo=f"in/{name}.jpg", placed=True)
        for name in ("a", "b")
    ]
    hand = HandCount("spot 4", "Ash", 20, 60, SquareArea(304.8))
    found = collect([*placed, changed(photo="in/4.jpg")["spots"][0], hand])
    assert [spot.key for spot in found.spots] == ["4"] * 4
    # two that nobody put there are two places, whatever is called like them
    alike = [changed(photo=f"{folder}/4.jpg")["spots"][0] for folder in "xy"]
    assert [one.spot for one in collect([*placed, *alike]).spots[2:]] == ["x/4.jpg", "y/4.jpg"]


@pytest.mark.parametrize("odd", [math.nan, math.inf, -math.inf])
def test_no_number_is_refused_wherever_it_stands(tmp_path: Path, odd: float) -> None:
    file = tmp_path / "c.json"
    for wrong in (
        changed(rows={"found": True, "spacing_mm": odd}),
        changed(outline_px=[[0.0, odd]]),
        copy.deepcopy(COUNTS) | {"model": {"name": "m", "note": odd}},
    ):
        file.write_text(json.dumps(wrong), encoding="utf-8")
        with pytest.raises(InputError, match=r"c\.json: (spot a, |model).*isn't a finite number"):
            collect(file)
