"""Whether a count and the size that was typed can be true of a young small-grain stand.

A size in a wrong unit (12 cm for a 12-inch square) leaves the picture as it is and multiplies the
density by 6.5. Nothing in the picture states the scale, but several things depend on it: how wide
the leaves would be, how much ground a shoot covers, how high the camera, how dense the stand. One
odd sign is flagged; two that point the same way, or one that goes beyond all that is known, refuse
the count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tillercount.area import Area, RowArea, WholePhoto
from tillercount.check import Check, Level
from tillercount.drillrows import NARROWEST_ROWS_MM, WIDEST_ROWS_MM, row_meant
from tillercount.otherunit import other_unit
from tillercount.twoforms import ROW_SPACING, SIZE, SIZE_BESIDE_FRAME
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
"""Flagged, and refused: common practice. Photos may read 25 % too many plants."""

LEAF_MM = (2.7, 6.5)
"""Flagged outside. Limits of `strokes.stroke_width_mm` at the right scale. The widest place of
winter wheat's first five leaves is 3.7 to 6.5 mm (means of cultivars; computed from the leaf
measurements in openalea-incubator/echap and openalea/WALTer, CeCILL-C); `stroke_width_mm` says what
was measured on photos. The upper limit is judged only where leaves lie apart."""
SURELY_MM = (2.3, 10.0)
"""A full sign outside: below all that was read at the right scale, and above what other crops and
later leaves reach (leaves of late tillers in the same measurements: 10 mm). Between this and
`LEAF_MM` a width only backs other signs."""
APART_SHARE = 0.4
"""Share of the ground under crop up to which leaves lie mostly apart: so far widths keep to 2.8 to
7 mm at the right scale (`stroke_width_mm`)."""
SHOOT_CM2, SURELY_CM2, MOST_CM2 = 12.0, 18.0, 30.0
"""Ground under crop for each shoot, where leaves lie apart: flagged, a full sign, and refused. Our
own conventions. At the right size it was at most 13 cm² on rendered photos (a wide-leaved barley,
whose shoots cover 16 by their truth), 6 on real ones. The first five leaves of a wheat's main stem
would cover 13 to 21.5 cm², laid flat side by side (length x width x 0.78; same leaf measurements as
`LEAF_MM`)."""
AREA_M2 = (0.018, 1.1)
"""Usual marked areas: from a 6-in hoop (0.0182 m²) to a square metre (common practice)."""
SIGNS_TO_REFUSE, BACKED_SIGNS_TO_REFUSE = 2, 3
"""Full signs; and signs in all where some only back others: a leaf or a shoot within what other
crops reach, a marked area below the usual whose leaves are as they should be."""


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
        `tillercount.quality.usual_height_mm` of that area.
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
    """One thing that doesn't fit; ``small`` if it speaks for a size typed too small.

    ``full`` if it counts by itself; else it only backs others.
    """

    check: Check
    small: bool
    full: bool = True

    @property
    def odd(self) -> bool:
        return self.check.level != "ok"


def check_size(area: Area, seen: Seen) -> tuple[Check, ...]:
    """Checks of the size that was typed, for every kind of area.

    Returns
    -------
    tuple of Check
        ``marked size``, ``leaf width``, ``cover per shoot``, ``plant density`` and ``shoot
        density``, never refused by themselves, and last ``size and unit``, which refuses.
    """
    cover = _cover(seen)
    signs = [
        _marked_size(area, seen),
        _leaves(seen, backed=cover.odd and cover.full),
        cover,
        _density("plant", seen.plants_per_m2, MANY_PLANTS_PER_M2),
        _density("shoot", seen.shoots_per_m2, MANY_SHOOTS_PER_M2),
    ]
    own = tuple(sign.check for sign in signs)
    for small in (True, False):
        odd = [sign for sign in signs if sign.odd and sign.small is small]
        words = [sign.check.text.partition(":")[0] for sign in odd]
        # plants and shoots come out of one count: together they are one sign
        full = sum(sign.full for sign in odd) - all(s.odd for s in signs[3:]) * small
        camera = _camera(seen, small)
        if camera:
            words.append(camera)
            full += 1
        count = full + sum(not sign.full for sign in odd)
        enough = full >= SIGNS_TO_REFUSE or count >= BACKED_SIGNS_TO_REFUSE
        if enough or _beyond(area, seen, small):
            text = f"{area.label} doesn't fit the picture ({'; '.join(words)}): "
            return (*own, _unit_check(count, "refuse", text + _remedy(area, small)))
    count = sum(sign.odd for sign in signs)
    return (*own, _unit_check(count, "ok", f"nothing speaks against {area.label}"))


def _beyond(area: Area, seen: Seen, small: bool) -> bool:
    """Whether one thing is enough by itself."""
    if not small:
        return _apart(seen) and _shoot_cm2(seen) > MOST_CM2
    return (
        seen.plants_per_m2 > MOST_PLANTS_PER_M2
        or seen.shoots_per_m2 > MOST_SHOOTS_PER_M2
        or (isinstance(area, RowArea) and area.spacing_mm < NARROWEST_ROWS_MM)
    )


def _apart(seen: Seen) -> bool:
    return seen.crop_share < APART_SHARE


def _shoot_cm2(seen: Seen) -> float:
    """Ground under crop for each shoot, cm²; 0 without shoots."""
    return seen.crop_share * 1e4 / seen.shoots_per_m2 if seen.shoots_per_m2 > 0 else 0.0


def _unit_check(signs: int, level: Level, text: str) -> Check:
    return Check("size and unit", float(signs), "signs", float(SIGNS_TO_REFUSE), level, text)


def _remedy(area: Area, small: bool) -> str:
    swapped = row_meant(area) if isinstance(area, RowArea) and not small else None
    other = swapped or other_unit(area, small)
    meant = f" (was {other} meant?)" if other else ""
    return (
        f"check {SIZE_BESIDE_FRAME.screen}{meant}; if they are right, "
        "count this spot by hand"
    )


def _marked_size(area: Area, seen: Seen) -> _Sign:
    low, high = AREA_M2
    ft2 = seen.area_m2 / M2_PER_FT2
    if isinstance(area, RowArea) and area.spacing_mm < NARROWEST_ROWS_MM:
        inches, cm = area.spacing_mm / MM_PER_IN, area.spacing_mm / 10
        text = (
            f"rows {inches:.1f} in ({cm:.1f} cm) apart are narrower than any drill sows: "
            f"check {ROW_SPACING.screen}"
        )
        return _Sign(
            Check("marked size", area.spacing_mm, "mm", NARROWEST_ROWS_MM, "lower", text), True
        )
    if isinstance(area, RowArea) and area.spacing_mm > WIDEST_ROWS_MM:
        inches, cm = area.spacing_mm / MM_PER_IN, area.spacing_mm / 10
        hint = row_meant(area)
        ask = f" (was {hint} meant?)" if hint else ""
        text = (
            f"rows {inches:.1f} in ({cm:.0f} cm) apart are wider than any drill sows small grain: "
            f"check {ROW_SPACING.screen}{ask}"
        )
        return _Sign(
            Check("marked size", area.spacing_mm, "mm", WIDEST_ROWS_MM, "lower", text), False
        )
    small = seen.area_m2 < low
    # a whole photo is as large as it is
    odd = not isinstance(area, WholePhoto) and not low <= seen.area_m2 <= high
    size = f"{ft2:.2f} ft² ({seen.area_m2 * 1e4:.0f} cm²)" if small else f"{ft2:.0f} ft²"
    text = f"the marked area is {ft2:.2f} ft²"
    if odd:
        text = (
            f"{size} is {'less' if small else 'more'} than is usually marked: "
            f"check {SIZE.screen}"
        )
    limit = (low if small else high) / M2_PER_FT2
    check = Check("marked size", ft2, "ft2", limit, "lower" if odd else "ok", text)
    surely = seen.leaf_mm < SURELY_MM[0]
    return _Sign(check, small, full=not small or surely)


def _leaves(seen: Seen, *, backed: bool) -> _Sign:
    """``backed``: whether the cover says as well that the size is too large."""
    narrow, wide = LEAF_MM
    width = seen.leaf_mm
    if math.isnan(width):
        text = "too few leaves to tell their width"
        return _Sign(Check("leaf width", width, "mm", narrow, "ok", text), True)
    small = width < narrow
    odd = small or (width > wide and _apart(seen))
    text = f"leaves are {width:.1f} mm wide"
    if odd:
        text = (
            f"leaves would be {'only ' if small else ''}{width:.1f} mm wide, and young wheat's are "
            f"about 3 to 6: check {SIZE.screen}"
        )
    limit = narrow if small else wide
    full = width < SURELY_MM[0] if small else width > SURELY_MM[1] or backed
    check = Check("leaf width", width, "mm", limit, "lower" if odd else "ok", text)
    return _Sign(check, small, full)


def _cover(seen: Seen) -> _Sign:
    each = _shoot_cm2(seen)
    odd = _apart(seen) and each > SHOOT_CM2
    text = f"crop covers {each:.1f} cm² for each shoot"
    if odd:
        text = (
            f"crop would cover {each:.0f} cm² ({each / MM_PER_IN**2 * 100:.1f} in²) for each "
            f"shoot, and young shoots have up to {SHOOT_CM2:.0f}: check {SIZE.screen}"
        )
    check = Check("cover per shoot", each, "cm2", SHOOT_CM2, "lower" if odd else "ok", text)
    return _Sign(check, False, full=each > SURELY_CM2)


def _density(what: str, per_m2: float, many: float) -> _Sign:
    value, limit = per_ft2(per_m2), per_ft2(many)
    odd = per_m2 > many
    text = f"{value:.0f} {what}s per ft²"
    if odd:
        text = (
            f"{text} are more than a young stand is likely to have (limit {limit:.0f}): check "
            f"{SIZE.screen}"
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
