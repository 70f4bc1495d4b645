"""Intervals hold as often as they say."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from tillercount.errors import InputError
from tillercount.model.calibrate import Calibration, conformal_quantile, coverage_spread


def _counts(n: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Predictions that run 5 % low, with errors that grow with the count and the variance."""
    rng = np.random.default_rng(seed)
    true = np.round(rng.uniform(2, 60, n))
    hard = rng.uniform(0.5, 2.0, n)
    predicted = true * 0.95 * np.exp(rng.normal(0, 0.08 * hard)) + rng.normal(0, 0.3, n)
    return np.maximum(predicted, 0), (0.08 * hard * true) ** 2, true


@given(st.lists(st.floats(-5, 5), min_size=20, max_size=60), st.sampled_from([0.8, 0.9, 0.95]))
def test_quantile_is_numpys_by_another_road(scores: list[float], level: float) -> None:
    """The k-th smallest of n is numpy's inverted-CDF quantile at k / n."""
    n = len(scores)
    k = math.ceil((n + 1) * level - 1e-9)
    if k > n:
        assert conformal_quantile(np.array(scores), level) == math.inf
        return
    expected = np.quantile(scores, (k - 0.5) / n, method="inverted_cdf")
    assert conformal_quantile(np.array(scores), level) == expected


def test_coverage_spread_is_the_published_one() -> None:
    """5 to 95 % of the coverage for n = 20 and 100 at 90 %, from the beta law (Vovk 2012)."""
    # For n = 99, k = 90: Beta(90, 10), mean 0.9.
    low, high = coverage_spread(99)
    assert low == pytest.approx(0.847, abs=0.003)
    assert high == pytest.approx(0.944, abs=0.003)
    assert coverage_spread(1000)[0] > coverage_spread(100)[0] > coverage_spread(20)[0]


@pytest.mark.parametrize("n", [30, 300])
def test_ninety_percent_intervals_cover_ninety_percent(n: int) -> None:
    """Mean coverage over repeated calibrations; with groups (n = 300) and without (n = 30)."""
    rounds, fresh = 30, 200
    covered = 0
    for seed in range(rounds):
        calibration = Calibration.fit(*_counts(n, seed), "made-up counts")
        for p, v, t in zip(*_counts(fresh, 10_000 + seed), strict=True):
            low, high = calibration.interval(p, v)
            covered += low <= t <= high
    share = covered / (rounds * fresh)
    # Coverage is at least 0.9 on average, and no more than 2 / (n + 1) above it, give or take
    # the noise of this many draws and a little for the size being fitted on the same photos.
    noise = 3 * binom.std(rounds * fresh, 0.9) / (rounds * fresh)
    assert 0.9 - noise - 0.01 <= share <= 0.9 + 2 / (n + 1) + noise + 0.012


def test_each_third_is_covered() -> None:
    """With enough photos, thin and thick stands hold their level too."""
    calibration = Calibration.fit(*_counts(600, 1), "made-up counts")
    assert len(calibration.edges) == 2
    p, v, t = _counts(3000, 2)
    hit = np.array(
        [lo <= c <= hi for (lo, hi), c in zip(map(calibration.interval, p, v), t, strict=True)]
    )
    for part in np.array_split(np.argsort(p), 3):
        assert 0.85 <= hit[part].mean() <= 0.95


def test_the_interval_knows_hard_photos() -> None:
    """A larger variance of the network gives a wider interval."""
    calibration = Calibration.fit(*_counts(400, 3), "made-up counts")
    ends = [calibration.interval(30.0, (0.08 * h * 30) ** 2) for h in (0.6, 1.9)]
    easy, hard = (high - low for low, high in ends)
    assert hard > 1.5 * easy


def test_a_bias_moves_the_interval() -> None:
    """Predictions that run low get an interval that reaches further up than down."""
    calibration = Calibration.fit(*_counts(400, 4), "made-up counts")
    low, high = calibration.interval(30.0, 6.0)
    assert high - 30 > 1.3 * (30 - low)


@given(st.floats(0, 200), st.floats(0, 1e4), st.sampled_from([0.5, 0.8, 0.9]))
def test_an_interval_holds_its_count_and_never_goes_below_zero(
    count: float, variance: float, level: float
) -> None:
    """0 <= low <= count <= high, whatever comes; stretching never narrows."""
    calibration = Calibration.fit(*_counts(60, 5), "made-up counts")
    low, high = calibration.interval(count, variance, level)
    assert 0 <= low <= count + 1e-9
    assert count <= high
    assert math.isfinite(high)
    wider = calibration.interval(count, variance, level, widen=2.0)
    assert wider[0] <= low + 1e-9
    assert wider[1] >= high - 1e-9


def test_nothing_seen_still_has_an_interval() -> None:
    """A count of zero isn't certain."""
    calibration = Calibration.fit(*_counts(100, 6), "made-up counts")
    low, high = calibration.interval(0.0, 0.0)
    assert low == 0
    assert high > 0.2


def test_too_few_photos_are_refused() -> None:
    """Eighteen photos can't carry a 90 % interval with two ends."""
    with pytest.raises(InputError, match="18 photos are too few"):
        Calibration.fit(*_counts(18, 7), "made-up counts")


def test_a_level_beyond_the_photos_is_refused() -> None:
    calibration = Calibration.fit(*_counts(30, 8), "made-up counts")
    with pytest.raises(InputError, match="needs more calibration photos"):
        calibration.interval(10.0, 1.0, 0.99)
    with pytest.raises(InputError, match=r"outside 0\.5 to 0\.99"):
        calibration.interval(10.0, 1.0, 1.5)


def test_calibration_goes_round_through_plain_values() -> None:
    calibration = Calibration.fit(*_counts(200, 9), "made-up counts")
    assert Calibration.read(calibration.as_dict()) == calibration
