"""How far the truth may lie from the mean of a few spots: the mixture, and what it does to n."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from tillercount.field import SpotDensity, estimate_field
from tillercount.field.betweenspots import ASSUMED_CV, LOG_SD, ratio_of
from tillercount.field.density import DensityEstimate, pooled_df
from tillercount.units import M2_PER_FT2, per_m2


def mean_of(counts: list[float], **more: float) -> DensityEstimate:
    """Counts of one square foot each."""
    spots = [
        SpotDensity(str(i), "hand", per_m2(v), None, area_m2=M2_PER_FT2, **more)  # type: ignore[arg-type]
        for i, v in enumerate(counts)
    ]
    found = estimate_field(spots).plants
    assert found is not None
    return found


@pytest.mark.parametrize(("n", "cv"), [(1, None), (2, 0.05), (3, 0.4), (10, 0.9)])
def test_against_an_integral(n: int, cv: float | None) -> None:
    """The mixture at 61 CVs against adaptive quadrature over the prior, truncated likewise."""

    def density(u: float) -> float:
        c = ASSUMED_CV * math.exp(LOG_SD * u)
        e = c / math.sqrt(1 + c**2 / n)
        seen = 0.0 if cv is None else (n - 1) * (math.log(e) + cv**2 / (2 * e**2))
        return math.exp(-(u**2) / 2 - seen)

    def below(u: float, x: float) -> float:
        c = ASSUMED_CV * math.exp(LOG_SD * u)
        return density(u) * float(stats.norm.cdf(x / math.sqrt(math.log1p(c**2 / n))))

    ratio = ratio_of(n, cv)
    whole = integrate.quad(density, -3, 3)[0]
    for x in (-1.5, -0.3, 0.0, 0.2, 0.8):
        under = integrate.quad(below, -3, 3, args=(x,))[0]
        assert float(ratio.under(x)) == pytest.approx(under / whole, abs=2e-3)


@pytest.mark.parametrize(("n", "cv"), [(2, 0.4), (3, 0.8), (5, 1.0), (10, 0.6)])
def test_few_skewed_spots_look_more_even_than_their_field(n: int, cv: float) -> None:
    """Mean of the squared CV between n gamma counts: that by which the mixture judges them."""
    rng = np.random.default_rng(n)
    counts = rng.gamma(1 / cv**2, cv**2, (200_000, n))
    seen = float(((counts.std(axis=1, ddof=1) / counts.mean(axis=1)) ** 2).mean())
    assert seen == pytest.approx(cv**2 / (1 + cv**2 / n), rel=0.01)
    # where the prior says nothing, spots that look so much alike speak for that field
    ratio = ratio_of(n, math.sqrt(seen))
    judged = ratio.cvs**2 / (1 + ratio.cvs**2 / n)
    prior = np.exp(-(np.linspace(-3, 3, len(ratio.cvs)) ** 2) / 2)
    likeliest = float(ratio.cvs[np.argmax(ratio.weights / prior)])
    assert likeliest == pytest.approx(cv, rel=0.06)  # a step between two CVs is 5 %
    assert np.all(judged < n)  # no n counts have a larger one


def test_the_factor_is_its_quantile() -> None:
    ratio = ratio_of(3, 0.3)
    for upper in (0.6, 0.9, 0.95, 0.999):
        assert float(ratio.under(math.log(ratio.factor(upper)))) == pytest.approx(upper, abs=1e-6)
        assert float(ratio.under(-math.log(ratio.factor(upper)))) == pytest.approx(1 - upper)


def test_one_spot_has_heavy_tails() -> None:
    """Kurtosis near that of a t with 5 degrees of freedom (9), far above the normal one's 3."""
    ratio = ratio_of(1)
    second = float((ratio.weights * ratio.sds**2).sum())
    fourth = float((ratio.weights * 3 * ratio.sds**4).sum())
    assert 5 < fourth / second**2 < 9


def test_other_errors_stay_however_many_spots() -> None:
    assert ratio_of(200, 0.3, others=0.2).factor(0.95) > math.exp(1.6 * 0.19)
    assert ratio_of(200, 0.3).factor(0.95) < 1.05


def test_few_plants_scatter_at_least_like_chance() -> None:
    """Two plants in a square foot: 1/√2 of them by chance alone, above the 45 % of the prior."""
    few, many = mean_of([2.0]), mean_of([40.0])
    assert few.high / few.mean > 1.2 * many.high / many.mean


def test_spots_that_happen_to_agree_are_not_certain() -> None:
    """Three spots of 20, 21, 22: ±1.7 by Student's t, whose spread of 5 % is but luck."""
    found = mean_of([20.0, 21.0, 22.0])
    plain = stats.t.ppf(0.95, 2) / math.sqrt(3)
    assert per_m2(plain) < 0.5 * (found.high - found.mean)


def test_far_above_a_border_one_spot_is_not_sure() -> None:
    """A spot of 10 in a field of 18 or more: the normal interval says 1 in 100 at most."""
    found = mean_of([10.0])
    before = 1 - stats.norm.cdf((18 - 10) / (ASSUMED_CV * 10))
    beyond = 1 - float(found.under(per_m2(18.0)))
    assert before < 0.04
    assert beyond > 0.10


@given(st.lists(st.floats(0.5, 200), min_size=1, max_size=12), st.floats(0, 0.4))
def test_a_spot_that_agrees_never_lowers_the_low_end(counts: list[float], shared: float) -> None:
    """A further spot equal to the mean takes uncertainty off, at either end."""
    found = mean_of(counts, plants_bias_rel=shared)
    more = mean_of([*counts, sum(counts) / len(counts)], plants_bias_rel=shared)
    assert more.mean == pytest.approx(found.mean)
    assert more.low >= found.low * (1 - 1e-9)
    assert more.high <= found.high * (1 + 1e-9)
    assert 0 < found.low <= found.mean <= found.high
    at = np.linspace(0.01, 3 * found.high, 60)
    under = found.under(at)
    assert np.all(np.diff(under) >= -1e-12)
    assert np.all((under >= 0) & (under <= 1))


def test_two_spots_that_agree_tell_more_than_one() -> None:
    """One spot of 27, then two of 25: Student's t with one degree of freedom would reach from
    2.7 to 47.3 (t 6.314, and the scatter of plants at random)."""
    one, two = mean_of([27.0]), mean_of([25.0, 25.0])
    assert two.low / two.mean > one.low / one.mean
    assert two.high - two.low < one.high - one.low


def test_interval_and_probability_agree() -> None:
    for counts in ([24.0], [20.0, 26.0], [20.0, 21.0, 22.0, 25.0, 30.0]):
        found = mean_of(counts)
        assert float(found.under(found.low)) == pytest.approx(0.05, rel=1e-3)
        assert 1 - float(found.under(found.high)) == pytest.approx(0.05, rel=1e-3)
        assert float(found.under(found.mean)) == pytest.approx(0.5)
        assert float(found.under(0.0)) == 0.0


def test_degrees_of_freedom_of_two_lone_spots() -> None:
    """Two visits of one spot each, both taken as normal: so is their difference."""
    assert pooled_df((3.0, math.inf), (4.0, math.inf)) == math.inf
    assert pooled_df((3.0, 5.0), (4.0, math.inf)) == pytest.approx(5 * (7 / 3) ** 2)
