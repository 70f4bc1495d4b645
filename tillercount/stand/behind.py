"""What stands behind a verdict: what to do by the counts alone, what to mind, whose figures they
are."""

from __future__ import annotations

from tillercount.field.estimate import FieldEstimate
from tillercount.field.sources import Collected
from tillercount.stand.actions import actions
from tillercount.stand.bands import UNIT_WORDS
from tillercount.stand.cautions import Advice, cautions_for
from tillercount.stand.classify import Classified
from tillercount.stand.hints import tillers_each
from tillercount.stand.nitrogen import NitrogenPlan
from tillercount.stand.patches import patches
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage
from tillercount.stand.words import span

__all__ = ["cautions_of", "sources_of", "steps_by_counts"]


def steps_by_counts(
    rules: RuleSet,
    field: FieldEstimate,
    plants: Classified | None,
    shoots: Classified | None,
    stage: Stage | None,
) -> list[Advice]:
    """What to do by the counts, before any pounds are heeded (`tillercount.stand.onsteps`)."""
    decided = plants or shoots
    if decided is None:
        return []
    each = tillers_each(rules, field)
    todo = actions(rules, decided, shoots, stage, counted=each is not None)
    return [*patches(field, decided), *todo]


def cautions_of(
    rules: RuleSet, collected: Collected, warning: str, too_many: Advice | None
) -> list[Advice]:
    """What to mind, the crop's and the count's own doubts first."""
    photos = any(spot.source == "photo" for spot in collected.spots)
    out = cautions_for(rules, photos=photos, model=collected.model)
    first = [Advice(warning, rules.by)] if warning else []
    return [*first, *([too_many] if too_many is not None else []), *out]


def sources_of(
    rules: RuleSet,
    plants: Classified | None,
    shoots: Classified | None,
    plan: NitrogenPlan | None,
) -> list[str]:
    """Whose figures the verdict rests on, each once."""
    lines: list[str] = []
    for result in (plants, shoots):
        if result is None:
            continue
        borders = span((result.rule.borders[0], result.rule.borders[-1]))
        unit = UNIT_WORDS[result.rule.unit]
        lines.extend(
            f"{result.rule.measures} {unit}, borders {borders}: {text}"
            for text in rules.sources_of(result.rule)
        )
    if plan is not None:
        lines.extend(f"nitrogen: {text}" for text in plan.sources)
    return list(dict.fromkeys(lines))
