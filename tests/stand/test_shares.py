"""Probabilities that add up to 100 %."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from tillercount.stand.shares import percents, rounded, together
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


def test_what_is_not_clear_is_not_shown_as_the_share_that_makes_it_clear() -> None:
    """0.797 would be 80 %, and a verdict is clear from 80 % on."""
    assert percents([0.797, 0.203]) == ["79\u00a0%", "21\u00a0%"]
    assert percents([0.801, 0.199]) == ["80\u00a0%", "20\u00a0%"]


def test_some_together_are_the_sum_of_what_is_shown() -> None:
    shares = [0.396, 0.206, 0.246, 0.152]  # shown as 40, 20, 25 and 15 %
    assert together(shares, [0, 1]) == 0.6
    assert together(shares, [1, 3]) == 0.35  # 0.358 by itself
    assert together([0.995, 0.004, 0.001], [0, 1]) == 0.999  # said as "over 99 %"


@given(st.lists(st.floats(0.001, 1.0), min_size=2, max_size=6))
def test_no_share_is_shown_a_whole_percent_off(parts: list[float]) -> None:
    shares = [part / sum(parts) for part in parts]
    for share, shown in zip(shares, rounded(shares), strict=True):
        assert abs(share - shown) < 0.01
        assert (shown >= 0.8) <= (share >= 0.8)
