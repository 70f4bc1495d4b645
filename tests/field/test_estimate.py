"""Field means and intervals against published counts, another implementation, and simulation."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy import stats

from tests.stand.reckoned import factor
from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.field import SpotDensity, estimate_field, sample_size, spots_to_clear
from tillercount.field.estimate import ASSUMED_CV, DensityEstimate, FieldEstimate
from tillercount.units import M2_PER_FT2, per_ft2, per_m2


def spot(name: str, plants: float | None, shoots: float | None = None, **more) -> SpotDensity:
    more.setdefault("source", "hand")
    return SpotDensity(spot=name, plants_per_m2=plants, shoots_per_m2=shoots, **more)


def kennebec() -> list[SpotDensity]:
    """Five counts at Kennebec per ft² (South Dakota State, Graham & Fanning)."""
    return [spot(str(i), per_m2(v)) for i, v in enumerate((10, 16, 8, 6, 18))]


def test_published_counts() -> None:
    """Mean 11.6, SD 5.177, CV 44.63 %, SE 2.315, 95 % t interval 5.17 to 18.03.

    The interval taken is by the spread of spots, seen and usual, reckoned again from scratch.
    """
    plants = estimate_field(kennebec(), level=0.95).plants
    assert plants is not None
    assert per_ft2(plants.mean) == pytest.approx(11.6)
    assert plants.cv == pytest.approx(0.4463, abs=5e-5)
    assert per_ft2(plants.scale) == pytest.approx(2.315, abs=5e-4)
    assert plants.cv * 11.6 == pytest.approx(5.177, abs=5e-4)
    half = stats.t.ppf(0.975, plants.df) * per_ft2(plants.scale)
    assert 11.6 - half == pytest.approx(5.17, abs=5e-3)
    assert 11.6 + half == pytest.approx(18.03, abs=5e-3)
    ratio = factor(said(plants), 0.975)
    assert per_ft2(plants.low) == pytest.approx(11.6 / ratio, abs=0.01)
    assert per_ft2(plants.high) == pytest.approx(11.6 * ratio, abs=0.01)


def said(estimate: DensityEstimate) -> dict[str, Any]:
    """What a record would say of the interval."""
    assert estimate.ratio is not None
    return {"between_spots": estimate.ratio.record(), "spots": estimate.n}


@pytest.mark.parametrize("level", [0.8, 0.9, 0.95])
def test_against_scipy(level: float) -> None:
    """Scale and degrees of freedom are those of the t interval."""
    values = np.array([10.0, 16.0, 8.0, 6.0, 18.0])
    low, high = stats.t.interval(level, 4, values.mean(), stats.sem(values))
    plants = estimate_field(kennebec(), level=level).plants
    assert plants is not None
    half = stats.t.ppf((1 + level) / 2, plants.df) * per_ft2(plants.scale)
    assert (11.6 - half, 11.6 + half) == pytest.approx((low, high))


def test_sample_size_of_the_published_counts() -> None:
    """n for ± 20 % with t = 2.776: 38.4, so 39."""
    assert sample_size(0.4463, 0.20, t=2.776) == 39
    with pytest.raises(InputError, match="width above 0"):
        sample_size(0.4, 0.0, t=2.0)


@pytest.mark.parametrize(("cv", "share"), [(0.45, 0.908), (0.24, 0.973)])
def test_interval_covers(cv: float, share: float) -> None:
    """Simulated fields of six spots: as measured, 90.8 % where the CV is that of a poor stand and
    97.3 % in an even one, since six spots leave it open that the field is less even."""
    rng = np.random.default_rng(20240301)
    fields, mean, hits = 2000, 250.0, 0
    for values in np.maximum(0, rng.normal(mean, cv * mean, (fields, 6))):
        plants = estimate_field([spot(str(i), float(v)) for i, v in enumerate(values)]).plants
        assert plants is not None
        hits += plants.low <= mean <= plants.high
    assert hits / fields == pytest.approx(share, abs=3 * math.sqrt(share * (1 - share) / fields))


@pytest.mark.parametrize(("bias", "share"), [(0.10, 0.957), (0.20, 0.921)])
def test_interval_covers_with_a_shared_error(bias: float, share: float) -> None:
    """Photos of one model may all read high or low together; the interval holds that too. As
    measured: 95.7 % with an error of 10 %, 92.1 % with 20 % (fields of a CV of 16 %)."""
    rng = np.random.default_rng(7)
    fields, n, mean, sd = 2000, 6, 250.0, 40.0
    with_it = without = 0
    for values in rng.normal(mean, sd, (fields, n)):
        read = values * (1 + rng.normal(0, bias))
        for given_bias in (bias, 0.0):
            plants = estimate_field(
                [
                    spot(str(i), float(v), source="photo", plants_bias_rel=given_bias)
                    for i, v in enumerate(read)
                ]
            ).plants
            assert plants is not None
            if plants.low <= mean <= plants.high:
                with_it += given_bias > 0
                without += given_bias == 0
    error = 3 * math.sqrt(share * (1 - share) / fields)
    assert with_it / fields == pytest.approx(share, abs=error)
    assert without < with_it - 100


def test_shared_error_does_not_average_out() -> None:
    many = [spot(str(i), 200.0 + i % 3, source="photo", plants_bias_rel=0.1) for i in range(100)]
    plants = estimate_field(many).plants
    assert plants is not None
    assert plants.shared_rel == pytest.approx(0.1)
    assert plants.high - plants.mean > 1.64 * 0.1 * plants.mean
    half_hand = [*many[:50], *(spot(f"h{i}", 201.0 + i % 2) for i in range(50))]
    mixed = estimate_field(half_hand).plants
    assert mixed is not None
    assert mixed.shared_rel == pytest.approx(0.05, rel=0.02)


def test_one_spot_is_widened_and_flagged() -> None:
    field = estimate_field([spot("a", 200.0, plants_se=30.0, source="photo")])
    plants = field.plants
    assert plants is not None
    assert abs(ASSUMED_CV - 0.446) < 0.005  # South Dakota State, Graham & Fanning
    ratio = factor(said(plants), 0.95)
    assert plants.ratio is not None
    assert plants.ratio.record()["others_rel"] == pytest.approx(30.0 / 200.0)
    assert plants.high == pytest.approx(200.0 * ratio, rel=1e-3)
    assert plants.low == pytest.approx(200.0 / ratio, rel=1e-3)
    assert plants.cv is None
    assert any(flag.startswith("plants: one spot only") for flag in field.flags)


def test_zero_counts() -> None:
    field = estimate_field([spot(str(i), 0.0, area_m2=0.1) for i in range(4)])
    plants = field.plants
    assert plants is not None
    assert (plants.mean, plants.low) == (0.0, 0.0)
    assert plants.high > stats.chi2.ppf(0.95, 2) / 2 / 0.4  # exact Poisson limit
    assert any("no plants found" in flag for flag in field.flags)


def test_alike_spots_are_not_certain() -> None:
    field = estimate_field([spot(str(i), per_m2(20), area_m2=0.0929) for i in range(4)])
    assert field.plants is not None
    assert field.plants.high > 1.1 * field.plants.mean
    assert any("same plants" in flag for flag in field.flags)


def by_hand(counts: list[float]) -> FieldEstimate:
    """Counts of one square foot each."""
    return estimate_field(
        [spot(str(i), per_m2(v), area_m2=M2_PER_FT2) for i, v in enumerate(counts)]
    )


def test_nearly_alike_is_no_surer_than_alike() -> None:
    """Six of 20: t(0.95, 5) x sqrt(20/6) = 2.0150 x 1.8257 = 3.679 to either side. Five of 20 and
    one of 21 hardly less, where the plain t interval would give 0.336."""
    same, nearly = by_hand([20] * 6), by_hand([20] * 5 + [21])
    assert same.plants is not None
    assert nearly.plants is not None
    t = stats.t.ppf(0.95, 5)
    assert t * per_ft2(same.plants.scale) == pytest.approx(3.679, abs=1e-3)
    half = t * per_ft2(nearly.plants.scale)
    # s² 1/6, P 121/6, c = 1.1455/5 (chi-square tables: 5 %, 5 degrees of freedom)
    blend = 1 / 6 + (1 - (1 / 121) / (1.1455 / 5)) * 121 / 6
    assert half == pytest.approx(2.0150 * math.sqrt(blend / 6), abs=1e-3)
    assert 3.5 < half < 3.679
    for field, words in ((same, "all spots have the same plants"), (nearly, "more alike")):
        (flag,) = [f for f in field.flags if words in f]
        assert "rounded, or copied?" in flag


def test_alike_meets_the_plain_interval() -> None:
    """Seen from both sides of the border c = 1.1455/5 the half-width is one, and above it plain."""
    mean, apart = 20.0, np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0])
    border = math.sqrt(1.1455 / 5 * mean * 5 / 6)  # so that s² = 6·d²/5 is c·20
    halves = []
    for d in (0.0, 0.5 * border, 0.999 * border, 1.001 * border, 1.5 * border):
        field = by_hand(list(mean + d * apart))
        assert field.plants is not None
        halves.append(stats.t.ppf(0.95, 5) * per_ft2(field.plants.scale))
        plain = stats.t.ppf(0.95, 5) * (d * math.sqrt(6 / 5)) / math.sqrt(6)
        assert (halves[-1] == pytest.approx(plain)) == (d > border)
        assert any("alike" in f or "same plants" in f for f in field.flags) == (d < border)
    assert halves[2] == pytest.approx(halves[3], rel=0.01)
    assert halves[0] > halves[1] > halves[2]


def test_random_counts_are_seldom_called_alike() -> None:
    """5 % of fields by the test's own level; the interval then holds in no fewer of them."""
    rng = np.random.default_rng(5)
    alike = 0
    for counts in rng.poisson(20.0, (1000, 6)):
        field = by_hand([float(v) for v in counts])
        alike += any("alike" in f or "same plants" in f for f in field.flags)
    assert abs(alike / 1000 - 0.05) < 3 * math.sqrt(0.05 * 0.95 / 1000)


def test_hand_count_stands_for_its_photo() -> None:
    field = estimate_field(
        [
            spot("IMG_1", 200.0, 600.0, source="photo", photo="IMG_1.jpg", plants_bias_rel=0.1),
            spot("IMG_2", 260.0, 700.0, source="photo", photo="IMG_2.jpg", plants_bias_rel=0.1),
            spot("img_1", 220.0, observer="Ash"),
        ]
    )
    assert field.spots == 2
    assert field.plants is not None
    assert field.shoots is not None
    assert field.plants.mean == pytest.approx((220 + 260) / 2)
    assert field.shoots.mean == pytest.approx(650.0)  # shoots weren't counted by hand there
    assert field.plants.shared_rel == pytest.approx(0.1 * 260 / 480)
    (pair,) = field.paired
    assert pair.plants_per_m2 == pytest.approx(-20.0)
    assert pair.shoots_per_m2 is None
    roles = ["hand count taken in part", "used", "used"]
    assert [field.role(s) for s in field.listed] == roles
    assert any("both a photo and a hand count" in flag for flag in field.flags)


def test_two_observers_are_one_spot() -> None:
    field = estimate_field(
        [spot("1", 200.0, observer="A"), spot("1", 240.0, observer="B"), spot("2", 100.0)]
    )
    assert field.spots == 2
    assert field.plants is not None
    assert field.plants.mean == pytest.approx(160.0)
    assert any("2 hand counts averaged" in flag for flag in field.flags)


def test_definitions_are_not_mixed() -> None:
    counts = [
        spot("1", 200.0, 600.0),
        spot("2", 200.0, 500.0, definition=Definition.STEMS_3_LEAVES),
    ]
    with pytest.raises(InputError, match=r"spot 1: stems; spot 2: stems-3-leaves"):
        estimate_field(counts)
    # plants alone have no such trouble
    assert estimate_field([counts[0], spot("2", 1.0, definition=Definition.STEMS_3_LEAVES)]).spots


def test_bad_arguments() -> None:
    with pytest.raises(InputError, match="no spots"):
        estimate_field([])
    with pytest.raises(InputError, match="level"):
        estimate_field(kennebec(), level=1.0)
    with pytest.raises(InputError, match="neither plants nor shoots"):
        spot("1", None)
    with pytest.raises(InputError, match="plants_per_m2"):
        spot("1", math.nan)
    with pytest.raises(InputError, match="plants_per_m2"):
        spot("1", -1.0)


@given(st.lists(st.floats(0, 2000), min_size=1, max_size=12), st.floats(0.5, 0.99))
@example([0.0, 2.2250738585e-313], 0.5)
def test_interval_holds_the_mean(values: list[float], level: float) -> None:
    plants = estimate_field([spot(str(i), v) for i, v in enumerate(values)], level=level).plants
    assert plants is not None
    assert 0 <= plants.low <= plants.mean * (1 + 1e-12)
    assert plants.mean <= plants.high
    assert plants.high > 0


def test_spots_to_clear_is_the_smallest() -> None:
    n = spots_to_clear(11.6, 15.0, 0.4463)
    assert n is not None

    def half(k: int) -> float:
        return float(stats.t.ppf(0.95, k - 1) * 0.4463 * 11.6 / math.sqrt(k))

    assert half(n) < 3.4 <= half(n - 1)
    assert spots_to_clear(15.0, 15.0, 0.4) is None
    assert spots_to_clear(11.6, 15.0, 0.4463, shared_rel=0.2) is None
    more = spots_to_clear(11.6, 15.0, 0.4463, shared_rel=0.1)
    assert more is not None
    assert more > n


def test_plants_by_hand_and_shoots_by_photo_make_no_pair() -> None:
    """As after a correction of plants alone; three spots with both stay three."""
    both = [
        one
        for name in "123"
        for one in (spot(name, 300, 900), spot(name, 290, 920, source="photo"))
    ]
    half = [spot("4", 310), spot("4", None, 905, source="photo")]
    found = estimate_field([*both, *half])
    assert [pair.spot for pair in found.paired] == ["1", "2", "3"]
    assert {one.spot for one in found.used} == set("1234")
