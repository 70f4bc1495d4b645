"""The steps of a verdict beside what is on already, and beside parts too small for a pass."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from tillercount.stand.actions import ENOUGH_SHOOTS, count_tillers, nitrogen_by
from tillercount.stand.cautions import Advice
from tillercount.stand.classify import Classified
from tillercount.stand.late import if_it_stays
from tillercount.stand.onalready import EARLY, EarlyOn
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage

__all__ = ["steps_with"]

_ASKS = re.compile(r"\b(?:nitrogen|N|lb|kg|dose|topdress|fertili[sz]er|urea|UAN)\b", re.IGNORECASE)
"""What a step speaks of that is about nitrogen; others of a band say when to look again."""

_NOTHING_BEHIND = "”:"
""" "If it is “thin”:" ends so where nothing is left behind it."""


def steps_with(
    steps: Sequence[Advice],
    judged: Iterable[Classified | None],
    rules: RuleSet,
    stage: Stage | None,
    on: EarlyOn,
) -> list[Advice]:
    """The steps with what is on already in place of the dose that would go on twice.

    The first thing that a band of early nitrogen says of it is the early dose
    (`Band.do_nitrogen`). ``on`` is of the band that is planned for: what completes its early part
    needn't complete that of another class that may be true. Where plants and tillers are both clear
    there is no other class: what is on is told once, by the band that is planned for. Where either
    part goes on with the other, no step speaks of two. Where nothing more goes on at all, no step
    of any band asks for more.
    """
    found = [one for one in judged if one is not None]
    bands = [band for one in found for band in one.rule.bands]
    if on.left is not None:
        asked = [text for band in bands for text in band.do_nitrogen if _ASKS.search(text)]
        late = [] if stage is None else [if_it_stays(stage).text]
        count = [] if rules.rule("shoots") is None else [count_tillers(rules).text]
        return _instead_of_all(steps, [*asked, ENOUGH_SHOOTS.text, *late, *count], on)
    by = nitrogen_by(*found) if len(found) == 2 else (found[0] if found else None)
    planned = by.band if by is not None else None
    both_clear = len(found) == 2 and all(one.clear for one in found)
    moved = on.parts is not None and bool(on.parts.moved)
    instead = {}
    for band in (*bands, *([planned] if planned else [])):
        if band.early not in EARLY or not band.do_nitrogen:
            continue
        dose = band.do_nitrogen[0]
        if band is not planned:
            same_stand = both_clear and by is not None and band not in by.rule.bands
            if same_stand and (on.given or on.waits):
                instead[dose] = ""
            elif on.given:
                instead[dose] = EarlyOn(on.given, None).step
            continue
        if moved:
            later = [text for text in band.do_nitrogen[1:] if _ASKS.search(text)]
            instead.update(dict.fromkeys(later, ""))
        both = on.given or on.parts is None or on.parts.moved == "early"
        instead[dose] = " ".join(filter(None, (on.step if both else dose, on.beside)))
    out = []
    for step in steps:
        text = step.text
        for dose, other in instead.items():
            text = text.replace(dose, other)
        text = " ".join(text.split())
        if text and not text.endswith(_NOTHING_BEHIND):
            out.append(replace(step, text=text))
    return list(dict.fromkeys(out))


def _instead_of_all(steps: Sequence[Advice], asked: Sequence[str], on: EarlyOn) -> list[Advice]:
    """The steps without those that ask for nitrogen, and once in their place that none goes on."""
    out: list[Advice] = []
    at = None
    for step in steps:
        text = step.text
        for one in sorted(asked, key=len, reverse=True):
            text = text.replace(one, "")
        text = " ".join(text.split())
        if text != step.text and at is None:
            at = len(out)
        if text and not text.endswith(_NOTHING_BEHIND):
            out.append(replace(step, text=text))
    at = len(out) if at is None else at
    return list(dict.fromkeys([*out[:at], Advice(on.step, ""), *out[at:]]))
