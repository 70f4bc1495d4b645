"""The chain from counts to verdict, worked out again from what the JSON says of each step."""

from __future__ import annotations

import itertools
import json
import math
import re
from typing import Any

import numpy as np
import pytest

from tests.stand.fields import field
from tests.stand.reckoned import factor, under
from tillercount.field import SpotDensity
from tillercount.stand import assess
from tillercount.units import per_m2

FIELDS: dict[str, list[SpotDensity]] = {
    "by hand": field([22, 23, 19, 25, 28, 24]),
    "undecided": field([14, 21, 15, 23, 18, 17], each=2.6),
    "photos and hand": [
        SpotDensity("1", "hand", per_m2(21), per_m2(60)),
        *(
            SpotDensity(
                str(i), "photo", per_m2(p), per_m2(3 * p), plants_bias_rel=0.15, shoots_bias_rel=0.1
            )
            for i, p in enumerate((24, 19, 26, 27, 21))
        ),
        SpotDensity("9", "hand", per_m2(25), per_m2(71)),
    ],
}  # fmt: skip


@pytest.fixture(params=[(f, r) for f in FIELDS for r in ("common-practice", "pennsylvania-stand")],
                ids=lambda one: " ".join(one))  # fmt: skip
def data(request: pytest.FixtureRequest) -> dict[str, Any]:
    name, rules = request.param
    result = assess(FIELDS[name], rules, yield_goal="80 bu/ac", stage="Feekes 3")
    kept: dict[str, Any] = json.loads(json.dumps(result.to_json(), allow_nan=False))
    return kept


def figures(data: dict[str, Any], what: str) -> dict[str, Any]:
    (step,) = (step for step in data["steps"] if step["what"] == what)
    assert step["value"]
    assert step["why"]
    found: dict[str, Any] = step["figures"]
    return found


def test_counts_to_spots(data: dict[str, Any]) -> None:
    """A hand count stands for its photo; every other value enters as it was counted."""
    spots = figures(data, "Spots")
    used = {
        one["spot"]: one
        for one in data["field"]["spot_values"]
        if one["role"] == "used"
    }  # fmt: skip
    for what in ("plants_per_ft2", "shoots_per_ft2"):
        assert spots[what] == pytest.approx({name: one[what] for name, one in used.items()})
        for name, value in spots[what].items():
            step = data["steps"][0]["value"]
            assert re.search(rf"\b{name} ", step)
            assert f"{value:.1f}" in step or f"{value:.0f}" in step


def test_pairs_to_a_corrected_mean() -> None:
    """With pairs enough, the mean of the photos plus the mean difference hand less photo."""
    photos = [24.0, 19.0, 26.0, 27.0, 21.0, 23.0, 25.0, 20.0]
    more = [2.0, 3.0, 1.0, 2.5, 2.0]
    spots = [
        *(SpotDensity(str(i), "photo", per_m2(p), None) for i, p in enumerate(photos)),
        *(
            SpotDensity(str(i), "hand", per_m2(photos[i] + d), None) for i, d in enumerate(more)
        ),
    ]  # fmt: skip
    data = json.loads(json.dumps(assess(spots).to_json(), allow_nan=False))
    both = figures(data, "Plants both ways")
    assert both["method"] == "difference"
    listed = data["field"]["spot_values"]
    seen = {s["spot"]: s["plants_per_ft2"] for s in listed if s["source"] == "photo"}
    dug = {s["spot"]: s["plants_per_ft2"] for s in listed if s["source"] == "hand"}
    difference = np.mean([dug[name] - seen[name] for name in dug])
    assert both["pairs"] == len(dug)
    assert both["hand_minus_photo_per_ft2"] == pytest.approx(difference)
    mean = figures(data, "Plants per ft²")["mean"]
    assert mean == pytest.approx(np.mean(list(seen.values())) + difference)
    assert figures(data, "Bands of plants")["mean"] == pytest.approx(mean)


def test_spots_to_mean_and_interval(data: dict[str, Any]) -> None:
    """Mean of the spots, and the factor that their spread and the usual one give."""
    spots = figures(data, "Spots")
    for what in ("plants", "shoots"):
        values = np.array(list(spots[f"{what}_per_ft2"].values()))
        found = figures(data, f"{what.capitalize()} per ft²")
        ratio = factor(found, (1 + found["level"]) / 2)
        assert found["mean"] == pytest.approx(values.mean())
        assert found["low"] == pytest.approx(values.mean() / ratio, rel=1e-3)
        assert found["high"] == pytest.approx(values.mean() * ratio, rel=1e-3)
        assert found["cv"] == pytest.approx(values.std(ddof=1) / values.mean())
        assert found["spots"] == len(values)
        assert data["field"][f"{what}_per_ft2"]["mean"] == found["mean"]


def measures(data: dict[str, Any]) -> list[str]:
    return [one["measures"] for one in data["thresholds"]]


def test_mean_to_bands(data: dict[str, Any]) -> None:
    """How much these spots differ and spots usually do; none below zero."""
    for what in measures(data):
        found = figures(data, f"Bands of {what}")
        mean = figures(data, f"{what.capitalize()} per ft²")
        assert found["mean"] == pytest.approx(mean["mean"])
        assert found["scale"] == pytest.approx(mean["scale"])
        assert found["df"] == mean["df"]
        edges = [under(mean, border) for border in (0.0, *found["borders"])] + [1.0]
        shares = [(b - a) / (1 - edges[0]) for a, b in itertools.pairwise(edges)]
        assert found["band_probabilities"] == pytest.approx(shares, abs=1e-3)


def test_bands_to_class_to_verdict(data: dict[str, Any]) -> None:
    for what in measures(data):
        bands, found = figures(data, f"Bands of {what}"), figures(data, f"Class by {what}")
        summed: dict[str, float] = {}
        for name, share in zip(bands["classes"], bands["band_probabilities"], strict=True):
            summed[name] = summed.get(name, 0.0) + share
        assert found["probabilities"] == pytest.approx(summed)
        top = max(summed, key=lambda name: summed[name])
        assert found["clear"] == (summed[top] >= found["clear_from"])
        if what == data["verdict"]["by"]:
            verdict = figures(data, "Verdict")
            assert verdict == {"class": top, "clear": found["clear"]}
            assert data["verdict"]["class"] == top


def test_shoots_to_heads_to_yield(data: dict[str, Any]) -> None:
    shoots, heads, yields = (
        figures(data, one) for one in ("Shoots per ft²", "Heads expected", "Yield expected")
    )
    assert heads["from"] == pytest.approx([shoots["mean"], shoots["mean"]])
    assert heads["sampling"] == pytest.approx([shoots[e] / shoots["mean"] for e in ("low", "high")])
    assert yields["from"] == pytest.approx([heads["low"], heads["high"]])
    for found in (heads, yields):
        most = found["at_most"] or math.inf
        for row in found["by_source"]:
            assert row["low"] == pytest.approx(min(most, found["from"][0] * row["factor"][0]))
            assert row["high"] == pytest.approx(min(most, found["from"][1] * row["factor"][1]))
            assert row["source"]
        assert found["low"] == pytest.approx(min(row["low"] for row in found["by_source"]))
        assert found["high"] == pytest.approx(max(row["high"] for row in found["by_source"]))


def test_goal_to_pounds(data: dict[str, Any]) -> None:
    found = figures(data, "Nitrogen")
    steps = [step for step in data["steps"] if step["what"].startswith("Nitrogen")]
    if data["nitrogen"]["advice"] in {"keep first", "undecided"}:  # a whole would read as a rate
        (said,) = steps
        assert not re.search(r"\d lb", said["value"])
        return
    (worked,) = (step for step in steps if step["what"] == "Nitrogen, worked out")
    goal, low, high = map(
        float, re.findall(r"(\d+) bu/ac x ([\d.]+)-([\d.]+) lb", worked["value"])[0]
    )
    assert goal == found["yield_goal_bu_ac"]
    assert found["total"] == pytest.approx([goal * low, goal * high])
    if found["early"] is not None and found["before_jointing"] is not None:
        for whole, early, main in zip(
            found["total"], found["early"], found["before_jointing"], strict=True
        ):
            assert early + main == pytest.approx(whole)
    assert worked["why"]


def test_more_counting_and_stopping(data: dict[str, Any]) -> None:
    for threshold in data["thresholds"]:
        stop = figures(data, f"Stopping, {threshold['measures']}")
        assert stop == threshold["stop"]
        if not threshold["clear"]:
            more = figures(data, f"More counting of {threshold['measures']}")
            assert more["further"] == threshold["further"]


def test_steps_say_nothing_twice_and_no_range_of_one_number() -> None:
    """A photo's error was said to be that of spots counted by hand as well."""
    result = assess(FIELDS["photos and hand"], stage="Feekes 3")
    steps = {step.what: step for step in result.steps}
    assert steps["Plants per ft²"].why.endswith("%")
    assert not steps["Plants both ways"].why.startswith("plants:")
    assert "UK planning chain" in steps["Heads expected"].why
    for step in steps.values():
        assert not re.search(r"\b(\d+(?: x [\d.]+)?)(?:-| to )\1\b", step.why), step.why


def test_square_feet_are_written_alike_wherever_a_person_reads_them(data: dict[str, Any]) -> None:
    said = (step[key] for step in data["steps"] for key in ("value", "why"))
    read = [*data["verdict"]["sources"], *said]
    assert any("per ft²" in text for text in read)
    assert any("heads/ft²" in text for text in read)
    assert not [text for text in read if "ft2" in text]
