"""Several fits of one frame: what most starts lead to, not what one is surest of by a hair."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tillercount.frame.midmost import midmost
from tillercount.frame.result import FrameFit

SQUARE = np.array([[100.0, 400], [400, 400], [400, 100], [100, 100]])


def fit(confidence: float, grown_px: float = 0.0, moved_px: float = 0.0) -> FrameFit:
    middle = SQUARE.mean(0)
    out = SQUARE + np.sign(SQUARE - middle) * grown_px + moved_px
    return FrameFit(
        kind="square", outline_px=out, to_ground=np.eye(3), tilt_deg=0.0, mm_per_px=1.0,
        confidence=confidence, evidence={}, method="",
    )


@pytest.mark.parametrize("off", [{"grown_px": 4.0}, {"grown_px": -4.0}, {"moved_px": 5.0}])
def test_one_that_is_surer_by_a_hair_is_outvoted(off: dict[str, float]) -> None:
    fits = [fit(0.79), fit(0.80, **off), fit(0.791, 0.2), fit(0.78, -0.2)]
    assert midmost(fits) is not fits[1]


def test_of_two_the_surer_one_is_taken() -> None:
    fits = [fit(0.7), fit(0.8, 4.0)]
    assert midmost(fits) is fits[1]
    assert midmost(fits[:1]) is fits[0]


def test_a_vote_counts_by_its_confidence() -> None:
    sure, fainter = fit(0.96), [fit(0.88, 4.0), fit(0.88, 4.0)]
    assert midmost([*fainter, sure, replace(sure)]).confidence == pytest.approx(0.96)


def test_two_that_are_much_less_sure_have_no_say() -> None:
    fits = [fit(0.61, 4.0), fit(0.62, 4.0), fit(0.85)]
    assert midmost(fits) is fits[2]


def test_of_fits_alike_the_surest_is_taken() -> None:
    fits = [fit(0.7), fit(0.9), fit(0.8)]
    assert midmost(fits) is fits[1]
