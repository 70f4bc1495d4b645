"""With zones weighed by area a class has another chance than spot for spot; both can be seen."""

from __future__ import annotations

from dataclasses import replace

from tillercount.field.estimate import FieldEstimate
from tillercount.stand.classify import Classified
from tillercount.stand.judge import judge
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.shares import class_percent, class_shares
from tillercount.stand.stage import Stage
from tillercount.stand.words import percent

__all__ = ["spot_for_spot"]


def spot_for_spot(
    rules: RuleSet, field: FieldEstimate, decided: Classified, stage: Stage | None
) -> list[str]:
    """How likely the class would be without the zones' areas, where that reads otherwise."""
    if not any(split.weighted for split in field.zones):
        return []
    plain = judge(rules, replace(field, zone_areas=None).again(field.listed), stage=stage)
    other = plain.plants if decided.rule.measures == "plants" else plain.shoots
    if other is None:
        return []
    share, here = percent(class_shares(other)[decided.class_]), class_percent(decided)
    if share == here:
        return []
    return [
        f"where the zones' areas aren't known (counts without a season or zones), "
        f"“{decided.called()}” is {share} likely for the same counts, not {here}: go by the "
        f"{here}, in which each zone has the weight of its area"
    ]
