"""Time, place, focal length and orientation out of an EXIF block, however broken it is.

Phones and the programs that edit their pictures write EXIF blocks with zero denominators,
missing fields and stale sizes. Nothing here raises for what a file holds: a value that can't be
trusted is left out and a note says so.
"""

from __future__ import annotations

import datetime as dt
import math
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from PIL import ExifTags, Image

__all__ = ["DEFAULT_FOCAL_35MM", "DIAGONAL_35MM", "ShotData", "focal_px_of", "read_shot_data"]

DIAGONAL_35MM = 43.27
"""Diagonal of the 36 × 24 mm frame, mm: the 35-mm equivalent is defined on it."""

DEFAULT_FOCAL_35MM = 26.0
"""35-mm equivalent of a phone's main camera, mm (common practice)."""

SHORTEST_35MM, LONGEST_35MM = 10.0, 200.0
"""Rectilinear lenses of 10 and 12 mm are sold (from memory); phones' widest have 13."""
WIDE_35MM = 20.0

_BROKEN = (
    ArithmeticError,
    AttributeError,
    IndexError,
    KeyError,
    OSError,
    SyntaxError,
    TypeError,
    ValueError,
    struct.error,
)
"""What damaged EXIF blocks have been seen to raise in Pillow."""


@dataclass(frozen=True)
class ShotData:
    """What an EXIF block says of one shot; None where absent or not sane.

    `orientation` is 1 to 8 as EXIF defines it, `focal_35mm` in mm, `lat` and `lon` in degrees
    (WGS84, north and east positive); `taken_at` carries an offset only where the block has one.
    """

    orientation: int = 1
    taken_at: dt.datetime | None = None
    lat: float | None = None
    lon: float | None = None
    focal_35mm: float | None = None
    notes: tuple[str, ...] = ()


def focal_px_of(focal_35mm: float, width_px: int, height_px: int) -> float:
    """Focal length in pixels from the 35-mm equivalent, on the diagonal."""
    return focal_35mm * math.hypot(width_px, height_px) / DIAGONAL_35MM


def read_shot_data(image: Image.Image, width_px: int, height_px: int) -> ShotData:
    """Read what the EXIF block of an opened picture says.

    Parameters
    ----------
    image : PIL.Image.Image
    width_px, height_px : int
        Size of the decoded picture, in either orientation; checked against the EXIF size.
    """
    notes: list[str] = []
    try:
        exif = image.getexif()
        base: Mapping[int, Any] = dict(exif)
    except _BROKEN:
        return ShotData(notes=("the EXIF block is damaged: time, place and lens unknown",))
    shot = _sub_block(exif, ExifTags.IFD.Exif, "shot", notes)
    gps = _sub_block(exif, ExifTags.IFD.GPSInfo, "GPS", notes)
    lat, lon = _place(gps, notes)
    return ShotData(
        orientation=_orientation(base, notes),
        taken_at=_time(base, shot, notes),
        lat=lat,
        lon=lon,
        focal_35mm=_focal(shot, width_px, height_px, notes),
        notes=tuple(notes),
    )


def _sub_block(exif: Image.Exif, ifd: int, name: str, notes: list[str]) -> Mapping[int, Any]:
    try:
        return dict(exif.get_ifd(ifd))
    except _BROKEN:
        notes.append(f"the {name} part of the EXIF block is damaged and was left out")
        return {}


def _number(value: Any) -> float | None:
    """A finite float, or None; EXIF rationals may be 0/0, tuples or text."""
    try:
        number = float(value[0] / value[1]) if isinstance(value, tuple) else float(value)
    except _BROKEN:
        return None
    return number if math.isfinite(number) else None


def _orientation(base: Mapping[int, Any], notes: list[str]) -> int:
    value = base.get(ExifTags.Base.Orientation, 1)
    number = _number(value)
    if number is not None and number in range(1, 9):
        return int(number)
    # 0 is written by some programs for "not known"; it means nothing has to be turned.
    if number != 0:
        notes.append(f"EXIF orientation {value!r} isn't 1 to 8; the photo was not turned")
    return 1


def _time(
    base: Mapping[int, Any], shot: Mapping[int, Any], notes: list[str]
) -> dt.datetime | None:
    tags = ExifTags.Base
    for block, tag, offset_tag in (
        (shot, tags.DateTimeOriginal, tags.OffsetTimeOriginal),
        (shot, tags.DateTimeDigitized, tags.OffsetTimeDigitized),
        (base, tags.DateTime, tags.OffsetTime),
    ):
        text = block.get(tag)
        if not isinstance(text, str) or not text.strip(" \0:"):
            continue
        try:
            time = dt.datetime.strptime(text.strip(" \0")[:19], "%Y:%m:%d %H:%M:%S")
        except ValueError:
            notes.append(f"the time in the photo, {text!r}, can't be read")
            continue
        if not 1995 <= time.year <= 2100:
            notes.append(f"the time in the photo, {text!r}, can't be right; the clock was not set")
            return None
        offset = shot.get(offset_tag)
        try:
            zone = dt.datetime.strptime(str(offset).strip(" \0"), "%z").tzinfo if offset else None
        except ValueError:
            zone = None
        return time.replace(tzinfo=zone)
    return None


def _place(gps: Mapping[int, Any], notes: list[str]) -> tuple[float | None, float | None]:
    tags = ExifTags.GPS
    if tags.GPSLatitude not in gps and tags.GPSLongitude not in gps:
        return None, None
    lat = _degrees(gps.get(tags.GPSLatitude), gps.get(tags.GPSLatitudeRef), "NS")
    lon = _degrees(gps.get(tags.GPSLongitude), gps.get(tags.GPSLongitudeRef), "EW")
    if lat is None or lon is None:
        notes.append("the place in the photo can't be read and was left out")
    elif abs(lat) > 90 or abs(lon) > 180:
        notes.append(f"the place in the photo ({lat:g}, {lon:g}) is off the map and was left out")
    elif lat == 0 and lon == 0:
        notes.append("the place in the photo is 0, 0 (no GPS fix) and was left out")
    else:
        return lat, lon
    return None, None


def _degrees(parts: Any, ref: Any, letters: str) -> float | None:
    if not isinstance(parts, (tuple, list)) or not 1 <= len(parts) <= 3:
        return None
    numbers = [_number(part) for part in parts]
    known = [number for number in numbers if number is not None]
    if len(known) != len(numbers) or min(known) < 0:
        return None
    letter = ref.decode("ascii", "replace") if isinstance(ref, bytes) else str(ref)
    letter = letter.strip(" \0").upper()[:1]
    if not letter or letter not in letters:
        return None
    degrees = sum(number / 60**place for place, number in enumerate(known))
    return -degrees if letter in "SW" else degrees


def _focal(
    shot: Mapping[int, Any], width_px: int, height_px: int, notes: list[str]
) -> float | None:
    focal = _number(shot.get(ExifTags.Base.FocalLengthIn35mmFilm))
    if focal is None or focal == 0:  # 0 means "not known" in the standard
        return None
    if not SHORTEST_35MM <= focal <= LONGEST_35MM:
        notes.append(f"focal length {focal:g} mm (35-mm equivalent) can't be right; not used")
        return None
    exif_size = [
        _number(shot.get(tag))
        for tag in (ExifTags.Base.ExifImageWidth, ExifTags.Base.ExifImageHeight)
    ]
    if not _same_shape(exif_size, width_px, height_px):
        notes.append("the photo was cropped or its size in EXIF is stale; focal length not used")
        return None
    zoom = _number(shot.get(ExifTags.Base.DigitalZoomRatio))
    if zoom is not None and zoom > 1.05:
        notes.append(f"taken with digital zoom {zoom:g}×; focal length not used")
        return None
    if focal < WIDE_35MM:
        notes.append(
            f"taken with a very wide lens ({focal:g} mm equivalent): straight pipes look bent; "
            "use the phone's main camera"
        )
    return focal


def _same_shape(exif_size: list[float | None], width_px: int, height_px: int) -> bool:
    """Whether the EXIF size is the real one, or the real one scaled evenly; never for a crop."""
    exif_width, exif_height = exif_size
    if not exif_width or not exif_height or exif_width < 0 or exif_height < 0:
        return False
    long_real, short_real = max(width_px, height_px), min(width_px, height_px)
    long_exif, short_exif = max(exif_width, exif_height), min(exif_width, exif_height)
    # One pixel of rounding on the short side is no crop.
    return abs(short_exif * long_real / long_exif - short_real) <= 1.5
