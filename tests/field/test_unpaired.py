"""Photos and hand counts of the same places under names that don't meet."""

from __future__ import annotations

from typing import Any

from tillercount.field import SpotDensity
from tillercount.field.unpaired import unpaired
from tillercount.stand import assess


def spots(names: list[str], source: str, **more: Any) -> list[SpotDensity]:
    return [
        SpotDensity(
            spot=name, source=source, plants_per_m2=230.0 + 9 * n, shoots_per_m2=None,
            photo=f"{name}.jpg" if source == "photo" else "", **more,
        )
        for n, name in enumerate(names)
    ]  # fmt: skip


PHOTOS = spots(["IMG_0412", "IMG_0413", "IMG_0414"], "photo")
HANDS = spots(["1", "2", "3"], "hand")


def test_a_cameras_names_beside_numbers_are_asked_about() -> None:
    (said,) = unpaired([*PHOTOS, *HANDS])
    assert "3 by photo (IMG_0412, IMG_0413, IMG_0414) and 3 by hand (1, 2, 3) count as 6" in said
    assert "call them alike in the sheet (spot IMG_0412)" in said
    assert said.endswith("If all are other places, there is nothing to do")
    result = assess([*PHOTOS, *HANDS])
    assert said in result.verdict.warnings
    assert result.flags.count(said) == 1


def test_where_it_is_plain_nothing_is_asked() -> None:
    plain = (
        [*PHOTOS, *HANDS[:1]],  # one place alone may well lie apart
        [*PHOTOS, *HANDS, *spots(["IMG_0413"], "hand")],  # somebody paired them
        [*spots(["spot_01", "spot_02"], "photo"), *spots(["8", "9"], "hand")],  # other numbers
        [*spots(["north 1", "north 2"], "photo"), *spots(["north 3", "north 4"], "hand")],
        [*spots(["spot_1", "spot_2"], "photo"), *spots(["A", "B"], "hand")],  # other letters
        [*spots(["A", "B"], "photo"), *spots(["C", "D"], "hand")],
        PHOTOS,
        HANDS,
    )
    for some in plain:
        assert unpaired(some) == []


def test_positions_tell_places_apart() -> None:
    photos = spots(["IMG_1", "IMG_2"], "photo", lat=38.6, lon=-98.4)
    far, near = ({"lat": lat, "lon": -98.4} for lat in (38.602, 38.6001))
    assert unpaired([*photos, *spots(["1", "2"], "hand", **far)]) == []
    assert unpaired([*photos, *spots(["1", "2"], "hand", **near)])


def test_a_photo_corrected_by_a_person_is_its_own_pair() -> None:
    fixed = [
        SpotDensity(
            spot=one.spot, source="hand", plants_per_m2=200.0, shoots_per_m2=None, photo=one.photo
        )
        for one in PHOTOS[:2]
    ]
    assert unpaired([*PHOTOS[2:], *fixed]) == []
