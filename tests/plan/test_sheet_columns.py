"""What the page to take along has room for."""

from __future__ import annotations

import itertools

import pytest

from tillercount.plan.maptable import _cells


@pytest.mark.parametrize(("columns", "zoned"), [(1, True), (1, False), (2, False), (4, False)])
def test_columns_stand_in_order_with_room_between(columns: int, zoned: bool) -> None:
    names, places = _cells(columns, zoned=zoned)
    assert len(names) == len(places)
    assert all(b - a >= 0.34 for a, b in itertools.pairwise(places))
    # a photo's number is how one without a position finds its spot again
    assert ("photo" in names) is (columns == 1)
