"""What has to be said before a verdict is read: counts, sizes and rules that may be wrong for it.

These lines stand first on the screen, the page and the report, and first among the flags.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from tillercount.field.commonratio import common_ratio
from tillercount.field.estimate import ASSUMED_CV, FieldEstimate
from tillercount.field.observers import observer_differences
from tillercount.field.oddrecords import odd_records, record_text
from tillercount.field.photoflags import PhotoFlag, flag_name, photo_flags, size_in_doubt
from tillercount.field.spots import SpotDensity
from tillercount.field.turned import counted_twice, turned
from tillercount.field.twophotos import apart_lines
from tillercount.field.unpaired import unpaired
from tillercount.handlimits import doubts_size
from tillercount.names import first_few, spot_key, spot_text
from tillercount.nocrop import NO_CROP, no_crop_line
from tillercount.stand.classify import Classified
from tillercount.stand.library import list_rules
from tillercount.stand.nearby import DECIDES
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.shares import class_percent
from tillercount.stand.stage import Stage
from tillercount.stand.where import holds_for, outside
from tillercount.twoforms import NO_RULES, OTHER_RULES, SIZE

__all__ = [
    "counts_warnings", "default_line", "other_photo_flags", "places_of", "rule_warnings",
    "without_told",
]  # fmt: skip

_SPRING_FEEKES = 4.0
"""From here small grains sown in fall are in their spring: common practice."""
_FALL_MONTHS = range(8, 13)
UNUSUAL_SHARE = 1 / 3
"""From this share of the spots on, unusual photos are named before the verdict: a convention."""
_RECORDS = 3
"""Odd records told one by one; more are counted."""


def counts_warnings(field: FieldEstimate, results: Sequence[Classified] = ()) -> list[str]:
    """What is wrong with the counts: people or photos that differ, sizes that can't be, one spot
    alone.
    """
    apart = [one for one in observer_differences(field.listed) if one.differ]
    nameless = turned(field.listed) or unpaired(field.listed)
    lines = [*(one.line for one in apart), *apart_lines(field.listed), *nameless]
    common = common_ratio(field.listed)
    if common is not None:
        lines.insert(0, common.line)
    lines = [*counted_twice(field.listed), *lines]
    odd = [(s, flag) for s in field.listed for flag in s.flags if doubts_size([flag])]
    if odd:
        others = list(dict.fromkeys(s.spot for s, _ in odd[1:]))
        more = f" (and likewise {spot_text(first_few(others))})" if others else ""
        lines.append(f"{record_text(odd[0][0])}: {odd[0][1]}{more}")
    records = [one.line for one in odd_records(field.listed)]
    if records:
        lines.append(first_few(records, _RECORDS, between="; "))
    photos = len({spot.photo or spot.spot for spot in field.listed if spot.of_photo})
    for flag in _no_stand(field):
        lines.append(
            no_crop_line(flag.photos) if flag.name == NO_CROP else
            f"{len(flag.photos)} of {photos} photos don't look like any stand that the model "
            f"knows ({first_few(flag.photos)}): look whether they show young crop at all, and "
            "count those spots by hand"
        )
    doubted = size_in_doubt(photo_flags(field.listed))
    if doubted:
        names = list(dict.fromkeys(name for flag in doubted for name in flag.photos))
        far = " (or the photo was taken from too far off)" if _only_scale(doubted) else ""
        lines.append(
            f"check {SIZE.screen}{far}: {len(names)} of {photos} photo"
            f"{'s' if photos != 1 else ''} flagged for it ({_grouped(doubted)}); a wrong size "
            f"makes the densities wrong{_rows_apart(field)}"
        )
    told = any(flag.name == "row spacing" for flag in doubted)
    if field.row_doubt is not None and not told:
        lines.append(field.row_doubt.line)
    for one in results:
        if one.n == 1:
            likely = class_percent(one)
            if one.mean == 0:
                lines.append(
                    f"one spot only (n = 1), with nothing on it: {likely} “{one.called()}” by "
                    f"{one.rule.measures} is what an empty spot would say if the field were no "
                    "patchier than most; it may lie in a bare patch, so don't act on it"
                )
                continue
            lines.append(
                f"one spot only (n = 1): {likely} “{one.called()}” by {one.rule.measures} "
                f"rests on an assumed difference between spots of {ASSUMED_CV:.0%}, maybe half or "
                "twice that, since one spot says nothing about the rest of the field; don't act on "
                "it"
            )
    return lines


def without_told(field: FieldEstimate) -> list[str]:
    """The estimate's own flags, less the odd spots whose record is named with its reason."""
    told = {spot_key(one.spot) for one in odd_records(field.listed)}
    told |= {spot.key for spot in field.listed if doubts_size(spot.flags)}
    said = {
        flag
        for one in field.dispersion
        if one.odd is not None and spot_key(one.odd.spot) in told
        for flag in one.flags
    }
    return [flag for flag in field.flags if flag not in said]


def _rows_apart(field: FieldEstimate) -> str:
    """How far apart rows are seen where that speaks against the size, for whoever measures now."""
    seen = dict.fromkeys(
        flag.partition(":")[0]
        for spot in field.listed
        for flag in spot.flags
        if flag_name(flag) == "row spacing"
    )
    return "".join(f"; {text}" for text in seen)


def _no_stand(field: FieldEstimate) -> list[PhotoFlag]:
    """Flags of photos that may show no stand, where the mean rests on them: of all with hardly any
    crop, and of unusual ones where they are a good part.

    A person's own count of the same spot stands for itself, and not for what a photo gave there.
    """
    least = {NO_CROP: 0.0, "unusual": UNUSUAL_SHARE * len(field.used)}  # photos
    by_photo = photo_flags([spot for spot in field.used if "photo" in spot.ways.values()])
    return [
        flag
        for name, enough in least.items()
        for flag in by_photo
        if flag.name == name and len(flag.photos) >= enough
    ]


def _only_scale(flags: Sequence[PhotoFlag]) -> bool:
    return all(flag.name == "scale" for flag in flags)


def other_photo_flags(field: FieldEstimate) -> list[str]:
    """The photos' other flags, grouped, in one line; nothing where there are none."""
    flags = photo_flags(field.listed)
    said = {NO_CROP, *(flag.name for flag in (*size_in_doubt(flags), *_no_stand(field)))}
    others = [flag for flag in flags if flag.name not in said]
    return [f"photos flagged: {_grouped(others)}"] if others else []


def _grouped(flags: Sequence[PhotoFlag]) -> str:
    return "; ".join(f"{flag.name}: {first_few(flag.photos)}" for flag in flags)


def rule_warnings(
    rules: RuleSet,
    places: Sequence[tuple[float, float]] = (),
    *,
    stage: Stage | None = None,
    seen: dt.date | None = None,
) -> list[str]:
    """What is wrong with these rules for this field: its place, its season, their source."""
    lines = []
    away = outside(rules, places, list_rules())
    if away:
        lines.append(away)
    if rules.doubt:
        lines.append(rules.doubt)
    if rules.stage.season == "fall" and not (seen is not None and seen.month in _FALL_MONTHS):
        spring = (
            f"{stage.words} is spring"
            if stage is not None and stage.feekes[1] >= _SPRING_FEEKES
            else f"{seen:%B} isn't fall"
            if seen is not None
            else "not for spring, when it is too late for that"
        )
        lines.append(
            f"these rules ({rules.name}) were written for the fall, when there is still time to "
            f"sow again; {spring}"
        )
    return lines


def default_line(rules: RuleSet, places: Sequence[tuple[float, float]]) -> list[str]:
    """Which rules were taken because nobody chose, where nobody knows where the field lies."""
    if places:
        return []
    return [
        f"{NO_RULES.screen} {rules.name} was taken, which is for {holds_for(rules)}; "
        f"{OTHER_RULES.screen}; {DECIDES}"
    ]


def places_of(spots: Sequence[SpotDensity]) -> list[tuple[float, float]]:
    """Positions of the spots that have one, (lat, lon)."""
    return [(s.lat, s.lon) for s in spots if s.lat is not None and s.lon is not None]
