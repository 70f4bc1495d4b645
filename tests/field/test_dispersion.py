"""Unevenness from spot to spot, the odd spot, and spots below a limit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from shared_data import shared_path

from tillercount.errors import InputError
from tillercount.field import SpotDensity, dispersion, estimate_field, odd_one, share_under
from tillercount.field.dispersion import dispersion_of
from tillercount.units import per_ft2, per_m2


def spots(counts: list[float], area_m2: float = 0.1) -> list[SpotDensity]:
    """Plants counted in spots of this area."""
    return [
        SpotDensity(str(i), "hand", c / area_m2, None, area_m2=area_m2)
        for i, c in enumerate(counts)
    ]


def test_wheat_uniformity_trial() -> None:
    """Smith's wheat uniformity trial: ears per plot have variance/mean 1.02 (agridat,
    smith.wheat.uniformity)."""
    path = shared_path("data", "field_trials", "smith.wheat.uniformity.txt")
    rows = np.loadtxt(path, skiprows=1)
    found = dispersion_of(spots(list(rows[:, 3])), "plants")
    assert found is not None
    assert found.index == pytest.approx(1.02, abs=5e-3)
    assert found.index == pytest.approx(rows[:, 3].var(ddof=1) / rows[:, 3].mean())
    assert found.p_clumped is not None
    assert found.p_clumped > 0.05  # no more than chance


def test_five_published_counts() -> None:
    """10, 16, 8, 6, 18 (South Dakota State, Graham & Fanning): variance 26.8 over mean 11.6."""
    index, more, less = dispersion([10, 16, 8, 6, 18])
    assert index == pytest.approx(26.8 / 11.6)
    assert more == pytest.approx(stats.chi2.sf(4 * 26.8 / 11.6, 4))
    assert more + less == pytest.approx(1.0)


def test_unequal_areas() -> None:
    """The same density everywhere has no excess, whatever the areas."""
    assert dispersion([10, 20, 5], [1.0, 2.0, 0.5])[0] == pytest.approx(0.0)
    # halves of one area, counted together, are Pearson's statistic for their sums
    index, _, _ = dispersion([12, 30], [1.0, 2.0])
    assert index == pytest.approx((12 - 14) ** 2 / 14 + (30 - 28) ** 2 / 28)


def test_few_and_zero() -> None:
    assert dispersion([7]) == (None, None, None)
    assert dispersion([0, 0, 0]) == (None, None, None)
    none = dispersion_of(spots([0, 0, 0, 0, 0]), "plants")
    assert none is not None
    assert (none.index, none.k, none.odd) == (None, None, None)
    assert dispersion_of(spots([1]), "shoots") is None
    with pytest.raises(InputError, match="0 or more"):
        dispersion([1, -1])
    with pytest.raises(InputError, match="its area"):
        dispersion([1, 2], [1.0, 0.0])


def test_clumping_is_found_and_measured() -> None:
    """Negative binomial counts with k = 4: the index is 1 + mean/k, and k is recovered."""
    rng = np.random.default_rng(5)
    counts = list(rng.negative_binomial(4, 4 / (4 + 24), 4000).astype(float))
    found = dispersion_of(spots(counts), "plants")
    assert found is not None
    assert found.index == pytest.approx(7.0, rel=0.1)
    assert found.k == pytest.approx(4.0, rel=0.1)
    assert found.p_clumped == pytest.approx(0.0, abs=1e-9)


def test_false_alarms_are_as_stated() -> None:
    """At random, the index is "patchier than chance" at 5 % in 5 %, and a spot odd in no more."""
    rng = np.random.default_rng(8)
    fields, n = 2000, 8
    clumped = odd = 0
    for counts in rng.poisson(24, (fields, n)):
        clumped += dispersion(counts.tolist())[1] < 0.05
        odd += odd_one(counts.tolist()) is not None
    assert abs(clumped / fields - 0.05) < 3 * math.sqrt(0.05 * 0.95 / fields)
    assert odd / fields < 0.05 + 3 * math.sqrt(0.05 * 0.95 / fields)


def test_odd_spot_false_alarms_in_uneven_fields() -> None:
    """Where spots scatter more than chance, the test takes their own scatter: still about 5 %."""
    rng = np.random.default_rng(9)
    fields, n = 2000, 8
    values = rng.normal(7, 1.2, (fields, n)) ** 2
    odd = sum(odd_one(row.tolist()) is not None for row in values)
    assert abs(odd / fields - 0.05) < 3 * math.sqrt(0.05 * 0.95 / fields) + 0.01


def test_a_drowned_corner_is_named_and_kept() -> None:
    counts = [24.0, 27.0, 22.0, 25.0, 2.0, 26.0, 23.0]
    found = estimate_field(spots(counts))
    (uneven,) = found.dispersion
    assert uneven.odd is not None
    assert uneven.odd.spot == "4"
    assert uneven.odd.others_per_m2 == pytest.approx(np.mean(np.delete(counts, 4)) / 0.1)
    assert found.plants is not None
    assert found.plants.mean == pytest.approx(np.mean(counts) / 0.1)
    flag = next(flag for flag in found.flags if "doesn't fit" in flag)
    assert "spot 4" in flag
    assert f"{per_ft2(20.0):.1f}" in flag
    assert odd_one(counts[:3]) is None
    assert odd_one([20, 20, 20, 20, 24]) is None  # well within chance, though the rest agree


@given(st.lists(st.integers(0, 200), min_size=4, max_size=12))
def test_odd_spot_against_leaving_each_out(counts: list[int]) -> None:
    """Spot by spot: the same t as by taking each out in turn."""
    root = np.sqrt(np.asarray(counts) + 0.375)
    n = len(root)
    p = []
    for i in range(n):
        others = np.delete(root, i)
        t = abs(root[i] - others.mean()) / max(others.std(ddof=1), 0.5) / math.sqrt(n / (n - 1))
        p.append(2 * n * stats.t.sf(t, n - 2))
    found = odd_one(counts)
    if found is None:
        assert min(p) >= 0.05 * (1 - 1e-9)
    else:
        assert found[1] == pytest.approx(min(p), rel=1e-6)
        assert p[found[0]] == pytest.approx(min(p), rel=1e-6)


def test_spots_below_a_limit() -> None:
    """Exact binomial interval; a spot on the limit isn't below it."""
    found = share_under(spots([10.0, 16.0, 8.0, 6.0, 18.0], per_m2(1) ** -1), "plants", per_m2(15))
    assert found is not None
    assert (found.spots, found.n) == (3, 5)
    exact = stats.binomtest(3, 5).proportion_ci(0.9, method="exact")
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high))
    on = share_under(spots([15.0] * 4, per_m2(1) ** -1), "plants", per_m2(15))
    assert on is not None
    assert (on.spots, on.low) == (0, 0.0)
    assert on.high == pytest.approx(1 - 0.05 ** (1 / 4))
    every = share_under(spots([1.0] * 4), "plants", per_m2(15))
    assert every is not None
    assert (every.share, every.high) == (1.0, 1.0)
    assert share_under(spots([1.0]), "shoots", 10.0) is None


@given(st.lists(st.integers(0, 300), min_size=2, max_size=15), st.floats(0.05, 20))
def test_index_of_equal_areas_is_variance_over_mean(counts: list[int], area: float) -> None:
    index, more, less = dispersion(counts, [area] * len(counts))
    if sum(counts) == 0:
        assert index is None
        return
    assert index == pytest.approx(np.var(counts, ddof=1) / np.mean(counts))
    assert more is not None
    assert less is not None
    assert 0 <= more <= 1
    assert 0 <= less <= 1
