"""Counts of several fields given as one."""

from __future__ import annotations

from tillercount.area import SquareArea
from tillercount.field import SpotDensity
from tillercount.field.apart import several_fields
from tillercount.field.sources import collect
from tillercount.hand import HandCount
from tillercount.stand import assess
from tillercount.units import per_m2


def spot(
    name: str,
    lat: float | None = None,
    lon: float | None = None,
    photo: str = "",
    field: str = "",
) -> SpotDensity:
    return SpotDensity(
        name,
        "photo" if photo else "hand",
        per_m2(24.0),
        per_m2(80.0),
        lat=lat,
        lon=lon,
        photo=photo,
        field=field,
    )


def test_one_field_says_nothing() -> None:
    near = [spot("1", 39.10, -97.20), spot("2", 39.11, -97.19), spot("3")]
    assert several_fields(near) == []
    assert several_fields([spot("1", photo="a/1.jpg"), spot("2", photo="a/2.jpg")]) == []


def test_spots_miles_apart() -> None:
    # a tenth of a degree of latitude is 11.1 km, 6.9 miles
    far = [spot("1", 39.10, -97.20), spot("2", 39.20, -97.20), spot("3", 39.10, -97.20)]
    (flag,) = several_fields(far)
    assert "6.9 mi (11.1 km) apart" in flag
    assert any("several fields" in flag for flag in assess(far).flags)


def test_folders_are_named_by_their_last_part() -> None:
    (flag,) = several_fields([spot("1", photo="x/creek/1.jpg"), spot("2", photo="x/barn/1.jpg")])
    assert "2 folders (creek, barn)" in flag
    (flag,) = several_fields([spot("1", photo="x/may/1.jpg"), spot("2", photo="y\\may\\1.jpg")])
    assert "(x/may, y/may)" in flag


def test_fields_named_in_the_files() -> None:
    (flag,) = several_fields([spot("1", field="Creek"), spot("2", field="Barn"), spot("3")])
    assert "2 fields (Barn, Creek)" in flag
    assert several_fields([spot("1", field="Creek"), spot("2", field="creek ")]) == []


def test_a_hand_count_called_4_is_spot_04_of_the_photos() -> None:
    photo = spot("spot_04", photo="f/spot_04.jpg")
    by_hand = HandCount("4", "JM", 25, 81, SquareArea(304.8), field="Creek")
    result = assess([photo, by_hand])
    assert result.field.spots == 1
    assert len(result.field.paired) == 1
    assert collect(by_hand).spots[0].field == "Creek"
