"""When counting may stop, and how many more spots it takes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from tillercount.errors import InputError
from tillercount.field import SpotDensity, estimate_field, further, peek_factor, stop_rule
from tillercount.field.density import DensityEstimate
from tillercount.field.stop import FEWEST_TO_STOP, MINUTES, Minutes
from tillercount.stand import assess
from tillercount.stand.prospect import in_ten
from tillercount.stand.settle import offered
from tillercount.stand.words import time_text
from tillercount.units import per_m2


def estimate(values: list[float], bias: float = 0.0, source: str = "hand") -> DensityEstimate:
    found = estimate_field(
        [
            SpotDensity(str(i), source, v, None, plants_bias_rel=bias)  # type: ignore[arg-type]
            for i, v in enumerate(values)
        ]
    ).plants
    assert found is not None
    return found


@pytest.mark.parametrize(("n", "g"), [(5, 1.0), (8, 1.0), (20, 1.0), (12, 0.3)])
def test_on_its_bound_the_evidence_is_ten_to_one(n: int, g: float) -> None:
    """At t = the factor, the mixture's likelihood of t is 1/α times that of no effect.

    Integrated from scratch: t given an effect δ (in standard deviations) is a noncentral t with
    δ√n, and δ is normal with variance g (Wang & Ramdas, arXiv 2310.03722).
    """
    t = peek_factor(n, 0.9, g=g)
    span = 8 * math.sqrt(g)
    mixed, _ = integrate.quad(
        lambda d: stats.nct.pdf(t, n - 1, d * math.sqrt(n)) * stats.norm.pdf(d, 0, math.sqrt(g)),
        -span,
        span,
        limit=200,
    )
    assert mixed / stats.t.pdf(t, n - 1) == pytest.approx(10.0, rel=1e-4)


def test_factor_against_the_fixed_interval() -> None:
    """Wider than Student's t at every n, infinite for the first few, slowly growing after."""
    assert all(math.isinf(peek_factor(n)) for n in (0, 1, 2, 3))
    for n in range(4, 200):
        assert peek_factor(n) > stats.t.ppf(0.95, n - 1)
        assert peek_factor(n, 0.95) > peek_factor(n)
    assert peek_factor(100_000) > peek_factor(1000)
    with pytest.raises(InputError, match="between 0 and 1"):
        peek_factor(5, 1.0)


def test_error_rate_with_a_look_after_every_spot() -> None:
    """Of 3,000 fields whose mean lies on a border, under 10 % are ever put on a side of it.

    The 90 % interval, looked at likewise, puts several times as many.
    """
    rng = np.random.default_rng(20240611)
    fields, most = 3000, 60
    n = np.arange(1, most + 1)
    values = rng.normal(0, 1, (fields, most))
    mean = np.cumsum(values, axis=1) / n
    var = (np.cumsum(values**2, axis=1) - n * mean**2) / np.maximum(1, n - 1)
    with np.errstate(invalid="ignore", divide="ignore"):
        t = np.abs(mean) / np.sqrt(var / n)
    factor = np.array([peek_factor(int(k)) for k in n])
    naive = np.array([math.inf, *(stats.t.ppf(0.95, k - 1) for k in n[1:])])
    rates = [float((t[:, 3:] > f[3:]).any(axis=1).mean()) for f in (factor, naive)]
    assert rates[0] < 0.10
    assert rates[1] > 0.30


def test_stop_when_the_border_is_far() -> None:
    values = [per_m2(v) for v in (24.0, 28.0, 20.0, 25.0, 31.0, 22.5, 27.5, 26.0, 21.0, 25.0)]
    found = estimate(values)
    assert stop_rule(found, [per_m2(18.0)]).settled
    assert not stop_rule(found, [per_m2(25.5)]).settled
    assert not stop_rule(found, [per_m2(18.0), per_m2(25.5)]).settled
    half = peek_factor(10) * np.std(values, ddof=1) / math.sqrt(10)
    assert stop_rule(found, [per_m2(18.0)]).high == pytest.approx(np.mean(values) + half)


def test_too_few_settle_nothing() -> None:
    alike = [25.0, 25.1, 24.9, 25.0, 25.1, 24.9, 25.0]
    assert len(alike) == FEWEST_TO_STOP - 1
    assert not stop_rule(estimate(alike), [1.0]).settled
    assert stop_rule(estimate([*alike, 25.0]), [1.0]).settled
    assert not stop_rule(estimate([0.0] * 4), [50.0]).settled
    assert stop_rule(estimate([0.0] * 9), [50.0]).settled
    json_high = assess([SpotDensity("1", "hand", per_m2(20), None)]).to_json()
    assert json_high["thresholds"][0]["stop"]["high"] is None


def test_shared_error_is_kept_out_of_the_averaging() -> None:
    photos = estimate([24.0, 26.0, 23.0, 25.0] * 10, 0.1, "photo")
    stop = stop_rule(photos, [18.0])
    assert stop.high - photos.mean > stats.norm.ppf(0.975) * 0.1 * photos.mean
    assert not stop_rule(photos, [photos.mean * 1.19]).settled


def test_further_is_the_smallest() -> None:
    """Hand counts 10, 16, 8, 6, 18 per ft² (South Dakota State) against a border of 15."""
    values = [10.0, 16.0, 8.0, 6.0, 18.0]
    (by_hand,) = further(estimate(values), 15.0)
    assert by_hand.kind == "hand"
    sd = np.std(values, ddof=1)

    def half(n: int) -> float:
        return float(stats.t.ppf(0.95, n - 1) * sd / math.sqrt(n))

    assert by_hand.spots is not None
    assert half(5 + by_hand.spots) < 3.4 <= half(5 + by_hand.spots - 1)
    assert by_hand.minutes == by_hand.spots * MINUTES.hand
    assert by_hand.spots_peeking is not None
    assert by_hand.spots_peeking > by_hand.spots
    n = 5 + by_hand.spots_peeking
    assert peek_factor(n) * sd / math.sqrt(n) < 3.4 <= peek_factor(n - 1) * sd / math.sqrt(n - 1)
    (dear,) = further(estimate(values), 15.0, Minutes(photo=1.0, hand=20.0))
    assert dear.minutes == by_hand.spots * 20.0


def test_photos_that_cannot_settle_it() -> None:
    """The error that photos share reaches the border: only hand counts help."""
    photo, hand = further(estimate([20.0, 21.0, 19.0, 22.0, 18.0] * 3, 0.2, "photo"), 18.0)
    assert (photo.kind, hand.kind) == ("photo", "hand")
    assert photo.spots is None
    assert photo.minutes is None
    assert hand.spots is not None


def test_pairs_offer_both_kinds() -> None:
    rng = np.random.default_rng(3)
    spots = []
    for i in range(24):
        y = float(rng.normal(220, 60))
        spots.append(SpotDensity(str(i), "photo", max(0, y + rng.normal(0, 25)), None))
        if i % 3 == 0:
            spots.append(SpotDensity(str(i), "hand", max(0.0, y), None))
    found = estimate_field(spots).plants
    assert found is not None
    border = found.mean - 0.7 * (found.mean - found.low)
    photo, hand = further(found, border)
    assert photo.kind == "photo"
    assert hand.spots is not None
    # a pair tells more than a photo, so fewer of them are needed
    assert photo.spots is None or hand.spots <= photo.spots


def test_the_words_say_it() -> None:
    values = [20, 12, 16, 26, 19, 22]
    spots = [SpotDensity(str(i), "hand", per_m2(v), per_m2(3 * v)) for i, v in enumerate(values)]
    result = assess(spots)
    assert not result.verdict.clear
    assert result.plants is not None
    (best,) = offered(result.plants)
    said = result.verdict.settle
    assert f"{best.spots} more spot{'s' if best.spots > 1 else ''} by hand" in said
    assert time_text(best.minutes) in said
    assert in_ten(best.chance) in said
    (by_hand,) = result.plants.further
    assert by_hand.spots is not None
    record = result.to_json()["thresholds"][0]
    assert record["further"][0]["spots"] == by_hand.spots
    assert record["further"][0]["minutes_a_spot"] == MINUTES.hand
    assert record["spots_needed"] == 6 + by_hand.spots
    apart = [12.1, 16.3, 20.4, 24.6, 28.7, 32.9]
    spots = [SpotDensity(str(i), "hand", per_m2(v), per_m2(3 * v)) for i, v in enumerate(apart)]
    close = assess(spots)
    assert not close.verdict.clear
    assert close.plants is not None
    (by_hand,) = close.plants.further
    assert by_hand.spots is not None
    assert by_hand.spots <= 8
    (best,) = offered(close.plants)
    spots_text = "spot" if best.spots == 1 else "spots"
    about = "" if best.spots == 1 else "about "  # "about 1 more spot" reads oddly
    assert f"Count {about}{best.spots} more {spots_text} by hand" in close.verdict.settle
    assert in_ten(best.chance) in close.verdict.settle
    assert "every spot" not in result.verdict.settle + close.verdict.settle
    clear = assess([SpotDensity(str(i), "hand", per_m2(23 + i % 2), None) for i in range(9)])
    assert clear.verdict.settle == ""
    assert clear.plants is not None
    assert clear.plants.further == ()


@given(
    st.lists(st.floats(1, 100), min_size=2, max_size=20),
    st.floats(1, 100),
)
def test_a_settled_border_lies_outside_the_plain_interval(
    values: list[float], border: float
) -> None:
    found = estimate(values)
    if stop_rule(found, [border]).settled:
        assert not found.low <= border <= found.high
