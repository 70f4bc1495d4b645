"""The verdict in one sentence, and what would settle one that is too close to call."""

from __future__ import annotations

from collections.abc import Sequence

from tillercount.field.stop import MINUTES, Kind
from tillercount.stand.alike import meaning, same_done, same_meaning
from tillercount.stand.classify import CLEAR, Classified
from tillercount.stand.late import too_late
from tillercount.stand.prospect import Prospect, in_ten
from tillercount.stand.shares import class_percent
from tillercount.stand.stage import Stage
from tillercount.stand.words import join, number_text, percent, time_text
from tillercount.twoforms import as_sentence

__all__ = [
    "FIRST_ROUND",
    "before_spreading",
    "counting_helps",
    "headline",
    "offered",
    "same_walk",
    "settle",
    "what_first",
]

WORTH_SPOTS = 20
WORTH_MINUTES = 120.0
"""More spots or minutes than these aren't worth the walk: a convention of our own."""

WORTH_CHANCE = 0.45
ENOUGH_CHANCE = 0.7
LITTLE_MORE = 0.05
"""A walk is worth it if a clear verdict comes of it about as likely as not (5 in 10, as it is
said). It goes on no longer than it takes for 7 in 10, or for all but so little of what the longest
walk brings: conventions of our own."""

A_TIP = 2
"""Where so few spots or fewer are likely to do, it is said why."""

HARDLY = 0.05
"""Below this chance counting "won't settle it"; from it on it "isn't worth it"."""

FEWEST = 5
"""With fewer spots a first round comes first; published advice is 5 to 15 spots a field
(`tillercount.field.estimate`)."""

FIRST_ROUND = 6
"""Spots of a first round, where there are too few to reckon with, or to tell a yield by: a
convention of our own."""

OTHER_EVIDENCE = (
    "Decide by other evidence: how even the stand is, how strong the tillers look, gaps, weeds, "
    "what each choice costs. Look again after a week or two of growing weather, and ask a local "
    "adviser."
)


SAME_EVIDENCE = "The same other evidence decides."


def headline(
    decided: Classified, shoots: Classified | None, stage: Stage | None, nothing: str = ""
) -> str:
    """One sentence for the grower; a second one for the tillers where they are judged too.

    ``nothing`` says why no nitrogen goes on any more, or none early; it stands in place of what a
    class would ask for.
    """
    if decided.held is not None:
        text = (
            f"Not settled: {decided.held.why}. The count of {decided.rule.measures} by itself says "
            f"{_names(decided)}."
        )
    elif not decided.clear:
        what = decided.rule.measures
        alike = _alike(decided, stage)
        if alike and nothing:  # what they come to isn't done any more
            alike = f"By the count of {what} the stand is {_names(decided)}."
        text = alike or (
            f"Too close to call: {_either(decided, stage, all_on=bool(nothing))}. The count of "
            f"{what} doesn't tell them apart yet."
        )
    else:
        text = decided.say or f"The stand is {decided.name_of()}."
    late = stage is not None and stage.past_tillers
    why = as_sentence(decided.early_held)
    if decided.clear and (late or nothing or why):
        text = f"By the count the stand is “{decided.called()}”."
    if nothing:
        return f"{text} {as_sentence(nothing)}"
    if stage is not None and late:
        return f"{text} {too_late(stage)}."
    if shoots is not None and decided.band.early != "keep first":
        if shoots.clear:
            text = f"{text} {shoots.say}"
        elif shoots.held is not None and shoots.held == decided.held:
            pass  # said already
        elif shoots.held is not None:
            text = f"{text} For the tillers nothing is settled: {shoots.held.why}."
        elif alike := _alike(shoots, stage):
            text = f"{text} {alike}"
        else:
            text = f"{text} For the tillers it is too close to call: {_either(shoots, stage)}."
    return f"{text} {why}".strip()


def _names(result: Classified) -> str:
    return join([f"“{result.called(band.class_)}”" for band in result.likely], "or")


def _alike(result: Classified, stage: Stage | None) -> str:
    """One sentence where the classes that may be true come to the same; else empty."""
    said = f"By the count of {result.rule.measures} {_names(result)}: either way"
    means = same_meaning(result, stage)
    done = same_done(result)
    if done and (means or result.late or result.band.early == "not said"):
        return f"{said} {done}."
    if not means:
        return ""
    if result.band.early == "keep first":
        return f"{said} {means}."
    rest = "when the rest goes on" if means == "no early nitrogen" else "how much"
    return f"{said} {means}, and only {rest} isn't clear yet."


def _either(result: Classified, stage: Stage | None, *, all_on: bool = False) -> str:
    """The classes that may be true, each with what it means for the field."""
    said = (
        (result.called(band.class_), meaning(result, band, stage, all_on=all_on))
        for band in result.likely
    )
    parts = [f"“{called}” ({means})" if means else f"“{called}”" for called, means in said]
    return join(parts, "or")


def counting_helps(result: Classified) -> bool:
    """Whether more spots are worth counting; False where the class is clear, or doesn't matter."""
    if result.clear or result.border is None or (result.held and result.held.remedy):
        return False
    if same_done(result):
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


def same_walk(decided: Classified, tillers: Classified) -> str:
    """What the tillers take where spots are to be counted for the plants anyway, as one order."""
    both = "Count plants and shoots at each of these spots: one walk serves both"
    if _few(decided) or _few(tillers):
        return f"{both}, and what the tillers still take is told after it."
    worth = _worth(tillers)
    if _options(worth) == _options(_worth(decided)):
        return f"{both}, and the tillers are clear then with a chance of {_chances(worth)}."
    return (
        f"{both}. The tillers by themselves take {_about(worth)}{_options(worth)}, for a clear "
        f"verdict with a chance of {_chances(worth)}; go by the larger number."
    )


def settle(result: Classified, *, told: bool = False, tillers: bool = False) -> str:
    """What would settle it; empty where the class is clear, or nothing that is done hangs on it.

    ``told`` is True where the other evidence was named already, for plants; ``tillers`` where it is
    the second order beside one for the plants.

    Each number of spots comes with the chance that the verdict is clear after it, over all that the
    mean and the scatter may still turn out to be (`tillercount.stand.prospect`). Where 20 spots or
    two hours leave that chance below about a half, other evidence has to settle it.
    """
    if result.held is not None and result.held.remedy:
        return result.held.remedy
    if result.clear or result.border is None or same_done(result):
        return ""
    unit = "square foot" if result.rule.unit == "ft2" else "square meter"
    border = f"{result.border:g} {result.rule.measures} per {unit}"
    if _few(result):
        return _first_round(result)
    worth = _worth(result)
    if not worth:
        best = offered(result)
        chance = max((one.chance for one in best), default=0.0)
        verdict = "isn't worth it" if chance >= HARDLY else "won't settle it"
        mean = number_text(result.mean, result.rule.borders)
        return (
            f"More counting of {result.rule.measures} {verdict}: at {mean} the mean lies so near "
            f"the border of {border}, for so much scatter, that even {_options(best)} would "
            f"give a clear verdict with a chance of {_chances(best)} only. "
            f"{SAME_EVIDENCE if told else OTHER_EVIDENCE}"
        )
    about = _about(worth)
    count = "For the tillers alone: count" if tillers else "Count"
    if result.shared_reaches and all(one.kind == "hand" for one in worth):
        return (
            f"{count} {about}{_options(worth)}: the error that all photos share reaches the border "
            f"of {border} by itself, so more photos alone won't settle it, and hand counts of the "
            f"same spots correct it. The chance that the verdict is clear then is "
            f"{_chances(worth)}."
        )
    return (
        f"{count} {about}{_options(worth)}, then look once: {_just_short(result, worth)}the chance "
        f"that the verdict is clear then is {_chances(worth)}, whichever side of the border of "
        f"{border} it comes out on."
    )


def _about(worth: Sequence[Prospect]) -> str:
    return "" if all(one.spots == 1 for one in worth) else "about "


def _just_short(result: Classified, worth: Sequence[Prospect]) -> str:
    """Why so few spots may do: the verdict lies hardly below what is called clear."""
    if min(one.spots for one in worth) > A_TIP:
        return ""
    return (
        f"“{result.called()}” is {class_percent(result)} likely, just short of the "
        f"{percent(CLEAR)} from which a verdict is called clear; "
    )


def _in_reach(spots: int, minutes: float) -> bool:
    return spots <= WORTH_SPOTS and minutes <= WORTH_MINUTES


def _reachable(result: Classified) -> dict[Kind, list[Prospect]]:
    """For each kind of spot the numbers of them that can be walked, smallest first."""
    kinds: dict[Kind, list[Prospect]] = {}
    for one in result.prospects:
        if _in_reach(one.spots, one.minutes):
            kinds.setdefault(one.kind, []).append(one)
    return kinds


def _worth(result: Classified) -> list[Prospect]:
    """For each kind the fewest spots with nearly all the chance there is, if worth the walk."""
    found = []
    for options in _reachable(result).values():
        best = max(one.chance for one in options)
        enough = max(WORTH_CHANCE, min(ENOUGH_CHANCE, best - LITTLE_MORE))
        found.extend([one for one in options if one.chance >= enough][:1])
    return found


def offered(result: Classified) -> list[Prospect]:
    """What is worth walking for; where nothing is, the most of each kind that could be walked."""
    return _worth(result) or [options[-1] for options in _reachable(result).values()]


def _few(result: Classified) -> bool:
    """Too few spots to say how many it takes; one alone says nothing of the scatter."""
    return result.n < 2 or (result.n < FEWEST and not _worth(result))


def _first_round(result: Classified) -> str:
    more = FIRST_ROUND - result.n
    so_far = "one spot says" if result.n == 1 else f"{result.n} spots say"
    by_photo = any(one.kind == "photo" for one in result.prospects)
    minutes = more * (MINUTES.photo if by_photo else MINUTES.hand)
    how = "by photo, two of them by hand too" if by_photo else "by hand"
    minutes += 2 * MINUTES.hand if by_photo else 0.0
    kind = "photo" if by_photo else "hand"
    chance = [one.chance for one in result.prospects if (one.kind, one.spots) == (kind, more)]
    then = f"; a clear verdict then has a chance of {in_ten(chance[0])}" if chance else ""
    return (
        f"Count {more} more spots spread over the field, {how} (about {time_text(minutes)}), then "
        f"assess again: {so_far} too little of the rest of the field{then}."
    )


def _options(prospects: Sequence[Prospect]) -> str:
    """Like "9 more spots by photo (27 min) or 4 of these spots by hand (60 min)"."""
    parts = [f"{one.text} ({time_text(one.minutes)})" for one in prospects]
    return join(parts, "or")


def _chances(prospects: Sequence[Prospect]) -> str:
    """Like "about 7 in 10", or "about 6 in 10 (photo) or about 8 in 10 (hand)"."""
    told = [in_ten(one.chance) for one in prospects]
    if len(set(told)) == 1:
        return told[0]
    return join([f"{text} ({one.kind})" for text, one in zip(told, prospects, strict=True)], "or")
