"""Flags of photos, known by their words."""

from __future__ import annotations

import pytest

from tillercount.area import SquareArea
from tillercount.cli.flagwords import FLAG_WORDS
from tillercount.field.photoflags import SIZE_FLAGS, flag_name, photo_flags, size_in_doubt
from tillercount.field.spots import SpotDensity
from tillercount.model.counter import unusual_text
from tillercount.plausible import Seen, check_size

SCALE = (
    "one pixel is 0.98 mm wide on the ground (limit 0.8 mm): go closer, or zoom in before you shoot"
)


@pytest.mark.parametrize(
    ("side_mm", "seen"),
    [
        (120.0, Seen(0.0144, 1500.0, 2500.0, 1.2, 0.1)),
        (1500.0, Seen(2.25, 5.0, 10.0, 12.0, 0.1)),
    ],
)
def test_every_size_check_that_is_odd_is_known(side_mm: float, seen: Seen) -> None:
    """The real checks' words: a text changed there makes this fail."""
    odd = [check for check in check_size(SquareArea(side_mm), seen) if check.level == "lower"]
    assert len(odd) >= 2
    for check in odd:
        if check.name in SIZE_FLAGS:
            assert flag_name(check.text) == check.name


def test_words_of_the_photo_checks() -> None:
    assert flag_name(SCALE) == "scale"
    assert flag_name(unusual_text(None)) == flag_name(unusual_text("lawn")) == "unusual"
    text = "by its lens the camera was 9.1 ft (2.77 m) above the ground (limit 8 ft): ..."
    assert flag_name(text) == "camera height"
    assert flag_name("the camera was tilted 23° (limit 15°): hold it level") == "tilt"
    assert set(SIZE_FLAGS) <= set(FLAG_WORDS)


def test_unknown_flags_group_without_their_numbers() -> None:
    assert flag_name("12 ladybirds seen: shoo them") == flag_name("7 ladybirds seen: shoo them")


def photo(name: str, *flags: str) -> SpotDensity:
    return SpotDensity(name, "photo", 100.0, 300.0, photo=f"field/{name}.jpg", flags=flags)


def test_grouped_sizes_first_corrections_left_out() -> None:
    spots = [
        photo("a", "the camera was tilted 23° (limit 15°): x", SCALE),
        photo("b", SCALE, "plants corrected by JM from 20 to 24"),
        SpotDensity("c", "hand", 100.0, None, flags=("tillers + plants = stems",)),
    ]
    found = photo_flags(spots)
    assert [(f.name, f.photos) for f in found] == [
        ("scale", ("a.jpg", "b.jpg")),
        ("tilt", ("a.jpg",)),
    ]
    assert [f.name for f in size_in_doubt(found)] == ["scale"]
