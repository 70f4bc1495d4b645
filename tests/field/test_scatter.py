"""A photo's own error: from those that state one."""

from __future__ import annotations

import math

import pytest

from tillercount.field import SpotDensity
from tillercount.field.scatter import own_sd_of


def photo(name: str, own_rel: float | None) -> SpotDensity:
    """24 plants per m²; photos share 10 %, and this one has so much of its own besides."""
    se = 0.0 if own_rel is None else 24.0 * math.hypot(0.1, own_rel)
    return SpotDensity(name, "photo", 24.0, None, plants_bias_rel=0.1, plants_se=se)


def test_photos_of_unknown_error_say_nothing_of_the_others() -> None:
    known = [photo(str(i), 0.15) for i in range(4)]
    unknown = [photo(f"o{i}", None) for i in range(4)]
    assert own_sd_of(known, "plants") == pytest.approx(0.15 * 24.0)
    assert own_sd_of([*known, *unknown], "plants") == pytest.approx(0.15 * 24.0)
    assert own_sd_of(unknown, "plants") is None
