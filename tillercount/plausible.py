"""Whether a count and the size that was typed can be true of a young small-grain stand.

A size in a wrong unit (12 cm for a 12-inch square) leaves the picture as it is and multiplies the
density by 6.5. Nothing in the picture states the scale, but several things depend on it: how wide
the leaves would be, how high the camera, how dense the stand. One odd sign is flagged; two that
point the same way, or a density that nobody has printed, refuse the count.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from tillercount.area import Area, RowArea, WholePhoto
from tillercount.check import Check, Level
from tillercount.units import M2_PER_FT2, MM_PER_FT, MM_PER_IN, per_ft2

__all__ = [
    "MOST_PLANTS_PER_M2",
    "MOST_SHOOTS_PER_M2",
    "Seen",
    "check_size",
    "other_unit",
]

MOST_SHOOTS_PER_M2 = 3000.0
"""The most shoots read in print, on forward crops in Britain, called five times the need (ADAS in
Farmers Weekly 2020): 279 per ft²."""
MANY_SHOOTS_PER_M2 = 2000.0
"""Flagged from here, two thirds of that: nearly twice the winter barley that Teagasc hopes for in
March (1,000 to 1,200)."""
FULL_STAND_PER_M2 = 35.0 / M2_PER_FT2
"""Upper end of the densest band in Penn State's table of stands, 30 to 35 plants per ft²."""
MANY_PLANTS_PER_M2, MOST_PLANTS_PER_M2 = 2 * FULL_STAND_PER_M2, 3 * FULL_STAND_PER_M2
"""Flagged, and refused: common practice. Photos may read a third too many plants."""

LEAF_MM = (2.7, 6.5)
"""Limits of `strokes.stroke_width_mm` at the right scale. The widest place of winter wheat's first
five leaves is 3.7 to 6.5 mm (means of cultivars; computed from the leaf measurements in
openalea-incubator/echap and openalea/WALTer, CeCILL-C); `stroke_width_mm` says what was measured on
photos. The upper limit is judged only where leaves lie apart."""
NARROW_IN_TINY_MM = 3.3
"""Lower limit where the marked area is smaller than usual: then leaves have to speak for it."""
APART_SHARE = 0.2
"""Share of the ground under crop up to which leaves lie mostly apart."""
AREA_M2 = (0.24 * M2_PER_FT2, 1.1)
"""Usual marked areas: from a 6-in square to a square metre (common practice)."""
NARROWEST_ROWS_MM = 90.0
"""Rows stand 4 in or more apart in published tables (University of Kentucky); 10 cm is known."""
SIGNS_TO_REFUSE = 2


@dataclass(frozen=True)
class Seen:
    """What a picture and its count say, at the scale that the typed size gives.

    Attributes
    ----------
    area_m2 : float
    plants_per_m2, shoots_per_m2 : float
    leaf_mm : float
        Of `strokes.stroke_width_mm`; nan where it can't be told.
    crop_share : float
        Of the ground, 0 to 1.
    height_mm : float
        Of the camera by its lens; nan where the lens isn't known.
    usual_height_mm : tuple of float
    """

    area_m2: float
    plants_per_m2: float
    shoots_per_m2: float
    leaf_mm: float
    crop_share: float
    height_mm: float = math.nan
    usual_height_mm: tuple[float, float] = (0.0, math.inf)


@dataclass(frozen=True)
class _Sign:
    """One thing that doesn't fit; ``small`` if it speaks for a size typed too small."""

    check: Check
    small: bool


def check_size(area: Area, seen: Seen) -> tuple[Check, ...]:
    """Checks of the size that was typed, for every kind of area.

    Returns
    -------
    tuple of Check
        ``marked size``, ``leaf width``, ``plant density`` and ``shoot density``, never refused by
        themselves, and last ``size and unit``, which refuses.
    """
    size = _marked_size(area, seen)
    tiny = size.small and size.check.level != "ok"
    signs = [
        size,
        _leaves(seen, NARROW_IN_TINY_MM if tiny else LEAF_MM[0]),
        _density("plant", seen.plants_per_m2, MANY_PLANTS_PER_M2),
        _density("shoot", seen.shoots_per_m2, MANY_SHOOTS_PER_M2),
    ]
    own = tuple(sign.check for sign in signs)
    odd = [sign for sign in signs if sign.check.level != "ok"]
    for small in (True, False):
        words = [s.check.text.partition(":")[0] for s in odd if s.small is small]
        camera = _camera(seen, small)
        words += [camera] if camera else []
        beyond = small and (
            seen.plants_per_m2 > MOST_PLANTS_PER_M2 or seen.shoots_per_m2 > MOST_SHOOTS_PER_M2
        )
        # plants and shoots come out of one count: together they are one sign
        count = len(words) - all(s.check.level != "ok" for s in signs[2:]) * small
        if beyond or count >= SIGNS_TO_REFUSE:
            why = "; ".join(words)
            text = f"{area.label} doesn't fit the picture ({why}): {_remedy(area, small)}"
            return (*own, _unit_check(count, "refuse", text))
    return (*own, _unit_check(len(odd), "ok", f"nothing speaks against {area.label}"))


def _unit_check(signs: int, level: Level, text: str) -> Check:
    return Check("size and unit", float(signs), "signs", float(SIGNS_TO_REFUSE), level, text)


def _remedy(area: Area, small: bool) -> str:
    other = other_unit(area, small)
    meant = f" (was {other} meant?)" if other else ""
    return (
        f"check the number and the unit in --area against the frame{meant}; if they are right, "
        "count this spot by hand"
    )


def other_unit(area: Area, small: bool) -> str | None:
    """The same numbers in the other unit: inches for centimetres if ``small``, else the reverse.

    None where the size wasn't typed in that unit, or its numbers in it aren't short ones.
    """
    was, unit = (10.0, "in") if small else (MM_PER_IN, "cm")
    metric = re.search(r"\d\s*(?:mm|cm|m\b)", area.label, re.IGNORECASE) is not None
    if isinstance(area, WholePhoto) or metric is not small:
        return None
    numbers = [float(n) / was for n in re.findall(r"([\d.e-]+)mm", area.text)]
    if any(abs(n - round(n, 2)) > 1e-6 for n in numbers):
        return None
    said = iter(f"{n:g}{unit}" for n in numbers)
    return re.sub(r"[\d.e-]+mm", lambda _: next(said), area.text)


def _marked_size(area: Area, seen: Seen) -> _Sign:
    low, high = AREA_M2
    ft2 = seen.area_m2 / M2_PER_FT2
    if isinstance(area, RowArea) and area.spacing_mm < NARROWEST_ROWS_MM:
        inches, cm = area.spacing_mm / MM_PER_IN, area.spacing_mm / 10
        text = (
            f"rows {inches:.1f} in ({cm:.1f} cm) apart are narrower than any drill sows: "
            "check the row spacing in --area and its unit"
        )
        return _Sign(
            Check("marked size", area.spacing_mm, "mm", NARROWEST_ROWS_MM, "lower", text), True
        )
    small = seen.area_m2 < low
    # a whole photo is as large as it is
    odd = not isinstance(area, WholePhoto) and not low <= seen.area_m2 <= high
    size = f"{ft2:.2f} ft² ({seen.area_m2 * 1e4:.0f} cm²)" if small else f"{ft2:.0f} ft²"
    text = f"the marked area is {ft2:.2f} ft²"
    if odd:
        text = (
            f"{size} is {'less' if small else 'more'} than is usually marked: "
            "check the size in --area and its unit"
        )
    limit = (low if small else high) / M2_PER_FT2
    return _Sign(Check("marked size", ft2, "ft2", limit, "lower" if odd else "ok", text), small)


def _leaves(seen: Seen, narrow: float) -> _Sign:
    wide = LEAF_MM[1]
    width = seen.leaf_mm
    if math.isnan(width):
        text = "too few leaves to tell their width"
        return _Sign(Check("leaf width", width, "mm", narrow, "ok", text), True)
    small = width < narrow
    odd = small or (width > wide and seen.crop_share < APART_SHARE)
    text = f"leaves are {width:.1f} mm wide"
    if odd:
        text = (
            f"leaves would be only {width:.1f} mm wide, and young wheat's are about 3 to 6"
            if small
            else f"leaves would be {width:.1f} mm wide, and young wheat's are about 3 to 6"
        ) + ": check the size in --area and its unit"
    limit = narrow if small else wide
    return _Sign(Check("leaf width", width, "mm", limit, "lower" if odd else "ok", text), small)


def _density(what: str, per_m2: float, many: float) -> _Sign:
    value, limit = per_ft2(per_m2), per_ft2(many)
    odd = per_m2 > many
    text = f"{value:.0f} {what}s per ft²"
    if odd:
        text = (
            f"{text} are more than a young stand is likely to have (limit {limit:.0f}): check the "
            "size in --area and its unit"
        )
    level: Level = "lower" if odd else "ok"
    return _Sign(Check(f"{what} density", value, "per ft2", limit, level, text), True)


def _camera(seen: Seen, small: bool) -> str:
    """In words if the camera's height points that way; its own check flags it beforehand."""
    low, high = seen.usual_height_mm
    if not (seen.height_mm < low if small else seen.height_mm > high):
        return ""
    feet, metres = seen.height_mm / MM_PER_FT, seen.height_mm / 1000
    return f"the camera would have been {feet:.1f} ft ({metres:.2f} m) above the ground"
