"""Every flag of a count in plain words, to be read once under a table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

__all__ = ["FLAG_WORDS", "explained"]

FLAG_WORDS = {
    "photo size": "few pixels; send the phone's own photo, not a reduced copy",
    "photo glare": "much of the photo is burnt out; have the sun behind you",
    "photo darkness": "much of the photo is black; more light",
    "sharpness": "not quite sharp; hold still, tap on the plants to focus",
    "scale": "taken from far off, so leaves are only a few pixels wide; go closer",
    "tilt": "the camera wasn't level; look straight down",
    "camera height": "unusually high or low by its lens; check the size in --area",
    "cut off": "a part of the marked area is outside the photo",
    "glare": "a part of the marked area is burnt out; have the sun behind you",
    "darkness": "a part of the marked area is black; more light",
    "snow or frost": "snow or frost in the marked area; wait until it has melted",
    "shadow line": "a hard shadow in the marked area; step back, or shade all of it",
    "marked size": "smaller or larger than frames usually are; check the size and unit in --area",
    "leaf width": "leaves too narrow or wide for this size of frame; check the unit in --area",
    "cover per shoot": "more leaf for each shoot than young stands have; check the unit in --area",
    "plant density": "more plants than stands usually have; check the size and unit in --area",
    "shoot density": "more shoots than stands usually have; check the size and unit in --area",
    "row spacing": "rows stand another distance apart than the drill's; check the size in --area",
    "unusual": "unlike the photos that the model knows; count this spot by hand too",
}


def explained(records: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """Flags of the photos that were counted, each once, with what it means.

    A flag without words here keeps those of the first photo that has it.
    """
    found: dict[str, str] = {}
    for record in records:
        if record["status"] != "counted":
            continue
        texts = record.get("flags") or ()
        codes = record.get("flag_codes") or texts
        for code, text in zip(codes, texts, strict=False):
            found.setdefault(code, FLAG_WORDS.get(code, text if text != code else ""))
    return found
