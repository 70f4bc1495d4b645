"""What somebody drew: areas, lines and points in degrees, whatever file they came in."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tillercount.errors import InputError

__all__ = ["Degrees", "Drawing", "Drawn", "read_drawing", "ring_of"]

Degrees = NDArray[np.float64]
"""(N, 2) float64, longitude and latitude in degrees on WGS 84, in that order."""

_TOO_LARGE_BYTES = 50_000_000


@dataclass(frozen=True)
class Drawn:
    """One thing that was drawn.

    Attributes
    ----------
    kind : str
        "area" (``rings``: outer ring, then holes), "track" (a recorded or drawn line, one ring
        that may be open) or "corners" (points in the order they were given).
    name : str
        As the file has it; "" if it has none.
    rings : tuple of (N, 2) float64
        Degrees, longitude first.
    """

    kind: str
    name: str
    rings: tuple[Degrees, ...]


@dataclass(frozen=True)
class Drawing:
    """All that one source holds, and what was noticed while reading it.

    ``doubt`` says that it may lie elsewhere than its positions say, where nobody can tell for sure.
    """

    source: str
    things: tuple[Drawn, ...]
    notes: tuple[str, ...] = ()
    doubt: str = ""

    @property
    def all_notes(self) -> tuple[str, ...]:
        """The doubt first, if there is one, then the notes."""
        return (*([self.doubt] if self.doubt else []), *self.notes)

    @property
    def positions(self) -> Degrees:
        """(N, 2) float64, every position, longitude first."""
        return np.concatenate([ring for thing in self.things for ring in thing.rings])


def read_drawing(source: str | Path) -> Drawing:
    """Read a GeoJSON, KML, GPX or CSV file, or corners typed as ``lat,lon lat,lon ...``.

    Raises
    ------
    InputError
        No such file, a format that can't be read, nothing drawn in it, or positions that can't be
        degrees on the earth.
    """
    from tillercount.plan import corners, geojson, marked_up
    from tillercount.plan.degrees import checked

    text = str(source)
    path = Path(text)
    if corners.looks_typed(text) and not os.path.exists(text):
        drawing = corners.read_typed(text)
    else:
        data = _bytes_of(path)
        kind = _kind(path, data)
        if kind == "geojson":
            drawing = geojson.read(data, path.name)
        elif kind == "csv":
            drawing = corners.read_csv(data, path.name)
        else:
            drawing = marked_up.read(data, path.name)
    if not drawing.things:
        raise InputError(f"{drawing.source}: nothing is drawn in it; save the outline again")
    if any(not len(thing.rings[0]) for thing in drawing.things):
        raise InputError(f"{drawing.source}: an outline with no positions; save it again")
    return checked(drawing)


def _bytes_of(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise InputError(f"{path} is a folder; name the file that holds the boundary")
        if not path.exists():
            raise InputError(
                f"{path} doesn't exist; give a GeoJSON, KML, GPX or CSV file, or corners like "
                "'39.10,-97.20 39.10,-97.19 39.09,-97.19' (latitude first)"
            )
        if path.stat().st_size > _TOO_LARGE_BYTES:
            raise InputError(f"{path} is too large for a field's outline; save only the field")
        return path.read_bytes()
    except OSError as error:  # a name too long or with odd characters is no file either
        raise InputError(f"{str(path)[:80]!r} can't be read: {error.strerror}") from None


def _kind(path: Path, data: bytes) -> str:
    """By what the file holds, not by its name; names are often wrong."""
    start = data[:400].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.startswith(b"PK"):
        raise InputError(
            f"{path.name} is a zip archive (KMZ or a zipped shapefile); unpack it, or save the "
            "field as KML or GeoJSON"
        )
    if path.suffix.lower() in {".shp", ".dbf", ".shx", ".prj"}:
        raise InputError(f"{path.name} is part of a shapefile; save the field as GeoJSON or KML")
    if start.startswith((b"{", b"[")):
        return "geojson"
    if start.startswith(b"<"):
        return "marked up"
    if path.suffix.lower() in {".csv", ".tsv", ".txt"} or re.match(rb"[\w\s.,;+\-\"]+\n", start):
        return "csv"
    raise InputError(f"{path.name} is no GeoJSON, KML, GPX or CSV; save the field as one of these")


def ring_of(rows: Sequence[Sequence[float]], where: str) -> Degrees:
    """A ring from rows of longitude, latitude and perhaps more, which is left out.

    Raises
    ------
    InputError
        A row too short, or a number that isn't finite; ``where`` says in which file and feature.
    """
    ring = np.empty((len(rows), 2))
    for number, row in enumerate(rows, start=1):
        try:
            lon, lat = float(row[0]), float(row[1])
        except (TypeError, ValueError, IndexError, KeyError, OverflowError):
            raise InputError(
                f"{where}, position {number}: {str(row)[:40]!r} isn't a longitude and a latitude; "
                "mend it or save the outline again"
            ) from None
        if not (np.isfinite(lon) and np.isfinite(lat)):
            raise InputError(f"{where}, position {number}: not a finite number; mend or remove it")
        ring[number - 1] = lon, lat
    return ring
