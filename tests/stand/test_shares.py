"""Probabilities that add up to 100 %."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from tillercount.stand.shares import percents
from tillercount.stand.words import percent


def _whole(texts: list[str]) -> int:
    return sum(int(re.sub(r"\D", "", text)) for text in texts)


def test_they_add_up() -> None:
    shares = [0.396, 0.206, 0.246, 0.152]
    assert _whole([percent(share) for share in shares]) == 101  # 40, 21, 25, 15
    assert percents(shares) == ["40\u00a0%", "20\u00a0%", "25\u00a0%", "15\u00a0%"]


def test_very_small_and_very_large() -> None:
    assert percents([0.996, 0.004]) == ["over 99\u00a0%", "under 1\u00a0%"]
    assert percents([0.615, 0.381, 0.004]) == ["62\u00a0%", "38\u00a0%", "under 1\u00a0%"]


@given(st.lists(st.floats(0.02, 1.0), min_size=2, max_size=6))
def test_each_stays_within_one(parts: list[float]) -> None:
    shares = [part / sum(parts) for part in parts]
    texts = percents(shares)
    if min(shares) >= 0.01 and max(shares) <= 0.99:
        assert _whole(texts) == 100
        for text, share in zip(texts, shares, strict=True):
            assert abs(_whole([text]) - 100 * share) < 1
