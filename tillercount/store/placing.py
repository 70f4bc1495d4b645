"""Which planned spot a photo belongs to: by its position and time, or by its name.

By position: the nearest planned spot within a limit. Where two spots are about as near, nearer to
one another than a phone can tell, the time decides: spots are numbered in walking order. A photo
without a position belongs where one taken within two minutes of it was placed. What can't be
placed stays without a spot and says why.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tillercount.names import spot_key, spot_text
from tillercount.positions import PHONE_ERROR_M, distance_m, far_text

__all__ = ["WITHIN_M", "Place", "ToPlace", "Walk", "distance_m", "far_text", "to_place"]

WITHIN_M = 30.48
"""A photo farther than this (100 ft) from every spot isn't placed: a convention, six times
PHONE_ERROR_M."""

_SAME_STOP_S = 60.0
_NEAR_IN_TIME_S = 120.0
"""Laying the frame and pressing takes less; walking to the next spot takes more: conventions."""


@dataclass(frozen=True)
class ToPlace:
    """A photo to be placed: its file name, and that without its ending as names are compared.

    ``given`` is the name of a spot that somebody gave with it, or "", and ``spot`` the same as
    compared.
    """

    name: str
    key: str
    spot: str = ""
    given: str = ""
    path: str = ""
    lat: float | None = None
    lon: float | None = None
    taken_at: str | None = None


def to_place(
    photo: str,
    given: str | None,
    lat: float | None = None,
    lon: float | None = None,
    taken_at: str | None = None,
) -> ToPlace:
    """A photo by its path, the spot that somebody gave with it, its position and its time."""
    path = photo.replace("\\", "/")
    name = path.rsplit("/", 1)[-1]
    stem = name.rsplit(".", 1)[0] or name
    shown = " ".join((given or "").split())
    spot = spot_key(shown) if shown else ""
    return ToPlace(name, spot_key(stem), spot, shown, path, lat, lon, taken_at)


@dataclass(frozen=True)
class Place:
    """Where a photo belongs: the spot's number in the list of spots, None for nowhere.

    ``how`` is ``place``, ``time``, ``name`` or ``nowhere``; ``distance_m`` is from the planned
    position, where the photo has one of its own.
    """

    spot: int | None
    how: str
    distance_m: float | None = None
    note: str = ""


class Walk:
    """The planned spots of a visit, in walking order, on which photos are placed.

    Parameters
    ----------
    names, keys : sequence of str
        As shown, and as compared.
    lats, lons : sequence of float or None
        Degrees; None for a spot without a position.
    within_m : float
    """

    def __init__(
        self,
        names: Sequence[str],
        keys: Sequence[str],
        lats: Sequence[float | None],
        lons: Sequence[float | None],
        within_m: float = WITHIN_M,
    ) -> None:
        self._names = list(names)
        self._keys = {key: number for number, key in enumerate(keys)}
        self._lats = np.array(lats, dtype=float)
        self._lons = np.array(lons, dtype=float)
        self._within_m = within_m

    def place(self, photos: Sequence[ToPlace]) -> list[Place]:
        """A place for each photo, in the order given."""
        times = [_seconds(photo.taken_at) for photo in photos]
        order = sorted(
            range(len(photos)), key=lambda i: (times[i] is None, times[i] or 0.0, photos[i].name)
        )
        found: dict[int, Place] = {}
        before: int | None = None  # the last photo in time that has a spot
        for i in order:
            place = self._by_name(photos[i]) or self._by_place(photos, times, i, before, found)
            if place is not None:
                found[i] = place
                if place.spot is not None and times[i] is not None:
                    before = i
        known = [
            i for i in order if times[i] is not None and i in found and found[i].spot is not None
        ]
        for i in order:
            if i not in found:
                found[i] = self._by_time(photos, times, i, known, found)
        return [found[i] for i in range(len(photos))]

    def _by_name(self, photo: ToPlace) -> Place | None:
        spot = self._keys.get(photo.spot)
        if spot is None and photo.lat is None:
            spot = self._keys.get(photo.key)
        if spot is None:
            return None
        away = None
        if photo.lat is not None and photo.lon is not None and np.isfinite(self._lats[spot]):
            away = float(self._from(photo.lat, photo.lon)[spot])
        return Place(spot, "name", away)

    def _from(self, lat: float, lon: float) -> NDArray[np.float64]:
        return distance_m(lat, lon, self._lats, self._lons)

    def _by_place(
        self,
        photos: Sequence[ToPlace],
        times: Sequence[float | None],
        i: int,
        before: int | None,
        found: dict[int, Place],
    ) -> Place | None:
        lat, lon = photos[i].lat, photos[i].lon
        if lat is None or lon is None:
            return None
        away = self._from(lat, lon)
        if not np.isfinite(away).any():
            return Place(None, "nowhere", None, "no planned spot has a position")
        nearest = int(np.nanargmin(away))
        least = float(away[nearest])
        if least > self._within_m:
            return Place(
                None,
                "nowhere",
                least,
                f"{far_text(least)} from {spot_text(self._names[nearest])}, the nearest; the "
                f"limit is {far_text(self._within_m)}",
            )
        close = np.flatnonzero(away <= min(self._within_m, least + 2 * PHONE_ERROR_M))
        if len(close) == 1:
            return Place(nearest, "place", least)
        names = " and ".join(self._names[s] for s in close)
        last = found[before].spot if before is not None else None
        if last is None or before is None or times[i] is None:
            return Place(nearest, "place", least, f"spots {names} are about as near")
        gap = (times[i] or 0.0) - (times[before] or 0.0)
        after = [int(s) for s in close if s > last]
        if last in close and gap <= _SAME_STOP_S:
            chosen = last
        elif after:
            chosen = min(after)
        else:
            chosen = nearest
        note = f"spots {names} are about as near; by its time, {self._names[chosen]}"
        return Place(chosen, "place", float(away[chosen]), note)

    def _by_time(
        self,
        photos: Sequence[ToPlace],
        times: Sequence[float | None],
        i: int,
        known: Sequence[int],
        found: dict[int, Place],
    ) -> Place:
        mine = times[i]
        if mine is None:
            return Place(None, "nowhere", None, "the photo has neither a position nor a time")
        if known:
            gaps = np.abs(np.array([times[k] for k in known], dtype=float) - mine)
            best = int(np.argmin(gaps))
            if gaps[best] <= _NEAR_IN_TIME_S:
                beside = photos[known[best]].name
                return Place(
                    found[known[best]].spot, "time", None, f"{gaps[best]:.0f} s from {beside}"
                )
        return Place(
            None,
            "nowhere",
            None,
            "the photo has no position, and none that has was taken within "
            f"{_NEAR_IN_TIME_S / 60:g} minutes of it",
        )


def _seconds(text: str | None) -> float | None:
    """Wall-clock seconds: a photo's own clock, whether or not it names its offset."""
    if not text:
        return None
    try:
        time = dt.datetime.fromisoformat(text)
    except ValueError:
        return None
    return (time.replace(tzinfo=None) - dt.datetime(1970, 1, 1)).total_seconds()
