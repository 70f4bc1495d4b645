"""The thinnest and the thickest spot as photos, with what the model saw on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from tillercount.errors import InputError
from tillercount.report.ownpictures import picture_bytes
from tillercount.report.whichphotos import CountedPhotos, match_photos, named
from tillercount.units import per_ft2

if TYPE_CHECKING:
    from tillercount.area import Area
    from tillercount.field.spots import SpotDensity
    from tillercount.stand.assessment import Assessment

__all__ = ["Picture", "counted_in", "pictures_of"]

LONGEST_PX = 900


@dataclass(frozen=True)
class Picture:
    """A picture to put in (JPEG), and its record."""

    jpeg: bytes
    record: Mapping[str, Any]


def counted_in(files: Sequence[Path]) -> CountedPhotos:
    """What counts files say of their photos."""
    import json

    areas: dict[str, str] = {}
    for file in files:
        if file.suffix.lower() != ".json":
            continue
        for record in json.loads(file.read_text("utf-8")).get("spots", ()):
            area = record.get("area") or {}
            if record.get("photo") and area.get("text"):
                areas[str(record.get("sha256") or "") or named(record["photo"])] = area["text"]
    return CountedPhotos(areas)


def pictures_of(
    a: Assessment,
    photos: Sequence[Path],
    known: CountedPhotos,
    area: Area | None = None,
    *,
    model: Any = None,
) -> tuple[list[Picture], str]:
    """The thinnest and the thickest photo of a field by what the verdict is decided by.

    With them what to say of counted photos that weren't among those given, "" where all were.

    Parameters
    ----------
    photos : sequence of Path
        Where to look for them, by their bytes.
    known : CountedPhotos
        What the counts say of them.
    area : Area, optional
        For photos whose area ``known`` doesn't have.

    Raises
    ------
    InputError
        None of the counted photos is among them, or nobody says what was marked.
    """
    from tillercount.area import parse_area

    what = f"{a.decided_by.rule.measures}_per_m2"
    counted = [
        spot
        for spot in a.field.listed
        if spot.photo and getattr(spot, what) is not None
    ]
    if not counted:
        raise InputError(
            f"all counts are by hand ({a.decided_by.rule.measures}), so there are no pictures to "
            "show: leave --photos out; or was another visit meant? Give --visit NAME"
        )
    matched = match_photos(counted, photos, known)
    found = list(matched.pairs)
    # one figure a spot in the whole report: that of the table and the map
    used = {spot.key: spot for spot in a.field.used}
    found.sort(key=lambda one: tuple(float(getattr(s, what)) for s in (used[one[0].key], one[0])))
    chosen = [("worst", found[0]), ("best", found[-1])] if len(found) > 1 else [("only", found[0])]
    out = []
    for role, (spot, path) in chosen:
        text = known.area_of(spot, path)
        marked = area if text is None else parse_area(text)
        if marked is None:
            raise InputError(f"{path}: what was marked isn't known; give --area square:12in")
        # by the photo's own name: a bare number beside two counts is no name
        shown = replace(used[spot.key], spot=spot.spot)
        made = _picture(path, marked, role, shown, _ways(a, shown), model)
        of = {"counted": len(counted), "at_hand": len(found)}
        out.append(Picture(made.jpeg, {**made.record, **of}))
    return out, matched.note


def _ways(a: Assessment, spot: SpotDensity) -> dict[str, str]:
    """ "hand", "corrected" (by what pairs showed) or "photo", for each count that a spot has."""
    return {
        what: "corrected" if a.field.by_photo(spot, what) is not None else way
        for what, way in spot.ways.items()
    }


def _picture(
    path: Path, area: Area, role: str, spot: SpotDensity, by: Mapping[str, str], model: Any
) -> Picture:
    from PIL import Image

    import tillercount.count
    from tillercount.report.overlay import draw_marked

    made = tillercount.count.count_photo_full(path, area, model=model)
    if made.photo is None:
        raise InputError(f"{path}: {made.spot.reason}; give the photo as it was taken")
    drawn = made.spot.status == "counted"
    pixels = draw_marked(made.photo, made.fit, made.topview, made.maps) if drawn else made.photo.rgb
    image = Image.fromarray(pixels)
    image.thumbnail((LONGEST_PX, LONGEST_PX))
    jpeg = picture_bytes(np.asarray(image, np.uint8), "overlay", "JPEG")
    both = {"plants": spot.plants_per_m2, "shoots": spot.shoots_per_m2}
    record = {
        "role": role,
        "how": next(iter(by.values())) if len(set(by.values())) == 1 else "each",
        "by": by,
        "spot": spot.spot,
        "photo": path.name,
        "overlay": drawn,
        "per_ft2": {k: None if v is None else per_ft2(v) for k, v in both.items()},
        "per_m2": both,
    }
    return Picture(jpeg, record)
