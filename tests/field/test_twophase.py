"""Two-phase estimates against published and worked check values, and as properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tillercount.errors import InputError
from tillercount.field.twophase import Fit, TwoPhase, correlation, two_phase

# Fir trees counted on photos and on the ground: Scheaffer, Mendenhall & Ott, Elementary Survey
# Sampling, exercise 6.9 (data as on the course page of W. Moser, Louisiana State University).
FIR_PHOTO = [12, 30, 24, 24, 18, 30, 12, 6, 36, 42]
FIR_GROUND = [18, 42, 24, 36, 24, 36, 14, 10, 48, 54]
PLOTS, PHOTO_TOTAL = 200, 4200


def fir(fit: Fit) -> TwoPhase:
    """Mean on the ground over all plots, each of which has its photo."""
    return two_phase(
        FIR_GROUND,
        FIR_PHOTO,
        photos=PLOTS,
        photo_mean=PHOTO_TOTAL / PLOTS,
        fit=fit,
        population=PLOTS,
        leverage=False,
    )


def test_fir_ratio() -> None:
    """r 1.307692, total 5,492.31, bound 428.44 (Scheaffer et al., ex. 6.9; bound recomputed)."""
    found = fir("ratio")
    assert found.slope == pytest.approx(1.307692, abs=5e-7)
    assert found.mean * PLOTS == pytest.approx(5492.31, abs=5e-3)
    assert 2 * PLOTS * found.se == pytest.approx(428.44, abs=5e-3)


def test_fir_regression() -> None:
    """b 1.259372, a 1.130699, total 5,515.50, residual MS 13.2401, bound 448.61 (same data)."""
    found = fir("line")
    assert found.slope == pytest.approx(1.259372, abs=5e-7)
    intercept = np.mean(FIR_GROUND) - found.slope * np.mean(FIR_PHOTO)
    assert intercept == pytest.approx(1.130699, abs=5e-7)
    assert found.mean * PLOTS == pytest.approx(5515.50, abs=5e-3)
    assert found.error_var == pytest.approx(13.2401, abs=5e-5)
    assert 2 * PLOTS * found.se == pytest.approx(448.61, abs=5e-3)


def test_fir_pairs() -> None:
    """Correlation 0.972946, photo minus ground -7.2 with SD 4.541 (same data)."""
    assert correlation(FIR_GROUND, FIR_PHOTO) == pytest.approx(0.972946, abs=5e-7)
    gaps = np.subtract(FIR_PHOTO, FIR_GROUND)
    assert gaps.mean() == pytest.approx(-7.2)
    assert gaps.std(ddof=1) == pytest.approx(4.541, abs=5e-4)
    found = two_phase(FIR_GROUND, FIR_PHOTO, photos=50, photo_mean=21.0)
    assert found.error_var == pytest.approx(gaps.var(ddof=1))
    assert found.mean == pytest.approx(21.0 + 7.2)


def test_double_sampling_by_cochran() -> None:
    """Pairs of the fir data with 50 photos of mean 21.0: mean 27.5775, variance 5.4690 in the
    simple form, 5.5334 with the (x̄'-x̄)² term, SE 2.339 and 2.352; ten hand counts alone 4.696.

    Formula: Cochran, Sampling Techniques, 3rd ed. 1977, ch. 12; the figures are worked with it.
    """
    pairs = {"photos": 50, "photo_mean": 21.0, "fit": "line"}
    simple = two_phase(FIR_GROUND, FIR_PHOTO, **pairs, leverage=False)
    full = two_phase(FIR_GROUND, FIR_PHOTO, **pairs)
    assert simple.mean == pytest.approx(27.5775, abs=5e-5)
    assert simple.variance == pytest.approx(5.4690, abs=5e-5)
    assert simple.se == pytest.approx(2.339, abs=5e-4)
    assert full.mean == simple.mean
    assert full.variance == pytest.approx(5.5334, abs=5e-5)
    assert full.se == pytest.approx(2.352, abs=5e-4)
    alone = np.std(FIR_GROUND, ddof=1) / math.sqrt(10)
    assert alone == pytest.approx(4.696, abs=5e-4)


def test_ducks() -> None:
    """Photo 44, 55, 4, 16, true 56 and 6 on the first and third, 10 plots: r 1.291667, total
    384.27, variance 18,750 + 34.72 (data: a survey tutorial; formula: Penn State STAT 506, 10.1).
    """
    photo = [44, 55, 4, 16]
    found = two_phase(
        [56, 6], [44, 4], photos=4, photo_mean=np.mean(photo), fit="ratio", population=10
    )
    assert found.slope == pytest.approx(1.291667, abs=5e-7)
    assert found.mean * 10 == pytest.approx(384.27, abs=5e-3)
    assert found.variance * 100 == pytest.approx(18784.72, abs=5e-3)
    assert found.error_var * 100 * (1 / 2 - 1 / 4) == pytest.approx(34.72, abs=5e-3)


def test_regression_estimator() -> None:
    """b 0.765562, mean 80.593, MSE 75.753, V 7.4195, bound 5.448 (Scheaffer, Mendenhall & Ott,
    Elementary Survey Sampling; data from memory, results worked)."""
    x = [39, 43, 21, 64, 57, 47, 28, 75, 34, 52]
    y = [65, 78, 52, 82, 92, 89, 73, 98, 56, 75]
    found = two_phase(y, x, photos=486, photo_mean=52, fit="line", population=486, leverage=False)
    assert found.slope == pytest.approx(0.765562, abs=5e-7)
    assert found.mean == pytest.approx(80.593, abs=5e-4)
    assert found.error_var == pytest.approx(75.753, abs=5e-4)
    assert found.variance == pytest.approx(7.4195, abs=5e-5)
    assert 2 * found.se == pytest.approx(5.448, abs=5e-4)


values = st.lists(st.floats(1, 500), min_size=5, max_size=12)


@given(values, st.floats(-40, 40), st.sampled_from(["one", "line"]))
def test_a_constant_gap_is_taken_off_whole(hand: list[float], gap: float, fit: str) -> None:
    """Photos that all read the same amount too high or low change nothing."""
    if np.ptp(hand) < 1:
        return
    photo = np.asarray(hand) + gap
    found = two_phase(hand, photo, photos=40, photo_mean=float(photo.mean()) + 3, fit=fit)
    assert found.mean == pytest.approx(np.mean(hand) + 3, abs=1e-6)
    assert found.error_var == pytest.approx(0.0, abs=1e-6)


@given(values, st.floats(0.3, 3.0))
def test_a_constant_share_is_taken_off_by_ratio_and_line(hand: list[float], gain: float) -> None:
    if np.ptp(hand) < 1:
        return
    photo = np.asarray(hand) * gain
    for fit in ("ratio", "line"):
        found = two_phase(hand, photo, photos=40, photo_mean=float(photo.mean()) * 1.1, fit=fit)
        assert found.mean == pytest.approx(np.mean(hand) * 1.1, rel=1e-6)


@given(values, st.integers(12, 500), st.sampled_from(["one", "ratio", "line"]))
def test_all_photos_paired_is_the_hand_mean(hand: list[float], seed: int, fit: str) -> None:
    """Where every photo has its hand count, mean and variance are those of the hand counts."""
    if np.ptp(hand) < 1:
        return
    y = np.asarray(hand)
    x = y + np.random.default_rng(seed).normal(0, 5, len(y)) + 50
    found = two_phase(y, x, photos=len(y), photo_mean=x.mean(), photo_var=x.var(ddof=1), fit=fit)
    assert found.mean == pytest.approx(y.mean())
    if fit != "line":  # the line's residual variance is over n-2
        assert found.variance >= y.var(ddof=1) / len(y) * (1 - 1e-6)


def test_correlation_needs_scatter() -> None:
    assert correlation([1, 2], [1, 2]) is None
    assert correlation([3, 3, 3], [1, 2, 3]) is None
    assert correlation([0, 0, 0], [0, 0, 0]) is None
    assert correlation([1, 2, 3], [2, 4, 6]) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"hand": [1.0]}, "1 hand counts but 3 photos"),
        ({"hand": [1.0, 2.0], "photo": [1.0, 2.0], "fit": "line"}, "2 pairs are too few"),
        ({"photos": 2}, "don't fit"),
        ({"population": 5.0}, "don't fit"),
        ({"photo": [0.0, 0.0, 0.0], "fit": "ratio"}, "there is no ratio"),
        ({"photo": [4.0, 4.0, 4.0], "fit": "line"}, "there is no slope"),
    ],
)
def test_refused(change: dict, says: str) -> None:
    given_ = {"hand": [1.0, 2.0, 3.0], "photo": [1.0, 2.0, 4.0], "photos": 9, "photo_mean": 2.0}
    given_ |= change
    with pytest.raises(InputError, match=says):
        two_phase(given_.pop("hand"), given_.pop("photo"), **given_)
