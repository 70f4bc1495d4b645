"""What no interval knows of, and what therefore keeps a verdict from being called clear."""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Sequence
from dataclasses import replace

from tillercount.clockdays import days_of, same_clocks, walks
from tillercount.field.commonratio import common_ratio
from tillercount.field.estimate import FieldEstimate
from tillercount.field.observers import observer_differences
from tillercount.field.oddrecords import odd_records
from tillercount.field.spots import SpotDensity
from tillercount.field.twophotos import photos_apart
from tillercount.handlimits import doubts_size
from tillercount.handvisits import LONGEST
from tillercount.names import first_few, spot_key, spot_text
from tillercount.stand.classify import Classified, Hold, in_unit
from tillercount.stand.limits import (
    EXCESSIVE_BY,
    EXCESSIVE_SHOOTS_FT2,
    enough_shoots,
    excessive,
)
from tillercount.stand.nocrop import without_crop
from tillercount.stand.otherplants import HIDING_COVER, cover_text
from tillercount.stand.patches import odd_part, too_uneven
from tillercount.stand.photosize import corrected, size_of_photos
from tillercount.stand.words import number_text
from tillercount.twoforms import as_sentence
from tillercount.units import per_ft2

__all__ = ["against_early", "hold_back"]

SURE_OF_NOTHING = 5
"""From so many spots on, all of them empty, a field may be called empty: a convention of our own;
published advice is 5 to 15 spots a field (`tillercount.field.estimate`)."""


def hold_back(estimate: FieldEstimate, result: Classified) -> Hold | None:
    """Why a result isn't to be called clear; None where nothing speaks against it.

    Photos of two visits, people who differ on the same spots, hand counts or photos whose size
    can't be right, weeds that hide the crop from the photos, spots too different for one verdict,
    or one spot alone: how much spots differ is not known from one, so its probabilities rest on
    what is usual.
    """
    what = result.rule.measures
    visits = _two_visits(estimate, what)
    if visits is not None:
        return visits
    apart = [one for one in observer_differences(estimate.listed) if one.differ]
    apart = [one for one in apart if one.what == what] or apart
    if apart:
        one = apart[0]
        times = f"{one.ratio:.1f} times as many" if one.ratio < 100 else "far more"
        return Hold(
            f"“{one.more}” counts {times} {one.what} as “{one.fewer}” on the same spots", one.remedy
        )
    typed = _mistyped(estimate, result)
    if typed is not None:
        return typed
    photos = [o for o in photos_apart(estimate.listed) if o.what == what and not o.by_hand]
    if 2 * len(photos) >= len(estimate.used) > 0:
        where = first_few(one.spot for one in photos)
        return Hold(
            f"two photos of one spot can hardly both be right ({spot_text(where)})",
            f"{as_sentence(photos[0].remedy)[:-1]}, and assess again.",
        )
    bare = without_crop(estimate, what)
    if bare is not None:
        return bare
    if result.mean == 0 and 1 < result.n < SURE_OF_NOTHING:
        return Hold(
            f"no {what} were found at any of {result.n} spots, which are too few to say that there "
            "are none in the rest of the field"
        )
    weeds = _hiding(estimate, what)
    if weeds is not None:
        return Hold(
            f"weeds hide the crop; count by hand (other plants cover {cover_text(weeds)} of the "
            "ground in the photos)",
            "Count the crop by hand in the frame, since weeds hide it from the photos, and assess "
            "again.",
        )
    if result.n == 1:
        return Hold("one spot can't speak for a field")
    wrong = size_of_photos(estimate, result)
    if wrong is not None:
        return wrong
    common = _off_alike(estimate, what)
    if common is not None:
        return common
    uneven = too_uneven(estimate, result)
    if uneven is not None:
        return Hold(
            f"spots differ too much for one verdict ({uneven})",
            f"Map the {odd_part(estimate, result)} part, count it by itself, and judge each part "
            "alone.",
        )
    return None


def against_early(estimate: FieldEstimate, result: Classified, *, alone: bool) -> Classified:
    """Plants that their shoots contradict, held back where their class isn't theirs too.

    Plants few enough for early nitrogen may have tillered so much that shoots are excessive all
    the same; early nitrogen would then make them lodge. ``alone``: no shoots are judged
    beside the plants, which therefore decide; else the tillers do, and nothing is held back. A
    class that puts the stand itself in question is held back either way: nobody gives up a crop
    that has more shoots than a full stand wants by a count of plants that they contradict.
    """
    if estimate.shoots is None:
        return result
    shoots = per_ft2(estimate.shoots.mean)
    if not excessive(shoots):
        return result
    held = result.held
    plants = per_ft2(result.mean / result.unit_per_m2)
    few = f"few plants ({number_text(plants)}), but {number_text(shoots)} shoots per ft²"
    limit = f"more than {EXCESSIVE_SHOOTS_FT2:g} is called excessive, {EXCESSIVE_BY}"
    if held is None and plants > 0 and result.band.early == "keep first":
        held = Hold(
            f"{few} ({limit}), {number_text(shoots / plants)} to a plant: the two contradict each "
            "other, so don't give the stand up by its plants alone",
            "Dig up a few spots, break the plants apart, and count plants and shoots of the same "
            "spots again: plants standing close are taken for one, and leaves for shoots. If there "
            "are so many shoots, keep the stand, hold the nitrogen until just before jointing and "
            "watch for lodging; if there are fewer, assess again with what you counted.",
        )
    elif alone and held is None and result.band.asks_early:
        held = Hold(
            f"{few}: they have tillered; no early nitrogen ({limit})",
            "Check plants and shoots by hand at a few spots; if there are so many shoots, hold "
            "the nitrogen until just before jointing and watch for lodging.",
        )
    return replace(result, held=held, no_early=enough_shoots(shoots))


def _two_visits(estimate: FieldEstimate, what: str) -> Hold | None:
    """Photos that are of two visits by their own clocks: a mean of both is neither's.

    Not those of a season: what goes into one of its visits was looked at then, or somebody said so
    (`tillercount.store.clocks`).
    """
    photos = [s for s in estimate.entered(what) if s.by(what) == "photo" and not s.placed]
    for days in same_clocks(days_of(spot.taken for spot in photos)):
        parts = walks(days)
        if len(parts) > 1:
            ends = [max(parts[0]), min(parts[-1])]
            least = min((min(b) - max(a)).days for a, b in itertools.pairwise(parts))
            many, to = ("two", "and") if len(parts) == 2 else (f"{len(parts)}", "to")
            far = f"{'' if len(parts) == 2 else 'at least '}{least} days apart"
            seen = f"are of {many} visits ({ends[0]} {to} {ends[1]}, {far})"
            if least <= LONGEST:
                first, last = min(parts[0]), max(parts[-1])
                seen = f"were taken over {(last - first).days + 1} days ({first} to {last})"
            return Hold(
                f"by their own clocks the photos {seen}, which aren't one stand",
                "Count the photos of each visit into a file of its own, and judge one visit at a "
                "time; a season keeps both and says what changed. If it was one visit and a clock "
                "was wrong, put the photos into one visit of a season, by its name, and judge that "
                "visit.",
                counts=True,
            )
    return None


def _mistyped(estimate: FieldEstimate, result: Classified) -> Hold | None:
    """Hand counts whose size or numbers can hardly be right, where the verdict hangs on them.

    It does where they are half of the spots or more, or where the others alone come out in another
    class, or are even enough for one verdict only without them.
    """
    what = result.rule.measures
    sizes = {spot.key for spot in estimate.listed if doubts_size(spot.flags)}
    records = odd_records(estimate.listed)
    odd = sizes | {spot_key(one.spot) for one in records}
    entered = [s for s in estimate.entered(what) if getattr(s, f"{what}_per_m2") is not None]
    rest = [s for s in entered if s.key not in odd]
    if len(rest) == len(entered):
        return None
    many = 2 * len(rest) <= len(entered)
    if not many and not _turns(rest, result) and too_uneven(estimate, result) is None:
        return None
    names = [spot.spot for spot in estimate.used if spot.key in sizes]
    if names:
        return Hold(
            f"the size of the area counted can hardly be right ({spot_text(first_few(names))})",
            "Check the area of the hand counts and its unit, correct it, and assess again.",
            counts=True,
        )
    return Hold(
        f"{'one record doesn' if len(records) == 1 else 'some records don'}'t go with the others "
        f"({first_few(o.name for o in records)})",
        f"Look at {records[0].name} again: {records[0].check}. Correct it, or leave the record out "
        "if nobody can tell what was meant, and assess again.",
        counts=True,
    )


def _turns(rest: Sequence[SpotDensity], result: Classified) -> bool:
    """Whether the mean of these spots lies in another band than that of all."""
    mean = statistics.fmean(getattr(s, f"{result.rule.measures}_per_m2") for s in rest)
    value, borders = in_unit(mean, result.rule), result.rule.borders
    return sum(value >= b for b in borders) != sum(result.mean >= b for b in borders)


def _off_alike(estimate: FieldEstimate, what: str) -> Hold | None:
    """Photos that are all off from hand counts of the same spots.

    Pairs correct such photos, and hand counts of all spots leave them out; but where nothing
    agrees, the area of the hand counts may as well be the wrong one. Where what else was counted
    agrees it isn't the size, and the hand counts are believed.
    """
    found = common_ratio(estimate.listed)
    if found is None or what not in found.measures:
        return None
    photos = any(spot.by(what) == "photo" for spot in estimate.entered(what))
    if found.agree and (not photos or corrected(estimate, what)):
        return None
    return Hold(
        found.seen,
        f"{as_sentence(found.todo)} Then assess again; if all of that is right, go by the hand "
        "counts alone.",
    )


def _hiding(estimate: FieldEstimate, what: str) -> float | None:
    """Cover of other plants, 0 to 1, in the photos that the mean of ``what`` rests on, where much.

    None where hand counts stand for the photos: they see what grows below.
    """
    covers = [
        spot.other_cover
        for spot in estimate.entered(what)
        if spot.by(what) == "photo" and spot.other_cover is not None
    ]
    mean = sum(covers) / len(covers) if covers else 0.0
    return mean if mean >= HIDING_COVER else None
