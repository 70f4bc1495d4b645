"""The result of holding a field against a rule set, and its JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from dataclasses import field as default
from typing import Any

from tillercount.field.estimate import DensityEstimate, FieldEstimate
from tillercount.field.observers import observer_differences, spots_by_observer
from tillercount.field.others import others_record
from tillercount.field.photoflags import photo_flags
from tillercount.field.record import further_record, sampling_record, stop_record
from tillercount.stand.cautions import Advice
from tillercount.stand.classify import Classified
from tillercount.stand.expect import Expectation
from tillercount.stand.nitrogen import NitrogenPlan
from tillercount.stand.otherplants import notice
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage
from tillercount.stand.weeds import WeedLoss
from tillercount.stand.wide import why_wide
from tillercount.units import M2_PER_FT2, per_ft2

__all__ = ["SCHEMA", "Assessment", "Step", "Verdict", "density", "thresholds"]

SCHEMA = "tillercount.assessment/1"


@dataclass(frozen=True)
class Step:
    """One link of the chain from counts to verdict: what, how much, and why.

    ``figures`` holds the numbers that went in and came out, as plain values, unrounded. ``kind``
    names the step for those who set it in other words, ``of`` says plants or shoots where it is
    about one of them.
    """

    what: str
    value: str
    why: str
    figures: Mapping[str, Any] = default(default_factory=dict)
    kind: str = ""
    of: str = ""


@dataclass(frozen=True)
class Verdict:
    """What the stand is, how sure that is, and what to do.

    Attributes
    ----------
    class_ : str
        The likeliest class; see ``clear`` before using it.
    headline : str
        One sentence for the grower.
    probabilities : mapping
        Per class; they sum to 1.
    clear : bool
        Whether the likeliest class is at least 80 % probable and nothing holds it back.
    settle : str
        What would settle it; empty where clear.
    counting_helps : bool
        Whether more spots are worth counting, for plants or for shoots.
    warnings : tuple of str
        What has to be read before the verdict (`tillercount.stand.warn`); among the flags too.
    """

    class_: str
    headline: str
    probabilities: Mapping[str, float]
    clear: bool
    actions: tuple[Advice, ...]
    cautions: tuple[Advice, ...]
    sources: tuple[str, ...]
    settle: str = ""
    counting_helps: bool = False
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Assessment:
    """A field held against a rule set."""

    rules: RuleSet
    field: FieldEstimate
    verdict: Verdict
    crop: str
    stage: Stage | None
    plants: Classified | None
    shoots: Classified | None
    heads: Expectation | None
    yield_: Expectation | None
    nitrogen: NitrogenPlan | None
    steps: tuple[Step, ...] = ()
    flags: tuple[str, ...] = ()
    refused: tuple[tuple[str, str], ...] = ()
    model: Mapping[str, Any] = default(default_factory=dict)
    name: str = ""
    version: str = ""
    no_yield: str = ""
    """Why no heads and no yield are told; empty where they are, or nobody asks for them."""
    weeds: tuple[WeedLoss, ...] = ()

    @property
    def weed_notice(self) -> str:
        """What is to be said of other plants in the photos, beside the weeds that were named."""
        return notice(self.field.other_plants, named=bool(self.weeds))

    @property
    def decided_by(self) -> Classified:
        """What the verdict's class comes from: the plant rule where there is one."""
        result = self.plants or self.shoots
        assert result is not None  # assess() refuses where neither can be judged
        return result

    def to_json(self) -> dict[str, Any]:
        """Everything as plain values, schema ``tillercount.assessment/1``; densities per ft²."""
        est, verdict = self.field, self.verdict
        wide = why_wide(self.heads, self.yield_)
        return {
            "schema": SCHEMA,
            "field": {
                "name": self.name,
                "plants_per_ft2": density(est.plants, per_ft2(1.0)),
                "shoots_per_ft2": density(est.shoots, per_ft2(1.0)),
                "plants_per_m2": density(est.plants, 1.0),
                "shoots_per_m2": density(est.shoots, 1.0),
                "spots": est.spots,
                "cv_plants": est.plants.cv if est.plants else None,
                "cv_shoots": est.shoots.cv if est.shoots else None,
                "definition": est.definition.value,
                "other_plants": others_record(est.other_plants),
                "spot_values": [
                    {
                        "spot": s.spot,
                        "source": s.source,
                        "by": s.ways,
                        "photo": s.photo or None,
                        "observer": s.observer or None,
                        "zone": s.zone or None,
                        "role": est.role(s),
                        "area_ft2": s.area_m2 / M2_PER_FT2,
                        "plants_per_ft2": _ft2(s.plants_per_m2),
                        "shoots_per_ft2": _ft2(s.shoots_per_m2),
                        "other_plants_cover": s.other_cover,
                        "other_plants_per_ft2": _ft2(s.other_per_m2),
                        "flags": list(s.flags),
                    }
                    for s in est.listed
                ],
                "observers": {who: list(of) for who, of in spots_by_observer(est.listed).items()},
                "observer_differences": [one.to_json() for one in observer_differences(est.listed)],
                "photo_flags": [
                    {"flag": one.name, "photos": list(one.photos)}
                    for one in photo_flags(est.listed)
                ],
                "paired_differences": [
                    {
                        "spot": p.spot,
                        "plants_per_ft2": _ft2(p.plants_per_m2),
                        "shoots_per_ft2": _ft2(p.shoots_per_m2),
                    }
                    for p in est.paired
                ],
            },
            "rules": self.rules.name,
            "crop": self.crop,
            "validated": self.rules.covers(self.crop),
            "stage": self.stage.words if self.stage else None,
            "verdict": {
                "class": verdict.class_,
                "headline": verdict.headline,
                "probabilities": dict(verdict.probabilities),
                "clear": verdict.clear,
                "held_back": self.decided_by.held.why if self.decided_by.held else None,
                "warnings": list(verdict.warnings),
                "settle": verdict.settle or None,
                "counting_helps": verdict.counting_helps,
                "actions": [advice.line for advice in verdict.actions],
                "cautions": [advice.line for advice in verdict.cautions],
                "sources": list(verdict.sources),
                "by": self.decided_by.rule.measures,
            },
            "thresholds": [
                thresholds(result) for result in (self.plants, self.shoots) if result is not None
            ],
            "sampling": sampling_record(
                est,
                [
                    (result.rule.measures, result.border_per_m2)
                    for result in (self.plants, self.shoots)
                    if result is not None
                ],
            ),
            "heads": _expectation(self.heads),
            "yield": _expectation(self.yield_),
            "yield_why": self.no_yield or None,
            "yield_wide": wide and wide.text,
            "nitrogen": _nitrogen(self.nitrogen),
            "weeds": [one.to_json() for one in self.weeds],
            "steps": [
                {"what": s.what, "value": s.value, "why": s.why, "figures": dict(s.figures)}
                for s in self.steps
            ],
            "flags": list(self.flags),
            "refused": [{"photo": photo, "reason": reason} for photo, reason in self.refused],
            "model": dict(self.model) or None,
            "version": self.version,
        }


def _ft2(value: float | None) -> float | None:
    return None if value is None else per_ft2(value)


def density(estimate: DensityEstimate | None, factor: float) -> dict[str, Any] | None:
    """A density with its interval, as plain values, times a factor."""
    if estimate is None:
        return None
    return {
        "mean": estimate.mean * factor,
        "low": estimate.low * factor,
        "high": estimate.high * factor,
        "level": estimate.level,
        "spots": estimate.n,
    }


def thresholds(result: Classified) -> dict[str, Any]:
    """A density held against a rule, as plain values."""
    rule = result.rule
    return {
        "measures": rule.measures,
        "unit": f"per {rule.unit}",
        "mean": result.mean,
        "low": result.low,
        "high": result.high,
        "class": result.class_,
        "clear": result.clear,
        "nearest_border": result.border,
        "spots_needed": result.spots_needed,
        "further": further_record(result.further),
        "prospects": [one.record() for one in result.prospects],
        "stop": stop_record(result.stop, result.unit_per_m2),
        "probabilities": dict(result.probabilities),
        "bands": [
            {
                "class": band.class_,
                "name": band.name,
                "range": rule.range_text(index),
                "to": band.to,
                "probability": share,
                "yield_percent": list(band.yield_percent) if band.yield_percent else None,
                "yield_bu_ac": list(band.yield_bu_ac) if band.yield_bu_ac else None,
                "printed": band.printed or None,
            }
            for index, (band, share) in enumerate(
                zip(rule.bands, result.band_probabilities, strict=True)
            )
        ],
    }


def _expectation(value: Expectation | None) -> dict[str, Any] | None:
    if value is None:
        return None
    return {
        "low": value.low,
        "high": value.high,
        "unit": value.unit,
        "sampling": list(value.sampling),
        "by_source": [
            {"low": row.low, "high": row.high, "factor": list(row.factor), "source": row.source}
            for row in value.by_source
        ],
    }


def _nitrogen(plan: NitrogenPlan | None) -> dict[str, Any] | None:
    if plan is None:
        return None
    return {
        "unit": "lb N/ac",
        "advice": plan.advice,
        "yield_goal_bu_ac": plan.yield_goal_bu_ac,
        "total": list(plan.total) if plan.total else None,
        "given": (plan.on.given or None) if plan.on else None,
        "early": list(plan.early) if plan.early else None,
        "before_jointing": list(plan.main) if plan.main else None,
        "lines": list(plan.lines),
        "arithmetic": list(plan.arithmetic),
        "sources": list(plan.sources),
        "cautions": list(plan.cautions),
        "whole_by": plan.whole.by if plan.whole is not None else None,
        "balance": plan.whole.balance or None if plan.whole is not None else None,
        "at_likely_yield": None
        if plan.likely is None
        else {"bu_ac": plan.likely[0], "total": list(plan.likely[1])},
    }
