"""When two names are one place."""

from __future__ import annotations

import pytest

from tillercount.errors import InputError
from tillercount.names import key_of, spot_key, spot_name


def test_spots_by_number_are_one_however_they_are_written() -> None:
    assert {spot_key(n) for n in ("4", "04", "spot_04", "Spot 4", "SPOT-004", " 4 ")} == {"4"}
    assert spot_key("spot_4b") != spot_key("4")
    assert spot_key("IMG_0004") != spot_key("4")


def test_a_spot_called_by_its_photo() -> None:
    assert spot_name("spot_04.JPG") == "spot_04"
    assert spot_name("by  the 2.5 acre") == "by the 2.5 acre"


def test_names_need_something_in_them() -> None:
    with pytest.raises(InputError, match="empty"):
        key_of("  ")
