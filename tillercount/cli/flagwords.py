"""Every flag of a count in plain words, to be read once under a table."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from typing import Any

__all__ = ["FLAG_WORDS", "explained"]

FLAG_WORDS = {
    "photo size": "few pixels; send the phone's own photo, not a reduced copy",
    "photo glare": "much of the photo is burnt out; have the sun behind you",
    "photo darkness": "much of the photo is black; more light",
    "sharpness": "not quite sharp; hold still, tap on the plants to focus",
    "scale": "leaves are only a few pixels wide; check the size in --area, and if it is right, go "
    "closer",
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


def explained(records: Sequence[Mapping[str, Any]]) -> dict[str, str]:
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
    if "scale" in found:
        found["scale"] = _too_large(records) or found["scale"]
    return found


def _too_large(records: Sequence[Mapping[str, Any]]) -> str:
    """What to say of photos that look to be taken from far off where rows or leaves say that the
    size is too large instead: nobody gets nearer to a frame that is smaller than was typed.
    """
    from tillercount.field.rowspacing import FEWEST, USUAL_MM, of_stick, rows_seen, spacing_text

    signs = []
    rows = rows_seen(record for record in records if not of_stick(record))
    sure = rows is not None and rows.photos >= FEWEST and rows.alike
    if rows is not None and sure and rows.spacing_mm > USUAL_MM[1]:
        signs.append(f"rows would stand {spacing_text(rows.spacing_mm)} apart")
    checks = [one for record in records for one in record.get("checks") or ()]
    wide = [
        one["value"]
        for one in checks
        if one["name"] == "leaf width" and one["level"] != "ok" and one["value"] > one["limit"]
    ]
    if wide:
        signs.append(f"leaves would be {statistics.median(wide):.1f} mm wide")
    if not signs:
        return ""
    return (
        f"the size in --area is probably too large ({' and '.join(signs)}); measure the inside of "
        "the frame first, since going closer doesn't mend that"
    )
