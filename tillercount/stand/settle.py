"""The verdict in one sentence, and what would settle one that is too close to call."""

from __future__ import annotations

from collections.abc import Sequence

from tillercount.field.stop import Further, Kind
from tillercount.stand.classify import Classified
from tillercount.stand.stage import Stage
from tillercount.stand.words import join, number_text

__all__ = ["headline", "settle"]


def headline(decided: Classified, shoots: Classified | None, stage: Stage | None) -> str:
    """One sentence for the grower; a second one for the tillers where they are judged too."""
    late = stage is not None and stage.jointed
    if not decided.clear:
        names = join([f"“{band.class_}”" for band in decided.likely])
        what = decided.rule.measures
        text = (
            f"Too close to call between {names}: the count of {what} doesn't tell them apart yet."
        )
    else:
        text = decided.band.say or f"The stand is {decided.band.name}."
    if late:
        if decided.clear:
            text = f"By the count the stand is {decided.class_!r} under these rules."
        return f"{text} The crop has jointed: early nitrogen to make tillers comes too late."
    if shoots is not None and decided.band.early != "keep first":
        if shoots.clear:
            text = f"{text} {shoots.band.say}"
        else:
            names = join([f"“{band.class_}”" for band in shoots.likely])
            text = f"{text} For the tillers it is too close to call between {names}."
    return text.strip()


def settle(result: Classified) -> str:
    """What would settle it; empty where the class is clear.

    The numbers of spots are the smallest at which the interval, with the error that all photos
    share, falls short of the nearest border (`tillercount.field.stop.further`); they take mean and
    scatter to stay as they are, so they are a guide, not a promise.
    """
    if result.clear or result.border is None:
        return ""
    unit = "square foot" if result.rule.unit == "ft2" else "square meter"
    border = f"{result.border:g} {result.rule.measures} per {unit}"
    by_hand = _options(result.further, kinds=("hand",))
    if result.spots_needed is None and result.shared_reaches and result.mean != result.border:
        text = (
            f"Count some of these spots by hand: the error that all photos share reaches the "
            f"border of {border} by itself, so more photos alone won't settle it."
        )
        return f"{text} About {by_hand} would, if they scatter like these." if by_hand else text
    options = _options(result.further, kinds=("photo", "hand"))
    if result.spots_needed is None or not options:
        return (
            f"Decide by other things (gaps, weeds, cost, moisture): at {number_text(result.mean)} "
            f"the mean lies so near the border of {border} that more spots won't settle it by "
            "themselves."
        )
    text = (
        f"Count about {options}, then look once: if they scatter like these, the border of "
        f"{border} then lies outside the interval."
    )
    each = _options(result.further, kinds=("photo", "hand"), peeking=True)
    if each:
        text += f" Who looks after every spot and stops when it seems clear needs about {each}."
    return text


def _options(further: Sequence[Further], kinds: Sequence[Kind], *, peeking: bool = False) -> str:
    """Like "9 more spots by photo (27 min) or 4 more spots by hand (60 min)"."""
    parts = []
    for one in further:
        count = one.spots_peeking if peeking else one.spots
        minutes = one.minutes_peeking if peeking else one.minutes
        if one.kind in kinds and count is not None and minutes is not None:
            spots = f"{count} more spot{'s' if count > 1 else ''}"
            parts.append(f"{spots} by {one.kind} ({minutes:.0f} min)")
    return join(parts, "or")
