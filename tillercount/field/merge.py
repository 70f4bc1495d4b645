"""One record per spot, from all that was counted there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tillercount.definition import Definition
from tillercount.errors import InputError
from tillercount.field.sameground import pair_apart
from tillercount.field.spots import PairedDifference, SpotDensity
from tillercount.names import spot_text

__all__ = ["Pair", "by_spot", "difference_at", "mean_of", "merge", "one_definition", "pairs_of"]


def by_spot(
    spots: Sequence[SpotDensity],
) -> list[tuple[list[SpotDensity], list[SpotDensity]]]:
    """Hand counts and photos of each spot, in the order in which spots first appear."""
    groups: dict[str, tuple[list[SpotDensity], list[SpotDensity]]] = {}
    for spot in spots:
        hands, photos = groups.setdefault(spot.key, ([], []))
        (hands if spot.source == "hand" else photos).append(spot)
    return list(groups.values())


@dataclass(frozen=True)
class Pair:
    """One spot by hand and by photo, per m², and the smaller of both areas, m²."""

    spot: str
    hand: float
    photo: float
    area_m2: float


def pairs_of(spots: Sequence[SpotDensity], what: str) -> list[Pair]:
    """Spots of which ``what`` ("plants" or "shoots") was counted both by hand and by photo."""
    name = f"{what}_per_m2"
    pairs = []
    for hands, photos in by_spot([s for s in spots if getattr(s, name) is not None]):
        hand, photo = mean_of(hands, name), mean_of(photos, name)
        if hand is not None and photo is not None:
            area_m2 = min(hands[0].area_m2, photos[0].area_m2)
            pairs.append(Pair(hands[0].spot, hand, photo, area_m2))
    return pairs


def one_definition(spots: Sequence[SpotDensity]) -> Definition:
    """The one definition of shoots.

    Raises
    ------
    InputError
        Shoots counted by different definitions.
    """
    by: dict[Definition, str] = {}
    for spot in spots:
        if spot.shoots_per_m2 is not None:
            by.setdefault(spot.definition, spot.spot)
    if len(by) > 1:
        named = "; ".join(
            f"{spot_text(name)}: {definition.value}" for definition, name in by.items()
        )
        raise InputError(
            f"shoots were counted by different definitions ({named}), which can't be mixed; "
            "leave one kind out, or count again by one definition"
        )
    return next(iter(by), Definition.STEMS)


def mean_of(spots: Sequence[SpotDensity], name: str) -> float | None:
    """Mean of an attribute over the records that have it; None where none has."""
    present = [value for spot in spots if (value := getattr(spot, name)) is not None]
    if len(present) == 1:
        return float(present[0])  # nearly every spot of a large field: no array for one number
    return float(np.mean(present)) if present else None


def merge(
    hands: Sequence[SpotDensity], photos: Sequence[SpotDensity], definition: Definition
) -> SpotDensity:
    """One record for a spot: by hand where that was counted, else by photo.

    Of photos that gave one of its counts it keeps what is held against them: the other plants that
    they show, their day, and whether somebody put them there.
    """
    first = (*hands, *photos)[0]
    if len(hands) + len(photos) == 1:
        return first
    values: dict[str, float | None] = {}
    spread: dict[str, float] = {}
    from_photo: list[str] = []
    gave: list[SpotDensity] = []
    for what in ("plants", "shoots"):
        name = f"{what}_per_m2"
        by_hand = [s for s in hands if getattr(s, name) is not None]
        chosen = by_hand or [s for s in photos if getattr(s, name) is not None]
        values[what] = mean_of(chosen, name)
        if not by_hand:
            gave += [s for s in chosen if s not in gave]
        if hands and chosen and not by_hand:
            from_photo.append(what)
        spread[f"{what}_se"] = _error_of_mean(chosen, what)
        spread[f"{what}_bias_rel"] = mean_of(chosen, f"{what}_bias_rel") or 0.0
    return SpotDensity(
        spot=first.spot,
        source=first.source,
        plants_per_m2=values["plants"],
        shoots_per_m2=values["shoots"],
        plants_se=spread["plants_se"],
        shoots_se=spread["shoots_se"],
        plants_bias_rel=spread["plants_bias_rel"],
        shoots_bias_rel=spread["shoots_bias_rel"],
        area_m2=first.area_m2,
        definition=definition,
        zone=next((s.zone for s in (*hands, *photos) if s.zone), ""),
        flags=tuple(dict.fromkeys(flag for s in (*hands, *photos) for flag in s.flags)),
        photo=photos[0].photo if photos else "",
        observer=", ".join(dict.fromkeys(s.observer for s in hands if s.observer)),
        lat=first.lat,
        lon=first.lon,
        other_cover=mean_of(gave, "other_cover"),
        other_per_m2=mean_of(gave, "other_per_m2"),
        taken=next((s.taken for s in gave if s.taken), ""),
        placed=bool(gave) and all(s.placed for s in gave),
        from_photo=tuple(from_photo),
    )


def _error_of_mean(spots: Sequence[SpotDensity], what: str) -> float:
    """Standard error of the mean of one spot's records, per m²: by their own errors, or by how far
    photos lie apart where that is more and they contradict each other.

    Photos of the same ground that differ more than their intervals allow show that these are too
    narrow here. Where they don't, their own errors are the better estimate: the larger of the two
    would always be too large. Hand counts are taken as they stand.
    """
    n = len(spots)
    if not n:
        return 0.0
    own = math.hypot(*(getattr(s, f"{what}_se") for s in spots)) / n
    if n == 1 or any(s.source == "hand" for s in spots) or not pair_apart(spots, what):
        return own
    values = [float(getattr(s, f"{what}_per_m2")) for s in spots]
    return max(own, float(np.std(values, ddof=1)) / math.sqrt(n))


def difference_at(hands: Sequence[SpotDensity], photos: Sequence[SpotDensity]) -> PairedDifference:
    """Photo minus hand at a spot that has both."""
    gaps: dict[str, float | None] = {}
    for name in ("plants_per_m2", "shoots_per_m2"):
        hand, photo = mean_of(hands, name), mean_of(photos, name)
        gaps[name] = None if hand is None or photo is None else photo - hand
    return PairedDifference(hands[0].spot, gaps["plants_per_m2"], gaps["shoots_per_m2"])
