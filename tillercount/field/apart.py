"""Signs that counts given together come from more than one field."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import PurePosixPath

import numpy as np

from tillercount.field.spots import SpotDensity
from tillercount.names import first_few
from tillercount.positions import distance_m

__all__ = ["FAR_M", "several_fields", "several_folders", "widest_m"]

FAR_M = 3000.0
"""Spots of one field aren't farther apart: a square mile, the largest usual field, measures 2.3 km
across its corners (common practice)."""


def several_fields(spots: Sequence[SpotDensity]) -> list[str]:
    """Flags where spots lie far apart, name several fields, or have photos in several folders."""
    flags = []
    away = widest_m(spots)
    if away > FAR_M:
        flags.append(
            f"spots lie up to {away / 1609.344:.1f} mi ({away / 1000:.1f} km) apart: these look "
            "like several fields, and one mean of them says nothing about any; assess each field "
            "by itself"
        )
    fields = sorted({" ".join(spot.field.split()) for spot in spots if spot.field.strip()})
    if len({field.casefold() for field in fields}) > 1:
        flags.append(
            f"counts name {len(fields)} fields ({', '.join(fields)}), and one mean of them says "
            "nothing about any; assess each field by itself"
        )
    folders = several_folders(spot.photo for spot in spots if spot.photo)
    if folders:
        flags.append(folders)
    return flags


def several_folders(photos: Iterable[str]) -> str:
    """Half a sentence on photos, by their paths, that lie in several folders; "" where they don't.
    """
    folders = {str(PurePosixPath(photo.replace("\\", "/")).parent): None for photo in photos}
    if len(folders) < 2:
        return ""
    # the last part is what people call it, unless two are called alike
    short = [PurePosixPath(folder).name or folder for folder in folders]
    names = short if len(set(short)) == len(short) else list(folders)
    return (
        f"photos come from {len(folders)} folders ({first_few(names)}) and were taken for one "
        "field; if they are of several, assess each by itself"
    )


def widest_m(spots: Sequence[SpotDensity]) -> float:
    """Largest distance, metres, from any of the outermost spots; 0 with fewer than two places."""
    places = np.array(
        [(s.lat, s.lon) for s in spots if s.lat is not None and s.lon is not None], float
    ).reshape(-1, 2)
    if len(places) < 2:
        return 0.0
    lats, lons = places.T
    ways = (lats, lons, lats + lons, lats - lons)
    ends = {int(find(way)) for way in ways for find in (np.argmin, np.argmax)}
    return max(float(distance_m(lats[i], lons[i], lats, lons).max()) for i in ends)
