"""The report's one record, schema ``tillercount.report/1``: page, PDF and JSON are made from it.

Plain values only. What a page may show stands here in both systems of units; texts of rule sets
and cautions stand as their authors wrote them.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from pathlib import PureWindowsPath
from typing import TYPE_CHECKING, Any

from tillercount.field.others import others_record
from tillercount.field.spots import SpotDensity
from tillercount.report.bothunits import ends_in_both, in_both
from tillercount.report.inmetric import in_metric, rates_of
from tillercount.report.nitrogenplan import nitrogen_record
from tillercount.report.ruling import verdict_record
from tillercount.report.steps import step_record
from tillercount.report.threshold import evidence_record
from tillercount.stand.dressing import with_nitrogen
from tillercount.stand.otherplants import NOTICEABLE
from tillercount.stand.wide import why_wide
from tillercount.stand.windows import windows_in_short
from tillercount.stand.words import MARK_WORDS, refused_line
from tillercount.twoforms import as_sentence, record_on_paper
from tillercount.units import bu_per_ac_to_t_per_ha, per_ft2, per_m2

if TYPE_CHECKING:
    from tillercount.stand.assessment import Assessment
    from tillercount.stand.topdress import Topdress

__all__ = ["SCHEMA", "build_record"]

SCHEMA = "tillercount.report/1"

_WHOLE = frozenset({"assessment", "all"})
"""Keys of whole records of other commands, which no page shows."""

_WHAT = ("plants", "shoots")

_FRESH_DAYS = 61
"""So old a visit may be without its age being told, two months: from tillering to jointing a
stand's counts hold a few weeks (the project's own judgement)."""
_DAYS_PER_MONTH = 365.25 / 12


def build_record(
    assessment: Assessment,
    topdress: Topdress | None = None,
    *,
    farm: str = "",
    name: str = "",
    visit: Mapping[str, Any] | None = None,
    since: Mapping[str, Any] | None = None,
    visited: dt.date | None = None,
    made: dt.date | None = None,
    ground: Mapping[str, Any] | None = None,
    photos: Sequence[Mapping[str, Any]] = (),
    units: str = "us",
) -> dict[str, Any]:
    """Everything that the report says.

    Parameters
    ----------
    assessment : Assessment
    topdress : Topdress, optional
        The nitrogen plan of the same field.
    farm, name : str
        As they stand on the page; the assessment's own name where ``name`` is empty.
    visit : mapping, optional
        Of a season: its ``name``, its ``number`` and ``of`` how many visits to the field.
    since : mapping, optional
        What changed since the visit before, from `tillercount.report.since.since_record`.
    visited, made : date, optional
        When the field was seen; when the report was made, today if left out.
    ground : mapping, optional
        From `tillercount.report.fieldmap.map_record`.
    photos : sequence of mapping
        From `tillercount.report.photos`.
    units : {"us", "metric"}
        What the page shows; the record always holds both.
    """
    a = assessment if topdress is None else with_nitrogen(assessment, topdress)
    made = made or dt.date.today()
    flags = a.flags
    extra = (*topdress.lodging, *topdress.spreading) if topdress is not None else ()
    # where the ground forbids it, that is the first thing to do about nitrogen
    stop = (topdress.stop,) if topdress is not None and topdress.stop is not None else ()
    cautions = dict.fromkeys(
        (advice.text, advice.source) for advice in (*a.verdict.cautions, *extra)
    )
    sources = a.verdict.sources
    nitrogen = None if topdress is None else _nitrogen(topdress, a.verdict.settle)
    told = [] if nitrogen is None else nitrogen["first"]
    record = {
        "schema": SCHEMA,
        "version": a.version,
        "units": units,
        "made": str(made),
        "visited": None if visited is None else str(visited),
        "visited_months_ago": _months_since(visited, made),
        "farm": farm or None,
        "field": name or a.name or None,
        "visit": None if visit is None else dict(visit),
        "since": None if since is None else dict(since),
        "crop": a.crop,
        "stage": a.stage.words if a.stage else None,
        "rules": {
            "name": a.rules.name,
            "title": a.rules.title,
            "region": a.rules.region,
            "mark": a.rules.mark,
            "figures": MARK_WORDS[a.rules.mark],
            "publisher": a.rules.publisher,
            "notes": list(a.rules.notes),
        },
        "verdict": verdict_record(a),
        "actions": [
            {"text": one.text, "source": one.source} for one in (*stop, *a.verdict.actions)
        ],
        "definition": a.field.definition.words,
        "evidence": [evidence_record(a, result) for result in (a.plants, a.shoots) if result],
        "densities": _densities(a),
        "counted": _counted(a),
        "expected": _expected(a),
        "spots": [_spot(a, spot) for spot in a.field.listed],
        "map": dict(ground) if ground is not None else None,
        "photos": [dict(photo) for photo in photos],
        "nitrogen": nitrogen,
        "weeds": _weeds(a),
        "flags": [
            as_sentence(flag)
            for flag in flags
            if flag != a.weed_notice  # weeds have a part of their own
            if as_sentence(flag) not in told  # so has nitrogen
            if not a.refused or flag != refused_line(a.refused)  # each is named below, and why
        ],
        "refused": [
            {"photo": PureWindowsPath(photo).name, "reason": reason} for photo, reason in a.refused
        ],
        "cautions": [{"text": text, "source": source} for text, source in cautions],
        "steps": [step_record(a, step) for step in a.steps],
        "sources": list(sources),
        "model": dict(a.model) or None,
        "assessment": a.to_json(),
    }
    # what a program reads stays as the other commands give it
    record = record_on_paper(record, but=_WHOLE)
    return record | {"in_metric": in_metric(record, a.crop, rates_of(a.nitrogen, topdress))}


def _months_since(visited: dt.date | None, made: dt.date) -> int | None:
    """Whole months from a visit to the report; None where it is no older than `_FRESH_DAYS`."""
    if visited is None or (made - visited).days <= _FRESH_DAYS:
        return None
    return math.floor((made - visited).days / _DAYS_PER_MONTH)


def _nitrogen(made: Topdress, settle: str) -> dict[str, Any]:
    """The nitrogen, without what would settle the verdict, which is the first thing to do."""
    record = nitrogen_record(made)

    def left(text: str) -> str:
        return text.replace(f"First: {settle}", "").replace(settle, "").strip() if settle else text

    why = record["why_none"]
    return record | {
        "why_none": why and left(why),
        "first": list(filter(None, map(left, record["first"]))),
    }


def _densities(a: Assessment) -> list[dict[str, Any]]:
    """The field's means as counted, before any rule is held against them."""
    return [
        {
            "what": what,
            "how": found.how,
            "level": found.level,
            "spots": found.n,
            "cv": found.cv,
            **ends_in_both(found),
        }
        for what, found in (("plants", a.field.plants), ("shoots", a.field.shoots))
        if found is not None
    ]


def _counted(a: Assessment) -> dict[str, Any]:
    """What the means rest on: one value for each spot."""
    used = a.field.used
    roles = {a.field.role(spot) for spot in a.field.listed}
    ways = [set(spot.ways.values()) for spot in used]
    return {
        "all": len(used),
        "hand": ways.count({"hand"}),
        "photo": ways.count({"photo"}),
        "part": sum(len(of) > 1 for of in ways),
        "hand_taken": "hand count taken" in roles,
        "hand_taken_part": "hand count taken in part" in roles,
        "averaged": "averaged" in roles,
        "corrected": _corrected(a),
        "spots": [_spot(a, spot) for spot in used],
    }


def _corrected(a: Assessment) -> list[dict[str, Any]]:
    """By how much pairs changed the photos of spots that have nothing else, on average."""
    out = []
    for what in _WHAT:
        gaps = [
            getattr(spot, f"{what}_per_m2") - raw
            for spot in a.field.used
            if (raw := a.field.by_photo(spot, what)) is not None
        ]
        if gaps:
            mean = sum(gaps) / len(gaps)
            both = in_both(mean)
            # a page says more or fewer by a sign of its own
            sizes = {f"{per}_size": abs(value) for per, value in both.items()}
            out.append({"what": what, "spots": len(gaps), **both, **sizes})
    return out


def _weeds(a: Assessment) -> dict[str, Any]:
    """Other plants in the photos, and the weeds that were named with their loss in print.

    ``show`` says whether a page has anything to say of them.
    """
    short = windows_in_short(a.stage)
    return {
        "show": bool(a.weeds or a.weed_notice),
        "noticed": bool(a.weed_notice),
        "noticed_from": NOTICEABLE,
        "seen": others_record(a.field.other_plants),
        "named": [one.to_json() | {"text": as_sentence(one.beside_density)} for one in a.weeds],
        "windows": {"text": as_sentence(short.text), "source": short.source},
    }


def _expected(a: Assessment) -> dict[str, Any]:
    heads, bushels = a.heads, a.yield_
    wide = why_wide(heads, bushels)
    less, more = (1.0, 1.0) if heads is None else heads.sampling
    return {
        "why_none": as_sentence(a.no_yield) if a.no_yield else None,
        "whose": None if bushels is None else as_sentence(bushels.whose) or None,
        "why_wide": as_sentence(wide.text) if wide else None,
        "mean_off": None if heads is None else {"less": 1 - less, "more": more - 1},
        "heads": None
        if heads is None
        else {
            "per_ft2": [heads.low, heads.high],
            "per_m2": [per_m2(heads.low), per_m2(heads.high)],
        },
        "yield": None
        if bushels is None
        else {
            "bu_ac": [bushels.low, bushels.high],
            "t_ha": [bu_per_ac_to_t_per_ha(v, a.crop) for v in (bushels.low, bushels.high)],
        },
    }


def _spot(a: Assessment, spot: SpotDensity) -> dict[str, Any]:
    both = {"plants": spot.plants_per_m2, "shoots": spot.shoots_per_m2}
    return {
        "spot": spot.spot,
        "zone": spot.zone or None,
        "by": spot.ways,
        "corrected": [what for what in _WHAT if a.field.by_photo(spot, what) is not None],
        "observer": spot.observer or None,
        "photo": spot.photo or None,
        "role": a.field.role(spot),
        "per_ft2": {what: None if v is None else per_ft2(v) for what, v in both.items()},
        "per_m2": both,
        "flags": list(spot.flags),
    }
