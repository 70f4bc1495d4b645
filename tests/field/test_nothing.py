"""Empty spots: what the field may still have."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from tests.stand.fields import field
from tillercount.field import estimate_field
from tillercount.field.betweenspots import ASSUMED_CV, LOG_SD
from tillercount.field.nothing import Nothing
from tillercount.stand import assess
from tillercount.units import M2_PER_FT2, per_m2


@pytest.mark.parametrize("n", [1, 3, 8])
def test_against_the_negative_binomial(n: int) -> None:
    """By SciPy's own zero term, over the prior by adaptive quadrature."""
    for mean in (0.5, 4.0, 20.0):

        def empty(u: float, mean: float = mean) -> float:
            r = 1 / (ASSUMED_CV * math.exp(LOG_SD * u)) ** 2
            return float(stats.nbinom.pmf(0, r, r / (r + mean)) ** n * stats.norm.pdf(u))

        want = integrate.quad(empty, -3, 3)[0] / (2 * stats.norm.cdf(3) - 1)
        found = 1 - float(Nothing((M2_PER_FT2,) * n).under(per_m2(mean)))
        assert found == pytest.approx(want, abs=2e-3)


def test_the_upper_end_reaches_beyond_the_poisson_limit() -> None:
    """3.0 a square foot for one empty spot of a square foot where plants stand at random."""
    for n in (1, 4, 12):
        limit = -math.log(0.05) / n
        high = Nothing((M2_PER_FT2,) * n).high(0.95) * M2_PER_FT2
        assert limit < high < 2 * limit
        assert float(Nothing((M2_PER_FT2,) * n).under(high / M2_PER_FT2)) == pytest.approx(0.95)


def test_it_holds_in_patchy_fields() -> None:
    """Of fields with the CVs of the prior whose plants are as many as the limit for their empty
    spots, 5 % have such spots."""
    rng = np.random.default_rng(3)
    n, fields = 3, 20_000
    mean = Nothing((M2_PER_FT2,) * n).high(0.95) * M2_PER_FT2
    u = rng.standard_normal(fields)
    cv = ASSUMED_CV * np.exp(LOG_SD * u[np.abs(u) < 3])
    local = rng.gamma(1 / cv**2, mean * cv**2, (n, len(cv)))
    empty = (rng.poisson(local) == 0).all(axis=0).mean()
    assert empty == pytest.approx(0.05, abs=3 * math.sqrt(0.05 * 0.95 / fields))


@pytest.mark.parametrize("n", [1, 2, 4])
def test_few_empty_spots_condemn_no_field(n: int) -> None:
    result = assess(field([0.0] * n))
    assert not result.verdict.clear
    assert result.plants is not None
    assert result.plants.held is not None
    assert result.verdict.headline.startswith("Not settled")
    assert "Count" in result.verdict.settle
    assert not any("45" in line for line in result.verdict.warnings)
    assert any("nothing" in line for line in result.verdict.warnings) == (n == 1)


def test_many_empty_spots_do() -> None:
    result = assess(field([0.0] * 6))
    assert result.verdict.class_ == "rotate"
    assert result.verdict.clear


def test_probabilities_and_interval_say_the_same() -> None:
    plants = estimate_field(field([0.0, 0.0])).plants
    assert plants is not None
    assert float(plants.under(plants.high)) == pytest.approx(0.95)
    assert float(plants.under(0.0)) == pytest.approx(0.0, abs=1e-12)
    assert "gamma-Poisson" in plants.how
