"""What the rules say to do, for each class that may well be true."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from tillercount.stand.bands import Band
from tillercount.stand.cautions import Advice, call_first
from tillercount.stand.classify import Classified
from tillercount.stand.late import if_it_stays
from tillercount.stand.limits import EXCESSIVE_BY
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.settle import counting_helps, same_walk, settle
from tillercount.stand.stage import Stage
from tillercount.stand.words import join

__all__ = [
    "ENOUGH_SHOOTS",
    "MOST_ACTIONS",
    "actions",
    "count_tillers",
    "named",
    "nitrogen_by",
    "parted",
]

MOST_ACTIONS = 5
"""Actions shown first; the others come under "also"."""

ENOUGH_SHOOTS = Advice(
    "Put no nitrogen on early, since so many shoots are there already; hold it until just before "
    "jointing, and watch for lodging.",
    EXCESSIVE_BY,
)
"""What becomes of a band's early dose where the shoots speak against it."""

_COUNTS = "from the interval of these counts"


def actions(
    rules: RuleSet,
    decided: Classified,
    shoots: Classified | None,
    stage: Stage | None,
    *,
    counted: bool = False,
) -> list[Advice]:
    """Things to do, most urgent first, each with who says so.

    ``counted``: how many tillers a plant has is known, so nobody is told to look.
    """
    out: list[Advice] = []
    if decided.mean == 0.0:
        return [_nothing_there(decided, rules), *_settling(decided)]
    if decided.held is not None and decided.held.counts:
        return _settling(decided)  # whatever else is advised rests on figures that can't be right
    both = shoots is not None and shoots is not decided
    one_walk = both and shoots is not None and counting_helps(decided) and counting_helps(shoots)
    out.extend(_settling(decided))
    if one_walk and shoots is not None:
        out.append(Advice(same_walk(decided, shoots), _COUNTS))
    if any(band.early == "keep first" for band in named(decided)):
        out.append(call_first(rules))
    timed = both and shoots is not None and _says_when(shoots)
    out.extend(_band_actions(rules, decided, "it is", stage, counted, timed=timed))
    if rules.name == "common-practice" and 15 <= decided.mean <= 18:
        out.append(
            Advice(
                "Mind that between 15 and 18 plants per square foot the trade draws the line in "
                "different places; how even the stand is should decide.",
                "common practice",
            )
        )
    keeps = not (decided.clear and decided.band.early == "keep first")
    if shoots is None and rules.rule("shoots") is not None and keeps:
        out.append(count_tillers(rules))
    if both and shoots is not None and keeps:
        if not shoots.clear and not one_walk:
            told = bool(settle(decided)) and not counting_helps(decided)
            text = settle(shoots, told=told, tillers=True)
            out.extend([Advice(text, _COUNTS)] if text else [])
        out.extend(_band_actions(rules, shoots, "tillers are", stage, counted))
    return list(dict.fromkeys(out))


def count_tillers(rules: RuleSet) -> Advice:
    """What to do where the rules time nitrogen by tillers, and none were counted."""
    return Advice(f"Count tillers too ({rules.counting.words}), to time the nitrogen.", rules.by)


def _nothing_there(decided: Classified, rules: RuleSet) -> Advice:
    """What comes before anything that rules say of thin stands, which are stands all the same."""
    n, what = decided.n, decided.rule.measures
    where = f"any of {n} spots" if n > 1 else "the one spot counted"
    first = call_first(rules)
    return Advice(
        f"No {what} at {where}: {first.text[0].lower()}{first.text[1:].rstrip('.')}, and look for "
        "living crowns before deciding: cut lengthwise, white or light green is alive, brown and "
        "soft is dead.",
        f"{first.source}; University of Minnesota 2011",
    )


def _settling(decided: Classified) -> list[Advice]:
    text = "" if decided.clear else settle(decided)
    return [Advice(text, _COUNTS)] if text else []


def parted(steps: Sequence[Advice]) -> tuple[list[Advice], list[Advice]]:
    """The few actions to show first, and the others."""
    return list(steps[:MOST_ACTIONS]), list(steps[MOST_ACTIONS:])


def nitrogen_by(plants: Classified | None, shoots: Classified | None) -> Classified | None:
    """By tillers, unless the plants say that the stand itself is in question."""
    if plants is None or shoots is None:
        return plants or shoots
    doubtful = any(band.early == "keep first" for band in named(plants))
    return plants if doubtful else shoots


def _if_it_stays(
    result: Classified, bands: Sequence[Band], lead: str, stage: Stage | None
) -> Advice | None:
    """What to do so late where the stand is worth keeping, beside a class that may not be."""
    keep = list(dict.fromkeys(f"“{one.called}”" for one in bands if one.early != "keep first"))
    doubtful = any(one.early == "keep first" for one in bands)
    late = stage is not None and stage.past_tillers
    if stage is None or not late or not keep or not doubtful or result.held is not None:
        return None
    then = if_it_stays(stage)
    return Advice(f"If {lead} {join(keep, 'or')}: {then.text}", then.source)


def named(result: Classified) -> tuple[Band, ...]:
    """The one band of a clear verdict, or one for each class that may well be true."""
    return (result.band,) if result.clear else result.likely


def _band_actions(
    rules: RuleSet,
    result: Classified,
    lead: str,
    stage: Stage | None,
    counted: bool,
    *,
    timed: bool = False,
) -> Iterator[Advice]:
    """What the rules say to do: what holds for every band that may be true, then all that holds
    for one of the likeliest class alone, then for the next, and so on.

    ``timed``: when nitrogen goes on is told by the shoots' own class.
    """
    late = stage is not None and stage.past_tillers

    def nitrogen(band: Band) -> tuple[str, ...]:
        return () if late or (band.asks_early and result.no_early) else band.do_nitrogen

    # Early nitrogen can't wait, so it comes before what can.
    cases = {
        band: (*nitrogen(band), *band.do, *(() if counted else band.do_tillers))
        for one in named(result)
        for band in result.bands_of(one.class_)
    }
    told = dict.fromkeys(itertools.chain(*cases.values()))
    shared = [text for text in told if all(text in texts for texts in cases.values())]
    if result.held is not None:
        shared = []  # nothing holds whatever the class: the counts themselves are in doubt
    for text in shared:
        yield Advice(text, rules.by)
    stays = _if_it_stays(result, list(cases), lead, stage)
    for band, texts in cases.items():
        if stays is not None and band.early != "keep first":
            yield stays
            stays = None  # once for all bands that are worth keeping
        own = [text for text in texts if text not in shared]
        if own:
            yield Advice(f"If {lead} “{band.called}”: {' '.join(own)}", rules.by)
        if result.early_held and band.asks_early and not (late or timed):
            yield ENOUGH_SHOOTS if result.clear else _if(lead, band, ENOUGH_SHOOTS)


def _says_when(shoots: Classified) -> bool:
    """Whether each class of the shoots that may be true says itself when their nitrogen goes on."""
    bands = [band for one in named(shoots) for band in shoots.bands_of(one.class_)]
    held = shoots.held is not None
    return not held and all(band.do_nitrogen and not band.asks_early for band in bands)


def _if(lead: str, band: Band, step: Advice) -> Advice:
    return Advice(f"If {lead} “{band.called}”: {step.text}", step.source)
