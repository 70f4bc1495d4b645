"""The verdict in one sentence, and what would settle one that is too close to call."""

from __future__ import annotations

from collections.abc import Sequence

from tillercount.field.stop import MINUTES, Further
from tillercount.stand.classify import Classified
from tillercount.stand.stage import Stage
from tillercount.stand.words import join, number_text, time_text

__all__ = ["before_spreading", "counting_helps", "headline", "settle", "what_first"]

WORTH_SPOTS = 20
WORTH_MINUTES = 120.0
"""More spots or minutes than these aren't worth the walk: a convention of our own."""

FEWEST = 5
"""With fewer spots mean and scatter are too uncertain to say that counting won't help; published
advice is 5 to 15 spots a field (`tillercount.field.estimate`)."""

FIRST_ROUND = 6
"""Spots of a first round, where there are too few to reckon with: a convention of our own."""

OTHER_EVIDENCE = (
    "Decide by other evidence: how even the stand is, how strong the tillers look, gaps, weeds, "
    "what each choice costs. Look again after a week or two of growing weather, and ask a local "
    "adviser."
)


SAME_EVIDENCE = "The same other evidence decides."


def headline(decided: Classified, shoots: Classified | None, stage: Stage | None) -> str:
    """One sentence for the grower; a second one for the tillers where they are judged too."""
    late = stage is not None and stage.jointed
    if decided.held is not None:
        text = (
            f"Not settled: {decided.held.why}. The count of {decided.rule.measures} by itself says "
            f"{join([f'“{band.class_}”' for band in decided.likely], 'or')}."
        )
    elif not decided.clear:
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
        elif shoots.held is not None and shoots.held == decided.held:
            pass  # said already
        elif shoots.held is not None:
            text = f"{text} For the tillers nothing is settled: {shoots.held.why}."
        else:
            names = join([f"“{band.class_}”" for band in shoots.likely])
            text = f"{text} For the tillers it is too close to call between {names}."
    return text.strip()


def counting_helps(result: Classified) -> bool:
    """Whether more spots are worth counting; False where the class is clear."""
    if result.clear or result.border is None or (result.held and result.held.remedy):
        return False
    return _few(result) or bool(_worth(result))


def before_spreading(result: Classified) -> str:
    """What to do before nitrogen goes on where the class isn't clear."""
    if result.held is not None and result.held.remedy:
        return f"Before spreading: {result.held.remedy}"
    if counting_helps(result):
        return "Count more spots before spreading."
    return (
        f"Decide by other evidence before spreading, not by more counting of "
        f"{result.rule.measures}."
    )


def what_first(result: Classified) -> str:
    """What to do before any rate is given, where the class isn't known well enough for one."""
    if result.held is not None and result.held.remedy:
        return result.held.remedy
    return _first_round(result) if result.clear or _few(result) else settle(result)


def settle(result: Classified, *, told: bool = False) -> str:
    """What would settle it; empty where the class is clear.

    ``told`` is True where the other evidence was named already, for plants.

    The numbers of spots are the smallest at which the interval, with the error that all photos
    share, falls short of the nearest border (`tillercount.field.stop.further`); they take mean and
    scatter to stay as they are, so they are a guide, not a promise. Where they come to more than
    20 spots or two hours, other evidence has to settle it.
    """
    if result.held is not None and result.held.remedy:
        return result.held.remedy
    if result.clear or result.border is None:
        return ""
    unit = "square foot" if result.rule.unit == "ft2" else "square meter"
    border = f"{result.border:g} {result.rule.measures} per {unit}"
    if _few(result):
        return _first_round(result)
    worth = _worth(result)
    if not worth:
        options = _options([one for one in result.further if one.spots is not None])
        verdict = "isn't worth it" if options else "won't settle it"
        effort = f"it would take about {options}" if options else "not even 200 spots would tell"
        mean = number_text(result.mean, result.rule.borders)
        return (
            f"More counting of {result.rule.measures} {verdict}: at {mean} "
            f"the mean lies so near the border of {border} that {effort}, if it stays there (more "
            f"spots may also move it). "
            f"{SAME_EVIDENCE if told else OTHER_EVIDENCE}"
        )
    if result.shared_reaches and all(one.kind == "hand" for one in worth):
        return (
            f"Count some of these spots by hand: the error that all photos share reaches the "
            f"border of {border} by itself, so more photos alone won't settle it. About "
            f"{_options(worth)} would, if they scatter like these."
        )
    text = (
        f"Count about {_options(worth)}, then look once: if they scatter like these, the border of "
        f"{border} then lies outside the interval."
    )
    each = _options(
        [one for one in worth if _in_reach(one.spots_peeking, one.minutes_peeking)], peeking=True
    )
    if each:
        text += f" Who looks after every spot and stops when it seems clear needs about {each}."
    return text


def _in_reach(spots: int | None, minutes: float | None) -> bool:
    return (
        spots is not None
        and minutes is not None
        and spots <= WORTH_SPOTS
        and minutes <= WORTH_MINUTES
    )


def _worth(result: Classified) -> list[Further]:
    return [one for one in result.further if _in_reach(one.spots, one.minutes)]


def _few(result: Classified) -> bool:
    """Too few spots to say how many it takes; one alone says nothing of the scatter."""
    return result.n < 2 or (result.n < FEWEST and not _worth(result))


def _first_round(result: Classified) -> str:
    more = FIRST_ROUND - result.n
    so_far = "one spot says" if result.n == 1 else f"{result.n} spots say"
    by_photo = any(one.kind == "photo" for one in result.further)
    minutes = more * (MINUTES.photo if by_photo else MINUTES.hand)
    how = "by photo, two of them by hand too" if by_photo else "by hand"
    minutes += 2 * MINUTES.hand if by_photo else 0.0
    return (
        f"Count {more} more spots spread over the field, {how} (about {time_text(minutes)}), then "
        f"assess again: {so_far} too little of the rest of the field to tell how many it takes."
    )


def _options(further: Sequence[Further], *, peeking: bool = False) -> str:
    """Like "9 more spots by photo (27 min) or 4 more spots by hand (60 min)"."""
    parts = []
    for one in further:
        count = one.spots_peeking if peeking else one.spots
        minutes = one.minutes_peeking if peeking else one.minutes
        if count is not None and minutes is not None:
            spots = f"{count} more spot{'s' if count > 1 else ''}"
            parts.append(f"{spots} by {one.kind} ({time_text(minutes)})")
    return join(parts, "or")
