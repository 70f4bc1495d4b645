"""What came of the look at each plant's tillers."""

from __future__ import annotations

import pytest

from tests.stand.fields import field
from tillercount.stand import assess

PLANTS = [31.0, 31.4, 30.6, 31.0, 30.5, 31.5]
"""Plants per ft², mean 31: on target, if each plant has 3 to 5 tillers."""


@pytest.mark.parametrize(
    ("each", "outcome"),
    [
        (2.6, "about 2 tillers besides each main stem; common practice wants 3 to 5: weigh"),
        (104 / 31, "but 104 shoots per ft² are enough all the same: don't treat the field as thin"),
        (4.2, "about 3 tillers besides each main stem; common practice wants 3 to 5: enough"),
    ],
)
def test_the_outcome_instead_of_the_check(each: float, outcome: str) -> None:
    result = assess(field(PLANTS, each=each))
    assert result.verdict.class_ == "target"
    (said,) = [flag for flag in result.flags if "besides each main stem" in flag]
    assert outcome in said
    assert ("weigh the class below" in said) == (each == 2.6)
    assert not any("Check that plants have" in one.text for one in result.verdict.actions)


@pytest.mark.parametrize("spots", [field(PLANTS, each=None), field(PLANTS[:2], each=2.6)])
def test_the_check_stays_where_tillers_are_not_known(spots: object) -> None:
    """Not counted, or at two spots only."""
    result = assess(spots)
    assert any("Check that plants have 3 to 5 tillers" in a.text for a in result.verdict.actions)
    assert not any("besides each main stem" in flag for flag in result.flags)
