"""Names mistyped are recognised; names that only look alike aren't."""

from __future__ import annotations

import pytest

from tillercount.near import nearest


@pytest.mark.parametrize(
    ("typed", "there"),
    [
        ("Hoem", "Home"),
        ("Creek feild", "Creek field"),
        ("Creek", "Creek field"),
        ("creekfield", "Creek field"),
        ("Noth 40", "North 40"),
        ("North40", "North 40"),
        ("late Mach", "late March"),
        ("Alder Bnd", "Alder Bend"),
        ("Barn 4O", "Barn 40"),
        ("lot l2", "Lot 12"),
    ],
)
def test_mistyped(typed: str, there: str) -> None:
    assert nearest(typed, ["Triangle", there, "Elevator field"]) == there


@pytest.mark.parametrize(
    ("typed", "there"),
    [
        ("East", "West"),
        ("North", "South"),
        ("Northeast field", "Northwest field"),
        ("Lane field", "Barn field"),
        ("Pole field", "Top field"),
        ("visit 2", "visit 1"),
        ("North 40", "North 80"),
        ("12A", "12B"),
        ("2027-03-21", "2027-03-12"),
        ("Home 2", "Home"),
    ],
)
def test_another_name(typed: str, there: str) -> None:
    assert nearest(typed, [there]) is None
    assert nearest(there, [typed]) is None
