"""Photos on the planned spots: known geometry, and what must hold for any walk."""

from __future__ import annotations

import numpy as np
import pyproj
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.store.helpers import LAT, LON, at
from tillercount.store.acts import spot_key
from tillercount.store.placing import ToPlace, Walk, distance_m


def walk(*places: tuple[float, float], within_m: float = 30.48) -> Walk:
    where = [at(*place) for place in places]
    names = [str(n) for n in range(1, len(places) + 1)]
    return Walk(names, names, [lat for lat, _ in where], [lon for _, lon in where], within_m)


def photo(name: str, east: float, north: float, minute: float | None = None) -> ToPlace:
    lat, lon = at(east, north)
    second = None if minute is None else int(minute * 60)
    taken = None if second is None else f"2027-03-12T09:{second // 60:02d}:{second % 60:02d}"
    return ToPlace(f"{name}.jpg", name, lat=lat, lon=lon, taken_at=taken)


@given(st.floats(-70, 70), st.floats(-180, 180), st.floats(-200, 200), st.floats(-200, 200))
def test_distances_agree_with_the_ellipsoid(lat: float, lon: float, e: float, n: float) -> None:
    """Against PROJ's geodesics on WGS 84: within 0.6 %."""
    lon2, lat2, _ = pyproj.Geod(ellps="WGS84").fwd(
        lon, lat, np.degrees(np.arctan2(e, n)), np.hypot(e, n)
    )
    found = distance_m(lat, lon, np.array([lat2]), np.array([lon2]))[0]
    assert found == pytest.approx(np.hypot(e, n), rel=0.006, abs=1e-3)


def test_across_the_180th_meridian() -> None:
    found = distance_m(-17.0, 179.9999, np.array([-17.0]), np.array([-179.9999]))[0]
    assert found == pytest.approx(21.3, abs=0.1)


def test_the_nearest_within_the_limit() -> None:
    one, two, three = walk((0, 0), (50, 0)).place(
        [photo("a", 6, 8), photo("b", 42, 0), photo("c", 50, 31.1)]
    )
    assert (one.spot, two.spot, three.spot) == (0, 1, None)
    assert one.distance_m == pytest.approx(10, abs=0.1)
    assert three.note == "102 ft (31 m) from spot 2, the nearest; the limit is 100 ft (30 m)"


def test_time_decides_between_near_spots() -> None:
    """Spots 2 and 3 are 8 m apart: the photo lies nearer to 3, but 2 comes next on the walk."""
    spots = walk((0, 0), (50, 0), (58, 0))
    first, second, third, again = spots.place(
        [
            photo("a", 0, 0, 1),
            photo("b", 55, 0, 5),
            photo("c", 55, 0, 9),
            photo("d", 53, 0, 9.5),  # half a minute later, still there
        ]
    )
    assert (first.spot, second.spot, third.spot, again.spot) == (0, 1, 2, 2)
    assert "by its time, 2" in second.note
    (alone,) = spots.place([photo("b", 55, 0)])
    assert alone.spot == 2
    assert alone.note == "spots 2 and 3 are about as near"


def test_order_of_the_files_doesnt_matter() -> None:
    spots = walk((0, 0), (50, 0), (58, 0))
    photos = [photo("a", 0, 0, 1), photo("b", 55, 0, 5), photo("c", 55, 0, 9)]
    found = {p.name: s.spot for p, s in zip(photos, spots.place(photos), strict=True)}
    turned = photos[::-1]
    assert {p.name: s.spot for p, s in zip(turned, spots.place(turned), strict=True)} == found


def test_without_a_position() -> None:
    spots = walk((0, 0), (50, 0))
    named = ToPlace("Spot_02.jpg", spot_key("Spot_02"))
    late = ToPlace("x.jpg", "x", taken_at="2027-03-12T09:30:00")
    beside = ToPlace("y.jpg", "y", taken_at="2027-03-12T09:02:00+01:00")  # the phone's own clock
    nothing = ToPlace("z.jpg", "z")
    found = spots.place([photo("a", 0, 1, 1), named, late, beside, nothing])
    assert [place.spot for place in found] == [0, 1, None, 0, None]
    assert [place.how for place in found] == ["place", "name", "nowhere", "time", "nowhere"]
    assert "within 2 minutes" in found[2].note
    assert "neither a position nor a time" in found[4].note


def test_a_name_given_comes_before_the_position() -> None:
    lat, lon = at(0, 0)
    (found,) = walk((0, 0), (50, 0)).place([ToPlace("a.jpg", "a", spot="2", lat=lat, lon=lon)])
    assert (found.spot, found.how) == (1, "name")
    assert found.distance_m == pytest.approx(50, abs=0.2)


@given(
    st.lists(st.tuples(st.floats(-300, 300), st.floats(-300, 300)), min_size=1, max_size=12),
    st.lists(
        st.tuples(st.floats(-400, 400), st.floats(-400, 400), st.none() | st.floats(0, 59)),
        max_size=12,
    ),
)
def test_no_photo_goes_beyond_the_limit(
    places: list[tuple[float, float]], shots: list[tuple[float, float, float | None]]
) -> None:
    spots = walk(*places)
    found = spots.place([photo(f"p{i}", *shot) for i, shot in enumerate(shots)])
    assert len(found) == len(shots)
    for (east, north, _), place in zip(shots, found, strict=True):
        away = [np.hypot(east - e, north - n) for e, n in places]
        assert (place.spot is None) == (place.how == "nowhere")
        if place.spot is None:
            assert min(away) > 30.48 * 0.99
            assert place.note
        else:
            # never beyond the limit, and never to one clearly farther than the nearest
            assert away[place.spot] < 30.48 * 1.01
            assert away[place.spot] <= min(away) + 2 * 4.9 + 0.5


def test_names_of_spots() -> None:
    assert {spot_key(name) for name in ("7", "07", "Spot 7", "spot_07", " SPOT-007 ")} == {"7"}
    assert spot_key("spot 7b") == "spot 7b"
    assert spot_key("0") == "0"


def test_the_helpers_place() -> None:
    assert at(0, 0) == (LAT, LON)
