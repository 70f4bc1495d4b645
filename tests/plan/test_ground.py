"""Metres on the ground against geodesics on the ellipsoid, anywhere on earth."""

from __future__ import annotations

import numpy as np
import pyproj
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.plan.fields import SQUARE, corners, typed
from tillercount.errors import InputError
from tillercount.plan import read_field
from tillercount.plan.ground import Ground

GEOD = pyproj.Geod(ellps="WGS84")


@settings(max_examples=60, deadline=None)
@given(
    st.floats(-180, 180),
    st.floats(-85, 85),
    st.floats(0, 360),
    st.floats(1, 4000),
    st.floats(0, 360),
    st.floats(1, 4000),
)
def test_distances_and_back(
    lon: float, lat: float, azimuth: float, away: float, azimuth_2: float, away_2: float
) -> None:
    one = GEOD.fwd(lon, lat, azimuth, away)[:2]
    other = GEOD.fwd(lon, lat, azimuth_2, away_2)[:2]
    where = np.array([one, other])
    ground = Ground.around(np.array([[lon, lat]]))
    metres = ground.to_m(where)
    wanted = GEOD.inv(*one, *other)[2]
    assert np.hypot(*(metres[1] - metres[0])) == pytest.approx(wanted, rel=1e-6, abs=0.005)
    back = ground.to_degrees(metres)
    for there, here in zip(where, back, strict=True):
        assert GEOD.inv(*there, *here)[2] < 0.005


@pytest.mark.parametrize("lon", [-180.0, -179.998, -70.1, 0.3, 179.997, 180.0])
@pytest.mark.parametrize("lat", [-46.0, -17.0, 15.0, 38.0, 64.5, 69.9])
def test_a_square_of_800_m_is_64_ha(lon: float, lat: float) -> None:
    field = read_field(typed(corners(SQUARE, lon, lat)))
    lons, lats = zip(*corners(SQUARE, lon, lat), strict=True)
    wanted = abs(GEOD.polygon_area_perimeter(lons, lats)[0])
    assert field.area_m2 == pytest.approx(wanted, rel=2e-5)
    assert field.area_m2 == pytest.approx(640_000, rel=3e-4)


def test_middle_across_the_date_line() -> None:
    ground = Ground.around(np.array([[179.99, 51.0], [-179.99, 51.0]]))
    assert abs(ground.lon) == pytest.approx(180.0)
    assert ground.to_degrees(np.zeros((1, 2)))[0] == pytest.approx((ground.lon, ground.lat))


def test_poles_are_refused() -> None:
    with pytest.raises(InputError, match="within a degree of a pole"):
        read_field("89.995,0 89.995,120 89.995,240")
