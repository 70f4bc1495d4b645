"""Zones of a field."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tillercount.errors import InputError
from tillercount.field import SpotDensity, estimate_field, patchiness
from tillercount.stand import assess
from tillercount.units import per_m2

HILL, FLAT = [12.0, 15.0, 10.0], [24.0, 27.0, 22.0, 26.0]


def field(bias: float = 0.0, source: str = "hand", **zones: list[float]) -> list[SpotDensity]:
    return [
        SpotDensity(
            f"{zone}{i}",
            source,
            v,
            None,
            zone=zone,
            plants_bias_rel=bias,
            area_m2=1.0,  # type: ignore[arg-type]
        )
        for zone, values in zones.items()
        for i, v in enumerate(values)
    ]


def test_weighted_by_area() -> None:
    """mean = ΣWm, var = ΣW²s²/n with Satterthwaite's degrees of freedom (Cochran 1977, ch. 5)."""
    found = estimate_field(field(hill=HILL, flat=FLAT), zone_areas={"hill": 30.0, "flat": 10.0})
    w = {"hill": 0.75, "flat": 0.25}
    parts = [
        (w[name] ** 2 * np.var(v, ddof=1) / len(v), len(v) - 1)
        for name, v in (("hill", HILL), ("flat", FLAT))
    ]
    se = math.sqrt(sum(p for p, _ in parts))
    df = sum(p for p, _ in parts) ** 2 / sum(p * p / d for p, d in parts)
    assert found.plants is not None
    assert found.plants.mean == pytest.approx(0.75 * np.mean(HILL) + 0.25 * np.mean(FLAT))
    assert found.plants.df == pytest.approx(df)
    half = found.plants.high - found.plants.mean
    assert half == pytest.approx(stats.t.ppf(0.95, df) * se)
    (split,) = found.zones
    assert [z.zone for z in split.zones] == ["flat", "hill"]
    assert [z.area_share for z in split.zones] == [0.25, 0.75]
    assert not any("averaged by number of spots" in flag for flag in found.flags)


def test_without_areas_zones_stand_beside_the_mean() -> None:
    found = estimate_field(field(hill=HILL, flat=FLAT))
    assert found.plants is not None
    assert found.plants.mean == pytest.approx(np.mean(HILL + FLAT))
    (split,) = found.zones
    assert split.weighted is None
    assert any("averaged by number of spots" in flag for flag in found.flags)
    assert any("differ between zones by more than chance" in flag for flag in found.flags)


def test_shared_photo_error_adds_up_over_zones() -> None:
    """The same error in every zone doesn't average out."""
    photos = field(0.1, "photo", hill=HILL * 6, flat=FLAT * 6)
    found = estimate_field(photos, zone_areas={"hill": 1, "flat": 1}).plants
    assert found is not None
    assert found.shared_rel == pytest.approx(0.1)
    assert found.high - found.mean > stats.norm.ppf(0.95) * 0.1 * found.mean


def test_zone_with_one_spot() -> None:
    found = estimate_field(field(hill=[12.0], flat=FLAT), zone_areas={"hill": 1, "flat": 1})
    assert found.plants is not None
    assert any("one spot only; its scatter is taken from the other" in f for f in found.flags)
    cv = np.std(FLAT, ddof=1) / np.mean(FLAT)
    se = math.hypot(0.5 * cv * 12.0, 0.5 * np.std(FLAT, ddof=1) / 2)
    half = found.plants.high - found.plants.mean
    assert half == pytest.approx(stats.t.ppf(0.95, found.plants.df) * se)


def test_pairs_work_inside_zones() -> None:
    rng = np.random.default_rng(2)
    listed = []
    for zone, mean in (("a", 20.0), ("b", 30.0)):
        for i in range(12):
            y = float(rng.normal(mean, 4))
            x = y - 4 + float(rng.normal(0, 1))
            listed.append(SpotDensity(f"{zone}{i}", "photo", x, None, zone=zone))
            if i < 5:
                listed.append(SpotDensity(f"{zone}{i}", "hand", y, None, zone=zone))
    (split,) = estimate_field(listed, zone_areas={"a": 2, "b": 1}).zones
    assert split.weighted is not None
    assert all("difference estimator" in z.estimate.how for z in split.zones)
    assert split.weighted.mean == pytest.approx(70 / 3, abs=2.5)


def test_patchiness_is_the_analysis_of_variance() -> None:
    share, p = patchiness([HILL, FLAT])
    assert p == pytest.approx(stats.f_oneway(HILL, FLAT).pvalue)
    assert share is not None
    assert 0.8 < share < 1.0
    assert patchiness([[1.0], [2.0]]) == (None, None)
    assert patchiness([[2.0, 2.0], [2.0, 2.0]]) == (None, None)
    assert patchiness([[1.0, 1.0], [2.0, 2.0]]) == (1.0, 0.0)
    assert patchiness([HILL]) == (None, None)


@given(st.integers(0, 10_000))
def test_alike_zones_share_little(seed: int) -> None:
    rng = np.random.default_rng(seed)
    share, p = patchiness([list(rng.normal(20, 4, 40)) for _ in range(4)])
    assert share is not None
    assert p is not None
    assert 0 <= share < 0.3
    assert 0 <= p <= 1


@pytest.mark.parametrize(
    ("areas", "says"),
    [
        ({"hill": 1.0}, "'flat' has no area"),
        ({"hill": 1.0, "flat": 0.0}, "must be above zero"),
        ({"hill": 1.0, "flat": 1.0, "wood": 2.0}, "'wood' has an area but no counted spot"),
    ],
)
def test_areas_that_do_not_fit(areas: dict[str, float], says: str) -> None:
    with pytest.raises(InputError, match=says):
        estimate_field(field(hill=HILL, flat=FLAT), zone_areas=areas)


def test_spots_without_a_zone() -> None:
    mixed = [*field(hill=HILL, flat=FLAT), SpotDensity("x", "hand", 20.0, None)]
    with pytest.raises(InputError, match="some spots have no zone"):
        estimate_field(mixed, zone_areas={"hill": 1.0, "flat": 1.0})
    found = estimate_field(mixed)
    assert found.plants is not None
    assert found.plants.n == 8
    assert [z.zone for z in found.zones[0].zones] == ["flat", "hill"]


def test_assess_takes_areas() -> None:
    spots = [
        SpotDensity(f"{zone}{i}", "hand", per_m2(v), per_m2(3 * v), zone=zone)
        for zone, values in (("hill", HILL), ("flat", FLAT))
        for i, v in enumerate(values)
    ]
    record = assess(spots, zone_areas={"hill": 1.0, "flat": 9.0}).to_json()
    mean = 0.1 * np.mean(HILL) + 0.9 * np.mean(FLAT)
    assert record["field"]["plants_per_ft2"]["mean"] == pytest.approx(mean)
    zones = record["sampling"]["zones"]["plants"]
    assert zones["weighted_per_ft2"]["mean"] == pytest.approx(mean)
    assert [z["area_share"] for z in zones["zones"]] == [0.9, 0.1]
