"""What the rules say to do, for each class that may well be true."""

from __future__ import annotations

from collections.abc import Iterator

from tillercount.stand.bands import Band
from tillercount.stand.cautions import CALL_AGENT, Advice
from tillercount.stand.classify import Classified
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.settle import settle
from tillercount.stand.stage import Stage
from tillercount.stand.words import join

__all__ = ["actions", "named", "nitrogen_by"]


def actions(
    rules: RuleSet, decided: Classified, shoots: Classified | None, stage: Stage | None
) -> list[Advice]:
    """Things to do, most urgent first, each with who says so."""
    out: list[Advice] = []
    if not decided.clear:
        out.append(Advice(settle(decided), "from the interval of these counts"))
    if any(band.early == "keep first" for band in named(decided)):
        out.append(CALL_AGENT)
    out.extend(_band_actions(rules, decided, "it is", stage))
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
        out.append(
            Advice(f"Count tillers too ({rules.counting.words}), to time the nitrogen.", rules.by)
        )
    if shoots is not None and shoots is not decided and keeps:
        out.extend(_band_actions(rules, shoots, "tillers are", stage))
        if not shoots.clear:
            out.append(Advice(settle(shoots), "from the interval of these counts"))
    return out


def nitrogen_by(plants: Classified | None, shoots: Classified | None) -> Classified | None:
    """By tillers, unless the plants say that the stand itself is in question."""
    if plants is None or shoots is None:
        return plants or shoots
    doubtful = any(band.early == "keep first" for band in named(plants))
    return plants if doubtful else shoots


def named(result: Classified) -> tuple[Band, ...]:
    """The one band of a clear verdict, or one for each class that may well be true."""
    return (result.band,) if result.clear else result.likely


def _band_actions(
    rules: RuleSet, result: Classified, lead: str, stage: Stage | None
) -> Iterator[Advice]:
    """What the rules say to do, for each class that may well be true."""
    jointed = stage is not None and stage.jointed
    classes_named = named(result)
    by_text: dict[str, list[str]] = {}
    for band in classes_named:
        for text in (*band.do, *(() if jointed else band.do_nitrogen)):
            by_text.setdefault(text, []).append(repr(band.class_))
    for text, classes in by_text.items():
        everywhere = len(classes) == len(classes_named)
        start = "" if everywhere else f"If {lead} {join(classes, 'or')}: "
        yield Advice(f"{start}{text}", rules.by)
