"""The page's table of spots: who counted each, what was there, what became of it."""

from __future__ import annotations

from tillercount.field.spots import SpotDensity
from tillercount.stand.assessment import Assessment
from tillercount.stand.words import number_text
from tillercount.units import per_ft2

__all__ = ["spot_rows"]


def spot_rows(a: Assessment) -> list[dict[str, str]]:
    """One row for each spot as listed, densities per ft²."""
    words = {
        "averaged": "averaged with the others of this spot",
        "hand count taken": "its hand count was taken instead",
        "hand count taken in part": "hand count taken instead, where it has one",
    }
    rows = []
    for spot in a.field.listed:
        said = words.get(a.field.role(spot), "")
        rows.append(
            {
                "spot": spot.spot + (f" ({spot.zone})" if spot.zone else ""),
                "how": spot.way + (f", {spot.observer}" if spot.observer else ""),
                "plants": _ft2(spot.plants_per_m2),
                "shoots": _ft2(spot.shoots_per_m2),
                "notes": "; ".join(filter(None, [said, _corrected(a, spot), *spot.flags])),
            }
        )
    return rows


def _corrected(a: Assessment, spot: SpotDensity) -> str:
    """What a photo counts for in the mean where hand counts of other spots correct it."""
    if spot.source != "photo":
        return ""
    (one,) = (used for used in a.field.used if used.key == spot.key)
    values = [
        f"{_ft2(getattr(one, f'{what}_per_m2'))} {what}"
        for what in ("plants", "shoots")
        if a.field.by_photo(one, what) is not None
    ]
    if not values:
        return ""
    return f"in the mean as {' and '.join(values)}, corrected by hand counts of other spots"


def _ft2(value: float | None) -> str:
    return "–" if value is None else number_text(per_ft2(value))
