"""What rule sets make of one field, side by side, and why others say nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from dataclasses import field as default
from typing import Any

from tillercount.field.estimate import FieldEstimate
from tillercount.stand.actions import named
from tillercount.stand.assessment import density, thresholds
from tillercount.stand.bands import Band, Measured
from tillercount.stand.classify import Classified
from tillercount.stand.ruleset import RuleSet
from tillercount.stand.stage import Stage
from tillercount.stand.words import join, span
from tillercount.units import per_ft2

__all__ = ["SCHEMA", "Compared", "Comparison", "LeftOut"]

SCHEMA = "tillercount.comparison/1"


@dataclass(frozen=True)
class Compared:
    """One rule of one set, and what it makes of the field.

    Attributes
    ----------
    rules : RuleSet
    result : Classified
        Its rule is per ft² or m², and its density counted as the rule set counts.
    warning : str
        "Not validated for ..." where the crop isn't one of the set's; else empty.
    assumed : tuple of str
        What had to be taken for granted.
    """

    rules: RuleSet
    result: Classified
    warning: str = ""
    assumed: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """The class, or the classes it may be, as rule files have them."""
        return self._ruled([repr(band.class_) for band in named(self.result)])

    @property
    def said(self) -> str:
        """The same in the trade's words."""
        return self._ruled([f"“{self.result.called(b.class_)}”" for b in named(self.result)])

    def _ruled(self, names: list[str]) -> str:
        if self.result.held is not None:
            return f"not settled: {join(names, 'or')}"
        return names[0].strip("'“”") if self.result.clear else f"too close: {join(names, 'or')}"

    @property
    def ladder(self) -> tuple[tuple[str, float | None], ...]:
        """Each class with the border above it, in the rule's unit; the last one has none."""
        bands = self.result.rule.bands
        pairs = zip(bands, (*bands[1:], None), strict=True)
        return tuple((a.class_, a.to) for a, b in pairs if b is None or a.class_ != b.class_)

    @property
    def early_text(self) -> str:
        """What the set says of early nitrogen; of each class that may well be true, where they
        differ in that."""
        told = self.early
        texts = _in_turn(told)
        if len(texts) == 1:
            return texts[0]
        return ", ".join(
            f"{text} if {join(names, 'or')}"
            for text, names in zip(texts, told.values(), strict=True)
        )

    @property
    def early_either(self) -> str:
        """The same without the classes, in one order whichever of them is the likelier."""
        last = list(_EARLY_SHORT)
        ordered = sorted(self.early, key=lambda t: (last.index(t) + 1 if t in last else 0, t))
        either = join(_in_turn(ordered), "or")
        return either if len(ordered) == 1 else f"{either}, too close to tell"

    @property
    def early(self) -> Mapping[str, list[str]]:
        """What the set says of early nitrogen, with the classes that may be true and say so."""
        bands = named(self.result)
        none = bool(self.result.no_early) and any(band.asks_early for band in bands)
        told: dict[str, list[str]] = {}
        for band in bands:
            name = f"“{self.result.called(band.class_)}”"
            told.setdefault(_NO_EARLY if none else _early(band), []).append(name)  # so many shoots
        return told

    def to_json(self) -> dict[str, Any]:
        """Everything as plain values."""
        rules, band = self.rules, self.result.band
        return {
            "rules": rules.name,
            "title": rules.title,
            "publisher": rules.publisher,
            "region": rules.region,
            "year": rules.year,
            "mark": self.result.rule.mark or rules.mark,
            "crops": list(rules.crops),
            "counting": rules.counting.words,
            "stage": f"{rules.stage.from_} to {rules.stage.to}",
            "validated": not self.warning,
            "warning": self.warning or None,
            **thresholds(self.result),
            "verdict": self.verdict,
            "say": [one.say for one in named(self.result) if one.say],
            "early": band.early,
            "early_text": self.early_text,
            "early_n_lb_ac": list(band.early_n_lb_ac) if band.early_n_lb_ac else None,
            "assumed": list(self.assumed),
            "note": self.result.rule.note or None,
            "sources": list(rules.sources_of(self.result.rule)),
        }


@dataclass(frozen=True)
class LeftOut:
    """A rule set, or one of its rules ("plants", "shoots"), that says nothing here, and why."""

    rules: RuleSet
    reason: str
    measures: Measured | None = None
    elsewhere: bool = False
    """Left out for its region, which is looked at first."""
    needs: str = ""
    """The set's name with an example of what it needs, such as ``kansas-replant@25/ft2``."""
    kind: str = ""
    """The reason without what is special to this set, so that sets can be listed by it."""


@dataclass(frozen=True)
class Comparison:
    """One field under every rule set that fits it."""

    field: FieldEstimate
    crop: str
    stage: Stage | None
    region: str
    rows: tuple[Compared, ...]
    left_out: tuple[LeftOut, ...]
    flags: tuple[str, ...] = ()
    name: str = ""
    model: Mapping[str, Any] = default(default_factory=dict)

    def of(self, measures: str) -> list[Compared]:
        """Rows that judge plants, or shoots."""
        return [row for row in self.rows if row.result.rule.measures == measures]

    @property
    def waiting(self) -> dict[str, list[LeftOut]]:
        """Sets that would judge this field, by the unit that needs something known of it first."""
        found: dict[str, list[LeftOut]] = {}
        for one in self.left_out:
            rule = one.rules.rule(one.measures) if one.needs and one.measures else None
            if rule is not None:
                found.setdefault(rule.unit, []).append(one)
        return found

    @property
    def disagreement(self) -> str:
        """Who says what of early nitrogen, in one sentence; empty where all say the same.

        "This or that" is the same as "that or this", and who says nothing contradicts nobody.
        """
        by: dict[str, list[str]] = {}
        for row in self.rows:
            if set(row.early) == {_EARLY["not said"]}:
                continue
            says = f"{row.rules.name} ({row.result.rule.measures})"
            by.setdefault(row.early_either, []).append(says)
        if len(by) < 2:
            return ""
        return "The sets say different things: " + "; ".join(
            f"{join(names)}: {text}" for text, names in by.items()
        )

    def to_json(self) -> dict[str, Any]:
        """Everything as plain values, schema ``tillercount.comparison/1``."""
        est = self.field
        return {
            "schema": SCHEMA,
            "field": {
                "name": self.name,
                "plants_per_ft2": density(est.plants, per_ft2(1.0)),
                "shoots_per_ft2": density(est.shoots, per_ft2(1.0)),
                "spots": est.spots,
                "definition": est.definition.value,
            },
            "crop": self.crop,
            "stage": self.stage.words if self.stage else None,
            "region": self.region or None,
            "disagreement": self.disagreement or None,
            "rows": [row.to_json() for row in self.rows],
            "left_out": [
                {
                    "rules": one.rules.name,
                    "measures": one.measures,
                    "reason": one.reason,
                    "use_as": one.needs or None,
                }
                for one in self.left_out
            ],
            "flags": list(self.flags),
            "model": dict(self.model) or None,
        }


_NO_EARLY = "no early nitrogen"
_EARLY = {
    "push": "early nitrogen",
    "some": "some early nitrogen",
    "hold": _NO_EARLY,
    "keep first": "decide on the stand first",
    "not said": "nothing said of early nitrogen",
}

_EARLY_SHORT = {_NO_EARLY: "none", _EARLY["not said"]: "nothing said"}
"""How they go on behind another."""


def _in_turn(texts: Iterable[str]) -> list[str]:
    """Texts of `_EARLY` one behind the other."""
    first, *others = texts
    return [first, *(_EARLY_SHORT.get(text, text) for text in others)]


def _early(band: Band) -> str:
    if band.early_n_lb_ac is None or band.early_n_lb_ac[1] == 0:
        return _EARLY[band.early]
    return f"{span(band.early_n_lb_ac, 3)} lb N/ac early"
