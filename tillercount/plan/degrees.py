"""Are these positions degrees, the right way round, and on land?

Nothing here knows coastlines. What can be told without them: numbers that can't be degrees,
latitude and longitude swapped where only one reading is possible or has farmed land, 0, 0 as
receivers without a fix write it, and the open oceans.
"""

from __future__ import annotations

import dataclasses

import numpy as np
from numpy.typing import NDArray

from tillercount.errors import InputError
from tillercount.plan.shapes import Degrees, Drawing
from tillercount.twoforms import LOST_MINUS

__all__ = ["checked", "minus_lost", "place_text", "place_words"]

_OPEN_SEA = (
    # lon from, lon to, lat from, lat to: drawn from memory, well inside the oceans
    ("the Pacific", -132.0, -83.0, -48.0, -29.0),
    ("the Pacific", -150.0, -128.0, 5.0, 45.0),
    ("the Pacific", 150.0, 179.0, 22.0, 45.0),
    ("the Atlantic", -50.0, -33.0, 5.0, 58.0),
    ("the Atlantic", -30.0, 5.0, -35.0, -18.0),
    ("the Gulf of Guinea", -7.0, 5.0, -6.0, 3.5),
    ("the Indian Ocean", 60.0, 95.0, -45.0, -22.0),
    ("the Indian Ocean", 47.5, 54.5, -3.0, 3.0),
)
_AMERICAN_GRAIN = (-130.0, -60.0, 24.0, 60.0)
"""West, east, south and north of where small grains are grown in North America, from memory."""
_NO_CROP_NORTH, _NO_CROP_SOUTH = 71.0, -56.0
"""Barley ripens to about 70° N, and there is no farmed land south of 56° S (from memory)."""


def place_text(lon: float, lat: float) -> str:
    """Latitude and longitude as people write them: ``38.41230 N, 97.51020 W``."""
    north = "N" if lat >= 0 else "S"
    east = "E" if lon >= 0 else "W"
    return f"{abs(lat):.5f} {north}, {abs(lon):.5f} {east}"


def place_words(lon: float, lat: float) -> str:
    """Where on earth, so that a lost minus is noticed: ``41.2° N, 96.1° E, in Asia``.

    The parts are those that a wrong sign would take a field to or from; borders between them run
    through seas or are rough.
    """
    north, east = "N" if lat >= 0 else "S", "E" if lon >= 0 else "W"
    if -170 <= lon < -30:
        part = "in North America" if lat > 13 else "in South America"
    elif -30 <= lon < 60:
        part = "in Europe, the Near East or Africa"
    elif lat < -10:
        part = "in Australia or New Zealand"
    else:
        part = "in Asia"
    return f"{abs(lat):.1f}° {north}, {abs(lon):.1f}° {east}, {part}"


def minus_lost(lon: float, lat: float, what: str) -> str:
    """What to ask of degrees typed without a sign that lie in Asia, and with a minus in North
    America; "" elsewhere.

    ``what`` names where they stand.
    """
    west, east, south, north = _AMERICAN_GRAIN
    if not (west < -lon < east and south < lat < north):
        return ""
    return (
        f"{what}: the field lies at {place_words(lon, lat)}. If it is in North America, the minus "
        f"of the longitude {LOST_MINUS.screen}"
    )


def checked(drawing: Drawing) -> Drawing:
    """The same drawing with positions put right, and notes of it; a doubt where it isn't certain.

    Raises
    ------
    InputError
        Numbers that can't be degrees; all of it at 0, 0; in the open sea.
    """
    notes = list(drawing.notes)
    every = drawing.positions
    why, certain = _swapped(every, drawing.source)
    turned = bool(why)
    doubt = ""
    if turned:
        lat, lon = every[0]
        said = (
            f"{drawing.source}: latitude and longitude stood the wrong way round ({why}); read the "
            f"other way, as {place_text(lon, lat)}"
        )
        if certain:
            notes.append(said)
        else:
            doubt = (
                f"{said}; if the field isn't there, check the order and the minus signs (west and "
                "south are negative)"
            )
    things = []
    dropped = wrapped = 0
    for thing in drawing.things:
        rings = []
        for old in thing.rings:
            ring = old[:, ::-1].copy() if turned else old.copy()
            empty = (np.abs(ring) < 1e-4).all(axis=1)
            if empty.any() and not empty.all() and (np.abs(ring[~empty]).max(axis=1) > 1).all():
                dropped += int(empty.sum())
                ring = ring[~empty]
            past = np.abs(ring[:, 0]) > 180
            wrapped += int(past.sum())
            ring[past, 0] = (ring[past, 0] + 180) % 360 - 180
            rings.append(ring)
        name = " ".join(thing.name.split())[:60]
        things.append(dataclasses.replace(thing, name=name, rings=tuple(rings)))
    if dropped:
        notes.append(
            f"{drawing.source}: {dropped} position{'s' * (dropped > 1)} at 0, 0 (a receiver "
            "without a fix) left out"
        )
    if wrapped:
        notes.append(f"{drawing.source}: longitudes past 180° read as the same meridians within it")
    result = dataclasses.replace(drawing, things=tuple(things), notes=tuple(notes))
    where = result.positions
    _refuse_sea(where, drawing.source)
    return dataclasses.replace(
        result, doubt=doubt or _unlikely(where, drawing.source) or drawing.doubt
    )


def _swapped(where: Degrees, source: str) -> tuple[str, bool]:
    """Why the other order is meant, and whether that is certain; "" where it isn't meant.

    It is where this order gives no places on earth. Where it gives them, but only the other one
    gives farmed land, a minus may have been lost as well.
    """
    lon, lat = np.abs(where).max(axis=0)
    if lat <= 90 and lon <= 360:
        # every corner of a field: one number that is wrong turns nothing round
        if not _farmed(where[:, 1]).any() and _farmed(where[:, 0]).all():
            return f"no small grain grows at a latitude of {where[0, 1]:.4f}", False
        return "", False
    # A field is small: were the order wrong, it would be wrong at every corner, not at one.
    real = np.abs(where[np.abs(where).max(axis=1) > 1e-4, 1])
    if lat <= 180 and lon <= 90 and real.min() > 90:
        return f"a latitude of {where[0, 1]:.4f} isn't possible", True
    bad = where[(np.abs(where[:, 1]) > 90) | (np.abs(where[:, 0]) > 360)][0]
    raise InputError(
        f"{source}: {bad[0]:g}, {bad[1]:g} can't be degrees, and the file doesn't say which "
        "coordinate reference system (CRS) it is in; save it as WGS 84 longitude and latitude "
        "(EPSG:4326)"
    )


def _farmed(lat: NDArray[np.float64]) -> NDArray[np.bool_]:
    return (lat <= _NO_CROP_NORTH) & (lat >= _NO_CROP_SOUTH)


def _refuse_sea(where: Degrees, source: str) -> None:
    lon, lat = np.median(where, axis=0)
    if abs(lon) < 0.05 and abs(lat) < 0.05:
        raise InputError(
            f"{source}: the positions lie at 0, 0 in the sea off Africa, so they are empty or "
            "aren't degrees; save the outline as WGS 84 longitude and latitude"
        )
    for sea, west, east, south, north in _OPEN_SEA:
        if west < lon < east and south < lat < north:
            raise InputError(
                f"{source}: {place_text(lon, lat)} lies in {sea}; check the minus signs (west and "
                "south are negative) and which of the two is the latitude"
            )


def _unlikely(where: Degrees, source: str) -> str:
    lon, lat = np.median(where, axis=0)
    if not _farmed(lat):
        return (
            f"{source}: {place_text(lon, lat)} is farther {'north' if lat > 0 else 'south'} than "
            "any small grain grows; check which number is the latitude"
        )
    if abs(lat) < 20 and 25 < abs(lon) < 66:
        return (
            f"{source}: {place_text(lon, lat)} is in the tropics; if the field isn't, latitude "
            "and longitude stand the wrong way round"
        )
    return ""
