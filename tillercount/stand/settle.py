"""The verdict in one sentence, and what would settle one that is too close to call."""

from __future__ import annotations

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

    The number of spots is the smallest n at which t·CV/√n (with the error that all photos share
    added in quadrature) falls below the distance to the nearest border; it takes mean and CV to
    stay as they are, so it is a guide, not a promise.
    """
    if result.clear or result.border is None:
        return ""
    unit = "square foot" if result.rule.unit == "ft2" else "square meter"
    border = f"{result.border:g} {result.rule.measures} per {unit}"
    if result.spots_needed is None and result.shared_reaches and result.mean != result.border:
        return (
            f"Count some of these spots by hand: the error that all photos share reaches the "
            f"border of {border} by itself, so more photos alone won't settle it."
        )
    if result.spots_needed is None:
        return (
            f"Decide by other things (gaps, weeds, cost, moisture): at {number_text(result.mean)} "
            f"the mean lies so near the border of {border} that more spots won't settle it by "
            "themselves."
        )
    more = max(1, result.spots_needed - result.n)
    return (
        f"Count about {more} more spot{'s' if more > 1 else ''} ({result.n + more} in all): if "
        f"they scatter like these, the border of {border} then lies outside the interval."
    )
