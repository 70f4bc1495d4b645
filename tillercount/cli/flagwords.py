"""Every flag of a count in plain words, to be read once under a table."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from typing import Any

from tillercount.nocrop import NO_CROP

__all__ = ["FLAG_WORDS", "WRONG_SIZE", "codes_of", "explained"]

FLAG_WORDS = {
    "photo size": "few pixels; send the phone's own photo, not a reduced copy",
    "photo glare": "much of the photo is burnt out; have the sun behind you",
    "photo darkness": "much of the photo is black; more light",
    "photo brightness": "the photo is dark all over; more light",
    "sharpness": "not quite sharp; hold still, tap on the plants to focus",
    "scale": "leaves are only a few pixels wide; check the size in --area, and if it is right, go "
    "closer",
    "tilt": "the camera wasn't level; look straight down",
    "camera height": "unusually high or low by its lens; check the size in --area",
    "cut off": "a part of the marked area is outside the photo",
    "glare": "a part of the marked area is burnt out; have the sun behind you",
    "brightness": "the marked area is dark all over; more light",
    "darkness": "a part of the marked area is black; more light",
    "snow or frost": "snow or frost in the marked area; wait until it has melted",
    "shadow line": "a hard shadow in the marked area; step back, or shade all of it",
    "marked size": "smaller or larger than frames usually are; check the size and unit in --area",
    "leaf width": "leaves too narrow or wide for this size of frame; check the unit in --area",
    "cover per shoot": "more leaf for each shoot than young stands have; check the unit in --area",
    "plant density": "more plants than stands usually have; check the size and unit in --area",
    "shoot density": "more shoots than stands usually have; check the size and unit in --area",
    "row spacing": "rows stand another distance apart than the drill's; check the size in --area",
    NO_CROP: "of a whole photo; leave it out if it isn't ground of the field",
    "unusual": "unlike the photos that the model knows; count this spot by hand too",
}


WRONG_SIZE = frozenset(
    {"marked size", "leaf width", "cover per shoot", "camera height", "row spacing"}
)
"""Flags that say hardly anything else than that the size is wrong."""


def codes_of(record: Mapping[str, Any]) -> Sequence[str]:
    """The flags of a photo, by their names where its file has them."""
    return record.get("flag_codes") or record.get("flags") or ()


def explained(records: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Flags of the photos that were counted, each once, with what it means.

    A flag without words here keeps those of the first photo that has it.
    """
    found: dict[str, str] = {}
    for record in records:
        if record["status"] != "counted":
            continue
        texts = record.get("flags") or ()
        codes = codes_of(record)
        for code, text in zip(codes, texts, strict=False):
            found.setdefault(code, FLAG_WORDS.get(code, text if text != code else ""))
    if "scale" in found:
        found["scale"] = _of_scale(records)
    return found


def _of_scale(records: Sequence[Mapping[str, Any]]) -> str:
    """What to say of photos that look to be taken from far off, by what others of their size show.
    """
    counted = [record for record in records if record["status"] == "counted"]
    doubted = {
        _area(one)[0]: _area(one)[1]
        for one in counted
        if "scale" in codes_of(one)
    }
    signs = {
        typed: sign
        for text, typed in doubted.items()
        if (sign := _too_large([one for one in counted if _area(one)[0] == text]))
    }
    if not signs:
        return FLAG_WORDS["scale"]
    mind = "measure the inside of the frame first, since going closer doesn't mend that"
    if len(doubted) == 1:
        return f"the size in --area is probably too large ({next(iter(signs.values()))}); {mind}"
    large = "; ".join(f"{typed} is probably too large ({sign})" for typed, sign in signs.items())
    return f"{FLAG_WORDS['scale']}; but {large}; {mind}"


def _area(record: Mapping[str, Any]) -> tuple[str, str]:
    """The marked area of a photo: in the program's words, and as it was typed."""
    area = record.get("area")
    text = str(area.get("text") or "") if isinstance(area, Mapping) else ""
    return text, (str(area.get("typed") or text) if isinstance(area, Mapping) else text)


def _too_large(records: Sequence[Mapping[str, Any]]) -> str:
    """Why the size of these photos is probably too large, by rows and by leaves; else nothing.

    Nobody gets nearer to a frame that is smaller than was typed. One photo tells neither, and
    leaves tell only where they are too wide in at least half of the photos that show any.
    """
    from tillercount.drillrows import USUAL_ROWS_MM
    from tillercount.field.rowspacing import FEWEST, of_stick, rows_seen, spacing_text

    signs = []
    rows = rows_seen(record for record in records if not of_stick(record))
    sure = rows is not None and rows.photos >= FEWEST and rows.alike
    if rows is not None and sure and rows.spacing_mm > USUAL_ROWS_MM[1]:
        signs.append(f"rows would stand {spacing_text(rows.spacing_mm)} apart")
    leaves = [one for record in records for one in _leaf_widths(record)]
    wide = [value for value, too_wide in leaves if too_wide]
    if len(wide) >= max(FEWEST, len(leaves) / 2):
        signs.append(f"leaves would be {statistics.median(wide):.1f} mm wide")
    return " and ".join(signs)


def _leaf_widths(record: Mapping[str, Any]) -> list[tuple[float, bool]]:
    """Width of the leaves in a photo, mm, and whether it is past the limit; what isn't a measured
    one is left out."""
    found = []
    for one in record.get("checks") or ():
        if not isinstance(one, Mapping) or one.get("name") != "leaf width":
            continue
        value, limit = one.get("value"), one.get("limit")
        if isinstance(value, int | float) and isinstance(limit, int | float):
            found.append((float(value), one.get("level") != "ok" and value > limit))
    return found
