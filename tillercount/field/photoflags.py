"""What the program noted on photos, gathered over a field: which photos, and what.

Photos' flags reach this point as texts (a season keeps no codes), so each is known by words that
its check always writes; a flag that isn't known keeps its own text, without its numbers.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from tillercount.field.spots import SpotDensity
from tillercount.names import spot_text
from tillercount.nocrop import NO_CROP, NO_CROP_WORDS

__all__ = ["SIZE_FLAGS", "PhotoFlag", "flag_name", "photo_flags", "size_in_doubt"]

SIZE_FLAGS = (
    "scale",
    "marked size",
    "leaf width",
    "cover per shoot",
    "camera height",
    "plant density",
    "shoot density",
    "row spacing",
)
"""Flags that a size in a wrong unit, or of another frame, makes too."""

_SIGNS: tuple[tuple[str, str], ...] = (
    (r"one pixel is", "scale"),
    (r"usually marked|(narrower|wider) than any drill", "marked size"),
    (r"leaves (would be|are) .*wide", "leaf width"),
    (r"crop would cover .* for each shoot", "cover per shoot"),
    (r"by its lens the camera", "camera height"),
    (r"plants per ft² are more than", "plant density"),
    (r"shoots per ft² are more than", "shoot density"),
    (r"rows stand .* and the drill's", "row spacing"),
    (r"camera was tilted", "tilt"),
    (r"marked area lies outside the photo", "cut off"),
    (r"marked area is burnt out", "glare"),
    (r"marked area is black", "darkness"),
    (r"marked area's mean brightness", "brightness"),
    (r"snow or frost", "snow or frost"),
    (r"hard shadow", "shadow line"),
    (r"sharpest edges", "sharpness"),
    (r"of the photo is burnt out", "photo glare"),
    (r"of the photo is black", "photo darkness"),
    (r"photo's mean brightness", "photo brightness"),
    (r"the photo is [\d,]+ × [\d,]+ pixels", "photo size"),
    (NO_CROP_WORDS, NO_CROP),
    (r"unlike those|looks more like .* than like a young stand", "unusual"),
)
_OWN = " corrected by "
"""A person's correction, which says nothing against the photo."""


@dataclass(frozen=True)
class PhotoFlag:
    """One kind of flag, and the photos that have it."""

    name: str
    photos: tuple[str, ...]


def flag_name(text: str) -> str:
    """The check that wrote a flag, such as "scale"; else the text without its numbers."""
    for sign, name in _SIGNS:
        if re.search(sign, text):
            return name
    return re.sub(r"\d[\d.,]*", "#", text).partition(":")[0]


def photo_flags(spots: Sequence[SpotDensity]) -> list[PhotoFlag]:
    """Flags of all photos, those that speak of the size first."""
    found: dict[str, list[str]] = {}
    for spot in spots:
        if not spot.of_photo:
            continue
        name = spot.photo.replace("\\", "/").rsplit("/", 1)[-1] or spot_text(spot.spot)
        for text in spot.flags:
            if _OWN not in text:
                found.setdefault(flag_name(text), []).append(name)
    order = sorted(found, key=lambda one: one not in SIZE_FLAGS)
    return [PhotoFlag(name, tuple(dict.fromkeys(found[name]))) for name in order]


def size_in_doubt(flags: Sequence[PhotoFlag]) -> list[PhotoFlag]:
    """Those that a wrong size makes."""
    return [flag for flag in flags if flag.name in SIZE_FLAGS]
